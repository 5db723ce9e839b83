"""The day at the dyno: which point comes next in the sweep that is being run, and when to leave it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from sparkwright.dyno.sweep import Sweep
from sparkwright.job import Job
from sparkwright.learn.next_runs import NextRun
from sparkwright.plan.hooks import USUAL_BEST_DEG, one_hook_at
from sparkwright.plan.physics import physics_of

LATE_DEG = 12.0
"""So far before best a point burns into the exhaust [crank deg]; common practice, no source."""

HOT_S = 30.0
"""So long such a point may be held [s]; common practice, no source."""

NEAR_DEG = 1.0
"""Advances nearer than this are the same point of a sweep [crank deg]."""

Step = Literal["begin", "go on", "repeat", "knock", "done", "enough"]


@dataclass(frozen=True)
class Ask:
    """What to measure now; ``advance_deg`` is None where nothing more is asked of this sweep.

    ``left_deg`` are the advances of the sweep that come after it.
    """

    step: Step
    rpm: float | None = None
    kpa: float | None = None
    advance_deg: float | None = None
    left_deg: tuple[float, ...] = ()


def asked(runs: Sequence[NextRun], sweep: Sweep | None, planned: Sequence[float] = ()) -> Ask:
    """Say what to measure now.

    Parameters
    ----------
    runs : sequence of NextRun
        Sweeps worth running, best first, weighed without the one that is being run.
    sweep : Sweep or None
        The one that is being run; None before its first point.
    planned : sequence of float
        Advances that may be run where it is run, rising, none with more than the stated chance of knock.

    Examples
    --------
    >>> from sparkwright.dyno.sweep import SweepPoint
    >>> asked([], Sweep("", (SweepPoint(2010.0, 90.0, 12.0, 150.0),)), (12.0, 17.0, 22.0)).advance_deg
    17.0
    """
    if sweep is None:
        if not runs:
            return Ask("enough")
        first, *left = runs[0].advances_deg
        return Ask("begin", runs[0].rpm, runs[0].kpa, first, tuple(left))
    rpm, kpa, taken = sweep.rpm, sweep.kpa, sweep.advance_deg.tolist()
    if any(each.knock in ("trace", "heavy") for each in sweep.points):
        return Ask("knock", rpm, kpa)
    left = [each for each in planned if each > max(taken) + NEAR_DEG]
    if left:
        return Ask("go on", rpm, kpa, left[0], tuple(left[1:]))
    if not any(abs(each - taken[0]) < NEAR_DEG for each in taken[1:]):
        return Ask("repeat", rpm, kpa, taken[0])
    return Ask("done", rpm, kpa)


def late_below_deg(job: Job, rpm: float, kpa: float) -> float:
    """Give the advance before which a point burns into the exhaust [crank deg].

    Parameters
    ----------
    job : Job
        The engine.
    rpm : float
        Speed of the sweep [rpm].
    kpa : float
        Load of the sweep [kPa absolute].
    """
    return one_hook_at(physics_of(job), rpm, kpa).best(USUAL_BEST_DEG)[0] - LATE_DEG
