"""How firmly best and knock are known over the map, from stated spreads, by small changes.

Each spread is one standard deviation. Effects are taken as straight lines and as independent of each other,
computed on a coarse grid of the map and carried to every cell by interpolation. Knock is judged by the
logarithm of its integral, whose spread is nearly the same everywhere; in degrees it would grow without bound
beyond best.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from math import isfinite
from statistics import NormalDist
from typing import Any

import numpy as np

from sparkwright.job import Job
from sparkwright.plan.hooks import USUAL_BEST_DEG, sparse_at
from sparkwright.plan.own_belief import OwnBelief
from sparkwright.plan.physics import Physics
from sparkwright.plan.result import FloatArray
from sparkwright.plan.uncertainty import SPREADS, moved_by_belief, shape_spread, timing_spread_deg

COARSE_NODES = 3
Mapper = Callable[[Callable[[Any], Any], Iterable[Any]], Iterable[Any]]
"""What runs a function over many arguments: ``map``, or that of a pool."""

_NORMAL = NormalDist()


@dataclass(frozen=True)
class Firmness:
    """Spreads of best and of ln of the knock integral on a coarse grid, shape (loads, speeds)."""

    rpm: FloatArray
    kpa: FloatArray
    best_sigma_deg: FloatArray
    ln_knock_sigma: FloatArray
    best_deg: FloatArray
    """Best itself, from which the search in a cell starts."""

    def over(self, rpm: FloatArray, kpa: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Carry to cells: spreads of best [deg] and of ln of the integral [-], and about best [deg].

        Each has the shape (loads, speeds).
        """
        return (
            self._over(self.best_sigma_deg, rpm, kpa),
            self._over(self.ln_knock_sigma, rpm, kpa),
            self._over(self.best_deg, rpm, kpa),
        )

    def _over(self, coarse: FloatArray, rpm: FloatArray, kpa: FloatArray) -> FloatArray:
        rows = np.array([np.interp(rpm, self.rpm, row) for row in coarse])
        return np.array([np.interp(kpa, self.kpa, column) for column in rows.T]).T


def knock_level(ln_sigma: float, chance_percent: float) -> float:
    """Give ln of the knock integral at which knock has a chance.

    Parameters
    ----------
    ln_sigma : float
        Standard deviation of ln of the integral [-].
    chance_percent : float
        The chance wanted [%], between 0 and 100.

    Returns
    -------
    float
        The level [-]: 0 at 50 %, below 0 for less.

    Examples
    --------
    >>> round(knock_level(0.19, 10.0), 3), round(knock_level(0.19, 2.0), 3)
    (-0.243, -0.39)
    """
    return ln_sigma * _NORMAL.inv_cdf(0.01 * chance_percent)


def knock_chance_percent(ln_integral: float, ln_sigma: float) -> float:
    """Give the chance of knock [%] at a knock integral whose logarithm is known to a standard deviation.

    Examples
    --------
    >>> round(knock_chance_percent(-0.243, 0.19), 1)
    10.0
    """
    if not isfinite(ln_integral):
        return float("nan")
    return 100.0 * _NORMAL.cdf(ln_integral / ln_sigma)


def chance_allowed_percent(job: Job, physics: Physics, kpa: float) -> float:
    """Chance of knock that a load may have [%]: less above the site's air, where one may break a piston."""
    limits = job.limits
    boosted = kpa > physics.ambient_kpa
    return limits.boost_knock_chance_percent if boosted else limits.knock_chance_percent


def firmness_of(job: Job, physics: Physics, rpm: FloatArray, kpa: FloatArray, run: Mapper = map) -> Firmness:
    """Work out the spreads over a map.

    Parameters
    ----------
    job : Job
        The job, for what was proved at the engine.
    physics : Physics
        The same as the cycle sees it.
    rpm, kpa : array
        The map's axes, rising.
    run : callable
        Like ``map``; a pool's runs the nodes side by side.
    """
    coarse_rpm = np.linspace(rpm[0], rpm[-1], COARSE_NODES)
    coarse_kpa = np.linspace(kpa[0], kpa[-1], COARSE_NODES)
    if isinstance(physics.belief, OwnBelief):
        return _as_learned(physics, physics.belief, rpm, kpa)
    timing_deg = timing_spread_deg(job)
    moved = (*moved_by_belief(physics), *(each.moved(physics, each.amount(physics)) for each in SPREADS))
    nodes = [(speed, load) for load in coarse_kpa.tolist() for speed in coarse_rpm.tolist()]
    found = np.array(list(run(lambda node: _node(physics, moved, timing_deg, *node), nodes)))
    best_sigma, ln_sigma, best = np.moveaxis(found.reshape(coarse_kpa.size, coarse_rpm.size, 3), 2, 0)
    return Firmness(coarse_rpm, coarse_kpa, _filled(best_sigma), _filled(ln_sigma), best)


def _as_learned(physics: Physics, belief: OwnBelief, rpm: FloatArray, kpa: FloatArray) -> Firmness:
    """Take the spreads from what was learned, at every cell."""
    found = [[belief.correction(speed, load) for speed in rpm.tolist()] for load in kpa.tolist()]
    return Firmness(
        rpm,
        kpa,
        np.array([[each.best_sigma_deg for each in row] for row in found]),
        np.array([[each.ln_knock_sigma for each in row] for row in found]),
        np.full((kpa.size, rpm.size), USUAL_BEST_DEG),
    )


def _filled(coarse: FloatArray) -> FloatArray:
    """Take the largest known spread where none is known."""
    known = coarse[np.isfinite(coarse)]
    return np.where(np.isfinite(coarse), coarse, known.max() if known.size else np.nan)


def _node(
    physics: Physics, moved: tuple[Physics, ...], timing_deg: float, rpm: float, kpa: float
) -> tuple[float, float, float]:
    """Spread of best, that of ln of the knock integral where the plan would stand, and best."""
    hook = sparse_at(physics, rpm, kpa)
    best, _ = hook.best(USUAL_BEST_DEG)
    limit = hook.knock(0.0)
    # The spread is wanted where the plan will stand, and the cycle knows nothing outside its lattice.
    stands = float(np.clip(best if np.isnan(limit) else min(best, limit), 0.0, 56.0))
    ln_here = hook.at(stands)[1]
    slope = 0.5 * (hook.at(stands + 1.0)[1] - hook.at(stands - 1.0)[1])
    best_square, ln_square = physics.belief.engine_best_deg**2, physics.belief.engine_ln_knock**2
    shape = shape_spread(physics)
    if shape is not None:
        best_square += shape.best_deg**2
        ln_square += shape.ln_knock**2
    for each in moved:
        other = sparse_at(each, rpm, kpa)
        best_square += (other.best(best)[0] - best) ** 2
        ln_square += (other.at(stands)[1] - ln_here) ** 2
    ln_square += (slope * timing_deg) ** 2
    return best_square**0.5, ln_square**0.5, best
