"""The engine: what it is, what is assumed of it, and every fact of it as a form."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, Response
from markupsafe import Markup

from sparkwright.check.assumed import Assumed
from sparkwright.check.doubts import doubts
from sparkwright.check.engine_words import engine_in_words
from sparkwright.findings import Finding
from sparkwright.ignition.crank import numbering_of
from sparkwright.job import Job, JobText
from sparkwright.job.names import FIELDS, answer_in_words, label_of
from sparkwright.pictures.banks import banks_picture
from sparkwright.plan.worth import MeasureFirst, measure_first
from sparkwright.shop import Revision
from sparkwright.units import System
from sparkwright.web.filled import Filled, fill
from sparkwright.web.forms import Group, groups, sections_shown, shown_fact
from sparkwright.web.pages.common import show_in_job
from sparkwright.web.pages.facts import TypedForm, based_on, save_facts, who_refused
from sparkwright.web.peg_rows import with_rows
from sparkwright.web.reckoning import Reckoned
from sparkwright.web.routes import TheShop, reckoner_of, revision_shown
from sparkwright.web.view import Shown, drawing, person_of

router = APIRouter()


@dataclass(frozen=True, kw_only=True)
class EnginePage(Shown):
    """What the page of the engine shows."""

    template = "engine.html"

    sentence: str
    doubts: Sequence[tuple[str, str, Finding]]
    first: Sequence[tuple[str, MeasureFirst]]
    known: bool
    waiting: bool
    groups: tuple[Group, ...]
    banks: Markup | None
    filled: Filled | None
    editing: bool
    who_refused: str
    who: str
    why: str
    unchanged: bool


@router.get("/jobs/{key}/engine")
def engine_page(
    request: Request, shop: TheShop, key: str, number: int | None = None, unchanged: bool = False
) -> Response:
    """Show the engine and its facts."""
    return _page(request, revision_shown(shop, key, number), unchanged=unchanged)


@router.post("/jobs/{key}/engine")
def save_engine(request: Request, shop: TheShop, key: str, form: TypedForm) -> Response:
    """Save the facts of the engine, or give all that was typed back with a sentence beside each field."""
    revision = shop.jobs.revision(key, based_on(form))
    facts = JobText(revision.text, kept=True).facts()
    changed = with_rows(form)
    if changed is not None:
        return _page(request, revision, fill(changed, facts), told=False)
    filled = fill(form, facts)
    saved = save_facts(request, shop, revision, form, filled, "engine")
    return saved or _page(request, revision, filled, status=422)


def _page(
    request: Request,
    revision: Revision,
    filled: Filled | None = None,
    *,
    told: bool = True,
    unchanged: bool = False,
    status: int = 200,
) -> HTMLResponse:
    system = person_of(request).system
    reckoned = reckoner_of(request).kept(revision.fingerprint)
    assumed = assumed_in(reckoned)
    form = dict(filled.typed) if filled else {}
    told = told and filled is not None
    shown = EnginePage(
        sentence=engine_sentence(revision.job, system),
        doubts=[(label_of(each.field), each.field, each.finding) for each in doubts(revision.job)],
        first=[(label_of(each.field), each) for each in open_facts(reckoned)],
        known=reckoned is not None,
        waiting=waiting(request, revision),
        groups=groups(
            sections_shown("engine"),
            JobText(revision.text, kept=True).facts(),
            system,
            assumed=assumed,
            filled=filled,
            told=told,
        ),
        banks=banks_of(revision.job),
        filled=filled if told else None,
        editing=filled is not None,
        who_refused=who_refused(form) if told else "",
        who=form.get("who", ""),
        why=form.get("why", ""),
        unchanged=unchanged,
    )
    return show_in_job(request, shown, revision, "engine", status)


def banks_of(job: Job) -> Markup | None:
    """Draw how the banks may be numbered; None where the cylinders stand in one row.

    Parameters
    ----------
    job : Job
        The job, for its cylinders and their order.
    """
    engine = job.engine
    if engine.layout == "inline":
        return None
    told = numbering_of(engine.firing_order, engine.layout, engine.bank_numbering)
    return drawing(banks_picture(engine.cylinders, told))


def waiting(request: Request, revision: Revision) -> bool:
    """Whether results of a revision are still on their way.

    Parameters
    ----------
    request : Request
        The request, for what reckons.
    revision : Revision
        The revision.
    """
    reckoner = reckoner_of(request)
    work = reckoner.work(revision.fingerprint)
    return reckoner.kept(revision.fingerprint) is None and not (work is not None and work.ended)


def assumed_in(reckoned: Reckoned | None) -> tuple[Assumed, ...]:
    """Give everything that plan and check took where nothing is stated, each once.

    Parameters
    ----------
    reckoned : Reckoned or None
        Plan and check; None while they aren't there.
    """
    if reckoned is None:
        return ()
    found = {each.field: each for each in (*reckoned.plan.assumed, *reckoned.check.assumed)}
    return tuple(found.values())


def open_facts(reckoned: Reckoned | None) -> tuple[MeasureFirst, ...]:
    """Give every assumed fact that moves the timing, the most first, and others where those are few.

    Parameters
    ----------
    reckoned : Reckoned or None
        Plan and check; None while they aren't there.
    """
    if reckoned is None:
        return ()
    return measure_first(assumed_in(reckoned), reckoned.worth, most=max(3, len(reckoned.worth)))


def engine_sentence(job: Job, system: System) -> str:
    """Say what engine this is.

    Parameters
    ----------
    job : Job
        The job.
    system : System
        Units that the person reads.

    Examples
    --------
    >>> from sparkwright.job import starter_text
    >>> engine_sentence(Job.from_toml(starter_text()), "metric")
    'A 5.7 l V8, 9:1, wedge chamber, without boost, on 95 RON at 1450 m.'
    """
    fuel = job.fuel
    octane = next(
        f"{value:g} {name}"
        for name, value in (("RON", fuel.ron), ("AKI", fuel.aki), ("MON", fuel.mon))
        if value is not None
    )
    facts = job.facts()
    where = shown_fact(facts, "site.altitude", system) or shown_fact(facts, "site.pressure", system)
    chamber = answer_in_words(FIELDS["engine.chamber"], job.engine.chamber)
    air = "without boost"
    if job.induction.max_boost_kpa is not None:
        air = f"boosted by {shown_fact(facts, 'induction.max_boost', system)}"
    return (
        f"A {engine_in_words(job.engine)}, {chamber} chamber, {air}, on {octane} "
        f"at {where or 'sea level, which is assumed'}."
    )
