"""Before it runs: the first map and its steps, a second opinion, and the map on another day."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Annotated

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse, Response

from sparkwright.drawing.picture import Picture
from sparkwright.drawing.true_scale import sheet_pdf
from sparkwright.errors import Refusal, SparkwrightError
from sparkwright.job import Job
from sparkwright.pictures.chance_map import chance_map_picture
from sparkwright.pictures.plain_map import NARROW_PX, WIDE_PX, plain_map_pictures
from sparkwright.pictures.rules import rules_picture
from sparkwright.plan.driven import Driven
from sparkwright.plan.exchange import write_map
from sparkwright.plan.first_map import FirstMap, FirstStep
from sparkwright.plan.load_terms import loads_of
from sparkwright.plan.on_rows import own_cells
from sparkwright.plan.rules_of_the_trade import SecondOpinion, second_opinion
from sparkwright.reading import number as number_typed
from sparkwright.sheets.first_map import first_map_sheet
from sparkwright.sheets.settings_sheet import settings_sheet
from sparkwright.units import System
from sparkwright.web.days import OtherDay, first_kept, other_day, settings_kept
from sparkwright.web.pages.common import show_in_job
from sparkwright.web.pages.map_changes import in_lines
from sparkwright.web.routes import TheReckon, TheShop, reckon_of, revision_shown
from sparkwright.web.view import Shown, page, person_of
from sparkwright.words.first_map import BEFORE_THE_FIRST_START, WHILE_STEPPING

router = APIRouter()

Number = int | None


@dataclass(frozen=True, kw_only=True)
class FirstStartPage(Shown):
    """What the page of the first start shows."""

    template = "first-start.html"

    first: FirstMap
    parts: Mapping[str, Sequence[FirstStep]]
    first_pictures: tuple[Picture, Picture]
    before: Sequence[str] = BEFORE_THE_FIRST_START
    cautions: Sequence[str] = WHILE_STEPPING
    opinion: SecondOpinion
    rules_picture: Picture
    asked: OtherDay


@router.get("/jobs/{key}/first-start")
def first_start(
    request: Request, shop: TheShop, reckon: TheReckon, key: str, number: Number = None
) -> Response:
    """Show the first map, its steps, and the rules of the trade beside the plan."""
    revision = revision_shown(shop, key, number)
    reckoned, system = reckon(revision.job), person_of(request).system
    first, opinion = first_kept(revision.job, reckoned), second_opinion(revision.job, reckoned.plan)
    shown = FirstStartPage(
        first=first,
        parts=_parts(first),
        first_pictures=plain_map_pictures(
            own_cells(first.spark_map, revision.job.controller.rows),
            "The first map",
            "first-map",
            loads=loads_of(revision.job).over_pressure,
        ),
        opinion=opinion,
        rules_picture=rules_picture(opinion, system=system),
        asked=OtherDay(),
    )
    return show_in_job(request, shown, revision, "first-start")


def _parts(first: FirstMap) -> dict[str, list[FirstStep]]:
    """Give the steps of each part of the map under its name, in their order."""
    parts: dict[str, list[FirstStep]] = {}
    for step in first.steps:
        parts.setdefault(step.region, []).append(step)
    return parts


@dataclass(frozen=True, kw_only=True)
class OtherDayAsked:
    """What was typed of another day, as it was typed."""

    air: str
    coolant: str
    altitude: str
    ron: str
    second_fuel: bool
    with_trims: bool

    @property
    def read(self) -> OtherDay:
        """The day; refuses an octane number that is none."""
        return OtherDay(**{**asdict(self), "ron": _ron(self.ron)})


@dataclass(frozen=True, kw_only=True)
class OtherDayPage(Shown):
    """What the page of another day shows."""

    template = "other-day.html"

    asked: OtherDayAsked
    driven: Driven | None = None
    pictures: tuple[Picture, ...] = ()
    """For a wide screen, and for a phone."""
    refused: str = ""


@router.get("/jobs/{key}/other-day")
def on_another_day(
    request: Request,
    shop: TheShop,
    key: str,
    air: Annotated[str, Query(max_length=40)] = "",
    coolant: Annotated[str, Query(max_length=40)] = "",
    altitude: Annotated[str, Query(max_length=40)] = "",
    ron: Annotated[str, Query(max_length=10)] = "",
    second_fuel: bool = False,
    with_trims: bool = False,
    number: Number = None,
) -> HTMLResponse:
    """Show the chance of knock over the map on another day; a plain address that saves nothing."""
    revision = revision_shown(shop, key, number)
    asked = OtherDayAsked(
        air=air, coolant=coolant, altitude=altitude, ron=ron, second_fuel=second_fuel, with_trims=with_trims
    )
    shown, status = OtherDayPage(asked=asked), 200
    try:
        found = other_day(revision.job, reckon_of(request)(revision.job).plan, asked.read)
        pictures = _chances(found, revision.job, person_of(request).system)
        shown = replace(shown, driven=found, pictures=pictures)
    except SparkwrightError as problem:
        shown, status = replace(shown, refused=in_lines(problem)), 422
    if request.headers.get("hx-request") == "true":
        return page(request, "other-day-result.html", shown.names(), status)
    return show_in_job(request, shown, revision, "first-start", status)


def _chances(driven: Driven, job: Job, system: System) -> tuple[Picture, Picture]:
    """Draw the chance of knock for a wide screen and for a phone."""
    loads = loads_of(job).over_pressure
    return (
        chance_map_picture(driven, "chance-map", WIDE_PX, system, loads),
        chance_map_picture(driven, "chance-map-narrow", NARROW_PX, system, loads, folded=True),
    )


def _ron(typed: str) -> float | None:
    """Read an octane number as typed; None where none was."""
    if not typed.strip():
        return None
    value = number_typed(typed, unit="RON", low=40.0, high=130.0, field="octane (RON)")
    if not 40.0 <= value <= 130.0:
        raise Refusal.at("octane (RON)", typed, "must be 40 to 130", "read it at the pump")
    return value


@router.get("/jobs/{key}/first-start/{name}.csv")
def step_as_text(shop: TheShop, reckon: TheReckon, key: str, name: str, number: Number = None) -> Response:
    """Give the first map, the map of one step, or the one to type in at the end, as text to keep."""
    job = revision_shown(shop, key, number).job
    reckoned = reckon(job)
    first = first_kept(job, reckoned)
    maps = {"first-map": first.spark_map, "to-type": first.goal}
    maps |= {f"step-{each.number}": each.spark_map for each in first.steps}
    if name not in maps:
        allowed = f"must be first-map, to-type or step-1 to step-{len(first.steps)}"
        raise Refusal.at("step", name[:20], allowed)
    text = write_map(maps[name], "csv", loads_of(job), ceilings=reckoned.plan.cells.between.grid)
    return Response(text, media_type="text/csv; charset=utf-8")


@router.get("/jobs/{key}/first-start.pdf")
def first_start_pdf(
    request: Request, shop: TheShop, reckon: TheReckon, key: str, number: Number = None
) -> Response:
    """Give the sheet of the first start."""
    job = revision_shown(shop, key, number).job
    system = person_of(request).system
    sheet = first_map_sheet(first_kept(job, reckon(job)), job, system=system)
    return _pdf(sheet_pdf(sheet, system=system))


@router.get("/jobs/{key}/settings.pdf")
def settings_pdf(
    request: Request, shop: TheShop, reckon: TheReckon, key: str, number: Number = None
) -> Response:
    """Give the settings sheet."""
    job = revision_shown(shop, key, number).job
    reckoned = reckon(job)
    system, found = person_of(request).system, settings_kept(job, reckoned)
    return _pdf(sheet_pdf(settings_sheet(found, job, system=system), system=system))


def _pdf(content: bytes) -> Response:
    return Response(content, media_type="application/pdf")
