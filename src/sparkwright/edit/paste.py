"""A block pasted from a spreadsheet into the map, with its speeds and loads or without."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from sparkwright.edit.cells import Block, Edited, Selection, advance_typed, to_step
from sparkwright.errors import Refusal
from sparkwright.job import SPEED_SPAN_RPM, Controller
from sparkwright.numeric import FloatArray
from sparkwright.plan.hand import Place
from sparkwright.plan.load_terms import ABSOLUTE, Loads, loads_named
from sparkwright.plan.spark_map import SparkMap
from sparkwright.reading import number_or_none

SAME_RPM = 0.5

SAME_LOAD = 0.05
"""How near a pasted speed or load must be to one of the map's to name it [rpm, and in the terms of the load];
below what tables write."""


MOST_TEXT = 200_000
"""Letters that one paste may have; the largest map fills a tenth of that."""


@dataclass
class _Pasted:
    """A paste as it is taken in: what fits where, and what doesn't."""

    value_deg: dict[Place, float | None] = field(default_factory=dict)
    beyond_map: int = 0
    beyond_controller: list[str] = field(default_factory=list)
    no_numbers: list[str] = field(default_factory=list)
    rounded: int = 0
    unknown: list[str] = field(default_factory=list)


def pasted(
    spark_map: SparkMap, block: Block, text: str, controller: Controller, own: Loads = ABSOLUTE
) -> Edited:
    r"""Put a block of text from a spreadsheet into the map.

    Parameters
    ----------
    spark_map : SparkMap
        The map as it stands.
    block : Block
        The cells selected. A block without axes goes in from the cell of most load and least speed on, the
        way the map stands on a page; a single value fills all of it.
    text : str
        Lines of cells, parted by tabs (or semicolons, or commas where they can't be decimals), the highest
        load first. A first line of speeds, or that and a first column of loads, place each value by them.
    controller : Controller
        Its step and what it takes.
    own : Loads, optional
        In what the controller has its loads; a corner of the text that names other terms counts before it.

    Returns
    -------
    Edited
        What fitted, and what was left out and why.

    Raises
    ------
    Refusal
        If there is nothing in the text, or too much, or loads by throttle, which are no rows of the map.

    Examples
    --------
    >>> from sparkwright.job import starter_text, Job
    >>> controller = Job.from_toml(starter_text()).controller
    >>> spark_map = SparkMap([1000.0, 2000.0], [40.0, 90.0], [[20, 30], [10, 20]])
    >>> pasted(spark_map, Block(1, 1, 0, 0), "11\t21,5\n19\t29", controller).value_deg
    {(1, 0): 11.0, (1, 1): 21.5, (0, 0): 19.0, (0, 1): 29.0}
    """
    block.require_within(spark_map)
    if len(text) > MOST_TEXT:
        raise Refusal.at("what was pasted", f"{len(text):,} letters", f"must be at most {MOST_TEXT:,}")
    lines = [line for line in text.splitlines() if line.strip()]
    if not lines:
        raise Refusal.at("what was pasted", "nothing", "must hold at least one number")
    cells = _parted(lines)
    if len(cells) == 1 and len(cells[0]) == 1:
        return Selection(spark_map, block, controller).set_to(cells[0][0])
    found = _Pasted()
    rows, columns, cells = _placed(cells, spark_map, block, own, found)
    for row, line in zip(rows, cells, strict=True):
        for column, cell in zip(columns, line, strict=False):
            if cell.strip():
                _take(cell, row, column, spark_map, controller, found)
    return Edited(found.value_deg, _left_out(found, controller))


def _parted(lines: list[str]) -> list[list[str]]:
    for mark in ("\t", ";"):
        if any(mark in line for line in lines):
            return [line.split(mark) for line in lines]
    # One comma in a line of plain digits is a decimal comma; more, or points beside it, part the cells.
    parts = any(line.count(",") > 1 or ("," in line and "." in line) or ", " in line for line in lines)
    return [line.split(",") if parts else [line] for line in lines]


def _placed(
    cells: list[list[str]], spark_map: SparkMap, block: Block, own: Loads, found: _Pasted
) -> tuple[list[int | None], list[int | None], list[list[str]]]:
    """Give the map's row and column of each line and each cell, None where the map has none."""
    speeds = _speeds(cells)
    width = max(len(line) for line in cells)
    loads = loads_named(cells[0][0], own, "what was pasted")
    axis = loads.over_pressure.of_kpa(spark_map.kpa)
    count = spark_map.kpa.size
    if speeds is not None:
        with_loads = len(speeds) < len(cells[0]) or width > len(speeds)
        body = cells[1:]
        columns = [_on_axis(spark_map.rpm, speed, SAME_RPM, "rpm", found) for speed in speeds]
    else:
        with_loads = width == spark_map.rpm.size + 1 and all(
            _nearest(axis, _load(line[0], loads), SAME_LOAD) is not None for line in cells
        )
        body = cells
        first = 0 if with_loads else block.first_column
        size = width - with_loads
        columns = [j if j < spark_map.rpm.size else None for j in range(first, first + size)]
    if with_loads and loads.term == "percent of throttle":
        raise Refusal.at(
            "what was pasted",
            "a block with loads by throttle",
            "must have them in kPa to name rows of this map",
            'write "kPa by rpm" in its corner, leave the loads out, or bring the whole map in',
        )
    rows: list[int | None] = []
    for rank, line in enumerate(body):
        if with_loads:
            rows.append(_on_axis(axis, _load(line[0], loads), SAME_LOAD, loads.unit, found, line[0]))
        else:
            row = block.last_row - rank
            rows.append(row if 0 <= row < count else None)
    return rows, columns, [line[1:] for line in body] if with_loads else body


def _speeds(cells: list[list[str]]) -> list[float | None] | None:
    """Give the speeds in the first line, None when it holds none: no advance is as large as a speed."""
    if len(cells) < 2:
        return None
    line = cells[0] if _speed(cells[0][0]) is not None else cells[0][1:]
    numbers = [_speed(cell) for cell in line]
    known = [number for number in numbers if number is not None]
    return numbers if known and min(known) > 90.0 else None


def _speed(cell: str) -> float | None:
    low, high = SPEED_SPAN_RPM
    return number_or_none(cell, unit="rpm", low=low, high=high)


def _load(cell: str, loads: Loads) -> float | None:
    low, high = loads.span
    return number_or_none(cell, unit="kPa" if loads.unit == "kPa" else "", low=low, high=high)


def _nearest(axis: FloatArray, value: float | None, within: float) -> int | None:
    if value is None:
        return None
    place = int(np.argmin(np.abs(axis - value)))
    return place if abs(float(axis[place]) - value) <= within else None


def _on_axis(
    axis: FloatArray, value: float | None, within: float, unit: str, found: _Pasted, written: str = ""
) -> int | None:
    place = _nearest(axis, value, within)
    if place is None:
        found.unknown.append(f"{value:,.6g} {unit}" if value is not None else f'"{written.strip()[:20]}"')
    return place


def _take(
    cell: str,
    row: int | None,
    column: int | None,
    spark_map: SparkMap,
    controller: Controller,
    found: _Pasted,
) -> None:
    if row is None or column is None:
        found.beyond_map += 1
        return
    try:
        typed = advance_typed(cell)
    except Refusal:
        found.no_numbers.append(cell.strip()[:20])
        return
    value = to_step(typed, controller.step_deg)
    if not controller.min_deg <= value <= controller.max_deg:
        found.beyond_controller.append(
            f"{value:g} at {spark_map.rpm[column]:,.0f} rpm and {spark_map.kpa[row]:g} kPa"
        )
        return
    found.rounded += abs(value - typed) > 1e-6
    found.value_deg[row, column] = value


def _left_out(found: _Pasted, controller: Controller) -> tuple[str, ...]:
    """Say what of a paste did not go in, and what was rounded."""
    says = []
    if not found.value_deg:
        says.append("Nothing of this fitted the map.")
    if found.unknown:
        says.append(
            f"This map has no line at {', '.join(found.unknown[:5])}{' and more' * (len(found.unknown) > 5)}."
        )
    if found.beyond_map:
        says.append(f"{_values(found.beyond_map)} beyond the map {_were(found.beyond_map)} left out.")
    if found.no_numbers:
        count = len(found.no_numbers)
        says.append(
            f'{_values(count)} that {_were(count)} no number, "{found.no_numbers[0]}" first, '
            f"{_were(count)} left out."
        )
    if found.beyond_controller:
        count = len(found.beyond_controller)
        says.append(
            f"{_values(count)} beyond what the controller takes ({controller.min_deg:g} to "
            f"{controller.max_deg:g}) {_were(count)} left out, {found.beyond_controller[0]} first."
        )
    if found.rounded:
        says.append(
            f"{_values(found.rounded)} {_were(found.rounded)} rounded to the controller's step "
            f"of {controller.step_deg:g}."
        )
    return tuple(says)


def _values(count: int) -> str:
    return "1 value" if count == 1 else f"{count} values"


def _were(count: int) -> str:
    return "was" if count == 1 else "were"
