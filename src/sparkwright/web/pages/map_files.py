"""A whole map from elsewhere: held against the plan first, then taken as cells set by hand."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Form, Request, UploadFile
from fastapi.responses import HTMLResponse, Response

from sparkwright.edit.set_cells import of_whole_map
from sparkwright.errors import Refusal, SparkwrightError
from sparkwright.job import Job
from sparkwright.plan.compare import CellOver, compare_map, planned_on_its_axes
from sparkwright.plan.exchange import read_map
from sparkwright.plan.load_terms import loads_of
from sparkwright.plan.spark_map import SparkMap
from sparkwright.reading.tables import MOST_BYTES, text_of
from sparkwright.shop import Revision
from sparkwright.web.pages.common import Who, Why, job_page
from sparkwright.web.pages.map_changes import in_lines, save_cells
from sparkwright.web.routes import OfJob, TheReckon, TheReckoner, TheShop, reckon_of

router = APIRouter(route_class=OfJob)

MOST_LISTED = 100
"""Cells over a ceiling that the page lists; the rest are counted."""


@dataclass(frozen=True)
class _Over:
    """The cells over a ceiling that matter, and how many more there are."""

    cells: tuple[CellOver, ...]
    more: int


@router.post("/jobs/{key}/map/held-against")
def held_against(
    request: Request,
    shop: TheShop,
    key: str,
    number: Annotated[int, Form()],
    text: Annotated[str, Form()] = "",
    file: UploadFile | None = None,
) -> Response:
    """Hold a map from a file, or pasted, against the plan; nothing is saved."""
    revision = shop.jobs.revision(key, number)
    try:
        if file is not None and file.filename:
            text = _text_of(file)
    except SparkwrightError as problem:
        return _page(request, revision, text, {"refused": in_lines(problem)}, 422)
    return _page(request, revision, text)


def _text_of(file: UploadFile) -> str:
    content = file.file.read(MOST_BYTES + 1)
    return text_of(content, "map", file.filename or "map", "a map is a page of text")


def _page(
    request: Request, revision: Revision, text: str, typed: dict[str, object] | None = None, status: int = 200
) -> HTMLResponse:
    values: dict[str, object] = {
        "text": text,
        "comparison": None,
        "over": None,
        "refused": "",
        "who": "",
        "why": "",
        "reason": "",
    }
    try:
        if text.strip():
            reckon, given = reckon_of(request), _read(text, revision.job)
            planned = planned_on_its_axes(revision.job, given, lambda job: reckon(job).plan)
            found = compare_map(planned, given)
            over = tuple(cell for cell in found.over if cell.ceiling != "best")
            values["comparison"] = found
            values["over"] = _Over(over[:MOST_LISTED], max(0, len(over) - MOST_LISTED))
    except SparkwrightError as problem:
        values["refused"], status = in_lines(problem), 422
    return job_page(request, "map-held-against.html", revision, "map", values | (typed or {}), status)


def _read(text: str, job: Job) -> SparkMap:
    if len(text) > MOST_BYTES:
        raise Refusal.at(
            "map", f"{len(text):,} letters", f"must be at most {MOST_BYTES:,}", "a map is a page of text"
        )
    return read_map(text, loads_of(job))


@router.post("/jobs/{key}/map/take")
def take(
    request: Request,
    shop: TheShop,
    reckoner: TheReckoner,
    reckon: TheReckon,
    key: str,
    number: Annotated[int, Form()],
    text: Annotated[str, Form()],
    who: Who = "",
    why: Why = "",
    reason: Annotated[str, Form()] = "",
) -> Response:
    """Take a whole map as cells set by hand, with one reason for all of them."""
    revision = shop.jobs.revision(key, number)
    try:
        planned = reckon(revision.job).without_hand
        wanted = of_whole_map(revision.job, planned, _read(text, revision.job), reason.strip() or None)
        said = why.strip() or "Took a whole map from elsewhere as cells set by hand"
        return save_cells(
            request, shop, reckoner, revision, planned, wanted, who=who, why=said, reason=reason
        )
    except SparkwrightError as problem:
        typed: dict[str, object] = {"refused": in_lines(problem), "who": who, "why": why, "reason": reason}
        return _page(request, revision, text, typed, 422)
