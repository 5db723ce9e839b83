"""One open fact on a screen of its own: what is taken meanwhile, what that may cost, and the next one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, Response

from sparkwright.errors import Refusal
from sparkwright.job import JobText
from sparkwright.job.names import FIELDS, label_of
from sparkwright.plan.worth import MeasureFirst
from sparkwright.shop import Revision, Shop
from sparkwright.web.filled import Filled, fill
from sparkwright.web.forms import Field, fields_named, names_asked, shown_fact
from sparkwright.web.pages.common import show_in_job
from sparkwright.web.pages.engine import assumed_in, open_facts
from sparkwright.web.pages.facts import TypedForm, based_on, save_facts, who_refused
from sparkwright.web.routes import TheShop, reckoner_of
from sparkwright.web.view import Shown, person_of

router = APIRouter()

MOST_BACK = 20
"""Revisions that are looked through for the newest plan; a choice."""


@dataclass(frozen=True, kw_only=True)
class OneFactPage(Shown):
    """What the page of one fact shows."""

    template = "one-fact.html"

    name: str
    label: str
    fields: Sequence[Field]
    first: MeasureFirst | None
    then: str
    then_label: str
    filled: Filled | None
    who_refused: str
    who: str
    why: str


@router.get("/jobs/{key}/fact/{name}")
def fact_page(request: Request, shop: TheShop, key: str, name: str) -> Response:
    """Ask for one fact."""
    return _page(request, shop, shop.jobs.latest(key), _known(name))


@router.post("/jobs/{key}/fact/{name}")
def save_fact(request: Request, shop: TheShop, key: str, name: str, form: TypedForm) -> Response:
    """Save one fact and go on to the next open one, or give it back with a sentence beside it."""
    revision = shop.jobs.revision(key, based_on(form))
    filled = fill(form, JobText(revision.text, kept=True).facts())
    then = _next_after(_known(name), _still_open(request, shop, revision))
    saved = save_facts(request, shop, revision, form, filled, f"fact/{then}" if then else "engine")
    return saved or _page(request, shop, revision, name, filled)


def _known(name: str) -> str:
    if name not in FIELDS or name.startswith(("pegs.", "hand.")):
        raise Refusal.at("fact", f'"{name[:40]}"', "must be a fact of a job", "choose it on the page Engine")
    return name


def _still_open(request: Request, shop: Shop, revision: Revision) -> tuple[MeasureFirst, ...]:
    """Give what a revision leaves open, in the order of the newest plan of the job."""
    reckoner, facts = reckoner_of(request), revision.job.facts()
    for number in range(revision.number, max(0, revision.number - MOST_BACK), -1):
        reckoned = reckoner.kept(shop.jobs.revision(revision.key, number).fingerprint)
        if reckoned is not None:
            return tuple(each for each in open_facts(reckoned) if not shown_fact(facts, each.field, "metric"))
    return ()


def _next_after(name: str, still_open: tuple[MeasureFirst, ...]) -> str:
    """Give the open fact behind one, from the first again behind the last; "" where no other is open."""
    names = [each.field for each in still_open]
    place = names.index(name) + 1 if name in names else 0
    return next((each for each in names[place:] + names[:place] if each != name), "")


def _page(
    request: Request, shop: Shop, revision: Revision, name: str, filled: Filled | None = None
) -> HTMLResponse:
    still_open = _still_open(request, shop, revision)
    then = _next_after(name, still_open)
    form = dict(filled.typed) if filled else {}
    fields = fields_named(
        names_asked((name,), filled),
        JobText(revision.text, kept=True).facts(),
        person_of(request).system,
        assumed=assumed_in(reckoner_of(request).kept(revision.fingerprint)),
        filled=filled,
    )
    shown = OneFactPage(
        name=name,
        label=label_of(name),
        fields=fields,
        first=next((each for each in still_open if each.field == name), None),
        then=then,
        then_label=label_of(then) if then else "",
        filled=filled,
        who_refused=who_refused(form) if filled else "",
        who=form.get("who", ""),
        why=form.get("why", ""),
    )
    return show_in_job(request, shown, revision, "engine", 422 if filled else 200)
