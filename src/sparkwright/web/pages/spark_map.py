"""The map: sentence, ribbon, cells with their reasons, contours; old revisions are shown, not changed."""

from __future__ import annotations

import threading
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Annotated, Any

import numpy as np
from cachetools import LRUCache, cached
from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse, Response

from sparkwright.drawing.picture import Picture
from sparkwright.edit.cells import advance_typed
from sparkwright.edit.set_cells import cells_set
from sparkwright.edit.what_if import rotor_phase_that_frees
from sparkwright.errors import Refusal
from sparkwright.job import HandCell, Job
from sparkwright.pictures.hook import hook_picture
from sparkwright.pictures.map_cells import MapCell, cell_name, colours_css, map_cells
from sparkwright.pictures.map_picture import map_picture
from sparkwright.pictures.plain_map import NARROW_PX, WIDE_PX
from sparkwright.pictures.ribbon import ribbon_picture
from sparkwright.pictures.why_bars import why_picture
from sparkwright.plan.exchange import Form as MapForm
from sparkwright.plan.exchange import write_map
from sparkwright.plan.hand import Place, set_by_hand
from sparkwright.plan.load_terms import Loads, loads_of
from sparkwright.plan.point import point
from sparkwright.plan.result import Line, LoadLine, PlanResult
from sparkwright.plan.spark_map import SparkMap
from sparkwright.plan.why import CellReasons, why
from sparkwright.shop import Revision, Shop
from sparkwright.web.pages.common import latest_number, show_in_job, show_part
from sparkwright.web.pages.map_lines import LineChoice, chosen_line, line_of, lines_of
from sparkwright.web.pages.personal import YEAR_S
from sparkwright.web.pages.what_if_facts import Facts, facts_to_change
from sparkwright.web.reckoning import Reckoned, Work
from sparkwright.web.routes import TheReckon, TheShop, reckoner_of, revision_shown, shop_of
from sparkwright.web.view import Shown, page, person_of
from sparkwright.words.loads import down_words, loads_words
from sparkwright.words.map import letter_form_sentence

router = APIRouter()

PANEL_PX = 250.0
MOST_LOOKED_AT = 10
"""Revisions searched for the one that set a cell; a choice."""

MOST_DRAWN = 100
"""Drawn maps kept at a time, by the fingerprint of what they show; a choice."""
MEDIA = {
    "csv": "text/csv; charset=utf-8",
    "tsv": "text/tab-separated-values; charset=utf-8",
    "json": "application/json",
}


@cached(
    LRUCache(MOST_DRAWN),
    key=lambda plan, form, width_px, loads: (plan.fingerprint, plan.belief_fingerprint, form),
    lock=threading.Lock(),
)
def _drawn(plan: PlanResult, form: str, width_px: float, loads: Loads) -> Picture:
    return map_picture(plan, form, width_px, loads)


def ribbon_pictures(line: Line | LoadLine) -> tuple[Picture, Picture]:
    """Draw a line for a wide screen and for a phone.

    Parameters
    ----------
    line : Line or LoadLine
        A load row or a speed column.
    """
    return ribbon_picture(line, "ribbon", WIDE_PX), ribbon_picture(line, "ribbon-narrow", NARROW_PX)


def contour_pictures(plan: PlanResult, loads: Loads) -> tuple[Picture, Picture]:
    """Draw the map for a wide screen and for a phone.

    Parameters
    ----------
    plan : PlanResult
        The plan.
    loads : Loads
        In what its loads stand.
    """
    return (
        _drawn(plan, "contours", WIDE_PX, loads),
        _drawn(plan, "contours-narrow", NARROW_PX, loads),
    )


def place_of(spark_map: SparkMap, cell: str) -> tuple[int, int]:
    """Read a cell's place, `3-12`: row and column from the least load and speed.

    Parameters
    ----------
    spark_map : SparkMap
        The map that the cell belongs to.
    cell : str
        Place as the page sent it.
    """
    row, _, column = cell.partition("-")
    if row.isdecimal() and column.isdecimal() and len(cell) < 12:
        i, j = int(row), int(column)
        if i < spark_map.kpa.size and j < spark_map.rpm.size:
            return i, j
    raise Refusal.at("cell", cell[:20], "must be a cell of this map", "choose one")


def telling_cell(plan: PlanResult) -> str:
    """Choose the cell to explain first: over a ceiling, where reach costs most, or at full load.

    Parameters
    ----------
    plan : PlanResult
        The plan.
    """
    spark_map = plan.cells.spark_map
    if plan.over:
        rpm, kpa = plan.over[0].rpm, plan.over[0].kpa
    elif plan.reach_cost is not None:
        rpm, kpa = plan.reach_cost.lost_at_rpm, plan.reach_cost.lost_at_kpa
    else:
        rpm, kpa = spark_map.rpm[spark_map.rpm.size // 2], plan.full_load.kpa
    row, column = np.argmin(np.abs(spark_map.kpa - kpa)), np.argmin(np.abs(spark_map.rpm - rpm))
    return f"{row}-{column}"


@dataclass(frozen=True, kw_only=True)
class MapWaiting(Shown):
    """What the page of the map shows while the plan is being worked out."""

    template = "map.html"

    work: Work


@dataclass(frozen=True, kw_only=True)
class WhyShown(Shown):
    """What the panel of one cell shows."""

    template = "map-why.html"

    cell: str
    cell_name: str
    reasons: CellReasons
    tried: str
    bars: Picture
    hand: HandCell | None
    set_on: datetime | str | None
    set_by: Revision | None


@dataclass(frozen=True, kw_only=True)
class MapPage(WhyShown):
    """What the page of the map shows."""

    template = "map.html"

    work: None = None
    plan: PlanResult
    read_only: bool
    cells: Sequence[Sequence[MapCell]]
    set_cells: Mapping[Place, HandCell]
    letter_forms: str
    loads: Loads
    loads_down: str
    loads_said: str
    rows: Sequence[LineChoice]
    columns: Sequence[LineChoice]
    line: str
    ribbon: tuple[Picture, Picture]
    contours: tuple[Picture, Picture] | None
    rotor_phase_deg: float | None
    facts: Sequence[Facts]
    refused: str = ""
    who: str = ""
    why: str = ""
    reason: str = ""
    typed_cells: str = ""
    plain_do: str = ""
    plain_text: str = ""


@router.get("/jobs/{key}/map")
def map_view(
    request: Request,
    shop: TheShop,
    key: str,
    number: int | None = None,
    line: str = "",
    cell: str = "",
    row: str = "",
    column: str = "",
    contours: bool = False,
) -> Response:
    """Show the map with the reasons of one cell, `3-12`, or row and column apart as a form sends them."""
    revision = revision_shown(shop, key, number)
    cell = cell or (f"{row}-{column}" if row and column else "")
    return map_page(request, revision, line=line, cell=cell, contours=contours)


def map_page(
    request: Request,
    revision: Revision,
    *,
    line: str = "",
    cell: str = "",
    contours: bool = False,
    typed: Mapping[str, Any] | None = None,
    status: int = 200,
) -> HTMLResponse:
    """Write the page of the map, with what was typed where something was refused.

    Parameters
    ----------
    request : Request
        The request that is answered.
    revision : Revision
        The revision that the page shows.
    line : str, optional
        Name of the line that was chosen; "" for none.
    cell : str, optional
        Place of the cell that was chosen; "" for none.
    contours : bool, optional
        Whether the map is drawn in contours.
    typed : mapping, optional
        What was typed and refused; None where nothing was.
    status : int, optional
        Status of HTTP.
    """
    reckoner = reckoner_of(request)
    reckoned = reckoner.kept(revision.fingerprint)
    if reckoned is None:
        work = reckoner.work(revision.fingerprint)
        if work is None or not work.refused:
            work = reckoner.begin(revision.job)
        return show_in_job(request, MapWaiting(work=work), revision, "map", status)
    plan, shop = reckoned.plan, shop_of(request)
    chosen = line_of(plan, line)
    loads = loads_of(revision.job).over_pressure
    rows, columns = lines_of(plan.cells.spark_map, loads)
    shown_cell = cell or telling_cell(plan)
    shown = MapPage(
        **vars(why_shown(shop, revision, reckoned, shown_cell)),
        plan=plan,
        read_only=revision.number != latest_number(request, revision),
        cells=map_cells(plan, loads),
        set_cells=cells_set(revision.job, plan.cells.spark_map),
        letter_forms=letter_form_sentence(plan),
        rows=rows,
        columns=columns,
        line=chosen_line(chosen),
        ribbon=ribbon_pictures(chosen),
        contours=contour_pictures(plan, loads) if contours else None,
        loads=loads,
        loads_down=down_words(loads),
        loads_said=loads_words(revision.job.controller.load),
        rotor_phase_deg=rotor_phase_that_frees(plan, revision.job),
        facts=facts_to_change(revision.job, person_of(request).system),
    )
    return show_in_job(request, replace(shown, **(typed or {})), revision, "map", status)


@router.get("/jobs/{key}/map/ribbon")
def ribbon(
    request: Request,
    shop: TheShop,
    reckon: TheReckon,
    key: str,
    line: str = "",
    number: int | None = None,
) -> Response:
    """Draw the ribbon along another line."""
    revision = revision_shown(shop, key, number)
    chosen = line_of(reckon(revision.job).plan, line)
    return page(request, "map-ribbon.html", {"ribbon": ribbon_pictures(chosen)})


@router.get("/jobs/{key}/map/contours")
def contours(
    request: Request, shop: TheShop, reckon: TheReckon, key: str, number: int | None = None
) -> Response:
    """Draw the map as contours."""
    job = revision_shown(shop, key, number).job
    pictures = contour_pictures(reckon(job).plan, loads_of(job).over_pressure)
    return page(request, "map-contours.html", {"contours": pictures})


@router.get("/jobs/{key}/map/why")
def why_part(
    request: Request,
    shop: TheShop,
    reckon: TheReckon,
    key: str,
    cell: str,
    number: int | None = None,
    deg: Annotated[str, Query(max_length=12)] = "",
) -> Response:
    """Say why a cell has its value, or what a value tried in it would be."""
    revision = revision_shown(shop, key, number)
    shown = why_shown(shop, revision, reckon(revision.job), cell, deg)
    return show_part(request, shown, revision)


def why_shown(shop: Shop, revision: Revision, reckoned: Reckoned, cell: str, deg: str = "") -> WhyShown:
    """Give what the panel of one cell shows; ``deg`` is a value tried, or `plan` for what the plan gives.

    Parameters
    ----------
    shop : Shop
        The store.
    revision : Revision
        The revision that the page shows.
    reckoned : Reckoned
        Plan and check of it.
    cell : str
        Place of the cell, as the page sent it.
    deg : str, optional
        A value tried [deg], or `plan`; "" for what stands.
    """
    plan = _plan_with(reckoned, revision.job, cell, deg)
    row, column = place_of(plan.cells.spark_map, cell)
    reasons = why(plan, revision.job, row, column)
    loads = loads_of(revision.job).over_pressure
    hand = None if deg else reasons.hand
    return WhyShown(
        cell=cell,
        cell_name=cell_name(reasons.rpm, reasons.kpa, loads),
        reasons=reasons,
        tried=deg,
        bars=why_picture(reasons, "why-bars", PANEL_PX, loads),
        hand=hand,
        set_on=(_moment(hand) or hand.on) if hand else None,
        set_by=_set_by(shop, revision.key, hand) if hand else None,
    )


def _plan_with(reckoned: Reckoned, job: Job, cell: str, deg: str) -> PlanResult:
    if not deg:
        return reckoned.plan
    if deg == "plan":
        return reckoned.without_hand
    spark_map = reckoned.plan.cells.spark_map
    row, column = place_of(spark_map, cell)
    set_alone = {
        "rpm": float(spark_map.rpm[column]),
        "kpa": float(spark_map.kpa[row]),
        "advance_deg": advance_typed(deg),
    }
    return set_by_hand(reckoned.without_hand, job.with_hand([set_alone]))


def _set_by(shop: Shop, key: str, cell: HandCell) -> Revision | None:
    """Find the revision that set a cell: the first by that person from that moment on which has it so."""
    moment = _moment(cell)
    if moment is None:
        return None
    lines = [line for line in shop.jobs.history(key) if line.who == cell.by and line.when >= moment]
    for line in lines[: -MOST_LOOKED_AT - 1 : -1]:
        revision = shop.jobs.revision(key, line.number)
        if _set_to(revision.job, cell.rpm, cell.kpa) == cell.advance_deg:
            return revision
    return None


def _moment(cell: HandCell) -> datetime | None:
    """Read when a cell was set, where that is said to the second, with its zone, as this page writes it."""
    try:
        moment = datetime.fromisoformat(cell.on or "")
    except ValueError:
        return None
    return moment if moment.tzinfo else None


def _set_to(job: Job, rpm: float, kpa: float) -> float | None:
    return next((each.advance_deg for each in job.hand if (each.rpm, each.kpa) == (rpm, kpa)), None)


@router.get("/jobs/{key}/map/hook")
def hook(
    request: Request,
    shop: TheShop,
    reckon: TheReckon,
    key: str,
    cell: str,
    number: int | None = None,
    deg: Annotated[str, Query(max_length=12)] = "",
) -> Response:
    """Draw torque against advance of one cell, with its value or one tried."""
    revision = revision_shown(shop, key, number)
    reckoned = reckon(revision.job)
    row, column = place_of(reckoned.plan.cells.spark_map, cell)
    spark_map = reckoned.without_hand.cells.spark_map if deg == "plan" else reckoned.plan.cells.spark_map
    value = float(spark_map.advance_deg[row, column]) if deg in ("", "plan") else advance_typed(deg)
    found = point(revision.job, float(spark_map.rpm[column]), float(spark_map.kpa[row]))
    return page(
        request,
        "map-hook.html",
        {"hook": hook_picture(found, value, "cell-hook", PANEL_PX, person_of(request).system)},
    )


@router.get("/jobs/{key}/map/file")
def map_file(
    shop: TheShop,
    reckon: TheReckon,
    key: str,
    form: Annotated[MapForm, Query(alias="as")] = "csv",
    number: int | None = None,
) -> Response:
    """Give the map as text, to load into a controller's table or a spreadsheet."""
    revision = revision_shown(shop, key, number)
    name = f"{key}-revision-{revision.number}-map.{form}"
    cells = reckon(revision.job).plan.cells
    return Response(
        write_map(cells.spark_map, form, loads_of(revision.job), ceilings=cells.between.grid),
        media_type=MEDIA[form],
        headers={"content-disposition": f'attachment; filename="{name}"'},
    )


@router.get("/map-colours.css")
def colours() -> Response:
    """Give the colours of advance as a style sheet."""
    kept = {"cache-control": f"public, max-age={YEAR_S // 365}"}
    return Response(colours_css(), media_type="text/css; charset=utf-8", headers=kept)
