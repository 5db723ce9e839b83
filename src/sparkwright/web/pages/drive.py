"""A drive kept with the job: where it ran on the map, what it shows, and how it went over time."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from math import isfinite
from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import Response

from sparkwright.drawing.picture import Picture
from sparkwright.drive.accelerations import Acceleration
from sparkwright.drive.moments import Moment
from sparkwright.drive.result import DriveResult
from sparkwright.drive.rows import Stretch
from sparkwright.errors import Refusal
from sparkwright.evidence.kinds import KnockMark
from sparkwright.evidence.of_drives import drive_note, drive_word, quiet_marks_of
from sparkwright.evidence.pulls_of_drives import pull_findings
from sparkwright.findings import Finding
from sparkwright.pictures.drive import drive_map_picture, drive_time_picture
from sparkwright.shop import Attachment, Revision
from sparkwright.web.drive_columns import ColumnSaid, ColumnsForm, asked_from, form_of, said_in, typed_in
from sparkwright.web.drives import (
    drive_file,
    headings_of,
    keep_columns,
    keep_finding,
    keep_pulls,
    read_of_job,
    said_before,
)
from sparkwright.web.pages.common import Who, said_by, show_in_job, went
from sparkwright.web.pages.facts import TypedForm
from sparkwright.web.pages.personal import remember
from sparkwright.web.routes import TheShop
from sparkwright.web.view import Shown

router = APIRouter()

NARROW_PX = 360.0
PLAIN_PARTS = 240
"""Parts of the drawing over time that a browser without script shows."""
BESIDE_S = 5.0
"""Least that is shown before and after a moment [s]."""
TRACKS = {
    "knock": "knock_retard_deg knock_level",
    "misfire": "mixture_lambda",
    "arcing": "mixture_lambda",
    "dwell": "dwell_ms battery_v",
    "timing": "commanded_deg",
    "idle": "throttle_percent",
}
"""Channels that show a finding over time, beside those that are always shown."""


@dataclass(frozen=True, kw_only=True)
class DriveRefused(Shown):
    """What the page of a drive shows that can't be read."""

    template = "drive.html"

    file: Attachment
    refused: Sequence[str]
    columns: ColumnsForm | None
    result: None = None


@dataclass(frozen=True, kw_only=True)
class DrivePage(Shown):
    """What the page of a drive shows."""

    template = "drive.html"

    file: Attachment
    refused: Sequence[str] = ()
    columns: ColumnsForm | None
    result: DriveResult
    quiet: Sequence[KnockMark]
    good: Sequence[Finding]
    pulls: Sequence[Finding]
    map_picture: Picture
    narrow_map_picture: Picture
    stretch: Stretch
    moments: Sequence[Mapping[str, float]]
    stretch_around: Callable[[Moment | Acceleration], tuple[str, str]]
    tracks_of: Callable[[Finding], str]
    time_picture: Picture
    narrow_time_picture: Picture


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
        said = said_in(said_before(shop, headings_of(file)))
        return _refused(request, revision, file, refusal, said)
    stretch = read.rows.stretch(_seconds(from_min), _seconds(to_min), PLAIN_PARTS)
    shown = DrivePage(
        file=file,
        columns=form_of(read.headings, said_in(read.asked)),
        result=read.result,
        quiet=quiet_marks_of(read.result, ""),
        good=[each for each in read.result.findings if each.state not in ("problem", "look")],
        pulls=tuple(pull_findings(read.result.accelerations)),
        map_picture=drive_map_picture(read.result),
        narrow_map_picture=drive_map_picture(read.result, NARROW_PX),
        stretch=stretch,
        moments=moments_of(read.result),
        stretch_around=stretch_around,
        tracks_of=tracks_of,
        time_picture=drive_time_picture(stretch),
        narrow_time_picture=drive_time_picture(stretch, NARROW_PX),
    )
    return show_in_job(request, shown, revision, "history")


def _refused(
    request: Request, revision: Revision, file: Attachment, refusal: Refusal, said: Sequence[ColumnSaid]
) -> Response:
    columns = form_of(headings_of(file), said)
    shown = DriveRefused(file=file, refused=refusal.sentences, columns=columns)
    return show_in_job(request, shown, revision, "history", 422)


@router.post("/jobs/{key}/drives/{file_id}/columns")
def say_columns(request: Request, shop: TheShop, key: str, file_id: int, form: TypedForm) -> Response:
    """Read the drive with its columns as a person says they are, and remember that for its logger."""
    revision, file, said = shop.jobs.latest(key), drive_file(shop, key, file_id), typed_in(form)
    try:
        keep_columns(shop, revision.job, file, asked_from(said))
    except Refusal as refusal:
        return _refused(request, revision, file, refusal, said)
    return went(request, f"/jobs/{key}/drives/{file_id}")


def _seconds(minutes: float | None) -> float | None:
    return None if minutes is None or not isfinite(minutes) else 60.0 * minutes


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
    keep_finding(shop, key, file, read_of_job(shop, revision.job, file).result, number, name)
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


@router.post("/jobs/{key}/drives/{file_id}/keep-pulls")
def keep_road_pulls(request: Request, shop: TheShop, key: str, file_id: int, who: Who = "") -> Response:
    """Keep the pulls at full throttle as evidence, which is compared and teaches nothing."""
    name = said_by(who)
    revision, file = shop.jobs.latest(key), drive_file(shop, key, file_id)
    keep_pulls(shop, key, file, read_of_job(shop, revision.job, file).result, name)
    return remember(went(request, f"/jobs/{key}/pulls"), name)


def tracks_of(finding: Finding) -> str:
    """Name the channels that show a finding over time, parted by spaces.

    Parameters
    ----------
    finding : Finding
        What the drive told.
    """
    return TRACKS.get(finding.subject, "")


def stretch_around(moment: Moment | Acceleration) -> tuple[str, str]:
    """Give the minutes that show a moment with some room on both sides, as a form would send them.

    Parameters
    ----------
    moment : Moment or Acceleration
        When a finding was seen, or a pull run.
    """
    beside = max(2.0 * (moment.to_s - moment.from_s), BESIDE_S)
    return f"{max(moment.from_s - beside, 0.0) / 60.0:.4f}", f"{(moment.to_s + beside) / 60.0:.4f}"


def moments_of(result: DriveResult) -> list[dict[str, float]]:
    """Give all moments with the number of their finding, in the order of time.

    Parameters
    ----------
    result : DriveResult
        The drive, read and judged.
    """
    found = [
        {"number": mark.number, "from_s": each.from_s, "to_s": each.to_s}
        for mark in result.marks
        for each in mark.at.moments
    ]
    return sorted(found, key=lambda each: each["from_s"])
