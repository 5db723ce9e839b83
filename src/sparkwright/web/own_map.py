"""A person's own map for pages and API: read as it is, or asked about, and held against the plan."""

from __future__ import annotations

from dataclasses import dataclass

from sparkwright.errors import Refusal
from sparkwright.job import Job
from sparkwright.plan.compare import planned_on_its_axes
from sparkwright.plan.mine import Mine, mine
from sparkwright.plan.read_as import Reading, looks_otherwise, read_as, readings_of
from sparkwright.plan.result import PlanResult
from sparkwright.reading.tables import MOST_BYTES
from sparkwright.web.routes import Reckon


@dataclass(frozen=True)
class OwnMap:
    """A person's map as it was read, the plan on its axes, and the two beside each other."""

    reading: Reading
    planned: PlanResult
    mine: Mine


@dataclass(frozen=True)
class Asked:
    """What a map looks like, though it stands otherwise, and every way to read it, the nearest first."""

    looks: Reading
    readings: tuple[Reading, ...]


def question_of(text: str, job: Job, reckon: Reckon) -> Asked | None:
    """Give what has to be asked before a map is used; None where nothing has.

    Parameters
    ----------
    text : str
        The map as text.
    job : Job
        The job that it is for.
    reckon : callable
        What gives the plan of a job.
    """
    _require_a_page(text)
    readings = readings_of(text, job, reckon(job).plan)
    looks = looks_otherwise(readings)
    return None if looks is None else Asked(looks, tuple(sorted(readings, key=lambda each: each.off_deg)))


def own_map(text: str, job: Job, name: str, reckon: Reckon) -> OwnMap:
    """Hold a person's map against the plan on its axes, part by part.

    Parameters
    ----------
    text : str
        The map as text.
    job : Job
        The job that it is for.
    name : str
        How it is to be read; "" where nobody has said.
    reckon : callable
        What gives the plan of a job.

    Raises
    ------
    Refusal
        If it can't be read, or looks as if it were to be read otherwise and nobody has said so.
    """
    reading = read_own(text, job, name, reckon)
    of_job = reckon(job).plan
    planned = planned_on_its_axes(job, reading.spark_map, lambda other: reckon(other).plan, of_job)
    return OwnMap(reading, planned, mine(job, planned, reading.spark_map))


def read_own(text: str, job: Job, name: str, reckon: Reckon) -> Reading:
    """Read a person's map.

    Parameters
    ----------
    text : str
        The map as text.
    job : Job
        The job that it is for.
    name : str
        How it is to be read; "" where nobody has said.
    reckon : callable
        What gives the plan of a job.
    """
    _require_a_page(text)
    return read_as(text, job, reckon(job).plan, name)


def _require_a_page(text: str) -> None:
    if len(text) > MOST_BYTES:
        raise Refusal.at(
            "map", f"{len(text):,} letters", f"must be at most {MOST_BYTES:,}", "a map is a page of text"
        )
