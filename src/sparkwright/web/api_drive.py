"""The JSON of drives: those kept with a job, what each shows, and what it says of knock as evidence."""

from __future__ import annotations

from typing import Annotated, Any

import numpy as np
from fastapi import APIRouter, Depends, Query
from fastapi import Path as PathPart

from sparkwright.drive.quantities import BY_NAME
from sparkwright.drive.rows import MOST_PARTS
from sparkwright.errors import Refusal
from sparkwright.evidence.found import Found
from sparkwright.evidence.kinds import PullReadings
from sparkwright.evidence.of_drives import drive_note, drive_word, marks_of
from sparkwright.evidence.pulls_of_drives import kept_road_findings
from sparkwright.sheets.record import plain, record
from sparkwright.web.api import ANSWERS, Key, file_record, known_parameters
from sparkwright.web.api_dyno import evidence_record
from sparkwright.web.api_sent import Sent
from sparkwright.web.drives import drive_file, keep_finding, keep_pulls, read_of_job
from sparkwright.web.routes import OfJob, TheShop
from sparkwright.words.evidence import found_words

DECIMALS = 3
"""Of the values of a stretch, which are for looking at."""

router = APIRouter(
    prefix="/api/v1",
    responses=ANSWERS,
    dependencies=[Depends(known_parameters)],
    route_class=OfJob,
)


Second = Annotated[float | None, Query(description="Seconds from the first row", ge=0, le=1e9)]
Parts = Annotated[int, Query(description="Parts that it is cut in", ge=1, le=MOST_PARTS)]


Number = Annotated[int, PathPart(description="Place among the drive's `findings`, from 1", ge=1, le=1000)]


class KeepMarks(Sent):
    """Who keeps what a drive says of knock."""


class KeepPulls(Sent):
    """Who keeps a drive's pulls on the road."""


class KeepFinding(Sent):
    """Who accepts a finding."""


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


@router.get("/jobs/{key}/drives/{file_id}/stretch", summary="Give a stretch of a drive's time")
def stretch(
    shop: TheShop,
    key: Key,
    file_id: int,
    from_s: Second = None,
    to_s: Second = None,
    parts: Parts = 600,
) -> dict[str, Any]:
    """Give the least and most of each channel in each part of a stretch, of all where none is named."""
    read = read_of_job(shop, shop.jobs.latest(key).job, drive_file(shop, key, file_id))
    found = read.rows.stretch(from_s, to_s, parts)
    tracks = [
        {
            "quantity": each.quantity,
            "called": BY_NAME[each.quantity].called,
            "unit": BY_NAME[each.quantity].unit,
            "low": plain(np.round(each.low, DECIMALS)),
            "high": plain(np.round(each.high, DECIMALS)),
        }
        for each in found.tracks
    ]
    whole: dict[str, Any] = plain(found)
    return {"schema": "urn:sparkwright:drive-stretch:1", **whole, "tracks": tracks}


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


@router.post("/jobs/{key}/drives/{file_id}/pulls", status_code=201, summary="Keep its pulls on the road")
def keep_road_pulls(shop: TheShop, key: Key, file_id: int, sent: KeepPulls) -> dict[str, Any]:
    """Keep accelerations at full throttle as pulls, which are compared and teach nothing; again once."""
    job, file = shop.jobs.latest(key).job, drive_file(shop, key, file_id)
    kept = keep_pulls(shop, key, file, read_of_job(shop, job, file).result, sent.who)
    return {"schema": "urn:sparkwright:sweeps:1", "records": [evidence_record(each) for each in kept]}


@router.get("/jobs/{key}/road-pulls", summary="Hold the kept pulls on the road against each other")
def road_pulls(shop: TheShop, key: Key) -> dict[str, Any]:
    """Give the kept pulls on the road, and what they say of timing, drive by drive and gear by gear."""
    shop.jobs.latest(key)
    records = shop.evidence.of_job(key, "pull")
    kept = [each for each in records if isinstance(each.data, PullReadings) and each.data.road]
    return {
        "schema": "urn:sparkwright:road-pulls:1",
        "records": [evidence_record(each) for each in kept],
        "findings": [plain(each.finding) | {"drive": each.file} for each in kept_road_findings(records)],
    }


@router.post(
    "/jobs/{key}/drives/{file_id}/findings/{number}", status_code=201, summary="Accept a finding of a drive"
)
def keep(shop: TheShop, key: Key, file_id: int, number: Number, sent: KeepFinding) -> dict[str, Any]:
    """Keep what must be looked at as evidence, a finding of knock as a mark; sent again it counts once."""
    job, file = shop.jobs.latest(key).job, drive_file(shop, key, file_id)
    kept = keep_finding(shop, key, file, read_of_job(shop, job, file).result, number, sent.who)
    return evidence_record(kept)


@router.get("/jobs/{key}/found", summary="List the findings that were accepted")
def accepted(shop: TheShop, key: Key) -> dict[str, Any]:
    """List accepted findings other than knock, oldest first; `withdrawn` tells who took one back, and why."""
    shop.jobs.latest(key)
    records = [
        each for each in shop.evidence.of_job(key, also_withdrawn=True) if isinstance(each.data, Found)
    ]
    found = [
        evidence_record(each) | {"withdrawn": plain(each.withdrawn), "sentence": found_words(each.data)}
        for each in records
        if isinstance(each.data, Found)
    ]
    return {"schema": "urn:sparkwright:found:1", "records": found}
