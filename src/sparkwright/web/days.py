"""Other days of a job, for pages and API: what is asked of them, and the trims, which are kept."""

from __future__ import annotations

import threading
from typing import Annotated

from cachetools import LRUCache, cached
from pydantic import Field

from sparkwright.cycle.belief import PRIOR
from sparkwright.job import Job
from sparkwright.plan.driven import Driven, driven, values_asked
from sparkwright.plan.first_map import FirstMap, first_map
from sparkwright.plan.result import PlanResult
from sparkwright.plan.settings import Settings, settings_of
from sparkwright.plan.trims import Trims, trims
from sparkwright.web.reckoning import Reckoned
from sparkwright.web.routes import OnlyKnown

MOST_KEPT = 60
"""Trims kept at a time; a choice."""


class OtherDay(OnlyKnown):
    """Another day, height or fuel, as a person writes it; empty where it is the job's own."""

    air: Annotated[str, Field(max_length=40, description="Outside air: 42 degC")] = ""
    coolant: Annotated[str, Field(max_length=40, description="Coolant: 105 degC")] = ""
    altitude: Annotated[str, Field(max_length=40, description="Height above the sea: 2500 m")] = ""
    ron: Annotated[
        float | None, Field(ge=40, le=130, description="RON of a fuel put in by mistake, unknown to any trim")
    ] = None
    second_fuel: Annotated[bool, Field(description="On the second fuel that the job states")] = False
    with_trims: Annotated[bool, Field(description="With the trims that the job's conditions ask for")] = False


@cached(
    LRUCache(MOST_KEPT),
    key=lambda job, planned: (planned.fingerprint, planned.belief_fingerprint),
    lock=threading.Lock(),
)
def trims_kept(job: Job, planned: PlanResult) -> Trims:
    """Give the trims of a job, found once.

    Parameters
    ----------
    job : Job
        The job, with its conditions.
    planned : PlanResult
        Its plan.
    """
    return trims(job, planned, PRIOR)


@cached(
    LRUCache(MOST_KEPT),
    key=lambda job, reckoned: (reckoned.plan.fingerprint, reckoned.plan.belief_fingerprint),
    lock=threading.Lock(),
)
def settings_kept(job: Job, reckoned: Reckoned) -> Settings:
    """Give all that the controller of a job is told, gathered once.

    Parameters
    ----------
    job : Job
        The job.
    reckoned : Reckoned
        Its plan and check.
    """
    return settings_of(job, reckoned.plan, reckoned.check)


@cached(
    LRUCache(MOST_KEPT),
    key=lambda job, reckoned: (reckoned.plan.fingerprint, reckoned.plan.belief_fingerprint),
    lock=threading.Lock(),
)
def first_kept(job: Job, reckoned: Reckoned) -> FirstMap:
    """Give the first map of a job and the steps to the map that is typed in, found once.

    Parameters
    ----------
    job : Job
        The job.
    reckoned : Reckoned
        Its plan and check.
    """
    return first_map(job, reckoned.plan, to_type=settings_kept(job, reckoned).spark_map)


def other_day(job: Job, planned: PlanResult, asked: OtherDay) -> Driven:
    """Say what the map of a job does on another day.

    Parameters
    ----------
    job : Job
        The job.
    planned : PlanResult
        Its plan.
    asked : OtherDay
        Air, coolant, height and fuel of the other day.
    """
    values = values_asked(
        job, air=asked.air, coolant=asked.coolant, altitude=asked.altitude, second_fuel=asked.second_fuel
    )
    added = trims_kept(job, planned) if asked.with_trims else None
    return driven(job, planned, values, added, wrong_ron=asked.ron)
