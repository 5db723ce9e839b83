"""The JSON of what was measured: points and marks in, fits, what was learned, and what to measure next."""

from __future__ import annotations

from typing import Any, Literal

from fastapi import APIRouter, Depends
from pydantic import Field

from sparkwright.evidence.kinds import MOST_SETS, read
from sparkwright.evidence.pulls import taught_by
from sparkwright.evidence.records import Record
from sparkwright.evidence.sweeps import number_for, sweeps_in
from sparkwright.sheets.record import record
from sparkwright.web.api import ANSWERS, Key, known_parameters
from sparkwright.web.api_sent import Sent
from sparkwright.web.learning import fits_for, learned_for, measured_on, next_for
from sparkwright.web.routes import OfJob, TheShop

router = APIRouter(
    prefix="/api/v1",
    responses=ANSWERS,
    dependencies=[Depends(known_parameters)],
    route_class=OfJob,
)


class NewAtPoint(Sent):
    """Where something was measured or heard; what is not known is left out."""

    speed_rpm: float = Field(description="Engine speed")
    map_kpa: float = Field(description="Manifold pressure, absolute")
    advance_deg: float = Field(description="Advance, crank degrees before top dead centre")
    mixture_lambda: float | None = Field(None, description="Air over stoichiometric air")
    coolant_c: float | None = Field(None, description="Coolant")
    intake_air_c: float | None = Field(None, description="Intake air")
    note: str = Field("", description="Anything else", max_length=200)
    sent_as: str | None = Field(
        None,
        description="A word of your own for it; sent again under the same word it is kept once",
        min_length=1,
        max_length=40,
    )

    def fields(self) -> dict[str, object]:
        """Give them as evidence has them."""
        given = self.model_dump(exclude={"who", "sent_as"}, exclude_none=True)
        return {name: value for name, value in given.items() if value != ""}


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
    records = measured_on(shop, key)
    return {"schema": "urn:sparkwright:sweeps:1", "records": [evidence_record(each) for each in records]}


@router.post("/jobs/{key}/torque-points", status_code=201, summary="Keep torque at one advance")
def new_point(shop: TheShop, key: Key, sent: NewTorquePoint) -> dict[str, Any]:
    """Keep one point; what is wrong with it is said in sentences."""
    fields = sent.fields()
    if sent.sweep is None:
        records = measured_on(shop, key, also_withdrawn=True)
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
    job = shop.jobs.latest(key).job
    result = fits_for(job, sweeps_in(measured_on(shop, key)))
    return record("dyno", job, result, assumed=result.assumed, warnings=result.warnings)


@router.get("/jobs/{key}/learned", summary="Learn the engine and plan its map anew")
def learned(shop: TheShop, key: Key) -> dict[str, Any]:
    """Give what `sparkwright learn KEY --json` prints."""
    job = shop.jobs.latest(key).job
    result, _ = learned_for(job, taught_by(measured_on(shop, key)))
    return record("learn", job, result, assumed=result.assumed, warnings=result.warnings)


@router.get("/jobs/{key}/next", summary="Say what to measure next")
def next_run(shop: TheShop, key: Key) -> dict[str, Any]:
    """Give what `sparkwright next KEY --json` prints."""
    job = shop.jobs.latest(key).job
    result = next_for(job, taught_by(measured_on(shop, key)))
    return record("next", job, result, assumed=result.assumed, warnings=result.warnings)
