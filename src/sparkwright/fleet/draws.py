"""One engine as it may really be: everything that isn't known exactly, drawn once.

What is drawn, and how widely, is what the plan counts in its chance of knock (``plan.uncertainty``); here it
moves all at once and by the whole cycle, where the plan adds small straight changes.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from sparkwright.cycle.belief import Belief
from sparkwright.cycle.sparse import LEAST_DEG
from sparkwright.job import Job
from sparkwright.job.usual import CHAMBER, MIXTURE
from sparkwright.numeric import FloatArray
from sparkwright.plan.hooks import USUAL_BEST_DEG, sparse_at
from sparkwright.plan.physics import Physics
from sparkwright.plan.uncertainty import SPREADS, timing_spread_deg

FARTHEST = 3.0
"""Standard deviations beyond which nothing is drawn: farther out a job would have been refused; a choice."""


@dataclass(frozen=True)
class Drawn:
    """An engine as it may be, and what no fact of it explains.

    ``timing_deg`` is added to every advance commanded, ``best_deg`` moves the whole torque curve to more
    advance [crank deg], ``ln_knock`` is added to ln of the knock integral [-].
    """

    physics: Physics
    timing_deg: float
    best_deg: float
    ln_knock: float


@dataclass(frozen=True)
class Outcome:
    """What one engine makes of a map: arrays over its cells, as they run.

    ``knocks`` is 1 or 0, ``limit_deg`` the most advance to command without knock (inf where none is found,
    -inf where it knocks at any), ``lost_percent`` the torque given away against the best that doesn't knock.
    """

    knocks: FloatArray
    limit_deg: FloatArray
    lost_percent: FloatArray


def drawn(job: Job, physics: Physics, draw: np.random.Generator) -> Drawn:
    """Draw an engine.

    Parameters
    ----------
    job : Job
        The job, for what was proved at the engine.
    physics : Physics
        The same as the plan takes it.
    draw : numpy.random.Generator
        Where chance comes from.

    Returns
    -------
    Drawn
        Each fact normally distributed about what is taken, the constants jointly as the belief has them. A
        chamber nobody looked at is an open one in half of the draws.
    """
    belief, taken = physics.belief, physics.left_to_assumption

    def normal() -> float:
        return float(np.clip(draw.standard_normal(), -FARTHEST, FARTHEST))

    moved = physics
    for spread, move in SPREADS:
        amount = spread.amount(taken)
        if spread is CHAMBER:
            amount *= float(draw.random() < 0.5)
        else:
            amount *= normal()
        if spread is MIXTURE:
            amount = round(amount, 2)  # each mixture costs a fit of its own burned gas
        if amount:
            moved = move(moved, amount)
    doubt = physics.engine.chamber.kind.limit_doubt
    best_sigma, ln_sigma = belief.engine_best_deg, belief.engine_ln_knock
    if doubt is not None:
        best_sigma, ln_sigma = np.hypot(best_sigma, doubt.best_deg), np.hypot(ln_sigma, doubt.ln_knock)
    return Drawn(
        replace(moved, belief=_drawn_belief(belief, draw)),
        timing_deg=timing_spread_deg(job) * normal(),
        best_deg=float(best_sigma) * normal(),
        ln_knock=float(ln_sigma) * normal(),
    )


def _drawn_belief(belief: Belief, draw: np.random.Generator) -> Belief:
    variances, vectors = np.linalg.eigh(belief.covariance)
    steps = np.clip(draw.standard_normal(variances.size), -FARTHEST, FARTHEST)
    return replace(belief, constants=belief.moved(vectors @ (np.sqrt(np.maximum(variances, 0.0)) * steps)))


def outcome(engine: Drawn, rpm: FloatArray, kpa: FloatArray, advance_deg: FloatArray) -> Outcome:
    """Run a map on a drawn engine.

    Parameters
    ----------
    engine : Drawn
        The engine.
    rpm, kpa, advance_deg : array, shape (n,)
        The map, cell by cell.

    Returns
    -------
    Outcome
        Arrays of shape (n,); nan where the engine does not burn what is asked.
    """
    hooks = sparse_at(engine.physics, rpm, kpa)
    best_deg, best_nm = hooks.best(USUAL_BEST_DEG)
    found_deg = hooks.knock(-engine.ln_knock)
    sparks_at = advance_deg + engine.timing_deg
    # An engine that knocks at any advance gives what it gives at the least that was tested.
    limit_deg = np.where(np.isneginf(found_deg), LEAST_DEG, found_deg)
    could_deg = np.maximum(np.fmin(best_deg, limit_deg - engine.best_deg), LEAST_DEG)
    could_nm = np.where(could_deg >= best_deg, best_nm, hooks.at(could_deg)[0])
    gives_nm = hooks.at(sparks_at - engine.best_deg)[0]
    ln_integral = hooks.at(sparks_at)[1] + engine.ln_knock
    with np.errstate(divide="ignore", invalid="ignore"):
        lost = np.where(could_nm > 0.0, 100.0 * (could_nm - gives_nm) / could_nm, np.nan)
    return Outcome(
        knocks=np.where(np.isnan(ln_integral), np.nan, ln_integral > 0.0),
        limit_deg=np.nan_to_num(found_deg, nan=np.inf, posinf=np.inf, neginf=-np.inf) - engine.timing_deg,
        lost_percent=np.maximum(lost, 0.0),
    )
