"""The steps of a job in the order of the work, each saying what is done, what is open and what worries."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from sparkwright.check.doubts import doubts
from sparkwright.job import Job
from sparkwright.light.verdict import LightResult
from sparkwright.mounting.dead_centre import mark_stands
from sparkwright.shop import Revision
from sparkwright.units import System
from sparkwright.web.reckoning import Reckoned
from sparkwright.words.parts import length, mark_words, number_of_cells
from sparkwright.words.plan import over_count
from sparkwright.words.told import told

Mark = Literal["done", "look", "open", "wait"]


@dataclass(frozen=True)
class Step:
    """One step: its page, its mark and a few words of state."""

    name: str
    title: str
    mark: Mark
    words: str


def steps_of(
    revision: Revision,
    reckoned: Reckoned | None,
    light: LightResult | None = None,
    system: System = "metric",
) -> tuple[Step, ...]:
    """Say how each step of a job stands.

    Parameters
    ----------
    revision : Revision
        The revision shown.
    reckoned : Reckoned or None
        Its results, None while they are reckoned.
    light : LightResult or None
        The check of its newest set of light readings, None while nothing was read.
    system : {"metric", "inch"}
        Which units the person reads.
    """
    return (
        _engine(revision.job, system),
        _ignition(reckoned),
        _map(reckoned),
        _mark(revision.job),
        _light(light),
        Step(
            "hand-over",
            "Hand over",
            "done" if revision.handed_over else "open",
            f"by {revision.handed_over_by}" if revision.handed_over else "not signed",
        ),
    )


def job_state(reckoned: Reckoned) -> tuple[Literal["done", "look"], str]:
    """Say in one line how a job stands: the plan's sentence, or the ignition's where only that worries.

    Parameters
    ----------
    reckoned : Reckoned
        Plan and check of the job.
    """
    if reckoned.plan.problems or reckoned.check.state != "problem":
        worries = bool(reckoned.plan.problems) or reckoned.check.state == "problem"
        return ("look" if worries else "done", str(told(reckoned.plan.headline).sentence))
    return ("look", str(told(reckoned.check.headline).sentence))


def _engine(job: Job, system: System) -> Step:
    if job.open_questions():
        return Step("engine", "Engine", "open", "a question is open")
    found = len(doubts(job))
    if found:
        return Step("engine", "Engine", "look", f"{found} unusual fact{'s' if found > 1 else ''}, sure?")
    return Step("engine", "Engine", "done", _engine_words(job, system))


def _engine_words(job: Job, system: System) -> str:
    engine = job.engine
    layout = {"v": "V", "inline": "In-line ", "flat": "Flat "}[engine.layout]
    bore = length(engine.bore_mm, system, ".4g")
    return f"{layout}{engine.cylinders}, {engine.compression_ratio:g}:1, {bore} bore"


def _ignition(reckoned: Reckoned | None) -> Step:
    if reckoned is None:
        return Step("ignition", "Ignition", "wait", "being worked out")
    states = [verdict.state for verdict in reckoned.check.verdicts]
    problems = states.count("problem")
    if problems:
        return Step("ignition", "Ignition", "look", f"{problems} to put right")
    looks = states.count("look")
    if looks:
        return Step("ignition", "Ignition", "look", f"{looks} to look at")
    return Step("ignition", "Ignition", "done", "delivers it")


def _map(reckoned: Reckoned | None) -> Step:
    if reckoned is None:
        return Step("map", "Map", "wait", "being worked out")
    if reckoned.plan.over:
        return Step("map", "Map", "look", over_count(reckoned.plan.over))
    cost = reckoned.plan.reach_cost
    if cost is not None:
        return Step("map", "Map", "look", number_of_cells(cost.cells, "held by reach", "held by reach"))
    if reckoned.plan.problems:
        return Step("map", "Map", "look", "look here")
    return Step("map", "Map", "done", "planned")


def _mark(job: Job) -> Step:
    stands = mark_stands(job)
    if stands == "open":
        return Step("mark", "Mark", "open", "zero not proved")
    if stands == "off":
        return Step("mark", "Mark", "look", f"shows {mark_words(job.light.mark_error_deg or 0.0)}")
    return Step("mark", "Mark", "done", "zero proved at the piston")


def _light(result: LightResult | None) -> Step:
    if result is None:
        return Step("light", "Light", "open", "no reading yet")
    count = len(result.readings)
    readings = f"{count} reading" if count == 1 else f"{count} readings"
    if result.state == "good":
        return Step("light", "Light", "done", f"proved by {readings}")
    if result.state == "open":
        return Step("light", "Light", "open", f"{readings}, not proved yet")
    return Step("light", "Light", "look", f"{readings}, look here")
