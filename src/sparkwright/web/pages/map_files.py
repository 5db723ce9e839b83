"""A whole map from elsewhere: held against the plan first, then taken as cells set by hand."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Literal

from fastapi import APIRouter, Form, Request, UploadFile
from fastapi.responses import HTMLResponse, Response

from sparkwright.edit.set_cells import of_whole_map
from sparkwright.errors import SparkwrightError
from sparkwright.findings import each_once
from sparkwright.job import Job
from sparkwright.pictures.plain_map import plain_map_pictures
from sparkwright.plan.compare import CellOver, compare_map
from sparkwright.plan.exchange import Form as MapForm
from sparkwright.plan.exchange import write_map
from sparkwright.plan.load_terms import loads_of
from sparkwright.plan.on_rows import own_cells
from sparkwright.reading.tables import MOST_BYTES, text_of
from sparkwright.shop import Revision
from sparkwright.web.own_map import OwnMap, own_map, question_of, read_own
from sparkwright.web.pages.common import Who, Why, job_page
from sparkwright.web.pages.map_changes import in_lines, save_cells
from sparkwright.web.pages.spark_map import MEDIA
from sparkwright.web.routes import OfJob, TheReckon, TheReckoner, TheShop, reckon_of
from sparkwright.words.loads import load_words

router = APIRouter(route_class=OfJob)

MOST_LISTED = 100
"""Cells over a ceiling that the page lists; the rest are counted."""

How = Annotated[str, Form(max_length=80)]
"""How a map is to be read; "" where nobody has said."""


@dataclass(frozen=True)
class _Over:
    """The cells over a ceiling that matter, and how many more there are."""

    cells: tuple[CellOver, ...]
    loads: tuple[str, ...]
    """The loads of the cells as the controller has them, kPa beside where that is something else."""
    more: int


@router.post("/jobs/{key}/map/held-against")
def held_against(
    request: Request,
    shop: TheShop,
    key: str,
    number: Annotated[int, Form()],
    text: Annotated[str, Form()] = "",
    read_as: How = "",
    file: UploadFile | None = None,
) -> Response:
    """Hold a map from a file, or pasted, against the plan; nothing is saved."""
    revision = shop.jobs.revision(key, number)
    try:
        if file is not None and file.filename:
            text = _text_of(file)
    except SparkwrightError as problem:
        return _page(request, revision, text, read_as, {"refused": in_lines(problem)}, 422)
    return _page(request, revision, text, read_as)


def _text_of(file: UploadFile) -> str:
    content = file.file.read(MOST_BYTES + 1)
    return text_of(content, "map", file.filename or "map", "a map is a page of text")


def _page(
    request: Request,
    revision: Revision,
    text: str,
    how: str,
    typed: Mapping[str, object] | None = None,
    status: int = 200,
) -> HTMLResponse:
    values: dict[str, object] = {
        "text": text,
        "read_as": how,
        "asked": None,
        "comparison": None,
        "over": None,
        "refused": "",
        "who": "",
        "why": "",
        "reason": "",
    }
    try:
        if text.strip():
            reckon = reckon_of(request)
            asked = None if how else question_of(text, revision.job, reckon)
            if asked is not None:
                heading, loads = f"Read {asked.looks.name}", loads_of(revision.job).over_pressure
                looks = plain_map_pictures(asked.looks.spark_map, heading, "looks", loads=loads)
                values |= {"asked": asked, "looks_pictures": looks}
            else:
                values |= _held(revision.job, own_map(text, revision.job, how, reckon))
    except SparkwrightError as problem:
        values["refused"], status = in_lines(problem), 422
    return job_page(request, "map-held-against.html", revision, "map", values | dict(typed or {}), status)


def _held(job: Job, own: OwnMap) -> dict[str, object]:
    """Give what the page shows of a map that was read."""
    found = compare_map(own.planned, own.reading.spark_map)
    over = tuple(cell for cell in found.over if cell.ceiling != "best")
    listed, loads = over[:MOST_LISTED], loads_of(job).over_pressure
    in_words = tuple(load_words(cell.kpa, loads) for cell in listed)
    of_regions = (each for region in own.mine.regions for each in region.findings)
    return {
        "read_as": own.reading.name,
        "comparison": found,
        "over": _Over(listed, in_words, max(0, len(over) - MOST_LISTED)),
        "mine": own.mine,
        "by_region": each_once((*of_regions, *own.mine.warnings)),
        "merged_text": write_map(
            own.mine.merged, "tsv", loads_of(job), ceilings=own.planned.cells.between.grid
        ),
        "merged_pictures": plain_map_pictures(
            own_cells(own.mine.merged, job.controller.rows),
            "The merged map; cells that are the plan's are outlined",
            "merged",
            own.mine.changed,
            loads,
        ),
    }


@router.post("/jobs/{key}/map/merged")
def merged(
    shop: TheShop,
    reckon: TheReckon,
    key: str,
    number: Annotated[int, Form()],
    text: Annotated[str, Form()],
    read_as: How = "",
    form: Annotated[MapForm, Form(alias="as")] = "csv",
) -> Response:
    """Give the map merged of a person's own and the plan, as text to keep; nothing is saved."""
    job = shop.jobs.revision(key, number).job
    own = own_map(text, job, read_as, reckon)
    name = f"{key}-revision-{number}-merged.{form}"
    return Response(
        write_map(own.mine.merged, form, loads_of(job), ceilings=own.planned.cells.between.grid),
        media_type=MEDIA[form],
        headers={"content-disposition": f'attachment; filename="{name}"'},
    )


@router.post("/jobs/{key}/map/take")
def take(
    request: Request,
    shop: TheShop,
    reckoner: TheReckoner,
    reckon: TheReckon,
    key: str,
    number: Annotated[int, Form()],
    text: Annotated[str, Form()],
    which: Annotated[Literal["whole", "merged"], Form()] = "whole",
    read_as: How = "",
    who: Who = "",
    why: Why = "",
    reason: Annotated[str, Form()] = "",
) -> Response:
    """Take a map, or what is merged of it and the plan, as cells set by hand with one reason for them all."""
    revision = shop.jobs.revision(key, number)
    try:
        planned = reckon(revision.job).without_hand
        if which == "merged":
            given = own_map(text, revision.job, read_as, reckon).mine.merged
            words = "Took a map from elsewhere, merged with the plan, as cells set by hand"
        else:
            given = read_own(text, revision.job, read_as, reckon).spark_map
            words = "Took a whole map from elsewhere as cells set by hand"
        wanted = of_whole_map(revision.job, planned, given, reason.strip() or None)
        said = why.strip() or words
        return save_cells(
            request, shop, reckoner, revision, planned, wanted, who=who, why=said, reason=reason
        )
    except SparkwrightError as problem:
        typed: dict[str, object] = {"refused": in_lines(problem), "who": who, "why": why, "reason": reason}
        return _page(request, revision, text, read_as, typed, 422)
