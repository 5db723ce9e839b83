"""Changes of the map: tried on the server as they are made, saved as cells set by hand."""

from __future__ import annotations

import json
from collections.abc import Mapping
from concurrent.futures import wait
from contextlib import suppress
from datetime import UTC, datetime
from typing import Annotated, Any, Literal

import numpy as np
from fastapi import APIRouter, Form, Request
from fastapi.responses import Response
from pydantic import ConfigDict, Field, TypeAdapter, ValidationError

from sparkwright.edit import paste
from sparkwright.edit.cells import Block, Edited, Selection, of_own_cells, require_cells
from sparkwright.edit.map_changes import changed_job, unexplained, with_change
from sparkwright.edit.preview import preview
from sparkwright.edit.set_cells import (
    Wanted,
    cells_set,
    changed_places,
    changed_stand,
    wanted_of,
)
from sparkwright.errors import Refusal, SparkwrightError
from sparkwright.job import Controller, Job, JobText
from sparkwright.pictures.map_cells import map_cell
from sparkwright.pictures.map_picture import map_picture
from sparkwright.pictures.plain_map import NARROW_PX, WIDE_PX
from sparkwright.pictures.ribbon import ribbon_picture
from sparkwright.plan.hand import Place
from sparkwright.plan.load_terms import Loads, loads_of
from sparkwright.plan.result import MapCells, PlanResult
from sparkwright.plan.spark_map import SparkMap
from sparkwright.shop import Revision, SavedElsewhereError
from sparkwright.web.pages.common import Who, Why, said_by, status_of, went
from sparkwright.web.pages.map_lines import line_of
from sparkwright.web.pages.personal import remember
from sparkwright.web.pages.spark_map import map_page
from sparkwright.web.reckoning import BusyError, Reckoner
from sparkwright.web.routes import OnlyKnown, TheReckon, TheReckoner, TheShop
from sparkwright.web.view import drawing
from sparkwright.words.map_changes import changes_in_words, pending_in_words
from sparkwright.words.told import sentences

router = APIRouter()

MOST_CELLS = 1600
SOON_S = 1.0
"""How long a save waits for its plan, so that most go straight to the finished page [s]."""

Do = Literal["show", "set", "add", "take", "interpolate", "across", "up", "smooth", "give back", "paste"]
SentCell = tuple[int, int, float, str]


class ChangeAsked(OnlyKnown):
    """What a page asks to have tried: the cells set by hand as they stand there, and what to do."""

    model_config = ConfigDict(allow_inf_nan=False)

    number: int = Field(ge=1, le=10_000_000)
    hand: list[SentCell] = Field(max_length=MOST_CELLS)
    do: Do = "show"
    block: tuple[int, int, int, int] = (0, 0, 0, 0)
    text: str = Field(default="", max_length=paste.MOST_TEXT)
    line: str = Field(default="", max_length=20)
    narrow: bool = False
    also: list[Place] = Field(default=[], max_length=MOST_CELLS)
    """Cells to be shown although nothing was done to them."""


_CELLS: TypeAdapter[list[SentCell]] = TypeAdapter(list[SentCell], config=ConfigDict(allow_inf_nan=False))


@router.post("/jobs/{key}/map/try")
def try_change(shop: TheShop, reckon: TheReckon, key: str, asked: ChangeAsked) -> dict[str, Any]:
    """Work a change out without saving it: the cells it touches as the page shows them."""
    job = shop.jobs.revision(key, asked.number).job
    planned = reckon(job).without_hand
    wanted = wanted_cells(asked.hand, planned.cells.spark_map, job.controller)
    now = preview(planned, wanted)
    edited = edited_as_asked(now.cells.spark_map, asked.do, asked.block, asked.text, job)
    after = with_change(wanted, edited)
    shown = preview(planned, after)
    before = cells_set(job, planned.cells.spark_map)
    touched = {*edited.value_deg, *_within(asked.also, planned.cells.spark_map)}
    if asked.do == "show":
        touched |= {*before, *after}
    touched |= made_of(touched, planned.cells)
    unreasoned, loads = unexplained(shown, before, after), loads_of(job).over_pressure
    changed = len(changed_places(before, after))
    return {
        "cells": [_shown(shown, after, place, loads) for place in sorted(touched)],
        "says": [*map(str, sentences(changed_stand(shown, edited.value_deg))), *edited.says],
        "over": any(shown.cells.over_ceiling[place] for place in edited.value_deg),
        "pending": pending_in_words(changed, unreasoned),
        "changed": changed,
        "unexplained": len(unreasoned),
    }


def made_of(touched: set[Place], cells: MapCells) -> set[Place]:
    """Give what the controller makes of cells that are touched, in rows with speeds of their own.

    Parameters
    ----------
    touched : set of place
        Cells that are touched.
    cells : MapCells
        The map.
    """
    if cells.rows is None:
        return set()
    rows = {row for row, _ in touched}
    return {(i, j) for i, j in np.argwhere(~cells.rows.nodes).tolist() if i in rows}


def _within(places: list[Place], spark_map: SparkMap) -> list[Place]:
    rows, columns = spark_map.advance_deg.shape
    return [(i, j) for i, j in places if 0 <= i < rows and 0 <= j < columns]


def _shown(plan: PlanResult, wanted: Mapping[Place, Wanted], place: Place, loads: Loads) -> dict[str, Any]:
    cell = map_cell(plan, *place, loads)
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
    spark_map: SparkMap, do: Do, corners: tuple[int, int, int, int], text: str, job: Job
) -> Edited:
    """Do what was asked for with the cells between two corners: row, column, row, column.

    Parameters
    ----------
    spark_map : SparkMap
        The map as it stands.
    do : Do
        What to do.
    corners : tuple of int
        Row and column of one corner, then of the one across.
    text : str
        The value, as it was typed [deg].
    job : Job
        The job, for what its controller takes.
    """
    return of_own_cells(_edited(spark_map, do, corners, text, job), spark_map, job.controller)


def _edited(spark_map: SparkMap, do: Do, corners: tuple[int, int, int, int], text: str, job: Job) -> Edited:
    if do == "show":
        return Edited({})
    block = Block.between((corners[0], corners[1]), (corners[2], corners[3]))
    selection = Selection(spark_map, block, job.controller)
    match do:
        case "set":
            return selection.set_to(text)
        case "add":
            return selection.added(text)
        case "take":
            return selection.added(text, sign=-1)
        case "interpolate":
            return selection.interpolated()
        case "across":
            return selection.interpolated("speed")
        case "up":
            return selection.interpolated("load")
        case "smooth":
            return selection.smoothed()
        case "give back":
            return selection.given_back()
        case "paste":
            return paste.pasted(spark_map, block, text, job.controller, loads_of(job))


def wanted_cells(cells: list[SentCell], spark_map: SparkMap, controller: Controller) -> dict[Place, Wanted]:
    """Read the cells set by hand as a page sends them.

    Parameters
    ----------
    cells : list of SentCell
        Cells as the page sends them.
    spark_map : SparkMap
        The map that they belong to.
    controller : Controller
        Its step and what it takes.
    """
    wanted = {(i, j): Wanted(value, reason.strip() or None) for i, j, value, reason in cells}
    require_cells(spark_map, {place: want.advance_deg for place, want in wanted.items()}, controller)
    return wanted


@router.post("/jobs/{key}/map/drawn")
def drawn(shop: TheShop, reckon: TheReckon, key: str, asked: ChangeAsked) -> dict[str, str]:
    """Draw ribbon and contours through cells that are not saved yet."""
    job = shop.jobs.revision(key, asked.number).job
    planned = reckon(job).without_hand
    plan = preview(planned, wanted_cells(asked.hand, planned.cells.spark_map, job.controller))
    width_px = NARROW_PX if asked.narrow else WIDE_PX
    return {
        "ribbon": drawing(ribbon_picture(line_of(plan, asked.line), "ribbon", width_px)),
        "contours": drawing(map_picture(plan, "contours", width_px, loads_of(job).over_pressure)),
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
    revision = shop.jobs.revision(key, number)
    try:
        planned = reckon(revision.job).without_hand
        wanted = wanted_cells(_read_cells(hand), planned.cells.spark_map, revision.job.controller)
        return save_cells(request, shop, reckoner, revision, planned, wanted, who=who, why=why, reason=reason)
    except SparkwrightError as problem:
        typed = {"refused": in_lines(problem), "who": who, "why": why, "reason": reason, "typed_cells": hand}
        return map_page(request, revision, typed=typed, status=status_of(problem))


def _read_cells(text: str) -> list[SentCell]:
    try:
        cells = _CELLS.validate_python(json.loads(text))
    except (ValueError, ValidationError, RecursionError) as problem:
        raise Refusal.at(
            "cells", None, "must be given as the page has them", "load the page again"
        ) from problem
    if len(cells) > MOST_CELLS:
        raise Refusal.at("cells", len(cells), f"must be at most {MOST_CELLS}")
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

    Parameters
    ----------
    request : Request
        The post that is answered.
    shop : TheShop
        The store.
    reckoner : Reckoner
        What reckons plans and checks.
    revision : Revision
        The revision that the page showed.
    planned : PlanResult
        Its plan.
    wanted : mapping
        Cells that are to be set by hand, by their place.
    who : str
        Who changes it.
    why : str
        Why, for the history; "" for words of our own.
    reason : str, optional
        Given to each changed cell over a ceiling that has none of its own.

    Raises
    ------
    Refusal
        If nothing changed, nobody is named, or a cell over a ceiling has no reason.
    """
    name = said_by(who)
    now = datetime.now(UTC).isoformat(timespec="seconds")
    changed, changes = changed_job(revision.job, planned, wanted, who=name, on=now, reason=reason)
    text = JobText(revision.text, kept=True).stating(changed.facts())
    return save_changed(
        request, shop, reckoner, revision, text, who=name, why=why.strip() or changes_in_words(changes)
    )


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
    """Save a changed job and go to its map, or to both texts where somebody saved meanwhile.

    Parameters
    ----------
    request : Request
        The post that is answered.
    shop : TheShop
        The store.
    reckoner : Reckoner
        What reckons plans and checks.
    revision : Revision
        The revision that the change was made from.
    text : JobText
        The changed job.
    who : str
        Who changes it.
    why : str
        Why, for the history.
    """
    key, name = revision.key, said_by(who)
    try:
        shop.jobs.save(key, text.text, who=name, why=why, based_on=revision.number)
    except SavedElsewhereError as elsewhere:
        return remember(went(request, f"/jobs/{key}/kept/{elsewhere.kept.id}"), name)
    with suppress(BusyError):
        wait([reckoner.begin(text.job).future], SOON_S)
    return remember(went(request, f"/jobs/{key}/map?saved={revision.number}"), name)


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
    revision = shop.jobs.revision(key, number)
    try:
        planned = reckon(revision.job).without_hand
        before = wanted_of(cells_set(revision.job, planned.cells.spark_map))
        block = (kpa, rpm, to_kpa, to_rpm)
        if len(text) > paste.MOST_TEXT:
            raise Refusal.at(
                "what was typed", f"{len(text):,} letters", f"must be at most {paste.MOST_TEXT:,}"
            )
        edited = edited_as_asked(preview(planned, before).cells.spark_map, do, block, text, revision.job)
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
    revision = shop.jobs.revision(key, number)
    try:
        count = len(revision.job.hand)
        if not count:
            raise Refusal.at(
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
    """Give what was refused as one text.

    Parameters
    ----------
    problem : SparkwrightError
        What was refused.
    """
    return " ".join(problem.sentences)
