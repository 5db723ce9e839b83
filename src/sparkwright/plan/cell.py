"""One cell of a map: what the cycle says of it, run as little as will do."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sparkwright.cycle.sparse import SparseHook
from sparkwright.job import Job
from sparkwright.plan.corrected import CorrectedHook
from sparkwright.plan.firmness import chance_allowed_percent, knock_chance_percent, knock_level
from sparkwright.plan.hooks import FIRST_DEG, LAST_DEG, outside_range, sparse_at
from sparkwright.plan.physics import Physics


@dataclass(frozen=True)
class CellValue:
    """What a cell gives at one advance; nan where that lies outside the tested advances."""

    torque_nm: float
    burned_share: float
    knock_chance_percent: float


@dataclass(frozen=True)
class CellHook:
    """Best and the knock ceiling of one cell, and the hook to ask for more.

    ``best_deg`` and its torque are nan where torque still rises at the last tested advance and where the
    charge misfires; ``knock_deg`` is nan where no advance near best reaches the chance allowed, -inf where
    all do.
    """

    rpm: float
    kpa: float
    hook: SparseHook | CorrectedHook
    mixture_lambda: float
    best_deg: float
    best_torque_nm: float
    knock_deg: float
    knock_allowed_percent: float
    best_sigma_deg: float
    best_sigma_cost_percent: float
    """Torque that standing one such spread off best costs, on the dearer side."""
    ln_knock_sigma: float
    knock_sigma_deg: float
    """Spread of the knock ceiling [deg]; nan where there is none."""
    burn_state: str
    outside: bool

    def at(self, advance_deg: float) -> CellValue:
        """Say what the cell gives at an advance."""
        if not FIRST_DEG <= advance_deg <= LAST_DEG:
            return CellValue(np.nan, np.nan, np.nan)
        torque_nm, ln_integral, burned = self.hook.at(advance_deg)
        return CellValue(torque_nm, burned, knock_chance_percent(ln_integral, self.ln_knock_sigma))


def cell_at(
    job: Job,
    physics: Physics,
    rpm: float,
    kpa: float,
    best_sigma_deg: float,
    ln_knock_sigma: float,
    guess_deg: float,
) -> CellHook:
    """Read best and the knock ceiling of one cell.

    The ceiling is where knock has the chance that the job allows at this load, less the degrees that the job
    wants on top. The spreads are those of `sparkwright.plan.firmness`; the guess moves no result.
    """
    hook = sparse_at(physics, rpm, kpa)
    best_deg, best_nm = hook.best(guess_deg)
    state = hook.burn_state(best_deg)
    found = state != "misfire" and best_deg < LAST_DEG
    allowed = chance_allowed_percent(job, physics, kpa)
    knock_deg = hook.knock(knock_level(ln_knock_sigma, allowed))
    return CellHook(
        rpm=rpm,
        kpa=kpa,
        hook=hook,
        mixture_lambda=hook.mixture_lambda,
        best_deg=best_deg if found else np.nan,
        best_torque_nm=best_nm if found else np.nan,
        knock_deg=knock_deg - job.limits.knock_margin_deg,
        knock_allowed_percent=allowed,
        best_sigma_deg=best_sigma_deg,
        best_sigma_cost_percent=_cost_percent(hook, best_deg, best_nm, best_sigma_deg) if found else np.nan,
        ln_knock_sigma=ln_knock_sigma,
        knock_sigma_deg=_in_degrees(hook, knock_deg, ln_knock_sigma),
        burn_state=state,
        outside=bool(outside_range(physics, rpm, kpa, hook, best_deg)),
    )


def _cost_percent(hook: SparseHook | CorrectedHook, best_deg: float, best_nm: float, off_deg: float) -> float:
    """Torque lost by standing so far off best, on the dearer side [%]; nan where the engine is dragged."""
    if not (best_nm > 0.0 and np.isfinite(off_deg)):
        return float("nan")
    places = (max(best_deg - off_deg, FIRST_DEG), min(best_deg + off_deg, LAST_DEG))
    return 100.0 * (1.0 - min(hook.at(each)[0] for each in places) / best_nm)


def _in_degrees(hook: SparseHook | CorrectedHook, knock_deg: float, ln_sigma: float) -> float:
    """Carry a spread of ln of the knock integral to the advance at which a ceiling stands [deg]."""
    if not np.isfinite(knock_deg):
        return float("nan")
    low, high = max(knock_deg - 1.0, FIRST_DEG), min(knock_deg + 1.0, LAST_DEG)
    slope = (hook.at(high)[1] - hook.at(low)[1]) / (high - low)
    return ln_sigma / slope if slope > 0.0 else float("nan")
