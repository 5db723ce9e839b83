"""A drive kept with the job: where it ran on the map, what it shows, and how it went over time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import Response

from sparkwright.drawing.picture import Picture
from sparkwright.drive.result import DriveResult
from sparkwright.drive.timeline import timeline_of
from sparkwright.errors import Refusal
from sparkwright.evidence.found import Found
from sparkwright.evidence.kinds import KnockMark
from sparkwright.evidence.of_drives import drive_note, drive_word, knock_mark_of, quiet_marks_of
from sparkwright.findings import Finding
from sparkwright.pictures.drive import drive_map_picture, drive_time_picture, marked
from sparkwright.shop.facts import Attachment
from sparkwright.web.drives import drive_file, read_of_job
from sparkwright.web.pages.common import Who, said_by, show_in_job, went
from sparkwright.web.pages.personal import remember
from sparkwright.web.routes import TheShop
from sparkwright.web.view import Shown

router = APIRouter()

NARROW_PX = 360.0


@dataclass(frozen=True, kw_only=True)
class DriveRefused(Shown):
    """What the page of a drive shows that can't be read."""

    template = "drive.html"

    file: Attachment
    refused: Sequence[str]
    result: None = None


@dataclass(frozen=True, kw_only=True)
class DrivePage(Shown):
    """What the page of a drive shows."""

    template = "drive.html"

    file: Attachment
    refused: Sequence[str] = ()
    result: DriveResult
    marked: Sequence[tuple[int, Finding]]
    quiet: Sequence[KnockMark]
    good: Sequence[Finding]
    map_picture: Picture
    narrow_map_picture: Picture
    time_picture: Picture
    narrow_time_picture: Picture
    from_min: float
    to_min: float


@router.get("/jobs/{key}/drives/{file_id}")
def show(
    request: Request,
    shop: TheShop,
    key: str,
    file_id: int,
    from_min: float | None = None,
    to_min: float | None = None,
) -> Response:
    """Lay a drive on the map; a stretch of its time can be asked for."""
    revision, file = shop.jobs.latest(key), drive_file(shop, key, file_id)
    try:
        read = read_of_job(shop, revision.job, file)
    except Refusal as refusal:
        refused = DriveRefused(file=file, refused=refusal.sentences)
        return show_in_job(request, refused, revision, "history", 422)
    ends = [None if each is None else 60.0 * each for each in (from_min, to_min)]
    timeline = timeline_of(read.windows, *ends)
    shown = DrivePage(
        file=file,
        result=read.result,
        marked=marked(read.result.findings),
        quiet=quiet_marks_of(read.result, ""),
        good=[each for each in read.result.findings if each.state not in ("problem", "look")],
        map_picture=drive_map_picture(read.result),
        narrow_map_picture=drive_map_picture(read.result, NARROW_PX),
        time_picture=drive_time_picture(timeline),
        narrow_time_picture=drive_time_picture(timeline, NARROW_PX),
        from_min=timeline.from_s / 60.0,
        to_min=timeline.to_s / 60.0,
    )
    return show_in_job(request, shown, revision, "history")


@router.post("/jobs/{key}/drives/{file_id}/keep")
def keep(
    request: Request,
    shop: TheShop,
    key: str,
    file_id: int,
    number: Annotated[int, Form()],
    who: Who = "",
) -> Response:
    """Keep a finding as evidence of this engine, one of knock as a mark; nothing else is changed."""
    name = said_by(who)
    revision, file = shop.jobs.latest(key), drive_file(shop, key, file_id)
    found = dict(marked(read_of_job(shop, revision.job, file).result.findings)).get(number)
    if found is None:
        raise Refusal.at("number", number, "must be that of a finding", "open the drive again")
    seen = knock_mark_of(found, drive_note(file.name)) or Found(found, file.name)
    shop.evidence.add(key, seen, who=name, sent_as=drive_word(file.sha256))
    return remember(went(request, f"/jobs/{key}/history"), name)


@router.post("/jobs/{key}/drives/{file_id}/keep-quiet")
def keep_quiet(request: Request, shop: TheShop, key: str, file_id: int, who: Who = "") -> Response:
    """Keep the places that stayed quiet as evidence of this engine; kept again they count once."""
    name = said_by(who)
    revision, file = shop.jobs.latest(key), drive_file(shop, key, file_id)
    marks = quiet_marks_of(read_of_job(shop, revision.job, file).result, drive_note(file.name))
    if not marks:
        raise Refusal.at("drive", file.name, "must have places that stayed quiet", "open the drive again")
    for mark in marks:
        shop.evidence.add(key, mark, who=name, sent_as=drive_word(file.sha256))
    return remember(went(request, f"/jobs/{key}/history"), name)
