"""Changes of cells by hand: set, add, interpolate, smooth, paste. Each gives values; nothing is saved here.

Every value comes out as a multiple of the controller's step: the nearest, and between two equally near the
later one, since late costs a little torque and early can cost an engine.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from math import ceil
from typing import Literal

import numpy as np

from sparkwright.errors import Refusal
from sparkwright.job import Controller
from sparkwright.numeric import FloatArray
from sparkwright.plan.exchange import ADVANCE_SPAN_DEG
from sparkwright.plan.hand import Place
from sparkwright.plan.on_rows import nodes_of
from sparkwright.plan.spark_map import SparkMap
from sparkwright.reading import number, tidy

Along = Literal["both", "speed", "load"]


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
        """Give the block that has two cells in opposite corners.

        Parameters
        ----------
        one : tuple of int
            Row and column of one cell.
        other : tuple of int
            Row and column of the one across.
        """
        rows, columns = sorted((one[0], other[0])), sorted((one[1], other[1]))
        return cls(rows[0], rows[1], columns[0], columns[1])

    def require_within(self, spark_map: SparkMap) -> None:
        """Refuse a block that reaches over the map's edge.

        Parameters
        ----------
        spark_map : SparkMap
            The map as it stands.
        """
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

    Parameters
    ----------
    text : str
        What was typed.

    Raises
    ------
    Refusal
        If it is no number.

    Examples
    --------
    >>> advance_typed("34,5"), advance_typed(" -3 deg"), advance_typed("2 ATDC")
    (34.5, -3.0, -2.0)
    """
    do = "for example 34 or 34.5"
    if not tidy(text):
        raise Refusal.at("advance", None, "must be a number of deg", do)
    low_deg, high_deg = ADVANCE_SPAN_DEG
    return number(text, unit="deg BTDC", low=low_deg, high=high_deg, field="advance", do=do)


def to_step(advance_deg: float, step_deg: float) -> float:
    """Round to the nearest of the controller's steps, between two equally near the later [deg].

    Parameters
    ----------
    advance_deg : float
        Advance [crank deg before top dead centre].
    step_deg : float
        Step of the controller [crank deg], above 0.

    Examples
    --------
    >>> to_step(34.3, 0.5), to_step(34.25, 0.5), to_step(-3.25, 0.5)
    (34.5, 34.0, -3.5)
    """
    return round(ceil(advance_deg / step_deg - 0.5 - 1e-9) * step_deg, 6) + 0.0


@dataclass(frozen=True)
class Selection:
    """Cells of a map that a person changes, and the controller that is to take their values.

    Raises
    ------
    Refusal
        If the cells reach over the map's edge.
    """

    spark_map: SparkMap
    block: Block
    controller: Controller

    def __post_init__(self) -> None:
        self.block.require_within(self.spark_map)

    def set_to(self, text: str) -> Edited:
        """Set every cell to one value, as typed.

        Parameters
        ----------
        text : str
            The value [deg].

        Raises
        ------
        Refusal
            If it is no number, or beyond what the controller takes.

        Examples
        --------
        >>> from sparkwright.job import Job, starter_text
        >>> takes = Job.from_toml(starter_text()).controller
        >>> spark_map = SparkMap([1000.0, 2000.0], [40.0, 90.0], [[20, 30], [10, 20]])
        >>> Selection(spark_map, Block.between((0, 0), (0, 1)), takes).set_to("22").value_deg
        {(0, 0): 22.0, (0, 1): 22.0}
        """
        typed = advance_typed(text)
        step_deg = self.controller.step_deg
        value = to_step(typed, step_deg)
        _require_taken(value, self.controller, "advance")
        rounded = (
            (f"{typed:g} lies between the controller's steps of {step_deg:g}; {value:g} was set.",)
            if abs(typed - value) > 1e-6
            else ()
        )
        return Edited(dict.fromkeys(self.block.places(), value), rounded)

    def added(self, text: str, sign: int = 1) -> Edited:
        """Add a number of degrees, as typed, to every cell.

        Parameters
        ----------
        text : str
            What was typed.
        sign : {1, -1}
            -1 takes it away.

        Raises
        ------
        Refusal
            If it is no number, or any cell would go beyond what the controller takes.

        Examples
        --------
        >>> from sparkwright.job import Job, starter_text
        >>> takes = Job.from_toml(starter_text()).controller
        >>> spark_map = SparkMap([1000.0, 2000.0], [40.0, 90.0], [[20, 30], [10, 20]])
        >>> Selection(spark_map, Block.between((0, 0), (0, 1)), takes).added("2").value_deg
        {(0, 0): 22.0, (0, 1): 32.0}
        """
        more = sign * advance_typed(text)
        return self._changed(lambda i, j: float(self.spark_map.advance_deg[i, j]) + more)

    def interpolated(self, along: Along = "both") -> Edited:
        """Fill the cells in straight lines between their ends, by speed and load as they stand on the axes.

        Parameters
        ----------
        along : {"both", "speed", "load"}
            Between the four corners; or each row between its first and last cell; or each column.

        Raises
        ------
        Refusal
            If there is nothing between the ends.

        Examples
        --------
        Halfway from 20 to 36:

        >>> from sparkwright.job import Job, starter_text
        >>> takes = Job.from_toml(starter_text()).controller
        >>> spark_map = SparkMap([1000.0, 2000.0, 3000.0], [40.0, 90.0], [[20, 30, 36], [10, 20, 24]])
        >>> Selection(spark_map, Block.between((0, 0), (0, 2)), takes).interpolated().value_deg
        {(0, 1): 28.0}
        """
        block = self.block
        wide, high = len(block.columns()) > 2, len(block.rows()) > 2
        if not {"both": wide or high, "speed": wide, "load": high}[along]:
            raise Refusal.at(
                "range",
                "these cells",
                "must reach over at least three cells",
                "select from one good value to another",
            )
        across = _shares(self.spark_map.rpm, block.columns())
        up = _shares(self.spark_map.kpa, block.rows())
        cells = self.spark_map.advance_deg
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

        return self._changed(between)

    def smoothed(self) -> Edited:
        """Take the unevenness out of the cells.

        Each cell goes halfway to what its neighbours say: the straight line between the two beside it and
        that between the two above and below, whichever there are, by speed and load as they stand on the
        axes. So an even slope stays as it is, and no cell leaves the span of itself and its neighbours.

        Examples
        --------
        Halfway from 30 to the 28 that its neighbours say, and from 20 to 17:

        >>> from sparkwright.job import Job, starter_text
        >>> takes = Job.from_toml(starter_text()).controller
        >>> spark_map = SparkMap([1000.0, 2000.0, 3000.0], [40.0, 90.0], [[20, 30, 36], [10, 20, 24]])
        >>> Selection(spark_map, Block.between((0, 1), (1, 1)), takes).smoothed().value_deg
        {(0, 1): 29.0, (1, 1): 18.5}
        """
        spark_map, cells = self.spark_map, self.spark_map.advance_deg

        def smoother(i: int, j: int) -> float:
            said = [*_between(spark_map.rpm, cells[i, :], j), *_between(spark_map.kpa, cells[:, j], i)]
            own = float(cells[i, j])
            return 0.5 * own + 0.5 * sum(said) / len(said) if said else own

        return self._changed(smoother)

    def given_back(self) -> Edited:
        """Give every cell back to the plan.

        Examples
        --------
        >>> from sparkwright.job import Job, starter_text
        >>> takes = Job.from_toml(starter_text()).controller
        >>> spark_map = SparkMap([1000.0, 2000.0], [40.0, 90.0], [[20, 30], [10, 20]])
        >>> Selection(spark_map, Block.between((0, 0), (0, 1)), takes).given_back().value_deg
        {(0, 0): None, (0, 1): None}
        """
        return Edited(dict.fromkeys(self.block.places()))

    def _changed(self, new_deg: Callable[[int, int], float]) -> Edited:
        """Work the cells out anew; a cell that comes out as it was is not touched."""
        value_deg: dict[Place, float | None] = {}
        for i, j in self.block.places():
            value = to_step(new_deg(i, j), self.controller.step_deg)
            if abs(value - float(self.spark_map.advance_deg[i, j])) > 1e-6:
                _require_taken(
                    value, self.controller, f"{self.spark_map.rpm[j]:,.0f} rpm, {self.spark_map.kpa[i]:g} kPa"
                )
                value_deg[i, j] = value
        says = () if value_deg else ("Nothing changed: every cell comes out as it was.",)
        return Edited(value_deg, says)


def _shares(axis: FloatArray, places: range) -> dict[int, float]:
    """How far along from the first to the last each place lies, 0 to 1."""
    first, last = float(axis[places[0]]), float(axis[places[-1]])
    return {place: (float(axis[place]) - first) / (last - first) if last > first else 0.0 for place in places}


def _between(axis: FloatArray, values: FloatArray, place: int) -> Iterator[float]:
    """Give the straight line's value between the two neighbours; nothing at an end of the axis."""
    if 0 < place < axis.size - 1:
        yield float(np.interp(axis[place], axis[[place - 1, place + 1]], values[[place - 1, place + 1]]))


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

    Examples
    --------
    >>> rpm, kpa = np.array([1000.0, 2000.0]), np.array([40.0])
    >>> controller = Controller(step_deg=0.5)
    >>> whole_map(rpm, kpa, np.array([[12.2, 30.0]]), np.array([[12.0, 24.0]]), controller).value_deg
    {(0, 0): None, (0, 1): 30.0}
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
    """Refuse cells that are none of a map's, or hold what the controller doesn't take.

    Parameters
    ----------
    spark_map : SparkMap
        The map as it stands.
    value_deg : mapping of place to float
        Advance of each cell [crank deg].
    controller : Controller
        Whose steps and limits the values take.

    Examples
    --------
    >>> spark_map = SparkMap(np.array([600.0, 3000.0]), np.array([40.0, 95.0]), np.full((2, 2), 12.0))
    >>> require_cells(spark_map, {(0, 9): 20.0}, Controller())
    Traceback (most recent call last):
    sparkwright.errors.Refusal: cell = 0, 9: must lie within the map, 2 rows by 2 columns
    """
    rows, columns = spark_map.advance_deg.shape
    for (i, j), value in value_deg.items():
        if not (0 <= i < rows and 0 <= j < columns):
            raise Refusal.at(
                "cell", f"{i}, {j}", f"must lie within the map, {rows} rows by {columns} columns"
            )
        where = f"{spark_map.rpm[j]:,.0f} rpm, {spark_map.kpa[i]:g} kPa"
        if (i, j) not in of_own_cells(Edited({(i, j): value}), spark_map, controller).value_deg:
            raise Refusal.at(
                where, f"{value:g}", "must stand at a speed of its row", "set a cell that the controller has"
            )
        _require_taken(value, controller, where)


def of_own_cells(edited: Edited, spark_map: SparkMap, controller: Controller) -> Edited:
    """Leave out what a change comes to at speeds that a row of the controller doesn't have.

    Parameters
    ----------
    edited : Edited
        What the change comes to.
    spark_map : SparkMap
        The map as it stands.
    controller : Controller
        Whose rows may have speeds of their own.

    Examples
    --------
    >>> spark_map = SparkMap(np.array([800.0, 2000.0, 3000.0]), np.array([40.0, 90.0]), np.full((2, 3), 12.0))
    >>> controller = Controller(rows=[[40, 800, 2000], [90, 800, 3000]])
    >>> of_own_cells(Edited({(0, 1): 20.0, (0, 2): 20.0}), spark_map, controller)
    Edited(value_deg={(0, 1): 20.0}, says=('1 cell left out, at a speed that its row does not have.',))
    """
    nodes = nodes_of(controller.rows, spark_map.rpm, spark_map.kpa)
    if nodes is None:
        return edited
    kept = {place: value for place, value in edited.value_deg.items() if nodes[place]}
    out = len(edited.value_deg) - len(kept)
    if not out:
        return edited
    said = f"{out} cell{'' if out == 1 else 's'} left out, at a speed that its row does not have."
    return Edited(kept, (*edited.says, said))


def _require_taken(value: float, controller: Controller, where: str) -> None:
    if not controller.min_deg <= value <= controller.max_deg:
        raise Refusal.at(
            where,
            f"{value:g}",
            f"must be {controller.min_deg:g} to {controller.max_deg:g}, what the controller takes",
        )


# A block pasted from a spreadsheet
