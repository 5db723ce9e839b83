"""Printed sheets at true scale: what stands on one, in parts, and the PDF of it.

A page that is to scale carries 100 mm, or 4 in, both ways, drawn by the page and not by the pictures on it.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Literal, get_args

import typst

from sparkwright import __version__
from sparkwright.drawing.look import PX_PER_MM
from sparkwright.drawing.picture import Picture
from sparkwright.drawing.png import fonts, one_file
from sparkwright.errors import Refusal
from sparkwright.units import System

Paper = Literal["a4", "letter"]
Way = Literal["upright", "across"]

PAPER_MM: dict[Paper, tuple[float, float]] = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
"""Width and height of the sheets, upright [mm]: ISO 216 and ANSI/ASME Y14.1."""

MARGIN_MM = {"left": 14.0, "right": 20.0, "top": 12.0, "bottom": 26.0}
"""What every page keeps free; the control lines stand at the right and below [mm]."""

_TEMPLATE = Path(__file__).parent / "true_scale.typ"


@dataclass(frozen=True)
class PicturePart:
    """A picture at its own size, with the note under it."""

    svg: str
    width_mm: float
    height_mm: float
    alt: str
    note: str = ""
    title: str = ""
    shape: str = "picture"


@dataclass(frozen=True)
class PairsPart:
    """Labels with their texts."""

    title: str
    rows: tuple[tuple[str, str], ...]
    label_mm: float = 36.0
    shape: str = "pairs"


@dataclass(frozen=True)
class TablePart:
    """A small table; the first column holds words."""

    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    shape: str = "table"


@dataclass(frozen=True)
class TextsPart:
    """Texts under one another: numbered steps, boxes to tick, cautions with a mark, or plain words.

    ``why`` stands under the title, before the texts.
    """

    title: str
    texts: tuple[str, ...]
    shape: Literal["steps", "boxes", "cautions", "words"]
    why: str = ""


Part = PicturePart | PairsPart | TablePart | TextsPart


@dataclass(frozen=True)
class Sheet:
    """All that stands on one sheet. Plain text: nothing in it is markup.

    ``rows`` are parts from top to bottom; those in one row stand side by side. ``fingerprint`` is empty
    where no job was given. One that isn't ``to_scale`` has nothing on it to measure, and no control lines.
    """

    kind: str
    title: str
    invented: bool
    headline: str
    action: str
    problems: tuple[str, ...]
    rows: tuple[tuple[Part, ...], ...]
    fingerprint: str
    way: Way = "upright"
    to_scale: bool = True


def picture_part(picture: Picture, *, title: str = "", note: str | None = None) -> PicturePart:
    """Put a picture on a sheet at its own size, with its sentence as the note unless another is given.

    Parameters
    ----------
    picture : Picture
        The picture, drawn at its own size.
    title : str, optional
        What stands above it.
    note : str, optional
        What stands under it; None for the picture's own sentence.
    """
    return PicturePart(
        svg=picture.svg("paper", caption=False),
        width_mm=picture.width_px / PX_PER_MM,
        height_mm=picture.height_px / PX_PER_MM,
        alt=f"{picture.title}. {picture.description}",
        note=picture.sentence if note is None else note,
        title=title,
    )


def room_mm(paper: Paper, way: Way = "upright") -> tuple[float, float]:
    """Width and height that a sheet leaves between its margins [mm].

    Parameters
    ----------
    paper : Paper
        The paper.
    way : Way, optional
        Whether it stands upright or lies across.

    Examples
    --------
    >>> room_mm("a4", "across")
    (263.0, 172.0)
    """
    width_mm, height_mm = _page_mm(paper, way)
    return (
        width_mm - MARGIN_MM["left"] - MARGIN_MM["right"],
        height_mm - MARGIN_MM["top"] - MARGIN_MM["bottom"],
    )


def known_paper(paper: str) -> Paper:
    """Take the name of a paper as typed.

    Parameters
    ----------
    paper : str
        Name as it was typed.

    Raises
    ------
    Refusal
        If it is neither of the two.

    Examples
    --------
    >>> known_paper("a4")
    'a4'
    """
    found = next((each for each in get_args(Paper) if each == paper), None)
    if found is None:
        raise Refusal.at("--paper", f'"{paper}"', 'must be "a4" or "letter"')
    known: Paper = found
    return known


CONTROL_LINES: dict[System, tuple[float, str]] = {"metric": (100.0, "100 mm"), "inch": (101.6, "4 in")}
"""How long the lines are that judge a print [mm], and what they are called."""


def sheet_pdf(sheet: Sheet, *, paper: Paper = "a4", date: str = "", system: System = "metric") -> bytes:
    """Print a sheet as PDF; the same bytes for the same sheet.

    Parameters
    ----------
    sheet : Sheet
        What stands on it.
    paper : {"a4", "letter"}
        Sheet size.
    date : str
        Date to print; empty leaves a line to write it on.
    system : {"metric", "inch"}
        Whose ruler the control lines are held against.
    """
    control_mm, control = CONTROL_LINES[system]
    job = f"job {sheet.fingerprint[:12]}" if sheet.fingerprint else "no job file"
    content = {
        "kind": sheet.kind,
        "title": sheet.title,
        "invented": sheet.invented,
        "headline": sheet.headline,
        "action": sheet.action,
        "problems": sheet.problems,
        "rows": [[asdict(part) for part in row] for row in sheet.rows],
        "foot": f"{sheet.kind}, {sheet.title}   Sparkwright {__version__}   {job}",
        "date": date,
        "control_mm": control_mm,
        "control": control,
        "to_scale": sheet.to_scale,
        "page_mm": _page_mm(paper, sheet.way),
        "margin_mm": MARGIN_MM,
    }
    page = typst.Compiler(
        _TEMPLATE.read_bytes(),
        font_paths=fonts(),
        ignore_system_fonts=True,
        sys_inputs={"sheet": json.dumps(content)},
    )
    return one_file(page.compile(format="pdf", timestamp=0))


def _page_mm(paper: Paper, way: Way) -> tuple[float, float]:
    width_mm, height_mm = PAPER_MM[paper]
    return (width_mm, height_mm) if way == "upright" else (height_mm, width_mm)


def one_row_each(parts: Sequence[Part]) -> tuple[tuple[Part, ...], ...]:
    """Let every part stand in a row of its own.

    Parameters
    ----------
    parts : sequence of Part
        Parts of the sheet from top to bottom.
    """
    return tuple((part,) for part in parts)
