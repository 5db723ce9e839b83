"""Phasing the rotor: how far to move its tip, what that gains, and how a drilled cap proves it."""

from __future__ import annotations

from dataclasses import dataclass, replace

from sparkwright.check.result import HardwareResult
from sparkwright.findings import Finding, State, Value
from sparkwright.ignition.rotor import Reach, Rotation, RotorCap
from sparkwright.job import Job
from sparkwright.mounting.cap_plan import Part, Station, parts, rotor_warnings, sparks_that_matter, stations
from sparkwright.plan.result import LEAST_MOVE_MM, PlanResult

LEAST_MOVE_DEG = 0.5
"""Move of the tip below which nobody need start [distributor deg]. Common practice, no source."""


@dataclass(frozen=True)
class RotorPhasing:
    """How to phase a rotor, computed and not yet drawn.

    Moves are positive in the direction of rotation; where none is ``advised`` the tip is proved as it stands.
    ``missing_deg`` is what even the phased rotor can't reach of what the engine asks, ``reach_spread_deg``
    how far either end of the reach may lie off where dimensions were assumed [crank deg]. ``before`` and
    ``after`` are what the drilled cap shows.
    """

    rotation: Rotation
    advised: bool
    move_mm: float
    move_distributor_deg: float
    move_crank_deg: float
    move_tip_fraction: float
    phase_distributor_deg: float
    least_deg: float
    most_deg: float
    moves: bool
    """Whether there is a move to show, advised or not; less than half a millimetre is none."""
    reach_before: Reach
    reach_after: Reach
    missing_deg: float
    reach_spread_deg: float
    parts: tuple[Part, ...]
    cap_before: RotorCap
    cap_after: RotorCap
    before: tuple[Station, ...]
    after: tuple[Station, ...]
    headline: Finding
    warnings: tuple[Finding, ...]

    @property
    def state(self) -> State:
        """How the tip stands."""
        return self.headline.state


def rotor_phasing(job: Job, hardware: HardwareResult, plan: PlanResult) -> RotorPhasing:
    """Gather what the phasing sheet shows, from the advice of the hardware check.

    Parameters
    ----------
    job : Job
        What was measured, and what is still free to move.
    hardware : HardwareResult
        Rotor, its reach and the advice for its phase.
    plan : PlanResult
        The sparks at which to look.

    Examples
    --------
    >>> from sparkwright.check.hardware import check_hardware
    >>> from sparkwright.job import starter_text
    >>> from sparkwright.plan.planner import plan
    >>> job = Job.from_toml(starter_text()).changed("controller", rpm=[800, 2400], kpa=[40, 90])
    >>> found = rotor_phasing(job, check_hardware(job), plan(job))
    >>> found.move_crank_deg == 2.0 * found.move_distributor_deg
    True
    """
    rotor, advice = hardware.rotor, hardware.rotor.advice
    after = replace(rotor.cap, phase_distributor_deg=advice.phase_distributor_deg)
    sparks = sparks_that_matter(hardware, plan)
    covered = rotor.today.least_deg <= rotor.least_deg and rotor.most_deg <= rotor.today.most_deg
    needed = not covered and abs(advice.move_distributor_deg) >= LEAST_MOVE_DEG
    seen_before, seen_after = (stations(cap, rotor.rotation, sparks) for cap in (rotor.cap, after))
    return RotorPhasing(
        rotation=rotor.rotation,
        advised=needed,
        move_mm=advice.move_mm,
        move_distributor_deg=advice.move_distributor_deg,
        move_crank_deg=2.0 * advice.move_distributor_deg,
        move_tip_fraction=advice.move_tip_fraction,
        phase_distributor_deg=advice.phase_distributor_deg,
        least_deg=rotor.least_deg,
        most_deg=rotor.most_deg,
        moves=needed or abs(advice.move_mm) >= LEAST_MOVE_MM,
        reach_before=rotor.today,
        reach_after=rotor.phased,
        missing_deg=max(0.0, rotor.most_deg - rotor.phased.most_deg),
        reach_spread_deg=rotor.reach_spread_deg,
        parts=parts(job, rotor.cap),
        cap_before=rotor.cap,
        cap_after=after,
        before=seen_before,
        after=seen_after,
        headline=_headline(hardware, covered, needed),
        warnings=tuple(rotor_warnings(job, hardware)),
    )


def _headline(hardware: HardwareResult, covered: bool, needed: bool) -> Finding:
    rotor, advice = hardware.rotor, hardware.rotor.advice
    asked: dict[str, Value] = {"least_deg": rotor.least_deg, "most_deg": rotor.most_deg}
    today: dict[str, Value] = {"from_deg": rotor.today.least_deg, "to_deg": rotor.today.most_deg}
    move: dict[str, Value] = {
        "rotation": rotor.rotation,
        "move_mm": advice.move_mm,
        "move_distributor_deg": advice.move_distributor_deg,
    }
    if covered:
        return Finding("phasing.leave-the-tip", "good", {**asked, **today, **move})
    missing_deg = rotor.most_deg - rotor.phased.most_deg
    short: dict[str, Value] = {"missing_deg": missing_deg if missing_deg >= LEAST_MOVE_DEG else None}
    if not needed:
        return Finding("phasing.as-well-as-it-can", "look", {**asked, **today, **short})
    then: dict[str, Value] = {
        "then_from_deg": rotor.phased.least_deg,
        "then_to_deg": rotor.phased.most_deg,
        "move_tip_fraction": advice.move_tip_fraction,
    }
    return Finding("phasing.move-the-tip", "problem", {**today, **move, **then, **short})
