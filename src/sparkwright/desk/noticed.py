"""What the program itself found on an engine, as answers: by kind and state, never by words."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from sparkwright.check.hardware import check_hardware
from sparkwright.check.result import HardwareResult
from sparkwright.desk.knowledge import NOTICED, QUIET, FindingAsked, Given, Knowledge, Source
from sparkwright.drive.result import DriveResult
from sparkwright.findings import Finding
from sparkwright.job import Job
from sparkwright.light.verdict import LightResult
from sparkwright.plan.result import PlanResult

Found = Mapping[Source, Sequence[Finding]]
"""Findings by where they come from; what wasn't looked at is left out."""


@dataclass(frozen=True)
class Noticed:
    """A finding that counts, and under which name the desk knows it."""

    question: str
    finding: Finding


def found_on(
    job: Job,
    light: LightResult | None = None,
    plan: PlanResult | None = None,
    check: HardwareResult | None = None,
    drive: DriveResult | None = None,
) -> Found:
    """Give what check, light, plan and a drive found on the engine of a job.

    Parameters
    ----------
    job : Job
        What is known of the engine.
    light : LightResult, optional
        The check of its light readings.
    plan : PlanResult, optional
        Its plan, where there is one.
    check : HardwareResult, optional
        The check of its ignition; done here where it isn't given.
    drive : DriveResult, optional
        What a drive of it shows.
    """
    found: dict[Source, Sequence[Finding]] = {"check": (check or check_hardware(job)).verdicts}
    if light is not None and light.fit is not None:
        found["light"] = light.findings
    if plan is not None:
        found["plan"] = (*plan.problems, plan.headline, *plan.warnings)
    if drive is not None:
        found["drive"] = drive.findings
    return found


def answers_of(knowledge: Knowledge, found: Found) -> tuple[Given, ...]:
    """Give what was found as answers.

    It is quiet only where the program looked and all that it says of the same subjects is good; a finding
    that is open, or counts on what is merely assumed, answers nothing.

    Parameters
    ----------
    knowledge : Knowledge
        What the desk knows.
    found : mapping
        Findings by where they come from.
    """
    answers = []
    for asked in knowledge.findings:
        there = found.get(asked.source)
        if there is None:
            continue
        if any(_is_one(asked, each) for each in there):
            answers.append(Given(question=asked.id, answer=NOTICED))
        elif _is_quiet(asked, there):
            answers.append(Given(question=asked.id, answer=QUIET))
    return tuple(answers)


def noticed_in(knowledge: Knowledge, found: Found) -> tuple[Noticed, ...]:
    """Give the findings that count against or for a cause, to be told.

    Parameters
    ----------
    knowledge : Knowledge
        What the desk knows.
    found : mapping
        Findings by where they come from.
    """
    return tuple(
        Noticed(asked.id, each)
        for asked in knowledge.findings
        for each in found.get(asked.source, ())
        if _is_one(asked, each)
    )


def _is_one(asked: FindingAsked, finding: Finding) -> bool:
    return finding.kind in asked.kinds and finding.state in asked.states


def _is_quiet(asked: FindingAsked, there: Iterable[Finding]) -> bool:
    subjects = {kind.partition(".")[0] for kind in asked.kinds}
    about = [each for each in there if each.subject in subjects]
    return bool(about) and all(each.state == "good" for each in about)
