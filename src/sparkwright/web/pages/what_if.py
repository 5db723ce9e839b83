"""What if one fact were different: the map moved, old against new, before anything is saved."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import HTMLResponse, Response

from sparkwright.edit.difference import moved
from sparkwright.errors import SparkwrightError
from sparkwright.job import JobText
from sparkwright.shop import Revision
from sparkwright.web.pages.common import Who, Why, job_page
from sparkwright.web.pages.map_changes import in_lines, save_changed
from sparkwright.web.pages.what_if_facts import fact_of, facts_to_change, with_fact
from sparkwright.web.routes import TheReckoner, TheShop, reckon_of, revision_shown
from sparkwright.web.view import page, person_of

router = APIRouter()

MOST_VALUE = 60


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
    return _shown(request, revision_shown(shop, key, number), fact, value)


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
        return _shown(
            request, revision, fact, value, {"refused": in_lines(problem), "who": who, "why": why}, 422
        )


def _shown(
    request: Request,
    revision: Revision,
    fact: str,
    value: str,
    typed: dict[str, object] | None = None,
    status: int = 200,
) -> HTMLResponse:
    person = person_of(request)
    values: dict[str, object] = {
        "facts": facts_to_change(revision.job, person.system),
        "fact": None,
        "chosen": fact,
        "value": value,
        "moved": None,
        "part": False,
        "changed_plan": None,
        "refused": "",
        "who": "",
        "why": "",
    }
    try:
        if fact:
            reckon = reckon_of(request)
            values["fact"] = fact_of(revision.job, fact, person.system)
            changed = with_fact(JobText(revision.text, kept=True), fact, value).job
            before, after = reckon(revision.job).plan, reckon(changed).plan
            values |= {"moved": moved(before, after), "changed_plan": after, "plan_before": before}
            values["why"] = _why(request, revision, fact, value)
    except SparkwrightError as problem:
        values["refused"], status = in_lines(problem), 422
    values |= typed or {}
    if request.headers.get("hx-request") == "true" and request.method == "GET":
        return page(request, "what-if-result.html", values | {"revision": revision, "part": True}, status)
    return job_page(request, "what-if.html", revision, "map", values, status)


def _why(request: Request, revision: Revision, fact: str, value: str) -> str:
    found = fact_of(revision.job, fact, person_of(request).system)
    return f"{found.label}: {value.strip() or 'not stated'} instead of {found.now}"
