"""Before it runs: the first map and its steps, a second opinion, and the map on another day."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, Any

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
from sparkwright.plan.first_map import FirstMap, FirstStep, first_map
from sparkwright.plan.load_terms import loads_of
from sparkwright.plan.rules_of_the_trade import SecondOpinion, second_opinion
from sparkwright.reading import number as number_typed
from sparkwright.sheets.first_map import first_map_sheet
from sparkwright.sheets.settings_sheet import settings_sheet
from sparkwright.units import System
from sparkwright.web.days import OtherDay, other_day, settings_kept
from sparkwright.web.pages.common import job_page, show_in_job
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
    planned, system = reckon(revision.job).plan, person_of(request).system
    first, opinion = first_map(revision.job, planned), second_opinion(revision.job, planned)
    shown = FirstStartPage(
        first=first,
        parts=_parts(first),
        first_pictures=plain_map_pictures(
            first.spark_map, "The first map", "first-map", loads=loads_of(revision.job).over_pressure
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
    typed = {"air": air, "coolant": coolant, "altitude": altitude, "ron": ron}
    values: dict[str, Any] = {
        "revision": revision,
        "asked": typed | {"second_fuel": second_fuel, "with_trims": with_trims},
        "driven": None,
        "refused": "",
    }
    status = 200
    try:
        day = OtherDay(
            air=air,
            coolant=coolant,
            altitude=altitude,
            ron=_ron(ron),
            second_fuel=second_fuel,
            with_trims=with_trims,
        )
        found = other_day(revision.job, reckon_of(request)(revision.job).plan, day)
        values |= {"driven": found, "pictures": _chances(found, revision.job, person_of(request).system)}
    except SparkwrightError as problem:
        values["refused"], status = in_lines(problem), 422
    if request.headers.get("hx-request") == "true":
        return page(request, "other-day-result.html", values, status)
    return job_page(request, "other-day.html", revision, "first-start", values, status)


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
    """Give the first map, or the map of one step, as text to keep."""
    job = revision_shown(shop, key, number).job
    planned = reckon(job).plan
    first = first_map(job, planned)
    maps = {"first-map": first.spark_map} | {f"step-{each.number}": each.spark_map for each in first.steps}
    if name not in maps:
        raise Refusal.at("step", name[:20], f"must be first-map or step-1 to step-{len(first.steps)}")
    text = write_map(maps[name], "csv", loads_of(job), ceilings=planned.cells.between.grid)
    return Response(text, media_type="text/csv; charset=utf-8")


@router.get("/jobs/{key}/first-start.pdf")
def first_start_pdf(
    request: Request, shop: TheShop, reckon: TheReckon, key: str, number: Number = None
) -> Response:
    """Give the sheet of the first start."""
    job = revision_shown(shop, key, number).job
    system = person_of(request).system
    sheet = first_map_sheet(first_map(job, reckon(job).plan), job, system=system)
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
