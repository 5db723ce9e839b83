"""The map as it is driven: a point that moves over it, with what the controller commands there."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse

from sparkwright.errors import Refusal, SparkwrightError
from sparkwright.plan.commanded import commanded
from sparkwright.reading import number as number_typed
from sparkwright.web.pages.common import job_page
from sparkwright.web.pages.map_changes import in_lines
from sparkwright.web.routes import TheShop, reckon_of, revision_shown
from sparkwright.web.view import page

router = APIRouter()

Typed = Annotated[str, Query(max_length=20)]


@router.get("/jobs/{key}/map/at")
def at_a_point(
    request: Request, shop: TheShop, key: str, rpm: Typed = "", kpa: Typed = "", number: int | None = None
) -> HTMLResponse:
    """Say what the controller commands at a speed and load, between the cells of the map as well."""
    revision = revision_shown(shop, key, number)
    values: dict[str, Any] = {"revision": revision, "rpm": rpm, "kpa": kpa, "there": None, "refused": ""}
    status = 200
    try:
        planned = reckon_of(request)(revision.job).plan
        speed, load = _number(rpm, "speed", "rpm"), _number(kpa, "load", "kPa")
        values["there"] = commanded(revision.job, planned, speed, load)
    except SparkwrightError as problem:
        values["refused"], status = in_lines(problem), 422
    if request.headers.get("hx-request") == "true":
        return page(request, "map-at-result.html", values, status)
    return job_page(request, "map-at.html", revision, "map", values, status)


def _number(typed: str, field: str, unit: str) -> float:
    if not typed.strip():
        raise Refusal.at(field, None, "must be given", f"in {unit}, within the map")
    return number_typed(typed, unit=unit, low=0.0, high=12_000.0, field=field)
