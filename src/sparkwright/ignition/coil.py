"""The inductive coil: how it charges, what it stores, what it gives, and what it heats.

While the driver conducts, the primary is a resistance and an inductance fed from the battery. The
inductance falls as the core saturates. With `u = -ln(1 - R i / V)` for the current and `tau = L / R`,
`dt = L(i) / R du`, so the charging time is one smooth integral, which is `L u / R` where nothing
saturates. When the driver opens, primary and secondary ring with their capacitances.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sparkwright.errors import PhysicsError
from sparkwright.ignition.coil_formulas import (
    SATURATED_SHARE,
    saturating_energy_mj,
    saturating_inductance_mh,
    stored_energy_mj,
    warm_resistance_ohm,
)
from sparkwright.ignition.ring import Peaks, Windings, peaks
from sparkwright.numeric import FloatArray, Numeric

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(64)
_REACHABLE = 1.0 - 1e-9


@dataclass(frozen=True)
class Coil:
    """An ignition coil.

    Parameters
    ----------
    primary_ohm : float
        Primary resistance at 20 C [ohm].
    primary_mh : float
        Primary inductance at small current [mH].
    turns_ratio : float
        Secondary turns over primary turns.
    secondary_kohm : float
        Secondary resistance [kohm].
    secondary_pf : float
        Capacitance of secondary, leads and plug [pF].
    coupling : float
        Coupling of the windings, 0 to 1. 0.95 is recalled for coils of this kind.
    saturation_a : float or None
        Current at which half of what the core adds is lost [A]; None takes a constant inductance.
    winding_c : float
        Temperature of the winding at work [C].

    Raises
    ------
    PhysicsError
        For values that no coil can have.

    Examples
    --------
    >>> round(Coil(primary_ohm=0.7, primary_mh=4.0, turns_ratio=100.0).energy_mj(6.0), 1)
    72.0
    """

    primary_ohm: float
    primary_mh: float
    turns_ratio: float
    secondary_kohm: float = 8.0
    secondary_pf: float = 80.0
    coupling: float = 0.95
    saturation_a: float | None = None
    winding_c: float = 80.0

    def __post_init__(self) -> None:
        if not (math.isfinite(self.primary_ohm) and self.primary_ohm > 0.0):
            raise PhysicsError(
                "coil.primary_ohm",
                self.primary_ohm,
                "must be above 0",
                "a shorted primary has no charging curve",
            )
        for name in ("primary_mh", "turns_ratio", "secondary_kohm", "secondary_pf"):
            _above_zero(f"coil.{name}", getattr(self, name))
        if self.saturation_a is not None:
            _above_zero("coil.saturation_a", self.saturation_a)
        if not 0.0 < self.coupling < 1.0:
            raise PhysicsError("coil.coupling", self.coupling, "must be between 0 and 1")
        if not -60.0 <= self.winding_c <= 250.0:
            raise PhysicsError(
                "coil.winding_c",
                self.winding_c,
                "must be -60 to 250 C",
                "no winding survives outside that",
            )

    @property
    def warm_ohm(self) -> float:
        """Primary resistance at its working temperature [ohm]."""
        return float(warm_resistance_ohm(self.primary_ohm, self.winding_c))

    def inductance_mh(self, current_a: Numeric) -> Numeric:
        """Inductance at a current [mH].

        Parameters
        ----------
        current_a : float or array
            Current [A].
        """
        if self.saturation_a is None:
            return self.primary_mh + 0.0 * current_a
        return saturating_inductance_mh(self.primary_mh, current_a, self.saturation_a, SATURATED_SHARE)

    def energy_mj(self, current_a: float) -> float:
        """Energy stored at a current [mJ].

        Parameters
        ----------
        current_a : float
            Current [A].
        """
        if self.saturation_a is None:
            return float(stored_energy_mj(self.primary_mh, current_a))
        return float(saturating_energy_mj(self.primary_mh, current_a, self.saturation_a, SATURATED_SHARE))

    def current_for_energy_a(self, energy_mj: float) -> float:
        """Find the current at which the coil stores an energy [A].

        Parameters
        ----------
        energy_mj : float
            Energy to be stored [mJ].

        Raises
        ------
        PhysicsError
            For an energy not above 0.

        Examples
        --------
        >>> round(Coil(0.7, 4.0, 100.0).current_for_energy_a(72.0), 6)
        6.0
        """
        _above_zero("energy_mj", energy_mj)
        current = math.sqrt(2.0 * energy_mj / self.primary_mh)
        if self.saturation_a is None:
            return current
        # Energy grows at least as fast as that of the saturated inductance: the root lies in between.
        low, high = current, current / math.sqrt(SATURATED_SHARE)
        for _ in range(50):
            middle = 0.5 * (low + high)
            low, high = (middle, high) if self.energy_mj(middle) < energy_mj else (low, middle)
        return 0.5 * (low + high)


@dataclass(frozen=True)
class Driver:
    """What opens and closes the primary.

    Parameters
    ----------
    drop_v : float
        Voltage lost across the driver while it conducts [V].
    current_limit_a : float or None
        Current at which the driver holds [A]; None for no limit.
    ballast_ohm : float
        Resistance in the feed [ohm].
    clamp_v : float or None
        Voltage at which the driver clamps the primary as it opens [V]; None for no clamp.
    capacitance_uf : float
        Capacitance across the switch [uF]: the condenser of points, or what a transistor brings.

    Raises
    ------
    PhysicsError
        For values that no driver can have.
    """

    drop_v: float = 1.5
    current_limit_a: float | None = None
    ballast_ohm: float = 0.0
    clamp_v: float | None = 400.0
    capacitance_uf: float = 0.01

    def __post_init__(self) -> None:
        for name in ("drop_v", "ballast_ohm"):
            value = getattr(self, name)
            if not (math.isfinite(value) and value >= 0.0):
                raise PhysicsError(f"driver.{name}", value, "must not be below 0")
        _above_zero("driver.capacitance_uf", self.capacitance_uf)
        for name in ("current_limit_a", "clamp_v"):
            value = getattr(self, name)
            if value is not None:
                _above_zero(f"driver.{name}", value)


def _above_zero(name: str, value: float) -> None:
    if not (math.isfinite(value) and value > 0.0):
        raise PhysicsError(name, value, "must be above 0")


@dataclass(frozen=True)
class Heat:
    """Where the energy of one charge goes [mJ]; the stored energy is not part of it."""

    coil_mj: float
    ballast_mj: float
    driver_mj: float
    supply_mj: float


@dataclass(frozen=True)
class CoilCharge:
    """A coil charging through a driver from a battery.

    Parameters
    ----------
    coil : Coil
        The coil.
    driver : Driver
        The driver.
    battery_v : float
        Battery voltage at the coil's feed [V].

    Raises
    ------
    PhysicsError
        Where the battery is not above the driver's drop.

    Examples
    --------
    >>> charge = CoilCharge(Coil(0.7, 4.0, 100.0, winding_c=20.0), Driver(drop_v=0.0), battery_v=13.5)
    >>> round(charge.dwell_ms(6.0), 5)
    2.12957
    """

    coil: Coil
    driver: Driver
    battery_v: float

    def __post_init__(self) -> None:
        if not (math.isfinite(self.battery_v) and self.battery_v > self.driver.drop_v):
            raise PhysicsError(
                "battery_v", self.battery_v, f"must be above the driver's drop, {self.driver.drop_v:g} V"
            )

    @property
    def drive_v(self) -> float:
        """Voltage that drives the current [V]."""
        return self.battery_v - self.driver.drop_v

    @property
    def loop_ohm(self) -> float:
        """Resistance of the loop, warm [ohm]."""
        return self.coil.warm_ohm + self.driver.ballast_ohm

    @property
    def most_current_a(self) -> float:
        """Current that the loop would settle at, or the driver's limit where that is lower [A]."""
        settled = self.drive_v / self.loop_ohm
        limit = self.driver.current_limit_a
        return settled if limit is None else min(settled, limit)

    def _current_at(self, u: FloatArray) -> FloatArray:
        return -self.drive_v / self.loop_ohm * np.expm1(-u)

    def _times_ms(self, u: FloatArray) -> FloatArray:
        nodes = 0.5 * u[..., None] * (_NODES + 1.0)
        inductances = np.asarray(self.coil.inductance_mh(self._current_at(nodes)))
        times: FloatArray = 0.5 * u * (inductances @ _WEIGHTS) / self.loop_ohm
        return times

    def dwell_ms(self, current_a: float) -> float | None:
        """Time from closing to a current [ms]; None where the voltage or the limit never lets it come.

        Parameters
        ----------
        current_a : float
            Current to be reached [A].

        Examples
        --------
        >>> CoilCharge(Coil(3.0, 8.0, 100.0), Driver(), battery_v=8.0).dwell_ms(4.0) is None
        True
        """
        if current_a > self.most_current_a or current_a >= self.drive_v / self.loop_ohm * _REACHABLE:
            return None
        u = -math.log1p(-current_a * self.loop_ohm / self.drive_v)
        return float(self._times_ms(np.array([u]))[0])

    def current_a(self, time_ms: float) -> float:
        """Give the current a time after closing, held at the driver's limit [A].

        Parameters
        ----------
        time_ms : float
            Time since the driver closed [ms].

        Examples
        --------
        >>> charge = CoilCharge(Coil(0.7, 4.0, 100.0, winding_c=20.0), Driver(drop_v=0.0), battery_v=13.5)
        >>> round(charge.current_a(3.0), 5)
        7.87715
        """
        if not time_ms >= 0.0:
            raise PhysicsError("time_ms", time_ms, "must not be below 0")
        # Inductance only falls with u, so this Newton step never overshoots the root.
        u = np.array([time_ms * self.loop_ohm / self.coil.primary_mh])
        for _ in range(50):
            missing = time_ms - self._times_ms(u)
            step = missing * self.loop_ohm / np.asarray(self.coil.inductance_mh(self._current_at(u)))
            u = u + step
            if abs(step[0]) <= 1e-12 * (1.0 + u[0]):
                break
        return min(float(self._current_at(u)[0]), self.most_current_a)

    def heat(self, dwell_ms: float) -> Heat:
        """Where the energy of one charge goes, holding at the limit included.

        The driver also takes what the leakage inductance stored, `(1 - k^2)` of the energy: it can't
        pass to the secondary and ends in the clamp.

        Parameters
        ----------
        dwell_ms : float
            Dwell of each spark [ms].

        Examples
        --------
        >>> charge = CoilCharge(Coil(0.7, 4.0, 100.0), Driver(), battery_v=13.5)
        >>> heat = charge.heat(3.0)
        >>> stored = charge.coil.energy_mj(charge.current_a(3.0))
        >>> clamp = (1 - 0.95**2) * stored
        >>> spent = heat.coil_mj + heat.ballast_mj + heat.driver_mj - clamp + stored
        >>> abs(spent - heat.supply_mj) < 1e-9
        True
        """
        current = self.current_a(dwell_ms)
        charging_ms = self.dwell_ms(current)
        if charging_ms is None or charging_ms > dwell_ms:
            charging_ms = dwell_ms
        ending = min(current * self.loop_ohm / self.drive_v, _REACHABLE)
        u = -math.log1p(-ending)
        currents = self._current_at(0.5 * u * (_NODES + 1.0))
        slope = 0.5 * u * _WEIGHTS * np.asarray(self.coil.inductance_mh(currents))
        charge_mc = float(currents @ slope) / self.loop_ohm
        square_mj_per_ohm = float((currents * currents) @ slope) / self.loop_ohm
        hold_ms = dwell_ms - charging_ms
        charge_mc += current * hold_ms
        square_mj_per_ohm += current * current * hold_ms
        held_drop_v = max(self.battery_v - current * self.loop_ohm - self.driver.drop_v, 0.0)
        clamp_mj = (1.0 - self.coil.coupling**2) * self.coil.energy_mj(current)
        return Heat(
            coil_mj=square_mj_per_ohm * self.coil.warm_ohm,
            ballast_mj=square_mj_per_ohm * self.driver.ballast_ohm,
            driver_mj=charge_mc * self.driver.drop_v + held_drop_v * current * hold_ms + clamp_mj,
            supply_mj=charge_mc * self.battery_v,
        )


def dwell_for_energy_ms(
    coil: Coil, driver: Driver, energy_mj: float, battery_v: FloatArray
) -> NDArray[np.float64]:
    """Dwell for a wanted energy against battery voltage.

    Parameters
    ----------
    coil, driver : Coil, Driver
        The parts.
    energy_mj : float
        Energy to be stored [mJ].
    battery_v : array
        Battery voltages [V].

    Returns
    -------
    array
        Dwell [ms], of the shape of `battery_v`; nan where that voltage can't reach the energy.

    Notes
    -----
    First principles, by the coil that is given.

    Examples
    --------
    >>> coil = Coil(0.7, 4.0, 100.0)
    >>> dwell_for_energy_ms(coil, Driver(), 72.0, np.array([1.0, 8.0, 14.0])).round(2)
    array([ nan, 7.41, 2.48])
    """
    current = coil.current_for_energy_a(energy_mj)
    dwell = [
        CoilCharge(coil, driver, float(volt)).dwell_ms(current) if volt > driver.drop_v else None
        for volt in battery_v
    ]
    return np.array([np.nan if each is None else each for each in dwell])


def opening(coil: Coil, driver: Driver, *, battery_v: float, current_a: float, load_mohm: float) -> Peaks:
    """Peaks after the driver opens, with leakage, losses, load and clamp, nothing breaking down.

    Parameters
    ----------
    coil, driver : Coil, Driver
        The parts. Of a saturated coil the inductance that stores the same energy at this current is used.
    battery_v : float
        Battery voltage [V].
    current_a : float
        Primary current when the driver opens [A].
    load_mohm : float
        Resistance across the plug, a fouled plug's [Mohm].

    Returns
    -------
    Peaks
        Secondary [kV] and primary [V].

    Raises
    ------
    PhysicsError
        For a current below 0 or a load not above 0.

    Notes
    -----
    First principles: the circuit of `ring`, after Kirchhoff's laws.

    Examples
    --------
    >>> coil = Coil(0.7, 4.0, 100.0, winding_c=20.0)
    >>> points = Driver(drop_v=0.0, clamp_v=None, capacitance_uf=0.25)
    >>> ring = opening(coil, points, battery_v=13.5, current_a=6.0, load_mohm=1.0)
    >>> round(ring.secondary_kv, 2), round(ring.primary_v, 1)
    (27.14, 371.3)
    """
    if not current_a >= 0.0:
        raise PhysicsError("current_a", current_a, "must not be below 0")
    if current_a == 0.0:
        return Peaks(0.0, 0.0)
    windings = Windings(
        primary_h=2e-3 * coil.energy_mj(current_a) / current_a**2,
        turns_ratio=coil.turns_ratio,
        coupling=coil.coupling,
        primary_ohm=coil.warm_ohm + driver.ballast_ohm,
        secondary_ohm=coil.secondary_kohm * 1e3,
        primary_f=driver.capacitance_uf * 1e-6,
        secondary_f=coil.secondary_pf * 1e-12,
        load_ohm=load_mohm * 1e6,
    )
    # Primary and secondary together reach their first peak a quarter of their common period after opening.
    together_f = windings.primary_f + coil.turns_ratio**2 * windings.secondary_f
    return peaks(
        windings,
        source_v=battery_v,
        current_a=current_a,
        primary_v=0.0,
        span_s=math.pi * math.sqrt(windings.primary_h * together_f),
        clamp_v=math.inf if driver.clamp_v is None else driver.clamp_v,
    )
