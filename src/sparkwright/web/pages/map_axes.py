"""Where the speeds and loads of the map stand: chosen for what a controller has, and taken into the job."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import HTMLResponse, Response
from pydantic import Field

from sparkwright.errors import Refusal, SparkwrightError
from sparkwright.job import MOST_NODES, Job, JobText, LoadTerm
from sparkwright.plan.choose_axes import AxesChoice
from sparkwright.reading import number as number_typed
from sparkwright.shop import Revision
from sparkwright.web.axes import AxesAsked, asked_at_first, axes_asked, left_out, typed_in, with_axes
from sparkwright.web.pages.common import called, job_page
from sparkwright.web.pages.map_changes import save_changed
from sparkwright.web.routes import OnlyKnown, TheReckoner, TheShop, revision_shown
from sparkwright.words.axes import axes_sentence, axis_text, gains_anew, throttle_note

router = APIRouter()

LABELS = {
    "axes.rpm": "How many speeds",
    "axes.load": "How many loads",
    "axes.rpm_step": "Step of speeds",
    "axes.load_step": "Step of loads",
    "axes.fixed_rpm": "Speeds that must be there",
    "axes.fixed_load": "Loads that must be there",
    "speeds": "How many speeds",
    "loads": "How many loads",
    "step of speeds": "Step of speeds",
    "step of loads": "Step of loads",
    "fixed speeds": "Speeds that must be there",
    "fixed loads": "Loads that must be there",
}
"""What the page calls the fields that may be refused."""

EXAMPLES: dict[LoadTerm, str] = {"inHg vacuum": "18 0", "kPa boost": "-40 0", "psi boost": "-6 0"}
"""Fixed loads as they may be typed, in terms in which 40 and 100 are none that an engine meets."""

_Short = Annotated[str, Field(max_length=20)]
_List = Annotated[str, Field(max_length=400)]


class Typed(OnlyKnown):
    """What the form has in its fields, as it was typed; no count at first."""

    number: int | None = None
    speeds: _Short = ""
    loads: _Short = ""
    rpm_step: _Short = "50"
    load_step: _Short = ""
    fixed_rpm: _List = ""
    fixed_load: _List = ""
    anew: Annotated[str, Field(max_length=3)] = ""

    def asked(self) -> AxesAsked:
        """Read it; each field is named where it can't be."""
        return AxesAsked(
            speeds=_count(self.speeds, "speeds"),
            loads=_count(self.loads, "loads"),
            rpm_step=number_typed(self.rpm_step, unit="rpm", low=0.0, high=12_000.0, field="step of speeds"),
            load_step=_step(self.load_step),
            fixed_rpm=self.fixed_rpm,
            fixed_load=self.fixed_load,
            anew=self.anew == "yes",
        )


def _count(typed: str, field: str) -> int:
    value = number_typed(typed, low=2.0, high=MOST_NODES, field=field)
    if not value.is_integer():
        raise Refusal.at(field, typed, f"must be a whole number, 2 to {MOST_NODES}", "count those it has")
    return int(value)


def _step(typed: str) -> float | None:
    """Read the step of the loads; None where nothing is typed."""
    return number_typed(typed, low=0.0, high=400.0, field="step of loads") if typed.strip() else None


@router.get("/jobs/{key}/map/axes")
def axes(request: Request, shop: TheShop, key: str, typed: Annotated[Typed, Query()]) -> HTMLResponse:
    """Choose speeds and loads, once it is said how many there are; nothing is saved."""
    return _shown(request, revision_shown(shop, key, typed.number), typed)


class Taken(Typed):
    """The same, to be saved: by whom, and why."""

    number: int
    who: str = ""
    why: str = ""


@router.post("/jobs/{key}/map/axes")
def take(
    request: Request, shop: TheShop, reckoner: TheReckoner, key: str, typed: Annotated[Taken, Form()]
) -> Response:
    """Save the axes chosen for what was asked as a new revision."""
    revision = shop.jobs.revision(key, typed.number)
    try:
        chosen = axes_asked(revision.job, typed.asked())
        text = JobText(revision.text, kept=True).stating(with_axes(revision.job, chosen).facts())
        said = typed.why.strip() or f"Chose speeds and loads of the map: {axes_sentence(chosen)}"
        return save_changed(request, shop, reckoner, revision, text, who=typed.who, why=said)
    except SparkwrightError as problem:
        more: dict[str, object] = {"refused": _refused(problem), "who": typed.who, "why": typed.why}
        return _shown(request, revision, typed, more, 422)


def _shown(
    request: Request,
    revision: Revision,
    typed: Typed,
    more: dict[str, object] | None = None,
    status: int = 200,
) -> HTMLResponse:
    job, begun = revision.job, bool(typed.speeds or typed.loads)
    fields = typed if begun else typed.model_copy(update=_at_first(job))
    terms = typed_in(job)
    values: dict[str, Any] = {
        "typed": fields,
        "unit": terms.unit,
        "example": EXAMPLES.get(terms.term, "40 100"),
        "states": job.controller.rpm is not None or job.controller.kpa is not None,
        "note": throttle_note(job.controller.load),
        "choice": None,
        "refused": "",
        "who": "",
        "why": "",
    }
    try:
        if begun:
            choice = axes_asked(job, typed.asked())
            values |= {
                "choice": choice,
                "sentence": axes_sentence(choice),
                "gains_anew": gains_anew(choice),
                "rows": _rows(choice, terms.unit),
                "left_out": left_out(job, choice),
            }
    except SparkwrightError as problem:
        values["refused"], status = _refused(problem), 422
    return job_page(request, "map-axes.html", revision, "map", values | (more or {}), status)


def _at_first(job: Job) -> dict[str, str]:
    """Give what stands in the fields before anybody has typed."""
    asked = asked_at_first(job)
    return {
        "speeds": str(asked.speeds),
        "loads": str(asked.loads),
        "load_step": "" if asked.load_step is None else f"{asked.load_step:g}",
        "fixed_rpm": asked.fixed_rpm,
        "fixed_load": asked.fixed_load,
    }


def _rows(choice: AxesChoice, unit: str) -> list[tuple[str, str, str]]:
    """Give each axis with its name, chosen and even; loads as they are typed first, and in kPa beside."""
    rows = [("Speeds, rpm", choice.rpm, choice.even_rpm), (f"Loads, {unit}", choice.load, choice.even_load)]
    if choice.load_term != "kPa absolute":
        rows.append(("The same in kPa", choice.kpa, choice.even_kpa))
    return [(name, axis_text(chosen.tolist()), axis_text(even.tolist())) for name, chosen, even in rows]


def _refused(problem: SparkwrightError) -> str:
    """Give what was refused as one text that calls each field by its label."""
    return " ".join(called(problem, LABELS))
