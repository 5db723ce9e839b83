"""What a person says of a log's columns on the page of a drive, kept for its logger once it is read so."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from sparkwright.drive.asked import DriveAsked
from sparkwright.drive.quantities import QUANTITIES
from sparkwright.errors import Refusal

BLANK_ROWS = 3
"""Lines that the form offers beside those that are filled; a choice."""
MOST_ROWS = 60

KNOWN = tuple((each.name, each.called) for each in QUANTITIES)
"""What a column can be: the name of each quantity, and what it is called."""


@dataclass(frozen=True)
class ColumnSaid:
    """What is said of one column, as it was typed; empty is not said."""

    column: str = ""
    quantity: str = ""
    unit: str = ""


@dataclass(frozen=True)
class ColumnsForm:
    """What the form shows: the columns that there are, and a line for each of which something was said."""

    headings: Sequence[str]
    rows: Sequence[ColumnSaid]
    known: Sequence[tuple[str, str]] = KNOWN


def form_of(headings: Sequence[str], said: Sequence[ColumnSaid]) -> ColumnsForm | None:
    """Give the form for a log with lines to spare; None where it has no columns that are known.

    Parameters
    ----------
    headings : sequence of str
        Headings of its columns.
    said : sequence of ColumnSaid
        What was said of them.
    """
    return ColumnsForm(headings, [*said, *[ColumnSaid()] * BLANK_ROWS]) if headings else None


def said_in(asked: DriveAsked) -> tuple[ColumnSaid, ...]:
    """Give what was said of columns, a line each.

    Parameters
    ----------
    asked : DriveAsked
        What is remembered of a logger.

    Examples
    --------
    >>> said_in(DriveAsked(channels={"rpm": "Drehzahl"}, units={"Druck": "bar"}))[1]
    ColumnSaid(column='Druck', quantity='', unit='bar')
    """
    quantities = {column: quantity for quantity, column in asked.channels.items()}
    return tuple(
        ColumnSaid(each, quantities.get(each, ""), asked.units.get(each, ""))
        for each in dict.fromkeys((*quantities, *asked.units))
    )


def typed_in(form: Mapping[str, str]) -> tuple[ColumnSaid, ...]:
    """Take the lines out of a form; one of which nothing was typed is none.

    Parameters
    ----------
    form : mapping
        What was typed by field.

    Examples
    --------
    >>> typed_in({"column_1": "Drehzahl", "quantity_1": "rpm", "column_2": "", "unit_2": " "})
    (ColumnSaid(column='Drehzahl', quantity='rpm', unit=''),)
    """
    lines = (
        ColumnSaid(*(form.get(f"{name}_{number}", "").strip() for name in ("column", "quantity", "unit")))
        for number in range(1, MOST_ROWS + 1)
    )
    return tuple(each for each in lines if each != ColumnSaid())


def asked_from(said: Sequence[ColumnSaid]) -> DriveAsked:
    """Give what is asked of a drive whose columns were said so.

    Parameters
    ----------
    said : sequence of ColumnSaid
        What was said, a line a column.

    Raises
    ------
    Refusal
        If a line names no column, or says nothing of it, or two say the same.

    Examples
    --------
    >>> asked_from([ColumnSaid("a", "rpm"), ColumnSaid("b", "rpm")])
    Traceback (most recent call last):
    sparkwright.errors.Refusal: column = b: must be something else; a is said to be engine speed already
    """
    _require_said(said)
    return DriveAsked(
        channels={each.quantity: each.column for each in said if each.quantity},
        units={each.column: each.unit for each in said if each.unit},
        remembered=bool(said),
    )


def _require_said(said: Sequence[ColumnSaid]) -> None:
    for number, each in enumerate(said):
        if not each.column:
            beside = " ".join(filter(None, (each.quantity, each.unit)))
            raise Refusal.at("column", None, f"must be chosen in the line with {beside}")
        if not (each.quantity or each.unit):
            raise Refusal.at("column", each.column, "must be given what it is, its unit, or both")
        for before in said[:number]:
            if before.column == each.column:
                raise Refusal.at("column", each.column, "must stand in one line", "put the two together")
            if each.quantity and before.quantity == each.quantity:
                called = next((one.called for one in QUANTITIES if one.name == each.quantity), each.quantity)
                raise Refusal.at(
                    "column",
                    each.column,
                    "must be something else",
                    f"{before.column} is said to be {called} already",
                )
