"""Where the speeds and loads of the map stand: chosen for what a controller has, and taken into the job."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import HTMLResponse, Response
from pydantic import Field

from sparkwright.errors import Refusal, SparkwrightError
from sparkwright.job import MOST_NODES, JobText
from sparkwright.reading import number as number_typed
from sparkwright.shop import Revision
from sparkwright.web.axes import AxesAsked, asked_at_first, axes_asked, left_out, with_axes
from sparkwright.web.pages.common import job_page
from sparkwright.web.pages.map_changes import in_lines, save_changed
from sparkwright.web.routes import OnlyKnown, TheReckoner, TheShop, revision_shown
from sparkwright.words.axes import axes_sentence, axis_text

router = APIRouter()

_Short = Annotated[str, Field(max_length=20)]
_List = Annotated[str, Field(max_length=400)]


class Typed(OnlyKnown):
    """What the form has in its fields, as it was typed; no count at first."""

    number: int | None = None
    speeds: _Short = ""
    loads: _Short = ""
    rpm_step: _Short = "50"
    kpa_step: _Short = "1"
    fixed_rpm: _List = ""
    fixed_kpa: _List = ""

    def asked(self) -> AxesAsked:
        """Read it; each field is named where it can't be."""
        return AxesAsked(
            speeds=_count(self.speeds, "speeds"),
            loads=_count(self.loads, "loads"),
            rpm_step=number_typed(self.rpm_step, unit="rpm", low=0.0, high=12_000.0, field="step of speeds"),
            kpa_step=number_typed(self.kpa_step, unit="kPa", low=0.0, high=400.0, field="step of loads"),
            fixed_rpm=self.fixed_rpm,
            fixed_kpa=self.fixed_kpa,
        )


def _count(typed: str, field: str) -> int:
    value = number_typed(typed, low=2.0, high=MOST_NODES, field=field)
    if not value.is_integer():
        raise Refusal.at(field, typed, f"must be a whole number, 2 to {MOST_NODES}", "count those it has")
    return int(value)


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
        more: dict[str, object] = {"refused": in_lines(problem), "who": typed.who, "why": typed.why}
        return _shown(request, revision, typed, more, 422)


def _shown(
    request: Request,
    revision: Revision,
    typed: Typed,
    more: dict[str, object] | None = None,
    status: int = 200,
) -> HTMLResponse:
    at_first = asked_at_first(revision.job)
    begun = bool(typed.speeds or typed.loads)
    fields = (
        typed
        if begun
        else typed.model_copy(
            update={
                "speeds": str(at_first.speeds),
                "loads": str(at_first.loads),
                "fixed_rpm": at_first.fixed_rpm,
                "fixed_kpa": at_first.fixed_kpa,
            }
        )
    )
    values: dict[str, Any] = {"typed": fields, "choice": None, "refused": "", "who": "", "why": ""}
    try:
        if begun:
            choice = axes_asked(revision.job, typed.asked())
            values |= {
                "choice": choice,
                "sentence": axes_sentence(choice),
                "rows": (
                    ("Speeds, rpm", axis_text(choice.rpm.tolist()), axis_text(choice.even_rpm.tolist())),
                    ("Loads, kPa", axis_text(choice.kpa.tolist()), axis_text(choice.even_kpa.tolist())),
                ),
                "left_out": left_out(revision.job, choice),
            }
    except SparkwrightError as problem:
        values["refused"], status = in_lines(problem), 422
    return job_page(request, "map-axes.html", revision, "map", values | (more or {}), status)
