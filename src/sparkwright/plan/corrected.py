"""Hooks of cells, put where measurements say that they lie."""

from __future__ import annotations

from dataclasses import fields
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from sparkwright.cycle.hook import burn_state
from sparkwright.cycle.sparse import LEAST_DEG, MOST_DEG, SparseHooks
from sparkwright.numeric import FloatArray, Numeric
from sparkwright.plan.own_belief import Correction, OwnBelief


class CorrectedHooks:
    """Sparse hooks, each with its torque and its knock moved to more advance and scaled.

    Parameters
    ----------
    hooks : SparseHooks
        As the cycle gives them.
    correction : Correction
        What is different, its fields in the shape of the hooks' places.
    """

    def __init__(self, hooks: SparseHooks, correction: Correction) -> None:
        self._hooks = hooks
        self.correction = correction
        self.shape = hooks.shape
        self.mixture_lambda = hooks.mixture_lambda
        self.residual_share = hooks.residual_share

    @property
    def cycles(self) -> NDArray[np.int64]:
        """How many cycles have been run."""
        return self._hooks.cycles

    def best(self, guess_deg: Numeric) -> tuple[FloatArray, FloatArray]:
        """Give best [deg] and its torque [N m], as `SparseHooks.best`.

        Parameters
        ----------
        guess_deg : float or array
            About where best lies [deg before top dead centre]; it moves no result.
        """
        best_deg, torque_nm = self._hooks.best(
            np.clip(guess_deg - self.correction.later_deg, LEAST_DEG, MOST_DEG)
        )
        crossed = (best_deg > LEAST_DEG) & (best_deg < MOST_DEG)
        return np.where(crossed, best_deg + self.correction.later_deg, best_deg), self._torque(torque_nm)

    def knock(self, ln_level: Numeric) -> FloatArray:
        """Give the advance at which ln of the integral reaches a level, as `SparseHooks.knock` [deg].

        Parameters
        ----------
        ln_level : float or array
            Level of ln of the knock integral [-]; 0 is where the end gas ignites by itself.
        """
        return self._hooks.knock(ln_level - self.correction.ln_knock) + self.correction.knock_later_deg

    def at(self, advance_deg: Numeric) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Give torque [N m], ln of the knock integral and the burned share, as `SparseHooks.at`.

        Parameters
        ----------
        advance_deg : float or array
            Advance [deg before top dead centre], one for each hook.
        """
        tested = (np.asarray(advance_deg) >= LEAST_DEG) & (np.asarray(advance_deg) <= MOST_DEG)
        advance_deg = np.where(tested, advance_deg, np.nan)
        torque_nm, _, burned = self._hooks.at(self._inside(advance_deg))
        knock_deg = np.clip(advance_deg - self.correction.knock_later_deg, LEAST_DEG, MOST_DEG)
        ln_knock = self._hooks.at(knock_deg)[1]
        return self._torque(torque_nm), ln_knock + self.correction.ln_knock, burned

    def spark_at(self, advance_deg: Numeric) -> tuple[FloatArray, FloatArray]:
        """Temperature [K] and pressure [Pa] that the spark meets.

        Parameters
        ----------
        advance_deg : float or array
            Advance [deg before top dead centre], one for each hook.
        """
        return self._hooks.spark_at(self._inside(advance_deg))

    def _inside(self, advance_deg: Numeric) -> FloatArray:
        """Give where on the cycle's own hooks an advance lies; nothing is known beyond their ends."""
        return np.clip(advance_deg - self.correction.later_deg, LEAST_DEG, MOST_DEG)

    def _torque(self, torque_nm: FloatArray) -> FloatArray:
        return self.correction.torque_factor * torque_nm - self.correction.friction_nm


Hooks: TypeAlias = SparseHooks | CorrectedHooks
"""What a plan reads best and knock off."""


class OneHook:
    """The hook of one place, asked and answered in plain numbers."""

    def __init__(self, hooks: Hooks) -> None:
        self._hooks = hooks

    def best(self, guess_deg: float) -> tuple[float, float]:
        """Give best [deg] and its torque [N m], as `SparseHooks.best`.

        Parameters
        ----------
        guess_deg : float
            About where best lies [deg before top dead centre]; it moves no result.
        """
        best_deg, torque_nm = self._hooks.best(guess_deg)
        return float(best_deg), float(torque_nm)

    def knock(self, ln_level: float) -> float:
        """Give the advance at which ln of the integral reaches a level, as `SparseHooks.knock` [deg].

        Parameters
        ----------
        ln_level : float
            Level of ln of the knock integral [-]; 0 is where the end gas ignites by itself.
        """
        return float(self._hooks.knock(ln_level))

    def at(self, advance_deg: float) -> tuple[float, float, float]:
        """Give torque [N m], ln of the knock integral and the burned share, as `SparseHooks.at`.

        Parameters
        ----------
        advance_deg : float
            Advance [deg before top dead centre].
        """
        torque_nm, ln_knock, burned = self._hooks.at(advance_deg)
        return float(torque_nm), float(ln_knock), float(burned)

    def burn_state(self, best_deg: float) -> str:
        """How far the charge burns at best, in the trade's words.

        Parameters
        ----------
        best_deg : float
            Advance of the hook's best torque [deg before top dead centre].
        """
        return burn_state(self.at(best_deg)[2])


def corrections(belief: OwnBelief, rpm: Numeric, kpa: Numeric) -> Correction:
    """Give what the hooks at speeds and loads differ by, each field in the shape of the places.

    Parameters
    ----------
    belief : OwnBelief
        What was learned of the engine.
    rpm : float or array
        Speeds [rpm].
    kpa : float or array
        Loads [kPa absolute]; both spread to one shape.
    """
    places = np.broadcast(rpm, kpa)
    each = [belief.correction(float(speed), float(load)) for speed, load in places]
    stacked = (
        np.array([getattr(one, field.name) for one in each]).reshape(places.shape)
        for field in fields(Correction)
    )
    return Correction(*stacked)
