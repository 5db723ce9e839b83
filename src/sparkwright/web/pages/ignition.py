"""The ignition: can it deliver, where the arc goes, what the coil gives, and what to prove on the bench."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, Response

from sparkwright.check.cap_now import CapNow, asked_of, cap_now
from sparkwright.check.hardware import check_hardware
from sparkwright.check.result import HardwareResult
from sparkwright.check.wiring_answers import answered, answers_possible
from sparkwright.drawing.picture import Picture
from sparkwright.errors import Refusal, SparkwrightError
from sparkwright.findings import Sentence
from sparkwright.ignition.wiring import CheckedItem, CheckState
from sparkwright.job import Job, JobText
from sparkwright.job.field_kind import unit_of_key
from sparkwright.pictures.cap_live import cap_live_picture
from sparkwright.pictures.dwell import dwell_picture
from sparkwright.shop import Revision
from sparkwright.web.filled import Filled, fill
from sparkwright.web.form_names import field_kind_for
from sparkwright.web.forms import Group, groups, sections_shown
from sparkwright.web.pages.common import show_in_job, show_part, went
from sparkwright.web.pages.engine import assumed_in, waiting
from sparkwright.web.pages.facts import TypedForm, based_on, save_facts, save_job, who_refused
from sparkwright.web.reckoning import Work
from sparkwright.web.routes import TheReckoner, TheShop, reckoner_of, revision_shown
from sparkwright.web.typed import typed
from sparkwright.web.view import Shown, person_of
from sparkwright.words.cap import said, said_first

router = APIRouter()

SLIDERS: dict[str, tuple[str, str, float, float]] = {
    "advance": ("Advance of the spark, crank deg", "pegs.advance_deg", -20, 60),
    "phase": ("Rotor phase, distributor deg", "distributor.rotor_phase_deg", -20, 20),
    "base": ("Base, crank deg", "distributor.base_deg", -10, 45),
}
"""By name: the words, the field of the job whose limits hold, and the span of the slider."""

DWELL_PX = 620.0
NARROW_PX = 360.0
"""Widths of the dwell picture, the narrow one on a phone, so that its words stay as large as others."""

ANSWER_WORDS: dict[CheckState, str] = {"done": "proved", "look": "not so", "open": "not known yet"}


@dataclass(frozen=True)
class Slider:
    """One number that turns the cap, as typed, with what keeps it from standing."""

    name: str
    label: str
    text: str
    least: float
    most: float
    refused: str = ""


@dataclass(frozen=True)
class Live:
    """The cap as the sliders stand; without a cap, the sentence that says why."""

    sliders: tuple[Slider, ...]
    now: CapNow | None
    job: Job | None
    problem: str = ""


@dataclass(frozen=True, kw_only=True)
class CapShown(Shown):
    """What the part with the cap shows, as its sliders stand."""

    template = "cap-now.html"

    live: Live
    now: CapNow | None
    said_first: Sentence | str
    said: Sequence[Sentence]
    picture: Picture | None


@dataclass(frozen=True, kw_only=True)
class IgnitionPage(CapShown):
    """What the page of the ignition shows."""

    template = "ignition.html"

    check: HardwareResult | None
    work: Work | None
    waiting: bool
    dwell: Picture | None
    dwell_narrow: Picture | None
    wiring: Sequence[tuple[CheckedItem, tuple[CheckState, ...], str]]
    wiring_refused: str
    cap_refused: str
    answer_words: Mapping[CheckState, str]
    groups: tuple[Group, ...]
    filled: Filled | None
    editing: bool
    who_refused: str
    who: str
    why: str
    unchanged: bool


@router.get("/jobs/{key}/ignition")
def ignition_page(
    request: Request, shop: TheShop, key: str, number: int | None = None, unchanged: bool = False
) -> Response:
    """Show how the ignition stands, the cap, the coil, the wiring list and the facts."""
    return _page(request, revision_shown(shop, key, number), unchanged=unchanged)


@router.get("/jobs/{key}/ignition/cap")
def cap(
    request: Request, shop: TheShop, reckoner: TheReckoner, key: str, number: int | None = None
) -> Response:
    """Give the cap and its sentences for one advance, phase and base."""
    revision = revision_shown(shop, key, number)
    reckoned = reckoner.kept(revision.fingerprint)
    live = live_of(revision.job, request.query_params, reckoned.check if reckoned else None)
    shown = _cap_shown(request, live)
    if live.now is not None:
        return show_part(request, shown, revision)
    answer = show_part(request, shown, revision, 422)
    answer.headers["hx-reswap"] = "none"
    return answer


@router.post("/jobs/{key}/ignition/cap")
def save_cap(request: Request, shop: TheShop, key: str, form: TypedForm) -> Response:
    """Save the phase and the base that the sliders stand at."""
    revision = shop.jobs.revision(key, based_on(form))
    live = live_of(revision.job, form, None)
    if live.job is None or who_refused(form):
        return _page(request, revision, sliders=form, status=422)
    if live.job.fingerprint == revision.job.fingerprint:
        return went(request, f"/jobs/{key}/ignition?unchanged=1")
    why = _moved(revision.job, live.job)
    text = JobText(revision.text, kept=True).stating(live.job.facts())
    return save_job(request, shop, key, text, form, why=why, then=f"/jobs/{key}/ignition")


@router.post("/jobs/{key}/ignition/wiring")
def save_wiring(request: Request, shop: TheShop, key: str, form: TypedForm) -> Response:
    """Save the answers to the wiring list."""
    revision = shop.jobs.revision(key, based_on(form))
    answers = {
        name.removeprefix("wiring."): value for name, value in form.items() if name.startswith("wiring.")
    }
    try:
        states = {item.key: item.state for item in check_hardware(revision.job).wiring}
        job = answered(revision.job, answers, states)
        refused = who_refused(form)
    except SparkwrightError as problem:
        refused = str(problem)
    if refused:
        return _page(request, revision, wiring=form, wiring_refused=refused, status=422)
    if job.fingerprint == revision.job.fingerprint:
        return went(request, f"/jobs/{key}/ignition?unchanged=1")
    count = sum(answers[item] != states[item] for item in answers)
    why = f"Wiring list: {count} point{'' if count == 1 else 's'} answered"
    text = JobText(revision.text, kept=True).stating(job.facts())
    return save_job(request, shop, key, text, form, why=why, then=f"/jobs/{key}/ignition#wiring")


@router.post("/jobs/{key}/ignition")
def save_ignition(request: Request, shop: TheShop, key: str, form: TypedForm) -> Response:
    """Save the facts of the ignition, or give all that was typed back with a sentence beside each field."""
    revision = shop.jobs.revision(key, based_on(form))
    filled = fill(form, JobText(revision.text, kept=True).facts())
    saved = save_facts(request, shop, revision, form, filled, "ignition")
    return saved or _page(request, revision, filled=filled, status=422)


def live_of(job: Job, given: Mapping[str, str], check: HardwareResult | None) -> Live:
    """Give the cap for what the sliders say; what they don't say is as the job has it.

    Parameters
    ----------
    job : Job
        The job as it stands.
    given : mapping
        ``advance``, ``phase`` and ``base`` as typed.
    check : HardwareResult, optional
        The check of the job, for the span that its plan asks.
    """
    distributor = job.distributor
    standing = {
        "advance": round(asked_of(job, check).most_deg, 1),
        "phase": distributor.rotor_phase_deg,
        "base": distributor.base_deg,
    }
    values: dict[str, float] = {}
    sliders = []
    for name, (label, field, least, most) in SLIDERS.items():
        text = given.get(name, "").strip() or f"{standing[name]:g}"
        refused = ""
        try:
            values[name] = _angle(field, text)
        except Refusal as refusal:
            (cause,) = refusal.problems
            refused = f"“{text[:40]}” {cause.must}" + (f"; {cause.do}." if cause.do else ".")
        sliders.append(Slider(name, label, text, least, most, refused))
    problem = " ".join(f"{each.label}: {each.refused}" for each in sliders if each.refused)
    if problem:
        return Live(tuple(sliders), None, None, problem)
    changed = {
        key: value
        for key, value, stands in (
            ("rotor_phase_deg", values["phase"], distributor.rotor_phase_deg),
            ("base_deg", values["base"], distributor.base_deg),
        )
        if value != stands
    }
    try:
        tried = job.changed("distributor", **changed) if changed else job
        return Live(tuple(sliders), cap_now(tried, values["advance"], check=check, from_job=job), tried)
    except SparkwrightError as refusal:
        return Live(tuple(sliders), None, None, " ".join(refusal.sentences))


def _angle(field: str, text: str) -> float:
    field_kind, unit = field_kind_for(field), unit_of_key(field)
    return float(field_kind.read(typed(field_kind, text, unit), unit))


def _moved(before: Job, after: Job) -> str:
    """Say for the history which of the two was changed."""
    said_moves = []
    old, new = before.distributor, after.distributor
    if old.rotor_phase_deg != new.rotor_phase_deg:
        said_moves.append(
            f"rotor phase from {old.rotor_phase_deg:g} to {new.rotor_phase_deg:g} distributor deg"
        )
    if old.base_deg != new.base_deg:
        said_moves.append(f"base from {old.base_deg:g} to {new.base_deg:g} deg")
    words = ", ".join(said_moves)
    return f"{words[:1].upper()}{words[1:]}"


def _cap_shown(request: Request, live: Live) -> CapShown:
    system = person_of(request).system
    now = live.now
    return CapShown(
        live=live,
        now=now,
        said_first=said_first(now) if now else "",
        said=said(now, system) if now else (),
        picture=cap_live_picture(now, system=system) if now else None,
    )


def _page(
    request: Request,
    revision: Revision,
    *,
    filled: Filled | None = None,
    sliders: Mapping[str, str] | None = None,
    wiring: Mapping[str, str] | None = None,
    wiring_refused: str = "",
    unchanged: bool = False,
    status: int = 200,
) -> HTMLResponse:
    reckoner = reckoner_of(request)
    reckoned = reckoner.kept(revision.fingerprint)
    work = None if reckoned else reckoner.work(revision.fingerprint)
    check = reckoned.check if reckoned else None
    live = live_of(revision.job, request.query_params if sliders is None else sliders, check)
    typed_last = wiring or sliders or (filled.typed if filled else {})
    shown = IgnitionPage(
        **vars(_cap_shown(request, live)),
        check=check,
        work=work,
        waiting=waiting(request, revision),
        dwell=_dwell(check, "dwell", DWELL_PX),
        dwell_narrow=_dwell(check, "dwell-narrow", NARROW_PX),
        wiring=_wiring(revision.job, check, wiring or {}),
        wiring_refused=wiring_refused,
        cap_refused=(live.problem or who_refused(dict(sliders))) if sliders is not None else "",
        answer_words=ANSWER_WORDS,
        groups=groups(
            sections_shown("ignition"),
            JobText(revision.text, kept=True).facts(),
            person_of(request).system,
            assumed=assumed_in(reckoned),
            filled=filled,
        ),
        filled=filled,
        editing=filled is not None or sliders is not None or wiring is not None,
        who_refused=who_refused(dict(filled.typed)) if filled else "",
        who=typed_last.get("who", ""),
        why=typed_last.get("why", ""),
        unchanged=unchanged,
    )
    return show_in_job(request, shown, revision, "ignition", status)


def _dwell(check: HardwareResult | None, name: str, width_px: float) -> Picture | None:
    return dwell_picture(check, name, width_px) if check and check.dwell is not None else None


def _wiring(
    job: Job, check: HardwareResult | None, given: Mapping[str, str]
) -> list[tuple[CheckedItem, tuple[CheckState, ...], str]]:
    """Give each point of the list with the answers it can have and the one it has, or was given."""
    try:
        items = (check or check_hardware(job)).wiring
    except SparkwrightError:
        return []
    return [
        (item, answers_possible(item.key, item.state), given.get(f"wiring.{item.key}", item.state))
        for item in items
    ]
