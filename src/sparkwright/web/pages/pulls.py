"""Pulls at full throttle: kept with the job, held against each other, and taken back."""

from __future__ import annotations

import io
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Annotated

from fastapi import APIRouter, Form, Request, UploadFile
from fastapi.responses import Response

from sparkwright.drawing.picture import Picture
from sparkwright.dyno.pull_points import as_run, teaches
from sparkwright.dyno.pull_result import PullResult, pulls_of
from sparkwright.dyno.pull_table import read_pulls
from sparkwright.dyno.pulls import BANDWIDTH_RPM
from sparkwright.errors import Refusal
from sparkwright.evidence.found import Found
from sparkwright.evidence.kinds import PullReadings, RoadRun
from sparkwright.evidence.pulls import new_among, pull_seen, pulls_in
from sparkwright.evidence.pulls_of_drives import kept_road_findings
from sparkwright.evidence.records import Record
from sparkwright.pictures.pulls import compared_picture
from sparkwright.plan.physics import physics_of
from sparkwright.reading import number
from sparkwright.reading.numbers import shown
from sparkwright.reading.tables import MOST_BYTES, text_of
from sparkwright.shop import Shop
from sparkwright.units import System
from sparkwright.web.learning import records_of
from sparkwright.web.pages.common import Who, said_by, show_in_job, went
from sparkwright.web.pages.personal import remember
from sparkwright.web.routes import OfJob, TheShop
from sparkwright.web.view import Shown, person_of
from sparkwright.words.evidence import road_words

router = APIRouter(route_class=OfJob)

Typed = Annotated[str, Form()]
ADVANCE_SPAN_DEG, MAP_SPAN_KPA = (-20.0, 80.0), (10.0, 400.0)


@dataclass(frozen=True, kw_only=True)
class PullsPage(Shown):
    """What the page of pulls shows."""

    template = "pulls.html"

    key: str
    result: PullResult | None
    problem: Sequence[str]
    pictures: Sequence[tuple[Picture, Picture]]
    kept: Sequence[Record]
    mute: int
    road: Sequence[Found]
    road_words: Callable[[RoadRun], str] = road_words
    typed: Mapping[str, str]
    refused: Sequence[str] = ()
    took: int | None = None
    there: int = 0


@router.get("/jobs/{key}/pulls")
def pulls(request: Request, shop: TheShop, key: str, took: int | None = None, there: int = 0) -> Response:
    """Show the pulls that are kept, and each further timing against the first.

    `took` came from a file, of which `there` were kept already.
    """
    shown = replace(_shown(shop, key, person_of(request).system), took=took, there=there)
    return show_in_job(request, shown, shop.jobs.latest(key), "dyno")


@router.post("/jobs/{key}/pulls/files")
def from_file(
    request: Request,
    shop: TheShop,
    key: str,
    file: UploadFile,
    advance: Typed = "",
    map_kpa: Typed = "",
    who: Who = "",
) -> Response:
    """Take pulls from a file, which is kept with the job; what was typed stays where it can't be taken."""
    called = file.filename or "pulls.csv"
    content = file.file.read(MOST_BYTES + 1)
    try:
        name = said_by(who)
        at = _typed("Advance", advance, ADVANCE_SPAN_DEG)
        load = _typed("Load", map_kpa, MAP_SPAN_KPA)
        given = read_pulls(text_of(content, "file", called), called.rsplit(".", 1)[0], None, BANDWIDTH_RPM)
        seen = [pull_seen(as_run(each, at, load)) for each in given]
        new = new_among(seen, records_of(shop, key))
    except Refusal as refusal:
        typed = {"advance": advance, "map_kpa": map_kpa, "who": who}
        shown = replace(_shown(shop, key, person_of(request).system), refused=refusal.sentences, typed=typed)
        return show_in_job(request, shown, shop.jobs.latest(key), "dyno", 422)
    shop.files.attach(key, called, "readings", io.BytesIO(content), who=name)
    shop.evidence.add_all(key, new, who=name)
    there = len(seen) - len(new)
    return remember(went(request, f"/jobs/{key}/pulls?took={len(new)}&there={there}"), name)


def _typed(field: str, text: str, span: tuple[float, float]) -> float | None:
    if not text.strip():
        return None
    low, high = span
    value = number(text, field=field, low=low, high=high)
    if not low <= value <= high:
        raise Refusal.at(field, shown(text), f"must be {low:g} to {high:g}")
    return value


def _shown(shop: Shop, key: str, system: System) -> PullsPage:
    job = shop.jobs.latest(key).job
    records = records_of(shop, key, also_withdrawn=True)
    found = pulls_in(records)
    problem: tuple[str, ...] = ()
    result = None
    try:
        result = pulls_of(found, BANDWIDTH_RPM) if found else None
    except Refusal as refusal:
        problem = refusal.sentences
    compared = () if result is None else result.compared
    return PullsPage(
        key=key,
        result=result,
        problem=problem,
        pictures=[
            (
                compared_picture(each, f"pulls-{k}", system=system),
                compared_picture(each, f"pulls-narrow-{k}", 360.0, system),
            )
            for k, each in enumerate(compared)
        ],
        kept=[each for each in records if isinstance(each.data, PullReadings)],
        mute=sum(not teaches(each) for each in found),
        road=kept_road_findings(records),
        typed={"advance": "", "map_kpa": f"{physics_of(job).ambient_kpa:.0f}", "who": ""},
    )
