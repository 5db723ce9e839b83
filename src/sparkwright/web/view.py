"""What the pages have in common: templates, how things are written, and the person's own settings."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass, fields
from datetime import datetime
from pathlib import Path
from typing import ClassVar, Literal, cast, get_args
from urllib.parse import quote, unquote

from fastapi import Request
from fastapi.responses import HTMLResponse, Response
from jinja2 import Environment, PackageLoader, StrictUndefined, pass_context, select_autoescape
from jinja2.runtime import Context
from markupsafe import Markup

from sparkwright import __version__
from sparkwright.check.assumed import Assumed
from sparkwright.drawing.look import FONT_FOLDER, TOKENS
from sparkwright.drawing.picture import Picture
from sparkwright.drawing.svg import grouped, style
from sparkwright.findings import Finding, Sentence
from sparkwright.pictures.difference import moved_picture
from sparkwright.plan.worth import MeasureFirst
from sparkwright.units import System
from sparkwright.words.assumed import value_words, why_words
from sparkwright.words.log import clock_words
from sparkwright.words.parts import in_units, torque
from sparkwright.words.told import STATE_WORDS, told
from sparkwright.words.worth import worth_words

STATIC = Path(__file__).parent / "static"
SCRIPT_FOLDERS = ("map",)
Brightness = Literal["auto", "light", "dark"]


@dataclass(frozen=True)
class Person:
    """Who sits at the screen and how they read: kept in cookies, nothing more is known of them."""

    name: str
    system: System
    brightness: Brightness


def person_of(request: Request) -> Person:
    """Read the person's own settings; a cookie that is none of ours counts as not there.

    Parameters
    ----------
    request : Request
        The request with its cookies.
    """
    system = request.cookies.get("units", "")
    brightness = request.cookies.get("brightness", "")
    return Person(
        name=unquote(request.cookies.get("who", ""))[:80],
        system=cast(System, system) if system in get_args(System) else "metric",
        brightness=cast(Brightness, brightness) if brightness in get_args(Brightness) else "auto",
    )


def remembered(name: str) -> str:
    """Write a name as a cookie holds it.

    Parameters
    ----------
    name : str
        Name of the person.
    """
    return quote(name)


def _tokens(name: str) -> str:
    return "; ".join(f"--{token}: {colour}" for token, colour in TOKENS[name].items())


def look_css() -> str:
    """Give the colours of `drawing/look.py` to pages and to the drawings in them, so both stay one look."""
    spark = "; ".join(f"--spark-{token}: var(--{token})" for token in TOKENS["light"])
    return (
        f":root {{ {_tokens('light')}; color-scheme: light }}\n"
        f"@media (prefers-color-scheme: dark) {{ :root {{ {_tokens('dark')}; color-scheme: dark }} }}\n"
        f':root[data-brightness="light"] {{ {_tokens("light")}; color-scheme: light }}\n'
        f':root[data-brightness="dark"] {{ {_tokens("dark")}; color-scheme: dark }}\n'
        f"@media print {{ :root, :root[data-brightness] {{ {_tokens('paper')}; color-scheme: light }} }}\n"
        f"{style('auto')}\n:root .spark-auto {{ {spark} }}\n"
    )


OFFLINE_FILES = (
    "offline.html",
    "look.css",
    "workbench.css",
    "htmx.min.js",
    "page.js",
    "waiting.js",
    "keys.js",
    "light.js",
    "dyno.js",
    "offline.js",
    "mark.svg",
)
"""What a browser keeps besides the typeface, so that readings can be typed without the workbench."""


def offline_html() -> str:
    """Give the page that stands in where the workbench doesn't answer; it knows no job and no person."""
    nobody = Person(name="", system="metric", brightness="auto")
    values = {"person": nobody, "path": "", "shared": False, "offline": True}
    return _TEMPLATES.get_template("offline.html").render(values)


def worker_js() -> str:
    """Give the script that keeps our files in the browser, beginning with their list.

    The list changes with every one of them, and the script's address with it.
    """
    fonts = [f"/static/{each.name}" for each in sorted(FONT_FOLDER.glob("*.ttf"))]
    files = [*(_address(name) for name in OFFLINE_FILES), *fonts]
    return f"const FILES = {json.dumps(files)};\n" + (STATIC / "worker.js").read_text(encoding="utf-8")


_MADE = {"look.css": look_css, "offline.html": offline_html, "worker.js": worker_js}


def static_file(name: str) -> bytes | None:
    """Give one of our own files, None where there is none of that name.

    Parameters
    ----------
    name : str
        Name of the file, as it was asked for.
    """
    if name in _MADE:
        return _MADE[name]().encode()
    ours = (*STATIC.iterdir(), *FONT_FOLDER.glob("*.ttf"))
    found = {each.name: each for each in ours if each.is_file()}.get(name)
    return found.read_bytes() if found else None


def script_of(folder: str, name: str) -> bytes | None:
    """Give one of the scripts of a folder, which import each other, None where there is none of that name.

    Parameters
    ----------
    folder : str
        Name of the folder, as it was asked for.
    name : str
        Name of the script, as it was asked for.
    """
    found = {each.name: each for each in _scripts(folder)}.get(name)
    return found.read_bytes() if found else None


def _scripts(folder: str) -> list[Path]:
    return sorted((STATIC / folder).glob("*.js")) if folder in SCRIPT_FOLDERS else []


def _address(name: str) -> str:
    folder, _, script = name.rpartition("/")
    if folder:
        # Scripts name each other by where they stand, so the folder of all carries what changes with any.
        contents = b"".join(each.read_bytes() for each in _scripts(folder))
        return f"/static/{folder}/{hashlib.sha256(contents).hexdigest()[:12]}/{script}"
    content = static_file(name) or b""
    return f"/static/{name}?{hashlib.sha256(content).hexdigest()[:12]}"


class _Addresses:
    """Addresses of our own files that change when the file does, so that browsers may keep them."""

    def __init__(self) -> None:
        self._known: dict[str, str] = {}

    def __call__(self, name: str) -> str:
        if name not in self._known:
            self._known[name] = _address(name)
        return self._known[name]


def when(moment: datetime | None) -> str:
    """Write a moment for a person, in the time of this machine.

    Parameters
    ----------
    moment : datetime or None
        The moment with its zone; None where there is none.

    Examples
    --------
    >>> when(None)
    ''
    """
    return "" if moment is None else moment.astimezone().strftime("%d %b %Y, %H:%M")


def _system(context: Context) -> System:
    person = context["person"]
    return person.system if isinstance(person, Person) else "metric"


@pass_context
def said(context: Context, finding: Finding | Sentence | str) -> str:
    """Say a finding's sentence, or one that is made already, in the person's own units.

    Parameters
    ----------
    context : Context
        The template's, with the person's settings.
    finding : Finding or Sentence or str
        A finding, or a sentence.
    """
    system = _system(context)
    sentence = told(finding, system).sentence if isinstance(finding, Finding) else finding
    return in_units(sentence, system)


@pass_context
def to_do(context: Context, finding: Finding) -> str:
    """Say what a finding asks to be done, in the person's own units; empty where there is nothing to do.

    Parameters
    ----------
    context : Context
        The template's, with the person's settings.
    finding : Finding
        The finding.
    """
    return str(told(finding, _system(context)).action or "")


@pass_context
def taken(context: Context, assumed: Assumed | MeasureFirst) -> str:
    """Say the value that was taken for a fact, in the person's own units.

    Parameters
    ----------
    context : Context
        The template's, with the person's settings.
    assumed : Assumed or MeasureFirst
        What was taken, or what to measure first.
    """
    return value_words(assumed.field, assumed.value, _system(context))


@pass_context
def why_taken(context: Context, assumed: Assumed | MeasureFirst) -> str:
    """Say why it was taken, or what hangs on it.

    Parameters
    ----------
    context : Context
        The template's, with the person's settings.
    assumed : Assumed or MeasureFirst
        What was taken, or what to measure first.
    """
    return why_words(assumed.field, assumed.value, assumed.why, _system(context))


@pass_context
def torque_words(context: Context, value_nm: float, form: str = ".1f") -> str:
    """Say a torque in the person's units.

    Parameters
    ----------
    context : jinja2.runtime.Context
        The template's, for the person's units.
    value_nm : float
        The torque [N m].
    form : str, optional
        How the number is written.
    """
    return torque(value_nm, _system(context), form)


def topic(finding: Finding) -> str:
    """Say in a word or two what a finding is about.

    Parameters
    ----------
    finding : Finding
        The finding.
    """
    return told(finding).topic


def stopped(sentence: str) -> str:
    """End a sentence that another one follows.

    Parameters
    ----------
    sentence : str
        The sentence, with or without its stop.

    Examples
    --------
    >>> stopped("bore = 9: must be more"), stopped("Read it again.")
    ('bore = 9: must be more.', 'Read it again.')
    """
    return sentence if sentence.endswith((".", "!", "?")) else f"{sentence}."


def drawing(picture: Picture) -> Markup:
    """Put a picture into a page, with its sentence as text below it and its numbers as a table to open.

    Parameters
    ----------
    picture : Picture
        The picture.
    """
    return Markup(picture.within_page())


def environment() -> Environment:
    """Build the templates; a name that isn't there is a fault, never an empty place."""
    templates = Environment(
        loader=PackageLoader("sparkwright.web", "templates"),
        autoescape=select_autoescape(default=True),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    templates.globals |= {
        "static": _Addresses(),
        "version": __version__,
        "drawing": drawing,
        "moved_picture": moved_picture,
        "state_words": STATE_WORDS,
    }
    templates.filters |= {
        "when": when,
        "grouped": grouped,
        "said": said,
        "to_do": to_do,
        "topic": topic,
        "taken": taken,
        "why_taken": why_taken,
        "worth_words": worth_words,
        "torque_words": torque_words,
        "stopped": stopped,
        "clock": clock_words,
    }
    return templates


_TEMPLATES = environment()


def path_of(request: Request) -> str:
    """Give the path that was asked for, as the server read it.

    Not `request.url`: some versions of Starlette build that from the Host header, which the sender chooses.

    Parameters
    ----------
    request : Request
        The request.
    """
    path: str = request.scope["path"]
    return path


def later(answer: Response, seconds: int) -> Response:
    """Say when to ask again (RFC 9110, section 10.2.3).

    Parameters
    ----------
    answer : Response
        The answer that goes to who asked.
    seconds : int
        When to ask again [s].
    """
    answer.headers["retry-after"] = str(seconds)
    return answer


@dataclass(frozen=True, kw_only=True)
class Shown:
    """What one template gets beyond the frame: a subclass for each names it, and types each of its names."""

    template: ClassVar[str]

    def names(self) -> dict[str, object]:
        """Give each name with what the template gets for it."""
        return {each.name: getattr(self, each.name) for each in fields(self)}


def show(request: Request, shown: Shown, status: int = 200) -> HTMLResponse:
    """Write one page, or a part of one, from what its template gets.

    Parameters
    ----------
    request : Request
        The request that is answered.
    shown : Shown
        What the template gets, and which it is.
    status : int, optional
        Status of HTTP.
    """
    return page(request, shown.template, shown.names(), status)


def page(request: Request, template: str, values: Mapping[str, object], status: int = 200) -> HTMLResponse:
    """Write one page, or a part of one.

    Parameters
    ----------
    request : Request
        The request that is answered.
    template : str
        Name of the template.
    values : mapping
        What the template needs.
    status : int, optional
        Status of HTTP.
    """
    person = person_of(request)
    text = _TEMPLATES.get_template(template).render(
        person=person, path=path_of(request), shared=request.app.state.settings.shared, **values
    )
    return HTMLResponse(text, status)
