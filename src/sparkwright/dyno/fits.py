"""Sweeps of a job beside the hooks of its cycle."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from sparkwright.check.assumed import Assumed
from sparkwright.cycle.sparse import LATTICE_DEG
from sparkwright.dyno.checks import sort_out
from sparkwright.dyno.hook_fit import SweepFit, fit_sweep
from sparkwright.dyno.sweep import Sweep
from sparkwright.findings import Finding
from sparkwright.job import Job
from sparkwright.plan.hooks import USUAL_BEST_DEG, one_hook_at
from sparkwright.plan.physics import Physics, physics_of


@dataclass(frozen=True)
class DynoResult:
    """What sweeps say, one by one."""

    headline: Finding
    """What leads: how well best is known where it was measured."""
    sweeps: tuple[SweepFit, ...]
    set_aside: tuple[str, ...]
    findings: tuple[Finding, ...]
    job_name: str
    fingerprint: str
    assumed: tuple[Assumed, ...]

    @property
    def to_do(self) -> Finding:
        """The finding of which the action comes first."""
        return self.findings[0] if self.findings else self.headline


def fit_of(physics: Physics, sweep: Sweep) -> SweepFit:
    """Fit a sweep with the shape that the cycle gives at its speed and load.

    Parameters
    ----------
    physics : Physics
        The engine, whose cycle gives the shape.
    sweep : Sweep
        What was measured, at three different advances or more.
    """
    hook = one_hook_at(physics, sweep.rpm, sweep.kpa)
    nodes = LATTICE_DEG[::-1]
    torque = np.array([hook.at(float(each))[0] for each in nodes])
    best_deg, best_nm = hook.best(USUAL_BEST_DEG)
    fit = fit_sweep(sweep, nodes, torque)
    return replace(
        fit, from_cycle_deg=fit.best_deg - best_deg, torque_ratio=fit.best_torque_nm / max(best_nm, 1.0)
    )


def dyno_of(job: Job, sweeps: Sequence[Sweep]) -> DynoResult:
    """Fit every sweep of a job that can be fitted, and say what was noticed.

    Parameters
    ----------
    job : Job
        The engine.
    sweeps : sequence of Sweep
        Everything measured on it.

    Examples
    --------
    >>> from sparkwright.dyno.sweep import SweepPoint
    >>> from sparkwright.job import starter_text
    >>> points = tuple(SweepPoint(2000, 90, deg, 380.0 - 0.1 * (deg - 28) ** 2) for deg in (16, 22, 28, 34))
    >>> (fit,) = dyno_of(Job.from_toml(starter_text()), [Sweep("one", points)]).sweeps
    >>> round(fit.best_deg)
    28
    """
    physics = physics_of(job)
    found = sort_out(sweeps)
    fits = tuple(fit_of(physics, each) for each in found.used if each.determines_a_top)
    findings = found.findings + tuple(each for fit in fits for each in fit.findings)
    return DynoResult(
        headline=_headline(fits, len(found.aside)),
        sweeps=fits,
        set_aside=tuple(each.name for each in found.aside),
        findings=findings,
        job_name=job.name,
        fingerprint=job.fingerprint,
        assumed=physics.assumed,
    )


def _headline(fits: Sequence[SweepFit], aside: int) -> Finding:
    if not fits:
        return Finding("dyno.no-top", "open", {"aside": aside})
    half_deg = [0.5 * (each.best_high_deg - each.best_low_deg) for each in fits]
    numbers = {"sweeps": len(fits), "least_half_deg": min(half_deg), "most_half_deg": max(half_deg)}
    return Finding("dyno.tops", "look" if aside else "good", {**numbers, "aside": aside})
