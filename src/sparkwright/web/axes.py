"""Axes of a map, for pages and API: what a controller has, and the speeds and loads chosen for it."""

from __future__ import annotations

import re
import threading
from typing import Annotated

from cachetools import LRUCache, cached
from pydantic import Field

from sparkwright.job import LOAD_SPAN_KPA, MOST_NODES, SPEED_SPAN_RPM, HandCell, Job, Peg
from sparkwright.plan.choose_axes import AxesChoice, Nodes, choose_axes
from sparkwright.reading import number
from sparkwright.web.routes import OnlyKnown

MOST_KEPT = 100
"""Chosen axes kept at a time; a choice."""


class AxesAsked(OnlyKnown):
    """What a controller has: how many speeds and loads, on which steps, and which of them are fixed."""

    speeds: Annotated[int, Field(description=f"How many speeds, 2 to {MOST_NODES}")] = 16
    loads: Annotated[int, Field(description=f"How many loads, 2 to {MOST_NODES}")] = 16
    rpm_step: Annotated[float, Field(description="Step of its speeds, rpm", allow_inf_nan=False)] = 50.0
    kpa_step: Annotated[float, Field(description="Step of its loads, kPa", allow_inf_nan=False)] = 1.0
    fixed_rpm: Annotated[str, Field(max_length=400, description="Speeds that must be there: 800 3000")] = ""
    fixed_kpa: Annotated[str, Field(max_length=400, description="Loads that must be there: 40 100")] = ""

    def nodes(self) -> tuple[Nodes, Nodes]:
        """Give what there is of speeds and of loads."""
        return (
            Nodes(self.speeds, self.rpm_step, _numbers(self.fixed_rpm, "fixed speeds", SPEED_SPAN_RPM)),
            Nodes(self.loads, self.kpa_step, _numbers(self.fixed_kpa, "fixed loads", LOAD_SPAN_KPA)),
        )


def _numbers(typed: str, field: str, span: tuple[float, float]) -> tuple[float, ...]:
    words = re.split(r"[\s,;]+", typed.strip())
    return tuple(number(each, low=span[0], high=span[1], field=field) for each in words if each)


def axes_asked(job: Job, asked: AxesAsked) -> AxesChoice:
    """Choose the axes that were asked for; the same are chosen once.

    Parameters
    ----------
    job : Job
        The job; axes that it states itself are not looked at.
    asked : AxesAsked
        What its controller has.
    """
    return _chosen(job, *asked.nodes())


@cached(
    LRUCache(MOST_KEPT),
    key=lambda job, speeds, loads: (job.without_hand().fingerprint, speeds, loads),
    lock=threading.Lock(),
)
def _chosen(job: Job, speeds: Nodes, loads: Nodes) -> AxesChoice:
    return choose_axes(job, speeds, loads)


def asked_at_first(job: Job) -> AxesAsked:
    """Give what is asked before anybody has typed: as many nodes as the job has, pegs and hand cells fixed.

    Parameters
    ----------
    job : Job
        The job.
    """
    speeds, loads = len(job.controller.speeds or ()) or 16, len(job.controller.loads or ()) or 16
    cells: tuple[Peg | HandCell, ...] = (*job.pegs, *job.hand)
    return AxesAsked(
        speeds=speeds,
        loads=loads,
        fixed_rpm=_if_few({cell.rpm for cell in cells}, speeds),
        fixed_kpa=_if_few({cell.kpa for cell in cells}, loads),
    )


def _if_few(fixed: set[float], of: int) -> str:
    """List what is fixed; nothing where it is most of an axis, since nothing were left to choose."""
    return " ".join(f"{each:g}" for each in sorted(fixed)) if 2 * len(fixed) <= of else ""


def left_out(job: Job, choice: AxesChoice) -> int:
    """Count the cells set by hand and pegs that stand on none of the chosen speeds and loads.

    Parameters
    ----------
    job : Job
        The job.
    choice : AxesChoice
        The axes.
    """
    cells: tuple[Peg | HandCell, ...] = (*job.pegs, *job.hand)
    return sum(each.rpm not in choice.rpm or each.kpa not in choice.kpa for each in cells)


def with_axes(job: Job, choice: AxesChoice) -> Job:
    """Give the job with chosen axes.

    Parameters
    ----------
    job : Job
        The job.
    choice : AxesChoice
        The axes.
    """
    if choice.rows_kept:
        return job
    return job.changed("controller", rpm=choice.rpm.tolist(), kpa=choice.kpa.tolist())
