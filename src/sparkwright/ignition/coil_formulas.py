"""A coil as formulas: how it charges, what it stores, what saturation and warmth change, how it burns."""

from __future__ import annotations

import numpy as np

from sparkwright.numeric import Numeric

SATURATED_SHARE = 0.2
"""Inductance left when the core is fully saturated, as a share of that at small current.
Recalled for open-core coils, no printed source."""


def charging_current_a(
    drive_v: Numeric, resistance_ohm: Numeric, inductance_mh: Numeric, time_ms: Numeric
) -> Numeric:
    """Primary current a time after the driver closes, with a constant inductance.

    Parameters
    ----------
    drive_v : float or array
        Voltage across coil and resistances [V].
    resistance_ohm, inductance_mh : float or array
        Resistance of the whole loop [ohm] and primary inductance [mH].
    time_ms : float or array
        Time since the driver closed [ms].

    Returns
    -------
    float or array
        Current [A], `(V / R) (1 - exp(-R t / L))`. Circuit theory, exact.

    Notes
    -----
    First principles: a resistance and an inductance in series.

    Examples
    --------
    >>> round(float(charging_current_a(13.5, 0.7, 4.0, 3.0)), 5)
    7.87715
    """
    return drive_v / resistance_ohm * (1.0 - np.exp(-resistance_ohm * time_ms / inductance_mh))


def charging_time_ms(
    drive_v: Numeric, resistance_ohm: Numeric, inductance_mh: Numeric, current_a: Numeric
) -> Numeric:
    """Time to a current with a constant inductance [ms], `-(L / R) ln(1 - I R / V)`; exact below `V / R`.

    Parameters
    ----------
    drive_v : float or array
        Voltage across the charging circuit [V].
    resistance_ohm : float or array
        Its whole resistance [ohm].
    inductance_mh : float or array
        Primary inductance [mH].
    current_a : float or array
        Current to be reached [A], below what the circuit allows.

    Notes
    -----
    First principles: the inverse of `charging_current_a`.

    Examples
    --------
    >>> round(float(charging_time_ms(13.5, 0.7, 4.0, 6.0)), 5)
    2.12957
    """
    return -inductance_mh / resistance_ohm * np.log(1.0 - current_a * resistance_ohm / drive_v)


def stored_energy_mj(inductance_mh: Numeric, current_a: Numeric) -> Numeric:
    """Energy of a constant inductance [mJ], `L I^2 / 2`.

    Parameters
    ----------
    inductance_mh : float or array
        Inductance [mH].
    current_a : float or array
        Current [A].

    Notes
    -----
    Definition of inductance.

    Examples
    --------
    >>> round(float(stored_energy_mj(4.0, 7.87715)), 1)
    124.1
    """
    return 0.5 * inductance_mh * current_a * current_a


def lossless_secondary_kv(
    current_a: Numeric,
    inductance_mh: Numeric,
    turns_ratio: Numeric,
    primary_capacitance_uf: Numeric,
    secondary_pf: Numeric,
) -> Numeric:
    """Open-circuit peak of an ideal coil: all stored energy goes into the two capacitances.

    Parameters
    ----------
    current_a, inductance_mh : float or array
        Primary current when the driver opens [A] and primary inductance [mH].
    turns_ratio : float or array
        Secondary turns over primary turns.
    primary_capacitance_uf, secondary_pf : float or array
        Capacitance across the switch [uF] and of secondary, leads and plug [pF].

    Returns
    -------
    float or array
        Peak [kV], `n I sqrt(L1 / (C1 + n^2 C2))`. Energy balance; Heywood, *Internal Combustion Engine
        Fundamentals* (1988), sec. 9.5. An upper bound: no leakage, no loss.

    Examples
    --------
    >>> round(float(lossless_secondary_kv(4.0, 4.0, 100.0, 0.25, 80.0)), 3)
    24.689
    """
    capacitance_uf = primary_capacitance_uf + turns_ratio * turns_ratio * secondary_pf * 1e-6
    return turns_ratio * current_a * np.sqrt(inductance_mh * 1e3 / capacitance_uf) * 1e-3


def warm_resistance_ohm(resistance_20c_ohm: Numeric, winding_c: Numeric) -> Numeric:
    """Resistance of a copper winding at a temperature, from that at 20 C.

    `R (1 + 0.00393 (T - 20))`, IEC 60028; holds within about 1 % from -20 to 150 C.

    Parameters
    ----------
    resistance_20c_ohm : float or array
        Resistance at 20 C [ohm].
    winding_c : float or array
        Temperature of the winding [C].

    Examples
    --------
    >>> round(float(warm_resistance_ohm(0.70, 80.0)), 4)
    0.8651
    """
    return resistance_20c_ohm * (1.0 + 0.00393 * (winding_c - 20.0))


def saturating_inductance_mh(
    inductance_mh: Numeric, current_a: Numeric, saturation_a: Numeric, left_share: Numeric
) -> Numeric:
    """Inductance that falls smoothly from its small-current value to what is left in saturation.

    Parameters
    ----------
    inductance_mh : float or array
        At small current [mH].
    current_a : float or array
        Primary current [A].
    saturation_a : float or array
        Current at which half of what the core gives is lost [A].
    left_share : float or array
        What is left in full saturation, as a share.

    Returns
    -------
    float or array
        Slope of flux over current [mH], `L (s + (1 - s) / (1 + (i / i_s)^4))`. Our own smooth form, no
        source: nearly flat to 0.6 `i_s`, half way down at `i_s`.

    Notes
    -----
    A choice of form, no source.

    Examples
    --------
    >>> round(float(saturating_inductance_mh(4.0, 8.0, 8.0, 0.2)), 6)
    2.4
    """
    ratio = current_a / saturation_a
    return inductance_mh * (left_share + (1.0 - left_share) / (1.0 + ratio * ratio * ratio * ratio))


def saturating_energy_mj(
    inductance_mh: Numeric, current_a: Numeric, saturation_a: Numeric, left_share: Numeric
) -> Numeric:
    """Energy stored in a coil whose inductance follows `saturating_inductance_mh` [mJ].

    The integral of `i L(i) di`: `L (s i^2 / 2 + (1 - s) i_s^2 / 2 atan((i / i_s)^2))`.

    Parameters
    ----------
    inductance_mh : float or array
        Inductance at small current [mH].
    current_a : float or array
        Current [A].
    saturation_a : float or array
        Current about which the core saturates [A].
    left_share : float or array
        Share of the inductance that is left when it has [-].

    Notes
    -----
    Definition: the integral of current times inductance over current.

    Examples
    --------
    >>> round(float(saturating_energy_mj(4.0, 1.0, 100.0, 0.2)), 4)
    2.0
    """
    ratio = current_a / saturation_a
    iron = saturation_a * saturation_a * np.arctan(ratio * ratio)
    return 0.5 * inductance_mh * (left_share * current_a * current_a + (1.0 - left_share) * iron)


def spark_interval_ms(cylinders: Numeric, speed_rpm: Numeric) -> Numeric:
    """Time from spark to spark of a four-stroke engine with one coil [ms], `120000 / (n N)`.

    Parameters
    ----------
    cylinders : float or array
        Sparks in two turns of the crank [-].
    speed_rpm : float or array
        Crank speed [rpm].

    Notes
    -----
    Definition of a four-stroke cycle.

    Examples
    --------
    >>> spark_interval_ms(8, 6000.0)
    2.5
    """
    return 120000.0 / (cylinders * speed_rpm)


def highest_full_energy_rpm(cylinders: int, dwell_ms: float, spark_ms: float) -> float:
    """Highest speed at which a dwell and the time the spark burns still fit between two sparks [rpm].

    Parameters
    ----------
    cylinders : int
        Sparks in two turns of the crank [-].
    dwell_ms : float
        Dwell that full energy needs [ms].
    spark_ms : float
        How long the spark burns before the next dwell may begin [ms].

    Notes
    -----
    Definition: dwell and burning fill the interval between sparks.

    Examples
    --------
    >>> highest_full_energy_rpm(8, 2.0, 1.0)
    5000.0
    """
    return 120000.0 / (cylinders * (dwell_ms + spark_ms))


def burning_time_ms(
    energy_mj: Numeric, secondary_h: Numeric, secondary_kohm: Numeric, burning_kv: Numeric
) -> Numeric:
    """Time that an inductive spark burns [ms].

    Parameters
    ----------
    energy_mj : float or array
        Energy stored when the primary opens [mJ].
    secondary_h : float or array
        Inductance of the secondary [H].
    secondary_kohm : float or array
        Its resistance [kohm].
    burning_kv : float or array
        Voltage across all gaps while they burn, taken as constant [kV].

    Returns
    -------
    float or array
        `(L/R) ln(1 + R i/V)` with `i = sqrt(2 E/L)`: a current that dies in an inductance against a
        resistance and a constant voltage, `L di/dt = -R i - V`, exact. What charges the winding is not taken
        off, nor what leakage takes.

    Notes
    -----
    First principles: the energy that is left flows into a constant voltage.

    Examples
    --------
    >>> round(float(burning_time_ms(50.0, 30.0, 9.0, 1.5)), 3)
    0.991
    """
    current_a = np.sqrt(2e-3 * energy_mj / secondary_h)
    return (secondary_h / secondary_kohm) * np.log1p(secondary_kohm * current_a / burning_kv)
