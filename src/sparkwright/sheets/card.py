"""The hand-over card as PDF and as one HTML page, from the same content."""

from __future__ import annotations

import base64
import json
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import get_args

import typst
from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from sparkwright.check.result import HardwareResult
from sparkwright.drawing.look import FONT_FAMILY, FONT_FOLDER
from sparkwright.drawing.png import fonts, one_file
from sparkwright.drawing.true_scale import Paper
from sparkwright.errors import Refusal
from sparkwright.job import Job
from sparkwright.light.verdict import LightResult
from sparkwright.plan.result import PlanResult
from sparkwright.plan.settings import Settings
from sparkwright.sheets.card_content import Signature, card_content
from sparkwright.units import System
from sparkwright.words.measured import NOTHING_TOLD, MeasuredTold

MOST_PAGES = 2
TEXT_SIZES_PT = (9.5, 9.0, 8.5, 8.0, 7.6, 7.2, 7.0)
"""Sizes tried until the card fits its two pages; much that is wrong or was read makes a long card."""

_FOLDER = Path(__file__).parent
_TYPST_PAPER = {"a4": "a4", "letter": "us-letter"}
_FACES = (("Regular", 400, "normal"), ("Bold", 700, "normal"), ("Italic", 400, "italic"))


def card_pdf(
    plan: PlanResult,
    hardware: HardwareResult,
    job: Job,
    *,
    paper: Paper = "a4",
    date: str = "",
    light: LightResult | None = None,
    signature: Signature | None = None,
    measured: MeasuredTold = NOTHING_TOLD,
    system: System = "metric",
    settings: Settings | None = None,
) -> bytes:
    """Print the card as PDF.

    Parameters
    ----------
    plan : PlanResult
        The map.
    hardware : HardwareResult
        The check.
    job : Job
        The facts of both.
    paper : {"a4", "letter"}
        Sheet size.
    date : str
        Date to print; empty leaves a line to write it on.
    light : LightResult, optional
        What a timing light showed, where it was read.
    signature : Signature, optional
        How the revision was handed over; lines to sign on otherwise.
    measured : MeasuredTold, optional
        What is measured and what is foretold, and what has changed since the card was signed.
    system : {"metric", "inch"}
        Which units its reader reads; the map stays in the controller's.
    settings : Settings, optional
        What the controller is to be set to, for idle block and trims.

    Returns
    -------
    bytes
        Two pages, one for whoever drives the engine and one for the workshop; more where more is wrong than
        fits. The same bytes for the same input.

    Raises
    ------
    Refusal
        If the paper is not known.
    """
    if paper not in get_args(Paper):
        raise Refusal.at("paper", paper, "must be a4 or letter")
    content = card_content(plan, hardware, job, date, light, signature, measured, system, settings)
    given = {"card": json.dumps(content), "paper": _TYPST_PAPER[paper]}
    fitting = (size_pt for size_pt in TEXT_SIZES_PT if _pages(given, size_pt) <= MOST_PAGES)
    return one_file(_compiler(given, next(fitting, TEXT_SIZES_PT[-1])).compile(format="pdf", timestamp=0))


def _pages(given: Mapping[str, str], size_pt: float) -> int:
    return int(_compiler(given, size_pt).query("<pages>", field="value", one=True))


def _compiler(given: Mapping[str, str], size_pt: float) -> typst.Compiler:
    """Give a compiler of the card; each answers one question only."""
    return typst.Compiler(
        (_FOLDER / "card.typ").read_bytes(),
        font_paths=fonts(),
        ignore_system_fonts=True,
        sys_inputs={**given, "size": f"{size_pt:g}"},
    )


def card_html(
    plan: PlanResult,
    hardware: HardwareResult,
    job: Job,
    *,
    paper: Paper = "a4",
    date: str = "",
    light: LightResult | None = None,
    signature: Signature | None = None,
    measured: MeasuredTold = NOTHING_TOLD,
    system: System = "metric",
    settings: Settings | None = None,
) -> str:
    """Write the card as one HTML page that needs nothing else: no script, no file beside it.

    Printed from a browser it is the card of ``card_pdf``.

    Parameters
    ----------
    plan : PlanResult
        The plan of the job.
    hardware : HardwareResult
        The check of its hardware.
    job : Job
        The job.
    paper : {"a4", "letter"}
        What it is laid out for.
    date : str
        What stands as its date; empty for none.
    light : LightResult, optional
        What the timing light proved.
    signature : Signature, optional
        Who handed the map over, and when.
    measured : MeasuredTold, optional
        What is measured and what is foretold, and what has changed since the card was signed.
    system : {"metric", "inch"}
        Units that the person reads.
    settings : Settings, optional
        What the controller is to be set to, for idle block and trims.

    Raises
    ------
    Refusal
        For another paper.
    """
    if paper not in get_args(Paper):
        raise Refusal.at("paper", paper, "must be a4 or letter")
    content = card_content(plan, hardware, job, date, light, signature, measured, system, settings)
    faces = Markup("".join(_face(*face) for face in _FACES))
    return _templates().get_template("card.html").render(card=content, faces=faces, paper=paper)


@cache
def _templates() -> Environment:
    return Environment(
        loader=FileSystemLoader(_FOLDER),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def _face(name: str, weight: int, slant: str) -> str:
    file = FONT_FOLDER / f"{FONT_FAMILY.replace(' ', '')}-{name}.ttf"
    data = base64.b64encode(file.read_bytes()).decode("ascii")
    return (
        f'@font-face {{ font-family: "{FONT_FAMILY}"; font-weight: {weight}; font-style: {slant}; '
        f"src: url(data:font/ttf;base64,{data}) }}\n"
    )
