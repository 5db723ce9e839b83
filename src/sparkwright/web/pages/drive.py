"""A drive kept with the job: where it ran on the map, what it shows, and how it went over time."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import Response

from sparkwright.drive.timeline import timeline_of
from sparkwright.errors import Refusal
from sparkwright.evidence.of_drives import knock_mark_of
from sparkwright.pictures.drive import drive_map_picture, drive_time_picture, marked
from sparkwright.shop import Attachment, NotThereError, Shop
from sparkwright.web.drives import drive_read
from sparkwright.web.pages.common import Who, job_page, said_by, went
from sparkwright.web.pages.personal import remember
from sparkwright.web.routes import TheShop

router = APIRouter()

NARROW_PX = 360.0


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
    revision, file = shop.jobs.latest(key), _drive_file(shop, key, file_id)
    try:
        read = drive_read(shop, revision.job, file)
    except Refusal as refusal:
        values = {"file": file, "refused": refusal.sentences, "result": None}
        return job_page(request, "drive.html", revision, "history", values, 422)
    ends = [None if each is None else 60.0 * each for each in (from_min, to_min)]
    timeline = timeline_of(read.windows, *ends)
    values = {
        "file": file,
        "refused": (),
        "result": read.result,
        "marked": [
            (place, found, knock_mark_of(found, "") is not None)
            for place, found in marked(read.result.findings)
        ],
        "good": [each for each in read.result.findings if each.state not in ("problem", "look")],
        "map_picture": drive_map_picture(read.result),
        "narrow_map_picture": drive_map_picture(read.result, NARROW_PX),
        "time_picture": drive_time_picture(timeline),
        "narrow_time_picture": drive_time_picture(timeline, NARROW_PX),
        "from_min": timeline.from_s / 60.0,
        "to_min": timeline.to_s / 60.0,
    }
    return job_page(request, "drive.html", revision, "history", values)


@router.post("/jobs/{key}/drives/{file_id}/keep")
def keep(
    request: Request,
    shop: TheShop,
    key: str,
    file_id: int,
    number: Annotated[int, Form()],
    who: Who = "",
) -> Response:
    """Keep a finding of knock as evidence of this engine; nothing else is changed."""
    name = said_by(who)
    revision, file = shop.jobs.latest(key), _drive_file(shop, key, file_id)
    found = dict(marked(drive_read(shop, revision.job, file).result.findings)).get(number)
    mark = None if found is None else knock_mark_of(found, f"from {file.name}"[:200])
    if mark is None:
        raise Refusal.at("number", number, "must be that of a finding of knock", "open the drive again")
    shop.evidence.add(key, mark, who=name)
    return remember(went(request, f"/jobs/{key}/history"), name)


def _drive_file(shop: Shop, key: str, file_id: int) -> Attachment:
    found = shop.files.one(file_id)
    if found.key != key or found.kind != "drive":
        raise NotThereError(f"There is no drive {file_id} with this job; go back to its history.")
    return found
