"""The mark proved at the piston, and the sheets of installation day at true scale."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, replace
from typing import Any
from urllib.parse import urlencode

from fastapi import APIRouter, Request
from fastapi.responses import Response

from sparkwright.drawing.picture import Picture
from sparkwright.drawing.true_scale import Paper
from sparkwright.errors import Refusal, SparkwrightError
from sparkwright.evidence.kinds import dead_centre_readings
from sparkwright.findings import Finding
from sparkwright.job import Job, JobText
from sparkwright.mounting.asked import (
    SIDES,
    day_of,
    mark_found,
    mark_read,
    ring_found,
    setting_found,
    tape_found,
)
from sparkwright.mounting.dead_centre import DeadCentre, mark_facts, mark_stands
from sparkwright.mounting.questions import (
    MARK,
    SETTING,
    MarkAsked,
    RingAsked,
    SettingAsked,
    TapeAsked,
    questions_of,
)
from sparkwright.pictures.dead_centre import dead_centre_picture
from sparkwright.sheets import cap_plan as cap_sheet
from sparkwright.sheets import degree_ring as ring_sheets
from sparkwright.sheets import tape as tape_sheets
from sparkwright.sheets.before_it_goes_in import body_cut
from sparkwright.sheets.phasing import strips_picture, tips_picture
from sparkwright.sheets.static_setting import body_picture
from sparkwright.shop import Revision, Shop
from sparkwright.units import System
from sparkwright.web.forms import shown_fact
from sparkwright.web.marking import ScaleName, SheetName, answers, printed
from sparkwright.web.pages.common import job_page, said_by, went
from sparkwright.web.pages.facts import TypedForm, based_on, save_job
from sparkwright.web.routes import TheReckon, TheReckoner, TheShop, revision_shown
from sparkwright.web.view import person_of
from sparkwright.words import bench, rotor_phasing, static_setting
from sparkwright.words.dead_centre import CAUTIONS, interval_words
from sparkwright.words.evidence import seen_words
from sparkwright.words.parts import mark_words

router = APIRouter()

LEAST_TRIES = 2
"""Tries asked for at first: one can't show whether the ring stays."""

MOST_TRIES = 20
ON_PAGE = ("method", "diameter", "read_to", "pin_offset", "dial_step")
"""What the page asks beside the readings; stroke and rod are the job's."""

SCALE_TITLES: dict[ScaleName, str] = {"timing-tape": "Timing tape", "degree-ring": "Degree ring"}


@router.get("/jobs/{key}/mark")
def mark(request: Request, shop: TheShop, key: str, number: int | None = None) -> Response:
    """Ask for readings at the piston, and say what they show."""
    revision = revision_shown(shop, key, number)
    asked = _asked(request.query_params, _damper(request, revision.job))
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
        return _mark_page(
            request, shop, revision, _asked({}, _damper(request, revision.job)), str(problem), form
        )


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


def _damper(request: Request, job: Job) -> str:
    return shown_fact(job.facts(), "engine.damper_diameter", person_of(request).system)


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
    values: dict[str, Any] = {
        "asked": asked,
        "questions": MARK,
        "sides": SIDES,
        "rows": [*rows, *[("", "")] * (LEAST_TRIES - len(rows))],
        "found": found,
        "picture": dead_centre_picture(found, system=person_of(request).system) if found else None,
        "interval_from": interval_words(found) if found else "",
        "stands": mark_stands(revision.job),
        "shows": mark_words(revision.job.light.mark_error_deg or 0.0),
        "refused": refused,
        "read": [
            (record, seen_words(record, person_of(request).system))
            for record in shop.evidence.of_job(revision.key, "dead-centre", also_withdrawn=True)
        ],
        "cautions": CAUTIONS,
        "who": (form or {}).get("who", person_of(request).name),
        "why": (form or {}).get("why", ""),
    }
    return job_page(request, "marking.html", revision, "mark", values, 422 if refused else 200)


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
    damper = _damper(request, revision.job)
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
        refused = (
            "Diameter and hole must both be given." if name == "degree-ring" else "The diameter is needed."
        )
    values: dict[str, object] = {
        "name": name,
        "title": SCALE_TITLES[name],
        "asked": asked,
        "questions": questions_of(type(asked)),
        "query": urlencode({key: text for key, text in asdict(asked).items() if text}),
        "pictures": [replace(each, sentence=each.description) for each in pictures],
        "refused": refused,
        "warnings": warnings,
        "steps_to_take": tape_sheets.HOW_TO_LAY_IT if name == "timing-tape" else ring_sheets.HOW_TO_FIX_IT,
        "cautions": tape_sheets.CAUTIONS if name == "timing-tape" else ring_sheets.CAUTIONS,
        "keepable": bool(pictures) and name == "timing-tape" and asked.diameter != damper,
    }
    return job_page(request, "marking-scale.html", revision, "mark", values, 422 if refused else 200)


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
    job = revision.job
    system = person_of(request).system
    body = shown_fact(job.facts(), "distributor.housing_diameter", system)
    asked = answers(SettingAsked, {"housing_diameter": body, **request.query_params})
    reckoned = reckoner.kept(revision.fingerprint)
    values: dict[str, Any] = {
        "work": None if reckoned else reckoner.begin(job),
        "asked": asked,
        "questions": SETTING,
        "refused": "",
        "sheets": (),
        "query": urlencode(asdict(asked)),
    }
    if reckoned:
        try:
            setting = setting_found(asked, job)
        except SparkwrightError as problem:
            values["refused"] = str(problem)
            setting = setting_found(SettingAsked(), job)
        found = day_of(job, reckoned.plan, reckoned.check, setting)
        values["setting"] = found.setting
        values["tasks"] = bench.tasks(found.before)
        values["sheet_steps"] = {
            "rotor-phasing": rotor_phasing.steps(found.phasing),
            "static-setting": static_setting.steps(found.setting),
        }
        values["sheets"] = (
            (
                "before-it-goes-in",
                "Before it goes in",
                found.before,
                ((body_cut(found.before), None),),
                bench.CAUTIONS,
            ),
            (
                "cap-plan",
                "Cap plan",
                found.cap,
                ((cap_sheet.cap_plan_picture(found.cap, system), None),),
                cap_sheet.CAUTIONS,
            ),
            (
                "rotor-phasing",
                "Rotor phasing",
                found.phasing,
                (
                    (
                        tips_picture(found.phasing, system=system),
                        tips_picture(found.phasing, narrow=True, system=system),
                    ),
                    (
                        strips_picture(found.phasing, system=system),
                        strips_picture(found.phasing, narrow=True, system=system),
                    ),
                ),
                rotor_phasing.CAUTIONS,
            ),
            (
                "static-setting",
                "Static setting",
                found.setting,
                ((body_picture(found.setting, system), None),),
                static_setting.CAUTIONS,
            ),
        )
    status = 422 if values["refused"] else 200
    return job_page(request, "marking-day.html", revision, "mark", values, status)
