"""The numbers of a picture, in the units of who looks at it."""

from __future__ import annotations

from collections.abc import Sequence

from sparkwright.drawing.picture import Cell
from sparkwright.units import System
from sparkwright.words.parts import in_own_units, own_unit

_DIMENSIONS = {"[mm]": "length", "[N m]": "torque", "[degC]": "temperature"}
"""What a unit behind a heading measures; a load stays in kPa, for it is a place on the controller's map."""


def in_units_of(
    system: System, columns: Sequence[str], rows: Sequence[Sequence[Cell]]
) -> tuple[tuple[str, ...], tuple[tuple[Cell, ...], ...]]:
    """Give headings and rows of a table in the units that a person reads.

    Parameters
    ----------
    system : {"metric", "inch"}
        Which units the person reads.
    columns : sequence of str
        Headings, each with its unit behind it.
    rows : sequence of sequence
        The numbers under them, in those units.

    Examples
    --------
    >>> in_units_of("inch", ("spark", "gap [mm]"), (("base", 127.0),))
    (('spark', 'gap [in]'), (('base', 5.0),))
    """
    of = [next((each for each in _DIMENSIONS if name.endswith(each)), "") for name in columns]
    headings = tuple(
        name.replace(unit, f"[{own_unit(_DIMENSIONS[unit], system)}]") if unit else name
        for name, unit in zip(columns, of, strict=True)
    )
    return headings, tuple(
        tuple(_cell(cell, unit, system) for cell, unit in zip(row, of, strict=True)) for row in rows
    )


def _cell(cell: Cell, unit: str, system: System) -> Cell:
    if not unit or cell is None or isinstance(cell, str):
        return cell
    return in_own_units(float(cell), _DIMENSIONS[unit], system)
