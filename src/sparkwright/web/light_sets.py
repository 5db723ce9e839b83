"""Light readings of a job in sets: one set for each setting of distributor and controller."""

from __future__ import annotations

from functools import lru_cache

from sparkwright.job import Job
from sparkwright.light.readings import COLUMNS, Reading, checked_reading
from sparkwright.light.verdict import LightResult, check_light
from sparkwright.shop import Revision, Shop

SET = "set"
"""Key of a kept row that says to which set it belongs; the others are a reading's columns."""


MOST_SETS = 1000


def reading_row(reading: Reading, number: int) -> dict[str, object]:
    """Give the row in which a reading of a set is kept: what is known of it, and its set."""
    values = {name: getattr(reading, name) for name in COLUMNS}
    return {name: value for name, value in values.items() if value not in (None, "")} | {SET: number}


def sets_of(shop: Shop, key: str) -> dict[int, tuple[Reading, ...]]:
    """Give the readings of each set, in the order in which they were taken; `line` is the row's number."""
    found: dict[int, list[Reading]] = {}
    for kept in shop.readings(key):
        number = kept.row.get(SET, 1)
        values = {name: value for name, value in kept.row.items() if name != SET}
        reading = checked_reading(values, line=kept.id)
        found.setdefault(number if isinstance(number, int) else 1, []).append(reading)
    return {number: tuple(readings) for number, readings in sorted(found.items())}


@lru_cache(maxsize=200)
def light_check(job: Job, readings: tuple[Reading, ...]) -> LightResult:
    """Judge one set; a job is frozen, so the same question is answered once."""
    return check_light(job, readings)


def latest_check(shop: Shop, revision: Revision) -> LightResult | None:
    """Judge the newest set of a job; None while nothing was read."""
    sets = sets_of(shop, revision.key)
    return light_check(revision.job, sets[max(sets)]) if sets else None
