"""Primary and secondary of a coil ringing with their capacitances: a linear circuit of four states.

The states are the current in each winding and the voltage on each capacitance. Positive primary
current charges the primary capacitance. The windings follow `L di/dt = v` with the mutual inductance
`k sqrt(L1 L2)` and `L2 = n^2 L1`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from sparkwright.errors import PhysicsError
from sparkwright.numeric import FloatArray

STEP_SHARE = 0.05
"""Step as a share of the fastest time constant: fourth order then leaves an error far below 0.1 %."""


@dataclass(frozen=True)
class Windings:
    """The circuit, in SI units.

    ``primary_f`` is the capacitance in the primary loop, ``secondary_f`` that of secondary, leads and
    plug, ``load_ohm`` the resistance across the plug.
    """

    primary_h: float
    turns_ratio: float
    coupling: float
    primary_ohm: float
    secondary_ohm: float
    primary_f: float
    secondary_f: float
    load_ohm: float

    def __post_init__(self) -> None:
        for name in ("primary_h", "turns_ratio", "primary_f", "secondary_f", "load_ohm"):
            value = getattr(self, name)
            if not (math.isfinite(value) and value > 0.0):
                raise PhysicsError(name, value, "must be above 0")
        for name in ("primary_ohm", "secondary_ohm"):
            value = getattr(self, name)
            if not (math.isfinite(value) and value >= 0.0):
                raise PhysicsError(name, value, "must not be below 0")
        if not 0.0 < self.coupling < 1.0:
            raise PhysicsError("coupling", self.coupling, "must be between 0 and 1")

    def rates(self) -> FloatArray:
        """Matrix of d/dt (primary current, secondary current, primary voltage, secondary voltage)."""
        voltages = np.array([[-self.primary_ohm, 0.0, -1.0, 0.0], [0.0, -self.secondary_ohm, 0.0, -1.0]])
        leaking = -1.0 / (self.load_ohm * self.secondary_f)
        return np.vstack(
            [
                self._inverse_inductance() @ voltages,
                [1.0 / self.primary_f, 0.0, 0.0, 0.0],
                [0.0, 1.0 / self.secondary_f, 0.0, leaking],
            ]
        )

    def source(self, source_v: float) -> FloatArray:
        """Give what a constant voltage in the primary loop adds to the rates.

        Parameters
        ----------
        source_v : float
            Voltage of the source [V].
        """
        return np.concatenate([self._inverse_inductance() @ np.array([source_v, 0.0]), np.zeros(2)])

    def _inverse_inductance(self) -> FloatArray:
        mutual = self.coupling * self.turns_ratio * self.primary_h
        secondary = self.turns_ratio**2 * self.primary_h
        return np.linalg.inv(np.array([[self.primary_h, mutual], [mutual, secondary]]))


@dataclass(frozen=True)
class Peaks:
    """Highest voltages within the time looked at, as positive numbers."""

    secondary_kv: float
    primary_v: float


def peaks(
    windings: Windings,
    *,
    source_v: float,
    current_a: float,
    primary_v: float,
    span_s: float,
    clamp_v: float = math.inf,
) -> Peaks:
    """Let the circuit ring and take the highest voltages.

    Parameters
    ----------
    windings : Windings
        The circuit.
    source_v : float
        Constant voltage in the primary loop [V].
    current_a, primary_v : float
        Primary current [A] and voltage of the primary capacitance [V] at the start; the secondary rests.
    span_s : float
        Time to look at [s].
    clamp_v : float
        Voltage at which the primary is held while current still flows into it [V].

    Returns
    -------
    Peaks
        By Runge-Kutta of fourth order, whose step is a fixed matrix for a linear circuit; there is one
        for the free ring and one for the held primary.

    Notes
    -----
    First principles: Kirchhoff's laws.

    Examples
    --------
    >>> circuit = Windings(4e-3, 100.0, 0.95, 0.7, 8e3, 0.25e-6, 80e-12, 1e6)
    >>> ring = peaks(circuit, source_v=13.5, current_a=6.0, primary_v=0.0, span_s=2e-4)
    >>> round(ring.secondary_kv, 2), round(ring.primary_v, 1)
    (27.14, 371.3)
    """
    rates, source = windings.rates(), windings.source(source_v)
    held_rates = rates.copy()
    held_rates[2] = 0.0
    step_s = STEP_SHARE / float(np.max(np.abs(np.linalg.eigvals(rates))))
    free = _runge_kutta_step(rates, source, step_s)
    held = _runge_kutta_step(held_rates, source, step_s)
    state = np.array([current_a, 0.0, primary_v, 0.0])
    secondary_peak = primary_peak = 0.0
    for _ in range(math.ceil(span_s / step_s)):
        propagate, constant = held if state[2] >= clamp_v and state[0] > 0.0 else free
        state = propagate @ state + constant
        state[2] = min(state[2], clamp_v)
        secondary_peak = max(secondary_peak, abs(float(state[3])))
        primary_peak = max(primary_peak, abs(float(state[2])))
    return Peaks(secondary_peak * 1e-3, primary_peak)


def _runge_kutta_step(rates: FloatArray, source: FloatArray, step_s: float) -> tuple[FloatArray, FloatArray]:
    scaled = rates * step_s
    unit = np.eye(len(rates))
    series = unit + scaled @ (unit + scaled @ (unit + scaled / 4.0) / 3.0) / 2.0
    return unit + scaled @ series, step_s * series @ source
