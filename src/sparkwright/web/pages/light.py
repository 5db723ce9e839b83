"""The fixed-advance check at the engine: one hand, big keys, the next reading asked for."""

from __future__ import annotations

import io
import secrets
from collections.abc import Mapping
from itertools import islice
from typing import Annotated, Any

from fastapi import APIRouter, Form, Request, UploadFile
from fastapi.responses import Response

from sparkwright.errors import InputError, SparkwrightError
from sparkwright.light.dead_centre import mark_stands
from sparkwright.light.readings import (
    COLUMNS,
    MOST_READINGS,
    ReadingsError,
    checked_reading,
    read_readings,
    write_readings,
)
from sparkwright.light.verdict import LightResult
from sparkwright.reading.tables import MOST_BYTES, text_of
from sparkwright.sheets.light_picture import light_picture
from sparkwright.shop import NotThereError, Shop, ShopError
from sparkwright.web.light_sets import (
    MOST_SETS,
    SET,
    by_set,
    judged,
    reading_row,
    require_fits,
    rows_in,
    taken_back_in,
)
from sparkwright.web.pages.common import (
    OfJob,
    TheShop,
    Who,
    job_page,
    job_values,
    reckoner_of,
    said_by,
    went,
)
from sparkwright.web.pages.facts import TypedForm
from sparkwright.web.pages.personal import remember
from sparkwright.web.view import page

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
"""Each set that is listed is judged."""

SetNumber = Annotated[int, Form(alias="set", ge=1, le=MOST_SETS)]


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
    values = _shown(shop, key, set, line, stay=stay) | {"twice": min(max(twice, 0), MOST_READINGS)}
    return job_page(request, "light.html", shop.latest(key), "light", values)


@router.post("/jobs/{key}/light/readings")
def keep(request: Request, shop: TheShop, key: str, form: TypedForm) -> Response:
    """Keep one reading the moment it is confirmed."""
    typed = dict(form)
    number = _set_number(typed.pop(SET, "1"))
    who = typed.pop("who", "")
    values = {name: typed.get(name, "") for name in COLUMNS}
    try:
        reading = checked_reading(values)
        require_fits([reading], shop.latest(key).job, by_set(shop, key), number)
        sent_as = typed.get("sent_as") or None
        row = reading_row(reading, number)
        kept = shop.put_reading(key, row, who=said_by(who), sent_as=sent_as)
    except ReadingsError as problem:
        return _again(request, shop, key, number, typed | {"who": who}, problem.problems)
    except ShopError:
        raise  # nothing about the reading is wrong, so its browser keeps it and sends it again
    except SparkwrightError as problem:
        return _again(request, shop, key, number, typed | {"who": who}, (str(problem),))
    answer = _after(request, shop, key, number, typed | {"who": who}, {"kept": kept.row})
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
) -> Response:
    """Take a reading back; its row stays, marked, and can be put back."""
    if not any(reading == each.id for each in shop.readings(key)):
        raise NotThereError(f"There is no reading {reading} of this job; it may have been taken back before.")
    shop.take_back_reading(reading, who=said_by(who))
    return _after(request, shop, key, number, {})


@router.post("/jobs/{key}/light/put-back")
def put_back(
    request: Request, shop: TheShop, key: str, reading: Annotated[int, Form()], number: SetNumber
) -> Response:
    """Let a reading count again that was taken back."""
    if not any(reading == each.id for each in shop.readings(key, also_taken_back=True)):
        raise NotThereError(f"There is no reading {reading} of this job.")
    shop.put_back_reading(reading)
    return _after(request, shop, key, number, {})


@router.post("/jobs/{key}/light/files")
def from_file(
    request: Request, shop: TheShop, key: str, file: UploadFile, number: SetNumber, who: Who = ""
) -> Response:
    """Take readings from a file; the file itself is kept with the job."""
    name = said_by(who)
    content = file.file.read(MOST_BYTES + 1)
    sheet = read_readings(text_of(content, "file", file.filename or "readings"))
    require_fits(sheet.readings, shop.latest(key).job, by_set(shop, key), number)
    shop.attach(key, file.filename or "readings.csv", "readings", io.BytesIO(content), who=name)
    shop.put_readings(key, [reading_row(each, number) for each in sheet.readings], who=name)
    twice = f"&twice={len(sheet.warnings)}" if sheet.warnings else ""
    return remember(went(request, f"/jobs/{key}/light?set={number}{twice}"), name)


@router.get("/jobs/{key}/light/readings.csv")
def table(shop: TheShop, key: str, set: int = 1) -> Response:
    """Give the readings of a set as the table that `sparkwright light` reads."""
    text = write_readings(list(rows_in(by_set(shop, key).get(set, ())).values()))
    disposition = f'attachment; filename="{key}-readings-{set}.csv"'
    return Response(text, media_type="text/csv; charset=utf-8", headers={"content-disposition": disposition})


def _set_number(text: str) -> int:
    if not (text.isascii() and text.isdigit() and len(text) < 6 and 1 <= int(text) <= MOST_SETS):
        raise InputError("set", text, f"must be 1 to {MOST_SETS}")
    return int(text)


def _shown(shop: Shop, key: str, asked: int | None, line: int = 1, *, stay: bool = False) -> dict[str, Any]:
    """Everything the page shows of one set, with its readings from a line on."""
    sets = by_set(shop, key)
    newest = max(sets, default=1)
    number = newest if asked is None else min(max(asked, 1), newest + 1)
    latest = shop.latest(key)
    job = latest.job
    of_set = sets.get(number, [])
    result = judged(job, of_set)
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
    struck = taken_back_in(shop, key, number)
    return {
        "result": result,
        "picture": light_picture(result, width_px=PICTURE_PX) if result.readings else None,
        "narrow": light_picture(result, "light-narrow", NARROW_PX) if result.readings else None,
        "set": number,
        "into_set": into_set,
        "stay": stay,
        "known": {
            "key": key,
            "name": latest.name,
            "cylinders": job.engine.cylinders,
            "hold_deg": f"{result.hold_deg:g}",
            "set": into_set,
            "newest": newest,
            "asks": _asked(result),
            "first_asks": _asked(judged(job, ())),
        },
        "rows": dict(sorted((rows | {each: reading for each, (reading, _) in struck.items()}).items())),
        "struck": {each: by for each, (_, by) in struck.items()},
        "kept": None,
        "pages": range(1, len(of_set) + 1, MOST_READINGS),
        "page_lines": MOST_READINGS,
        "twice": 0,
        # Part of a page that a person is on already: their hand may be in another field by now.
        "answered": False,
        "newest": newest,
        "sets": {each: judged(job, sets[each]) for each in listed},
        "older_set": older,
        "newer_set": newer,
        "ask": ask,
        "typed": typed,
        "refused": (),
        "mark_state": mark_stands(job),
    }


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
    more: dict[str, object] | None = None,
) -> Response:
    if request.headers.get("hx-request") != "true":
        return went(request, f"/jobs/{key}/light?set={number}")
    shown = _shown(shop, key, number, stay=typed.get("stay") == "1")
    stays = {name: typed[name] for name in STAYS if name in typed}
    shown["typed"] = {**EMPTY, **shown["typed"], **stays}
    return _part(request, shop, key, shown | (more or {}))


def _part(request: Request, shop: Shop, key: str, shown: dict[str, Any]) -> Response:
    """Write the part of the page that changes with every reading."""
    frame = job_values(shop, reckoner_of(request), shop.latest(key), "light")
    return page(request, "light-answer.html", frame | shown | {"answered": True})


def _in_words(sentence: str) -> str:
    """Call a field by its name on the page, where a refusal begins with the name of its column."""
    name = next((each for each in WORDS if sentence.startswith(f"{each} ")), "")
    return WORDS[name] + sentence.removeprefix(name) if name else sentence


def _again(
    request: Request, shop: Shop, key: str, number: int, typed: dict[str, str], refused: tuple[str, ...]
) -> Response:
    """Show the form again with everything typed still in it, and what keeps it from being taken."""
    shown = _shown(shop, key, number, stay=typed.get("stay") == "1")
    shown |= {"typed": EMPTY | {"sent_as": shown["typed"]["sent_as"]} | typed}
    shown["refused"] = [_in_words(sentence) for sentence in refused]
    if request.headers.get("hx-request") == "true":
        return page(request, "light-set.html", shown | {"revision": shop.latest(key), "answered": True}, 422)
    return job_page(request, "light.html", shop.latest(key), "light", shown, 422)
