"""The sheets of installation day as PDF, for page and API."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from contextlib import suppress
from typing import Literal, TypeVar

from sparkwright.drawing.true_scale import Paper, Sheet, sheet_pdf
from sparkwright.errors import Refusal
from sparkwright.job import Job
from sparkwright.job.field_kind import Quantity
from sparkwright.mounting.asked import day_of, ring_found, setting_found, tape_found
from sparkwright.mounting.lengths import MOST_LENGTH_MM, length_mm
from sparkwright.mounting.questions import RingAsked, SettingAsked, TapeAsked, questions_of
from sparkwright.sheets.degree_ring import ring_sheet
from sparkwright.sheets.installation import DayName, day_sheets
from sparkwright.sheets.tape import tape_sheet
from sparkwright.units import System
from sparkwright.web.reckoning import Reckoned
from sparkwright.web.typed import read_as

ScaleName = Literal["timing-tape", "degree-ring"]
SheetName = DayName | ScaleName

LENGTH = Quantity("length", "mm", -MOST_LENGTH_MM, MOST_LENGTH_MM, "")

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


def lengths_read(asked: object, system: System) -> dict[str, str]:
    """Say of each length that was typed how it is read, where that isn't plain from the text.

    Parameters
    ----------
    asked : object
        Record of the answers.
    system : System
        Units that the person reads.

    Examples
    --------
    >>> asked = RingAsked(diameter="9 in", hole="40 mm")
    >>> lengths_read(asked, "metric"), lengths_read(asked, "inch")
    ({'diameter': '= 228.60 mm'}, {'hole': '= 1.575 in'})
    """
    read: dict[str, str] = {}
    for name, question in questions_of(type(asked)).items():
        text = getattr(asked, name)
        if question.unit == "mm" and text.strip():
            with suppress(Refusal):
                length_mm(text, question.place)
                read[name] = read_as(LENGTH, text, text, system=system)
    return {name: words for name, words in read.items() if words}


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
