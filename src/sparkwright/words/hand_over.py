"""What a person must have read before they sign a job off, what is firm, and what is still to prove."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from sparkwright.check.result import HardwareResult
from sparkwright.check.verdicts import not_looked_at
from sparkwright.findings import Finding, each_once
from sparkwright.job import Job
from sparkwright.light.verdict import LightResult
from sparkwright.mounting.dead_centre import mark_stands
from sparkwright.plan.findings import worries
from sparkwright.plan.result import PlanResult
from sparkwright.units import System
from sparkwright.words.check import what_settles
from sparkwright.words.parts import Said, Writer, mark_words

FIRM_KINDS = ("rotor.covers", "voltage.enough", "cranking.under-post", "wiring.done")
"""What of a check says something to who doesn't know its numbers."""


def worries_of(
    plan: PlanResult, check: HardwareResult, job: Job, light: LightResult | None
) -> tuple[Finding, ...]:
    """Give all that worries in a job: what must be put right, and what nobody has proved.

    Parameters
    ----------
    plan : PlanResult
        The map and its reasons.
    check : HardwareResult
        Whether the ignition can deliver it.
    job : Job
        Its job.
    light : LightResult or None
        The newest check with a timing light, None where nothing was read.
    """
    past_best = (each for each in plan.warnings if each.kind == "hand.past-best")
    return each_once((*worries(plan, check), *past_best, *still_to_prove(check, job, light)))


def still_to_prove(check: HardwareResult, job: Job, light: LightResult | None) -> tuple[Finding, ...]:
    """Give what nobody has looked at or proved yet; parameters as for `worries_of`.

    Parameters
    ----------
    check : HardwareResult
        The check of the job's hardware.
    job : Job
        The job.
    light : LightResult or None
        What the timing light proved; None where none was read.
    """
    # The list of the wiring stands among what must be put right already where it is harmful.
    wiring = (each for each in check.verdicts if each.subject == "wiring" and each.state == "look")
    return (*wiring, *_still_open(check), *_counted_on(check), *_mark(job), *_light(light))


def firm(check: HardwareResult, job: Job, light: LightResult | None) -> tuple[Finding, ...]:
    """Give what is proved or counts on nothing assumed; parameters as for `worries_of`.

    Parameters
    ----------
    check : HardwareResult
        The check of the job's hardware.
    job : Job
        The job.
    light : LightResult or None
        What the timing light proved; None where none was read.
    """
    by_hand = (Finding("hand-over.mark-proved", "good"),) if mark_stands(job) == "right" else ()
    of_light = (light.headline,) if light is not None and light.state == "good" else ()
    checked = (each for each in check.verdicts if each.state == "good" and each.kind in FIRM_KINDS)
    return (*of_light, *by_hand, *checked)


def _still_open(check: HardwareResult) -> Iterator[Finding]:
    """Count the open points of the wiring, where the list's own finding tells of wrong ones."""
    points = sum(item.state == "open" for item in check.wiring)
    if points and any(each.kind == "wiring.otherwise" for each in check.verdicts):
        yield Finding("hand-over.points-open", "look", {"points": points})


def _counted_on(check: HardwareResult) -> Iterator[Finding]:
    assumed = not_looked_at(check)
    if assumed:
        yield Finding("hand-over.counts-on", "look", {"assumed": assumed})


def _mark(job: Job) -> Iterator[Finding]:
    stands = mark_stands(job)
    if stands == "open":
        yield Finding("hand-over.mark-open", "look")
    if stands == "off" and job.light.mark_error_deg is not None:
        yield Finding("hand-over.mark-off", "look", {"error_deg": job.light.mark_error_deg})


def _light(light: LightResult | None) -> Iterator[Finding]:
    if light is None:
        yield Finding("hand-over.no-light", "look")
    elif light.state != "good":
        yield Finding("hand-over.light-open", "look")
        yield light.headline


def _said_points_open(_: System, *, points: int) -> Said:
    open_points, stand = ("1 point", "stands") if points == 1 else (f"{points} points", "stand")
    return f"Beside them, nobody has said how {open_points} of the wiring list {stand}.", ""


def _said_counts_on(_: System, *, assumed: Sequence[str]) -> Said:
    return f"The check counts on assumed values: {what_settles(assumed)}.", ""


def _said_mark_open(_: System) -> Said:
    return "Nobody has proved the balancer's mark, and a light read by a wrong mark proves nothing.", ""


def _said_mark_off(_: System, *, error_deg: float) -> Said:
    return (
        f"The balancer's mark is off: it shows {mark_words(error_deg)} at true top dead centre, and who "
        "reads it must know.",
        "",
    )


def _said_mark_proved(_: System) -> Said:
    return "The balancer's mark is proved at the piston.", ""


def _said_no_light(_: System, **_none: Any) -> Said:
    return "No light was read: that the engine gets the timing of this map is not proved.", ""


def _said_light_open(_: System) -> Said:
    return "The light doesn't prove the timing yet.", ""


WRITERS: dict[str, Writer] = {
    "hand-over.points-open": _said_points_open,
    "hand-over.counts-on": _said_counts_on,
    "hand-over.mark-open": _said_mark_open,
    "hand-over.mark-off": _said_mark_off,
    "hand-over.mark-proved": _said_mark_proved,
    "hand-over.no-light": _said_no_light,
    "hand-over.light-open": _said_light_open,
}
"""How each kind of finding about a hand-over is told."""
