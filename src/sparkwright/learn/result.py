"""What was learned of one engine, as data: cells with intervals, constants, and what was noticed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.stats import norm

from sparkwright.check.assumed import Assumed
from sparkwright.cycle.sparse import LEAST_DEG
from sparkwright.dyno.checks import sort_out
from sparkwright.dyno.fits import fit_of
from sparkwright.dyno.hook_fit import SweepFit
from sparkwright.dyno.sweep import Sweep
from sparkwright.findings import Finding, State, Value
from sparkwright.job import Job
from sparkwright.learn.belief import LearnedBelief, belief_of
from sparkwright.learn.sorted_pulls import sort_pulls
from sparkwright.plan.corrected import OneHook
from sparkwright.plan.hooks import LAST_DEG, USUAL_BEST_DEG, one_hook_at
from sparkwright.plan.physics import physics_of
from sparkwright.plan.planner import Progress, plan
from sparkwright.plan.result import PlanResult
from sparkwright.plan.spark_map import SparkMap

REACH_90 = float(norm.ppf(0.95))
"""Half of a 90 % interval, in standard deviations [-]."""

OTHER_TORQUE, OTHER_BEST_DEG = 0.7, 12.0
"""How far, in ln of torque over the cycle's [-] and in best less the cycle's [crank deg], a sweep may lie
from the middle of the others before it is taken for one of another engine; choices."""

SEEN_SHARE = 0.9
"""A spread that keeps more than this share of itself was not seen by the measurements [-]; a choice."""


@dataclass(frozen=True)
class LearnedCell:
    """One cell of the map. Ends of intervals of 90 %; nan where not determined [crank deg].

    ``knock_deg`` is where knock has an even chance; the latest advance tested where the charge knocks even
    there.
    """

    rpm: float
    kpa: float
    best_deg: float
    best_low_deg: float
    best_high_deg: float
    knock_deg: float
    knock_low_deg: float
    knock_high_deg: float


@dataclass(frozen=True)
class LearnedConstant:
    """One thing that may be otherwise: by how many of its standard deviations it was moved, and what is left.

    ``left_share`` is the standard deviation after the measurements over that before; ``seen`` is false where
    the measurements hardly say anything of it.
    """

    name: str
    unit: str
    moved: float
    sigma: float
    left_share: float
    seen: bool


@dataclass(frozen=True)
class LearnResult:
    """What was learned of one engine."""

    headline: Finding
    """What leads: from how much was learned, and how well best is known now."""
    cells: tuple[LearnedCell, ...]
    spark_map: SparkMap
    held_by: tuple[tuple[str, ...], ...]
    constants: tuple[LearnedConstant, ...]
    sweeps: tuple[SweepFit, ...]
    set_aside: tuple[str, ...]
    findings: tuple[Finding, ...]
    job_name: str
    fingerprint: str
    assumed: tuple[Assumed, ...]
    warnings: tuple[Finding, ...]
    """What was noticed of the sweeps, and what the measurements don't see."""


@dataclass(frozen=True)
class Evidence:
    """Sweeps that count, those set aside, their fits and what was noticed.

    ``pulls_aside`` names the pulls that take no part.
    """

    used: tuple[Sweep, ...]
    aside: tuple[Sweep, ...]
    fits: tuple[SweepFit, ...]
    findings: tuple[Finding, ...]
    pulls_aside: tuple[str, ...] = ()

    @property
    def set_aside(self) -> tuple[str, ...]:
        """Names of all that takes no part."""
        return (*(each.name for each in self.aside), *self.pulls_aside)


def evidence_of(job: Job, sweeps: Sequence[Sweep]) -> Evidence:
    """Sort out sweeps and pulls: what can't be, what was given twice, and what another engine made.

    Parameters
    ----------
    job : Job
        The engine, whose own hooks the sweeps are held against.
    sweeps : sequence of Sweep
        Everything measured.
    """
    # Pulls place no top by themselves; each speed of theirs counts for what it says beside the sweeps.
    pulls = tuple(each for each in sweeps if each.pulls)
    sorted_out = sort_out([each for each in sweeps if not each.pulls])
    physics = physics_of(job)
    # By their place: two files may name their sweeps alike.
    fits = {k: fit_of(physics, each) for k, each in enumerate(sorted_out.used) if each.determines_a_top}
    strangers = _strangers(fits)
    places = range(len(sorted_out.used))
    own = [fit for k, fit in fits.items() if k not in strangers]
    steady = tuple(sorted_out.used[k] for k in places if k not in strangers)
    sorted_pulls = sort_pulls(job, steady, pulls)
    return Evidence(
        used=steady + sorted_pulls.used,
        aside=sorted_out.aside + tuple(sorted_out.used[k] for k in places if k in strangers),
        fits=tuple(own),
        findings=sorted_out.findings
        + tuple(strangers.values())
        + tuple(each for fit in own for each in fit.findings)
        + sorted_pulls.findings,
        pulls_aside=sorted_pulls.aside,
    )


def _strangers(fits: Mapping[int, SweepFit]) -> dict[int, Finding]:
    """Name the sweeps that lie far from all others, or, standing alone, from any such engine."""
    found = {}
    for place, fit in fits.items():
        others = [each for each in fits.values() if each is not fit]
        torque = np.log(fit.torque_ratio) - np.median([np.log(each.torque_ratio) for each in others] or [0.0])
        best = fit.from_cycle_deg - np.median([each.from_cycle_deg for each in others] or [0.0])
        alone = 1.0 if len(others) > 1 else 2.0
        whose: dict[str, Value] = {"sweep": fit.sweep, "others": bool(others)}
        if abs(torque) > alone * OTHER_TORQUE:
            found[place] = Finding(
                "sweep.other-torque", "problem", {**whose, "torque_ratio": float(np.exp(torque))}
            )
        elif fit.crossed_top and abs(best) > alone * OTHER_BEST_DEG:
            found[place] = Finding("sweep.other-best", "problem", {**whose, "off_deg": float(best)})
    return found


def learned(job: Job, sweeps: Sequence[Sweep], *, progress: Progress | None = None) -> LearnResult:
    """Learn one engine from its sweeps, and plan its map anew.

    Parameters
    ----------
    job : Job
        The engine, as the shop states it.
    sweeps : sequence of Sweep
        Everything measured; what can't be used is set aside and named.
    progress : callable, optional
        Called with (cells done, cells in all); raise from it to stop.

    Examples
    --------
    Before anything was measured, what the program believes of any engine counts:

    >>> from sparkwright.job import starter_text
    >>> job = Job.from_toml(starter_text()).changed("controller", rpm=[600, 3000], kpa=[40, 95])
    >>> found = learned(job, [])
    >>> len(found.cells), any(each.seen for each in found.constants)
    (4, False)
    """
    return learned_and_planned(job, sweeps, progress=progress)[0]


def learned_and_planned(
    job: Job, sweeps: Sequence[Sweep], *, progress: Progress | None = None
) -> tuple[LearnResult, PlanResult]:
    """Give what `learned` gives, and the plan that is made from it.

    Parameters
    ----------
    job : Job
        The engine, as the shop states it.
    sweeps : sequence of Sweep
        Everything measured; what can't be used is set aside and named.
    progress : callable, optional
        Called with (cells done, cells in all); raise from it to stop.
    """
    evidence = evidence_of(job, sweeps)
    belief = belief_of(job, evidence.used)
    planned = plan(job, belief, progress=progress)
    cells = cells_of(job, belief, planned)
    constants = constants_of(belief)
    unseen = tuple(each.name for each in constants if not each.seen)
    result = LearnResult(
        headline=_headline(evidence, cells),
        cells=cells,
        spark_map=planned.cells.spark_map,
        held_by=planned.cells.held_by,
        constants=constants,
        sweeps=evidence.fits,
        set_aside=evidence.set_aside,
        findings=evidence.findings,
        job_name=job.name,
        fingerprint=job.fingerprint,
        assumed=planned.assumed,
        warnings=evidence.findings
        + ((Finding("learned.unseen", "open", {"unseen": unseen}),) if unseen else ()),
    )
    return result, planned


def cells_of(job: Job, belief: LearnedBelief, planned: PlanResult) -> tuple[LearnedCell, ...]:
    """Give best and the knock limit of each cell of a map, with 90 % intervals.

    Parameters
    ----------
    job : Job
        The engine, for the chance of knock that it allows.
    belief : LearnedBelief
        What was learned of it.
    planned : PlanResult
        The plan made with that belief, for the cells of its map.
    """
    physics = physics_of(job, belief)
    found = []
    for kpa in planned.cells.spark_map.kpa.tolist():
        for rpm in planned.cells.spark_map.rpm.tolist():
            hook = one_hook_at(physics, rpm, kpa)
            correction = belief.correction(rpm, kpa)
            found.append(
                _cell(hook, rpm, kpa, float(correction.best_sigma_deg), float(correction.ln_knock_sigma))
            )
    return tuple(found)


def _cell(hook: OneHook, rpm: float, kpa: float, best_sigma: float, ln_sigma: float) -> LearnedCell:
    best = hook.best(USUAL_BEST_DEG)[0]
    if best >= LAST_DEG or hook.burn_state(best) == "misfire":
        best = float("nan")
    limits = [hook.knock(side * REACH_90 * ln_sigma) for side in (-1.0, 0.0, 1.0)]
    low, middle, high = np.maximum(limits, LEAST_DEG).tolist()
    return LearnedCell(
        rpm, kpa, best, best - REACH_90 * best_sigma, best + REACH_90 * best_sigma, middle, low, high
    )


def constants_of(belief: LearnedBelief) -> tuple[LearnedConstant, ...]:
    """Say what was moved, by how much, and what the measurements don't see.

    Parameters
    ----------
    belief : LearnedBelief
        What was learned of the engine.
    """
    posterior, at = belief.posterior, belief.posterior.problem.layout
    sigma = np.sqrt(np.diag(posterior.covariance))
    before = np.sqrt(np.diag(posterior.problem.prior_covariance))
    rows = [(each.name, each.unit, k, each.sigma) for k, each in enumerate(belief.moves)]
    rows += [
        ("mark's zero", "deg", at.mark, 1.0),
        ("torque scale", "%", at.scale, 100.0),
        ("friction", "standard deviations", at.friction, 1.0),
    ]
    return tuple(
        LearnedConstant(
            name=name,
            unit=unit,
            moved=float(posterior.middle[k] * unit_of),
            sigma=float(sigma[k] * unit_of),
            left_share=float(sigma[k] / before[k]),
            seen=bool(sigma[k] < SEEN_SHARE * before[k]),
        )
        for name, unit, k, unit_of in rows
    )


def _headline(evidence: Evidence, cells: Sequence[LearnedCell]) -> Finding:
    half = [0.5 * (each.best_high_deg - each.best_low_deg) for each in cells if np.isfinite(each.best_deg)]
    sweeps = sum(not each.pulls for each in evidence.used)
    pulls = len({name for each in evidence.used for name in each.pulls})
    numbers: dict[str, Value] = {"sweeps": sweeps, "pulls": pulls, "aside": len(evidence.set_aside)}
    if not half:
        return Finding("learned.no-best", "open", numbers)
    state: State = "look" if evidence.set_aside else "good"
    return Finding("learned.best", state, {**numbers, "half_deg": float(np.median(half))})
