"""The JSON of a map of a person's own, of the map as it is driven, and of where its axes stand."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Depends, Query

from sparkwright.plan.commanded import commanded
from sparkwright.sheets.record import record
from sparkwright.web.api import ANSWERS, Key, RevisionNumber, known_parameters
from sparkwright.web.api_sent import OwnMapSent
from sparkwright.web.axes import AxesAsked, axes_asked
from sparkwright.web.own_map import own_map
from sparkwright.web.routes import OfJob, TheReckon, TheShop, revision_shown

router = APIRouter(
    prefix="/api/v1",
    responses=ANSWERS,
    dependencies=[Depends(known_parameters)],
    route_class=OfJob,
)


@router.post("/jobs/{key}/mine", summary="Hold a map that you have against the plan")
def mine(shop: TheShop, reckon: TheReckon, key: Key, sent: OwnMapSent) -> dict[str, Any]:
    """Give what `sparkwright mine --json` prints: part by part against the plan, and merged."""
    job = revision_shown(shop, key, sent.number).job
    found = own_map(sent.map, job, sent.read_as, reckon)
    return record("mine", job, found.mine, assumed=found.planned.assumed, warnings=found.mine.warnings)


@router.get("/jobs/{key}/at", summary="Give what the controller commands at one speed and load")
def at_a_point(
    shop: TheShop,
    reckon: TheReckon,
    key: Key,
    rpm: Annotated[float, Query(description="Engine speed", allow_inf_nan=False)],
    kpa: Annotated[float, Query(description="Manifold pressure, absolute", allow_inf_nan=False)],
    number: RevisionNumber = None,
) -> dict[str, Any]:
    """Give what the map comes to between its cells, each ceiling there, and the chance of knock."""
    job = revision_shown(shop, key, number).job
    planned = reckon(job).plan
    result = commanded(job, planned, rpm, kpa)
    return record("at", job, result, assumed=planned.assumed, warnings=result.warnings)


class NumberedAxes(AxesAsked):
    """What a controller has, for one revision."""

    number: Annotated[int | None, Query(ge=1, le=10_000_000)] = None


@router.get("/jobs/{key}/axes", summary="Choose where the speeds and loads of the map stand")
def axes(shop: TheShop, key: Key, asked: Annotated[NumberedAxes, Query()]) -> dict[str, Any]:
    """Give what `sparkwright axes --json` prints: axes that give away the least torque, beside even ones."""
    job = revision_shown(shop, key, asked.number).job
    return record("axes", job, axes_asked(job, asked))
