"""True top dead centre from readings on either side of it, and how wrong the balancer's own mark is.

A reading is what the balancer shows at the pointer, in crank degrees, positive before top dead centre by its
own mark. With a piston stop, or with a dial indicator at equal drop, the piston stands equally low at two
readings; true top dead centre lies midway, but for the pin offset. What the mark shows there is its error: a
timing light shows that much more advance than there is.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from sparkwright.cycle.kinematics import piston_drop_m, piston_drop_slope_m_per_rad
from sparkwright.cycle.marks import dial_indicator_doubt_deg, piston_stop_top_deg, rim_distance_m
from sparkwright.errors import Refusal
from sparkwright.findings import Finding, State
from sparkwright.job import Job
from sparkwright.mounting.mark_readings import ReadPair
from sparkwright.mounting.questions import MARK, USUAL_READ_TO_DEG
from sparkwright.mounting.throw import USUAL_PIN_OFFSET_MM, CrankThrow, pin_error_deg
from sparkwright.numeric.quantiles import chi_square_quantile, normal_quantile, student_quantile

Method = Literal["stop", "dial"]
IntervalFrom = Literal["reading", "scatter"]

RIGHT_WITHIN_DEG = 0.5
"""Error of a mark that nobody needs to mend [crank deg]. Common practice, no source."""

SLIPPED_FROM_DEG = 2.0
"""Error of a mark from which a slipped ring is the first thing to look for [crank deg]. Common practice, no
source."""

WANDERS_FROM_DEG = 1.0
"""Spread between repeats from which the ring itself may be moving [crank deg]. Common practice, no source."""

HAND_DEG = 0.25
"""What eye and hand add to each reading, as a standard deviation: looking askew, the feel of the stop [crank
deg]. Common practice, no source."""

SHORT_TRAVEL_DEG, LONG_TRAVEL_DEG = 8.0, 60.0
"""Half travels between which a stop works well [crank deg]. Common practice, no source."""

CONFIDENCE = 0.95


@dataclass(frozen=True)
class PairResult:
    """What one pair says [crank deg].

    ``middle_deg`` is the reading midway, ``half_travel_deg`` how far either lies from there,
    ``pin_error_deg`` how far after true top dead centre the middle lies for the pin offset (None: not
    determined), ``mark_error_deg`` what the mark shows at true top dead centre, ``sigma_deg`` its standard
    deviation from reading pointer and dial (None: not determined), ``drop_mm`` how low the piston stood.
    """

    before_deg: float
    after_deg: float
    middle_deg: float
    half_travel_deg: float
    pin_error_deg: float | None
    mark_error_deg: float
    sigma_deg: float
    drop_mm: float | None


@dataclass(frozen=True)
class DeadCentre:
    """Where true top dead centre is, by the balancer's mark, and what to do about the mark.

    Attributes
    ----------
    mark_error_deg : float
        What the mark shows at true top dead centre, positive before [crank deg]. True advance is the
        advance seen less this.
    half_interval_deg : float
        Half of its 95 % interval [crank deg].
    interval_from : {"reading", "scatter"}
        Whether it comes from how finely pointer and dial are read, or from the scatter of the tries.
    wanders : bool
        Whether the mark is somewhere else at each try, so that nothing may be set by it.
    move_mark_mm : float or None
        Along the rim, positive in the direction of rotation, from the old zero mark to the true one.
    pin_doubt_deg : float or None
        What a pin offset of 1.5 mm would change, where the offset is not known.
    flat_top_deg : float or None
        How far to either side the crank may stand with the dial's needle still, at the very top.
    """

    method: Method
    pairs: tuple[PairResult, ...]
    mark_error_deg: float
    half_interval_deg: float
    interval_from: IntervalFrom
    spread_deg: float | None
    wanders: bool
    move_mark_mm: float | None
    pin_offset_mm: float | None
    pin_doubt_deg: float | None
    flat_top_deg: float | None
    read_to_deg: float
    dial_step_mm: float | None
    headline: Finding
    findings: tuple[Finding, ...]
    warnings: tuple[Finding, ...]

    @property
    def state(self) -> State:
        """How the mark stands."""
        return self.headline.state


def dead_centre(
    pairs: Sequence[ReadPair],
    *,
    method: Method = "stop",
    throw: CrankThrow | None = None,
    diameter_mm: float | None = None,
    read_to_deg: float = USUAL_READ_TO_DEG,
    dial_step_mm: float | None = None,
) -> DeadCentre:
    """Find true top dead centre and the error of the balancer's mark.

    Parameters
    ----------
    pairs : sequence of ReadPair
        One pair a try with a stop; with a dial, one pair a drop.
    method : {"stop", "dial"}
        How they were taken.
    throw : CrankThrow, optional
        Stroke, rod and pin offset; without it the pin offset is not counted.
    diameter_mm : float, optional
        Diameter of the rim, to say the error in mm [mm].
    read_to_deg : float
        How finely the pointer is read [crank deg].
    dial_step_mm : float, optional
        Height that the dial shows surely [mm].

    Raises
    ------
    Refusal
        For no pair, a diameter, step or fineness that can't be, or a dial without stroke and rod.

    Examples
    --------
    >>> found = dead_centre([ReadPair(27.0, -31.0)], diameter_mm=167.9)
    >>> found.mark_error_deg, round(found.move_mark_mm, 2), found.state
    (-2.0, -2.93, 'look')
    """
    _check(pairs, method, throw, diameter_mm, read_to_deg, dial_step_mm)
    results = tuple(_pair_result(pair, throw, read_to_deg, dial_step_mm) for pair in pairs)
    mark_error_deg, half_interval_deg, interval_from = _together(results)
    errors_deg = [each.mark_error_deg for each in results]
    spread_deg = max(errors_deg) - min(errors_deg) if len(results) > 1 else None
    wanders = spread_deg is not None and spread_deg > max(
        WANDERS_FROM_DEG, 4.0 * max(each.sigma_deg for each in results)
    )
    move_mm = None if diameter_mm is None else float(rim_distance_m(diameter_mm, mark_error_deg))
    offset_mm = throw.pin_offset_mm if throw else None
    doubt_deg = None
    if throw is not None and offset_mm is None:
        doubt_deg = max(
            abs(pin_error_deg(each.half_travel_deg, throw, USUAL_PIN_OFFSET_MM)) for each in results
        )
    flat_top_deg = None
    if throw is not None and dial_step_mm is not None:
        flat_top_deg = float(dial_indicator_doubt_deg(dial_step_mm / 1000.0, throw.throw_m, throw.rod_m))
    return DeadCentre(
        method=method,
        pairs=results,
        mark_error_deg=mark_error_deg,
        half_interval_deg=half_interval_deg,
        interval_from=interval_from,
        spread_deg=spread_deg,
        wanders=wanders,
        move_mark_mm=move_mm,
        pin_offset_mm=offset_mm,
        pin_doubt_deg=doubt_deg,
        flat_top_deg=flat_top_deg,
        read_to_deg=read_to_deg,
        dial_step_mm=dial_step_mm,
        headline=_headline(mark_error_deg, half_interval_deg, spread_deg if wanders else None, move_mm),
        findings=tuple(_findings(mark_error_deg, wanders, results, flat_top_deg)),
        warnings=tuple(_warnings(results, throw, doubt_deg)),
    )


def mark_facts(found: DeadCentre) -> dict[str, bool | float]:
    """Give what a job states of the mark once this is believed, as keys of its section `light`.

    Parameters
    ----------
    found : DeadCentre
        What was found at the piston.

    Raises
    ------
    Refusal
        Where the mark is somewhere else at each try.

    Examples
    --------
    >>> mark_facts(dead_centre([ReadPair(27.0, -31.0)]))
    {'mark_proved': True, 'mark_error_deg': -2.0}
    """
    if found.wanders:
        raise Refusal.at(
            "mark",
            None,
            "must stay where it is before anything is kept of it",
            "read again with more care, or replace the damper where it still moves",
        )
    return {"mark_proved": True, "mark_error_deg": round(found.mark_error_deg, 2) + 0.0}


def known_error_deg(job: Job) -> float | None:
    """Give what a job's mark shows at true top dead centre; 0 where it was only said to be proved.

    Parameters
    ----------
    job : Job
        What the shop states of the engine.

    Examples
    --------
    >>> from sparkwright.job import starter_text
    >>> job = Job.from_toml(starter_text())
    >>> known_error_deg(job.changed("light", mark_proved=True)), known_error_deg(job)
    (0.0, None)
    """
    stated = job.light.mark_error_deg
    return 0.0 if stated is None and job.light.mark_proved else stated


def mark_stands(job: Job) -> Literal["open", "right", "off"]:
    """Say how a job's mark stands: never proved, right as near as anybody needs, or known to be off.

    Parameters
    ----------
    job : Job
        What the shop states of the engine.

    Examples
    --------
    >>> from sparkwright.job import starter_text
    >>> job = Job.from_toml(starter_text())
    >>> mark_stands(job), mark_stands(job.changed("light", mark_error_deg=-2.0))
    ('open', 'off')
    """
    error_deg = job.light.mark_error_deg
    if not (job.light.mark_proved if error_deg is None else job.light.mark_proved is not False):
        return "open"
    return "off" if abs(error_deg or 0.0) > RIGHT_WITHIN_DEG else "right"


def _check(
    pairs: Sequence[ReadPair],
    method: Method,
    throw: CrankThrow | None,
    diameter_mm: float | None,
    read_to_deg: float,
    dial_step_mm: float | None,
) -> None:
    if not pairs:
        raise Refusal.at("readings", None, "must be at least one pair", "read once from either side")
    MARK["diameter"].require(diameter_mm)
    MARK["read_to"].require(read_to_deg)
    MARK["dial_step"].require(dial_step_mm)
    if method == "dial" and (throw is None or dial_step_mm is None):
        raise Refusal.at(
            "dial",
            None,
            "must come with stroke, rod and the dial's step",
            "how surely a dial finds the top depends on them; state the rod in the job, or give both",
        )


def _pair_result(
    pair: ReadPair, throw: CrankThrow | None, read_to_deg: float, dial_step_mm: float | None
) -> PairResult:
    middle_deg = float(piston_stop_top_deg(pair.before_deg, pair.after_deg))
    half_deg = (pair.before_deg - pair.after_deg) / 2.0
    pin_deg = None
    if throw is not None and throw.pin_offset_mm is not None:
        pin_deg = pin_error_deg(half_deg, throw, throw.pin_offset_mm)
    one_sigma_deg = math.hypot(read_to_deg / math.sqrt(12.0), HAND_DEG)
    if throw is not None and dial_step_mm is not None:
        one_sigma_deg = math.hypot(one_sigma_deg, _dial_sigma_deg(half_deg, throw, dial_step_mm))
    return PairResult(
        before_deg=pair.before_deg,
        after_deg=pair.after_deg,
        middle_deg=middle_deg,
        half_travel_deg=half_deg,
        pin_error_deg=pin_deg,
        mark_error_deg=middle_deg + (pin_deg or 0.0),
        sigma_deg=one_sigma_deg / math.sqrt(2.0),
        drop_mm=None
        if throw is None
        else 1000.0 * float(piston_drop_m(half_deg, throw.throw_m, throw.rod_m)),
    )


def _dial_sigma_deg(half_travel_deg: float, throw: CrankThrow, dial_step_mm: float) -> float:
    """Crank angle that one step of the dial is worth at this drop, as a standard deviation [crank deg]."""
    slope_mm_per_deg = (
        1000.0
        * float(piston_drop_slope_m_per_rad(half_travel_deg, throw.throw_m, throw.rod_m))
        * math.pi
        / 180.0
    )
    return dial_step_mm / math.sqrt(12.0) / slope_mm_per_deg


def _together(results: Sequence[PairResult]) -> tuple[float, float, IntervalFrom]:
    """Weighted mean of the pairs, half its 95 % interval, and where that comes from.

    From the readings' own fineness while the pairs agree as well as that allows (chi-square at 95 %), else
    Student's interval of their scatter.
    """
    errors = np.array([each.mark_error_deg for each in results])
    weights = np.array([each.sigma_deg for each in results]) ** -2.0
    weight = float(np.sum(weights))
    mean = float(np.sum(weights * errors)) / weight
    freedom = len(results) - 1
    chi_squared = float(np.sum(weights * (errors - mean) ** 2))
    if freedom and chi_squared > chi_square_quantile(CONFIDENCE, freedom):
        half_deg = student_quantile(CONFIDENCE, freedom) * math.sqrt(chi_squared / freedom / weight)
        return mean, half_deg, "scatter"
    half_deg = normal_quantile((1.0 + CONFIDENCE) / 2.0) / math.sqrt(weight)
    return mean, half_deg, "reading"


def _headline(error_deg: float, half_deg: float, wander_deg: float | None, move_mm: float | None) -> Finding:
    if wander_deg is not None:
        return Finding("mark.wanders", "problem", {"wander_deg": wander_deg})
    size = {"error_deg": error_deg, "half_interval_deg": half_deg}
    if abs(error_deg) <= RIGHT_WITHIN_DEG:
        return Finding("mark.right", "good", size)
    state: State = "problem" if abs(error_deg) > SLIPPED_FROM_DEG else "look"
    return Finding("mark.off", state, {**size, "move_mm": move_mm})


def _findings(
    error_deg: float, wanders: bool, results: Sequence[PairResult], flat_top_deg: float | None
) -> Iterator[Finding]:
    if any(each.before_deg * each.after_deg > 0.0 for each in results):
        yield Finding("mark.both-on-one-side", "look")
    if wanders or abs(error_deg) > SLIPPED_FROM_DEG:
        yield Finding("mark.may-have-slipped", "look", {"slipped_from_deg": SLIPPED_FROM_DEG})
    if flat_top_deg is not None:
        yield Finding("mark.dial-stands-still", "look", {"flat_top_deg": flat_top_deg})
    short = [each for each in results if each.half_travel_deg < SHORT_TRAVEL_DEG]
    if short:
        yield Finding("mark.stop-too-high", "look", {"half_travel_deg": short[0].half_travel_deg})
    if any(each.half_travel_deg > LONG_TRAVEL_DEG for each in results):
        yield Finding("mark.stop-too-low", "look")


def _warnings(
    results: Sequence[PairResult], throw: CrankThrow | None, doubt_deg: float | None
) -> Iterator[Finding]:
    if doubt_deg is not None:
        numbers = {"doubt_deg": doubt_deg, "usual_mm": USUAL_PIN_OFFSET_MM}
        yield Finding("mark.pin-offset-not-stated", "open", numbers)
    elif throw is None:
        yield Finding("mark.throw-not-stated", "open")
    if len(results) == 1:
        yield Finding("mark.read-once", "look")
