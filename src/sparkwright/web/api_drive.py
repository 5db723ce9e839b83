"""The JSON of drives: those kept with a job, what each shows, and what it says of knock as evidence."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Depends

from sparkwright.errors import Refusal
from sparkwright.evidence.of_drives import drive_note, drive_word, marks_of
from sparkwright.sheets.record import record
from sparkwright.web.api import ANSWERS, Key, file_record, known_parameters
from sparkwright.web.api_dyno import evidence_record
from sparkwright.web.api_sent import Sent
from sparkwright.web.drives import drive_file, read_of_job
from sparkwright.web.routes import OfJob, TheShop

router = APIRouter(
    prefix="/api/v1",
    responses=ANSWERS,
    dependencies=[Depends(known_parameters)],
    route_class=OfJob,
)


class KeepMarks(Sent):
    """Who keeps what a drive says of knock."""


@router.get("/jobs/{key}/drives", summary="List a job's drives")
def drives(shop: TheShop, key: Key) -> dict[str, Any]:
    """List the files that were kept as drives, oldest first; `POST /files` keeps one, of kind `drive`."""
    found = [file_record(each) for each in shop.files.of_job(key) if each.kind == "drive"]
    return {"schema": "urn:sparkwright:drives:1", "drives": found}


@router.get("/jobs/{key}/drives/{file_id}", summary="Lay a drive on the map")
def drive(shop: TheShop, key: Key, file_id: int) -> dict[str, Any]:
    """Give what `sparkwright drive KEY FILE --json` prints, its findings among it."""
    job, file = shop.jobs.latest(key).job, drive_file(shop, key, file_id)
    result = read_of_job(shop, job, file).result
    return record("drive", job, result, assumed=result.assumed, warnings=result.warnings)


@router.post("/jobs/{key}/drives/{file_id}/knock-marks", status_code=201, summary="Keep its marks of knock")
def keep_marks(shop: TheShop, key: Key, file_id: int, sent: KeepMarks) -> dict[str, Any]:
    """Keep a drive's marks of knock and quiet places as evidence; sent again they count once."""
    job, file = shop.jobs.latest(key).job, drive_file(shop, key, file_id)
    marks = marks_of(read_of_job(shop, job, file).result, drive_note(file.name))
    if not marks:
        raise Refusal.at("drive", file.name, "must say something of knock")
    word = drive_word(file.sha256)
    kept = [shop.evidence.add(key, each, who=sent.who, sent_as=word) for each in marks]
    return {"schema": "urn:sparkwright:sweeps:1", "records": [evidence_record(each) for each in kept]}
