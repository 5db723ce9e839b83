"""The caller's sheet: the next test with picture, tools, steps, expected reading and cautions, to send."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from sparkwright import __version__
from sparkwright.desk.advice import Advice, TestNow
from sparkwright.drawing.true_scale import PairsPart, Paper, Sheet, TextsPart, picture_part, sheet_pdf
from sparkwright.errors import Refusal
from sparkwright.job import Job
from sparkwright.pictures.desk import parts_picture
from sparkwright.units import System
from sparkwright.words.assumed import stated_words
from sparkwright.words.desk import caution_texts

STATED = "Stated for this engine"
_FOLDER = Path(__file__).parent


def next_to_send(advice: Advice) -> TestNow:
    """Give the test that the sheet is about.

    Parameters
    ----------
    advice : Advice
        What the desk advises.

    Raises
    ------
    Refusal
        Where there is none to send.
    """
    if advice.test is None:
        raise Refusal.at(
            "sheet",
            None,
            "needs a test to send, and the desk asks for none now",
            "prove the first cause, or withdraw an answer that was wrong",
        )
    return advice.test


def caller_sheet(advice: Advice, job: Job | None = None, *, system: System = "metric") -> Sheet:
    """Lay the caller's sheet out.

    Parameters
    ----------
    advice : Advice
        What the desk advises.
    job : Job, optional
        The job that it is about.
    system : System, optional
        Units that its reader reads.
    """
    test = next_to_send(advice)
    stated = _stated(test, job, system)
    return Sheet(
        kind="Next test",
        title=_title(job),
        invented=job is not None and job.invented,
        headline=test.name,
        action=f"Expected: {test.expected}",
        problems=(),
        rows=(
            (TextsPart("Before you begin", caution_texts(test.cautions), "cautions"),),
            (
                picture_part(parts_picture(test.at, about=test.name)),
                PairsPart("To hand", tuple(("", each) for each in test.tools), label_mm=2.0),
            ),
            *(((TextsPart(STATED, stated, "words"),),) if stated else ()),
            (TextsPart("The test", test.how, "steps"),),
            (TextsPart("What did it show? Tick one and call back.", _boxes(test), "boxes"),),
        ),
        fingerprint="" if job is None else job.fingerprint,
        to_scale=False,
    )


def _title(job: Job | None) -> str:
    return "The caller's engine" if job is None else job.name


def _stated(test: TestNow, job: Job | None, system: System) -> tuple[str, ...]:
    return () if job is None else tuple(stated_words(job, test.states, system))


def _boxes(test: TestNow) -> tuple[str, ...]:
    return (*(each.words for each in test.answers), "I couldn't do it, because:")


def caller_pdf(
    advice: Advice,
    job: Job | None = None,
    *,
    paper: Paper = "a4",
    date: str = "",
    system: System = "metric",
) -> bytes:
    """Print the caller's sheet as PDF.

    Parameters
    ----------
    advice : Advice
        What the desk advises.
    job : Job, optional
        The job that the call is about.
    paper : {"a4", "letter"}
        What it is printed on.
    date : str
        What stands as its date.
    system : System, optional
        Units that its reader reads.
    """
    sheet = caller_sheet(advice, job, system=system)
    return sheet_pdf(sheet, paper=paper, date=date, system=system)


def caller_html(advice: Advice, job: Job | None = None, *, system: System = "metric") -> str:
    """Write the caller's sheet as one page that needs nothing else: no script, no file beside it.

    Parameters
    ----------
    advice : Advice
        What the desk advises.
    job : Job, optional
        The job that the call is about.
    system : System, optional
        Units that its reader reads.
    """
    test = next_to_send(advice)
    return (
        _templates()
        .get_template("desk-test.html")
        .render(
            test=test,
            title=_title(job),
            invented=job is not None and job.invented,
            stated_title=STATED,
            stated=_stated(test, job, system),
            picture=Markup(parts_picture(test.at, about=test.name).svg("paper", caption=False)),
            sentence=parts_picture(test.at).sentence,
            cautions=caution_texts(test.cautions),
            boxes=_boxes(test),
            version=__version__,
        )
    )


@cache
def _templates() -> Environment:
    return Environment(
        loader=FileSystemLoader(_FOLDER),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
