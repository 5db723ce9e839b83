"""Changes of cells by hand: set, add, interpolate, smooth, paste. Each gives values; nothing is saved here.

Every value comes out as a multiple of the controller's step: the nearest, and between two equally near the
later one, since late costs a little torque and early can cost an engine.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from math import ceil
from typing import Literal

import numpy as np

from sparkwright.errors import Refusal
from sparkwright.job import LOAD_SPAN_KPA, SPEED_SPAN_RPM, Controller
from sparkwright.numeric import FloatArray
from sparkwright.plan.exchange import ADVANCE_SPAN_DEG
from sparkwright.plan.spark_map import SparkMap
from sparkwright.reading import number, number_or_none, tidy

Place = tuple[int, int]
"""Row and column of a cell, counted from the least load and the least speed."""

Along = Literal["both", "speed", "load"]

SAME_RPM = 0.5
SAME_KPA = 0.05
"""How near a pasted speed or load must be to one of the map's to name it; below what tables write."""

MOST_TEXT = 200_000
"""Letters that one paste may have; the largest map fills a tenth of that."""


@dataclass(frozen=True)
class Block:
    """A rectangle of cells, both ends in it.

    Examples
    --------
    >>> Block.between((3, 1), (2, 2)).places()
    [(2, 1), (2, 2), (3, 1), (3, 2)]
    """

    first_row: int
    last_row: int
    first_column: int
    last_column: int

    @classmethod
    def between(cls, one: Place, other: Place) -> Block:
        """Give the block that has two cells in opposite corners."""
        rows, columns = sorted((one[0], other[0])), sorted((one[1], other[1]))
        return cls(rows[0], rows[1], columns[0], columns[1])

    def require_within(self, spark_map: SparkMap) -> None:
        """Refuse a block that reaches over the map's edge."""
        rows, columns = spark_map.advance_deg.shape
        if not (
            0 <= self.first_row <= self.last_row < rows
            and 0 <= self.first_column <= self.last_column < columns
        ):
            raise Refusal.at(
                "range", "these cells", f"must lie within the map, {rows} rows by {columns} columns"
            )

    def rows(self) -> range:
        """Give its rows, the least load first."""
        return range(self.first_row, self.last_row + 1)

    def columns(self) -> range:
        """Give its columns, the least speed first."""
        return range(self.first_column, self.last_column + 1)

    def places(self) -> list[Place]:
        """Give its cells, row by row."""
        return [(i, j) for i in self.rows() for j in self.columns()]


@dataclass(frozen=True)
class Edited:
    """What a change comes to.

    ``value_deg`` holds each cell that it touches, None where the cell goes back to the plan; ``says`` what a
    person should know of it, above all what was left out.
    """

    value_deg: dict[Place, float | None]
    says: tuple[str, ...] = ()


def advance_typed(text: str) -> float:
    r"""Read an advance as a person types it, with or without the unit or the side [deg].

    Examples
    --------
    >>> advance_typed("34,5"), advance_typed(" -3 deg"), advance_typed("2 ATDC")
    (34.5, -3.0, -2.0)

    Raises
    ------
    Refusal
        If it is no number.
    """
    do = "for example 34 or 34.5"
    if not tidy(text):
        raise Refusal.at("advance", None, "must be a number of deg", do)
    low_deg, high_deg = ADVANCE_SPAN_DEG
    return number(text, unit="deg BTDC", low=low_deg, high=high_deg, field="advance", do=do)


def to_step(advance_deg: float, step_deg: float) -> float:
    """Round to the nearest of the controller's steps, between two equally near the later [deg].

    Examples
    --------
    >>> to_step(34.3, 0.5), to_step(34.25, 0.5), to_step(-3.25, 0.5)
    (34.5, 34.0, -3.5)
    """
    return round(ceil(advance_deg / step_deg - 0.5 - 1e-9) * step_deg, 6) + 0.0


def set_to(spark_map: SparkMap, block: Block, text: str, controller: Controller) -> Edited:
    """Set every cell of a block to one value, as typed.

    Parameters
    ----------
    spark_map : SparkMap
        The map as it stands.
    block : Block
        Which cells.
    text : str
        The value [deg].
    controller : Controller
        Its step and what it takes.

    Raises
    ------
    Refusal
        If it is no number, or beyond what the controller takes.
    """
    block.require_within(spark_map)
    typed = advance_typed(text)
    value = to_step(typed, controller.step_deg)
    _require_taken(value, controller, "advance")
    rounded = (
        (f"{typed:g} lies between the controller's steps of {controller.step_deg:g}; {value:g} was set.",)
        if abs(typed - value) > 1e-6
        else ()
    )
    return Edited(dict.fromkeys(block.places(), value), rounded)


def added(spark_map: SparkMap, block: Block, text: str, controller: Controller, sign: int = 1) -> Edited:
    """Add a number of degrees, as typed, to every cell of a block; ``sign`` -1 takes it away.

    Raises
    ------
    Refusal
        If it is no number, or any cell would go beyond what the controller takes.
    """
    block.require_within(spark_map)
    more = sign * advance_typed(text)
    return _changed(spark_map, block, controller, lambda i, j: float(spark_map.advance_deg[i, j]) + more)


def interpolated(spark_map: SparkMap, block: Block, controller: Controller, along: Along = "both") -> Edited:
    """Fill a block in straight lines between its ends, by speed and load as they stand on the axes.

    Parameters
    ----------
    spark_map, block, controller
        As for `set_to`.
    along : {"both", "speed", "load"}
        Between the four corners; or each row between its first and last cell; or each column.

    Raises
    ------
    Refusal
        If there is nothing between the ends.
    """
    block.require_within(spark_map)
    wide, high = len(block.columns()) > 2, len(block.rows()) > 2
    if not {"both": wide or high, "speed": wide, "load": high}[along]:
        raise Refusal.at(
            "range",
            "these cells",
            "must reach over at least three cells",
            "select from one good value to another",
        )
    across = _shares(spark_map.rpm, block.columns())
    up = _shares(spark_map.kpa, block.rows())
    cells = spark_map.advance_deg
    left, right = block.first_column, block.last_column
    low, top = block.first_row, block.last_row

    def between(i: int, j: int) -> float:
        s, t = across[j], up[i]
        if along == "speed":
            return float((1 - s) * cells[i, left] + s * cells[i, right])
        if along == "load":
            return float((1 - t) * cells[low, j] + t * cells[top, j])
        lower = (1 - s) * cells[low, left] + s * cells[low, right]
        upper = (1 - s) * cells[top, left] + s * cells[top, right]
        return float((1 - t) * lower + t * upper)

    return _changed(spark_map, block, controller, between)


def _shares(axis: FloatArray, places: range) -> dict[int, float]:
    """How far along from the first to the last each place lies, 0 to 1."""
    first, last = float(axis[places[0]]), float(axis[places[-1]])
    return {place: (float(axis[place]) - first) / (last - first) if last > first else 0.0 for place in places}


def smoothed(spark_map: SparkMap, block: Block, controller: Controller) -> Edited:
    """Take the unevenness out of a block.

    Each cell goes halfway to what its neighbours say: the straight line between the two beside it and that
    between the two above and below, whichever there are, by speed and load as they stand on the axes. So an
    even slope stays as it is, and no cell leaves the span of itself and its neighbours.
    """
    block.require_within(spark_map)
    cells = spark_map.advance_deg

    def smoother(i: int, j: int) -> float:
        said = [*_between(spark_map.rpm, cells[i, :], j), *_between(spark_map.kpa, cells[:, j], i)]
        own = float(cells[i, j])
        return 0.5 * own + 0.5 * sum(said) / len(said) if said else own

    return _changed(spark_map, block, controller, smoother)


def _between(axis: FloatArray, values: FloatArray, place: int) -> Iterator[float]:
    """Give the straight line's value between the two neighbours; nothing at an end of the axis."""
    if 0 < place < axis.size - 1:
        yield float(np.interp(axis[place], axis[[place - 1, place + 1]], values[[place - 1, place + 1]]))


def given_back(spark_map: SparkMap, block: Block) -> Edited:
    """Give every cell of a block back to the plan."""
    block.require_within(spark_map)
    return Edited(dict.fromkeys(block.places()))


def whole_map(
    rpm: FloatArray, kpa: FloatArray, given_deg: FloatArray, planned_deg: FloatArray, controller: Controller
) -> Edited:
    """Turn a map from elsewhere into cells set by hand: each that differs from what the plan gives.

    Parameters
    ----------
    rpm, kpa : array
        The plan's axes.
    given_deg : array
        The map, carried to these axes beforehand; nan where it says nothing.
    planned_deg : array
        What the plan gives in the same cells.
    controller : Controller
        Its step and what it takes.

    Returns
    -------
    Edited
        A value for each cell that differs, None (back to the plan) for each that doesn't; a cell of which
        the map says nothing is not touched.

    Raises
    ------
    Refusal
        If a cell lies beyond what the controller takes.
    """
    value_deg: dict[Place, float | None] = {}
    for i, j in zip(*np.nonzero(np.isfinite(given_deg)), strict=True):
        value = to_step(float(given_deg[i, j]), controller.step_deg)
        if abs(value - float(planned_deg[i, j])) <= 1e-6:
            # The plan's own value may lie below what the controller takes; plan and page say so.
            value_deg[int(i), int(j)] = None
            continue
        _require_taken(value, controller, f"{rpm[j]:,.0f} rpm, {kpa[i]:g} kPa")
        value_deg[int(i), int(j)] = value
    return Edited(value_deg)


def require_cells(spark_map: SparkMap, value_deg: Mapping[Place, float], controller: Controller) -> None:
    """Refuse cells that are none of a map's, or hold what the controller doesn't take."""
    rows, columns = spark_map.advance_deg.shape
    for (i, j), value in value_deg.items():
        if not (0 <= i < rows and 0 <= j < columns):
            raise Refusal.at(
                "cell", f"{i}, {j}", f"must lie within the map, {rows} rows by {columns} columns"
            )
        _require_taken(value, controller, f"{spark_map.rpm[j]:,.0f} rpm, {spark_map.kpa[i]:g} kPa")


def _changed(
    spark_map: SparkMap, block: Block, controller: Controller, new_deg: Callable[[int, int], float]
) -> Edited:
    """Work a block's cells out anew; a cell that comes out as it was is not touched."""
    value_deg: dict[Place, float | None] = {}
    for i, j in block.places():
        value = to_step(new_deg(i, j), controller.step_deg)
        if abs(value - float(spark_map.advance_deg[i, j])) > 1e-6:
            _require_taken(value, controller, f"{spark_map.rpm[j]:,.0f} rpm, {spark_map.kpa[i]:g} kPa")
            value_deg[i, j] = value
    says = () if value_deg else ("Nothing changed: every cell comes out as it was.",)
    return Edited(value_deg, says)


def _require_taken(value: float, controller: Controller, where: str) -> None:
    if not controller.min_deg <= value <= controller.max_deg:
        raise Refusal.at(
            where,
            f"{value:g}",
            f"must be {controller.min_deg:g} to {controller.max_deg:g}, what the controller takes",
        )


# A block pasted from a spreadsheet


@dataclass
class _Pasted:
    """A paste as it is taken in: what fits where, and what doesn't."""

    value_deg: dict[Place, float | None] = field(default_factory=dict)
    beyond_map: int = 0
    beyond_controller: list[str] = field(default_factory=list)
    no_numbers: list[str] = field(default_factory=list)
    rounded: int = 0
    unknown: list[str] = field(default_factory=list)


def pasted(spark_map: SparkMap, block: Block, text: str, controller: Controller) -> Edited:
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

    Returns
    -------
    Edited
        What fitted, and what was left out and why.

    Raises
    ------
    Refusal
        If there is nothing in the text, or too much.

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
        return set_to(spark_map, block, cells[0][0], controller)
    found = _Pasted()
    rows, columns, cells = _placed(cells, spark_map, block, found)
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
    cells: list[list[str]], spark_map: SparkMap, block: Block, found: _Pasted
) -> tuple[list[int | None], list[int | None], list[list[str]]]:
    """Give the map's row and column of each line and each cell, None where the map has none."""
    speeds = _speeds(cells)
    width = max(len(line) for line in cells)
    count = spark_map.kpa.size
    if speeds is not None:
        with_loads = len(speeds) < len(cells[0]) or width > len(speeds)
        body = cells[1:]
        columns = [_on_axis(spark_map.rpm, speed, SAME_RPM, "rpm", found) for speed in speeds]
    else:
        with_loads = width == spark_map.rpm.size + 1 and all(
            _load(line[0]) is not None and _nearest(spark_map.kpa, _load(line[0]), SAME_KPA) is not None
            for line in cells
        )
        body = cells
        first = 0 if with_loads else block.first_column
        size = width - with_loads
        columns = [j if j < spark_map.rpm.size else None for j in range(first, first + size)]
    rows: list[int | None] = []
    for rank, line in enumerate(body):
        if with_loads:
            rows.append(_on_axis(spark_map.kpa, _load(line[0]), SAME_KPA, "kPa", found, line[0]))
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


def _load(cell: str) -> float | None:
    low, high = LOAD_SPAN_KPA
    return number_or_none(cell, unit="kPa", low=low, high=high)


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
