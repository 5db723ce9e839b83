"""The mark proved at the piston, and the sheets of installation day at true scale."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from typing import Literal
from urllib.parse import urlencode

from fastapi import APIRouter, Request
from fastapi.responses import Response

from sparkwright.drawing.picture import Picture
from sparkwright.drawing.true_scale import Paper
from sparkwright.errors import Refusal, SparkwrightError
from sparkwright.evidence.kinds import dead_centre_readings
from sparkwright.evidence.records import Record
from sparkwright.findings import Finding, Sentence
from sparkwright.job import Job, JobText
from sparkwright.mounting.asked import (
    SIDES,
    Day,
    day_of,
    mark_found,
    mark_read,
    ring_found,
    setting_found,
    tape_found,
)
from sparkwright.mounting.before_it_goes_in import BeforeItGoesIn
from sparkwright.mounting.cap_plan import CapPlan
from sparkwright.mounting.dead_centre import DeadCentre, mark_facts, mark_stands
from sparkwright.mounting.phasing import RotorPhasing
from sparkwright.mounting.questions import (
    MARK,
    SETTING,
    MarkAsked,
    Question,
    RingAsked,
    SettingAsked,
    TapeAsked,
    questions_of,
)
from sparkwright.mounting.static_setting import StaticSetting
from sparkwright.pictures.dead_centre import dead_centre_picture
from sparkwright.sheets import cap_plan as cap_sheet
from sparkwright.sheets import degree_ring as ring_sheets
from sparkwright.sheets import tape as tape_sheets
from sparkwright.sheets.before_it_goes_in import body_cut
from sparkwright.sheets.installation import DayName
from sparkwright.sheets.phasing import strips_picture, tips_picture
from sparkwright.sheets.static_setting import body_picture
from sparkwright.shop import Revision, Shop
from sparkwright.units import System
from sparkwright.web.forms import typed_fact
from sparkwright.web.marking import ScaleName, SheetName, answers, lengths_read, printed
from sparkwright.web.pages.common import said_by, show_in_job, went
from sparkwright.web.pages.facts import TypedForm, based_on, save_job
from sparkwright.web.reckoning import Work
from sparkwright.web.routes import TheReckon, TheReckoner, TheShop, revision_shown
from sparkwright.web.view import Shown, person_of
from sparkwright.words import bench, rotor_phasing, static_setting
from sparkwright.words.bench import Task
from sparkwright.words.dead_centre import CAUTIONS, interval_words
from sparkwright.words.evidence import seen_words
from sparkwright.words.parts import mark_words

router = APIRouter()

LEAST_TRIES = 2
"""Tries asked for at first: one can't show whether the ring stays."""

MOST_TRIES = 20
ON_PAGE = ("method", "diameter", "read_to", "pin_offset", "dial_step")
"""What the page asks beside the readings; stroke and rod are the job's."""


@dataclass(frozen=True, kw_only=True)
class MarkPage(Shown):
    """What the page of the mark at the piston shows."""

    template = "marking.html"

    asked: MarkAsked
    questions: Mapping[str, Question] = field(default_factory=lambda: MARK)
    reads: Mapping[str, str]
    sides: tuple[str, str] = SIDES
    rows: Sequence[tuple[str, str]]
    found: DeadCentre | None
    picture: Picture | None
    interval_from: str
    stands: Literal["open", "right", "off"]
    shows: str
    refused: str
    read: Sequence[tuple[Record, str]]
    cautions: Sequence[str] = CAUTIONS
    who: str
    why: str


@dataclass(frozen=True, kw_only=True)
class ScalePage(Shown):
    """What the page of a tape or a ring shows."""

    template = "marking-scale.html"

    name: ScaleName
    asked: TapeAsked | RingAsked
    questions: Mapping[str, Question]
    reads: Mapping[str, str]
    query: str
    pictures: Sequence[Picture]
    refused: str
    warnings: Sequence[Finding]
    steps_to_take: Sequence[str] | Sequence[Sentence]
    cautions: Sequence[str]
    keepable: bool


@dataclass(frozen=True)
class DaySheet:
    """A sheet of installation day: what it shows, wide and on a narrow screen, and what there is to do."""

    name: DayName
    title: str
    result: BeforeItGoesIn | CapPlan | RotorPhasing | StaticSetting
    pictures: Sequence[tuple[Picture, Picture | None]]
    cautions: Sequence[str]
    steps: Sequence[str] | Sequence[Sentence] = ()


@dataclass(frozen=True, kw_only=True)
class DayPage(Shown):
    """What the page of installation day shows, once the plan is there; until then the work on it."""

    template = "marking-day.html"

    work: Work | None
    asked: SettingAsked
    questions: Mapping[str, Question] = field(default_factory=lambda: SETTING)
    reads: Mapping[str, str]
    query: str
    refused: str = ""
    setting: StaticSetting | None = None
    tasks: Sequence[Task] = ()
    sheets: Sequence[DaySheet] = ()


@router.get("/jobs/{key}/mark")
def mark(request: Request, shop: TheShop, key: str, number: int | None = None) -> Response:
    """Ask for readings at the piston, and say what they show."""
    revision = revision_shown(shop, key, number)
    asked = _asked(request.query_params, _stated(revision, "engine.damper_diameter"))
    return _mark_page(request, shop, revision, asked)


@router.post("/jobs/{key}/mark")
def keep(request: Request, shop: TheShop, key: str, form: TypedForm) -> Response:
    """Keep what was found as facts of the job."""
    revision = shop.jobs.latest(key)
    asked = _asked(form, "")
    try:
        read = mark_read(asked, revision.job)
        found = read.found()
        job = JobText(revision.text, kept=True).changed("light", **mark_facts(found))
        # What was read stays, whatever becomes of the job; sent twice, it is one record.
        sent_as = f"mark of revision {based_on(form)}"
        shop.evidence.add(key, dead_centre_readings(read), who=said_by(form.get("who", "")), sent_as=sent_as)
        why = f"Mark proved at the piston: it shows {mark_words(found.mark_error_deg)} at the top"
        return save_job(request, shop, key, job, form, why=why, then=f"/jobs/{key}/mark")
    except SparkwrightError as problem:
        return _mark_page(request, shop, revision, asked, str(problem), form)


@router.post("/jobs/{key}/mark/right")
def set_right(request: Request, shop: TheShop, key: str, form: TypedForm) -> Response:
    """Keep that the mark was set right: it shows 0 at true top dead centre from now on."""
    revision = shop.jobs.latest(key)
    job = JobText(revision.text, kept=True).changed("light", mark_proved=True, mark_error_deg=0)
    try:
        return save_job(request, shop, key, job, form, why="Mark set right", then=f"/jobs/{key}/mark")
    except SparkwrightError as problem:
        asked = _asked({}, _stated(revision, "engine.damper_diameter"))
        return _mark_page(request, shop, revision, asked, str(problem), form)


@router.post("/jobs/{key}/mark/diameter")
def keep_diameter(request: Request, shop: TheShop, key: str, form: TypedForm) -> Response:
    """Keep the diameter of the damper in the job."""
    diameter = form.get("diameter", "").strip()
    try:
        job = JobText(shop.jobs.latest(key).text, kept=True).changed("engine", damper_diameter=diameter)
    except Refusal:
        # The page of the tape says beside the field what can't stand, and keeps what was typed.
        return went(request, f"/jobs/{key}/mark/timing-tape?{urlencode({'diameter': diameter})}")
    why = f"Balancer measured: {diameter}"
    return save_job(request, shop, key, job, form, why=why, then=f"/jobs/{key}/mark/timing-tape")


def _asked(typed: Mapping[str, str], diameter: str) -> MarkAsked:
    """Take the readings out of a form; a try of which nothing was typed is none."""
    tries = [
        (typed.get(f"one_{number}", "").strip(), typed.get(f"other_{number}", "").strip())
        for number in range(1, MOST_TRIES + 1)
    ]
    texts = {name: typed[name] for name in ON_PAGE if name in typed}
    return MarkAsked(tries=tuple(each for each in tries if any(each)), **{"diameter": diameter, **texts})


def _stated(revision: Revision, name: str) -> str:
    """Give a fact of the job as it was typed."""
    return typed_fact(JobText(revision.text, kept=True).facts(), name)


def _mark_page(
    request: Request,
    shop: Shop,
    revision: Revision,
    asked: MarkAsked,
    refused: str = "",
    form: Mapping[str, str] | None = None,
) -> Response:
    found: DeadCentre | None = None
    if asked.tries:
        try:
            found = mark_found(asked, revision.job)
        except Refusal as problem:
            refused = refused or str(problem)
    rows = [*asked.tries, ("", "")][:MOST_TRIES]
    person = person_of(request)
    shown = MarkPage(
        asked=asked,
        reads=lengths_read(asked, person.system),
        rows=[*rows, *[("", "")] * (LEAST_TRIES - len(rows))],
        found=found,
        picture=dead_centre_picture(found, system=person.system) if found else None,
        interval_from=interval_words(found) if found else "",
        stands=mark_stands(revision.job),
        shows=mark_words(revision.job.light.mark_error_deg or 0.0),
        refused=refused,
        read=[
            (record, seen_words(record, person.system))
            for record in shop.evidence.of_job(revision.key, "dead-centre", also_withdrawn=True)
        ],
        who=(form or {}).get("who", person.name),
        why=(form or {}).get("why", ""),
    )
    return show_in_job(request, shown, revision, "mark", 422 if refused else 200)


@router.get("/jobs/{key}/mark/timing-tape")
def timing_tape(request: Request, shop: TheShop, key: str, number: int | None = None) -> Response:
    """Show a timing tape for the damper."""
    return _scale_page(request, revision_shown(shop, key, number), "timing-tape")


@router.get("/jobs/{key}/mark/degree-ring")
def degree_ring(request: Request, shop: TheShop, key: str, number: int | None = None) -> Response:
    """Show a degree ring for the pulley."""
    return _scale_page(request, revision_shown(shop, key, number), "degree-ring")


@router.get("/jobs/{key}/mark/{name}.pdf")
def scale_file(
    request: Request,
    shop: TheShop,
    reckon: TheReckon,
    key: str,
    name: SheetName,
    paper: Paper = "a4",
    number: int | None = None,
) -> Response:
    """Give one of the sheets as PDF."""
    revision = revision_shown(shop, key, number)
    content = printed(name, revision.job, reckon, request.query_params, paper, person_of(request).system)
    disposition = f'inline; filename="{key}-{name}-{paper}.pdf"'
    return Response(content, media_type="application/pdf", headers={"content-disposition": disposition})


def _scale_page(request: Request, revision: Revision, name: ScaleName) -> Response:
    damper = _stated(revision, "engine.damper_diameter")
    typed = {"diameter": damper, **request.query_params}
    of_tape = name == "timing-tape"
    asked = answers(TapeAsked, typed) if of_tape else answers(RingAsked, typed)
    pictures: tuple[Picture, ...] = ()
    warnings: tuple[Finding, ...] = ()
    refused = ""
    if asked.diameter.strip() and (isinstance(asked, TapeAsked) or asked.hole.strip()):
        try:
            pictures, warnings = _scale_pictures(asked, revision.job, person_of(request).system)
        except Refusal as problem:
            refused = str(problem)
    elif request.query_params:
        refused = "The diameter is needed." if of_tape else "Diameter and hole must both be given."
    shown = ScalePage(
        name=name,
        asked=asked,
        questions=questions_of(type(asked)),
        reads=lengths_read(asked, person_of(request).system),
        query=urlencode({key: text for key, text in asdict(asked).items() if text}),
        pictures=[replace(each, sentence=each.description) for each in pictures],
        refused=refused,
        warnings=warnings,
        steps_to_take=tape_sheets.HOW_TO_LAY_IT if of_tape else ring_sheets.HOW_TO_FIX_IT,
        cautions=tape_sheets.CAUTIONS if of_tape else ring_sheets.CAUTIONS,
        keepable=bool(pictures) and of_tape and asked.diameter != damper,
    )
    return show_in_job(request, shown, revision, "mark", 422 if refused else 200)


def _scale_pictures(
    asked: TapeAsked | RingAsked, job: Job, system: System
) -> tuple[tuple[Picture, ...], tuple[Finding, ...]]:
    if isinstance(asked, TapeAsked):
        strip = tape_found(asked, job)
        return tape_sheets.tape_pictures(strip, system=system), strip.warnings
    ring = ring_found(asked, job)
    return ring_sheets.ring_pictures(ring, system=system), ring.warnings


@router.get("/jobs/{key}/mark/day")
def day(
    request: Request,
    shop: TheShop,
    reckoner: TheReckoner,
    key: str,
    number: int | None = None,
) -> Response:
    """Show the work at the bench, cap plan, rotor phasing and static setting."""
    revision = revision_shown(shop, key, number)
    job, system = revision.job, person_of(request).system
    body = _stated(revision, "distributor.housing_diameter")
    asked = answers(SettingAsked, {"housing_diameter": body, **request.query_params})
    reckoned = reckoner.kept(revision.fingerprint)
    shown = DayPage(
        work=None if reckoned else reckoner.begin(job),
        asked=asked,
        reads=lengths_read(asked, system),
        query=urlencode(asdict(asked)),
    )
    if reckoned:
        try:
            setting = setting_found(asked, job)
        except SparkwrightError as problem:
            shown = replace(shown, refused=str(problem))
            setting = setting_found(SettingAsked(), job)
        found = day_of(job, reckoned.plan, reckoned.check, setting)
        tasks, sheets = bench.tasks(found.before), _day_sheets(found, system)
        shown = replace(shown, setting=found.setting, tasks=tasks, sheets=sheets)
    return show_in_job(request, shown, revision, "mark", 422 if shown.refused else 200)


def _day_sheets(found: Day, system: System) -> tuple[DaySheet, ...]:
    tips, strips = (
        (picture(found.phasing, system=system), picture(found.phasing, narrow=True, system=system))
        for picture in (tips_picture, strips_picture)
    )
    return (
        DaySheet(
            "before-it-goes-in",
            "Before it goes in",
            found.before,
            ((body_cut(found.before), None),),
            bench.CAUTIONS,
        ),
        DaySheet(
            "cap-plan",
            "Cap plan",
            found.cap,
            ((cap_sheet.cap_plan_picture(found.cap, system), None),),
            cap_sheet.CAUTIONS,
        ),
        DaySheet(
            "rotor-phasing",
            "Rotor phasing",
            found.phasing,
            (tips, strips),
            rotor_phasing.CAUTIONS,
            rotor_phasing.steps(found.phasing),
        ),
        DaySheet(
            "static-setting",
            "Static setting",
            found.setting,
            ((body_picture(found.setting, system), None),),
            static_setting.CAUTIONS,
            static_setting.steps(found.setting),
        ),
    )
