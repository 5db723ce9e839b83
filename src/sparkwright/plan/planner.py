"""The planner: from a job to a spark map, each cell with what holds it.

The plan is a pure function of the job. Each cell is the lowest of its ceilings (best less the idle's
reserve, the advance at which knock has the chance allowed, the rotor's reach, and limits), lowered where the
map would be steeper than allowed, rounded down to the controller's step, and lowered again where what the
controller makes of the map between its cells would stand over a ceiling.
"""

from __future__ import annotations

from collections.abc import Callable, Generator, Iterable, Iterator
from functools import partial

import numpy as np
from numpy.typing import NDArray

from sparkwright.check.assumed import Assumed
from sparkwright.check.demand import highest_rpm
from sparkwright.check.rotor import rotor_cap
from sparkwright.cycle.belief import PRIOR, Belief
from sparkwright.errors import Refusal
from sparkwright.ignition.rotor import Reach
from sparkwright.job import Job
from sparkwright.numeric import FloatArray
from sparkwright.plan.axes import axes_of
from sparkwright.plan.between import lower_between, lowest_ceilings
from sparkwright.plan.between_cells import BetweenCells, Grid, Lowered, OnRows
from sparkwright.plan.ceilings import TELLABLE_DEG, limit_slopes, round_down
from sparkwright.plan.cell import Cells, cells_at
from sparkwright.plan.firmness import Mapper, firmness_of
from sparkwright.plan.hand import set_by_hand
from sparkwright.plan.hooks import FIRST_DEG
from sparkwright.plan.on_rows import asked_of_rows, nodes_of, on_its_rows
from sparkwright.plan.physics import Physics, idle_share, physics_of
from sparkwright.plan.result import Ceilings, MapCells, PlanResult
from sparkwright.plan.spark_map import SparkMap
from sparkwright.plan.summary import summed_up
from sparkwright.plan.support import Support
from sparkwright.plan.uncertainty import reach_sigma_deg
from sparkwright.plan.use import use_of

Progress = Callable[[int, int], None]

PULLS_BAR = 1.5
"""Brake mean pressure below which a share of a cell's own torque is not told, being one of little [bar]; a
choice."""


def _counted(rows: Iterable[Cells], total: int, progress: Progress | None) -> Iterator[Cells]:
    """Pass rows of cells on and count their cells."""
    done = 0
    try:
        for row in rows:
            for _ in range(row.best_deg.size):
                done += 1
                if progress is not None:
                    progress(done, total)
            yield row
    finally:
        # Whoever stops the work wants none of the rows that a pool has not begun.
        if isinstance(rows, Generator):
            rows.close()


def _ceilings(
    job: Job, best_deg: FloatArray, knock_deg: FloatArray, rpm: FloatArray, kpa: FloatArray, reach: Reach
) -> Ceilings:
    shape = (kpa.size, rpm.size)
    limit = np.full(shape, most_allowed_deg(job))
    for peg in job.pegs:
        i, j = int(np.argmin(np.abs(kpa - peg.kpa))), int(np.argmin(np.abs(rpm - peg.rpm)))
        limit[i, j] = min(limit[i, j], peg.advance_deg)
    return Ceilings(
        best_deg=best_deg,
        knock_deg=knock_deg,
        reach_deg=np.full(shape, reach.most_deg),
        limit_deg=limit,
        floor_deg=np.full(shape, reach.least_deg),
    )


def plan(
    job: Job, belief: Belief = PRIOR, *, run: Mapper = map, progress: Progress | None = None
) -> PlanResult:
    """Plan the spark map of a job, and put in the cells that the job sets by hand.

    Parameters
    ----------
    job : Job
        The job.
    belief : Belief, optional
        What is believed of the engine's constants; by default what the program believes of any engine.
    run : callable, optional
        Runs a function over many arguments, like ``map``: that of a pool runs the rows of the map side by
        side, and the compiled cycle lets its threads do so. It moves no result.
    progress : callable, optional
        Called with (cells done, cells in all) as the work goes on; raise from it to stop.

    Returns
    -------
    PlanResult
        The map and, for every cell, its ceilings, what holds it, its margins and its uncertainty.

    Raises
    ------
    Refusal
        If the controller's axes leave nothing to plan.

    Examples
    --------
    >>> from sparkwright.job import starter_text
    >>> job = Job.from_toml(starter_text()).changed("controller", rpm=[800, 2400], kpa=[40, 90])
    >>> planned = plan(job)
    >>> planned.cells.spark_map.advance_deg.shape, planned.fingerprint == job.fingerprint
    ((2, 2), True)
    """
    return set_by_hand(planned_without_hand(job, belief, run=run, progress=progress), job, belief)


def planned_without_hand(
    job: Job, belief: Belief = PRIOR, *, run: Mapper = map, progress: Progress | None = None
) -> PlanResult:
    """Plan the spark map of a job as if it set no cell by hand.

    This is the long part of the work. Kept under its fingerprint, that of ``job.without_hand()``, it
    serves every change of the cells set by hand: ``plan.hand.set_by_hand`` puts them in.

    Parameters
    ----------
    job : Job
        The job; what it sets by hand is left out.
    belief : Belief, optional
        What is believed of the engine's constants; by default what the program believes of any engine.
    run : callable, optional
        Runs a function over the map's loads, like ``map``; it moves no result.
    progress : callable, optional
        Called with (cells done, cells in all) as the work goes on; raise from it to stop.

    Raises
    ------
    Refusal
        If the controller's axes end below the idle.

    Examples
    --------
    A hand-set cell stays out until it is put in:

    >>> from sparkwright.job import starter_text
    >>> coarse = Job.from_toml(starter_text()).changed("controller", rpm=[600, 3000], kpa=[40, 95])
    >>> by_hand = coarse.with_hand([{"rpm": 3000, "kpa": 40, "advance_deg": 20}])
    >>> plans = [planned_without_hand(each).cells.spark_map.at(3000, 40) for each in (coarse, by_hand)]
    >>> plans[0] == plans[1]
    True
    """
    job = job.without_hand()
    physics = physics_of(job, belief)
    rpm, kpa = axes_of(job, physics)
    if rpm[-1] < physics.idle_rpm:
        raise Refusal.at(
            "controller.rpm", f"up to {rpm[-1]:g}", f"must reach beyond the idle, {physics.idle_rpm:g} rpm"
        )
    firmness = firmness_of(job, physics, rpm, kpa, run)
    best_sigma, ln_knock_sigma, guess_deg = firmness.over(rpm, kpa)
    # A row at a time, since handing over single cells would take as long as many of them.
    read = partial(cells_at, job, physics, rpm)
    found = run(read, kpa.tolist(), best_sigma, ln_knock_sigma, guess_deg)
    rows = list(_counted(found, kpa.size * rpm.size, progress))

    def grid(value: Callable[[Cells], FloatArray]) -> FloatArray:
        return np.array([value(row) for row in rows])

    knock_sigma = grid(lambda row: row.knock_sigma_deg)
    reach = rotor_cap(job).reach()
    ceilings = _ceilings(
        job, grid(lambda row: row.best_deg), grid(lambda row: row.knock_deg), rpm, kpa, reach
    )
    names = ("best", "knock", "reach", "limit", "reserve")
    # Best that is not determined holds nothing: knock, reach and limits still do.
    best_deg = np.nan_to_num(ceilings.best_deg, nan=np.inf)
    share = idle_share(physics, rpm, kpa[:, None])
    reserved = np.where(share > 0, best_deg - share * job.limits.idle_reserve_deg, np.inf)
    # A charge that knocks at any tested advance still needs a value: as late as a limit can be known.
    latest_deg = FIRST_DEG - job.limits.knock_margin_deg
    knocking_deg = np.nan_to_num(ceilings.knock_deg, nan=np.inf, posinf=np.inf, neginf=latest_deg)
    stack = np.stack([best_deg, knocking_deg, ceilings.reach_deg, ceilings.limit_deg, reserved])
    lowest = stack.min(axis=0)
    limited, source = limit_slopes(
        lowest,
        rpm,
        kpa,
        job.limits.slope_deg_per_500rpm / 500.0,
        job.limits.slope_deg_per_10kpa / 10.0,
    )
    at_cells = round_down(limited, job.controller.step_deg)
    most_deg = min(reach.most_deg, most_allowed_deg(job))
    support = Support(job, physics, firmness, rpm, kpa, ceilings.best_deg, ceilings.knock_deg, most_deg, run)
    grid_between = _grid_between(job, support, reach.most_deg)
    lowered = lowered_for_between(job, at_cells, rpm, kpa, grid_between)
    on_all_speeds = lowered.advance_deg
    nodes = nodes_of(job.controller.rows, rpm, kpa)
    value = on_all_speeds
    if nodes is not None:
        met = cells_met(grid_between.rpm, grid_between.kpa, physics, rpm)
        grid_between = asked_of_rows(grid_between, rpm, kpa, nodes, met)
        value = on_its_rows(job, on_all_speeds, grid_between, nodes)
    # Less than can be told apart is no slope: the cell's own ceiling holds it as well.
    own = np.arange(lowest.size).reshape(lowest.shape)
    source = np.where(lowest - limited > TELLABLE_DEG, source, own)
    from_row, from_column = np.unravel_index(source, lowest.shape)
    sloped = source != own
    # A cell lowered for its slope is held by what holds the cell it slopes from.
    lowest_name = stack.argmin(axis=0)
    held = np.where(lowered.lowered_deg > 0.0, "between", np.array(names)[lowest_name.ravel()[source]])
    by_rows = value < on_all_speeds
    held = np.where(by_rows, "between", held)
    if nodes is not None:
        by_rows |= ~nodes
        held = np.where(nodes, held, "rows")
    sloped &= (lowered.lowered_deg == 0.0) & ~by_rows
    reach_sigma, unknown = reach_sigma_deg(job), np.full(value.shape, np.nan)
    given = list(run(Cells.at, rows, value))
    torque = np.array([row.torque_nm for row in given])
    without_nm = np.array([row.torque_nm for row in run(Cells.at, rows, at_cells)])
    on_all_speeds_nm = torque
    if nodes is not None:
        on_all_speeds_nm = np.array([row.torque_nm for row in run(Cells.at, rows, on_all_speeds)])
    best_torque = grid(lambda row: row.best_torque_nm)
    # Where the engine hardly pulls, or is pulled, a share of its torque says nothing.
    pulls = np.nan_to_num(best_torque) > 1e5 * PULLS_BAR * physics.engine.displacement_m3 / (4.0 * np.pi)
    spreads = [best_sigma, knock_sigma, np.full(value.shape, reach_sigma), unknown, best_sigma]
    pulls_nm = np.where(pulls, best_torque, np.nan)
    between = BetweenCells(
        how=job.controller.takes_between,
        lowered_deg=lowered.lowered_deg,
        lost_percent=100.0 * (without_nm - on_all_speeds_nm) / pulls_nm,
        rpm=lowered.rpm,
        kpa=lowered.kpa,
        ceiling=lowered.ceiling,
        grid=grid_between,
    )
    return summed_up(
        job,
        physics,
        MapCells(
            spark_map=SparkMap(rpm, kpa, value),
            met=cells_met(rpm, kpa, physics),
            held_by=tuple(tuple(map(str, row)) for row in held),
            slope_from_rpm=np.where(sloped, rpm[from_column], np.nan),
            slope_from_kpa=np.where(sloped, kpa[from_row], np.nan),
            by_hand=np.zeros(value.shape, dtype=bool),
            over_ceiling=np.zeros(value.shape, dtype=bool),
            ceilings=ceilings,
            best_sigma_deg=np.where(np.isnan(ceilings.best_deg), np.nan, best_sigma),
            best_sigma_cost_percent=np.where(pulls, grid(lambda row: row.best_sigma_cost_percent), np.nan),
            knock_sigma_deg=knock_sigma,
            reach_sigma_deg=reach_sigma,
            sigma_deg=np.select(
                [by_rows, lowered.lowered_deg > 0.0],
                [
                    unknown,
                    np.select(
                        [np.array(lowered.ceiling) == name for name in names[:4]], spreads[:4], default=np.nan
                    ),
                ],
                np.choose(lowest_name, spreads).ravel()[source],
            ),
            smoothed_deg=lowest - value,
            torque_nm=torque,
            torque_lost_percent=100.0 * (best_torque - torque) / pulls_nm,
            burned_share=np.array([row.burned_share for row in given]),
            knock_chance_percent=np.array([row.knock_chance_percent for row in given]),
            knock_allowed_percent=grid(lambda row: row.knock_allowed_percent),
            ln_knock_sigma=ln_knock_sigma,
            mixture_lambda=grid(lambda row: row.mixture_lambda),
            burn_state=tuple(row.burn_state for row in rows),
            outside_range=np.array([row.outside for row in rows]),
            between=between if nodes is None else between.without(~nodes),
            rows=None
            if nodes is None
            else OnRows(nodes, on_all_speeds - value, 100.0 * (on_all_speeds_nm - torque) / pulls_nm),
        ),
        _assumed(job, physics),
    )


def most_allowed_deg(job: Job) -> float:
    """Most advance that controller and person allow [deg].

    Parameters
    ----------
    job : Job
        The job, for its controller and its limits.
    """
    person = job.limits.max_advance_deg
    return job.controller.max_deg if person is None else min(job.controller.max_deg, person)


def _grid_between(job: Job, support: Support, reach_deg: float) -> Grid:
    """Give the lowest ceilings between the cells."""
    limit_deg = most_allowed_deg(job)
    pegs = tuple((peg.rpm, peg.kpa, peg.advance_deg) for peg in job.pegs)
    return lowest_ceilings(support.fine(), reach_deg, limit_deg, pegs)


def lowered_for_between(
    job: Job, value_deg: FloatArray, rpm: FloatArray, kpa: FloatArray, grid: Grid
) -> Lowered:
    """Lower a map, in whole steps and under its ceilings at its cells, for what lies between them.

    Parameters
    ----------
    job : Job
        The job, for its use, its controller and the slopes that it allows.
    value_deg : array
        The map, shape (loads, speeds) [deg before top dead centre].
    rpm : array
        Speeds of the map [rpm], rising.
    kpa : array
        Loads of the map [kPa absolute], rising.
    grid : Grid
        Places between the cells, with the lowest ceiling at each.
    """
    return lower_between(
        value_deg,
        rpm,
        kpa,
        grid,
        use_of(job.engine.use or "road", rpm, kpa, highest_rpm(job), float(kpa[-1])),
        how=job.controller.takes_between,
        step_deg=job.controller.step_deg,
        min_deg=job.controller.min_deg,
        per_rpm=job.limits.slope_deg_per_500rpm / 500.0,
        per_kpa=job.limits.slope_deg_per_10kpa / 10.0,
    )


def _assumed(job: Job, physics: Physics) -> tuple[Assumed, ...]:
    derived = physics.left_to_assumption
    defaults = (
        Assumed(f"{each.section}.{each.key}", each.value, each.why)
        for each in job.assumptions()
        if each.section in ("engine", "cam", "fuel", "site", "controller", "limits")
    )
    return physics.assumed + tuple(each for each in defaults if each.field not in derived)


def cells_met(
    rpm: FloatArray, kpa: FloatArray, physics: Physics, columns: FloatArray | None = None
) -> NDArray[np.bool_]:
    """Mark the cells a running engine meets, shape (loads, speeds).

    They begin with the last column at or below idle speed, since controllers interpolate; boosted ones
    count only where boost builds, and none above what site and boost can give.

    Parameters
    ----------
    rpm : array
        Speeds of the map [rpm], rising.
    kpa : array
        Loads of the map [kPa absolute], rising.
    physics : Physics
        The job as the cycle sees it, for idle, site and boost.
    columns : array, optional
        Speeds of the map, where ``rpm`` are places between them.
    """
    speeds = rpm if columns is None else columns
    from_rpm = speeds[speeds <= physics.idle_rpm][-1] if np.any(speeds <= physics.idle_rpm) else speeds[0]
    boosted = physics.is_boost(kpa)[:, None] & (rpm[None, :] < physics.boost_from_rpm)
    return np.asarray((rpm[None, :] >= from_rpm) & ~boosted & (kpa[:, None] <= physics.top_kpa + 0.5))
