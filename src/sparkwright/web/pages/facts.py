"""What the pages with facts share: a posted form, the check of one field as it is typed, and saving."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request
from fastapi.responses import Response

from sparkwright.errors import Refusal, SparkwrightError
from sparkwright.job import JobText
from sparkwright.shop import Revision, SavedElsewhereError, Shop
from sparkwright.shop.refusals import name_given, why_given
from sparkwright.web.field_words import changed_words
from sparkwright.web.filled import Filled, fill
from sparkwright.web.form_names import sections_in
from sparkwright.web.forms import Field, all_fields, groups
from sparkwright.web.pages.common import said_by, went
from sparkwright.web.pages.personal import remember
from sparkwright.web.routes import TheShop
from sparkwright.web.view import page, person_of

router = APIRouter()

MOST_FIELDS = 1500
MOST_WHY = 500

NOT_COPIED = ("name", "note", "invented", "pegs", "hand", "shop", "customer")
"""What belongs to one job alone and no copy takes over."""


async def typed_form(request: Request) -> dict[str, str]:
    """Give the texts of a posted form; of a name that comes twice the last, files left out."""
    async with request.form(max_files=0, max_fields=MOST_FIELDS) as form:
        return {name: value for name, value in form.multi_items() if isinstance(value, str)}


TypedForm = Annotated[dict[str, str], Depends(typed_form)]


def based_on(form: dict[str, str]) -> int:
    """Give the number of the revision that a form was made from.

    Parameters
    ----------
    form : dict
        What was typed by input.
    """
    number = form.get("based_on", "")
    if not (number.isascii() and number.isdecimal() and len(number) < 10):
        raise Refusal.at(
            "based_on", f'"{number[:20]}"', "must be the number of a revision", "load the page again"
        )
    return int(number)


def copied(shop: Shop, key: str) -> dict[str, Any]:
    """Give the facts that a new job takes over from another one, as they were typed; none without a key.

    Parameters
    ----------
    shop : Shop
        The store.
    key : str
        Key of the other job; "" for none.
    """
    if not key:
        return {}
    facts = JobText(shop.jobs.latest(key).text, kept=True).facts()
    return {name: value for name, value in facts.items() if name not in NOT_COPIED}


def who_refused(form: dict[str, str]) -> str:
    """Say what keeps the person's name, or the reason, from standing; "" when nothing does.

    Parameters
    ----------
    form : dict
        What was typed by input.
    """
    try:
        name_given("your name", said_by(form.get("who", "")))
        why_given(form.get("why", ""))
    except SparkwrightError as problem:
        return str(problem)
    return ""


@router.post("/check")
def check(request: Request, shop: TheShop, form: TypedForm, of: str = "") -> Response:
    """Say of one field how it was read, or what it must be; and anew of the fields that stood refused."""
    key = form.get("key", "")
    if key:
        facts = JobText(shop.jobs.revision(key, based_on(form)).text, kept=True).facts()
    else:
        facts = copied(shop, form.get("copy", ""))
    shown = groups(sections_in(form), facts, person_of(request).system, filled=fill(form, facts))
    fields = all_fields(shown)
    changed = next((each for each in fields if each.name == of), None)
    if changed is None:
        return Response(status_code=204)
    before = set(form.get("refused", "").split())
    others = [
        each
        for each in fields
        if each is not changed and each.name in form and _told_again(each, changed, before)
    ]
    return page(request, "said.html", {"field": changed, "others": others})


def _told_again(other: Field, changed: Field, before: set[str]) -> bool:
    """Whether another field's sentence comes or goes; none is asked for before its turn has come."""
    if other.id in before:
        return True
    asked_by_choice = changed.kind == "select" and not other.needed and other.section == changed.section
    return bool(other.refused) and (bool(other.text) or asked_by_choice)


def save_job(
    request: Request, shop: Shop, key: str, job: JobText, form: dict[str, str], *, why: str, then: str
) -> Response:
    """Save a job as a new revision and go on; to the comparison where somebody else saved meanwhile.

    Parameters
    ----------
    request : Request
        What the browser sent.
    shop : Shop
        The store.
    key : str
        Which job.
    job : JobText
        Its text as it is to be.
    form : dict
        Says who and why, and the revision that the person had before them.
    why : str
        The reason where the person gave none.
    then : str
        Where to go on.

    Raises
    ------
    Refusal
        Where nobody, or nothing that can stand, is named.
    """
    who = said_by(form.get("who", ""))
    reason = (form.get("why", "").strip() or why)[:MOST_WHY]
    try:
        shop.jobs.save(key, job.text, who=who, why=reason, based_on=based_on(form))
    except SavedElsewhereError as elsewhere:
        then = f"/jobs/{key}/kept/{elsewhere.kept.id}"
    return remember(went(request, then), who)


def save_facts(
    request: Request, shop: Shop, revision: Revision, form: dict[str, str], filled: Filled, step: str
) -> Response | None:
    """Save what a form says; None where something in it can't stand.

    Parameters
    ----------
    request : Request
        The post that is answered.
    shop : Shop
        The store.
    revision : Revision
        The revision that the form was made from.
    form : dict
        What was typed by input.
    filled : Filled
        The same, read.
    step : str
        Name of the page that follows.
    """
    if filled.job is None or who_refused(form):
        return None
    then = f"/jobs/{revision.key}/{step}"
    changed = changed_words(revision.job.facts(), filled.job.facts())
    if not changed:
        return went(request, f"{then}?unchanged=1")
    text = JobText(revision.text, kept=True).stating(filled.tables)
    return save_job(request, shop, revision.key, text, form, why=changed, then=then)
