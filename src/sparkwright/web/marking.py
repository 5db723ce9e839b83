"""The mark and the sheets of installation day, from what a page or a program sends to the results."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal, get_args

from sparkwright.check.assumed import Assumed
from sparkwright.drawing.true_scale import Paper, Sheet, sheet_pdf
from sparkwright.errors import Refusal
from sparkwright.evidence.kinds import DeadCentreReadings
from sparkwright.job import Job
from sparkwright.mounting.cap_plan import CapPlan, cap_plan
from sparkwright.mounting.dead_centre import (
    USUAL_READ_TO_DEG,
    CrankThrow,
    DeadCentre,
    Method,
    known_error_deg,
    mark_reading_deg,
    read_pairs,
    throw_of,
)
from sparkwright.mounting.lengths import degrees, length_mm
from sparkwright.mounting.phasing import RotorPhasing, rotor_phasing
from sparkwright.mounting.static_setting import StaticSetting, static_setting
from sparkwright.mounting.tape import CrankRotation, DegreeRing, ReadFrom, ScaleOn, Tape, degree_ring, tape
from sparkwright.reading import tidy
from sparkwright.sheets.cap_plan import cap_plan_sheet
from sparkwright.sheets.degree_ring import ring_sheet
from sparkwright.sheets.phasing import phasing_sheet
from sparkwright.sheets.static_setting import static_sheet
from sparkwright.sheets.tape import tape_sheet
from sparkwright.web.reckoning import Reckoned

DayName = Literal["cap-plan", "rotor-phasing", "static-setting"]
ScaleName = Literal["timing-tape", "degree-ring"]
SheetName = DayName | ScaleName

SIDES = ("one side", "other side")
"""What the two readings of a try are called; the engine is turned against the stop from either."""


@dataclass(frozen=True)
class MarkAsked:
    """Readings at a piston stop or dial as typed; empty is not given.

    ``tries`` are two texts each, as `27 before` and `31 after`.
    """

    method: str = "stop"
    tries: tuple[tuple[str, str], ...] = ()
    read_to: str = ""
    diameter: str = ""
    pin_offset: str = ""
    dial_step: str = ""
    stroke: str = ""
    rod: str = ""


def mark_found(asked: MarkAsked, job: Job | None) -> DeadCentre:
    """Find true top dead centre from what was typed, as `mark_readings` reads it.

    Raises
    ------
    Refusal
        For what can't be read, or does not go together.

    Examples
    --------
    >>> mark_found(MarkAsked(tries=(("27 before", "31 after"),)), None).mark_error_deg
    -2.0
    """
    return mark_readings(asked, job).found()


def mark_readings(asked: MarkAsked, job: Job | None) -> DeadCentreReadings:
    """Read what was typed of the mark, with the lengths that the job states.

    Raises
    ------
    Refusal
        For what can't be read, or does not go together.

    Examples
    --------
    >>> mark_readings(MarkAsked(tries=(("27 before", "31 after"),)), None).pairs
    (ReadPair(before_deg=27.0, after_deg=-31.0),)
    """
    method = _one_of(asked.method, get_args(Method), "method")
    _require_both_sides(asked.tries)
    diameter_mm = _length_mm(asked.diameter, "diameter")
    if diameter_mm is None and job is not None:
        diameter_mm = job.engine.damper_diameter_mm
    readings = [
        mark_reading_deg(text, diameter_mm, f"try {number}, {side}")
        for number, each in enumerate(asked.tries, start=1)
        for side, text in zip(SIDES, each, strict=True)
    ]
    throw = _throw(asked, job)
    return DeadCentreReadings(
        read_pairs(readings, "readings"),
        method="dial" if method == "dial" else "stop",
        stroke_mm=throw.stroke_mm if throw else None,
        rod_mm=throw.rod_mm if throw else None,
        pin_offset_mm=throw.pin_offset_mm if throw else None,
        diameter_mm=diameter_mm,
        read_to_deg=_degrees(asked.read_to, "read to", USUAL_READ_TO_DEG),
        dial_step_mm=_length_mm(asked.dial_step, "dial step") if method == "dial" else None,
    )


def _require_both_sides(tries: Sequence[tuple[str, str]]) -> None:
    for number, each in enumerate(tries, start=1):
        for side, text in zip(SIDES, each, strict=True):
            if not text.strip():
                raise Refusal.at(
                    f"try {number}, {side}",
                    None,
                    "must be read as well",
                    "turn the engine the other way against the stop and read again",
                )


def mark_assumed(asked: MarkAsked) -> tuple[Assumed, ...]:
    """List what stands in for what was not typed."""
    if asked.read_to.strip():
        return ()
    return (Assumed("read to", f"{USUAL_READ_TO_DEG:g} deg", "common practice, no source"),)


def _throw(asked: MarkAsked, job: Job | None) -> CrankThrow | None:
    offset_mm = _length_mm(asked.pin_offset, "pin offset")
    stroke_mm, rod_mm = _length_mm(asked.stroke, "stroke"), _length_mm(asked.rod, "rod")
    if stroke_mm is None and rod_mm is None:
        return None if job is None else throw_of(job, offset_mm)
    if stroke_mm is None or rod_mm is None:
        raise Refusal.at("stroke, rod", None, "must both be given", "or neither, where the job states them")
    return CrankThrow(stroke_mm, rod_mm, offset_mm)


@dataclass(frozen=True)
class ScaleAsked:
    """A tape or ring as typed; an empty diameter is the job's damper."""

    diameter: str = ""
    hole: str = ""
    before: str = "60"
    after: str = "20"
    every: str = "1"
    width: str = "12 mm"
    thickness: str = "0.1 mm"
    rotation: str = "clockwise"
    scale_on: str = "damper"
    read_from: str = "front"


def tape_asked(asked: ScaleAsked, job: Job) -> Tape:
    """Compute a timing tape from what was typed."""
    rotation, scale_on, read_from = _way(asked)
    return tape(
        _rim_mm(asked, job),
        _degrees(asked.before, "before", 60.0),
        _degrees(asked.after, "after", 20.0),
        every_deg=_degrees(asked.every, "every", 1.0),
        thickness_mm=length_mm(asked.thickness or "0.1 mm", "thickness"),
        width_mm=length_mm(asked.width or "12 mm", "width"),
        rotation=rotation,
        scale_on=scale_on,
        read_from=read_from,
    )


def ring_asked(asked: ScaleAsked, job: Job) -> DegreeRing:
    """Compute a degree ring from what was typed."""
    hole_mm = _length_mm(asked.hole, "hole")
    if hole_mm is None:
        raise Refusal.at("hole", None, "must be given", 'measure hub or bolt to clear, such as "40 mm"')
    rotation, scale_on, read_from = _way(asked)
    return degree_ring(
        _rim_mm(asked, job),
        hole_mm,
        every_deg=_degrees(asked.every, "every", 1.0),
        rotation=rotation,
        scale_on=scale_on,
        read_from=read_from,
    )


def _way(asked: ScaleAsked) -> tuple[CrankRotation, ScaleOn, ReadFrom]:
    _one_of(asked.rotation, get_args(CrankRotation), "rotation")
    _one_of(asked.scale_on, get_args(ScaleOn), "scale on")
    _one_of(asked.read_from, get_args(ReadFrom), "read from")
    return (
        "clockwise" if asked.rotation == "clockwise" else "anticlockwise",
        "damper" if asked.scale_on == "damper" else "cover",
        "front" if asked.read_from == "front" else "rear",
    )


def _rim_mm(asked: ScaleAsked, job: Job) -> float:
    given_mm = _length_mm(asked.diameter, "diameter")
    found_mm = job.engine.damper_diameter_mm if given_mm is None else given_mm
    if found_mm is None:
        raise Refusal.at("diameter", None, "must be given", "measure over the rim where the marks stand")
    return found_mm


@dataclass(frozen=True)
class SettingAsked:
    """What the static setting is told beside the job, as typed; an empty diameter is the job's."""

    seen: str = ""
    housing_diameter: str = ""


@dataclass(frozen=True)
class Day:
    """What the three sheets at the distributor are drawn from."""

    cap: CapPlan
    phasing: RotorPhasing
    setting: StaticSetting


def day_of(job: Job, reckoned: Reckoned, asked: SettingAsked) -> Day:
    """Compute cap plan, rotor phasing and static setting, the last with the job's own mark error."""
    setting = static_setting(
        job.distributor.base_deg,
        job.distributor.rotation,
        job.pickup.kind,
        tip_ahead_distributor_deg=job.distributor.rotor_phase_deg,
        mark_error_deg=known_error_deg(job),
        seen_deg=mark_reading_deg(asked.seen, field="seen") if asked.seen.strip() else None,
        housing_diameter_mm=_length_mm(asked.housing_diameter, "housing diameter")
        or job.distributor.housing_diameter_mm,
    )
    return Day(
        cap_plan(job, reckoned.check, reckoned.plan),
        rotor_phasing(job, reckoned.check, reckoned.plan),
        setting,
    )


def printed(
    name: SheetName,
    job: Job,
    reckon: Callable[[Job], Reckoned],
    scale: ScaleAsked,
    setting: SettingAsked,
    paper: Paper,
) -> bytes:
    """Print one of the sheets for a job; only those at the distributor need its plan."""
    return sheet_pdf(_laid_out(name, job, reckon, scale, setting, paper), paper=paper)


def _laid_out(
    name: SheetName,
    job: Job,
    reckon: Callable[[Job], Reckoned],
    scale: ScaleAsked,
    setting: SettingAsked,
    paper: Paper,
) -> Sheet:
    title, invented, fingerprint = job.name, job.invented, job.fingerprint
    if name == "timing-tape":
        strip = tape_asked(scale, job)
        return tape_sheet(strip, paper=paper, title=title, invented=invented, fingerprint=fingerprint)
    if name == "degree-ring":
        ring = ring_asked(scale, job)
        return ring_sheet(ring, paper=paper, title=title, invented=invented, fingerprint=fingerprint)
    day = day_of(job, reckon(job), setting)
    if name == "cap-plan":
        return cap_plan_sheet(day.cap, title, invented, fingerprint)
    if name == "rotor-phasing":
        return phasing_sheet(day.phasing, title, invented, fingerprint)
    return static_sheet(day.setting, title, invented, fingerprint)


def _one_of(text: str, allowed: Sequence[str], field: str) -> str:
    if text not in allowed:
        raise Refusal.at(field, f'"{text}"', f"must be {' or '.join(allowed)}")
    return text


def _length_mm(text: str, field: str) -> float | None:
    return length_mm(text, field) if tidy(text) else None


def _degrees(text: str, field: str, usual: float) -> float:
    """Read a plain number of degrees."""
    return degrees(text, field) if tidy(text) else usual
