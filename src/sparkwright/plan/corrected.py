"""The hook of a cell, put where measurements say that it lies."""

from __future__ import annotations

from sparkwright.cycle.sparse import LEAST_DEG, MOST_DEG, SparseHook
from sparkwright.plan.own_belief import Correction


class CorrectedHook:
    """A sparse hook moved to more advance as a whole, with its torque and knock scaled.

    Parameters
    ----------
    hook : SparseHook
        As the cycle gives it.
    correction : Correction
        What is different.
    """

    def __init__(self, hook: SparseHook, correction: Correction) -> None:
        self._hook = hook
        self.correction = correction
        self.mixture_lambda = hook.mixture_lambda
        self.residual_share = hook.residual_share

    @property
    def cycles(self) -> int:
        """How many cycles have been run."""
        return self._hook.cycles

    def best(self, guess_deg: float) -> tuple[float, float]:
        """Give best [deg] and its torque [N m], as `SparseHook.best`."""
        best_deg, torque_nm = self._hook.best(guess_deg - self.correction.later_deg)
        if not LEAST_DEG < best_deg < MOST_DEG:
            return best_deg, self._torque(torque_nm)
        return best_deg + self.correction.later_deg, self._torque(torque_nm)

    def knock(self, ln_level: float) -> float:
        """Give the advance at which ln of the integral reaches a level, as `SparseHook.knock` [deg]."""
        return self._hook.knock(ln_level - self.correction.ln_knock) + self.correction.later_deg

    def at(self, advance_deg: float) -> tuple[float, float, float]:
        """Give torque [N m], ln of the knock integral and the burned share, as `SparseHook.at`."""
        torque_nm, ln_knock, burned = self._hook.at(self._inside(advance_deg))
        return self._torque(torque_nm), ln_knock + self.correction.ln_knock, burned

    def spark_at(self, advance_deg: float) -> tuple[float, float]:
        """Temperature [K] and pressure [Pa] that the spark meets."""
        return self._hook.spark_at(self._inside(advance_deg))

    def burn_state(self, best_deg: float) -> str:
        """How far the charge burns at best, in the trade's words."""
        return self._hook.burn_state(self._inside(best_deg))

    def _inside(self, advance_deg: float) -> float:
        """Give where on the cycle's own hook an advance lies; nothing is known beyond its ends."""
        return min(max(advance_deg - self.correction.later_deg, LEAST_DEG), MOST_DEG)

    def _torque(self, torque_nm: float) -> float:
        return self.correction.torque_factor * torque_nm - self.correction.friction_nm
