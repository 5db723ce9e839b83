"""What stands around the readings: which way the rotor turns, the housing, the light, what is to be held."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Literal, TypeVar, get_args

import numpy as np

from sparkwright.check.assumed import Assumed
from sparkwright.check.rotor import rotor_cap
from sparkwright.errors import Refusal
from sparkwright.ignition.rotor import arc_mm_per_crank_deg
from sparkwright.job import Job
from sparkwright.job.usual import USUAL, USUAL_HOUSING_MM, USUAL_LIGHT_STEP_DEG
from sparkwright.light.fit import ENOUGH_READINGS, HAND_DEG
from sparkwright.plan.hooks import USUAL_BEST_DEG, sparse_at
from sparkwright.plan.physics import physics_of
from sparkwright.units import show_both, show_span

Light = Literal["plain", "dial-back"]
Given = TypeVar("Given")

HOLD_DEG = 30.0
LOW_RPM, HIGH_RPM = 2000.0, 4000.0
"""What to hold and where to read it. Common practice, no source."""

_SPEED_STEP_RPM = 50.0

AGREEMENT_DEG = 1.0
"""How near commanded and seen must agree to count as proved. Common practice, no source."""

UNLOADED_SHARE = 0.8
"""Share of the highest speed to which an engine is taken without load here. Common practice, no source."""

_HOUSING_SPAN_MM = (20.0, 300.0)
_DELAY_SPAN_US = (-2000.0, 2000.0)
_RESOLUTION_SPAN_DEG = (0.05, 10.0)
_HAND_SPAN_DEG = (0.0, 5.0)
_AGREEMENT_SPAN_DEG = (0.2, 5.0)
_HOLD_SPAN_DEG = (0.0, 60.0)
_MARK_ERROR_SPAN_DEG = (-40.0, 40.0)


@dataclass(frozen=True)
class Bench:
    """What is known beside the readings.

    Parameters
    ----------
    rotation : str
        Way the rotor turns, seen from above.
    pickup, polarity_checked, mechanical_advance, driver
        As in the job.
    cylinders : int
        Cylinders of the engine.
    hold_deg : float
        Advance to hold [crank deg].
    low_rpm, high_rpm : float
        Where to read it [rpm].
    housing_diameter_mm : float, optional
        Diameter of the distributor's housing where it is turned [mm].
    delay_set_us : float, optional
        Delay that the controller already makes up for [us].
    light : {"plain", "dial-back"}, optional
        Kind of timing light.
    top_dead_centre_proved : bool, optional
        Whether the mark was proved at the piston.
    mark_error_deg : float, optional
        What the mark shows at true top dead centre, before positive; taken off what is seen [crank deg].
    resolution_deg, hand_deg : float, optional
        Step of dial or marks, and the share of eye and hand, one standard deviation [crank deg].
    agreement_deg : float
        How near commanded and seen must agree [crank deg].
    most_deg : float
        The most to hold, by rotor, knock, controller, limit and practice [crank deg].
    """

    rotation: str
    pickup: str
    polarity_checked: bool | None
    mechanical_advance: str
    driver: str
    cylinders: int
    hold_deg: float
    low_rpm: float
    high_rpm: float
    housing_diameter_mm: float | None = None
    delay_set_us: float | None = None
    light: Light | None = None
    top_dead_centre_proved: bool | None = None
    mark_error_deg: float | None = None
    resolution_deg: float | None = None
    hand_deg: float | None = None
    agreement_deg: float = AGREEMENT_DEG
    most_deg: float = HOLD_DEG

    @property
    def step_deg(self) -> float:
        """Step of dial or marks, stated or assumed [crank deg]."""
        return USUAL_LIGHT_STEP_DEG if self.resolution_deg is None else self.resolution_deg

    @property
    def eye_deg(self) -> float:
        """Share of eye and hand, stated or assumed [crank deg]."""
        return HAND_DEG if self.hand_deg is None else self.hand_deg

    @property
    def speeds_rpm(self) -> tuple[float, ...]:
        """Speeds to read at, evenly spread, the ends first [rpm].

        Examples
        --------
        >>> Bench("clockwise", "hall", None, "locked", "inductive", 8, 30.0, 2000.0, 4000.0).speeds_rpm
        (2000.0, 4000.0, 2400.0, 2800.0, 3200.0, 3600.0)
        """
        apart_rpm = (self.high_rpm - self.low_rpm) / (ENOUGH_READINGS - 1)
        even = [self.low_rpm + place * apart_rpm for place in range(ENOUGH_READINGS)]
        low, *between, high = (_SPEED_STEP_RPM * round(each / _SPEED_STEP_RPM) for each in even)
        return (low, high, *between)

    def rim_mm(self, crank_deg: float) -> float:
        """Way at the rim of the housing for an angle of the crank, half of it at the distributor [mm].

        Parameters
        ----------
        crank_deg : float
            Angle of the crank [deg].

        Examples
        --------
        >>> bench = Bench("clockwise", "hall", None, "locked", "inductive", 8, 30.0, 2000.0, 4000.0, 72.0)
        >>> round(bench.rim_mm(4.0), 3)
        1.257
        """
        radius_mm = (self.housing_diameter_mm or USUAL_HOUSING_MM) / 2.0
        return abs(crank_deg) * float(arc_mm_per_crank_deg(radius_mm))


def bench_of(
    job: Job,
    *,
    hold_deg: float | None = None,
    housing_diameter_mm: float | None = None,
    delay_set_us: float | None = None,
    light: str | None = None,
    top_dead_centre_proved: bool | None = None,
    mark_error_deg: float | None = None,
    resolution_deg: float | None = None,
    hand_deg: float | None = None,
    agreement_deg: float = AGREEMENT_DEG,
) -> Bench:
    """Gather what the job states and what else was given.

    The advance to hold is 30 deg, or less where rotor, controller, a limit or knock don't allow so much; the
    speeds are 2,000 and 4,000 rpm, or less where the engine must not turn so fast without load. Page,
    command and card take all of it from here.

    Parameters
    ----------
    job : Job
        What the shop states of the engine.
    hold_deg : float, optional
        Advance that is held [crank deg].
    housing_diameter_mm : float, optional
        Diameter of the body where a turn is measured [mm].
    delay_set_us : float, optional
        Delay that the controller is set to make up for [us].
    light : str, optional
        Kind of the timing light.
    top_dead_centre_proved : bool, optional
        Whether the mark was proved at the piston.
    mark_error_deg : float, optional
        What the mark shows at true top dead centre, before positive [crank deg].
    resolution_deg : float, optional
        How finely the light is read [crank deg].
    hand_deg : float, optional
        What eye and hand add, one standard deviation [crank deg].
    agreement_deg : float
        Misfit that nobody need mend [crank deg].

    Raises
    ------
    Refusal
        For a value outside its range.

    Examples
    --------
    >>> from sparkwright.job import starter_text
    >>> bench = bench_of(Job.from_toml(starter_text()), hold_deg=28)
    >>> bench.hold_deg, bench.low_rpm, bench.high_rpm
    (28.0, 2000.0, 4000.0)
    """
    given = {
        "hold": (hold_deg, _HOLD_SPAN_DEG, "deg"),
        "housing": (housing_diameter_mm, _HOUSING_SPAN_MM, "mm"),
        "delay": (delay_set_us, _DELAY_SPAN_US, "us"),
        "mark error": (mark_error_deg, _MARK_ERROR_SPAN_DEG, "deg"),
        "resolution": (resolution_deg, _RESOLUTION_SPAN_DEG, "deg"),
        "hand": (hand_deg, _HAND_SPAN_DEG, "deg"),
        "agreement": (agreement_deg, _AGREEMENT_SPAN_DEG, "deg"),
    }
    for name, (value, (low, high), unit) in given.items():
        if value is not None and not low <= value <= high:
            length = unit == "mm"
            stated = show_both(value, "length") if length else f"{value:g}"
            span = show_span(low, high, "length", unit) if length else f"{low:g} to {high:g} {unit}"
            raise Refusal.at(name, stated, f"must be {span}")
    kind = next((each for each in get_args(Light) if each == light), None)
    if light is not None and kind is None:
        raise Refusal.at("light", f'"{light}"', 'must be "plain" or "dial-back"')
    highest = HIGH_RPM
    if job.engine.redline_rpm is not None:
        highest = min(HIGH_RPM, 100.0 * math.floor(UNLOADED_SHARE * job.engine.redline_rpm / 100.0))
    low_rpm, high_rpm = min(LOW_RPM, 100.0 * math.floor(highest / 200.0)), highest
    most_deg = _held(job, low_rpm, high_rpm)
    plain = Bench(
        rotation=job.distributor.rotation,
        pickup=job.pickup.kind,
        polarity_checked=job.pickup.polarity_checked,
        mechanical_advance=job.distributor.advance,
        driver=job.driver.kind,
        cylinders=job.engine.cylinders,
        hold_deg=most_deg if hold_deg is None else float(hold_deg),
        low_rpm=low_rpm,
        high_rpm=high_rpm,
    )
    stated = job.light
    error_deg = _first(mark_error_deg, stated.mark_error_deg)
    # Its error is known only from the piston.
    proved = _first(_first(top_dead_centre_proved, stated.mark_proved), None if error_deg is None else True)
    return replace(
        plain,
        housing_diameter_mm=_first(housing_diameter_mm, job.distributor.housing_diameter_mm),
        delay_set_us=_first(delay_set_us, stated.delay_set_us),
        light=kind or stated.kind,
        top_dead_centre_proved=proved,
        mark_error_deg=error_deg,
        resolution_deg=_first(resolution_deg, stated.resolution_deg),
        hand_deg=hand_deg,
        agreement_deg=agreement_deg,
        most_deg=most_deg,
    )


def _first(given: Given | None, stated: Given | None) -> Given | None:
    """Give what was given for this one check, or else what the job states."""
    return stated if given is None else given


@lru_cache(maxsize=64)
def _held(job: Job, low_rpm: float, high_rpm: float) -> float:
    most_deg = min(HOLD_DEG, job.controller.max_deg)
    if job.limits.max_advance_deg is not None:
        most_deg = min(most_deg, job.limits.max_advance_deg)
    allowed_deg = min(rotor_cap(job).reach().most_deg, _knock_ceiling_deg(job, low_rpm, high_rpm))
    # What leaves next to nothing is for plan and check to tell; holding base is then all that is safe.
    base_deg = job.distributor.base_deg
    return min(most_deg, float(math.floor(allowed_deg))) if allowed_deg >= base_deg + 1.0 else base_deg


def _knock_ceiling_deg(job: Job, low_rpm: float, high_rpm: float) -> float:
    """Most advance that knock leaves at either speed without load, at the pressure of the idle; else inf."""
    physics = physics_of(job)
    hooks = sparse_at(physics, np.array([low_rpm, high_rpm]), physics.idle_kpa)
    hooks.best(USUAL_BEST_DEG)
    return float(np.fmin.reduce(hooks.knock(0.0), initial=math.inf)) - job.limits.knock_margin_deg


def assumed_of(
    bench: Bench, *, step_assumed: bool, housing_asked: bool, delay_asked: bool
) -> tuple[Assumed, ...]:
    """List what stands in for what was not given, as far as it counted.

    Parameters
    ----------
    bench : Bench
        How it was read, and what is wanted.
    step_assumed : bool
        Whether a reading leaves its step to the bench.
    housing_asked : bool
        Whether a turn of the body is asked for.
    delay_asked : bool
        Whether a delay to set is asked for.
    """
    told = []
    if step_assumed and bench.resolution_deg is None:
        told.append(_taken("light.resolution_deg", USUAL_LIGHT_STEP_DEG, " deg"))
    if bench.hand_deg is None:
        why = "share of eye and hand, one standard deviation; common practice, no source"
        told.append(Assumed("light.hand", f"{HAND_DEG:g} deg", why))
    if housing_asked and bench.housing_diameter_mm is None:
        told.append(_taken("distributor.housing_diameter", USUAL_HOUSING_MM))
    if delay_asked and bench.delay_set_us is None:
        told.append(_taken("light.delay_set_us", 0.0, " us"))
    return tuple(told)


def _taken(key: str, value: float, unit: str = "") -> Assumed:
    row = USUAL[key]
    return Assumed(key, f"{row.said(value)}{unit}", str(row.why))
