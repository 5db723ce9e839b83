"""Where the arc goes at one spark: tip, post and neighbours for any advance, base and phase.

What `hardware` finds over the whole plan, `cap_now` finds for the one spark a person looks at, fast enough
to follow a hand on a slider. The gas at the plugs is that of full load by plain compression, the careful
case.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from sparkwright.check.demand import (
    compressed,
    compression_demand,
    full_load_kpa,
    next_plug,
    previous_plug,
    site_pressure_kpa,
)
from sparkwright.check.result import HardwareResult
from sparkwright.check.rotor import phase_advice, rotor_cap
from sparkwright.findings import State
from sparkwright.ignition.gap import Paths, paths, plug_breakdown_kv
from sparkwright.ignition.order import CapOrder, cap_order
from sparkwright.ignition.rotor import Reach, Rotation, RotorCap
from sparkwright.job import Job

Neighbour = Literal["next", "previous"]

NOTICEABLE = 0.05
"""Degrees below which a move or a shortage is none; half of the last figure said."""


@dataclass(frozen=True)
class Asked:
    """Span of advance that is wanted [crank deg], by the plan or, where there is none, by usual advances."""

    least_deg: float
    most_deg: float
    by_plan: bool


@dataclass(frozen=True)
class CapNow:
    """One spark in one cap.

    ``offset_distributor_deg`` is where the middle of the tip stands, positive in rotation, from the middle
    of its post, ``offset_mm`` the same along the tip's path. ``move_...`` is how far the tip has to be moved
    from where it stands in the job, positive in rotation. ``missing_above_deg`` and ``missing_below_deg``
    are how much of the wanted span lies beyond the reach; below 0 is left over.
    """

    cap: RotorCap
    rotation: Rotation
    order: CapOrder
    advance_deg: float
    asked: Asked
    reach: Reach
    covers: bool
    offset_distributor_deg: float
    offset_mm: float
    right_gap_mm: float
    neighbour: Neighbour
    neighbour_gap_mm: float
    kpa: float
    site_kpa: float
    ways: Paths
    move_distributor_deg: float
    move_mm: float
    move_tip_fraction: float
    base_change_deg: float
    missing_above_deg: float
    missing_below_deg: float
    suiting_phase_distributor_deg: float

    @property
    def state(self) -> State:
        """How it stands at this spark: the way of the arc first, then what the span lacks."""
        if self.ways.state == "problem" or not self.covers:
            return "problem"
        short = max(self.missing_above_deg, self.missing_below_deg) > NOTICEABLE
        return "look" if short or self.ways.state == "look" else "good"


def asked_of(job: Job, check: HardwareResult | None = None) -> Asked:
    """Give the span of advance that the rotor must reach: the plan's where it is known.

    Parameters
    ----------
    job : Job
        The job with the base to look at; the engine is cranked there.
    check : HardwareResult, optional
        The check of this job or of one that differs in base and phase only.

    Examples
    --------
    >>> from sparkwright.job import starter_text
    >>> asked_of(Job.from_toml(starter_text())).by_plan
    False
    """
    base_deg = job.distributor.base_deg
    if check is None:
        demand = compression_demand(job)
        return Asked(demand.least_deg, demand.most_deg, by_plan=False)
    rotor = check.rotor
    cranking = rotor.least_deg >= rotor.cap.base_deg
    least_deg = base_deg if cranking else min(rotor.least_deg, base_deg)
    return Asked(least_deg, max(rotor.most_deg, base_deg), by_plan=True)


def cap_now(
    job: Job, advance_deg: float, *, check: HardwareResult | None = None, from_job: Job | None = None
) -> CapNow:
    """Find where the arc goes at one spark.

    Parameters
    ----------
    job : Job
        The job with the base and phase to look at.
    advance_deg : float
        Advance of the spark [crank deg before top dead centre].
    check : HardwareResult, optional
        The check of the job, for the span that its plan asks.
    from_job : Job, optional
        The job as it stands, from which the moves count; ``job`` itself when not given.

    Returns
    -------
    CapNow
        Geometry, breakdown of the right way and of the nearer neighbour's, and the moves.

    Raises
    ------
    PhysicsError
        Where parts that each may be can't be put together.

    Examples
    --------
    >>> from sparkwright.job import starter_text
    >>> now = cap_now(Job.from_toml(starter_text()), 20.0)
    >>> now.covers, now.offset_distributor_deg
    (True, -5.0)
    """
    cap = rotor_cap(job)
    today = (from_job or job).distributor
    asked = asked_of(job, check)
    reach = cap.reach()
    offset_deg = float(cap.offset_distributor_deg(advance_deg))
    move_deg = job.distributor.rotor_phase_deg - today.rotor_phase_deg
    kpa = full_load_kpa(job)
    neighbour, gap_mm, ways = _nearer_way(job, cap, advance_deg, kpa)
    suiting = phase_advice(job, asked.least_deg, asked.most_deg)
    return CapNow(
        cap=cap,
        rotation=job.distributor.rotation,
        order=cap_order(job.engine.firing_order, job.distributor.rotation, job.distributor.cap_order),
        advance_deg=advance_deg,
        asked=asked,
        reach=reach,
        covers=cap.covers(advance_deg),
        offset_distributor_deg=offset_deg,
        offset_mm=cap.tip_arc_mm(offset_deg),
        right_gap_mm=float(cap.right_gap_mm(advance_deg)),
        neighbour=neighbour,
        neighbour_gap_mm=gap_mm,
        kpa=kpa,
        site_kpa=site_pressure_kpa(job),
        ways=ways,
        move_distributor_deg=move_deg,
        move_mm=cap.tip_arc_mm(move_deg),
        move_tip_fraction=cap.tip_arc_mm(move_deg) / cap.tip_width_mm,
        base_change_deg=job.distributor.base_deg - today.base_deg,
        missing_above_deg=asked.most_deg - reach.most_deg,
        missing_below_deg=reach.least_deg - asked.least_deg,
        suiting_phase_distributor_deg=suiting.phase_distributor_deg,
    )


def _nearer_way(job: Job, cap: RotorCap, advance_deg: float, kpa: float) -> tuple[Neighbour, float, Paths]:
    """Hold the right way against both neighbours'; gives the one with the least reserve."""
    gap_mm = job.plugs.gap_mm
    own = compressed(job, kpa, advance_deg)
    right_kv = float(plug_breakdown_kv(own.pressure_bar, own.temperature_k, gap_mm))
    found: list[tuple[Neighbour, float, Paths]] = []
    sides: tuple[tuple[Neighbour, float], ...] = (
        ("next", float(cap.next_gap_mm(advance_deg))),
        ("previous", float(cap.previous_gap_mm(advance_deg))),
    )
    for side, wrong_mm in sides:
        plug = (next_plug if side == "next" else previous_plug)(job, kpa, advance_deg)
        ways = paths(
            right_gap_mm=float(cap.right_gap_mm(advance_deg)),
            wrong_gap_mm=wrong_mm,
            cap_pressure_bar=site_pressure_kpa(job) / 100.0,
            cap_temperature_k=job.distributor.cap_air_temperature_c + 273.15,
            right_plug_kv=right_kv,
            wrong_plug_kv=float(plug_breakdown_kv(plug.pressure_bar, plug.temperature_k, gap_mm)),
        )
        found.append((side, wrong_mm, ways))
    return min(found, key=lambda each: each[2].ratio)
