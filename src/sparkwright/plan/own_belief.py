"""The belief that was learned of one engine, as the plan asks it."""

from __future__ import annotations

from abc import ABC, abstractmethod
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sparkwright.cycle.belief import Belief
from sparkwright.numeric import Numeric

if TYPE_CHECKING:
    from sparkwright.plan.physics import Physics


@dataclass(frozen=True)
class Correction:
    """What one cell's hook, or those of several, differ by from that of the cycle.

    ``later_deg`` moves torque to more advance and ``knock_later_deg`` knock [crank deg], ``ln_knock`` is
    added to ln of the knock integral, torque is multiplied by ``torque_factor`` and loses ``friction_nm``.
    The spreads are what is left of not knowing best [crank deg] and ln of the integral [-], one standard
    deviation each.
    """

    later_deg: Numeric
    knock_later_deg: Numeric
    ln_knock: Numeric
    torque_factor: Numeric
    friction_nm: Numeric
    best_sigma_deg: Numeric
    ln_knock_sigma: Numeric


@dataclass(frozen=True, eq=False)
class OwnBelief(Belief, ABC):
    """A belief of one engine: constants, facts that the job has wrong, and a correction for each cell."""

    @abstractmethod
    def engine_of(self, physics: Physics) -> Physics:
        """Give the engine as it is believed to be.

        Parameters
        ----------
        physics : Physics
            The engine as its job states it.
        """

    @abstractmethod
    def correction(self, rpm: float, kpa: float) -> Correction:
        """Give what a cell's hook differs by.

        Parameters
        ----------
        rpm : float
            Speed of the cell [rpm].
        kpa : float
            Load of the cell [kPa absolute].
        """
