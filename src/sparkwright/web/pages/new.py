"""A new job: from what a person knows, from every fact on one page, or as a copy of another one."""

from __future__ import annotations

import secrets
from collections.abc import Sequence
from dataclasses import dataclass, replace

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, Response

from sparkwright.job import JobText
from sparkwright.shop import JobLine, Shop
from sparkwright.units import System
from sparkwright.web.field_words import begun_small
from sparkwright.web.filled import Filled, fill
from sparkwright.web.forms import Field, Group, fields_named, groups, names_asked, sections_shown
from sparkwright.web.pages.common import went
from sparkwright.web.pages.facts import TypedForm, copied, who_refused
from sparkwright.web.pages.personal import remember
from sparkwright.web.peg_rows import with_rows
from sparkwright.web.routes import TheShop
from sparkwright.web.view import Shown, person_of, show

router = APIRouter()

FIRST_WHY = "Started from nothing"
MOST_OFFERED = 200

KNOWN: dict[str, tuple[str, ...]] = {
    "Engine": (
        "name",
        "engine.cylinders",
        "engine.layout",
        "engine.firing_order",
        "engine.bore",
        "engine.stroke",
        "engine.compression_ratio",
        "engine.piston",
    ),
    "Camshaft": (
        "cam.at_lift",
        "cam.intake_duration_deg",
        "cam.exhaust_duration_deg",
        "cam.lobe_separation_deg",
        "cam.intake_centreline_deg",
        "cam.cam_advance_deg",
    ),
    "Fuel and air": ("fuel.ron", "fuel.aki", "induction.kind", "induction.max_boost"),
    "Distributor": (
        "distributor.rotation",
        "distributor.base_deg",
        "distributor.advance",
        "distributor.cap_size",
    ),
    "Ignition": ("pickup.kind", "driver.kind", "coil.kind"),
}
"""What is asked first, by the heading it stands under: what a person knows, or reads off card and cap."""

EVENTS = ("cam.intake_opens_deg", "cam.intake_closes_deg", "cam.exhaust_opens_deg", "cam.exhaust_closes_deg")
"""The other way to state a cam, folded away while the first is taken."""

INSTEAD = ("engine.piston", "cam.cam_advance_deg", "fuel.aki")
"""What may stand in place of the field before it."""

HINTED = ("engine.firing_order", "cam.at_lift", "distributor.rotation", "distributor.base_deg")
"""What needs a word on how to count; the other labels say it all."""


@dataclass(frozen=True, kw_only=True)
class NewPage(Shown):
    """What the page of a new job shows."""

    template = "new.html"

    every: bool
    groups: Sequence[Group]
    copy: str
    copied_from: str
    others: Sequence[JobLine]
    filled: Filled | None
    who_refused: str
    who: str
    why: str
    sent_as: str


@router.get("/new")
def new_page(request: Request, shop: TheShop, copy: str = "", every: bool = False) -> Response:
    """Ask what a person knows, or every fact; a copy shows every fact that it takes over."""
    return _page(request, shop, copy, every=every)


@router.post("/new")
def new(request: Request, shop: TheShop, form: TypedForm) -> Response:
    """Create a job of what was typed, or give it all back with a sentence beside each field.

    The page Engine, which comes next, begins to plan it.
    """
    copy, every = form.get("copy", ""), "every" in form
    changed = with_rows(form)
    if changed is not None:
        return _page(request, shop, copy, fill(changed, copied(shop, copy)), every=every, told=False)
    filled = fill(form, copied(shop, copy))
    if filled.job is None or who_refused(form):
        return _page(request, shop, copy, filled, every=every, status=422)
    why = f"Started as a copy of {shop.jobs.latest(copy).name}" if copy else FIRST_WHY
    who = form["who"].strip()
    text = JobText.begun(filled.tables).text
    why = form.get("why", "").strip() or why[:500]
    saved = shop.jobs.create(text, who=who, why=why, sent_as=form.get("sent_as") or None)
    return remember(went(request, f"/jobs/{saved.key}/engine"), who)


def _page(
    request: Request,
    shop: Shop,
    copy: str,
    filled: Filled | None = None,
    *,
    every: bool = False,
    told: bool = True,
    status: int = 200,
) -> HTMLResponse:
    form = dict(filled.typed) if filled else {}
    told = told and filled is not None
    every = every or bool(copy)
    system = person_of(request).system
    shown = NewPage(
        every=every,
        groups=groups(sections_shown("new"), copied(shop, copy), system, filled=filled, told=told)
        if every
        else known_groups(system, filled),
        copy=copy,
        copied_from=shop.jobs.latest(copy).name if copy else "",
        others=[] if copy else shop.jobs.lines(limit=MOST_OFFERED),
        filled=filled if told else None,
        who_refused=who_refused(form) if told else "",
        who=form.get("who", ""),
        why=form.get("why", ""),
        # A form that is sent twice, for the answer to the first was lost, is one job.
        sent_as=form.get("sent_as") or secrets.token_hex(16),
    )
    return show(request, shown, status)


def known_groups(system: System, filled: Filled | None = None) -> tuple[Group, ...]:
    """Give what is asked first, under its headings, and with it whatever else was refused.

    Parameters
    ----------
    system : System
        Units that the person reads.
    filled : Filled, optional
        What came back from the form and was refused; None where nothing was.
    """
    first = tuple(name for names in KNOWN.values() for name in names)
    fields = fields_named(names_asked((*first, *EVENTS), filled), {}, system, filled=filled)
    asked = {each.name: _asked(each) for each in fields}
    found = [
        Group(title.lower().replace(" ", "-"), title, "", tuple(asked.pop(name) for name in names))
        for title, names in KNOWN.items()
    ]
    events = tuple(asked.pop(name) for name in EVENTS)
    found = [replace(each, more=events) if each.name == "camshaft" else each for each in found]
    if asked:
        found.append(Group("besides", "Asked besides", "", tuple(asked.values())))
    return tuple(found)


def _asked(field: Field) -> Field:
    hinted = field.name in HINTED or field.name not in {name for names in KNOWN.values() for name in names}
    label = f"or {begun_small(field.label)}" if field.name in INSTEAD else field.label
    return replace(field, label=label, hint=field.hint if hinted else "")
