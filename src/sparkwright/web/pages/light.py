"""The fixed-advance check at the engine: one hand, big keys, the next reading asked for."""

from __future__ import annotations

import io
import secrets
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import islice
from typing import Annotated, Literal

from fastapi import APIRouter, Form, Request, UploadFile
from fastapi.responses import Response

from sparkwright.drawing.picture import Picture
from sparkwright.errors import Refusal, SparkwrightError
from sparkwright.evidence.kinds import MOST_SETS, SET, LightReading
from sparkwright.evidence.light_sets import by_set, judged, require_fits, rows_in, withdrawn_in
from sparkwright.evidence.records import Record
from sparkwright.job import JobText
from sparkwright.light.proved import not_yet_stated, with_facts
from sparkwright.light.readings import (
    COLUMNS,
    MOST_READINGS,
    Reading,
    checked_reading,
    read_readings,
    write_readings,
)
from sparkwright.light.verdict import LightResult, NextReading
from sparkwright.mounting.dead_centre import mark_stands
from sparkwright.pictures.light import light_picture
from sparkwright.reading.tables import MOST_BYTES, text_of
from sparkwright.shop import Shop, ShopError
from sparkwright.web.pages.common import Who, Why, called, job_values, said_by, show_in_job, went
from sparkwright.web.pages.facts import TypedForm, based_on, save_job
from sparkwright.web.pages.personal import remember
from sparkwright.web.routes import OfJob, TheShop
from sparkwright.web.sessions import place_of
from sparkwright.web.view import Shown, page
from sparkwright.words.light import facts_words

router = APIRouter(route_class=OfJob)

PICTURE_PX = 560.0
NARROW_PX = 360.0
"""Widths of the picture on a wide screen and on a phone, where its words must stay as large."""

EMPTY = dict.fromkeys((*COLUMNS, "who"), "")
WORDS = {
    "commanded_deg": "Commanded",
    "speed_rpm": "Speed",
    "seen_deg": "Seen",
    "sweep": "Speed was",
    "cylinder": "Light on cylinder",
    "battery_v": "Battery",
    "resolution_deg": "Step of dial or marks",
    "note": "Note",
    "your name": "Who reads",
}
"""What the fields are called on the page."""
STAYS = ("who", "sweep", "cylinder", "battery_v", "resolution_deg")
"""What is likely the same for the next reading and so stays in the form."""

KEPT_AS = "kept-as"
"""Header that names the reading that is kept, by the word under which it was sent; only then its browser
lets go of it."""

SETS_A_PAGE = 20
LIGHT = "light-reading"

SetNumber = Annotated[int, Form(alias="set", ge=1, le=MOST_SETS)]


@dataclass(frozen=True, kw_only=True)
class LightPage(Shown):
    """What the page of the light shows of one set of readings."""

    template = "light.html"

    result: LightResult
    picture: Picture | None
    narrow: Picture | None
    set: int
    into_set: int
    stay: bool
    known: Mapping[str, object]
    rows: Mapping[int, Reading]
    struck: Mapping[int, Record]
    to_keep: str
    stated: str
    kept: Reading | None = None
    pages: range
    page_lines: int = MOST_READINGS
    twice: int = 0
    answered: bool = False
    """Part of a page that a person is on already: their hand may be in another field by now."""
    newest: int
    sets: Mapping[int, Sequence[Record]]
    older_set: int | None
    newer_set: int | None
    ask: NextReading | None
    typed: Mapping[str, str]
    refused: Sequence[str] = ()
    mark_state: Literal["open", "right", "off"]


@router.get("/jobs/{key}/light")
def light(
    request: Request,
    shop: TheShop,
    key: str,
    set: int | None = None,
    twice: int = 0,
    line: int = 1,
    stay: bool = False,
) -> Response:
    """Show what the readings say, and ask for the next one; `twice` lines of a file stood in it before.

    A reading after a change goes into the next set, unless it is to `stay` in this one.
    """
    if request.headers.get("hx-request") == "true":
        return _part(request, shop, key, _shown(shop, key, set, line))
    shown = replace(_shown(shop, key, set, line, stay=stay), twice=min(max(twice, 0), MOST_READINGS))
    return show_in_job(request, shown, shop.jobs.latest(key), "light")


@router.post("/jobs/{key}/light/readings")
def keep(request: Request, shop: TheShop, key: str, form: TypedForm) -> Response:
    """Keep one reading the moment it is confirmed."""
    typed = dict(form)
    number = _set_number(typed.pop(SET, "1"))
    who = typed.pop("who", "")
    values = {name: typed.get(name, "") for name in COLUMNS}
    try:
        reading = checked_reading(values)
        require_fits([reading], shop.jobs.latest(key).job, _sets(shop, key), number)
        sent_as = typed.get("sent_as") or None
        shop.evidence.add(key, LightReading(reading, number), who=said_by(who), sent_as=sent_as)
    except ShopError:
        raise  # nothing about the reading is wrong, so its browser keeps it and sends it again
    except SparkwrightError as problem:
        return _again(request, shop, key, number, typed | {"who": who}, problem)
    answer = _after(request, shop, key, number, typed | {"who": who}, reading)
    if sent_as is not None:
        answer.headers[KEPT_AS] = sent_as
    return remember(answer, said_by(who))


@router.post("/jobs/{key}/light/back")
def take_back(
    request: Request,
    shop: TheShop,
    key: str,
    reading: Annotated[int, Form()],
    number: SetNumber,
    who: Who = "",
    why: Why = "",
) -> Response:
    """Take a reading back; its row stays, marked, and can be put back."""
    record = shop.evidence.withdraw(key, reading, who=said_by(who), why=why)
    shop.log.note("taken back", place_of(request), who=who, key=key, about=f"{record.kind} {reading}")
    return _after(request, shop, key, number, {})


@router.post("/jobs/{key}/light/put-back")
def put_back(
    request: Request,
    shop: TheShop,
    key: str,
    reading: Annotated[int, Form()],
    number: SetNumber,
    who: Who = "",
) -> Response:
    """Let a reading count again that was taken back."""
    record = shop.evidence.put_back(key, reading)
    shop.log.note("put back", place_of(request), who=who, key=key, about=f"{record.kind} {reading}")
    return _after(request, shop, key, number, {})


@router.post("/jobs/{key}/light/files")
def from_file(
    request: Request, shop: TheShop, key: str, file: UploadFile, number: SetNumber, who: Who = ""
) -> Response:
    """Take readings from a file; the file itself is kept with the job."""
    name = said_by(who)
    content = file.file.read(MOST_BYTES + 1)
    sheet = read_readings(text_of(content, "file", file.filename or "readings"))
    require_fits(sheet.readings, shop.jobs.latest(key).job, _sets(shop, key), number)
    shop.files.attach(key, file.filename or "readings.csv", "readings", io.BytesIO(content), who=name)
    shop.evidence.add_all(key, [LightReading(each, number) for each in sheet.readings], who=name)
    twice = f"&twice={len(sheet.warnings)}" if sheet.warnings else ""
    return remember(went(request, f"/jobs/{key}/light?set={number}{twice}"), name)


@router.get("/jobs/{key}/light/readings.csv")
def table(shop: TheShop, key: str, set: int = 1) -> Response:
    """Give the readings of a set as the table that `sparkwright light` reads."""
    text = write_readings(list(rows_in(_sets(shop, key).get(set, ())).values()))
    disposition = f'attachment; filename="{key}-readings-{set}.csv"'
    return Response(text, media_type="text/csv; charset=utf-8", headers={"content-disposition": disposition})


@router.post("/jobs/{key}/light/done")
def done(request: Request, shop: TheShop, key: str, form: TypedForm) -> Response:
    """Begin a new set after something was turned or set; a delay that was set is a fact of the job."""
    number, delay = _set_number(form.get(SET, "1")), form.get("delay_us", "").strip()
    revision, then = shop.jobs.latest(key), f"/jobs/{key}/light?set={number + 1}"
    try:
        text = JobText(revision.text, kept=True)
        changed = text.changed("light", delay_set_us=delay) if delay else text
        if changed.job.light.delay_set_us == revision.job.light.delay_set_us:
            return went(request, then)
        why = f"Delay set in the controller after light set {number}: {delay} us"
        return save_job(request, shop, key, changed, form, why=why, then=then)
    except SparkwrightError as problem:
        return _again(request, shop, key, number, {}, problem)


@router.post("/jobs/{key}/light/proved")
def keep_proved(request: Request, shop: TheShop, key: str, form: TypedForm) -> Response:
    """Keep what a set proves as facts of the job; every other line stays as it was typed."""
    number = _set_number(form.get(SET, "1"))
    revision = shop.jobs.revision(key, based_on(form))
    try:
        new = not_yet_stated(judged(revision.job, _sets(shop, key).get(number, ())).facts, revision.job)
        if not new:
            raise Refusal.at("set", number, "must prove something that the job doesn't state yet")
        text = with_facts(JobText(revision.text, kept=True), new)
        why = f"Proved with the light, set {number}: {facts_words(new)}"
        return save_job(request, shop, key, text, form, why=why, then=f"/jobs/{key}/light?set={number}")
    except SparkwrightError as problem:
        return _again(request, shop, key, number, {}, problem)


def _sets(shop: Shop, key: str) -> dict[int, list[Record]]:
    return by_set(shop.evidence.of_job(key, LIGHT))


def _set_number(text: str) -> int:
    if not (text.isascii() and text.isdigit() and len(text) < 6 and 1 <= int(text) <= MOST_SETS):
        raise Refusal.at("set", text, f"must be 1 to {MOST_SETS}")
    return int(text)


def _shown(shop: Shop, key: str, asked: int | None, line: int = 1, *, stay: bool = False) -> LightPage:
    """Everything the page shows of one set, with its readings from a line on."""
    records = shop.evidence.of_job(key, LIGHT, also_withdrawn=True)
    sets = by_set(records)
    newest = max(sets, default=1)
    number = newest if asked is None else min(max(asked, 1), newest + 1)
    latest = shop.jobs.latest(key)
    job = latest.job
    of_set = sets.get(number, [])
    result = judged(job, of_set)
    new = not_yet_stated(result.facts, job)
    first = min(max(line - 1, 0), len(of_set)) // MOST_READINGS * MOST_READINGS
    listed, older, newer = _sets_near(list(sets), number)
    ask = result.next_readings[0] if result.next_readings else None
    typed = EMPTY | {
        "commanded_deg": f"{ask.commanded_deg if ask else result.hold_deg:g}",
        "speed_rpm": f"{ask.speed_rpm:.0f}" if ask else "",
        # A form that is sent twice, for the answer to the first was lost, is one reading.
        "sent_as": secrets.token_hex(16),
    }
    # After a change the newest set is closed; who looks at an older one wants that one.
    into_set = number + 1 if ask and ask.new_list and number == newest and not stay else number
    rows = dict(islice(rows_in(of_set, first + MOST_READINGS).items(), first, None))
    struck = {each.id: each for each in withdrawn_in(records, number)}
    shown = rows | rows_in(struck.values())
    return LightPage(
        result=result,
        picture=light_picture(result, width_px=PICTURE_PX) if result.readings else None,
        narrow=light_picture(result, "light-narrow", NARROW_PX) if result.readings else None,
        set=number,
        into_set=into_set,
        stay=stay,
        known={
            "key": key,
            "name": latest.name,
            "cylinders": job.engine.cylinders,
            "hold_deg": f"{result.hold_deg:g}",
            "set": into_set,
            "newest": newest,
            "asks": _asked(result),
            "first_asks": _asked(judged(job, ())),
        },
        rows=dict(sorted(shown.items())),
        struck=struck,
        to_keep=facts_words(new),
        stated="" if new else facts_words(result.facts),
        pages=range(1, len(of_set) + 1, MOST_READINGS),
        newest=newest,
        sets={each: sets[each] for each in listed},
        older_set=older,
        newer_set=newer,
        ask=ask,
        typed=typed,
        mark_state=mark_stands(job),
    )


def _asked(result: LightResult) -> list[dict[str, str]]:
    """Give what is asked for next, in the words of the form."""
    return [
        {"commanded_deg": f"{each.commanded_deg:g}", "speed_rpm": f"{each.speed_rpm:.0f}"}
        for each in result.next_readings
    ]


def _sets_near(numbers: list[int], number: int) -> tuple[list[int], int | None, int | None]:
    """Give the page of sets on which one stands, and the nearest set of the pages before and after it."""
    place = numbers.index(number) if number in numbers else max(len(numbers) - 1, 0)
    first = place // SETS_A_PAGE * SETS_A_PAGE
    after = first + SETS_A_PAGE
    older = numbers[first - 1] if first else None
    newer = numbers[after] if after < len(numbers) else None
    return numbers[first:after], older, newer


def _after(
    request: Request,
    shop: Shop,
    key: str,
    number: int,
    typed: Mapping[str, str],
    kept: Reading | None = None,
) -> Response:
    if request.headers.get("hx-request") != "true":
        return went(request, f"/jobs/{key}/light?set={number}")
    shown = _shown(shop, key, number, stay=typed.get("stay") == "1")
    stays = {name: typed[name] for name in STAYS if name in typed}
    shown = replace(shown, typed={**EMPTY, **shown.typed, **stays}, kept=kept)
    return _part(request, shop, key, shown)


def _part(request: Request, shop: Shop, key: str, shown: LightPage) -> Response:
    """Write the part of the page that changes with every reading."""
    frame = job_values(request, shop.jobs.latest(key), "light")
    return page(request, "light-answer.html", frame | replace(shown, answered=True).names())


def _again(
    request: Request, shop: Shop, key: str, number: int, typed: dict[str, str], problem: SparkwrightError
) -> Response:
    """Show the form again with everything typed still in it, and what keeps it from being taken."""
    shown = _shown(shop, key, number, stay=typed.get("stay") == "1")
    given = EMPTY | {"sent_as": shown.typed["sent_as"]} | typed
    shown = replace(shown, typed=given, refused=called(problem, WORDS))
    revision = shop.jobs.latest(key)
    if request.headers.get("hx-request") == "true":
        part = replace(shown, answered=True)
        return page(request, "light-set.html", part.names() | {"revision": revision}, 422)
    return show_in_job(request, shown, revision, "light", 422)
