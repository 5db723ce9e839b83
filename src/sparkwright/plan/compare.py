"""A map from elsewhere held against the plan's ceilings."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import isfinite

import numpy as np
from numpy.typing import NDArray

from sparkwright.errors import Refusal
from sparkwright.findings import Finding, State, Value
from sparkwright.job import Job
from sparkwright.numeric import FloatArray
from sparkwright.plan.between_findings import over_between
from sparkwright.plan.ceilings import TELLABLE_DEG
from sparkwright.plan.hooks import LAST_DEG
from sparkwright.plan.on_rows import nodes_of, not_asked
from sparkwright.plan.planner import plan
from sparkwright.plan.result import WORST_FIRST, PlanResult
from sparkwright.plan.spark_map import SparkMap


@dataclass(frozen=True)
class CellOver:
    """One cell that stands over a ceiling."""

    rpm: float
    kpa: float
    advance_deg: float
    ceiling: str
    ceiling_deg: float
    over_deg: float
    by_hand: bool
    """Whether the job itself sets the cell to this value by hand."""


@dataclass(frozen=True)
class Comparison:
    """A map against the plan, on the map's own cells.

    ``plan_deg`` and ``difference_deg`` (map less plan) have the map's shape; nan where the cell lies
    outside the plan's speeds and loads.
    """

    job_name: str
    fingerprint: str
    spark_map: SparkMap
    plan_deg: FloatArray
    difference_deg: FloatArray
    over: tuple[CellOver, ...]
    headline: Finding
    problems: tuple[Finding, ...]
    warnings: tuple[Finding, ...]


def planned_on_its_axes(
    job: Job,
    spark_map: SparkMap,
    plan_of: Callable[[Job], PlanResult] = plan,
    planned: PlanResult | None = None,
) -> PlanResult:
    """Plan a job on the axes of a map, so that each of the map's cells meets its own ceilings.

    Every face that judges a whole map judges it by this plan: carried to the job's axes, a map would lose
    what lies between and beyond them.

    Parameters
    ----------
    job : Job
        The job that the map is judged for.
    spark_map : SparkMap
        The map, whose speeds and loads take the place of the controller's.
    plan_of : callable, optional
        Plans a job; by default anew, while a face that keeps plans gives its own.
    planned : PlanResult, optional
        The plan of the job where it is at hand: it is given again for a map that stands on its axes.

    Raises
    ------
    Refusal
        If the map's axes leave nothing to plan; the map is named, and not the job's controller.
    """
    if planned is not None and _same_axes(planned.cells.spark_map, spark_map):
        return planned
    axes = {"rpm": spark_map.rpm.tolist(), "kpa": spark_map.kpa.tolist()}
    own = nodes_of(job.controller.rows, spark_map.rpm, spark_map.kpa) is not None
    try:
        return plan_of(job if own else job.changed("controller", rows=None, **axes))
    except Refusal as refusal:
        of_map = {"controller.rpm": "map.rpm", "controller.kpa": "map.kpa"}
        named = [replace(each, place=of_map.get(each.place, each.place)) for each in refusal.problems]
        raise Refusal(named) from refusal


def _asked(plan: PlanResult, spark_map: SparkMap) -> NDArray[np.bool_]:
    """Mark the cells that are judged; on other axes than the plan's all of them."""
    if _same_axes(plan.cells.spark_map, spark_map):
        return ~not_asked(plan.cells)
    return np.ones(spark_map.advance_deg.shape, dtype=bool)


def _same_axes(one: SparkMap, other: SparkMap) -> bool:
    return np.array_equal(one.rpm, other.rpm) and np.array_equal(one.kpa, other.kpa)


def _carried(grid: FloatArray, plan: PlanResult, rpm: FloatArray, kpa: FloatArray) -> FloatArray:
    """Carry a grid of the plan's to other axes; nan outside them or where a cell used has no value."""
    own = plan.cells.spark_map
    rows = np.array([np.interp(rpm, own.rpm, row, left=np.nan, right=np.nan) for row in grid])
    return np.array([np.interp(kpa, own.kpa, column, left=np.nan, right=np.nan) for column in rows.T]).T


def _ceiling(name: str, plan: PlanResult, rpm: FloatArray, kpa: FloatArray) -> FloatArray:
    """Carry a ceiling; between a cell that has it and one without, it counts as the last that was tested."""
    own = np.asarray(getattr(plan.cells.ceilings, f"{name}_deg"))
    without = np.isnan(own)
    carried = _carried(np.where(without, LAST_DEG, own), plan, rpm, kpa)
    return np.where(_carried(without.astype(float), plan, rpm, kpa) == 1.0, np.nan, carried)


def _the_most(kind: str, state: State, ceiling: str, over: list[CellOver], of_cells: int) -> list[Finding]:
    """Count the cells over a ceiling, with the one that is the most over it; ``over`` has it first."""
    cells = [cell for cell in over if cell.ceiling == ceiling and isfinite(cell.over_deg)]
    if not cells:
        return []
    most = cells[0]
    numbers: dict[str, Value] = {
        "cells": len(cells),
        "of_cells": of_cells,
        "over_deg": most.over_deg,
        "rpm": most.rpm,
        "kpa": most.kpa,
        "advance_deg": most.advance_deg,
        "ceiling_deg": most.ceiling_deg,
    }
    return [Finding(kind, state, numbers)]


def compare_map(plan: PlanResult, spark_map: SparkMap) -> Comparison:
    """Hold a map against the plan: which cells stand over which ceiling, and by how much.

    Parameters
    ----------
    plan : PlanResult
        The plan of the job.
    spark_map : SparkMap
        The map to check, on axes of its own.

    Returns
    -------
    Comparison
        Every cell over knock, reach or a limit is a problem; one that is over best and nothing
        else is told.
    """
    rpm, kpa, value = spark_map.rpm, spark_map.kpa, spark_map.advance_deg
    plan_deg = _carried(plan.cells.spark_map.advance_deg, plan, rpm, kpa)
    set_by_hand = {
        (plan.cells.spark_map.rpm[j], plan.cells.spark_map.kpa[i], plan.cells.spark_map.advance_deg[i, j])
        for i, j in np.argwhere(plan.cells.by_hand)
    }
    over = []
    asked = _asked(plan, spark_map)
    over_another = np.zeros(value.shape, dtype=bool)
    for name in WORST_FIRST:
        ceiling = _ceiling(name, plan, rpm, kpa)
        above = np.nan_to_num(value - ceiling, nan=0.0, posinf=np.inf)
        stands_over = asked & (above > TELLABLE_DEG)
        if name == "best":  # past best only costs torque; that is never said of a cell over a worse ceiling
            stands_over &= ~over_another
        over_another |= stands_over
        for i, j in np.argwhere(stands_over):
            over.append(
                CellOver(
                    float(rpm[j]),
                    float(kpa[i]),
                    float(value[i, j]),
                    name,
                    float(ceiling[i, j]),
                    float(above[i, j]),
                    (rpm[j], kpa[i], value[i, j]) in set_by_hand,
                )
            )
    over.sort(key=lambda cell: (WORST_FIRST.index(cell.ceiling), -cell.over_deg))
    problems = [
        *_hopeless(over, value.size),
        *_the_most("held-against.over-knock", "problem", "knock", over, value.size),
        *_the_most("held-against.over-reach", "problem", "reach", over, value.size),
        *_late_side(spark_map, _carried(plan.cells.ceilings.floor_deg, plan, rpm, kpa)),
        *_the_most("held-against.over-limit", "problem", "limit", over, value.size),
    ]
    between = tuple(over_between(spark_map, over_another, plan.cells.between))
    problems += [
        Finding("held-against.between", "problem", each) for each in between if each["ceiling"] != "best"
    ]
    return Comparison(
        job_name=plan.job_name,
        fingerprint=plan.fingerprint,
        spark_map=spark_map,
        plan_deg=plan_deg,
        difference_deg=value - plan_deg,
        over=tuple(over),
        headline=problems[0] if problems else Finding("held-against.clear", "good"),
        problems=tuple(problems),
        warnings=(
            *_known(over),
            *_the_most("held-against.past-best", "look", "best", over, value.size),
            *(Finding("held-against.between", "look", each) for each in between if each["ceiling"] == "best"),
            *_outside(plan_deg),
        ),
    )


def _hopeless(over: list[CellOver], of_cells: int) -> list[Finding]:
    hopeless = [cell for cell in over if not isfinite(cell.over_deg)]
    if not hopeless:
        return []
    first = hopeless[0]
    numbers = {"cells": len(hopeless), "of_cells": of_cells, "rpm": first.rpm, "kpa": first.kpa}
    return [Finding("held-against.at-any-advance", "problem", numbers)]


def _late_side(spark_map: SparkMap, floor_deg: FloatArray) -> list[Finding]:
    late_side = spark_map.advance_deg < floor_deg
    if not late_side.any():
        return []
    i, j = np.argwhere(late_side)[0]
    numbers: dict[str, Value] = {
        "cells": int(late_side.sum()),
        "of_cells": int(late_side.size),
        "advance_deg": float(spark_map.advance_deg[i, j]),
        "rpm": float(spark_map.rpm[j]),
        "kpa": float(spark_map.kpa[i]),
    }
    return [Finding("held-against.left-late", "problem", numbers)]


def _known(over: list[CellOver]) -> list[Finding]:
    """Count the cells over a ceiling that the job itself sets just so."""
    known = {(cell.rpm, cell.kpa) for cell in over if cell.by_hand and cell.ceiling != "best"}
    return [Finding("held-against.set-by-hand", "look", {"cells": len(known)})] if known else []


def _outside(plan_deg: FloatArray) -> list[Finding]:
    outside = int(np.isnan(plan_deg).sum())
    numbers = {"cells": outside, "of_cells": int(plan_deg.size)}
    return [Finding("held-against.outside-the-plan", "look", numbers)] if outside else []
