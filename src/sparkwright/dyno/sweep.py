"""A sweep: torque measured at several advances, at one speed and load."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
Heard = Literal["none", "trace", "heavy"]

FEWEST_ADVANCES = 3
"""Different advances without which no top can be placed."""


@dataclass(frozen=True)
class SweepPoint:
    """One measured point.

    Parameters
    ----------
    speed_rpm : float
        Engine speed [rpm].
    map_kpa : float
        Manifold pressure, absolute [kPa].
    advance_deg : float
        Advance as the shop reads it [crank deg before top dead centre].
    torque_nm : float
        Brake torque [N m]; nan where only knock was noted.
    knock : {"none", "trace", "heavy"}, optional
        What was heard; None where nobody listened.
    mixture_lambda : float, optional
        Air over stoichiometric air [-].
    intake_c, coolant_c : float, optional
        Temperatures [degC].
    time_s : float, optional
        When it was taken, from any moment [s].
    """

    speed_rpm: float
    map_kpa: float
    advance_deg: float
    torque_nm: float
    knock: Heard | None = None
    mixture_lambda: float | None = None
    intake_c: float | None = None
    coolant_c: float | None = None
    time_s: float | None = None


@dataclass(frozen=True)
class Sweep:
    """Points of one sweep, in the order in which they were taken, and what it is called.

    ``pulls`` names the pull at full throttle from which each point comes; empty for a sweep held steady.
    """

    name: str
    points: tuple[SweepPoint, ...]
    pulls: tuple[str, ...] = ()

    @property
    def rpm(self) -> float:
        """Mean speed [rpm]."""
        return float(np.mean([each.speed_rpm for each in self.points]))

    @property
    def kpa(self) -> float:
        """Mean manifold pressure, absolute [kPa]."""
        return float(np.mean([each.map_kpa for each in self.points]))

    @property
    def advance_deg(self) -> FloatArray:
        """Advance of each point [crank deg]."""
        return np.array([each.advance_deg for each in self.points])

    @property
    def torque_nm(self) -> FloatArray:
        """Torque of each point [N m]."""
        return np.array([each.torque_nm for each in self.points])

    @property
    def elapsed(self) -> FloatArray:
        """Share of the sweep's time at each point, from -0.5 to 0.5 [-]; of its order where no time is known.

        Examples
        --------
        >>> Sweep("", tuple(SweepPoint(2000, 90, a, 200.0) for a in (10, 20, 30))).elapsed.tolist()
        [-0.5, 0.0, 0.5]
        """
        times = [each.time_s for each in self.points if each.time_s is not None]
        taken = np.array(times if len(times) == len(self.points) else range(len(self.points)), dtype=float)
        span = float(np.ptp(taken))
        return (taken - taken.min()) / span - 0.5 if span > 0.0 else np.zeros(taken.size)

    def mean_of(self, name: str) -> float | None:
        """Mean of what may be known of each point; None where it isn't.

        Parameters
        ----------
        name : str
            Name of the point's field, such as "coolant_c".
        """
        known = [value for each in self.points if (value := getattr(each, name)) is not None]
        return float(np.mean(known)) if known else None

    @property
    def determines_a_top(self) -> bool:
        """Whether it has advances enough for its torque to say where the top lies."""
        return len(set(self.advance_deg[np.isfinite(self.torque_nm)].tolist())) >= FEWEST_ADVANCES
