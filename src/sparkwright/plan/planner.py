"""The planner: from a job to a spark map, each cell with what holds it.

The plan is a pure function of the job. Each cell is the lowest of its ceilings (best less the idle's
reserve, knock limit less margin, the rotor's reach, and what a hand has set), lowered where the map
would be steeper than allowed, and rounded down to the controller's step.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from math import floor

import numpy as np
from numpy.typing import NDArray

from sparkwright.cycle import knock
from sparkwright.errors import InputError
from sparkwright.ignition.rotor import Reach
from sparkwright.job import Job
from sparkwright.plan.ceilings import limit_slopes, round_down
from sparkwright.plan.demand import highest_rpm
from sparkwright.plan.hardware import phase_advice, rotor_cap
from sparkwright.plan.old_curve import compare_old, old_map
from sparkwright.plan.physics import Physics, idle_share, physics_of
from sparkwright.plan.point import hook_at
from sparkwright.plan.result import (
    Assumed,
    Ceilings,
    FloatArray,
    Hook,
    IdleReserve,
    Line,
    PlanResult,
    ReachCost,
)
from sparkwright.plan.spark_map import SparkMap
from sparkwright.plan.uncertainty import coarse_points, sigma_at, spread_over

PLAN_ADVANCE_DEG: FloatArray = np.linspace(-4.0, 60.0, 41)
CELLS = 16
CRUISE_KPA = 50.0
LEAST_MOVE_MM = 0.1
"""Smallest move of a rotor tip worth asking for [mm]; a choice."""

BOOST_FROM_RPM = 2000.0
"""Speed below which boost does not build, so that cells there are planned but never met; common practice,
no source."""
Progress = Callable[[int, int], None]


def default_axes(job: Job, physics: Physics) -> tuple[FloatArray, FloatArray]:
    """Axes for a job that states none: 16 speeds and 16 loads.

    Speeds lie closer together at the bottom; loads end at what the site's air, and any boost, can give.
    """
    low = 50.0 * floor(0.75 * physics.idle_rpm / 50.0)
    share = np.linspace(0.0, 1.0, CELLS) ** 1.25
    rpm = 50.0 * np.round((low + share * (highest_rpm(job) - low)) / 50.0)
    for i in range(1, CELLS):
        rpm[i] = max(rpm[i], rpm[i - 1] + 50.0)
    top = floor(physics.top_kpa)
    kpa = np.round(np.linspace(min(25.0, 0.6 * physics.idle_kpa), top, CELLS))
    return rpm, kpa


def _axes(job: Job, physics: Physics) -> tuple[FloatArray, FloatArray]:
    rpm, kpa = default_axes(job, physics)
    if job.controller.rpm is not None:
        rpm = np.array(job.controller.rpm, dtype=float)
    if job.controller.kpa is not None:
        kpa = np.array(job.controller.kpa, dtype=float)
    return rpm, kpa


@dataclass(frozen=True)
class _Cells:
    """What the cycle says of every cell, shape (loads, speeds)."""

    hooks: list[list[Hook]]

    def grid(self, value: Callable[[Hook], float]) -> FloatArray:
        return np.array([[value(hook) for hook in row] for row in self.hooks])


def _run_cells(
    physics: Physics, rpm: FloatArray, kpa: FloatArray, progress: Progress | None
) -> tuple[_Cells, FloatArray, FloatArray]:
    """Hooks of all cells, and the coarse standard deviations of best and knock, on all cores."""
    total = kpa.size * rpm.size
    coarse_rpm, coarse_kpa = coarse_points(rpm, kpa)
    with ThreadPoolExecutor(max_workers=os.cpu_count() or 1) as pool:
        running = pool.map(
            lambda cell: hook_at(physics, cell[1], cell[0], PLAN_ADVANCE_DEG),
            [(load, speed) for load in kpa.tolist() for speed in rpm.tolist()],
        )
        sigma = pool.map(
            lambda cell: sigma_at(physics, cell[1], cell[0]),
            [(load, speed) for load in coarse_kpa.tolist() for speed in coarse_rpm.tolist()],
        )
        hooks = list(_counted(running, total, progress))
        coarse = np.array(list(sigma)).reshape(coarse_kpa.size, coarse_rpm.size, 2)
    rows = [hooks[i * rpm.size : (i + 1) * rpm.size] for i in range(kpa.size)]
    return (
        _Cells(rows),
        spread_over(rpm, kpa, coarse[..., 0]),
        spread_over(rpm, kpa, coarse[..., 1]),
    )


def _counted(hooks: Iterable[Hook], total: int, progress: Progress | None) -> Iterable[Hook]:
    for count, hook in enumerate(hooks, start=1):
        if progress is not None:
            progress(count, total)
        yield hook


def _ceilings(job: Job, cells: _Cells, rpm: FloatArray, kpa: FloatArray, reach: Reach) -> Ceilings:
    shape = (kpa.size, rpm.size)
    most = job.controller.max_deg
    if job.limits.max_advance_deg is not None:
        most = min(most, job.limits.max_advance_deg)
    hand = np.full(shape, most)
    for peg in job.pegs:
        i, j = int(np.argmin(np.abs(kpa - peg.kpa))), int(np.argmin(np.abs(rpm - peg.rpm)))
        hand[i, j] = min(hand[i, j], peg.advance_deg)
    return Ceilings(
        best_deg=cells.grid(lambda hook: hook.best_deg),
        knock_deg=cells.grid(lambda hook: hook.knock_limit_deg) - job.limits.knock_margin_deg,
        reach_deg=np.full(shape, reach.most_deg),
        hand_deg=hand,
        floor_deg=np.full(shape, reach.least_deg),
    )


def plan(job: Job, *, progress: Progress | None = None) -> PlanResult:
    """Plan the spark map of a job.

    Parameters
    ----------
    job : Job
        The job.
    progress : callable, optional
        Called with (cells done, cells in all) as the work goes on; raise from it to stop.

    Returns
    -------
    PlanResult
        The map and, for every cell, its ceilings, what holds it, its margins and its uncertainty.

    Raises
    ------
    InputError
        If the controller's axes leave nothing to plan.
    """
    physics = physics_of(job)
    rpm, kpa = _axes(job, physics)
    if rpm[-1] < physics.idle_rpm:
        raise InputError(
            "controller.rpm", f"up to {rpm[-1]:g}", f"must reach beyond the idle, {physics.idle_rpm:g} rpm"
        )
    cells, best_sigma, knock_sigma = _run_cells(physics, rpm, kpa, progress)
    reach = rotor_cap(job).reach()
    ceilings = _ceilings(job, cells, rpm, kpa, reach)
    share = np.array([[idle_share(physics, speed, load) for speed in rpm] for load in kpa])
    reserved = np.where(share > 0, ceilings.best_deg - share * job.limits.idle_reserve_deg, np.inf)
    names = ("best", "knock", "reach", "hand", "reserve")
    # A charge that knocks at any tested advance still needs a value: as late as a limit can be known.
    latest_deg = PLAN_ADVANCE_DEG[0] - job.limits.knock_margin_deg
    knocking_deg = np.nan_to_num(ceilings.knock_deg, nan=np.inf, posinf=np.inf, neginf=latest_deg)
    stack = np.stack([ceilings.best_deg, knocking_deg, ceilings.reach_deg, ceilings.hand_deg, reserved])
    lowest = stack.min(axis=0)
    limited, source = limit_slopes(
        lowest,
        rpm,
        kpa,
        job.limits.slope_deg_per_500rpm / 500.0,
        job.limits.slope_deg_per_10kpa / 10.0,
    )
    value = round_down(limited, job.controller.step_deg)
    spark_map = SparkMap(rpm, kpa, value)
    # A cell lowered for its slope is held by what holds the cell it slopes from.
    holder = stack.argmin(axis=0).ravel()[source]
    held_by = tuple(tuple(names[k] for k in row) for row in holder)
    torque = _at_value(cells, value, lambda hook: hook.torque_nm)
    best_torque = cells.grid(lambda hook: hook.best_torque_nm)
    # Where the engine hardly pulls, or is pulled, a share of its torque says nothing.
    pulls = best_torque > 0.1 * best_torque.max()
    lost = np.where(pulls, 100.0 * (best_torque - torque) / np.where(pulls, best_torque, 1.0), np.nan)
    old_deg = old_map(job, rpm, kpa, physics.ambient_kpa)
    sigma = np.where(
        holder == names.index("knock"),
        knock_sigma,
        np.where((holder == names.index("best")) | (holder == names.index("reserve")), best_sigma, np.nan),
    )
    reach_cost = _reach_cost(job, cells, ceilings, held_by, lost, rpm, kpa)
    met = cells_met(rpm, kpa, physics)
    problems = _problems(met, ceilings, value, kpa, rpm, reach_cost) + _below_controller(
        job.controller.min_deg, value[met]
    )
    lines = _lines(physics, rpm, kpa, value, ceilings, best_sigma, old_deg)
    idle = _idle(physics, job, spark_map)
    headline, action = _sentences(held_by, reach_cost, reach, problems, lines[0])
    return PlanResult(
        job_name=job.name,
        fingerprint=job.fingerprint,
        spark_map=spark_map,
        met=met,
        held_by=held_by,
        ceilings=ceilings,
        margins=Ceilings(
            best_deg=ceilings.best_deg - value,
            knock_deg=ceilings.knock_deg - value,
            reach_deg=ceilings.reach_deg - value,
            hand_deg=ceilings.hand_deg - value,
            floor_deg=value - ceilings.floor_deg,
        ),
        best_sigma_deg=best_sigma,
        knock_sigma_deg=knock_sigma,
        sigma_deg=sigma,
        smoothed_deg=lowest - value,
        torque_nm=torque,
        torque_lost_percent=lost,
        burned_share=_at_value(cells, value, lambda hook: hook.burned_share),
        mixture_lambda=cells.grid(lambda hook: hook.mixture_lambda),
        base_deg=job.distributor.base_deg,
        idle=idle,
        full_load=lines[0],
        cruise=lines[1],
        reach_cost=reach_cost,
        old_curve=None if old_deg is None else compare_old(old_deg, value, ceilings.knock_deg, rpm, kpa, met),
        headline=headline,
        action=action,
        problems=problems,
        warnings=_warnings(job, physics, cells, ceilings, value, met, rpm, kpa),
        assumed=physics.assumed
        + _assumed_boost(physics)
        + tuple(
            Assumed(f"{each.section}.{each.key}", each.value, each.why)
            for each in job.assumptions()
            if each.section in ("engine", "cam", "fuel", "site", "controller", "limits")
        ),
    )


def _at_value(cells: _Cells, value_deg: FloatArray, column: Callable[[Hook], FloatArray]) -> FloatArray:
    return np.array(
        [
            [float(np.interp(value_deg[i, j], hook.advance_deg, column(hook))) for j, hook in enumerate(row)]
            for i, row in enumerate(cells.hooks)
        ]
    )


def _reach_cost(
    job: Job,
    cells: _Cells,
    ceilings: Ceilings,
    held_by: tuple[tuple[str, ...], ...],
    lost: FloatArray,
    rpm: FloatArray,
    kpa: FloatArray,
) -> ReachCost | None:
    # Only cells where the engine pulls say what the rotor must reach; on the overrun advance buys nothing.
    held = (np.array(held_by) == "reach") & np.isfinite(lost)
    if not held.any():
        return None
    knocking_deg = np.where(np.isnan(ceilings.knock_deg), np.inf, ceilings.knock_deg)
    wanted = np.minimum(np.minimum(ceilings.best_deg, knocking_deg), ceilings.hand_deg)
    most_wanted = float(wanted[held].max())
    advice = phase_advice(job, job.distributor.base_deg, most_wanted)
    moved = 2.0 * advice.move_distributor_deg
    i, j = np.unravel_index(int(np.argmax(np.where(held, lost, -np.inf))), lost.shape)
    return ReachCost(
        cells=int(held.sum()),
        most_wanted_deg=most_wanted,
        reach_deg=float(ceilings.reach_deg[0, 0]),
        most_torque_lost_percent=float(lost[i, j]),
        lost_at_rpm=float(rpm[j]),
        lost_at_kpa=float(kpa[i]),
        phase_move_distributor_deg=advice.move_distributor_deg,
        phase_move_mm=advice.move_mm,
        phase_move_tip_fraction=advice.move_tip_fraction,
        reach_when_phased_deg=float(ceilings.reach_deg[0, 0]) + moved,
    )


def _idle(physics: Physics, job: Job, spark_map: SparkMap) -> IdleReserve:
    hook = hook_at(physics, physics.idle_rpm, physics.idle_kpa, PLAN_ADVANCE_DEG)
    set_deg = spark_map.at(physics.idle_rpm, physics.idle_kpa)
    # Indicated torque: at idle the engine's brake torque is nil, and a share of nothing says nothing.
    work = np.interp([hook.best_deg, set_deg], hook.advance_deg, hook.imep_bar)
    return IdleReserve(
        rpm=physics.idle_rpm,
        kpa=physics.idle_kpa,
        best_deg=hook.best_deg,
        reserve_deg=hook.best_deg - set_deg,
        set_deg=set_deg,
        authority_percent=float(100.0 * (work[0] - work[1]) / work[1]),
    )


def _lines(
    physics: Physics,
    rpm: FloatArray,
    kpa: FloatArray,
    value: FloatArray,
    ceilings: Ceilings,
    best_sigma: FloatArray,
    old_deg: FloatArray | None,
) -> tuple[Line, Line]:
    def line(title: str, i: int) -> Line:
        return Line(
            title=f"{title}, {kpa[i]:.0f} kPa",
            kpa=float(kpa[i]),
            rpm=rpm,
            plan_deg=value[i],
            best_deg=ceilings.best_deg[i],
            best_sigma_deg=best_sigma[i],
            knock_deg=ceilings.knock_deg[i],
            reach_deg=ceilings.reach_deg[i],
            old_deg=None if old_deg is None else old_deg[i],
        )

    top = physics.top_kpa if physics.top_kpa > physics.ambient_kpa else physics.ambient_kpa
    full = int(np.flatnonzero(kpa <= top + 1e-9)[-1]) if np.any(kpa <= top) else 0
    return line("Full load", full), line("Cruise", int(np.argmin(np.abs(kpa - CRUISE_KPA))))


def cells_met(rpm: FloatArray, kpa: FloatArray, physics: Physics) -> NDArray[np.bool_]:
    """Mark the cells a running engine meets, shape (loads, speeds).

    They begin with the last column at or below idle speed, since controllers interpolate; boosted ones
    count only where boost builds, and none above what site and boost can give.
    """
    from_rpm = rpm[rpm <= physics.idle_rpm][-1] if np.any(rpm <= physics.idle_rpm) else rpm[0]
    boosted = (kpa[:, None] > physics.ambient_kpa) & (rpm[None, :] < BOOST_FROM_RPM)
    return np.asarray((rpm[None, :] >= from_rpm) & ~boosted & (kpa[:, None] <= physics.top_kpa + 0.5))


def _assumed_boost(physics: Physics) -> tuple[Assumed, ...]:
    if physics.top_kpa <= physics.ambient_kpa:
        return ()
    return (
        Assumed(
            "boost from",
            f"{BOOST_FROM_RPM:,.0f} rpm",
            "boost builds with speed; a blower that boosts from idle needs the cells below it proved too",
        ),
    )


def _problems(
    met: NDArray[np.bool_],
    ceilings: Ceilings,
    value: FloatArray,
    kpa: FloatArray,
    rpm: FloatArray,
    cost: ReachCost | None,
) -> tuple[str, ...]:
    found = []
    if cost is not None:
        found.append(
            f"The rotor runs out at {cost.reach_deg:.0f} deg. Under power "
            f"{_number_of_cells(cost.cells, 'would', 'would')} take more, "
            f"up to {cost.most_wanted_deg:.0f} deg."
        )
    under = (value < ceilings.floor_deg) & met
    if under.any():
        found.append(
            f"{_number_of_cells(int(under.sum()), 'lies', 'lie')} below {ceilings.floor_deg[0, 0]:.1f} deg, "
            "where the rotor has left its post on the late side; a spark there can go to the wrong cylinder."
        )
    hopeless = np.isneginf(ceilings.knock_deg) & met
    if hopeless.any():
        i, j = np.argwhere(hopeless)[0]
        found.append(
            f"At {kpa[i]:.0f} kPa and {rpm[j]:,.0f} rpm this fuel knocks at any advance; "
            "use a better fuel, less boost or cooler air."
        )
    return tuple(found)


def _below_controller(least_deg: float, value_deg: FloatArray) -> tuple[str, ...]:
    below = value_deg < least_deg
    if not below.any():
        return ()
    return (
        f"{int(below.sum())} cells lie below {least_deg:g} deg, the least this controller takes; fired there "
        f"they stand up to {least_deg - value_deg.min():.1f} deg over what they may have.",
    )


def _number_of_cells(count: int, one: str, many: str) -> str:
    """Count cells with their verb: "1 cell lies", "3 cells lie"."""
    return f"{count} cell {one}" if count == 1 else f"{count} cells {many}"


def _sentences(
    held_by: tuple[tuple[str, ...], ...],
    cost: ReachCost | None,
    reach: Reach,
    problems: tuple[str, ...],
    full: Line,
) -> tuple[str, str]:
    if cost is not None:
        more = cost.most_wanted_deg - cost.reach_deg
        short = cost.most_wanted_deg - cost.reach_when_phased_deg
        still = f", {short:.0f} short of what is wanted" if short >= 0.5 else ""
        move = (
            f"Move the rotor tip {cost.phase_move_mm:.1f} mm ahead in the direction of rotation "
            f"({cost.phase_move_distributor_deg:.1f} distributor deg, "
            f"{cost.phase_move_tip_fraction:.2f} of its width) and it reaches "
            f"{cost.reach_when_phased_deg:.0f}{still}; or raise"
        )
        if cost.phase_move_mm < LEAST_MOVE_MM:
            move = "The tip stands as far ahead as base allows; fit a wider one, raise"
        return (
            f"The rotor runs out at {cost.reach_deg:.0f} deg; this engine would still take {more:.0f} more.",
            f"{move} the base; or accept it: it costs at most {cost.most_torque_lost_percent:.1f} % of "
            f"torque, at {cost.lost_at_rpm:,.0f} rpm and {cost.lost_at_kpa:.0f} kPa.",
        )
    if problems:
        return problems[0], "See the sentence above before any map is loaded."
    knocking = sum(row.count("knock") for row in held_by)
    spare = reach.most_deg - float(np.max(full.plan_deg))
    return (
        f"The rotor reaches {reach.most_deg:.0f} deg and the plan fits, "
        f"with {spare:.0f} deg to spare at full load.",
        f"{_number_of_cells(knocking, 'is', 'are')} held by knock; "
        "prove base and reach with the light before load."
        if knocking
        else "Prove base and reach with the light before load.",
    )


def _warnings(
    job: Job,
    physics: Physics,
    cells: _Cells,
    ceilings: Ceilings,
    value: FloatArray,
    met: NDArray[np.bool_],
    rpm: FloatArray,
    kpa: FloatArray,
) -> tuple[str, ...]:
    found = []
    beyond = kpa[kpa > physics.top_kpa + 0.5]
    if beyond.size:
        found.append(
            f"Rows from {beyond[0]:.0f} kPa lie above the {physics.top_kpa:.0f} kPa "
            "that this site and boost can give."
        )
    bad = dict.fromkeys(("slow burn", "misfire"), 0)
    for row in cells.hooks:
        for hook in row:
            if hook.burn_state in bad:
                bad[hook.burn_state] += 1
    if bad["misfire"]:
        found.append(
            f"{_number_of_cells(bad['misfire'], 'burns', 'burn')} too little of the charge to run (misfire); "
            "best is not determined there."
        )
    if bad["slow burn"]:
        found.append(
            f"{_number_of_cells(bad['slow burn'], 'burns', 'burn')} slowly: "
            "the charge is not all burned when the exhaust opens."
        )
    unmet = value[~met & ((value < job.controller.min_deg) | (value < ceilings.floor_deg))]
    if unmet.size:
        found.append(
            "Below what controller or rotor allow, in cells that a running engine does not meet: "
            f"{unmet.size}, down to {unmet.min():.1f} deg. Keep the engine out of them."
        )
    for peg in job.pegs:
        i, j = int(np.argmin(np.abs(kpa - peg.kpa))), int(np.argmin(np.abs(rpm - peg.rpm)))
        if not (rpm[0] <= peg.rpm <= rpm[-1] and kpa[0] <= peg.kpa <= kpa[-1]):
            found.append(
                f"The peg at {peg.rpm:,.0f} rpm and {peg.kpa:.0f} kPa ({peg.reason}) lies outside the map; "
                f"it was set at its nearest cell, {rpm[j]:,.0f} rpm and {kpa[i]:.0f} kPa."
            )
        latest_deg = PLAN_ADVANCE_DEG[0] - job.limits.knock_margin_deg
        limit = max(float(np.fmin(ceilings.reach_deg[i, j], ceilings.knock_deg[i, j])), latest_deg)
        if peg.advance_deg > limit:
            found.append(
                f"The peg of {peg.advance_deg:g} deg at {peg.rpm:,.0f} rpm and {peg.kpa:.0f} kPa "
                f"({peg.reason}) stands above another ceiling, {limit:.1f} deg; "
                "the plan keeps to the ceiling."
            )
        elif value[i, j] < peg.advance_deg - job.controller.step_deg:
            found.append(
                f"The peg of {peg.advance_deg:g} deg at {peg.rpm:,.0f} rpm and {peg.kpa:.0f} kPa "
                f"({peg.reason}) is not reached; its cell comes out at {value[i, j]:g} deg."
            )
    found += knock.douaud_eyzat_outside_range(physics.fuel.octane)
    outside = sum(bool(hook.outside) for row in cells.hooks for hook in row)
    if outside:
        found.append(
            f"{_number_of_cells(outside, 'uses', 'use')} a formula outside the range it was measured in; "
            "the hook of a point names it."
        )
    return tuple(found)
