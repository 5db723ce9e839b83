"""The sheets of installation day as PDF, for page and API."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Literal, TypeVar

from sparkwright.drawing.true_scale import Paper, Sheet, sheet_pdf
from sparkwright.job import Job
from sparkwright.mounting.asked import day_of, ring_found, setting_found, tape_found
from sparkwright.mounting.questions import RingAsked, SettingAsked, TapeAsked, questions_of
from sparkwright.sheets.degree_ring import ring_sheet
from sparkwright.sheets.installation import DayName, day_sheets
from sparkwright.sheets.tape import tape_sheet
from sparkwright.units import System
from sparkwright.web.reckoning import Reckoned

ScaleName = Literal["timing-tape", "degree-ring"]
SheetName = DayName | ScaleName

Answers = TypeVar("Answers", TapeAsked, RingAsked, SettingAsked)


def answers(record: type[Answers], typed: Mapping[str, str]) -> Answers:
    """Take the answers to a record's questions out of what was typed.

    Parameters
    ----------
    record : type
        Record whose fields are the questions.
    typed : mapping
        What was typed by field.

    Examples
    --------
    >>> answers(RingAsked, {"hole": "40 mm", "paper": "a4"}).hole
    '40 mm'
    """
    return record(**{name: typed[name] for name in questions_of(record) if name in typed})


def printed(
    name: SheetName,
    job: Job,
    reckon: Callable[[Job], Reckoned],
    typed: Mapping[str, str],
    paper: Paper,
    system: System = "metric",
) -> bytes:
    """Print one of the sheets for a job; only those at the distributor need its plan.

    Parameters
    ----------
    name : SheetName
        Which sheet.
    job : Job
        The job that it is for.
    reckon : callable
        Gives plan and check of a job, once they are there.
    typed : mapping
        Answers to the sheet's questions by field.
    paper : Paper
        Paper that it is printed on.
    system : System, optional
        Units that the person reads.
    """
    laid_out = _laid_out(name, job, reckon, typed, paper, system)
    return sheet_pdf(laid_out, paper=paper, system=system)


def _laid_out(
    name: SheetName,
    job: Job,
    reckon: Callable[[Job], Reckoned],
    typed: Mapping[str, str],
    paper: Paper,
    system: System,
) -> Sheet:
    if name == "timing-tape":
        strip = tape_found(answers(TapeAsked, typed), job)
        return tape_sheet(
            strip,
            paper=paper,
            title=job.name,
            invented=job.invented,
            fingerprint=job.fingerprint,
            system=system,
        )
    if name == "degree-ring":
        ring = ring_found(answers(RingAsked, typed), job)
        return ring_sheet(
            ring,
            paper=paper,
            title=job.name,
            invented=job.invented,
            fingerprint=job.fingerprint,
            system=system,
        )
    setting = setting_found(answers(SettingAsked, typed), job)
    reckoned = reckon(job)
    return day_sheets(day_of(job, reckoned.plan, reckoned.check, setting), job, system)[name]
