"""From the cells of a map to the whole result: idle, lines, what reach costs, and what there is to say."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sparkwright.check.assumed import Assumed
from sparkwright.check.rotor import phase_advice, rotor_cap
from sparkwright.ignition.rotor import LEAST_REACH_DEG
from sparkwright.job import HandCell, Job
from sparkwright.numeric import FloatArray
from sparkwright.plan import findings
from sparkwright.plan.between_findings import costs, set_by_hand_between
from sparkwright.plan.ceilings import TELLABLE_DEG
from sparkwright.plan.hooks import POINT_ADVANCE_DEG, POINT_STEP_DEG, best_of, sparse_at, trace_at
from sparkwright.plan.lines import row_of
from sparkwright.plan.old_curve import compare_old, old_map
from sparkwright.plan.on_rows import costs_of_rows
from sparkwright.plan.physics import Physics
from sparkwright.plan.result import (
    LEAST_LOST_PERCENT,
    IdleReserve,
    MapCells,
    OverCeiling,
    PlanResult,
    ReachCost,
)
from sparkwright.plan.spark_map import SparkMap
from sparkwright.plan.uncertainty import spreads_taken

CRUISE_KPA = 50.0


def summed_up(
    job: Job,
    physics: Physics,
    cells: MapCells,
    assumed: tuple[Assumed, ...],
    over: tuple[OverCeiling, ...] = (),
    off_the_map: tuple[HandCell, ...] = (),
) -> PlanResult:
    """Say everything that follows from the cells of a map.

    Parameters
    ----------
    job : Job
        The job.
    physics : Physics
        The same as the cycle sees it.
    cells : MapCells
        The map with its reasons.
    assumed : tuple of Assumed
        What was taken where the job states nothing.
    over : tuple of OverCeiling
        Cells set by hand that stand over a ceiling.
    off_the_map : tuple of HandCell
        Those that are no cell of this map.

    Returns
    -------
    PlanResult
        The cells, and what there is to say of them.
    """
    value, ceilings = cells.spark_map.advance_deg, cells.ceilings
    rpm, kpa = cells.spark_map.rpm, cells.spark_map.kpa
    old_deg = old_map(job, rpm, kpa, physics.ambient_kpa)
    top_kpa = max(physics.top_kpa, physics.ambient_kpa)
    full = int(np.flatnonzero(kpa <= top_kpa + 1e-9)[-1]) if np.any(kpa <= top_kpa) else 0
    cruise = int(np.argmin(np.abs(kpa - CRUISE_KPA)))
    full_load = row_of(cells, full, old_deg, f"Full load, {kpa[full]:.0f} kPa")
    reach_cost = _reach_cost(job, physics, cells)
    span_deg = advance_asked(cells, None if reach_cost is None else reach_cost.most_wanted_deg)
    problems = (
        *findings.problems(job, cells, reach_cost, over, phase_advice(job, *span_deg)),
        *set_by_hand_between(cells),
    )
    return PlanResult(
        cells=cells,
        job_name=job.name,
        fingerprint=job.fingerprint,
        belief_fingerprint=physics.belief.fingerprint,
        margins=ceilings.margins(value),
        over=over,
        base_deg=job.distributor.base_deg,
        top_kpa=top_kpa,
        idle=_idle(physics, cells.spark_map),
        full_load=full_load,
        cruise=row_of(cells, cruise, old_deg, f"Cruise, {kpa[cruise]:.0f} kPa"),
        reach_cost=reach_cost,
        old_curve=(
            None
            if old_deg is None
            else compare_old(old_deg, value, ceilings.knock_deg, rpm, kpa, cells.met, _pull_nm(cells))
        ),
        spreads=spreads_taken(job, physics),
        headline=findings.headline(
            cells, rotor_cap(job).reach(), job.distributor.base_deg, problems, full_load
        ),
        problems=problems,
        warnings=(*findings.warnings(job, physics, cells, off_the_map), *costs(cells), *costs_of_rows(cells)),
        assumed=assumed,
    )


def _pull_nm(cells: MapCells) -> FloatArray:
    """Torque of each cell [N m]; 0 where the engine hardly pulls, or is dragged."""
    return np.where(np.isnan(cells.torque_lost_percent), 0.0, np.maximum(cells.torque_nm, 0.0))


def advance_asked(cells: MapCells, most_wanted_deg: float | None) -> tuple[float, float]:
    """Give least and most advance [crank deg] that the rotor is asked for.

    The least is that of the cells a running engine meets; the most is what the plan would use if the rotor
    let it. Plan and check take their advice on the phase from this one span.

    Parameters
    ----------
    cells : MapCells
        The map, cell by cell, with which cells a running engine meets.
    most_wanted_deg : float or None
        Most advance that the plan would use if the rotor let it [deg]; None where the rotor costs nothing.
    """
    advance_deg = cells.spark_map.advance_deg
    met_deg = advance_deg[cells.met] if cells.met.any() else advance_deg
    most_deg = float(advance_deg.max())
    return float(met_deg.min()), most_deg if most_wanted_deg is None else max(most_deg, most_wanted_deg)


def _reach_cost(job: Job, physics: Physics, cells: MapCells) -> ReachCost | None:
    ceilings = cells.ceilings
    # Only cells where the engine runs and pulls say what the rotor must reach; on the overrun advance buys
    # nothing.
    held = (np.array(cells.held_by) == "reach") & cells.met & np.isfinite(cells.torque_lost_percent)
    if not held.any():
        return None
    knocking_deg = np.where(np.isnan(ceilings.knock_deg), np.inf, ceilings.knock_deg)
    wanted = np.minimum(np.minimum(ceilings.best_deg, knocking_deg), ceilings.limit_deg)
    lost = _lost_to_reach_percent(physics, cells, held, wanted)
    if lost[held].max() < LEAST_LOST_PERCENT:
        return None
    most_wanted = float(wanted[held].max())
    if most_wanted - ceilings.reach_deg[0, 0] < LEAST_REACH_DEG:
        return None
    advice = phase_advice(job, *advance_asked(cells, most_wanted))
    moved = 2.0 * advice.move_distributor_deg
    leaves_deg = float(ceilings.floor_deg[0, 0]) + moved
    i, j = np.unravel_index(int(np.argmax(np.where(held, lost, -np.inf))), lost.shape)
    return ReachCost(
        cells=int(held.sum()),
        most_wanted_deg=most_wanted,
        reach_deg=float(ceilings.reach_deg[0, 0]),
        most_torque_lost_percent=float(lost[i, j]),
        lost_at_rpm=float(cells.spark_map.rpm[j]),
        lost_at_kpa=float(cells.spark_map.kpa[i]),
        phase_move_distributor_deg=advice.move_distributor_deg,
        phase_move_mm=advice.move_mm,
        phase_move_tip_fraction=advice.move_tip_fraction,
        reach_when_phased_deg=float(ceilings.reach_deg[0, 0]) + moved,
        leaves_when_phased_deg=leaves_deg,
        cells_left_when_phased=int(findings.left_late(cells, leaves_deg).sum()),
    )


def _lost_to_reach_percent(
    physics: Physics, cells: MapCells, held: NDArray[np.bool_], wanted_deg: FloatArray
) -> FloatArray:
    """Torque that cells held by reach lose against the next ceiling, which is not always best [%]."""
    lost = cells.torque_lost_percent.copy()
    before_best = held & (wanted_deg < cells.ceilings.best_deg - TELLABLE_DEG)
    if before_best.any():
        rows, columns = np.nonzero(before_best)
        hooks = sparse_at(physics, cells.spark_map.rpm[columns], cells.spark_map.kpa[rows])
        wanted_nm = hooks.at(wanted_deg[before_best])[0]
        lost[before_best] = 100.0 * (1.0 - cells.torque_nm[before_best] / wanted_nm)
    return lost


def _idle(physics: Physics, spark_map: SparkMap) -> IdleReserve:
    rpm, kpa = physics.idle_rpm, physics.idle_kpa
    best_deg, _, _ = best_of(sparse_at(physics, rpm, kpa))
    set_deg = spark_map.at(rpm, kpa)
    asked_deg = np.array([best_deg, set_deg])
    # Of the point's hook only the advances beside these two are run.
    beside = (np.abs(POINT_ADVANCE_DEG[:, None] - asked_deg) <= POINT_STEP_DEG).any(axis=1)
    trace = trace_at(physics, rpm, kpa, POINT_ADVANCE_DEG, beside)
    # Indicated torque: at idle the engine's brake torque is nil, and a share of nothing says nothing.
    work = np.interp(asked_deg, POINT_ADVANCE_DEG, trace.imep_bar, left=np.nan, right=np.nan)
    return IdleReserve(
        rpm=rpm,
        kpa=kpa,
        best_deg=best_deg,
        reserve_deg=best_deg - set_deg,
        set_deg=set_deg,
        authority_percent=float(100.0 * (work[0] - work[1]) / work[1]),
    )
