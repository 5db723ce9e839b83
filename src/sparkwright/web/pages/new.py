"""A new job: from nothing, or beginning with a copy of another one."""

from __future__ import annotations

import secrets

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, Response

from sparkwright.job import JobText
from sparkwright.shop import Shop
from sparkwright.web.forms import Filled, fill, groups, sections_shown, with_rows
from sparkwright.web.pages.common import went
from sparkwright.web.pages.facts import TypedForm, copied, who_refused
from sparkwright.web.pages.personal import remember
from sparkwright.web.routes import TheShop
from sparkwright.web.view import page, person_of

router = APIRouter()

FIRST_WHY = "Started from nothing"
MOST_OFFERED = 200


@router.get("/new")
def new_page(request: Request, shop: TheShop, copy: str = "") -> Response:
    """Offer the facts that a plan can't do without, and the others."""
    return _page(request, shop, copy)


@router.post("/new")
def new(request: Request, shop: TheShop, form: TypedForm) -> Response:
    """Create a job of what was typed, or give it all back with a sentence beside each field."""
    copy = form.get("copy", "")
    changed = with_rows(form)
    if changed is not None:
        return _page(request, shop, copy, fill(changed, copied(shop, copy)), told=False)
    filled = fill(form, copied(shop, copy))
    if filled.job is None or who_refused(form):
        return _page(request, shop, copy, filled, status=422)
    why = f"Started as a copy of {shop.jobs.latest(copy).name}" if copy else FIRST_WHY
    who = form["who"].strip()
    text = JobText.begun(filled.tables).text
    why = form.get("why", "").strip() or why[:500]
    saved = shop.jobs.create(text, who=who, why=why, sent_as=form.get("sent_as") or None)
    return remember(went(request, f"/jobs/{saved.key}"), who)


def _page(
    request: Request,
    shop: Shop,
    copy: str,
    filled: Filled | None = None,
    *,
    told: bool = True,
    status: int = 200,
) -> HTMLResponse:
    form = dict(filled.typed) if filled else {}
    told = told and filled is not None
    values: dict[str, object] = {
        "groups": groups(
            sections_shown("new"), copied(shop, copy), person_of(request).system, filled=filled, told=told
        ),
        "copy": copy,
        "copied_from": shop.jobs.latest(copy).name if copy else "",
        "others": [] if copy else shop.jobs.lines(limit=MOST_OFFERED),
        "filled": filled if told else None,
        "who_refused": who_refused(form) if told else "",
        "who": form.get("who", ""),
        "why": form.get("why", ""),
        # A form that is sent twice, for the answer to the first was lost, is one job.
        "sent_as": form.get("sent_as") or secrets.token_hex(16),
    }
    return page(request, "new.html", values, status)
