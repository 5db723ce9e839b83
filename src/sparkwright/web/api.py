"""The JSON under the pages: versioned, with the same result objects as the commands' `--json`."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Depends, Path, Query, Request, UploadFile
from fastapi.responses import Response
from pydantic import BaseModel, Field
from pydantic.fields import FieldInfo

from sparkwright.drawing.true_scale import Paper
from sparkwright.edit.map_changes import changed_job
from sparkwright.edit.set_cells import of_whole_map
from sparkwright.errors import Refusal
from sparkwright.evidence.kinds import MOST_SETS, LightReading
from sparkwright.evidence.light_sets import by_set, judged, require_fits
from sparkwright.evidence.records import Record
from sparkwright.job import JobText, job_schema
from sparkwright.light.readings import checked_reading
from sparkwright.mounting.asked import mark_assumed, mark_found
from sparkwright.plan.exchange import Form as MapForm
from sparkwright.plan.exchange import write_map
from sparkwright.plan.load_terms import loads_of
from sparkwright.plan.physics import physics_of
from sparkwright.plan.point import point, with_plan
from sparkwright.sheets.card import card_pdf
from sparkwright.sheets.record import plain, record
from sparkwright.shop import Attachment, JobLine, Revision
from sparkwright.shop.compare import changed_facts
from sparkwright.web.api_sent import Change, MapChange, NewDeadCentre, NewJob, NewReading, NewSheet
from sparkwright.web.days import settings_kept
from sparkwright.web.learning import measured_of
from sparkwright.web.marking import SheetName, printed
from sparkwright.web.own_map import read_own
from sparkwright.web.routes import (
    OfJob,
    TheReckon,
    TheShop,
    light_of,
    revision_shown,
    signature_of,
)
from sparkwright.words.map_changes import changes_in_words

REFUSAL_SCHEMA = "urn:sparkwright:refusal:1"
DESCRIPTION = (
    "Everything the pages show, as JSON. Results have the keys `schema`, `version`, `job`, `results`, "
    "`assumed` and `warnings`, as the commands print them with `--json`; what is refused has `schema` and "
    "`problems`, sentences for a person. Keys are added within version 1, never renamed or taken away. On a "
    "shop's network the pass-phrase goes along as the password of HTTP Basic, with any user name."
)


class RefusalAnswer(BaseModel):
    """What was refused, one sentence each."""

    schema_: Literal["urn:sparkwright:refusal:1"] = Field(alias="schema")
    problems: list[str]


class Collision(RefusalAnswer):
    """Somebody saved meanwhile: what stands there now, and where the refused text is kept."""

    latest: dict[str, Any]
    kept: int


ANSWERS: dict[int | str, dict[str, Any]] = {
    400: {"model": RefusalAnswer, "description": "What was sent can't be read at all"},
    401: {"model": RefusalAnswer, "description": "The pass-phrase is missing or wrong"},
    404: {"model": RefusalAnswer, "description": "No such job, revision or file"},
    413: {"description": "Too much was sent"},
    415: {"description": "What was sent is in another charset than UTF-8"},
    422: {"model": RefusalAnswer, "description": "What was given can't be used; each sentence says why"},
    429: {
        "model": RefusalAnswer,
        "description": "Too many wrong pass-phrases; `Retry-After` says how long to wait",
    },
    503: {
        "model": RefusalAnswer,
        "description": "Too much is under way, or the store can't be used now; `Retry-After` says when to "
        "ask again",
    },
}


async def known_parameters(request: Request) -> None:
    """Refuse a parameter that a call doesn't know: misspelt, it would be passed over without a word."""
    route = request.scope["route"]
    known = {name for each in route.dependant.query_params for name in _names(each.alias, each.field_info)}
    for name in request.query_params:
        if name not in known:
            listed = ", ".join(sorted(known)) or "none"
            raise Refusal.at(name, request.query_params[name], "is not known here", f"known are: {listed}")


def _names(alias: str, info: FieldInfo) -> Iterable[str]:
    """Give the names under which a parameter comes in; a model of them stands for its fields."""
    kind = info.annotation
    return kind.model_fields if isinstance(kind, type) and issubclass(kind, BaseModel) else (alias,)


router = APIRouter(
    prefix="/api/v1",
    responses=ANSWERS,
    dependencies=[Depends(known_parameters)],
    route_class=OfJob,
)

Key = Annotated[str, Path(description="The job's key, as the list of jobs gives it", max_length=120)]
RevisionNumber = Annotated[
    int | None, Query(description="The revision; the latest when not given", ge=1, le=10_000_000)
]

After = Annotated[int, Query(description="Only what came after the one of this id", ge=0, le=2**31 - 1)]


def line_record(line: JobLine) -> dict[str, Any]:
    """Give one line of the list of jobs as plain data.

    Parameters
    ----------
    line : JobLine
        One line of the list of jobs.
    """
    found: dict[str, Any] = plain(line)
    return found | {"when": line.when.isoformat()}


def reading_record(reading: Record) -> dict[str, Any]:
    """Give one kept reading as plain data.

    Parameters
    ----------
    reading : Record
        One reading of the timing light, as it is kept.
    """
    return {**reading.fields, "id": reading.id, "when": reading.when.isoformat(), "who": reading.who}


def file_record(attachment: Attachment) -> dict[str, Any]:
    """Give one kept file as plain data, without its bytes.

    Parameters
    ----------
    attachment : Attachment
        What is known of the file.
    """
    found: dict[str, Any] = plain(attachment)
    return found | {"when": attachment.when.isoformat()}


def revision_record(revision: Revision) -> dict[str, Any]:
    """Give one revision as plain data, with its job file and the facts in it.

    Parameters
    ----------
    revision : Revision
        One revision with its text.
    """
    handed_over = revision.handed_over_when
    return {
        "schema": "urn:sparkwright:revision:1",
        "key": revision.key,
        "number": revision.number,
        "name": revision.name,
        "fingerprint": revision.fingerprint,
        "when": revision.when.isoformat(),
        "who": revision.who,
        "why": revision.why,
        "handed_over": None
        if handed_over is None
        else {
            "when": handed_over.isoformat(),
            "by": revision.handed_over_by,
            "acknowledged": list(revision.acknowledged),
        },
        "text": revision.text,
        "facts": revision.job.facts(),
    }


@router.get("/jobs", summary="List the jobs, the latest change first")
def jobs(
    shop: TheShop,
    find: Annotated[str, Query(max_length=80)] = "",
    after: Annotated[str, Query(max_length=120)] = "",
    limit: Annotated[int, Query(ge=1, le=200)] = 50,
) -> dict[str, Any]:
    """List jobs; `after` is the key of the last job of the page before."""
    lines = shop.jobs.lines(search=find, limit=limit, after=after or None)
    return {
        "schema": "urn:sparkwright:jobs:1",
        "count": shop.jobs.count(search=find),
        "jobs": [line_record(line) for line in lines],
    }


@router.post("/jobs", status_code=201, summary="Keep a new job")
def new_job(shop: TheShop, sent: NewJob) -> dict[str, Any]:
    """Keep a new job; gives its first revision."""
    why = sent.why or "Sent by a program"
    return revision_record(shop.jobs.create(sent.text, who=sent.who, why=why, sent_as=sent.sent_as))


@router.get("/jobs/{key}", summary="Give a job's facts")
def job(shop: TheShop, key: Key, number: RevisionNumber = None) -> dict[str, Any]:
    """Give a revision with its facts."""
    return revision_record(revision_shown(shop, key, number))


@router.put(
    "/jobs/{key}",
    summary="Save a new revision",
    responses={409: {"model": Collision, "description": "Somebody saved meanwhile; both are kept"}},
)
def save(shop: TheShop, key: Key, sent: Change) -> dict[str, Any]:
    """Save a new revision; one based on an older revision than the latest is kept apart and refused."""
    why = sent.why or "Sent by a program"
    return revision_record(shop.jobs.save(key, sent.text, who=sent.who, why=why, based_on=sent.based_on))


@router.get("/jobs/{key}/revisions", summary="Give a job's history")
def history(shop: TheShop, key: Key) -> dict[str, Any]:
    """List the revisions, the newest first."""
    return {
        "schema": "urn:sparkwright:history:1",
        "revisions": [plain(line) | {"when": line.when.isoformat()} for line in shop.jobs.history(key)],
    }


@router.get("/jobs/{key}/compare", summary="Compare two revisions")
def compare(
    shop: TheShop,
    reckon: TheReckon,
    key: Key,
    old: Annotated[int, Query(ge=1, le=10_000_000)],
    new: Annotated[int, Query(ge=1, le=10_000_000)],
) -> dict[str, Any]:
    """Say what changed: facts as a list, the map as a difference."""
    from sparkwright.edit.difference import moved

    before, after = shop.jobs.revision(key, old).job, shop.jobs.revision(key, new).job
    plans = [reckon(each).plan for each in (before, after)]
    results = {"facts": changed_facts(before, after), "map": moved(*plans)}
    return record("revisions-compared", after, results)


@router.get("/jobs/{key}/plan", summary="Give the plan")
def plan(shop: TheShop, reckon: TheReckon, key: Key, number: RevisionNumber = None) -> dict[str, Any]:
    """Give the map and, for every cell, its reasons."""
    revision = revision_shown(shop, key, number)
    result = reckon(revision.job).plan
    return record("plan", revision.job, result, assumed=result.assumed, warnings=result.warnings)


@router.get("/jobs/{key}/check", summary="Give the hardware check")
def check(shop: TheShop, reckon: TheReckon, key: Key, number: RevisionNumber = None) -> dict[str, Any]:
    """Say whether the ignition can deliver the plan."""
    revision = revision_shown(shop, key, number)
    result = reckon(revision.job).check
    return record("check", revision.job, result, assumed=result.assumed, warnings=result.warnings)


@router.get("/jobs/{key}/point", summary="Give torque against advance at one speed and load")
def hook(
    shop: TheShop,
    reckon: TheReckon,
    key: Key,
    rpm: Annotated[float, Query(description="Engine speed", allow_inf_nan=False)],
    kpa: Annotated[float, Query(description="Manifold pressure, absolute", allow_inf_nan=False)],
    number: RevisionNumber = None,
) -> dict[str, Any]:
    """Give one hook, with all its numbers."""
    revision = revision_shown(shop, key, number)
    result = with_plan(point(revision.job, rpm, kpa), reckon(revision.job).plan.cells.spark_map)
    return record(
        "point", revision.job, result, assumed=physics_of(revision.job).assumed, warnings=result.outside
    )


@router.get(
    "/jobs/{key}/map",
    summary="Give the map as text",
    response_class=Response,
    responses={200: {"content": {"text/csv": {}, "text/tab-separated-values": {}, "application/json": {}}}},
)
def spark_map(
    shop: TheShop,
    reckon: TheReckon,
    key: Key,
    form: Annotated[MapForm, Query(alias="as", description="csv, tsv or json")] = "json",
    number: RevisionNumber = None,
) -> Response:
    """Give the map alone, to load or to paste; as text with its loads as `controller.load` says."""
    revision = revision_shown(shop, key, number)
    cells = reckon(revision.job).plan.cells
    text = write_map(cells.spark_map, form, loads_of(revision.job), ceilings=cells.between.grid)
    kinds = {"csv": "text/csv", "tsv": "text/tab-separated-values", "json": "application/json"}
    return Response(text, media_type=f"{kinds[form]}; charset=utf-8" if form != "json" else kinds[form])


@router.put(
    "/jobs/{key}/map",
    summary="Take a whole map as cells set by hand",
    responses={409: {"model": Collision, "description": "Somebody saved meanwhile; both are kept"}},
)
def take_map(shop: TheShop, reckon: TheReckon, key: Key, sent: MapChange) -> dict[str, Any]:
    """Save a map from elsewhere: each cell that differs from the plan is set by hand, the rest given back.

    A cell over a ceiling needs a reason.
    """
    revision = shop.jobs.revision(key, sent.based_on)
    planned = reckon(revision.job).without_hand
    reason = sent.reason.strip() or None
    given = read_own(sent.map, revision.job, sent.read_as, reckon).spark_map
    wanted = of_whole_map(revision.job, planned, given, reason)
    now = datetime.now(UTC).isoformat(timespec="seconds")
    job, changes = changed_job(revision.job, planned, wanted, who=sent.who, on=now)
    text = JobText(revision.text, kept=True).stating(job.facts()).text
    saved = shop.jobs.save(
        key, text, who=sent.who, why=sent.why or changes_in_words(changes), based_on=sent.based_on
    )
    return revision_record(saved)


@router.get(
    "/jobs/{key}/card.pdf",
    summary="Give the card",
    response_class=Response,
    responses={200: {"content": {"application/pdf": {}}}},
)
def card(
    shop: TheShop, reckon: TheReckon, key: Key, paper: Paper = "a4", number: RevisionNumber = None
) -> Response:
    """Give the hand-over card as PDF."""
    revision = revision_shown(shop, key, number)
    reckoned = reckon(revision.job)
    content = card_pdf(
        reckoned.plan,
        reckoned.check,
        revision.job,
        paper=paper,
        light=light_of(shop, revision),
        signature=signature_of(revision),
        measured=measured_of(shop, revision),
        settings=settings_kept(revision.job, reckoned),
    )
    return Response(content, media_type="application/pdf")


@router.get(
    "/jobs/{key}/sheets/{name}.pdf",
    summary="Give a sheet of installation day",
    response_class=Response,
    responses={200: {"content": {"application/pdf": {}}}},
)
def sheet(
    shop: TheShop, reckon: TheReckon, key: Key, name: SheetName, asked: Annotated[NewSheet, Query()]
) -> Response:
    """Give cap plan, rotor phasing, static setting, timing tape or degree ring at true scale, as PDF."""
    of_job = revision_shown(shop, key, asked.number).job
    typed = asked.model_dump(exclude={"paper", "number"})
    content = printed(name, of_job, reckon, typed, asked.paper)
    return Response(content, media_type="application/pdf")


@router.post("/dead-centre", summary="Find true top dead centre")
def dead_centre(shop: TheShop, sent: NewDeadCentre) -> dict[str, Any]:
    """Say where true top dead centre is by the balancer's mark, and how wrong that is; nothing is kept."""
    of_job = shop.jobs.latest(sent.job).job if sent.job else None
    asked = sent.asked()
    found = mark_found(asked, of_job)
    return record("deadcentre", of_job, found, assumed=mark_assumed(asked), warnings=found.warnings)


@router.get("/jobs/{key}/readings", summary="Give the light readings")
def readings(
    shop: TheShop, key: Key, after: After = 0, limit: Annotated[int, Query(ge=1, le=500)] = 500
) -> dict[str, Any]:
    """List the readings as they were typed, oldest first; `set` parts one setting from the next.

    `after` is the `id` of the last reading of the page before; `count` is of all.
    """
    return {
        "schema": "urn:sparkwright:readings:1",
        "count": shop.evidence.count(key, "light-reading"),
        "readings": [
            reading_record(each)
            for each in shop.evidence.of_job(key, "light-reading", after=after, limit=limit)
        ],
    }


@router.post("/jobs/{key}/readings", status_code=201, summary="Keep a light reading")
def new_reading(shop: TheShop, key: Key, sent: NewReading) -> dict[str, Any]:
    """Keep one reading; what is wrong with it is said in sentences."""
    values = sent.model_dump(exclude={"who", "set", "sent_as"}, exclude_none=True)
    reading = checked_reading(values)
    sets = by_set(shop.evidence.of_job(key, "light-reading"))
    require_fits([reading], shop.jobs.latest(key).job, sets, sent.set)
    return reading_record(
        shop.evidence.add(key, LightReading(reading, sent.set), who=sent.who, sent_as=sent.sent_as)
    )


@router.get("/jobs/{key}/light", summary="Give the fixed-advance check")
def light(
    shop: TheShop, key: Key, set: Annotated[int | None, Query(ge=1, le=MOST_SETS)] = None
) -> dict[str, Any]:
    """Say what the readings of a set prove; of the newest when not given."""
    sets, job = by_set(shop.evidence.of_job(key, "light-reading")), shop.jobs.latest(key).job
    result = judged(job, sets.get(max(sets, default=1) if set is None else set, []))
    return record("light", job, result, assumed=result.assumed, warnings=result.warnings)


@router.get("/jobs/{key}/files", summary="List a job's files")
def files(
    shop: TheShop, key: Key, after: After = 0, limit: Annotated[int, Query(ge=1, le=200)] = 200
) -> dict[str, Any]:
    """List the files, each with its size and SHA-256, oldest first; pages as for readings."""
    return {
        "schema": "urn:sparkwright:files:1",
        "count": shop.files.count(key),
        "files": [file_record(each) for each in shop.files.of_job(key, after=after, limit=limit)],
    }


@router.post("/jobs/{key}/files", status_code=201, summary="Keep a file")
def add_file(
    shop: TheShop,
    key: Key,
    file: UploadFile,
    who: Annotated[str, Query(min_length=1, max_length=80)],
    kind: Literal["readings", "drive", "other"] = "other",
) -> dict[str, Any]:
    """Keep a file with the job, byte for byte."""
    return file_record(shop.files.attach(key, file.filename or "file", kind, file.file, who=who))


@router.get("/schema/job", summary="Give the JSON Schema of a job file")
def schema() -> dict[str, Any]:
    """Describe what a job file may hold."""
    return job_schema()
