"""The map as it is driven: a point that moves over it, with what the controller commands there."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse

from sparkwright.drawing.svg import grouped
from sparkwright.errors import Refusal, SparkwrightError
from sparkwright.job import SPEED_SPAN_RPM
from sparkwright.plan.commanded import commanded
from sparkwright.plan.load_terms import loads_of
from sparkwright.reading import number as number_typed
from sparkwright.web.pages.common import job_page
from sparkwright.web.pages.map_changes import in_lines
from sparkwright.web.routes import TheShop, reckon_of, revision_shown
from sparkwright.web.view import page
from sparkwright.words.loads import own_words

router = APIRouter()

Typed = Annotated[str, Query(max_length=20)]


@router.get("/jobs/{key}/map/at")
def at_a_point(
    request: Request, shop: TheShop, key: str, rpm: Typed = "", load: Typed = "", number: int | None = None
) -> HTMLResponse:
    """Say what the controller commands at a speed and a load in its own terms, between the cells as well."""
    revision = revision_shown(shop, key, number)
    loads = loads_of(revision.job).over_pressure
    values: dict[str, Any] = {
        "revision": revision,
        "rpm": rpm,
        "load": load,
        "unit": loads.unit,
        "there": None,
        "names": (),
        "refused": "",
    }
    status = 200
    try:
        planned = reckon_of(request)(revision.job).plan
        speed = _number(rpm, "speed", "rpm", SPEED_SPAN_RPM)
        kpa = loads.to_kpa_on(planned.cells.spark_map, _number(load, "load", loads.unit, loads.span))
        there = commanded(revision.job, planned, speed, kpa)
        values["there"] = there
        values["names"] = [f"{grouped(cell.rpm)} rpm, {own_words(cell.kpa, loads)}" for cell in there.cells]
    except SparkwrightError as problem:
        values["refused"], status = in_lines(problem), 422
    if request.headers.get("hx-request") == "true":
        return page(request, "map-at-result.html", values, status)
    return job_page(request, "map-at.html", revision, "map", values, status)


def _number(typed: str, field: str, unit: str, span: tuple[float, float]) -> float:
    if not typed.strip():
        raise Refusal.at(field, None, "must be given", f"in {unit}, within the map")
    known = unit if unit in ("rpm", "kPa") else ""
    return number_typed(typed, unit=known, low=span[0], high=span[1], field=field)
