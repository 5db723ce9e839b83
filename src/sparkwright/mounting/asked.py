"""From the answers at balancer, piston and distributor, as typed, to what follows from them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import cast

from sparkwright.check.assumed import Assumed
from sparkwright.check.result import HardwareResult
from sparkwright.errors import Refusal
from sparkwright.job import Job
from sparkwright.mounting.before_it_goes_in import BeforeItGoesIn, bench_work
from sparkwright.mounting.cap_plan import CapPlan, cap_plan
from sparkwright.mounting.dead_centre import DeadCentre, Method, dead_centre, known_error_deg
from sparkwright.mounting.lengths import degrees, length_mm
from sparkwright.mounting.mark_readings import ReadPair, mark_reading_deg, read_pairs
from sparkwright.mounting.phasing import RotorPhasing, rotor_phasing
from sparkwright.mounting.questions import (
    MARK,
    RING,
    SETTING,
    TAPE,
    USUAL_READ_TO_DEG,
    MarkAsked,
    Question,
    RingAsked,
    ScaleAsked,
    SettingAsked,
    TapeAsked,
)
from sparkwright.mounting.static_setting import StaticSetting, static_setting
from sparkwright.mounting.tape import CrankRotation, DegreeRing, ReadFrom, ScaleOn, Tape, degree_ring, tape
from sparkwright.mounting.throw import CrankThrow, throw_of
from sparkwright.plan.result import PlanResult
from sparkwright.reading import tidy

SIDES = ("one side", "other side")
"""What the two readings of a try are called; the engine is turned against the stop from either."""


def mark_found(asked: MarkAsked, job: Job | None) -> DeadCentre:
    """Find true top dead centre from what was typed.

    Parameters
    ----------
    asked : record
        What was typed.
    job : Job or None
        Where stroke, rod and rim are taken from what was not typed.

    Raises
    ------
    Refusal
        For what can't be read, or does not go together.

    Examples
    --------
    >>> mark_found(MarkAsked(tries=(("27 before", "31 after"),)), None).mark_error_deg
    -2.0
    """
    return mark_read(asked, job).found()


@dataclass(frozen=True)
class MarkRead:
    """Readings at a piston stop or dial, with all that they are judged by."""

    pairs: tuple[ReadPair, ...]
    method: Method
    throw: CrankThrow | None
    diameter_mm: float | None
    read_to_deg: float
    dial_step_mm: float | None

    def found(self) -> DeadCentre:
        """Find true top dead centre from them."""
        return dead_centre(
            self.pairs,
            method=self.method,
            throw=self.throw,
            diameter_mm=self.diameter_mm,
            read_to_deg=self.read_to_deg,
            dial_step_mm=self.dial_step_mm,
        )


def mark_read(asked: MarkAsked, job: Job | None) -> MarkRead:
    """Read what was typed of the mark, with the lengths that the job states; refused like `mark_found`.

    Parameters
    ----------
    asked : record
        What was typed.
    job : Job or None
        Where stroke, rod and rim are taken from what was not typed.

    Examples
    --------
    >>> mark_read(MarkAsked(tries=(("27 before", "31 after"),)), None).pairs
    (ReadPair(before_deg=27.0, after_deg=-31.0),)
    """
    MARK["method"].require_choice(asked.method)
    _require_both_sides(asked.tries)
    diameter_mm = _length_mm(MARK["diameter"], asked.diameter)
    if diameter_mm is None and job is not None:
        diameter_mm = job.engine.damper_diameter_mm
    readings = [
        mark_reading_deg(text, diameter_mm, place_of_reading(number, side))
        for number, each in enumerate(asked.tries, start=1)
        for side, text in zip(SIDES, each, strict=True)
    ]
    by_dial = asked.method == "dial"
    return MarkRead(
        read_pairs(readings, READINGS),
        method=cast(Method, asked.method),
        throw=_throw(asked, job),
        diameter_mm=diameter_mm,
        read_to_deg=degrees(asked.read_to, "read to") if tidy(asked.read_to) else USUAL_READ_TO_DEG,
        dial_step_mm=_length_mm(MARK["dial_step"], asked.dial_step) if by_dial else None,
    )


READINGS = "readings"
"""What a refusal calls the readings of all tries together."""


def place_of_reading(number: int, side: str) -> str:
    """Give what a refusal calls one reading; the tries are counted from 1.

    Parameters
    ----------
    number : int
        Which try, from 1.
    side : str
        Which of its two readings.

    Examples
    --------
    >>> place_of_reading(1, SIDES[1])
    'try 1, other side'
    """
    return f"try {number}, {side}"


def _require_both_sides(tries: Sequence[tuple[str, str]]) -> None:
    for number, each in enumerate(tries, start=1):
        for side, text in zip(SIDES, each, strict=True):
            if not text.strip():
                raise Refusal.at(
                    place_of_reading(number, side),
                    None,
                    "must be read as well",
                    "turn the engine the other way against the stop and read again",
                )


def mark_assumed(asked: MarkAsked) -> tuple[Assumed, ...]:
    """List what stands in for what was not typed.

    Parameters
    ----------
    asked : record
        What was typed.

    Examples
    --------
    >>> [each.field for each in mark_assumed(MarkAsked())]
    ['read to']
    """
    if asked.read_to.strip():
        return ()
    return (Assumed(MARK["read_to"].place, f"{USUAL_READ_TO_DEG:g} deg", "common practice, no source"),)


def _throw(asked: MarkAsked, job: Job | None) -> CrankThrow | None:
    """Take stroke and rod as typed or else from the job; None where the rod is not known."""
    offset_mm = _length_mm(MARK["pin_offset"], asked.pin_offset)
    stroke_mm, rod_mm = _length_mm(MARK["stroke"], asked.stroke), _length_mm(MARK["rod"], asked.rod)
    if stroke_mm is None and rod_mm is None and (job is not None or offset_mm is None):
        return None if job is None else throw_of(job, offset_mm)
    if stroke_mm is None or rod_mm is None:
        raise Refusal.at(
            f"{MARK['stroke'].place}, {MARK['rod'].place}",
            None,
            "must both be given",
            "or neither, where a job states them",
        )
    return CrankThrow(stroke_mm, rod_mm, offset_mm)


def tape_found(asked: TapeAsked, job: Job | None) -> Tape:
    """Compute a timing tape from what was typed.

    Parameters
    ----------
    asked : record
        What was typed.
    job : Job or None
        Where the diameter is taken from that was not typed.

    Raises
    ------
    Refusal
        For what can't be read, or no diameter typed or in the job.

    Examples
    --------
    >>> round(tape_found(TapeAsked(diameter="8 in", thickness="0 mm"), None).mm_per_deg, 4)
    1.7733
    """
    rotation, scale_on, read_from = _way(asked)
    return tape(
        _rim_mm(TAPE["diameter"], asked.diameter, job),
        _degrees(TAPE["before"], asked.before),
        _degrees(TAPE["after"], asked.after),
        every_deg=_degrees(TAPE["every"], asked.every),
        thickness_mm=_needed_mm(TAPE["thickness"], asked.thickness),
        width_mm=_needed_mm(TAPE["width"], asked.width),
        rotation=rotation,
        scale_on=scale_on,
        read_from=read_from,
    )


def ring_found(asked: RingAsked, job: Job | None) -> DegreeRing:
    """Compute a degree ring from what was typed; refusals as for `tape_found`.

    Parameters
    ----------
    asked : record
        What was typed.
    job : Job or None
        Where the diameter is taken from that was not typed.

    Examples
    --------
    >>> ring_found(RingAsked(diameter="9 in", hole="40 mm"), None).advance_way
    'clockwise'
    """
    rotation, scale_on, read_from = _way(asked)
    return degree_ring(
        _rim_mm(RING["diameter"], asked.diameter, job),
        _needed_mm(RING["hole"], asked.hole),
        every_deg=_degrees(RING["every"], asked.every),
        rotation=rotation,
        scale_on=scale_on,
        read_from=read_from,
    )


def _way(asked: ScaleAsked) -> tuple[CrankRotation, ScaleOn, ReadFrom]:
    TAPE["rotation"].require_choice(asked.rotation)
    TAPE["scale_on"].require_choice(asked.scale_on)
    TAPE["read_from"].require_choice(asked.read_from)
    return (
        cast(CrankRotation, asked.rotation),
        cast(ScaleOn, asked.scale_on),
        cast(ReadFrom, asked.read_from),
    )


def _rim_mm(question: Question, text: str, job: Job | None) -> float:
    """Read the diameter, or else take that of the job's damper."""
    given_mm = _length_mm(question, text)
    found_mm = job.engine.damper_diameter_mm if given_mm is None and job is not None else given_mm
    if found_mm is None:
        do = f"{question.why}, or state damper_diameter under [engine] in the job"
        raise Refusal.at(question.place, None, "must be given", do)
    return found_mm


@dataclass(frozen=True)
class Day:
    """What the four sheets at the distributor are drawn from."""

    before: BeforeItGoesIn
    cap: CapPlan
    phasing: RotorPhasing
    setting: StaticSetting


def setting_found(asked: SettingAsked, job: Job) -> StaticSetting:
    """Compute the static setting; what was not typed is what the job states.

    Parameters
    ----------
    asked : record
        What was typed.
    job : Job
        What the shop states of the engine.

    Raises
    ------
    Refusal
        For what can't be read, or lies outside its limits.

    Examples
    --------
    >>> from sparkwright.job import starter_text
    >>> setting_found(SettingAsked(seen="4 before"), Job.from_toml(starter_text())).turn_crank_deg
    6.0
    """
    error_deg = _mark_deg(SETTING["mark_error"], asked.mark_error)
    return static_setting(
        job.distributor.base_deg,
        job.distributor.rotation,
        job.pickup.kind,
        tip_ahead_distributor_deg=job.distributor.rotor_phase_deg,
        mark_error_deg=known_error_deg(job) if error_deg is None else error_deg,
        seen_deg=_mark_deg(SETTING["seen"], asked.seen),
        housing_diameter_mm=_length_mm(SETTING["housing_diameter"], asked.housing_diameter)
        or job.distributor.housing_diameter_mm,
    )


def day_of(job: Job, planned: PlanResult, checked: HardwareResult, setting: StaticSetting) -> Day:
    """Compute what the sheets at the distributor are drawn from.

    Parameters
    ----------
    job : Job
        What the shop states of the engine.
    planned : PlanResult
        Its plan.
    checked : HardwareResult
        Its check.
    setting : StaticSetting
        How the distributor is set.

    Examples
    --------
    >>> from sparkwright.job import starter_text
    >>> from sparkwright.plan.planned_demand import check
    >>> from sparkwright.plan.planner import plan
    >>> job = Job.from_toml(starter_text()).changed("controller", rpm=[600, 3000], kpa=[40, 95])
    >>> planned = plan(job)
    >>> day = day_of(job, planned, check(job, planned), setting_found(SettingAsked(seen="4 before"), job))
    >>> day.setting.turn_crank_deg
    6.0
    """
    return Day(
        bench_work(job), cap_plan(job, checked, planned), rotor_phasing(job, checked, planned), setting
    )


def _length_mm(question: Question, text: str) -> float | None:
    return length_mm(text, question.place) if tidy(text) else None


def _needed_mm(question: Question, text: str) -> float:
    """Read a length, or take the usual one; refuse where there is none."""
    found_mm = _length_mm(question, text if tidy(text) else question.usual)
    if found_mm is None:
        do = f'{question.why}, such as "{question.example}"'
        raise Refusal.at(question.place, None, "must be given", do)
    return found_mm


def _degrees(question: Question, text: str) -> float:
    return degrees(text if tidy(text) else question.usual, question.place)


def _mark_deg(question: Question, text: str) -> float | None:
    return mark_reading_deg(text, field=question.place) if tidy(text) else None
