"""Light readings of a job in sets: one set for each setting of distributor and controller."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache

from sparkwright.errors import InputError
from sparkwright.job import Job
from sparkwright.light.readings import (
    COLUMNS,
    MOST_READINGS,
    Reading,
    ReadingsError,
    checked_reading,
    each_once,
)
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
    """Give the readings of each set in the order in which they were taken; `line` is a place in it."""
    return {number: tuple(rows.values()) for number, rows in rows_of(shop, key).items()}


def rows_of(shop: Shop, key: str) -> dict[int, dict[int, Reading]]:
    """Give the same by the number of the row in which each reading is kept.

    A row that is no reading of a light, as an archive from elsewhere may bring, is left out.
    """
    found: dict[int, dict[int, Reading]] = {}
    for kept in shop.readings(key):
        named = kept.row.get(SET, 1)
        number = named if isinstance(named, int) and 1 <= named <= MOST_SETS else 1
        values = {name: value for name, value in kept.row.items() if name != SET}
        rows = found.get(number, {})
        try:
            rows[kept.id] = checked_reading(values, line=len(rows) + 1)
        except ReadingsError:
            continue
        found[number] = rows
    return dict(sorted(found.items()))


def require_fits(
    readings: Sequence[Reading], job: Job, sets: dict[int, tuple[Reading, ...]], number: int
) -> None:
    """Refuse readings of a cylinder that the engine doesn't have, and more than a set takes.

    Raises
    ------
    InputError
        For the first that can't be kept.
    """
    room = MOST_READINGS - len(sets.get(number, ()))
    if len(readings) > room:
        raise InputError(
            "readings", len(readings), f"must be at most {room} in set {number}", "begin a new set"
        )
    cylinders = job.engine.cylinders
    for each in readings:
        if each.cylinder is not None and each.cylinder > cylinders:
            raise InputError(
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
    cylinders, warnings = job.engine.cylinders, []
    strange = [each for each in readings if each.cylinder is not None and each.cylinder > cylinders]
    if strange:
        named = ", ".join(sorted({str(each.cylinder) for each in strange}))
        warnings.append(
            f"Readings name cylinder {named}, and this engine has {cylinders}; they count as of a cylinder "
            "not noted. Take them back if they are of another engine."
        )
        readings = tuple(replace(each, cylinder=None) if each in strange else each for each in readings)
    if len(readings) > MOST_READINGS:
        warnings.append(f"Only the first {MOST_READINGS} readings of this set are judged; begin a new set.")
    sheet = each_once(readings[:MOST_READINGS])
    return check_light(job, replace(sheet, warnings=(*warnings, *sheet.warnings)))


def latest_check(shop: Shop, revision: Revision) -> LightResult | None:
    """Judge the newest set of a job; None while nothing was read."""
    sets = sets_of(shop, revision.key)
    return light_check(revision.job, sets[max(sets)]) if sets else None
