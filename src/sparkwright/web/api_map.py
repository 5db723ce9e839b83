"""The JSON of a map beside the plan's own: one that a person has."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Depends

from sparkwright.sheets.record import record
from sparkwright.web.api import ANSWERS, Key, known_parameters
from sparkwright.web.api_sent import OwnMapSent
from sparkwright.web.own_map import own_map
from sparkwright.web.routes import OfJob, TheReckon, TheShop, revision_shown

router = APIRouter(
    prefix="/api/v1",
    responses=ANSWERS,
    dependencies=[Depends(known_parameters)],
    route_class=OfJob,
)


@router.post("/jobs/{key}/mine", summary="Hold a map that you have against the plan")
def mine(shop: TheShop, reckon: TheReckon, key: Key, sent: OwnMapSent) -> dict[str, Any]:
    """Give what `sparkwright mine --json` prints: part by part against the plan, and merged."""
    job = revision_shown(shop, key, sent.number).job
    found = own_map(sent.map, job, sent.read_as, reckon)
    return record("mine", job, found.mine, assumed=found.planned.assumed, warnings=found.mine.warnings)
