"""The JSON of what was measured: points and marks in, fits, what was learned, and what to measure next."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from fastapi import APIRouter, Depends, Path, Request
from pydantic import Field

from sparkwright.evidence.kinds import MOST_SETS, read
from sparkwright.evidence.records import Record
from sparkwright.evidence.sweeps import number_for
from sparkwright.sheets.record import record
from sparkwright.web.api import ANSWERS, Key, known_parameters
from sparkwright.web.api_sent import Sent, SentOnce
from sparkwright.web.learning import measured_on, records_of
from sparkwright.web.routes import OfJob, TheShop
from sparkwright.web.sessions import place_of

router = APIRouter(
    prefix="/api/v1",
    responses=ANSWERS,
    dependencies=[Depends(known_parameters)],
    route_class=OfJob,
)


class NewAtPoint(SentOnce):
    """Where something was measured or heard; what is not known is left out."""

    speed_rpm: float = Field(description="Engine speed")
    map_kpa: float = Field(description="Manifold pressure, absolute")
    advance_deg: float = Field(description="Advance, crank degrees before top dead centre")
    mixture_lambda: float | None = Field(None, description="Air over stoichiometric air")
    coolant_c: float | None = Field(None, description="Coolant")
    intake_air_c: float | None = Field(None, description="Intake air")


class NewTorquePoint(NewAtPoint):
    """Torque at one advance."""

    torque_nm: float = Field(description="Brake torque, newton-metres")
    knock: Literal["none", "trace", "heavy"] | None = Field(None, description="What was heard")
    sweep: int | None = Field(
        None,
        description="Points of one number are one sweep; by speed and load where not given",
        ge=1,
        le=MOST_SETS,
    )


class NewKnockMark(NewAtPoint):
    """What was heard at one advance."""

    knock: Literal["none", "trace", "heavy"] = Field(description="What was heard")


RecordId = Annotated[int, Path(description="The record's number, as it was answered", ge=1, le=2**31 - 1)]


class TakeBack(Sent):
    """Who takes a record back, and why."""

    why: str = Field("", description="Why", max_length=200)


class PutBack(Sent):
    """Who lets a record count again."""


def evidence_record(kept: Record) -> dict[str, Any]:
    """Give one record of evidence as plain data.

    Parameters
    ----------
    kept : Record
        One record of evidence.
    """
    about = {"id": kept.id, "kind": kept.kind, "when": kept.when.isoformat(), "who": kept.who}
    return {**kept.fields, **about}


@router.get("/jobs/{key}/sweeps", summary="Give the sweeps, torque points and knock marks")
def sweeps(shop: TheShop, key: Key) -> dict[str, Any]:
    """List the records from which the engine is learned, oldest first, without those taken back."""
    records = records_of(shop, key)
    return {"schema": "urn:sparkwright:sweeps:1", "records": [evidence_record(each) for each in records]}


@router.post("/jobs/{key}/torque-points", status_code=201, summary="Keep torque at one advance")
def new_point(shop: TheShop, key: Key, sent: NewTorquePoint) -> dict[str, Any]:
    """Keep one point; what is wrong with it is said in sentences."""
    fields = sent.fields()
    if sent.sweep is None:
        records = records_of(shop, key, also_withdrawn=True)
        fields["sweep"] = number_for(records, sent.speed_rpm, sent.map_kpa)
    seen = read("torque-point", 1, fields)
    return evidence_record(shop.evidence.add(key, seen, who=sent.who, sent_as=sent.sent_as))


@router.post("/jobs/{key}/knock-marks", status_code=201, summary="Keep what was heard")
def new_mark(shop: TheShop, key: Key, sent: NewKnockMark) -> dict[str, Any]:
    """Keep one mark of knock."""
    seen = read("knock-mark", 1, sent.fields())
    return evidence_record(shop.evidence.add(key, seen, who=sent.who, sent_as=sent.sent_as))


@router.get("/jobs/{key}/dyno", summary="Fit the sweeps one by one")
def dyno(shop: TheShop, key: Key) -> dict[str, Any]:
    """Give what `sparkwright dyno KEY --json` prints."""
    measured = measured_on(shop, key)
    result = measured.fitted()
    return record("dyno", measured.job, result, assumed=result.assumed, warnings=result.findings)


@router.get("/jobs/{key}/measured", summary="Hold what was measured against what was foretold")
def measured_against(shop: TheShop, key: Key) -> dict[str, Any]:
    """Give each swept place beside the plan's best before and after learning, and what cells stand on."""
    measured = measured_on(shop, key)
    result = measured.against()
    return record("measured", measured.job, result, warnings=result.findings)


@router.get("/jobs/{key}/learned", summary="Learn the engine and plan its map anew")
def learned(shop: TheShop, key: Key) -> dict[str, Any]:
    """Give what `sparkwright learn KEY --json` prints."""
    measured = measured_on(shop, key)
    result, _ = measured.learned()
    return record("learn", measured.job, result, assumed=result.assumed, warnings=result.warnings)


@router.get("/jobs/{key}/next", summary="Say what to measure next")
def next_run(shop: TheShop, key: Key) -> dict[str, Any]:
    """Give what `sparkwright next KEY --json` prints."""
    measured = measured_on(shop, key)
    result = measured.next_runs()
    return record("next", measured.job, result, assumed=result.assumed, warnings=result.findings)


@router.post("/jobs/{key}/evidence/{record_id}/withdraw", summary="Take a record back")
def withdraw(
    request: Request, shop: TheShop, key: Key, record_id: RecordId, sent: TakeBack
) -> dict[str, Any]:
    """Take back what was measured, heard or accepted; it stays, struck through, and counts no longer."""
    kept = shop.evidence.withdraw(key, record_id, who=sent.who, why=sent.why)
    shop.log.note("taken back", place_of(request), who=sent.who, key=key, about=f"{kept.kind} {record_id}")
    return evidence_record(kept)


@router.post("/jobs/{key}/evidence/{record_id}/put-back", summary="Let a record count again")
def put_back(request: Request, shop: TheShop, key: Key, record_id: RecordId, sent: PutBack) -> dict[str, Any]:
    """Let a record that was taken back count again."""
    kept = shop.evidence.put_back(key, record_id)
    shop.log.note("put back", place_of(request), who=sent.who, key=key, about=f"{kept.kind} {record_id}")
    return evidence_record(kept)
