"""What was seen on an engine: records taken back, and put back again."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import Response

from sparkwright.web.pages.common import Who, Why, own_address, said_by, went
from sparkwright.web.pages.personal import remember
from sparkwright.web.routes import TheShop
from sparkwright.web.sessions import place_of

router = APIRouter()

Then = Annotated[str, Form()]


@router.post("/jobs/{key}/evidence/{record_id}/back")
def take_back(
    request: Request, shop: TheShop, key: str, record_id: int, then: Then, who: Who = "", why: Why = ""
) -> Response:
    """Take a record back; it stays, struck through, and counts no longer."""
    name = said_by(who)
    record = shop.evidence.withdraw(key, record_id, who=name, why=why)
    shop.log.note("taken back", place_of(request), who=name, key=key, about=f"{record.kind} {record_id}")
    return remember(went(request, own_address(then)), name)


@router.post("/jobs/{key}/evidence/{record_id}/put-back")
def put_back(
    request: Request, shop: TheShop, key: str, record_id: int, then: Then, who: Who = ""
) -> Response:
    """Let a record count again."""
    name = said_by(who)
    record = shop.evidence.put_back(key, record_id)
    shop.log.note("put back", place_of(request), who=name, key=key, about=f"{record.kind} {record_id}")
    return remember(went(request, own_address(then)), name)
