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
from sparkwright.numeric import FloatArray, Numeric
from sparkwright.plan.corrected import corrections
from sparkwright.plan.hooks import USUAL_BEST_DEG, sparse_at
from sparkwright.plan.own_belief import OwnBelief
from sparkwright.plan.physics import Physics
from sparkwright.plan.uncertainty import moved_by_belief, moved_by_facts, timing_spread_deg

COARSE_NODES = 3
Mapper = Callable[..., Iterable[Any]]
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

        Parameters
        ----------
        rpm : array
            Speeds of the cells [rpm].
        kpa : array
            Loads of the cells [kPa absolute].
        """
        return (
            self._over(self.best_sigma_deg, rpm, kpa),
            self._over(self.ln_knock_sigma, rpm, kpa),
            self._over(self.best_deg, rpm, kpa),
        )

    def at(self, rpm: FloatArray, kpa: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Carry to places in a row: the spread of ln of the integral [-], and about best [deg].

        Parameters
        ----------
        rpm : array
            Speed of each place [rpm].
        kpa : array
            Load of each place [kPa absolute].
        """
        right = np.clip(np.searchsorted(self.rpm, rpm, side="right"), 1, self.rpm.size - 1)
        above = np.clip(np.searchsorted(self.kpa, kpa, side="right"), 1, self.kpa.size - 1)
        across = np.clip((rpm - self.rpm[right - 1]) / (self.rpm[right] - self.rpm[right - 1]), 0.0, 1.0)
        up = np.clip((kpa - self.kpa[above - 1]) / (self.kpa[above] - self.kpa[above - 1]), 0.0, 1.0)

        def carried(coarse: FloatArray) -> FloatArray:
            low = coarse[above - 1, right - 1] * (1.0 - across) + coarse[above - 1, right] * across
            high = coarse[above, right - 1] * (1.0 - across) + coarse[above, right] * across
            return np.asarray(low * (1.0 - up) + high * up)

        return carried(self.ln_knock_sigma), carried(self.best_deg)

    def _over(self, coarse: FloatArray, rpm: FloatArray, kpa: FloatArray) -> FloatArray:
        rows = np.array([np.interp(rpm, self.rpm, row) for row in coarse])
        return np.array([np.interp(kpa, self.kpa, column) for column in rows.T]).T


def knock_level(ln_sigma: Numeric, chance_percent: float) -> Numeric:
    """Give ln of the knock integral at which knock has a chance.

    Parameters
    ----------
    ln_sigma : float or array
        Standard deviation of ln of the integral [-].
    chance_percent : float
        The chance wanted [%], between 0 and 100.

    Returns
    -------
    float or array
        The level [-]: 0 at 50 %, below 0 for less.

    Examples
    --------
    >>> round(knock_level(0.19, 10.0), 3), round(knock_level(0.19, 2.0), 3)
    (-0.243, -0.39)
    """
    return ln_sigma * _NORMAL.inv_cdf(0.01 * chance_percent)


def knock_chance_percent(ln_integral: float, ln_sigma: float) -> float:
    """Give the chance of knock [%] at a knock integral whose logarithm is known to a standard deviation.

    Parameters
    ----------
    ln_integral : float
        Logarithm of the knock integral [-].
    ln_sigma : float
        Its standard deviation [-], above 0.

    Examples
    --------
    >>> round(knock_chance_percent(-0.243, 0.19), 1)
    10.0
    """
    if not isfinite(ln_integral):
        return float("nan")
    return 100.0 * _NORMAL.cdf(ln_integral / ln_sigma)


def knock_chances_percent(ln_integral: FloatArray, ln_sigma: FloatArray) -> FloatArray:
    """Give `knock_chance_percent` place by place.

    Parameters
    ----------
    ln_integral : array
        Logarithm of the knock integral at each place [-].
    ln_sigma : array
        Its standard deviation at each place [-], above 0.
    """
    places = zip(ln_integral.tolist(), ln_sigma.tolist(), strict=True)
    return np.array([knock_chance_percent(*place) for place in places])


def chance_allowed_percent(job: Job, physics: Physics, kpa: float) -> float:
    """Chance of knock that a load may have [%]: less above the site's air, where one may break a piston.

    Parameters
    ----------
    job : Job
        The job, for the chances that it allows.
    physics : Physics
        The same as the cycle sees it, for the site's air.
    kpa : float
        Load [kPa absolute].
    """
    limits = job.limits
    boosted = physics.is_boost(kpa)
    return limits.boost_knock_chance_percent if boosted else limits.knock_chance_percent


def knock_levels_allowed(job: Job, physics: Physics, kpa: Numeric, ln_sigma: FloatArray) -> FloatArray:
    """Give ln of the knock integral at which knock has the chance that each load may have [-].

    Parameters
    ----------
    job : Job
        The job, for the chances that it allows.
    physics : Physics
        The same as the cycle sees it, for the site's air.
    kpa : float or array
        Load of each place, or of all [kPa absolute].
    ln_sigma : array
        Standard deviation of ln of the knock integral at each place [-].
    """
    plain = knock_level(ln_sigma, job.limits.knock_chance_percent)
    boosted = knock_level(ln_sigma, job.limits.boost_knock_chance_percent)
    return np.where(physics.is_boost(kpa), boosted, plain)


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
        return _as_learned(physics.belief, rpm, kpa)
    nodes = np.tile(coarse_rpm, COARSE_NODES), np.repeat(coarse_kpa, COARSE_NODES)
    rows = run(lambda load: _stands(physics, coarse_rpm, load), coarse_kpa.tolist())
    best, stands, ln_here, slope = np.concatenate(list(rows), axis=1)
    best_square = np.full(best.shape, physics.belief.engine_best_deg**2)
    ln_square = np.full(best.shape, physics.belief.engine_ln_knock**2)
    doubt = physics.engine.chamber.kind.limit_doubt
    if doubt is not None:
        best_square += doubt.best_deg**2
        ln_square += doubt.ln_knock**2
    moved = (*moved_by_belief(physics), *moved_by_facts(physics))
    for other_best, other_ln in run(lambda each: _read(each, nodes, best, stands), moved):
        best_square += (other_best - best) ** 2
        ln_square += (other_ln - ln_here) ** 2
    ln_square += (slope * timing_spread_deg(job)) ** 2
    grid = (COARSE_NODES, COARSE_NODES)
    return Firmness(
        coarse_rpm,
        coarse_kpa,
        _filled(np.sqrt(best_square)).reshape(grid),
        _filled(np.sqrt(ln_square)).reshape(grid),
        best.reshape(grid),
    )


def _stands(physics: Physics, rpm: FloatArray, kpa: float) -> FloatArray:
    """Give best, where the plan would stand, ln of the knock integral there and its slope, shape (4, n).

    The spread is wanted where the plan will stand, and the cycle knows nothing outside its lattice.
    """
    hooks = sparse_at(physics, rpm, kpa)
    best, _ = hooks.best(USUAL_BEST_DEG)
    stands = np.clip(np.fmin(best, hooks.knock(0.0)), 0.0, 56.0)
    slope = 0.5 * (hooks.at(stands + 1.0)[1] - hooks.at(stands - 1.0)[1])
    return np.stack([best, stands, hooks.at(stands)[1], slope])


def _read(
    physics: Physics, nodes: tuple[FloatArray, FloatArray], guess_deg: FloatArray, stands_deg: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Give best, and ln of the knock integral where the plan would stand, at speeds and loads."""
    hooks = sparse_at(physics, *nodes)
    best, _ = hooks.best(guess_deg)
    return best, hooks.at(stands_deg)[1]


def _as_learned(belief: OwnBelief, rpm: FloatArray, kpa: FloatArray) -> Firmness:
    """Take the spreads from what was learned, at every cell."""
    learned = corrections(belief, rpm[None, :], kpa[:, None])
    return Firmness(
        rpm,
        kpa,
        np.asarray(learned.best_sigma_deg),
        np.asarray(learned.ln_knock_sigma),
        np.full((kpa.size, rpm.size), USUAL_BEST_DEG),
    )


def _filled(coarse: FloatArray) -> FloatArray:
    """Take the largest known spread where none is known."""
    known = coarse[np.isfinite(coarse)]
    return np.where(np.isfinite(coarse), coarse, known.max() if known.size else np.nan)
