"""The day at the dyno: the next point asked for, big keys, and the hook as it grows."""

from __future__ import annotations

import io
import secrets
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from fastapi import APIRouter, Request, UploadFile
from fastapi.responses import HTMLResponse, Response

from sparkwright import units
from sparkwright.drawing.picture import Picture
from sparkwright.dyno.checks import Sorted, new_among, sort_out
from sparkwright.dyno.hook_fit import SweepFit
from sparkwright.dyno.sweep import FEWEST_ADVANCES
from sparkwright.dyno.sweep import Sweep as MeasuredSweep
from sparkwright.dyno.table import read_sweeps
from sparkwright.errors import Refusal, SparkwrightError
from sparkwright.evidence.kinds import MOST_SETS, KnockMark, SweepReadings, TorquePoint, read
from sparkwright.evidence.pulls import taught_by
from sparkwright.evidence.records import Record
from sparkwright.evidence.sweeps import number_for, sweep_seen, sweeps_in, typed_name, typed_points
from sparkwright.findings import Finding
from sparkwright.learn.day import HOT_S, asked, late_below_deg
from sparkwright.pictures.sweep import sweep_picture
from sparkwright.reading import number, number_or_none, quantity
from sparkwright.reading.tables import MOST_BYTES, text_of
from sparkwright.shop import Revision, Shop, ShopError
from sparkwright.units import System
from sparkwright.web.learning import Measured, fit_for, records_of
from sparkwright.web.pages.common import Who, called, said_by, show_in_job, went
from sparkwright.web.pages.facts import TypedForm
from sparkwright.web.pages.personal import remember
from sparkwright.web.routes import OfJob, TheShop
from sparkwright.web.view import Shown, page, person_of
from sparkwright.words.dyno import ask_words
from sparkwright.words.parts import own_unit, torque

router = APIRouter(route_class=OfJob)

POINT_FIELDS = ("speed_rpm", "map_kpa", "advance_deg", "torque", "torque_unit", "knock")
STAYS = ("speed_rpm", "map_kpa", "torque_unit", "coolant_c", "intake_air_c", "mixture_lambda", "who")
TEMPERATURES = ("coolant_c", "intake_air_c")
NOTED = ("coolant_c", "intake_air_c", "mixture_lambda", "note")
EMPTY = dict.fromkeys((*POINT_FIELDS, *NOTED, "who"), "")
TORQUE_UNITS = ("N m", "lb-ft")

WORDS = {
    "speed_rpm": "Speed",
    "map_kpa": "Load",
    "advance_deg": "Advance",
    "torque_nm": "Torque",
    "torque": "Torque",
    "torque unit": "Torque unit",
    "mixture_lambda": "Lambda",
    "coolant_c": "Coolant",
    "intake_air_c": "Intake air",
    "note": "Note",
    "knock": "Heard",
    "your name": "Who measures",
}
"""What the fields are called on the page."""

KEPT_AS = "kept-as"
"""Header that names what is kept, by the word under which it was sent."""


@dataclass(frozen=True, kw_only=True)
class DynoPage(Shown):
    """What the page of the dyno shows of one sweep."""

    template = "dyno.html"

    key: str
    name: str
    sweep: int
    newest: int
    begun: bool
    running: MeasuredSweep | None
    fit: SweepFit | None
    picture: Picture | None
    narrow: Picture | None
    points: Sequence[Record]
    whole: Sequence[Record]
    wrong: Sequence[Finding] = ()
    took: int | None = None
    there: int = 0
    aside: Sequence[Finding] = ()
    marks: Sequence[Record]
    typed: Mapping[str, str]
    units: Sequence[str] = TORQUE_UNITS
    refused: Sequence[str] = ()
    kept: str = ""
    answered: bool = False


@router.get("/jobs/{key}/dyno")
def dyno(
    request: Request,
    shop: TheShop,
    key: str,
    sweep: int | None = None,
    took: int | None = None,
    left: int = 0,
    file: int | None = None,
) -> Response:
    """Show the sweep that is being run, and take its next point.

    `took` sweeps of `file` were kept and `left` were not; those that can't be used are named.
    """
    found = None if file is None else _sorted_file(shop, key, file)
    aside = () if found is None else [each for each in found.findings if each.state == "problem"]
    there = left - (0 if found is None else len(found.aside))
    shown = replace(_shown(request, shop, key, sweep), took=took, there=max(there, 0), aside=aside)
    revision = shop.jobs.latest(key)
    if request.headers.get("hx-request") == "true":
        return _part(request, shown, revision)
    return show_in_job(request, shown, revision, "dyno")


@router.get("/jobs/{key}/dyno/ask")
def ask(request: Request, shop: TheShop, key: str, sweep: int | None = None) -> Response:
    """Say which point comes next; what is worth measuring may take some seconds to work out."""
    job = shop.jobs.latest(key).job
    records = records_of(shop, key)
    running, measured = _running(records, sweep), Measured(job, taught_by(records), shop.learning_runs)
    if running is None:
        planned: tuple[float, ...] = ()
        found = asked(measured.next_runs().next, None)
    else:
        # What was heard in the sweep that is being run counts for how far it may go.
        planned = measured.advances_at(running.rpm, running.kpa)
        found = asked((), running, planned)
    late = None
    if found.rpm is not None and found.kpa is not None:
        late = late_below_deg(job, found.rpm, found.kpa)
    asks = [] if found.advance_deg is None else [found.advance_deg, *found.left_deg]
    values = {
        "ask": found,
        "words": ask_words(found),
        "late_below": late,
        "hot_s": HOT_S,
        "most_deg": planned[-1] if planned else None,
        "key": key,
        "asks": [{"rpm": found.rpm, "kpa": found.kpa, "advance_deg": each} for each in asks],
    }
    return page(request, "dyno-ask.html", values)


@router.post("/jobs/{key}/dyno/points")
def keep_point(request: Request, shop: TheShop, key: str, form: TypedForm) -> Response:
    """Keep one point the moment it is confirmed."""
    return _keep(request, shop, key, form, _point)


@router.post("/jobs/{key}/dyno/knock")
def keep_knock(request: Request, shop: TheShop, key: str, form: TypedForm) -> Response:
    """Keep what was heard at the speed, load and advance that stand in the form."""
    return _keep(request, shop, key, form, _mark)


@router.post("/jobs/{key}/dyno/files")
def from_file(request: Request, shop: TheShop, key: str, file: UploadFile, who: Who = "") -> Response:
    """Take sweeps from a file, which is kept with the job; what is kept already is not kept again."""
    name, called = said_by(who), file.filename or "sweeps.csv"
    content = file.file.read(MOST_BYTES + 1)
    given = read_sweeps(text_of(content, "file", called), called)
    new = new_among(given, sweeps_in(records_of(shop, key)))
    seen = [sweep_seen(each) for each in new]
    file_id = shop.files.attach(key, called, "readings", io.BytesIO(content), who=name).id
    shop.evidence.add_all(key, seen, who=name)
    left = len(given) - len(new)
    return remember(went(request, f"/jobs/{key}/dyno?took={len(new)}&left={left}&file={file_id}"), name)


def _sorted_file(shop: Shop, key: str, file_id: int) -> Sorted | None:
    """Sort out the sweeps of a file that is kept with the job; None where it holds none."""
    try:
        file = shop.files.one(file_id)
        if file.key != key:
            return None
        with shop.files.open(file.id) as kept:
            content = kept.read(MOST_BYTES + 1)
        return sort_out(read_sweeps(text_of(content, "file", file.name), file.name))
    except SparkwrightError:
        return None


def _wrong(running: MeasuredSweep) -> list[Finding]:
    """Name what keeps the sweep that is being run from being used; too few points yet is nothing wrong."""
    found = sort_out([running]).findings
    return [each for each in found if each.kind != "sweep.no-top" or len(running.points) > FEWEST_ADVANCES]


def _keep(request: Request, shop: Shop, key: str, form: TypedForm, make: Any) -> Response:
    typed = dict(form)
    sent_as = typed.get("sent_as") or None
    try:
        who = said_by(typed.get("who", ""))
        seen = make(typed, records_of(shop, key, also_withdrawn=True))
        shop.evidence.add(key, seen, who=who, sent_as=sent_as)
    except ShopError:
        raise  # nothing about it is wrong, so its browser keeps it and sends it again
    except SparkwrightError as problem:
        return _again(request, shop, key, typed, problem)
    stays = {name: typed[name] for name in STAYS if name in typed}
    if request.headers.get("hx-request") == "true":
        shown = _shown(request, shop, key, seen.sweep if isinstance(seen, TorquePoint) else None)
        given = {**EMPTY, **shown.typed, **stays}
        shown = replace(shown, typed=given, kept=_kept_words(seen, person_of(request).system), answered=True)
        answer: Response = _part(request, shown, shop.jobs.latest(key))
    else:
        answer = went(request, f"/jobs/{key}/dyno")
    if sent_as is not None:
        answer.headers[KEPT_AS] = sent_as
    return remember(answer, who)


def _point(typed: Mapping[str, str], records: list[Any]) -> TorquePoint:
    fields = _place(typed) | {"torque_nm": _torque_nm(typed)}
    if typed.get("knock"):
        fields["knock"] = typed["knock"]
    stated = typed.get("sweep", "")
    if stated:
        fields["sweep"] = _number(stated)
        point = read("torque-point", 1, fields)
    else:
        point = read("torque-point", 1, fields)
        assert isinstance(point, TorquePoint)
        fields["sweep"] = number_for(records, point.speed_rpm, point.map_kpa)
        point = read("torque-point", 1, fields)
    assert isinstance(point, TorquePoint)
    return point


def _mark(typed: Mapping[str, str], records: list[Any]) -> KnockMark:
    mark = read("knock-mark", 1, _place(typed) | {"knock": typed.get("heard", "")})
    assert isinstance(mark, KnockMark)
    return mark


def _place(typed: Mapping[str, str]) -> dict[str, object]:
    fields = ("speed_rpm", "map_kpa", "advance_deg", *NOTED)
    given = {name: typed[name].strip() for name in fields if typed.get(name, "").strip()}
    return given | {name: _celsius(given[name], name) for name in TEMPERATURES if name in given}


def _celsius(text: str, field: str) -> float | str:
    """Read a temperature with its unit, such as "195 F"; a number alone is in deg C and stays as it is."""
    return text if number_or_none(text) is not None else quantity(text, "temperature", field=field)


def _torque_nm(typed: Mapping[str, str]) -> float:
    text, unit = typed.get("torque", "").strip(), typed.get("torque_unit", "N m")
    if not text:
        raise Refusal.at("torque", None, "must be given", "a point without torque is a knock mark")
    if unit not in TORQUE_UNITS:
        raise Refusal.at("torque unit", f'"{unit[:20]}"', f"must be {' or '.join(TORQUE_UNITS)}")
    return units.convert(number(text, field="torque", low=-1e6, high=1e6), "torque", unit, "N m")


def _number(text: str) -> int:
    if not (text.isascii() and text.isdigit() and len(text) < 6 and 1 <= int(text) <= MOST_SETS):
        raise Refusal.at("sweep", text[:20], f"must be 1 to {MOST_SETS}")
    return int(text)


def _running(records: list[Any], sweep: int | None) -> Any:
    """Give the sweep that is being run: the one asked for, or the newest."""
    numbers = [each.data.sweep for each in records if isinstance(each.data, TorquePoint)]
    wanted = max(numbers, default=0) if sweep is None else sweep
    return next((each for each in sweeps_in(records) if each.name == typed_name(wanted)), None)


def _shown(request: Request, shop: Shop, key: str, sweep: int | None) -> DynoPage:
    latest = shop.jobs.latest(key)
    records = records_of(shop, key, also_withdrawn=True)
    counted = [each for each in records if each.withdrawn is None]
    numbers = [each.data.sweep for each in records if isinstance(each.data, TorquePoint)]
    newest = max(numbers, default=0)
    asked_for = newest if sweep is None else min(max(sweep, 1), newest + 1)
    running = _running(counted, asked_for)
    wrong = [] if running is None else _wrong(running)
    fit = None if running is None or wrong else fit_for(latest.job, running)
    system = person_of(request).system
    typed = EMPTY | {
        "torque_unit": own_unit("torque", system),
        "sent_as": secrets.token_hex(16),
    }
    if running is not None:
        typed |= {"speed_rpm": f"{running.rpm:.0f}", "map_kpa": f"{running.kpa:g}"}
    picture = None if running is None else sweep_picture(running, fit, system=system)
    narrow = None if running is None else sweep_picture(running, fit, "sweep-narrow", 360.0, system)
    return DynoPage(
        key=key,
        name=latest.name,
        sweep=asked_for,
        newest=newest,
        begun=bool(sweep is not None and sweep > newest),
        running=running,
        fit=fit,
        wrong=wrong,
        picture=picture,
        narrow=narrow,
        points=typed_points(records, asked_for),
        whole=[each for each in records if isinstance(each.data, SweepReadings)],
        marks=[each for each in records if isinstance(each.data, KnockMark)][-20:],
        typed=typed,
    )


def _part(request: Request, shown: DynoPage, revision: Revision, status: int = 200) -> HTMLResponse:
    """Write the part of the page that changes with every point."""
    return page(request, "dyno-set.html", {"revision": revision, **shown.names()}, status)


def _kept_words(seen: TorquePoint | KnockMark, system: System) -> str:
    if isinstance(seen, TorquePoint):
        return f"{torque(seen.torque_nm, system, '.1f')} at {seen.advance_deg:g} deg"
    back = " Back off 5 deg at once." if seen.knock == "heavy" else ""
    what = "no knock" if seen.knock == "none" else f"{seen.knock} knock"
    return f"{what} at {seen.advance_deg:g} deg.{back}"


def _again(
    request: Request, shop: Shop, key: str, typed: dict[str, str], problem: SparkwrightError
) -> Response:
    """Show the form again with everything typed still in it, and what keeps it from being taken."""
    shown = _shown(request, shop, key, None)
    given = EMPTY | dict(shown.typed) | typed
    shown = replace(shown, typed=given, answered=True, refused=called(problem, WORDS))
    revision = shop.jobs.latest(key)
    if request.headers.get("hx-request") == "true":
        return _part(request, shown, revision, 422)
    return show_in_job(request, shown, revision, "dyno", 422)
