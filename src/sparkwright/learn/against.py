"""Measured against foretold: each swept place with its best, beside the plan's before and after learning."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sparkwright.dyno.sweep import Heard, Sweep
from sparkwright.findings import Finding
from sparkwright.job import Job
from sparkwright.learn.belief import LearnedBelief, belief_of
from sparkwright.learn.result import evidence_of
from sparkwright.plan.axes import axes_of
from sparkwright.plan.hooks import USUAL_BEST_DEG, one_hook_at
from sparkwright.plan.physics import physics_of

NEAR_SPEED, NEAR_KPA = 1.25, 10.0
"""A cell stands on a measurement whose speed lies within this factor [-], and load within so much [kPa];
choices."""

LOUDER: tuple[Heard, ...] = ("none", "trace", "heavy")


@dataclass(frozen=True)
class MeasuredPlace:
    """One swept place. Angles in crank deg; nan where they are not determined.

    ``best_low_deg`` to ``best_high_deg`` is the 90 % interval of the measured best, which is the cycle's
    shape carried on where the sweep never ``crossed_top``. ``untaught_deg`` and ``taught_deg`` are the plan's
    own best there before and after learning. ``heard`` is the loudest that was heard, None where nobody
    listened, and ``heard_deg`` the least advance at which it was so loud, or for "none" the most that stayed
    quiet.
    """

    sweep: str
    rpm: float
    kpa: float
    best_deg: float
    best_low_deg: float
    best_high_deg: float
    crossed_top: bool
    untaught_deg: float
    taught_deg: float
    heard: Heard | None
    heard_deg: float


@dataclass(frozen=True)
class NearCell:
    """One cell of the map: whether it stands on a measurement near it, or is foretold only."""

    rpm: float
    kpa: float
    measured_near: bool


@dataclass(frozen=True)
class Against:
    """What was measured, held against what was foretold.

    ``set_aside`` names the sweeps that take no part, ``pulls_aside`` such pulls, and ``findings`` say why.
    ``near_speed`` and ``near_kpa`` are what counts as near a measurement.
    """

    places: tuple[MeasuredPlace, ...]
    cells: tuple[NearCell, ...]
    pulls: int
    set_aside: tuple[str, ...]
    pulls_aside: tuple[str, ...]
    findings: tuple[Finding, ...]
    near_speed: float = NEAR_SPEED
    near_kpa: float = NEAR_KPA


def against_of(job: Job, sweeps: Sequence[Sweep], belief: LearnedBelief | None = None) -> Against:
    """Hold what was measured on an engine against what was foretold of it.

    Parameters
    ----------
    job : Job
        The engine, as the shop states it.
    sweeps : sequence of Sweep
        Everything measured; what can't be used is set aside and named.
    belief : LearnedBelief, optional
        What was learned from these sweeps, where that is known already.
    """
    evidence = evidence_of(job, sweeps)
    held = [each for each in evidence.used if not each.pulls]
    taught = belief_of(job, evidence.used) if belief is None else belief
    before, after = physics_of(job), physics_of(job, taught)
    rpms, kpas = axes_of(job, before)
    fits, places = iter(evidence.fits), []
    for sweep in held:
        fit = next(fits) if sweep.determines_a_top else None
        heard, heard_deg = _heard(sweep)
        places.append(
            MeasuredPlace(
                sweep=sweep.name,
                rpm=sweep.rpm,
                kpa=sweep.kpa,
                best_deg=np.nan if fit is None else fit.best_deg,
                best_low_deg=np.nan if fit is None else fit.best_low_deg,
                best_high_deg=np.nan if fit is None else fit.best_high_deg,
                crossed_top=fit is not None and fit.crossed_top,
                untaught_deg=one_hook_at(before, sweep.rpm, sweep.kpa).best(USUAL_BEST_DEG)[0],
                taught_deg=one_hook_at(after, sweep.rpm, sweep.kpa).best(USUAL_BEST_DEG)[0],
                heard=heard,
                heard_deg=heard_deg,
            )
        )
    return Against(
        places=tuple(places),
        cells=tuple(
            NearCell(rpm, kpa, any(is_near(rpm, kpa, each) for each in held))
            for kpa in kpas.tolist()
            for rpm in rpms.tolist()
        ),
        pulls=len({name for each in evidence.used for name in each.pulls}),
        set_aside=tuple(each.name for each in evidence.aside),
        pulls_aside=evidence.pulls_aside,
        findings=evidence.findings,
    )


def is_near(rpm: float, kpa: float, sweep: Sweep) -> bool:
    """Tell whether a cell stands on a measurement near it.

    Parameters
    ----------
    rpm : float
        Speed of the cell [rpm].
    kpa : float
        Load of the cell [kPa absolute].
    sweep : Sweep
        What was measured.

    Examples
    --------
    >>> from sparkwright.dyno.sweep import SweepPoint
    >>> sweep = Sweep("a", (SweepPoint(2000.0, 60.0, 30.0, 150.0),))
    >>> is_near(2400.0, 65.0, sweep), is_near(2600.0, 65.0, sweep), is_near(2400.0, 75.0, sweep)
    (True, False, False)
    """
    apart = max(rpm, sweep.rpm) / min(rpm, sweep.rpm)
    return apart <= NEAR_SPEED and abs(kpa - sweep.kpa) <= NEAR_KPA


def _heard(sweep: Sweep) -> tuple[Heard | None, float]:
    heard = [(each.knock, each.advance_deg) for each in sweep.points if each.knock is not None]
    if not heard:
        return None, float("nan")
    loudest = max((knock for knock, _ in heard), key=LOUDER.index)
    at = [advance for knock, advance in heard if knock == loudest]
    return loudest, max(at) if loudest == "none" else min(at)
