"""The map along one of its lines: a load row along speed, or a speed column along load."""

from __future__ import annotations

from typing import Any, overload

import numpy as np

from sparkwright.errors import Refusal
from sparkwright.numeric import FloatArray
from sparkwright.plan.on_rows import not_asked
from sparkwright.plan.result import Line, LoadLine, MapCells, PlanResult


@overload
def line_at(plan: PlanResult, *, kpa: float) -> Line: ...
@overload
def line_at(plan: PlanResult, *, rpm: float) -> LoadLine: ...


def line_at(plan: PlanResult, *, kpa: float | None = None, rpm: float | None = None) -> Line | LoadLine:
    """Give the plan and its ceilings along the load row, or the speed column, nearest to a value.

    Parameters
    ----------
    plan : PlanResult
        The plan of a job.
    kpa, rpm : float
        One of the two: the load whose row [kPa], or the speed whose column [rpm], is wanted.

    Returns
    -------
    Line or LoadLine
        A row runs along speed, a column along load. The cells are the map's own; nothing is interpolated.

    Raises
    ------
    Refusal
        If the value lies outside the map, or not exactly one is given.
    """
    old_deg = None if plan.old_curve is None else plan.old_curve.advance_deg
    if kpa is not None and rpm is None:
        row = _nearest("kpa", kpa, plan.cells.spark_map.kpa)
        return row_of(plan.cells, row, old_deg, f"{plan.cells.spark_map.kpa[row]:g} kPa")
    if rpm is not None and kpa is None:
        column = _nearest("rpm", rpm, plan.cells.spark_map.rpm)
        return column_of(plan.cells, column, old_deg, f"{plan.cells.spark_map.rpm[column]:,.0f} rpm")
    raise Refusal.at("line", "neither or both", "must have one of kpa and rpm")


def row_of(cells: MapCells, row: int, old_deg: FloatArray | None, title: str) -> Line:
    """Give one load row of the map along speed.

    Parameters
    ----------
    cells : MapCells
        The map, cell by cell, beside its ceilings.
    row : int
        Which load, from 0 for the lowest.
    old_deg : array or None
        Advance of the old distributor, shape (loads, speeds) [deg]; None where no curve is stated.
    title : str
        What the line is called.
    """
    return Line(
        **_values(cells, (row, slice(None)), old_deg),
        title=title,
        kpa=float(cells.spark_map.kpa[row]),
        rpm=cells.spark_map.rpm,
    )


def column_of(cells: MapCells, column: int, old_deg: FloatArray | None, title: str) -> LoadLine:
    """Give one speed column of the map along load.

    Parameters
    ----------
    cells : MapCells
        The map, cell by cell, beside its ceilings.
    column : int
        Which speed, from 0 for the lowest.
    old_deg : array or None
        Advance of the old distributor, shape (loads, speeds) [deg]; None where no curve is stated.
    title : str
        What the line is called.
    """
    return LoadLine(
        **_values(cells, (slice(None), column), old_deg),
        title=title,
        rpm=float(cells.spark_map.rpm[column]),
        kpa=cells.spark_map.kpa,
    )


def _values(cells: MapCells, place: Any, old_deg: FloatArray | None) -> dict[str, Any]:
    return {
        "plan_deg": cells.spark_map.advance_deg[place],
        "best_deg": cells.ceilings.best_deg[place],
        "best_sigma_deg": cells.best_sigma_deg[place],
        "knock_deg": cells.ceilings.knock_deg[place],
        "reach_deg": cells.ceilings.reach_deg[place],
        "limit_deg": cells.ceilings.limit_deg[place],
        "old_deg": None if old_deg is None else old_deg[place],
        "by_hand": cells.by_hand[place],
        "over_ceiling": cells.over_ceiling[place],
        "not_asked": not_asked(cells)[place],
    }


def _nearest(name: str, value: float, axis: FloatArray) -> int:
    if not axis[0] <= value <= axis[-1]:
        raise Refusal.at(name, f"{value:g}", f"must be {axis[0]:g} to {axis[-1]:g}, the span of the map")
    return int(np.argmin(np.abs(axis - value)))
