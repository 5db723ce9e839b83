"""A second opinion: what the trade expects of a map, read beside the plan and never changing it.

Every range here is common practice, no source: what people who set such engines by ear and by brake expect to
find. Where a plan leaves a range, what holds it there is the reason to give.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np

from sparkwright.check.demand import highest_rpm
from sparkwright.cycle.belief import PRIOR, Belief
from sparkwright.cycle.shapes import Shape
from sparkwright.findings import Finding, State
from sparkwright.job import Job
from sparkwright.numeric import FloatArray
from sparkwright.plan.physics import Physics, idle_share, physics_of
from sparkwright.plan.result import PlanResult
from sparkwright.units import convert

KPA_PER_PSI = convert(1.0, "pressure", "psi", "kPa")
SETTLED_DEG = 2.0
"""Within how much of its most a full-load line counts as all in [deg]; common practice, no source."""

CHECKED_LIFT_MM, SEAT_TO_CHECKED_DEG = 1.0, 50.0
"""Lift from which a duration is one of a cam card, and how much longer one at the seat is [mm, crank deg]."""

LOW_SPEED_IDLES = 1.6
"""Up to this many times its idle speed an engine is driven through and not held [-]; common practice, no
source."""

Span = tuple[float, float]

FULL_LOAD_DEG: dict[Shape, Span] = {
    "wedge": (32.0, 38.0),
    "open": (34.0, 40.0),
    "hemispherical": (32.0, 38.0),
    "pent-roof": (26.0, 34.0),
    "side-valve": (18.0, 30.0),
    "flat-disc": (30.0, 38.0),
}
"""Total advance at full load, all in, by chamber [deg]; common practice, no source."""

CRUISE_DEG: dict[Shape, Span] = {"side-valve": (28.0, 42.0)}
OTHER_CRUISE_DEG: Span = (36.0, 50.0)
"""Total advance at cruise, by chamber, and of all others [deg]; common practice, no source."""

LOW_OCTANE, LOW_OCTANE_DEG = 92.0, 4.0
"""Below this research octane number the total is taken to be this much less [-, deg]."""

IDLE_DEG: tuple[tuple[float, Span], ...] = (
    (210.0, (6.0, 16.0)),
    (230.0, (10.0, 20.0)),
    (np.inf, (14.0, 28.0)),
)
"""Advance at idle, up to a duration of the intake at about 1 mm of lift [crank deg]."""

Why = Literal["boosted", "natural", "cam not known", "no load row", "never all in"]
"""Why a rule has nothing to say of a job."""


@dataclass(frozen=True)
class _Read:
    """What one rule expects, and what the plan has, at a place of the map.

    ``less`` is the place whose advance is taken off where the value is a difference: what holds the map there
    makes a difference large.
    """

    value: float
    expected: Span
    rpm: float
    kpa: float
    less: tuple[float, float] | None = None


@dataclass(frozen=True)
class RuleRead:
    """One rule of the trade beside the plan.

    ``value`` is nan where the rule has nothing to say of this job; ``reason`` names what holds the plan at
    the place where it leaves the range: a ceiling, "slow burn" where best itself lies above it, "quick burn"
    where best lies below it, "" where there is none to give.
    """

    name: str
    unit: str
    low: float
    high: float
    value: float
    rpm: float
    kpa: float
    reason: str
    finding: Finding


@dataclass(frozen=True)
class SecondOpinion:
    """All rules of the trade beside a plan, in the order of the map: idle, cruise, full load, boost."""

    job_name: str
    fingerprint: str
    rules: tuple[RuleRead, ...]
    headline: Finding
    problems: tuple[Finding, ...]
    """None ever: a rule of the trade keeps nobody from going on."""
    warnings: tuple[Finding, ...]

    @property
    def left(self) -> tuple[RuleRead, ...]:
        """The rules that the plan leaves."""
        return tuple(rule for rule in self.rules if rule.finding.state == "look")

    @property
    def others(self) -> tuple[RuleRead, ...]:
        """The rules that it stands within, and those that it can't be held against."""
        return tuple(rule for rule in self.rules if rule.finding.state != "look")


@dataclass(frozen=True)
class _Map:
    """A plan as the rules look at it."""

    job: Job
    plan: PlanResult
    physics: Physics

    def at(self, share: float, kpa: float) -> float:
        """Advance at a share of the highest speed and a load [deg]."""
        return self.plan.cells.spark_map.at(self.rpm(share), kpa)

    def rpm(self, share: float) -> float:
        """Speed at a share of the highest one [rpm]."""
        return share * highest_rpm(self.job)

    @property
    def full_kpa(self) -> float:
        """Load of full throttle without boost [kPa]: a row of the map."""
        rows = self.plan.cells.spark_map.kpa
        below = rows[rows <= self.physics.ambient_kpa + 0.5]
        return float(below[-1] if below.size else rows[0])

    @property
    def cruise_kpa(self) -> float:
        """Load of the cruise row [kPa]."""
        return self.plan.cruise.kpa

    @property
    def full(self) -> FloatArray:
        """The full-load row over the speeds that the engine meets [deg]."""
        row = int(np.argmin(np.abs(self.plan.cells.spark_map.kpa - self.full_kpa)))
        return np.asarray(self.plan.cells.spark_map.advance_deg[row])

    @property
    def running_rpm(self) -> FloatArray:
        """Speeds from idle to the highest [rpm]."""
        rpm = self.plan.cells.spark_map.rpm
        return rpm[(rpm >= self.physics.idle_rpm) & (rpm <= highest_rpm(self.job) + 1.0)]


Reader = Callable[[_Map], _Read | Why]


def _cranking(seen: _Map) -> _Read | Why:
    return _Read(seen.job.distributor.base_deg, (4.0, 12.0), seen.job.engine.cranking_rpm, seen.full_kpa)


def _idle(seen: _Map) -> _Read | Why:
    duration = _checked_duration_deg(seen.job)
    if duration is None:
        return "cam not known"
    expected = next(span for most, span in IDLE_DEG if duration < most)
    idle = seen.plan.idle
    return _Read(idle.set_deg, expected, idle.rpm, idle.kpa)


def _checked_duration_deg(job: Job) -> float | None:
    """Give the intake's duration at about 1 mm of lift [crank deg]."""
    cam = job.cam
    duration = cam.intake_duration_deg
    if duration is None and cam.intake_opens_deg is not None and cam.intake_closes_deg is not None:
        duration = cam.intake_opens_deg + 180.0 + cam.intake_closes_deg
    if duration is None:
        return None
    return duration if cam.lift_mm >= CHECKED_LIFT_MM else duration - SEAT_TO_CHECKED_DEG


def _idle_reserve(seen: _Map) -> _Read | Why:
    idle = seen.plan.idle
    if np.isnan(idle.reserve_deg):
        return "no load row"
    return _Read(idle.reserve_deg, (4.0, 12.0), idle.rpm, idle.kpa)


def _overrun(seen: _Map) -> _Read | Why:
    least = float(seen.plan.cells.spark_map.kpa[0])
    if least >= 0.8 * seen.cruise_kpa:
        return "no load row"
    more, less = seen.at(0.5, least) - seen.at(0.5, seen.cruise_kpa), (seen.rpm(0.5), seen.cruise_kpa)
    return _Read(more, (-20.0, 6.0), seen.rpm(0.5), least, less)


def _cruise_total(seen: _Map) -> _Read | Why:
    expected = CRUISE_DEG.get(seen.job.engine.chamber, OTHER_CRUISE_DEG)
    return _Read(seen.at(0.45, seen.cruise_kpa), expected, seen.rpm(0.45), seen.cruise_kpa)


def _vacuum_share(seen: _Map) -> _Read | Why:
    share = seen.at(0.45, seen.cruise_kpa) - seen.at(0.45, seen.full_kpa)
    less = seen.rpm(0.45), seen.full_kpa
    return _Read(share, (8.0, 16.0), seen.rpm(0.45), seen.cruise_kpa, less)


def _cruise_steps(seen: _Map) -> _Read | Why:
    rpm = seen.running_rpm[seen.running_rpm > LOW_SPEED_IDLES * seen.physics.idle_rpm]
    if rpm.size < 2:
        return "no load row"
    line = np.array([seen.plan.cells.spark_map.at(speed, seen.cruise_kpa) for speed in rpm.tolist()])
    steps = np.abs(np.diff(line)) / np.diff(rpm) * 500.0
    place = int(np.argmax(steps))
    return _Read(float(steps[place]), (0.0, 10.0), float(rpm[place + 1]), seen.cruise_kpa)


def _falls_with_load(seen: _Map) -> _Read | Why:
    spark_map = seen.plan.cells.spark_map
    counts = seen.plan.cells.met & (idle_share(seen.physics, spark_map.rpm, spark_map.kpa[:, None]) == 0.0)
    pairs = counts[1:] & counts[:-1]
    rise = np.where(pairs, np.diff(spark_map.advance_deg, axis=0), -np.inf)
    if not np.isfinite(rise).any():
        return "no load row"
    i, j = np.unravel_index(int(np.argmax(rise)), rise.shape)
    return _Read(float(rise[i, j]), (-15.0, 1.0), float(spark_map.rpm[j]), float(spark_map.kpa[i + 1]))


def _full_total(seen: _Map) -> _Read | Why:
    if seen.job.induction.kind == "boosted":
        return "boosted"
    low, high = FULL_LOAD_DEG[seen.job.engine.chamber]
    if seen.physics.fuel.octane < LOW_OCTANE:
        low, high = low - LOW_OCTANE_DEG, high - LOW_OCTANE_DEG
    return _Read(seen.at(0.65, seen.full_kpa), (low, high), seen.rpm(0.65), seen.full_kpa)


def _all_in(seen: _Map) -> _Read | Why:
    if seen.job.induction.kind == "boosted":
        return "boosted"
    rpm = seen.plan.cells.spark_map.rpm
    running = np.isin(rpm, seen.running_rpm)
    settled = running & (seen.full >= seen.full[running].max() - SETTLED_DEG)
    if settled[running].all():
        return "never all in"
    first = float(rpm[settled][0])
    before = float(rpm[rpm < first][-1]) if np.any(rpm < first) else first
    share = 100.0 * first / highest_rpm(seen.job)
    return _Read(share, (40.0, 70.0), first, seen.full_kpa, (before, seen.full_kpa))


def _mechanical_span(seen: _Map) -> _Read | Why:
    idle_rpm = seen.physics.idle_rpm
    more = seen.at(0.65, seen.full_kpa) - seen.plan.cells.spark_map.at(idle_rpm, seen.full_kpa)
    return _Read(more, (14.0, 28.0), seen.rpm(0.65), seen.full_kpa, (idle_rpm, seen.full_kpa))


def _torque_peak(seen: _Map) -> _Read | Why:
    row = int(np.argmin(np.abs(seen.plan.cells.spark_map.kpa - seen.full_kpa)))
    torque = np.where(
        np.isin(seen.plan.cells.spark_map.rpm, seen.running_rpm), seen.plan.cells.torque_nm[row], -np.inf
    )
    peak_rpm = float(seen.plan.cells.spark_map.rpm[int(np.nanargmax(torque))])
    if peak_rpm > seen.rpm(0.85):
        return "no load row"
    more = seen.at(0.9, seen.full_kpa) - seen.plan.cells.spark_map.at(peak_rpm, seen.full_kpa)
    return _Read(more, (0.0, 8.0), seen.rpm(0.9), seen.full_kpa, (peak_rpm, seen.full_kpa))


def _top_end(seen: _Map) -> _Read | Why:
    more = seen.at(1.0, seen.full_kpa) - seen.at(0.75, seen.full_kpa)
    return _Read(more, (-2.0, 4.0), seen.rpm(1.0), seen.full_kpa, (seen.rpm(0.75), seen.full_kpa))


def _per_psi(seen: _Map) -> _Read | Why:
    if seen.job.induction.kind != "boosted":
        return "natural"
    boost_psi = (seen.plan.full_load.kpa - seen.full_kpa) / KPA_PER_PSI
    if boost_psi < 1.0:
        return "no load row"
    boosted_kpa = seen.plan.full_load.kpa
    off = seen.at(0.65, seen.full_kpa) - seen.at(0.65, boosted_kpa)
    less = seen.rpm(0.65), boosted_kpa
    return _Read(off / boost_psi, (0.5, 1.5), seen.rpm(0.65), seen.full_kpa, less)


def _most_anywhere(seen: _Map) -> _Read | Why:
    spark_map = seen.plan.cells.spark_map
    met = np.where(seen.plan.cells.met, spark_map.advance_deg, -np.inf)
    i, j = np.unravel_index(int(np.argmax(met)), met.shape)
    return _Read(float(met[i, j]), (34.0, 52.0), float(spark_map.rpm[j]), float(spark_map.kpa[i]))


RULES: dict[str, tuple[str, Reader]] = {
    "cranking": ("deg", _cranking),
    "idle-by-cam": ("deg", _idle),
    "idle-reserve": ("deg", _idle_reserve),
    "overrun": ("deg", _overrun),
    "cruise-total": ("deg", _cruise_total),
    "vacuum-share": ("deg", _vacuum_share),
    "cruise-steps": ("deg per 500 rpm", _cruise_steps),
    "falls-with-load": ("deg", _falls_with_load),
    "full-load-total": ("deg", _full_total),
    "all-in": ("% of the highest speed", _all_in),
    "mechanical-span": ("deg", _mechanical_span),
    "torque-peak": ("deg", _torque_peak),
    "top-end": ("deg", _top_end),
    "per-psi": ("deg per psi", _per_psi),
    "most-anywhere": ("deg", _most_anywhere),
}
"""Every rule with the unit of its range, and what reads it."""


def second_opinion(job: Job, planned: PlanResult, belief: Belief = PRIOR) -> SecondOpinion:
    """Hold a plan against the rules of the trade.

    Parameters
    ----------
    job : Job
        The job.
    planned : PlanResult
        Its plan, which stays as it is.
    belief : Belief, optional
        The belief that the plan was made under.

    Returns
    -------
    SecondOpinion
        Each rule with its range and what the plan has; a warning where the plan leaves one.
    """
    seen = _Map(job, planned, physics_of(job, belief))
    rules = tuple(_held_against(name, unit, read(seen), seen) for name, (unit, read) in RULES.items())
    left = tuple(each.finding for each in rules if each.finding.state == "look")
    silent = sum(each.finding.state == "open" for each in rules)
    numbers = {"rules": len(rules), "left": len(left), "silent": silent}
    return SecondOpinion(
        job_name=planned.job_name,
        fingerprint=planned.fingerprint,
        rules=rules,
        headline=Finding("second-opinion.left" if left else "second-opinion.agrees", _state(left), numbers),
        problems=(),
        warnings=left,
    )


def _state(left: tuple[Finding, ...]) -> State:
    return "look" if left else "good"


def _held_against(name: str, unit: str, read: _Read | Why, seen: _Map) -> RuleRead:
    nothing = float("nan")
    if isinstance(read, str):
        finding = Finding(f"trade-rule.{name}", "open", {"silent": read})
        return RuleRead(name, unit, nothing, nothing, nothing, nothing, nothing, "", finding)
    low, high = read.expected
    inside = low - 1e-9 <= read.value <= high + 1e-9
    reason = "" if inside else _reason(read, seen)
    finding = Finding(
        f"trade-rule.{name}",
        "good" if inside else "look",
        {
            "silent": "",
            "value": read.value,
            "low": low,
            "high": high,
            "unit": unit,
            "rpm": read.rpm,
            "kpa": read.kpa,
            "reason": reason,
        },
    )
    return RuleRead(name, unit, low, high, read.value, read.rpm, read.kpa, reason, finding)


def _reason(read: _Read, seen: _Map) -> str:
    """Name what holds the plan where it leaves a range.

    A value below its range is held down where it stands; a difference above it is held down at the place that
    is taken off. What stands above its range by itself, or is held by best, says how the charge burns.
    """
    if read.rpm < seen.plan.cells.spark_map.rpm[0]:
        return ""
    above = read.value > read.expected[1]
    held = "best"
    if not above:
        held = _held(seen, read.rpm, read.kpa)
    elif read.less is not None:
        held = _held(seen, *read.less)
    if held == "best":
        return "slow burn" if above else "quick burn"
    return held


def _held(seen: _Map, rpm: float, kpa: float) -> str:
    """Name what holds the cell nearest to a place."""
    speeds, loads = seen.plan.cells.spark_map.rpm, seen.plan.cells.spark_map.kpa
    return seen.plan.cells.held_by[int(np.argmin(np.abs(loads - kpa)))][int(np.argmin(np.abs(speeds - rpm)))]
