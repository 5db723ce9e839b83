"""What a person must have read before they sign a job off."""

from __future__ import annotations

from collections.abc import Iterator

from sparkwright.check.result import HardwareResult
from sparkwright.check.verdicts import not_looked_at
from sparkwright.findings import Sentence, each_once
from sparkwright.job import Job
from sparkwright.light.verdict import LightResult
from sparkwright.mounting.dead_centre import mark_stands
from sparkwright.plan.findings import worries
from sparkwright.plan.result import PlanResult
from sparkwright.words.check import what_settles
from sparkwright.words.light import mark_words
from sparkwright.words.told import sentences, told


def worries_told(
    plan: PlanResult, check: HardwareResult, job: Job, light: LightResult | None
) -> tuple[Sentence, ...]:
    """Say all that worries in a job: what must be put right, and what nobody has proved.

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
    # The list of the wiring stands among what must be put right already where it is harmful.
    wiring = (each for each in check.verdicts if each.subject == "wiring" and each.state == "look")
    past_best = (each for each in plan.warnings if each.kind == "hand.past-best")
    found = sentences(each_once((*worries(plan, check), *past_best, *wiring)))
    return (*found, *map(Sentence, (*_still_open(check), *_counted_on(check), *_not_proved(job, light))))


def _still_open(check: HardwareResult) -> Iterator[str]:
    """Say how many points of the wiring are open, where the list's own sentence tells of wrong ones."""
    still_open = sum(item.state == "open" for item in check.wiring)
    if still_open and any(each.kind == "wiring.otherwise" for each in check.verdicts):
        points = "1 point" if still_open == 1 else f"{still_open} points"
        yield f"Beside them, nobody has said how {points} of the wiring list stand{'s' * (still_open == 1)}."


def _counted_on(check: HardwareResult) -> Iterator[str]:
    """Say what the check takes for granted."""
    assumed = not_looked_at(check)
    if assumed:
        yield f"The check counts on assumed values: {what_settles(assumed)}."


def _not_proved(job: Job, light: LightResult | None) -> Iterator[str]:
    stands = mark_stands(job)
    if stands == "open":
        yield "Nobody has proved the balancer's mark, and a light read by a wrong mark proves nothing."
    if stands == "off" and job.light.mark_error_deg is not None:
        yield (
            f"The balancer's mark is off: it shows {mark_words(job.light.mark_error_deg)} at true top dead "
            "centre, and who reads it must know."
        )
    if light is None:
        yield "No light was read: that the engine gets the timing of this map is not proved."
    elif light.state != "good":
        yield f"The light doesn't prove the timing yet. {told(light.headline).sentence}"
