"""Light readings of a job in sets: one set for each setting of distributor and controller."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from functools import lru_cache

from sparkwright.errors import Refusal
from sparkwright.evidence.kinds import MOST_SETS, SET, LightReading
from sparkwright.evidence.records import Record
from sparkwright.findings import Finding, Value
from sparkwright.job import Job
from sparkwright.light.readings import MOST_READINGS, Reading, each_once
from sparkwright.light.verdict import LightResult, check_light

MOST_WITHDRAWN = 20
"""So many that were withdrawn are shown beside the others, to be put back."""


def by_set(records: Iterable[Record]) -> dict[int, list[Record]]:
    """Give the light readings of each set that count, in the order in which they were taken.

    A set without any reading of a light, as an archive from elsewhere may bring, is left out.

    Parameters
    ----------
    records : iterable of Record
        What was kept of the job.
    """
    found: dict[int, list[Record]] = {}
    for record in records:
        if record.kind == "light-reading" and record.withdrawn is None:
            found.setdefault(set_of(record), []).append(record)
    return {number: found[number] for number in sorted(found) if rows_in(found[number], 1)}


def set_of(record: Record) -> int:
    """Give the set to which a light reading belongs; the first where it doesn't say.

    Parameters
    ----------
    record : Record
        What was kept.
    """
    number = record.fields.get(SET, 1)
    return number if isinstance(number, int) and 1 <= number <= MOST_SETS else 1


def rows_in(records: Iterable[Record], most: int | None = None) -> dict[int, Reading]:
    """Give the readings of a set by the number of their record; `line` is a place in it.

    What is no reading of a light is left out. With `most` only so many of the first are looked at.

    Parameters
    ----------
    records : iterable of Record
        What was kept of the job.
    most : int, optional
        How many to look at.
    """
    rows: dict[int, Reading] = {}
    for record in records:
        if isinstance(record.data, LightReading):
            rows[record.id] = replace(record.data.reading, line=len(rows) + 1)
        if len(rows) == most:
            break
    return rows


def withdrawn_in(records: Iterable[Record], number: int) -> list[Record]:
    """Give the newest readings of a set that were withdrawn.

    Parameters
    ----------
    records : iterable of Record
        What was kept of the job.
    number : int
        Number of the set, from 1.
    """
    gone = [
        record
        for record in records
        if record.kind == "light-reading" and record.withdrawn is not None and set_of(record) == number
    ]
    return [record for record in gone[-MOST_WITHDRAWN:] if isinstance(record.data, LightReading)]


def judged(job: Job, records: Iterable[Record]) -> LightResult:
    """Judge the readings of a set.

    Parameters
    ----------
    job : Job
        What the shop states of the engine.
    records : iterable of Record
        What was kept of the job.
    """
    return light_check(job, tuple(rows_in(records, MOST_READINGS + 1).values()))


def require_fits(
    readings: Sequence[Reading], job: Job, sets: Mapping[int, Sequence[object]], number: int
) -> None:
    """Refuse readings of a cylinder that the engine doesn't have, and more than a set takes.

    Parameters
    ----------
    readings : sequence of Reading
        What was read with the light.
    job : Job
        What the shop states of the engine.
    sets : mapping of int to sequence
        What was kept, by the number of its set.
    number : int
        Number of the set, from 1.

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

    Parameters
    ----------
    job : Job
        What the shop states of the engine.
    readings : sequence of Reading
        What was read with the light.
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


def latest_check(job: Job, records: Iterable[Record]) -> LightResult | None:
    """Judge the newest set of a job; None while nothing was read.

    Parameters
    ----------
    job : Job
        What the shop states of the engine.
    records : iterable of Record
        What was kept of the job.
    """
    sets = by_set(records)
    return judged(job, sets[max(sets)]) if sets else None
