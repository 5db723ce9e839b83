"""What if one fact were different: the map moved, old against new, before anything is saved."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Annotated

from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import Response

from sparkwright.edit.difference import Moved, moved
from sparkwright.errors import SparkwrightError
from sparkwright.job import JobText
from sparkwright.plan.result import PlanResult
from sparkwright.shop import Revision
from sparkwright.web.pages.common import Who, Why, show_in_job
from sparkwright.web.pages.map_changes import in_lines, save_changed
from sparkwright.web.pages.what_if_facts import FactNow, Facts, fact_of, facts_to_change, with_fact
from sparkwright.web.routes import TheReckoner, TheShop, reckon_of, revision_shown
from sparkwright.web.view import Shown, page, person_of

router = APIRouter()

MOST_VALUE = 60


@dataclass(frozen=True, kw_only=True)
class WhatIfPage(Shown):
    """What the page shows, or with `part` what comes into it, once a fact is chosen or before."""

    template = "what-if.html"

    facts: Sequence[Facts]
    fact: FactNow | None = None
    chosen: str
    value: str
    moved: Moved | None = None
    changed_plan: PlanResult | None = None
    part: bool = False
    refused: str = ""
    who: str = ""
    why: str = ""


@router.get("/jobs/{key}/map/what-if")
def what_if(
    request: Request,
    shop: TheShop,
    key: str,
    fact: Annotated[str, Query(max_length=60)] = "",
    value: Annotated[str, Query(max_length=MOST_VALUE)] = "",
    number: int | None = None,
) -> Response:
    """Change one fact for a try; a plain address, so that it can be kept, sent and gone back to."""
    revision = revision_shown(shop, key, number)
    shown = _tried(request, revision, fact, value)
    status = 422 if shown.refused else 200
    if request.headers.get("hx-request") == "true":
        part = replace(shown, part=True).names()
        return page(request, "what-if-result.html", part | {"revision": revision}, status)
    return show_in_job(request, shown, revision, "map", status)


@router.post("/jobs/{key}/map/what-if")
def save_what_if(
    request: Request,
    shop: TheShop,
    reckoner: TheReckoner,
    key: str,
    number: Annotated[int, Form()],
    fact: Annotated[str, Form(max_length=60)],
    value: Annotated[str, Form(max_length=MOST_VALUE)] = "",
    who: Who = "",
    why: Why = "",
) -> Response:
    """Save the changed fact as a new revision."""
    revision = shop.jobs.revision(key, number)
    try:
        changed = with_fact(JobText(revision.text, kept=True), fact, value)
        return save_changed(
            request,
            shop,
            reckoner,
            revision,
            changed,
            who=who,
            why=why.strip() or _why(request, revision, fact, value),
        )
    except SparkwrightError as problem:
        tried = _tried(request, revision, fact, value)
        refused = replace(tried, refused=in_lines(problem), who=who, why=why)
        return show_in_job(request, refused, revision, "map", 422)


def _tried(request: Request, revision: Revision, fact: str, value: str) -> WhatIfPage:
    """Give what is shown of a fact that is tried, with what refused it."""
    system, reckon = person_of(request).system, reckon_of(request)
    shown = WhatIfPage(facts=facts_to_change(revision.job, system), chosen=fact, value=value)
    if not fact:
        return shown
    try:
        shown = replace(shown, fact=fact_of(revision.job, fact, system))
        changed = with_fact(JobText(revision.text, kept=True), fact, value).job
        before, after = reckon(revision.job).plan, reckon(changed).plan
    except SparkwrightError as problem:
        return replace(shown, refused=in_lines(problem))
    why = _why(request, revision, fact, value)
    return replace(shown, moved=moved(before, after), changed_plan=after, why=why)


def _why(request: Request, revision: Revision, fact: str, value: str) -> str:
    found = fact_of(revision.job, fact, person_of(request).system)
    return f"{found.label}: {value.strip() or 'not stated'} instead of {found.now}"
