"""Sweeps of a job beside the hooks of its cycle."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from sparkwright.check.assumed import Assumed
from sparkwright.cycle.sparse import LATTICE_DEG
from sparkwright.dyno.checks import sort_out
from sparkwright.dyno.findings import Finding
from sparkwright.dyno.hook_fit import SweepFit, fit_sweep
from sparkwright.dyno.sweep import Sweep
from sparkwright.job import Job
from sparkwright.plan.hooks import USUAL_BEST_DEG, one_hook_at
from sparkwright.plan.physics import Physics, physics_of


@dataclass(frozen=True)
class DynoResult:
    """What sweeps say, one by one."""

    headline: str
    action: str
    sweeps: tuple[SweepFit, ...]
    set_aside: tuple[str, ...]
    findings: tuple[Finding, ...]
    job_name: str
    fingerprint: str
    assumed: tuple[Assumed, ...]
    warnings: tuple[str, ...]


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
    told = [each for each in findings if each.state != "good"]
    return DynoResult(
        headline=_headline(fits, len(found.aside)),
        action=told[0].action if told else "Give them to `sparkwright learn` for the whole map.",
        sweeps=fits,
        set_aside=tuple(each.name for each in found.aside),
        findings=findings,
        job_name=job.name,
        fingerprint=job.fingerprint,
        assumed=physics.assumed,
        warnings=tuple(each.sentence for each in findings),
    )


def _headline(fits: Sequence[SweepFit], aside: int) -> str:
    more = f"; {aside} set aside" if aside else ""
    if not fits:
        return f"No sweep places a top{more}."
    half = [0.5 * (each.best_high_deg - each.best_low_deg) for each in fits]
    return (
        f"{len(fits)} sweep{'' if len(fits) == 1 else 's'}{more}: best is known to +-{min(half):.1f} to "
        f"+-{max(half):.1f} deg (90 %) where they were measured."
    )
