"""The idle block: the cells that idle lives in, flat, so that the spark moves neither with speed nor load."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sparkwright.cycle.belief import PRIOR, Belief
from sparkwright.findings import Finding, Value
from sparkwright.job import Job
from sparkwright.numeric import FloatArray
from sparkwright.plan.between import LEFT_DEG, made_of
from sparkwright.plan.ceilings import TELLABLE_DEG, limit_slopes, round_down
from sparkwright.plan.hooks import FIRST_DEG, LAST_DEG, trace_at
from sparkwright.plan.on_rows import as_rows_make, held_on_rows
from sparkwright.plan.physics import physics_of
from sparkwright.plan.result import PlanResult
from sparkwright.plan.spark_map import SparkMap

SPEED_WANDER_RPM = 100.0
"""How far the speed wanders to either side of idle where the job doesn't say [rpm]; common practice, no
source."""

LOAD_WANDER_KPA = 5.0
"""How far the load wanders to either side of idle [kPa]; common practice, no source."""

EITHER_WAY_DEG = 5.0
"""The step either way whose torque is told [deg]."""


@dataclass(frozen=True)
class IdleBlock:
    """The idle block and the map with it.

    ``rows`` and ``columns`` are first and last place of the block in the map; ``earlier_percent`` and
    ``later_percent`` the indicated torque that 5 deg more and 5 deg less give, nan where not determined;
    ``lowered`` counts cells beside the block that were lowered for the slopes.
    """

    job_name: str
    fingerprint: str
    rpm: float
    kpa: float
    wander_rpm: float
    rows: tuple[int, int]
    columns: tuple[int, int]
    advance_deg: float
    reserve_deg: float
    earlier_percent: float
    later_percent: float
    lowered: int
    spark_map: SparkMap
    headline: Finding
    problems: tuple[Finding, ...]
    warnings: tuple[Finding, ...]

    @property
    def cells(self) -> NDArray[np.bool_]:
        """Mark the cells of the block, shape (loads, speeds)."""
        marked = np.zeros(self.spark_map.advance_deg.shape, dtype=bool)
        marked[self.rows[0] : self.rows[1] + 1, self.columns[0] : self.columns[1] + 1] = True
        return marked


def idle_block(job: Job, planned: PlanResult, belief: Belief = PRIOR) -> IdleBlock:
    """Lay the idle block into a plan.

    Parameters
    ----------
    job : Job
        The job, for its idle, how far that wanders, and its slopes.
    planned : PlanResult
        Its plan.
    belief : Belief, optional
        The belief that the plan was made under.

    Returns
    -------
    IdleBlock
        Best at idle less the reserve in every cell of the block, or the lowest ceiling among them and between
        them and their neighbours if that is less; cells beside it are lowered, never raised, to the slopes
        that the job allows. Cells that are set by hand stay as they are.

    Examples
    --------
    >>> from sparkwright.job import starter_text
    >>> from sparkwright.plan.planner import plan
    >>> job = Job.from_toml(starter_text())
    >>> block = idle_block(job, plan(job))
    >>> block.earlier_percent > 0.0 > block.later_percent
    True
    """
    physics = physics_of(job, belief)
    rpm, kpa, wander = physics.idle_rpm, physics.idle_kpa, idle_wander_rpm(job)
    columns = _about(planned.cells.spark_map.rpm, rpm - wander, rpm + wander)
    rows = _about(planned.cells.spark_map.kpa, kpa - LOAD_WANDER_KPA, kpa + LOAD_WANDER_KPA)
    block = np.zeros(planned.cells.by_hand.shape, dtype=bool)
    block[rows[0] : rows[1] + 1, columns[0] : columns[1] + 1] = True
    by_hand = int((block & planned.cells.by_hand).sum())
    ceilings = planned.cells.ceilings
    lowest = np.fmin(
        np.fmin(ceilings.best_deg, np.maximum(ceilings.knock_deg, FIRST_DEG)),
        np.fmin(ceilings.reach_deg, ceilings.limit_deg),
    )
    wanted = planned.idle.best_deg - job.limits.idle_reserve_deg
    flat = float(np.nanmin([wanted, float(np.nanmin(lowest[block]))]))
    laid = block & ~planned.cells.by_hand
    spark_map, flat = _laid(job, planned, laid, _under_between(planned, laid, flat))
    spark_map, flat = _on_rows(job, planned, laid, spark_map, flat)
    earlier, later = _either_way(job, belief, flat)
    lowered = (planned.cells.spark_map.advance_deg - spark_map.advance_deg > TELLABLE_DEG) & ~block
    reserve = planned.idle.best_deg - flat
    numbers: dict[str, Value] = {
        "from_rpm": float(planned.cells.spark_map.rpm[columns[0]]),
        "to_rpm": float(planned.cells.spark_map.rpm[columns[1]]),
        "from_kpa": float(planned.cells.spark_map.kpa[rows[0]]),
        "to_kpa": float(planned.cells.spark_map.kpa[rows[1]]),
        "advance_deg": flat,
        "reserve_deg": reserve,
        "earlier_percent": earlier,
        "later_percent": later,
        "lowered": int(lowered.sum()),
    }
    on_rows = planned.cells.rows
    nothing_to_type = on_rows is not None and not (block & on_rows.nodes).any()
    first_rpm, first_kpa = float(planned.cells.spark_map.rpm[0]), float(planned.cells.spark_map.kpa[0])
    off_the_map = first_rpm > rpm - wander or first_kpa > kpa
    return IdleBlock(
        job_name=planned.job_name,
        fingerprint=planned.fingerprint,
        rpm=rpm,
        kpa=kpa,
        wander_rpm=wander,
        rows=rows,
        columns=columns,
        advance_deg=flat,
        reserve_deg=reserve,
        earlier_percent=earlier,
        later_percent=later,
        lowered=int(lowered.sum()),
        spark_map=spark_map,
        headline=Finding("idle-block.laid", "good", numbers),
        problems=(),
        warnings=(
            *((_off_the_map(rpm, wander, planned.cells.spark_map),) if off_the_map else ()),
            *((Finding("idle-block.no-own-cell", "look", {}),) if nothing_to_type else ()),
            *((Finding("idle-block.set-by-hand", "look", {"cells": by_hand}),) if by_hand else ()),
        ),
    )


def idle_wander_rpm(job: Job) -> float:
    """Give how far the speed of a job's engine wanders to either side of idle [rpm].

    Parameters
    ----------
    job : Job
        The job, which may state it.
    """
    stated = job.limits.idle_wander_rpm
    return SPEED_WANDER_RPM if stated is None else stated


def _about(axis: FloatArray, low: float, high: float) -> tuple[int, int]:
    """Give first and last node that a controller uses between two values, since it interpolates."""
    first = int(np.searchsorted(axis, low, side="right")) - 1
    last = int(np.searchsorted(axis, high, side="left"))
    return max(first, 0), min(last, axis.size - 1)


def _under_between(planned: PlanResult, laid: NDArray[np.bool_], flat: float) -> float:
    """Lower a flat block until nothing between its cells, or they and their neighbours, is over a ceiling.

    No lower than the plan's own least cell there: with that the map is nowhere above the plan.
    """
    grid, spark_map = planned.cells.between.grid, planned.cells.spark_map
    if grid is None or not laid.any():
        return flat
    beside = np.where(laid, 0.0, spark_map.advance_deg)
    weights = made_of(planned.cells.between.how, spark_map.rpm, spark_map.kpa, grid)
    share, rest_deg = weights @ laid.ravel().astype(float), weights @ beside.ravel()
    room_deg = np.resize(grid.lowest_deg.ravel(), share.size) + LEFT_DEG - rest_deg
    most_deg = float(np.min(room_deg[share > 0.0] / share[share > 0.0]))
    return max(min(flat, most_deg), min(flat, float(spark_map.advance_deg[laid].min())))


def _laid(job: Job, planned: PlanResult, laid: NDArray[np.bool_], flat: float) -> tuple[SparkMap, float]:
    """Lay a flat block into the map, as high as the slopes to what lies beside it allow.

    As in the plan, the slopes neither bind cells that are set by hand nor start from them.
    """
    spark_map, step_deg = planned.cells.spark_map, job.controller.step_deg
    slopes = job.limits.slope_deg_per_500rpm / 500.0, job.limits.slope_deg_per_10kpa / 10.0
    by_hand = planned.cells.by_hand
    flat = float(round_down(np.array(flat), step_deg))
    sloped = np.where(by_hand, np.inf, np.where(laid, flat, spark_map.advance_deg))
    limited, _ = limit_slopes(sloped, spark_map.rpm, spark_map.kpa, *slopes)
    least = float(np.min(limited[laid], initial=flat))
    if least < flat - TELLABLE_DEG:
        flat = float(round_down(np.array(least), step_deg))
        sloped[laid] = flat
        limited, _ = limit_slopes(sloped, spark_map.rpm, spark_map.kpa, *slopes)
    # The plan itself is rounded to the controller's step, so that a step of slope is no slope.
    advance_deg = np.minimum(sloped, round_down(limited + step_deg, step_deg))
    advance_deg[laid] = flat
    advance_deg[by_hand] = spark_map.advance_deg[by_hand]
    return SparkMap(spark_map.rpm, spark_map.kpa, advance_deg), flat


def _on_rows(
    job: Job, planned: PlanResult, laid: NDArray[np.bool_], spark_map: SparkMap, flat: float
) -> tuple[SparkMap, float]:
    """Give the map as the controller makes it of its rows' own speeds, the block as flat as these allow."""
    rows = planned.cells.rows
    if rows is None:
        return spark_map, flat
    held = held_on_rows(job, spark_map, rows, planned.cells.between.grid)
    advance_deg = held.advance_deg.copy()
    flat = float(np.min(advance_deg[laid & rows.nodes], initial=flat))
    # Lower cells make a lower map, so that it stays under its ceilings.
    advance_deg[laid] = flat
    return SparkMap(held.rpm, held.kpa, as_rows_make(advance_deg, held.rpm, rows)), flat


def _either_way(job: Job, belief: Belief, flat: float) -> tuple[float, float]:
    """Give the indicated torque that some degrees more and less buy at idle [%]."""
    physics = physics_of(job, belief)
    asked = np.clip([flat - EITHER_WAY_DEG, flat, flat + EITHER_WAY_DEG], FIRST_DEG, LAST_DEG)
    later, here, earlier = trace_at(physics, physics.idle_rpm, physics.idle_kpa, asked).imep_bar.tolist()
    if not here > 0.0:
        return float("nan"), float("nan")
    return 100.0 * (earlier / here - 1.0), 100.0 * (later / here - 1.0)


def _off_the_map(rpm: float, wander: float, spark_map: SparkMap) -> Finding:
    return Finding(
        "idle-block.off-the-map",
        "look",
        {"least_rpm": rpm - wander, "map_rpm": float(spark_map.rpm[0]), "map_kpa": float(spark_map.kpa[0])},
    )
