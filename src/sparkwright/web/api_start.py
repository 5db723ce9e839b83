"""The JSON of first start, second opinion, settings, trims and other days."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Depends, Query
from fastapi.responses import Response

from sparkwright.drawing.true_scale import Paper, sheet_pdf
from sparkwright.plan.rules_of_the_trade import second_opinion
from sparkwright.sheets.first_map import first_map_sheet
from sparkwright.sheets.record import record
from sparkwright.sheets.settings_sheet import settings_sheet
from sparkwright.web.api import ANSWERS, Key, RevisionNumber, known_parameters
from sparkwright.web.days import OtherDay, first_kept, other_day, settings_kept, trims_kept
from sparkwright.web.routes import OfJob, TheReckon, TheShop, revision_shown

router = APIRouter(
    prefix="/api/v1",
    responses=ANSWERS,
    dependencies=[Depends(known_parameters)],
    route_class=OfJob,
)

PDF: dict[int | str, dict[str, Any]] = {200: {"content": {"application/pdf": {}}}}


class NumberedDay(OtherDay):
    """Another day, of one revision."""

    number: Annotated[int | None, Query(ge=1, le=10_000_000)] = None


@router.get("/jobs/{key}/start", summary="Give the first map")
def start(shop: TheShop, reckon: TheReckon, key: Key, number: RevisionNumber = None) -> dict[str, Any]:
    """Give the late map for the first start, and the steps from it to the plan."""
    job = revision_shown(shop, key, number).job
    reckoned = reckon(job)
    result = first_kept(job, reckoned)
    return record("start", job, result, assumed=reckoned.plan.assumed, warnings=result.warnings)


@router.get("/jobs/{key}/opinion", summary="Give the second opinion")
def opinion(shop: TheShop, reckon: TheReckon, key: Key, number: RevisionNumber = None) -> dict[str, Any]:
    """Hold the plan against rules of the trade, which change nothing."""
    job = revision_shown(shop, key, number).job
    planned = reckon(job).plan
    result = second_opinion(job, planned)
    return record("opinion", job, result, assumed=planned.assumed, warnings=result.warnings)


@router.get("/jobs/{key}/settings", summary="Give all that the controller is told")
def settings(shop: TheShop, reckon: TheReckon, key: Key, number: RevisionNumber = None) -> dict[str, Any]:
    """Give base, delay, dwell, cranking, limits, idle block, map and trims, in the order of the work."""
    job = revision_shown(shop, key, number).job
    reckoned = reckon(job)
    result = settings_kept(job, reckoned)
    assumed = dict.fromkeys((*reckoned.plan.assumed, *reckoned.check.assumed))
    return record("settings", job, result, assumed=assumed, warnings=result.warnings)


@router.get("/jobs/{key}/trims", summary="Give the trims")
def trims(shop: TheShop, reckon: TheReckon, key: Key, number: RevisionNumber = None) -> dict[str, Any]:
    """Give the trims for the conditions that the job states, held against every corner of them."""
    job = revision_shown(shop, key, number).job
    planned = reckon(job).plan
    result = trims_kept(job, planned)
    return record("trims", job, result, assumed=planned.assumed, warnings=result.warnings)


@router.get("/jobs/{key}/whatif", summary="Give the chance of knock on another day")
def whatif(
    shop: TheShop, reckon: TheReckon, key: Key, asked: Annotated[NumberedDay, Query()]
) -> dict[str, Any]:
    """Give the chance of knock over the map on another day, at another height, on another fuel."""
    job = revision_shown(shop, key, asked.number).job
    planned = reckon(job).plan
    result = other_day(job, planned, asked)
    return record("whatif", job, result, assumed=planned.assumed, warnings=result.warnings)


@router.get(
    "/jobs/{key}/first-start.pdf",
    summary="Give the sheet of the first start",
    response_class=Response,
    responses=PDF,
)
def start_pdf(
    shop: TheShop, reckon: TheReckon, key: Key, number: RevisionNumber = None, paper: Paper = "a4"
) -> Response:
    """Give the late map and the steps to the plan, to tick off, as PDF."""
    job = revision_shown(shop, key, number).job
    sheet = first_map_sheet(first_kept(job, reckon(job)), job, paper)
    return Response(sheet_pdf(sheet, paper=paper), media_type="application/pdf")


@router.get(
    "/jobs/{key}/settings.pdf",
    summary="Give the settings sheet",
    response_class=Response,
    responses=PDF,
)
def settings_pdf(
    shop: TheShop, reckon: TheReckon, key: Key, number: RevisionNumber = None, paper: Paper = "a4"
) -> Response:
    """Give all that the controller is told on one sheet, to tick off and read back, as PDF."""
    job = revision_shown(shop, key, number).job
    reckoned = reckon(job)
    sheet = settings_sheet(settings_kept(job, reckoned), job, paper)
    return Response(sheet_pdf(sheet, paper=paper), media_type="application/pdf")
