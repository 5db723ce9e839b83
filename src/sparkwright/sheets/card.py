"""The hand-over card as PDF and as one HTML page, from the same content."""

from __future__ import annotations

import base64
import json
from collections.abc import Iterable, Mapping
from html import escape
from pathlib import Path
from string import Template
from typing import Literal, get_args

import typst

from sparkwright.check.result import HardwareResult
from sparkwright.drawing.look import FONT_FAMILY, FONT_FOLDER
from sparkwright.drawing.png import fonts, one_file
from sparkwright.errors import Refusal
from sparkwright.job import Job
from sparkwright.light.verdict import LightResult
from sparkwright.plan.result import PlanResult
from sparkwright.sheets.card_content import CardContent, MapCell, card_content

Paper = Literal["a4", "letter"]

MOST_PAGES = 2
TEXT_SIZES_PT = (9.5, 9.0, 8.5, 8.0)
"""Sizes tried until the card fits its two pages; much that is wrong or was read makes a long card."""

_FOLDER = Path(__file__).parent
_TYPST_PAPER = {"a4": "a4", "letter": "us-letter"}
_FORMS = {"knock": "b", "reach": "u", "reserve": "i"}
_TRIANGLE = (
    '<svg class="over" viewBox="0 0 10 10" role="img" aria-label="set over a ceiling">'
    '<path d="M1 9L9 9L5 1Z" fill="#ffffff" stroke="#1d2329" stroke-width="1.4"/></svg>'
)
_FACES = (("Regular", 400, "normal"), ("Bold", 700, "normal"), ("Italic", 400, "italic"))


def card_pdf(
    plan: PlanResult,
    hardware: HardwareResult,
    job: Job,
    *,
    paper: Paper = "a4",
    date: str = "",
    light: LightResult | None = None,
) -> bytes:
    """Print the card as PDF.

    Parameters
    ----------
    plan, hardware, job
        Results and facts of one job.
    paper : {"a4", "letter"}
        Sheet size.
    date : str
        Date to print; empty leaves a line to write it on.
    light : LightResult, optional
        What a timing light showed, where it was read.

    Returns
    -------
    bytes
        One or two pages; the same bytes for the same input.

    Raises
    ------
    Refusal
        If the paper is not known.
    """
    if paper not in get_args(Paper):
        raise Refusal.at("paper", paper, "must be a4 or letter")
    content = card_content(plan, hardware, job, date, light)
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
) -> str:
    """Write the card as one HTML page that needs nothing else: no script, no file beside it.

    Parameters, result and refusals as for ``card_pdf``; printed from a browser it is the same card.
    """
    if paper not in get_args(Paper):
        raise Refusal.at("paper", paper, "must be a4 or letter")
    content = card_content(plan, hardware, job, date, light)
    template = Template((_FOLDER / "card.html").read_text(encoding="utf-8"))
    return template.substitute(
        job=escape(content["job"]),
        kind="Ignition timing card" + (" (invented example)" if content["invented"] else ""),
        date=escape(content["date"]) or "date ____________",
        who=" ".join(f"<span>{escape(label)}: {escape(text)}</span>" for label, text in content["who"]),
        headline=escape(content["headline"]),
        action=escape(content["action"]),
        problems="".join(
            f'<p class="warn"><b>Look here:</b> {escape(text)}</p>' for text in content["problems"]
        ),
        settings=_pairs(content["settings"]),
        map=_map(content),
        over=_over(content),
        old=f'<p class="soft">{escape(content["old"])}</p>' if content["old"] else "",
        map_notes=escape(" ".join(content["map_notes"])),
        light_check=_items(content["light_check"]),
        light_read=_light_read(content),
        cap=content["cap_svg"],
        cap_note=escape(content["cap_note"]),
        coil_title=escape(content["coil_title"]),
        coil=_pairs(content["coil"]),
        cautions=_items(content["cautions"]),
        facts=_pairs(content["facts"]),
        checks=_checks(content),
        assumed=_assumed(content),
        warnings=_warnings(content),
        foot=escape(f"{content['program']}, job {content['fingerprint']}"),
        faces="".join(_face(*face) for face in _FACES),
        paper=paper,
    )


def _pairs(rows: Iterable[Iterable[str]]) -> str:
    return "".join(f"<tr><th>{escape(label)}</th><td>{escape(text)}</td></tr>" for label, text in rows)


def _items(texts: Iterable[str]) -> str:
    return "".join(f"<li>{escape(text)}</li>" for text in texts)


def _map(content: CardContent) -> str:
    head = "".join(f'<th scope="col">{escape(rpm)}</th>' for rpm in content["rpm"])
    rows = "".join(
        f'<tr><th scope="row">{escape(row["kpa"])}</th>{"".join(_cell(cell) for cell in row["cells"])}</tr>'
        for row in content["rows"]
    )
    return f"<thead><tr><th>kPa</th>{head}</tr></thead><tbody>{rows}</tbody>"


def _light_read(content: CardContent) -> str:
    if not content["light_read"]:
        return ""
    return f"<h2>What the light showed</h2><ul>{_items(content['light_read'])}</ul>"


def _cell(cell: MapCell) -> str:
    text = escape(cell["text"])
    form = _FORMS.get(cell["held"])
    if form is not None:
        text = f"<{form}>{text}</{form}>"
    elif cell["held"] == "hand":
        text = f"{text}\N{BULLET}"
    if cell["over"]:
        text = f"{_TRIANGLE}{text}"
    return f'<td style="background:{cell["fill"]};color:{cell["ink"]}">{text}</td>'


def _over(content: CardContent) -> str:
    if not content["over"]:
        return ""
    return f'<h2>Set by hand over a ceiling</h2><ul class="warn">{_items(content["over"])}</ul>'


def _checks(content: CardContent) -> str:
    if not content["checks"]:
        return ""
    items = "".join(f"<li><b>{escape(what)}</b> {escape(prove)}</li>" for what, prove in content["checks"])
    return f"<h2>Still to prove on this engine</h2><ul>{items}</ul>"


def _assumed(content: CardContent) -> str:
    if not content["assumed"]:
        return ""
    items = "; ".join(f"{escape(field)} = {escape(value)}" for field, value in content["assumed"])
    return f'<h2>Assumed, because the job does not say</h2><p class="soft">{items}.</p>'


def _warnings(content: CardContent) -> str:
    if not content["warnings"]:
        return ""
    sentences = "".join(f'<p class="soft">{escape(text)}</p>' for text in content["warnings"])
    return f"<h2>Worth a look</h2>{sentences}"


def _face(name: str, weight: int, slant: str) -> str:
    file = FONT_FOLDER / f"{FONT_FAMILY.replace(' ', '')}-{name}.ttf"
    data = base64.b64encode(file.read_bytes()).decode("ascii")
    return (
        f'@font-face {{ font-family: "{FONT_FAMILY}"; font-weight: {weight}; font-style: {slant}; '
        f"src: url(data:font/ttf;base64,{data}) }}\n"
    )
