"""Cells set by hand: the person's exact values put into a plan, and where they stand over its ceilings."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields, replace
from typing import Any

import numpy as np

from sparkwright.cycle.belief import PRIOR, Belief
from sparkwright.cycle.sparse import SparseHook
from sparkwright.errors import InputError
from sparkwright.job import HandCell, Job
from sparkwright.plan.ceilings import TELLABLE_DEG
from sparkwright.plan.corrected import CorrectedHook
from sparkwright.plan.firmness import knock_chance_percent
from sparkwright.plan.hooks import FIRST_DEG, LAST_DEG, sparse_at
from sparkwright.plan.physics import physics_of
from sparkwright.plan.result import WORST_FIRST, FloatArray, MapCells, OverCeiling, PlanResult
from sparkwright.plan.spark_map import SparkMap
from sparkwright.plan.summary import summed_up

SAME_CELL = 1e-6
"""How far a stated speed [rpm] or load [kPa] may lie from the map's and still name its cell."""

Place = tuple[int, int]


def set_by_hand(planned: PlanResult, job: Job, belief: Belief = PRIOR) -> PlanResult:
    """Put the cells that a job sets by hand into the plan made without them.

    Parameters
    ----------
    planned : PlanResult
        ``plan.planner.planned_without_hand`` of the same job.
    job : Job
        The job, with its cells set by hand.
    belief : Belief, optional
        The belief that the plan was made with.

    Returns
    -------
    PlanResult
        Exact values in those cells, held by "hand", with what they give and where they stand over a
        ceiling; every other cell as it was. Slopes are not laid upon them.

    Raises
    ------
    InputError
        If the plan was made from other facts.
    """
    if planned.fingerprint != job.without_hand().fingerprint:
        raise InputError(
            "plan",
            planned.fingerprint[:12],
            "must be made from this job without its cells set by hand",
            "plan the job again",
        )
    if not job.hand:
        return planned
    placed, off_the_map = _placed(job, planned)
    physics = physics_of(job, belief)
    rpm, kpa = planned.spark_map.rpm, planned.spark_map.kpa
    hooks = {(i, j): sparse_at(physics, float(rpm[j]), float(kpa[i])) for i, j in placed}
    cells = _with_values(planned, {place: cell.advance_deg for place, cell in placed.items()}, hooks)
    over = over_ceilings(planned, placed)
    stands_over = {(each.rpm, each.kpa) for each in over}
    over_ceiling = np.zeros_like(cells.by_hand)
    for place, cell in placed.items():
        over_ceiling[place] = (cell.rpm, cell.kpa) in stands_over
    cells = replace(cells, over_ceiling=over_ceiling)
    return summed_up(job, physics, cells, planned.assumed, over, off_the_map)


def _placed(job: Job, cells: MapCells) -> tuple[dict[Place, HandCell], tuple[HandCell, ...]]:
    """Find the place of each cell set by hand, and those that have none on this map."""
    placed: dict[Place, HandCell] = {}
    off_the_map = []
    for cell in job.hand:
        row = np.flatnonzero(np.abs(cells.spark_map.kpa - cell.kpa) <= SAME_CELL)
        column = np.flatnonzero(np.abs(cells.spark_map.rpm - cell.rpm) <= SAME_CELL)
        if row.size and column.size:
            placed[int(row[0]), int(column[0])] = cell
        else:
            off_the_map.append(cell)
    return placed, tuple(off_the_map)


def _with_values(
    planned: PlanResult, value_deg: dict[Place, float], hooks: dict[Place, SparseHook | CorrectedHook]
) -> MapCells:
    """Replace the values of some cells, and all that follows from them cell by cell."""

    def changed(grid: FloatArray, value: Callable[[Place], float]) -> FloatArray:
        new = grid.copy()
        for place in value_deg:
            new[place] = value(place)
        return new

    # Beyond the tested advances nothing is known of what the cell gives.
    given = {
        place: hooks[place].at(value)
        if FIRST_DEG <= value <= LAST_DEG
        else (float("nan"), float("nan"), float("nan"))
        for place, value in value_deg.items()
    }
    torque = changed(planned.torque_nm, lambda place: given[place][0])

    def lost_percent(place: Place) -> float:
        if np.isnan(planned.torque_lost_percent[place]):  # the engine hardly pulls there
            return float("nan")
        best_nm = hooks[place].best(float(planned.ceilings.best_deg[place]))[1]
        return float(100.0 * (best_nm - torque[place]) / best_nm)

    held = [list(row) for row in planned.held_by]
    by_hand = np.zeros_like(planned.by_hand)
    for i, j in value_deg:
        held[i][j], by_hand[i, j] = "hand", True
    spark_map = planned.spark_map
    cells: dict[str, Any] = {field.name: getattr(planned, field.name) for field in fields(MapCells)}
    return replace(
        MapCells(**cells),
        spark_map=SparkMap(
            spark_map.rpm, spark_map.kpa, changed(spark_map.advance_deg, value_deg.__getitem__)
        ),
        held_by=tuple(tuple(row) for row in held),
        by_hand=by_hand,
        sigma_deg=np.where(by_hand, np.nan, planned.sigma_deg),
        smoothed_deg=np.where(by_hand, np.nan, planned.smoothed_deg),
        torque_nm=torque,
        torque_lost_percent=changed(planned.torque_lost_percent, lost_percent),
        burned_share=changed(planned.burned_share, lambda place: given[place][2]),
        knock_chance_percent=changed(
            planned.knock_chance_percent,
            lambda place: knock_chance_percent(given[place][1], float(planned.ln_knock_sigma[place])),
        ),
    )


def over_ceilings(planned: PlanResult, placed: dict[Place, HandCell]) -> tuple[OverCeiling, ...]:
    """Give every cell that stands over knock, reach, a limit or a peg: the worst first."""
    found = []
    for place, cell in placed.items():
        for name in WORST_FIRST[:3]:
            ceiling_deg = float(getattr(planned.ceilings, f"{name}_deg")[place])
            # A ceiling that is not there, nan, is stood over by nothing.
            if cell.advance_deg - ceiling_deg > TELLABLE_DEG:
                found.append(
                    OverCeiling(
                        rpm=cell.rpm,
                        kpa=cell.kpa,
                        set_deg=cell.advance_deg,
                        ceiling=name,
                        ceiling_deg=ceiling_deg,
                        over_deg=cell.advance_deg - ceiling_deg,
                        reason=cell.reason,
                        by=cell.by,
                        on=cell.on,
                    )
                )
    return tuple(sorted(found, key=lambda each: (WORST_FIRST.index(each.ceiling), -each.over_deg)))
