"""Light readings of a job in sets: one set for each setting of distributor and controller."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from functools import lru_cache

from sparkwright.errors import Refusal
from sparkwright.findings import Finding, Value
from sparkwright.job import Job
from sparkwright.light.readings import (
    COLUMNS,
    MOST_READINGS,
    Reading,
    checked_reading,
    each_once,
)
from sparkwright.light.verdict import LightResult, check_light
from sparkwright.shop import KeptReading, Revision, Shop

SET = "set"
"""Key of a kept row that says to which set it belongs; the others are a reading's columns."""


MOST_SETS = 1000
MOST_TAKEN_BACK = 20
"""So many that were taken back are shown beside the others, to be put back."""


def reading_row(reading: Reading, number: int) -> dict[str, object]:
    """Give the row in which a reading of a set is kept: what is known of it, and its set."""
    values = {name: getattr(reading, name) for name in COLUMNS}
    return {name: value for name, value in values.items() if value not in (None, "")} | {SET: number}


def by_set(shop: Shop, key: str) -> dict[int, list[KeptReading]]:
    """Give the rows of each set as they are kept, in the order in which they were taken.

    A set without any reading of a light, as an archive from elsewhere may bring, is left out.
    """
    found: dict[int, list[KeptReading]] = {}
    for kept in shop.readings.of_job(key):
        named = kept.row.get(SET, 1)
        number = named if isinstance(named, int) and 1 <= named <= MOST_SETS else 1
        found.setdefault(number, []).append(kept)
    return {number: found[number] for number in sorted(found) if rows_in(found[number], 1)}


def rows_in(kept: Iterable[KeptReading], most: int | None = None) -> dict[int, Reading]:
    """Give the readings of a set by the number of their row; `line` is a place in it.

    A row that is no reading of a light is left out. With `most` only so many of the first are looked at.
    """
    rows: dict[int, Reading] = {}
    for each in kept:
        values = {name: value for name, value in each.row.items() if name != SET}
        try:
            rows[each.id] = checked_reading(values, line=len(rows) + 1)
        except Refusal:
            continue
        if len(rows) == most:
            break
    return rows


def taken_back_in(shop: Shop, key: str, number: int) -> dict[int, tuple[Reading, str]]:
    """Give the newest readings of a set that were taken back, by the number of their row, and by whom."""
    gone = {each.id: each for each in shop.readings.of_job(key, also_taken_back=True) if each.taken_back_when}
    of_set = [each for each in gone.values() if each.row.get(SET, 1) == number]
    rows = rows_in(of_set[-MOST_TAKEN_BACK:])
    return {each: (reading, gone[each].taken_back_by or "") for each, reading in rows.items()}


def judged(job: Job, kept: Iterable[KeptReading]) -> LightResult:
    """Judge a set of rows as they are kept."""
    return light_check(job, tuple(rows_in(kept, MOST_READINGS + 1).values()))


def require_fits(
    readings: Sequence[Reading], job: Job, sets: Mapping[int, Sequence[object]], number: int
) -> None:
    """Refuse readings of a cylinder that the engine doesn't have, and more than a set takes.

    Raises
    ------
    Refusal
        For the first that can't be kept.
    """
    room = MOST_READINGS - len(sets.get(number, ()))
    if len(readings) > room:
        raise Refusal.at(
            "readings", len(readings), f"must be at most {room} in set {number}", "begin a new set"
        )
    cylinders = job.engine.cylinders
    for each in readings:
        if each.cylinder is not None and each.cylinder > cylinders:
            raise Refusal.at(
                "cylinder",
                each.cylinder,
                f"must be 1 to {cylinders}",
                "the engine of this job has no other",
            )


@lru_cache(maxsize=200)
def light_check(job: Job, readings: tuple[Reading, ...]) -> LightResult:
    """Judge one set; a job is frozen, so the same question is answered once.

    What was kept must not shut the job: the engine may have been stated anew since, or the rows may come
    from elsewhere. Such readings are named in a warning.
    """
    cylinders = job.engine.cylinders
    warnings: list[Finding] = []
    strange = [each for each in readings if each.cylinder is not None and each.cylinder > cylinders]
    if strange:
        named = tuple(sorted({each.cylinder for each in strange if each.cylinder is not None}, key=str))
        numbers: dict[str, Value] = {"named": named, "cylinders": cylinders}
        warnings.append(Finding("readings.of-another-engine", "look", numbers))
        readings = tuple(replace(each, cylinder=None) if each in strange else each for each in readings)
    if len(readings) > MOST_READINGS:
        warnings.append(Finding("readings.too-many", "look", {"judged": MOST_READINGS}))
    sheet = each_once(readings[:MOST_READINGS])
    return check_light(job, replace(sheet, warnings=(*warnings, *sheet.warnings)))


def latest_check(shop: Shop, revision: Revision) -> LightResult | None:
    """Judge the newest set of a job; None while nothing was read."""
    sets = by_set(shop, revision.key)
    return judged(revision.job, sets[max(sets)]) if sets else None
