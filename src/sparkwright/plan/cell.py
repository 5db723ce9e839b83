"""Cells of a map: what the cycle says of them, run as little as will do."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sparkwright.cycle.hook import burn_state
from sparkwright.job import Job
from sparkwright.numeric import FloatArray, Numeric
from sparkwright.plan.corrected import Hooks
from sparkwright.plan.firmness import chance_allowed_percent, knock_chances_percent, knock_levels_allowed
from sparkwright.plan.hooks import FIRST_DEG, LAST_DEG, outside_range, sparse_at
from sparkwright.plan.physics import Physics


@dataclass(frozen=True)
class CellValues:
    """What cells give at an advance each; nan where that lies outside the tested advances."""

    torque_nm: FloatArray
    burned_share: FloatArray
    knock_chance_percent: FloatArray


@dataclass(frozen=True)
class Cells:
    """Best and the knock ceiling of cells at one load, over their speeds, and the hooks to ask for more.

    ``best_deg`` and its torque are nan where torque still rises at the last tested advance and where the
    charge misfires; ``knock_deg`` is nan where no advance near best reaches the chance allowed, -inf where
    all do.
    """

    hooks: Hooks
    mixture_lambda: FloatArray
    best_deg: FloatArray
    best_torque_nm: FloatArray
    best_sigma_cost_percent: FloatArray
    """Torque that standing one spread off best costs, on the dearer side."""
    knock_deg: FloatArray
    knock_allowed_percent: FloatArray
    ln_knock_sigma: FloatArray
    knock_sigma_deg: FloatArray
    """Spread of the knock ceiling [deg]; nan where there is none."""
    burn_state: tuple[str, ...]
    outside: NDArray[np.bool_]

    def at(self, advance_deg: FloatArray) -> CellValues:
        """Say what the cells give at an advance each.

        Parameters
        ----------
        advance_deg : array
            Advance [crank deg before top dead centre], one for each cell of the row.
        """
        torque_nm, ln_integral, burned = self.hooks.at(advance_deg)
        return CellValues(torque_nm, burned, knock_chances_percent(ln_integral, self.ln_knock_sigma))


class CeilingsRead(NamedTuple):
    """Best and the knock ceiling over some speeds at one load, as in `Cells`, and what they are read off.

    The top of the torque is there also where it is no best.
    """

    hooks: Hooks
    top_deg: FloatArray
    top_nm: FloatArray
    burn_state: tuple[str, ...]
    best_deg: FloatArray
    knock_deg: FloatArray


def ceilings_at(
    job: Job,
    physics: Physics,
    rpm: FloatArray,
    kpa: Numeric,
    ln_knock_sigma: FloatArray,
    guess_deg: FloatArray,
) -> CeilingsRead:
    """Read best and the knock ceiling at one load, or at one for each speed, and nothing more.

    Parameters
    ----------
    job : Job
        The job, for the chance of knock that it allows and its margin on top.
    physics : Physics
        The same as the cycle sees it.
    rpm : array
        Speeds [rpm].
    kpa : float or array
        One load for all of them, or one for each [kPa absolute].
    ln_knock_sigma : array
        Standard deviation of ln of the knock integral, one for each speed [-].
    guess_deg : array
        About where best lies, one for each speed [deg before top dead centre].
    """
    hooks = sparse_at(physics, rpm, kpa)
    top_deg, top_nm = hooks.best(guess_deg)
    states = tuple(burn_state(share) for share in hooks.at(top_deg)[2].tolist())
    found = (np.array(states) != "misfire") & (top_deg < LAST_DEG)
    levels = knock_levels_allowed(job, physics, kpa, ln_knock_sigma)
    knock_deg = hooks.knock(levels) - job.limits.knock_margin_deg
    return CeilingsRead(hooks, top_deg, top_nm, states, np.where(found, top_deg, np.nan), knock_deg)


def cells_at(
    job: Job,
    physics: Physics,
    rpm: FloatArray,
    kpa: float,
    best_sigma_deg: FloatArray,
    ln_knock_sigma: FloatArray,
    guess_deg: FloatArray,
) -> Cells:
    """Read best and the knock ceiling of the cells at one load, shape of ``rpm``.

    The ceiling is where knock has the chance that the job allows at this load, less the degrees that the job
    wants on top. The spreads are those of `sparkwright.plan.firmness`; the guess moves no result.

    Parameters
    ----------
    job : Job
        The job, for the chance of knock that it allows and its margin on top.
    physics : Physics
        The same as the cycle sees it.
    rpm : array
        Speeds of the row [rpm].
    kpa : float
        Load of the row [kPa absolute].
    best_sigma_deg : array
        Standard deviation of best, one for each speed [deg].
    ln_knock_sigma : array
        Standard deviation of ln of the knock integral, one for each speed [-].
    guess_deg : array
        About where best lies, one for each speed [deg before top dead centre].
    """
    read = ceilings_at(job, physics, rpm, kpa, ln_knock_sigma, guess_deg)
    hooks, best_deg, states = read.hooks, read.top_deg, read.burn_state
    knock_deg = read.knock_deg + job.limits.knock_margin_deg
    return Cells(
        hooks=hooks,
        mixture_lambda=hooks.mixture_lambda,
        best_deg=read.best_deg,
        best_torque_nm=np.where(np.isnan(read.best_deg), np.nan, read.top_nm),
        best_sigma_cost_percent=_cost_percent(hooks, read.best_deg, read.top_nm, best_sigma_deg),
        knock_deg=read.knock_deg,
        knock_allowed_percent=np.full(rpm.shape, chance_allowed_percent(job, physics, kpa)),
        ln_knock_sigma=ln_knock_sigma,
        knock_sigma_deg=_in_degrees(hooks, knock_deg, ln_knock_sigma),
        burn_state=states,
        outside=np.array([bool(said) for said in outside_range(physics, rpm, kpa, hooks, best_deg)]),
    )


def _cost_percent(hooks: Hooks, best_deg: FloatArray, best_nm: FloatArray, off_deg: FloatArray) -> FloatArray:
    """Torque lost by standing so far off best, on the dearer side [%]; nan where the engine is dragged."""
    pulls_nm = np.where(best_nm > 0.0, best_nm, np.nan)
    off_deg = np.where(np.isnan(pulls_nm), np.nan, off_deg)
    later_nm, _, _ = hooks.at(np.maximum(best_deg - off_deg, FIRST_DEG))
    earlier_nm, _, _ = hooks.at(np.minimum(best_deg + off_deg, LAST_DEG))
    return 100.0 * (1.0 - np.minimum(later_nm, earlier_nm) / pulls_nm)


def _in_degrees(hooks: Hooks, knock_deg: FloatArray, ln_sigma: FloatArray) -> FloatArray:
    """Carry a spread of ln of the knock integral to the advance at which a ceiling stands [deg]."""
    known_deg = np.where(np.isfinite(knock_deg), knock_deg, np.nan)
    low, high = np.maximum(known_deg - 1.0, FIRST_DEG), np.minimum(known_deg + 1.0, LAST_DEG)
    slope = (hooks.at(high)[1] - hooks.at(low)[1]) / (high - low)
    return ln_sigma / np.where(slope > 0.0, slope, np.nan)
