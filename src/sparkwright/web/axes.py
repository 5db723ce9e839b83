"""Axes of a map, for pages and API: what a controller has, and the speeds and loads chosen for it."""

from __future__ import annotations

import re
import threading
from typing import Annotated

import numpy as np
from cachetools import LRUCache, cached
from pydantic import Field

from sparkwright.job import MOST_NODES, SPEED_SPAN_RPM, HandCell, Job, Peg
from sparkwright.plan.choose_axes import AxesChoice, choose_axes
from sparkwright.plan.load_terms import Loads, loads_of
from sparkwright.plan.nodes import Nodes
from sparkwright.reading import number
from sparkwright.web.routes import OnlyKnown

MOST_KEPT = 100
"""Chosen axes kept at a time; a choice."""


class AxesAsked(OnlyKnown):
    """What a controller has: how many speeds and loads, on which steps, and which of them are fixed.

    Loads stand in the controller's own terms; in kPa absolute where it has them by throttle.
    """

    speeds: Annotated[int, Field(description=f"How many speeds, 2 to {MOST_NODES}")] = 16
    loads: Annotated[int, Field(description=f"How many loads, 2 to {MOST_NODES}")] = 16
    rpm_step: Annotated[float, Field(description="Step of its speeds, rpm", allow_inf_nan=False)] = 50.0
    load_step: Annotated[
        float | None,
        Field(description="Step of its loads, as `controller.load` has them; 1 for kPa", allow_inf_nan=False),
    ] = None
    fixed_rpm: Annotated[str, Field(max_length=400, description="Speeds that must be there: 800 3000")] = ""
    fixed_load: Annotated[
        str,
        Field(max_length=400, description="Loads that must be there, as `controller.load` has them: 40 100"),
    ] = ""
    anew: Annotated[
        bool, Field(description="Whether axes that the job states are chosen too; their ends stay")
    ] = False

    def nodes(self, loads: Loads) -> tuple[Nodes, Nodes]:
        """Give what there is of speeds and of loads.

        Parameters
        ----------
        loads : Loads
            In what the loads are typed.
        """
        fixed_load = _numbers(self.fixed_load, "fixed loads", loads.span)
        step = loads.usual_step if self.load_step is None else self.load_step
        return (
            Nodes(self.speeds, self.rpm_step, _numbers(self.fixed_rpm, "fixed speeds", SPEED_SPAN_RPM)),
            Nodes(self.loads, step, fixed_load),
        )


def _numbers(typed: str, field: str, span: tuple[float, float]) -> tuple[float, ...]:
    words = re.split(r"[\s,;]+", typed.strip())
    return tuple(number(each, low=span[0], high=span[1], field=field) for each in words if each)


def typed_in(job: Job) -> Loads:
    """Give the terms in which the loads of a job's axes are typed and shown.

    Parameters
    ----------
    job : Job
        The job.
    """
    return loads_of(job).over_pressure


def axes_asked(job: Job, asked: AxesAsked) -> AxesChoice:
    """Choose the axes that were asked for; the same are chosen once.

    Parameters
    ----------
    job : Job
        The job; axes that it states itself are kept unless they are asked for anew.
    asked : AxesAsked
        What its controller has.
    """
    return _chosen(job, *asked.nodes(typed_in(job)), asked.anew)


@cached(
    LRUCache(MOST_KEPT),
    key=lambda job, speeds, loads, anew: (job.without_hand().fingerprint, speeds, loads, anew),
    lock=threading.Lock(),
)
def _chosen(job: Job, speeds: Nodes, loads: Nodes, anew: bool) -> AxesChoice:
    return choose_axes(job, speeds, loads, keep=not anew)


def asked_at_first(job: Job) -> AxesAsked:
    """Give what is asked before anybody has typed: as many nodes as the job has, pegs and hand cells fixed.

    Parameters
    ----------
    job : Job
        The job.
    """
    speeds, loads = len(job.controller.speeds or ()) or 16, len(job.controller.loads or ()) or 16
    cells: tuple[Peg | HandCell, ...] = (*job.pegs, *job.hand)
    terms = typed_in(job)
    kpa = sorted({cell.kpa for cell in cells})
    return AxesAsked(
        speeds=speeds,
        loads=loads,
        load_step=terms.usual_step,
        fixed_rpm=_if_few(sorted({cell.rpm for cell in cells}), speeds),
        fixed_load=_if_few(terms.as_typed(np.array(kpa)).tolist(), loads),
    )


def _if_few(fixed: list[float], of: int) -> str:
    """List what is fixed; nothing where it is most of an axis, since nothing were left to choose."""
    return " ".join(f"{each:.10g}" for each in fixed) if 2 * len(fixed) <= of else ""


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
