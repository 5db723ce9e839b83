"""Changes of the map: tried on the server as they are made, saved as cells set by hand."""

from __future__ import annotations

import json
from collections.abc import Mapping
from concurrent.futures import wait
from contextlib import suppress
from datetime import UTC, datetime
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Form, Request
from fastapi.responses import Response
from pydantic import ConfigDict, Field, TypeAdapter, ValidationError

from sparkwright.errors import InputError, JobError, SparkwrightError
from sparkwright.job import Controller, Job, JobText
from sparkwright.plan import edit
from sparkwright.plan.edit import Block, Edited, Place, require_cells
from sparkwright.plan.result import PlanResult
from sparkwright.plan.set_cells import (
    Wanted,
    cells_set,
    changed_places,
    changed_stand,
    changes_in_words,
    pending_in_words,
    wanted_of,
    with_cells,
    without_reason,
)
from sparkwright.plan.spark_map import SparkMap
from sparkwright.plan.tried import tried
from sparkwright.sheets.map_cells import map_cell
from sparkwright.sheets.map_picture import map_picture
from sparkwright.sheets.ribbon import ribbon_picture
from sparkwright.shop import Revision, SavedElsewhereError
from sparkwright.web.pages.common import (
    OnlyKnown,
    TheReckon,
    TheReckoner,
    TheShop,
    Who,
    Why,
    said_by,
    status_of,
    went,
)
from sparkwright.web.pages.personal import remember
from sparkwright.web.pages.spark_map import NARROW_PX, WIDE_PX, line_of, map_page
from sparkwright.web.reckoning import BusyError, Reckoner
from sparkwright.web.view import drawing

router = APIRouter()

MOST_CELLS = 1600
SOON_S = 1.0
"""How long a save waits for its plan, so that most go straight to the finished page [s]."""

Do = Literal["show", "set", "add", "take", "interpolate", "across", "up", "smooth", "give back", "paste"]
Cell = tuple[int, int, float, str]


class Asked(OnlyKnown):
    """What a page asks to have tried: the cells set by hand as they stand there, and what to do."""

    model_config = ConfigDict(allow_inf_nan=False)

    number: int = Field(ge=1, le=10_000_000)
    hand: list[Cell] = Field(max_length=MOST_CELLS)
    do: Do = "show"
    block: tuple[int, int, int, int] = (0, 0, 0, 0)
    text: str = Field(default="", max_length=edit.MOST_TEXT)
    line: str = Field(default="", max_length=20)
    narrow: bool = False
    also: list[Place] = Field(default=[], max_length=MOST_CELLS)
    """Cells to be shown although nothing was done to them."""


_CELLS: TypeAdapter[list[Cell]] = TypeAdapter(list[Cell], config=ConfigDict(allow_inf_nan=False))


@router.post("/jobs/{key}/map/try")
def try_change(shop: TheShop, reckon: TheReckon, key: str, asked: Asked) -> dict[str, Any]:
    """Work a change out without saving it: the cells it touches as the page shows them."""
    job = shop.revision(key, asked.number).job
    planned = reckon(job).without_hand
    wanted = wanted_cells(asked.hand, planned.spark_map, job.controller)
    now = tried(planned, wanted)
    edited = edited_as_asked(now.spark_map, asked.do, asked.block, asked.text, job.controller)
    after = with_change(wanted, edited)
    shown = tried(planned, after)
    before = cells_set(job, planned.spark_map)
    touched = {*edited.value_deg, *_within(asked.also, planned.spark_map)}
    if asked.do == "show":
        touched |= {*before, *after}
    unexplained = _unexplained(shown, before, after)
    changed = len(changed_places(before, after))
    return {
        "cells": [_shown(shown, after, place) for place in sorted(touched)],
        "says": [*changed_stand(shown, edited.value_deg), *edited.says],
        "over": any(shown.over_ceiling[place] for place in edited.value_deg),
        "pending": pending_in_words(changed, unexplained),
        "changed": changed,
        "unexplained": len(unexplained),
    }


def _within(places: list[Place], spark_map: SparkMap) -> list[Place]:
    rows, columns = spark_map.advance_deg.shape
    return [(i, j) for i, j in places if 0 <= i < rows and 0 <= j < columns]


def _shown(plan: PlanResult, wanted: Mapping[Place, Wanted], place: Place) -> dict[str, Any]:
    cell = map_cell(plan, *place)
    return {
        "row": cell.row,
        "column": cell.column,
        "deg": wanted[place].advance_deg if place in wanted else None,
        "value": cell.advance_deg,
        "text": cell.text,
        "classes": cell.classes,
        "label": cell.label,
        "over": cell.over,
    }


def edited_as_asked(
    spark_map: SparkMap, do: Do, corners: tuple[int, int, int, int], text: str, controller: Controller
) -> Edited:
    """Do what was asked for with the cells between two corners: row, column, row, column."""
    block = Block.between((corners[0], corners[1]), (corners[2], corners[3]))
    match do:
        case "set":
            return edit.set_to(spark_map, block, text, controller)
        case "add":
            return edit.added(spark_map, block, text, controller)
        case "take":
            return edit.added(spark_map, block, text, controller, sign=-1)
        case "interpolate":
            return edit.interpolated(spark_map, block, controller)
        case "across":
            return edit.interpolated(spark_map, block, controller, "speed")
        case "up":
            return edit.interpolated(spark_map, block, controller, "load")
        case "smooth":
            return edit.smoothed(spark_map, block, controller)
        case "give back":
            return edit.given_back(spark_map, block)
        case "paste":
            return edit.pasted(spark_map, block, text, controller)
        case _:
            return Edited({})


def with_change(wanted: Mapping[Place, Wanted], edited: Edited) -> dict[Place, Wanted]:
    """Give the cells set by hand after a change; a cell set anew has no reason yet."""
    after = dict(wanted)
    for place, value in edited.value_deg.items():
        if value is None:
            after.pop(place, None)
        elif place not in after or after[place].advance_deg != value:
            after[place] = Wanted(value)
    return after


def wanted_cells(cells: list[Cell], spark_map: SparkMap, controller: Controller) -> dict[Place, Wanted]:
    """Read the cells set by hand as a page sends them."""
    wanted = {(i, j): Wanted(value, reason.strip() or None) for i, j, value, reason in cells}
    require_cells(spark_map, {place: want.advance_deg for place, want in wanted.items()}, controller)
    return wanted


def _unexplained(
    plan: PlanResult, before: Mapping[Place, Any], after: Mapping[Place, Wanted]
) -> tuple[str, ...]:
    """Name the cells changed here that stand over a ceiling without a reason."""
    own = plan.spark_map
    changed = {(float(own.rpm[j]), float(own.kpa[i])) for i, j in changed_places(before, after)}
    return without_reason(each for each in plan.over if (each.rpm, each.kpa) in changed)


@router.post("/jobs/{key}/map/drawn")
def drawn(shop: TheShop, reckon: TheReckon, key: str, asked: Asked) -> dict[str, str]:
    """Draw ribbon and contours through cells that are not saved yet."""
    job = shop.revision(key, asked.number).job
    planned = reckon(job).without_hand
    plan = tried(planned, wanted_cells(asked.hand, planned.spark_map, job.controller))
    width_px = NARROW_PX if asked.narrow else WIDE_PX
    return {
        "ribbon": drawing(ribbon_picture(line_of(plan, asked.line), "ribbon", width_px)),
        "contours": drawing(map_picture(plan, "contours", width_px)),
    }


@router.post("/jobs/{key}/map/save")
def save(
    request: Request,
    shop: TheShop,
    reckoner: TheReckoner,
    reckon: TheReckon,
    key: str,
    number: Annotated[int, Form()],
    hand: Annotated[str, Form()] = "[]",
    who: Who = "",
    why: Why = "",
    reason: Annotated[str, Form()] = "",
) -> Response:
    """Save the cells set by hand as the page has them."""
    revision = shop.revision(key, number)
    try:
        planned = reckon(revision.job).without_hand
        wanted = wanted_cells(_read_cells(hand), planned.spark_map, revision.job.controller)
        return save_cells(request, shop, reckoner, revision, planned, wanted, who=who, why=why, reason=reason)
    except SparkwrightError as problem:
        typed = {"refused": in_lines(problem), "who": who, "why": why, "reason": reason, "typed_cells": hand}
        return map_page(request, revision, typed=typed, status=status_of(problem))


def _read_cells(text: str) -> list[Cell]:
    try:
        cells = _CELLS.validate_python(json.loads(text))
    except (ValueError, ValidationError, RecursionError) as problem:
        raise InputError(
            "cells", None, "must be given as the page has them", "load the page again"
        ) from problem
    if len(cells) > MOST_CELLS:
        raise InputError("cells", len(cells), f"must be at most {MOST_CELLS}")
    return cells


def save_cells(
    request: Request,
    shop: TheShop,
    reckoner: Reckoner,
    revision: Revision,
    planned: PlanResult,
    wanted: Mapping[Place, Wanted],
    *,
    who: str,
    why: str,
    reason: str = "",
) -> Response:
    """Save exactly these cells as set by hand, and go to the map.

    Where somebody saved meanwhile both texts are kept, and shown.

    Raises
    ------
    InputError
        If nothing changed, nobody is named, or a cell over a ceiling has no reason.
    """
    name = said_by(who)
    changed, in_words = changed_job(revision.job, planned, wanted, who=name, reason=reason)
    text = JobText(revision.text, kept=True).stating(changed.facts())
    return save_changed(request, shop, reckoner, revision, text, who=name, why=why.strip() or in_words)


def changed_job(
    job: Job, planned: PlanResult, wanted: Mapping[Place, Wanted], *, who: str, reason: str = ""
) -> tuple[Job, str]:
    """Give the job with exactly these cells set by hand, and what that changes in a few words.

    Raises
    ------
    InputError
        If nothing changed, or a cell over a ceiling has no reason.
    """
    spark_map = planned.spark_map
    before = cells_set(job, spark_map)
    wanted = _with_reason(planned, before, wanted, reason)
    if not changed_places(before, wanted):
        raise InputError("map", "no cell", "must be changed before it is saved", "set a cell first")
    unexplained = _unexplained(tried(planned, wanted), before, wanted)
    if unexplained:
        raise InputError(
            "reason",
            None,
            f"must be given for each cell over a ceiling: {'; '.join(unexplained[:5])}"
            f"{f'; and {len(unexplained) - 5} more' if len(unexplained) > 5 else ''}",
            "say why it may stand there, or set it lower",
        )
    now = datetime.now(UTC).isoformat(timespec="seconds")
    changed = with_cells(job, spark_map, wanted, who=who, on=now)
    return changed, changes_in_words(before, wanted, spark_map)


def save_changed(
    request: Request,
    shop: TheShop,
    reckoner: Reckoner,
    revision: Revision,
    text: JobText,
    *,
    who: str,
    why: str,
) -> Response:
    """Save a changed job and go to its map, or to both texts where somebody saved meanwhile."""
    key, name = revision.key, said_by(who)
    try:
        shop.save(key, text.text, who=name, why=why, based_on=revision.number)
    except SavedElsewhereError as elsewhere:
        return remember(went(request, f"/jobs/{key}/kept/{elsewhere.kept.id}"), name)
    with suppress(BusyError):
        wait([reckoner.begin(text.job).future], SOON_S)
    return remember(went(request, f"/jobs/{key}/map?saved={revision.number}"), name)


def _with_reason(
    planned: PlanResult, before: Mapping[Place, Any], wanted: Mapping[Place, Wanted], reason: str
) -> dict[Place, Wanted]:
    """Give one reason to every changed cell over a ceiling that has none of its own."""
    if not reason.strip():
        return dict(wanted)
    plan = tried(planned, wanted)
    changed = changed_places(before, wanted)
    return {
        place: Wanted(want.advance_deg, reason.strip())
        if place in changed and plan.over_ceiling[place] and not want.reason
        else want
        for place, want in wanted.items()
    }


@router.post("/jobs/{key}/map/change")
def change(
    request: Request,
    shop: TheShop,
    reckoner: TheReckoner,
    reckon: TheReckon,
    key: str,
    number: Annotated[int, Form()],
    do: Annotated[Do, Form()],
    rpm: Annotated[int, Form()] = 0,
    kpa: Annotated[int, Form()] = 0,
    to_rpm: Annotated[int, Form()] = 0,
    to_kpa: Annotated[int, Form()] = 0,
    text: Annotated[str, Form()] = "",
    who: Who = "",
    why: Why = "",
    reason: Annotated[str, Form()] = "",
) -> Response:
    """Change a block of cells and save it at once, for a browser without script."""
    revision = shop.revision(key, number)
    try:
        planned = reckon(revision.job).without_hand
        before = wanted_of(cells_set(revision.job, planned.spark_map))
        block = (kpa, rpm, to_kpa, to_rpm)
        if len(text) > edit.MOST_TEXT:
            raise InputError(
                "what was typed", f"{len(text):,} letters", f"must be at most {edit.MOST_TEXT:,}"
            )
        edited = edited_as_asked(tried(planned, before).spark_map, do, block, text, revision.job.controller)
        wanted = with_change(before, edited)
        return save_cells(request, shop, reckoner, revision, planned, wanted, who=who, why=why, reason=reason)
    except SparkwrightError as problem:
        typed = {"refused": in_lines(problem), "who": who, "why": why, "reason": reason}
        typed |= {"plain_do": do, "plain_text": text}
        return map_page(request, revision, typed=typed, status=status_of(problem))


@router.post("/jobs/{key}/map/give-back")
def give_back(
    request: Request,
    shop: TheShop,
    reckoner: TheReckoner,
    key: str,
    number: Annotated[int, Form()],
    who: Who = "",
    why: Why = "",
) -> Response:
    """Give all cells set by hand back to the plan, also those that are no cell of this map any more."""
    revision = shop.revision(key, number)
    try:
        count = len(revision.job.hand)
        if not count:
            raise InputError(
                "map", "no cell", "must be set by hand to be given back", "all are the plan's already"
            )
        said = why.strip() or f"Gave all cells set by hand back to the plan, {count}"
        text = JobText(revision.text, kept=True).stating(revision.job.without_hand().facts())
        return save_changed(request, shop, reckoner, revision, text, who=who, why=said)
    except SparkwrightError as problem:
        return map_page(
            request, revision, typed={"refused": in_lines(problem), "who": who}, status=status_of(problem)
        )


def in_lines(problem: SparkwrightError) -> str:
    """Give what was refused as one text."""
    return " ".join(problem.problems) if isinstance(problem, JobError) else str(problem)
