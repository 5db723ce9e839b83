"""Cells set by hand: the person's exact values put into a plan, and where they stand over its ceilings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from sparkwright.cycle.belief import PRIOR, Belief
from sparkwright.errors import Refusal
from sparkwright.job import HandCell, Job
from sparkwright.numeric import FloatArray
from sparkwright.plan.ceilings import TELLABLE_DEG
from sparkwright.plan.corrected import Hooks
from sparkwright.plan.firmness import knock_chances_percent
from sparkwright.plan.hooks import USUAL_BEST_DEG, sparse_at
from sparkwright.plan.on_rows import as_rows_make
from sparkwright.plan.physics import Physics, physics_of
from sparkwright.plan.result import WORST_FIRST, MapCells, OverCeiling, PlanResult
from sparkwright.plan.spark_map import SparkMap
from sparkwright.plan.summary import summed_up

SAME_CELL = 1e-6
"""How far a stated speed [rpm] or load [kPa] may lie from the map's and still name its cell."""

SAME_DEG = 1e-9
"""How far a cell may move and still count as left alone [deg]."""

Place = tuple[int, int]
"""Row and column of a cell, counted from the least load and the least speed."""


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
        Exact values in those cells, held "by hand", with what they give and where they stand over a
        ceiling; every other cell as it was. Slopes are not laid upon them.

    Raises
    ------
    Refusal
        If the plan was made from other facts or under another belief.
    """
    if planned.fingerprint != job.without_hand().fingerprint:
        raise Refusal.at(
            "plan",
            planned.fingerprint[:12],
            "must be made from this job without its cells set by hand",
            "plan the job again",
        )
    if planned.belief_fingerprint != belief.fingerprint:
        raise Refusal.at(
            "plan",
            planned.belief_fingerprint[:12],
            "must be made under the same belief of the engine's constants",
            "plan the job again",
        )
    if not job.hand:
        return planned
    placed, off_the_map = _placed(job, planned.cells)
    physics = physics_of(job, belief)
    hooks = _hooks_at(physics, planned.cells.spark_map, _values(planned.cells, placed))
    cells, over = with_values(planned.cells, placed, hooks)
    return summed_up(job, physics, cells, planned.assumed, over, off_the_map)


def _placed(job: Job, cells: MapCells) -> tuple[dict[Place, HandCell], tuple[HandCell, ...]]:
    """Find the place of each cell set by hand, and those that have none on this map."""
    placed: dict[Place, HandCell] = {}
    off_the_map = []
    for cell in job.hand:
        row = np.flatnonzero(np.abs(cells.spark_map.kpa - cell.kpa) <= SAME_CELL)
        column = np.flatnonzero(np.abs(cells.spark_map.rpm - cell.rpm) <= SAME_CELL)
        if row.size and column.size and (cells.rows is None or cells.rows.nodes[row[0], column[0]]):
            placed[int(row[0]), int(column[0])] = cell
        else:
            off_the_map.append(cell)
    return placed, tuple(off_the_map)


def _values(planned: MapCells, placed: Mapping[Place, HandCell]) -> dict[Place, float]:
    """Give the values of cells set by hand, then those of cells that the controller makes of them [deg]."""
    values = {place: cell.advance_deg for place, cell in placed.items()}
    if planned.rows is None or not placed:
        return values
    before_deg = planned.spark_map.advance_deg
    advance_deg = before_deg.copy()
    advance_deg[tuple(np.array(list(values)).T)] = list(values.values())
    made_deg = as_rows_make(advance_deg, planned.spark_map.rpm, planned.rows)
    moved = ~planned.rows.nodes & (np.abs(made_deg - before_deg) > SAME_DEG)
    return values | {(i, j): float(made_deg[i, j]) for i, j in np.argwhere(moved).tolist()}


def _hooks_at(physics: Physics, spark_map: SparkMap, values: Mapping[Place, float]) -> Hooks | None:
    """Give the hooks of some cells, in their order; None for no cells."""
    if not values:
        return None
    rows, columns = np.array(list(values)).T
    return sparse_at(physics, spark_map.rpm[columns], spark_map.kpa[rows])


def with_values(
    planned: MapCells, placed: Mapping[Place, HandCell], hooks: Hooks | None = None
) -> tuple[MapCells, tuple[OverCeiling, ...]]:
    """Replace the values of some cells, and all that follows from them cell by cell.

    Parameters
    ----------
    planned : MapCells
        The cells of the plan without them.
    placed : mapping
        The cells set by hand, by row and column.
    hooks : Hooks, optional
        Torque and knock against advance in each of them, in their order, and then in each cell that the
        controller makes of them; without, what the values give is nan, "not determined".

    Returns
    -------
    MapCells, tuple of OverCeiling
        The cells of the map, and which of those set stand over a ceiling.
    """
    over = over_ceilings(planned, placed)
    if not placed:
        return planned, over
    values = _values(planned, placed)
    spark_map, at = planned.spark_map, tuple(np.array(list(values)).T)

    def changed(grid: FloatArray, values: FloatArray) -> FloatArray:
        new = grid.copy()
        new[at] = values
        return new

    advance_deg = np.array(list(values.values()))
    given = _given(planned, at, advance_deg, hooks)
    stands_over = {(each.rpm, each.kpa) for each in over}
    held = [list(row) for row in planned.held_by]
    by_hand, over_ceiling = np.zeros_like(planned.by_hand), np.zeros_like(planned.by_hand)
    for (i, j), cell in placed.items():
        held[i][j], by_hand[i, j] = "by hand", True
        over_ceiling[i, j] = (cell.rpm, cell.kpa) in stands_over
    changed_cells = replace(
        planned,
        spark_map=SparkMap(spark_map.rpm, spark_map.kpa, changed(spark_map.advance_deg, advance_deg)),
        held_by=tuple(tuple(row) for row in held),
        slope_from_rpm=np.where(by_hand, np.nan, planned.slope_from_rpm),
        slope_from_kpa=np.where(by_hand, np.nan, planned.slope_from_kpa),
        by_hand=by_hand,
        over_ceiling=over_ceiling,
        sigma_deg=np.where(by_hand, np.nan, planned.sigma_deg),
        smoothed_deg=np.where(by_hand, np.nan, planned.smoothed_deg),
        between=planned.between.without(by_hand),
        torque_nm=changed(planned.torque_nm, given.torque_nm),
        torque_lost_percent=changed(planned.torque_lost_percent, given.lost_percent),
        burned_share=changed(planned.burned_share, given.burned_share),
        knock_chance_percent=changed(planned.knock_chance_percent, given.knock_chance_percent),
    )
    return changed_cells, over


@dataclass(frozen=True)
class _Given:
    """What cells give at the values that a person set, arrays along the cells; nan where not determined."""

    torque_nm: FloatArray
    lost_percent: FloatArray
    burned_share: FloatArray
    knock_chance_percent: FloatArray


def _given(planned: MapCells, at: tuple[Any, ...], advance_deg: FloatArray, hooks: Hooks | None) -> _Given:
    if hooks is None:
        return _Given(*np.full((4, advance_deg.size), np.nan))
    torque_nm, ln_integral, burned_share = hooks.at(advance_deg)
    guess_deg = np.nan_to_num(planned.ceilings.best_deg[at], nan=USUAL_BEST_DEG)
    best_nm = hooks.best(guess_deg)[1]
    # Where the engine hardly pulls, the plan tells no share of its torque.
    hardly_pulls = np.isnan(planned.torque_lost_percent[at])
    lost_percent = np.where(hardly_pulls, np.nan, 100.0 * (best_nm - torque_nm) / best_nm)
    chance_percent = knock_chances_percent(ln_integral, planned.ln_knock_sigma[at])
    return _Given(torque_nm, lost_percent, burned_share, chance_percent)


def over_ceilings(planned: MapCells, placed: Mapping[Place, HandCell]) -> tuple[OverCeiling, ...]:
    """Give every cell that stands over knock, reach, a limit or a peg: the worst first.

    Parameters
    ----------
    planned : MapCells
        The cells of a plan, among them those set by hand.
    placed : mapping
        Cells set by hand by their place in the map, load before speed.
    """
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
