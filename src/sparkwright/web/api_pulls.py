"""The JSON of pulls at full throttle: kept, listed, and held against each other."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Depends
from pydantic import Field

from sparkwright.dyno.pull_result import pulls_of
from sparkwright.dyno.pulls import BANDWIDTH_RPM
from sparkwright.errors import Refusal
from sparkwright.evidence.kinds import MOST_READINGS, read
from sparkwright.evidence.pulls import pulls_in
from sparkwright.sheets.record import record
from sparkwright.web.api import ANSWERS, Key, known_parameters
from sparkwright.web.api_dyno import evidence_record
from sparkwright.web.api_sent import SentOnce
from sparkwright.web.learning import records_of
from sparkwright.web.routes import OfJob, TheShop

router = APIRouter(
    prefix="/api/v1",
    responses=ANSWERS,
    dependencies=[Depends(known_parameters)],
    route_class=OfJob,
)


class NewPull(SentOnce):
    """A pull at full throttle; without advance and load it is compared and teaches nothing."""

    rows: list[dict[str, float]] = Field(
        description="Each speed_rpm and torque_nm, and advance_deg where it changes", max_length=MOST_READINGS
    )
    name: str = Field("", description="What it is called", max_length=80)
    timing: str = Field("", description="At what timing it was run, in words", max_length=80)
    advance_deg: float | None = Field(None, description="Advance, crank degrees before top dead centre")
    map_kpa: float | None = Field(None, description="Manifold pressure, absolute")
    mixture_lambda: float | None = Field(None, description="Air over stoichiometric air")
    intake_air_c: float | None = Field(None, description="Intake air")


@router.post("/jobs/{key}/pulls", status_code=201, summary="Keep a pull at full throttle")
def new_pull(shop: TheShop, key: Key, sent: NewPull) -> dict[str, Any]:
    """Keep one pull; what is wrong with it is said in sentences."""
    seen = read("pull", 1, sent.fields())
    return evidence_record(shop.evidence.add(key, seen, who=sent.who, sent_as=sent.sent_as))


@router.get("/jobs/{key}/pulls", summary="Hold the kept pulls against each other")
def kept_pulls(shop: TheShop, key: Key) -> dict[str, Any]:
    """Give what `sparkwright pulls --job KEY --json` prints."""
    found = pulls_in(records_of(shop, key))
    if not found:
        raise Refusal.at("pulls", None, "must be kept with this job first")
    result = pulls_of(found, BANDWIDTH_RPM)
    return record("pulls", None, result, warnings=result.warnings)
