"""The capacitive driver: a charged condenser is switched onto the coil's primary; there is no dwell."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from sparkwright.errors import PhysicsError
from sparkwright.ignition.coil import Coil
from sparkwright.ignition.ring import Windings, peaks
from sparkwright.numeric import Numeric


def condenser_energy_mj(capacitance_uf: Numeric, voltage_v: Numeric) -> Numeric:
    """Energy of a charged condenser [mJ], `C V^2 / 2`.

    Parameters
    ----------
    capacitance_uf : float or array
        Capacitance [uF].
    voltage_v : float or array
        Voltage [V].

    Notes
    -----
    Definition of capacitance.

    Examples
    --------
    >>> condenser_energy_mj(1.0, 400.0)
    80.0
    """
    return 0.5e-3 * capacitance_uf * voltage_v * voltage_v


def condenser_voltage_v(capacitance_uf: Numeric, energy_mj: Numeric) -> Numeric:
    """Voltage at which a condenser holds an energy [V], `sqrt(2 E / C)`.

    Parameters
    ----------
    capacitance_uf : float or array
        Capacitance [uF].
    energy_mj : float or array
        Energy [mJ].

    Notes
    -----
    Definition of capacitance.

    Examples
    --------
    >>> round(float(condenser_voltage_v(1.0, 80.0)), 6)
    400.0
    """
    return np.sqrt(2e3 * energy_mj / capacitance_uf)


def condenser_capacitance_uf(voltage_v: Numeric, energy_mj: Numeric) -> Numeric:
    """Capacitance that holds an energy at a voltage [uF], `2 E / V^2`.

    Parameters
    ----------
    voltage_v : float or array
        Voltage [V].
    energy_mj : float or array
        Energy [mJ].

    Notes
    -----
    Definition of capacitance.

    Examples
    --------
    >>> condenser_capacitance_uf(400.0, 80.0)
    1.0
    """
    return 2e3 * energy_mj / (voltage_v * voltage_v)


def discharge_rise_us(
    leakage_mh: Numeric, capacitance_uf: Numeric, turns_ratio: Numeric, secondary_pf: Numeric
) -> Numeric:
    """Time from switching to the first peak of the secondary, without loss.

    Parameters
    ----------
    leakage_mh : float or array
        Leakage inductance seen at the primary [mH], `(1 - k^2) L1`.
    capacitance_uf, secondary_pf : float or array
        Condenser [uF], and secondary with leads and plug [pF].
    turns_ratio : float or array
        Secondary turns over primary turns.

    Returns
    -------
    float or array
        Rise time [us], `pi sqrt(Ls C1 C2' / (C1 + C2'))` with `C2' = n^2 C2`.
        Circuit theory; holds while the magnetising current stays small, which is while the rise is
        short against `sqrt(L1 C1)`.

    Notes
    -----
    First principles: two condensers joined by the leakage of a transformer.

    Examples
    --------
    >>> round(float(discharge_rise_us(0.05, 1.0, 100.0, 80.0)), 1)
    14.8
    """
    secondary_uf = turns_ratio * turns_ratio * secondary_pf * 1e-6
    series_uf = capacitance_uf * secondary_uf / (capacitance_uf + secondary_uf)
    return np.pi * np.sqrt(leakage_mh * 1e3 * series_uf)


def discharge_peak_kv(
    voltage_v: Numeric, capacitance_uf: Numeric, turns_ratio: Numeric, secondary_pf: Numeric
) -> Numeric:
    """Open-circuit peak of the secondary, without loss: `2 n V C1 / (C1 + n^2 C2)` [kV].

    Circuit theory: two condensers joined by an inductance swing to twice their common voltage. An
    upper bound.

    Parameters
    ----------
    voltage_v : float or array
        Voltage of the condenser [V].
    capacitance_uf : float or array
        Its capacitance [uF].
    turns_ratio : float or array
        Secondary over primary turns [-].
    secondary_pf : float or array
        Capacitance of secondary, lead and plug [pF].

    Notes
    -----
    First principles: charge and energy are kept.

    Examples
    --------
    >>> round(float(discharge_peak_kv(400.0, 1.0, 100.0, 80.0)), 1)
    44.4
    """
    secondary_uf = turns_ratio * turns_ratio * secondary_pf * 1e-6
    return 2e-3 * turns_ratio * voltage_v * capacitance_uf / (capacitance_uf + secondary_uf)


@dataclass(frozen=True)
class Capacitive:
    """A capacitive driver on a coil.

    Parameters
    ----------
    coil : Coil
        The coil; its primary inductance and coupling give the leakage.
    voltage_v : float
        Voltage of the charged condenser [V].
    capacitance_uf : float
        Condenser [uF].

    Raises
    ------
    PhysicsError
        For a voltage or capacitance not above 0.

    Examples
    --------
    >>> Capacitive(Coil(0.5, 1.0, 100.0), 400.0, 1.0).energy_mj
    80.0
    """

    coil: Coil
    voltage_v: float
    capacitance_uf: float

    def __post_init__(self) -> None:
        for name in ("voltage_v", "capacitance_uf"):
            value = getattr(self, name)
            if not (math.isfinite(value) and value > 0.0):
                raise PhysicsError(f"driver.{name}", value, "must be above 0")

    @property
    def energy_mj(self) -> float:
        """Energy of one discharge [mJ]."""
        return float(condenser_energy_mj(self.capacitance_uf, self.voltage_v))

    def rise_us(self) -> float:
        """Time to the first peak of the secondary [us]."""
        leakage_mh = (1.0 - self.coil.coupling**2) * self.coil.primary_mh
        return float(
            discharge_rise_us(leakage_mh, self.capacitance_uf, self.coil.turns_ratio, self.coil.secondary_pf)
        )

    def peak_kv(self, load_mohm: float) -> float:
        """First peak of the secondary with leakage, winding losses and a load across the plug.

        Parameters
        ----------
        load_mohm : float
            Resistance across the plug [Mohm].

        Returns
        -------
        float
            Peak [kV]: the ring of an inductive coil, started from the condenser's voltage instead of a
            current. The driver itself is taken as a closed switch without loss.

        Raises
        ------
        PhysicsError
            For a load not above 0.

        Examples
        --------
        >>> round(Capacitive(Coil(0.5, 1.0, 100.0), 400.0, 1.0).peak_kv(1.0), 1)
        35.3
        """
        windings = Windings(
            primary_h=self.coil.primary_mh * 1e-3,
            turns_ratio=self.coil.turns_ratio,
            coupling=self.coil.coupling,
            primary_ohm=self.coil.warm_ohm,
            secondary_ohm=self.coil.secondary_kohm * 1e3,
            primary_f=self.capacitance_uf * 1e-6,
            secondary_f=self.coil.secondary_pf * 1e-12,
            load_ohm=load_mohm * 1e6,
        )
        ring = peaks(
            windings,
            source_v=0.0,
            current_a=0.0,
            primary_v=self.voltage_v,
            span_s=1.5e-6 * self.rise_us(),
        )
        return ring.secondary_kv
