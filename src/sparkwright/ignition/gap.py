"""When a gap breaks down: air in the cap, gas at the plug, and which way the spark goes.

A gap breaks down at a voltage set by how many gas molecules stand in it: by density times length.
The rotor gap and the plug stand in series, so each path asks for the sum of its two gaps.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from sparkwright.errors import PhysicsError
from sparkwright.findings import State
from sparkwright.numeric import Numeric

REFERENCE_K = 293.0
"""Temperature to which breakdown figures are referred, 20 C [K] (IEC 60052)."""

PLUG_FIELD_FACTOR = 0.8
"""Breakdown of a plug over that of a uniform field with the same gas and gap: the centre electrode's
edge sharpens the field. Chosen by us so that the service figures of Denton, *Automobile Electrical and
Electronic Systems* (ignition chapter), are met: 2-3 kV at 0.6 mm in open air, about 8 kV in the engine."""

CORNER_FIELD_FACTOR = 0.45
"""Least breakdown of a long gap between corners, over that of a uniform field. Recalled: square-cut rods
20 mm apart break down near 26 kV peak (rod-gap table in Kuffel, Zaengl and Kuffel, *High Voltage
Engineering*), which is 0.44 of the uniform field; shorter gaps and the microsecond rise of an ignition
pulse both raise it, so the figure lies on the careful side."""

PROVEN_BAR_CM = (0.01, 20.0)
"""Pressure times gap over which the uniform-field formula is known to hold [bar cm]; recalled."""


def uniform_field_kuffel_zaengl_kv(
    pressure_bar: Numeric, gap_mm: Numeric, temperature_k: Numeric = REFERENCE_K
) -> Numeric:
    """Breakdown of air between flat, smooth electrodes.

    Parameters
    ----------
    pressure_bar : float or array
        Absolute pressure [bar].
    gap_mm : float or array
        Gap [mm].
    temperature_k : float or array
        Gas temperature [K]; the density it leaves is what counts.

    Returns
    -------
    float or array
        Breakdown voltage, peak [kV]: `6.72 sqrt(p d) + 24.36 p d`, with d in cm and p in bar referred
        to 20 C, `p 293 / T`. Kuffel and Zaengl, *High Voltage Engineering* (1984), uniform-field
        air (coefficients and year recalled). Within about 5 % for 0.01 to 20 bar cm.

    Examples
    --------
    >>> round(float(uniform_field_kuffel_zaengl_kv(1.013, 1.0)), 4)
    4.6065
    """
    bar_cm = pressure_bar * (293.0 / temperature_k) * gap_mm * 0.1
    return 6.72 * np.sqrt(bar_cm) + 24.36 * bar_cm


def relative_air_density_iec60052(pressure_mbar: Numeric, temperature_c: Numeric) -> Numeric:
    """Air density relative to 1013 mbar and 20 C, by which gap voltages scale near 1.

    `delta = (b / 1013) (293 / (273 + t))`, IEC 60052; the straight scaling holds for 0.95 to 1.05.

    Parameters
    ----------
    pressure_mbar : float or array
        Air pressure [mbar].
    temperature_c : float or array
        Air temperature [degC].

    Examples
    --------
    >>> round(float(relative_air_density_iec60052(950.0, 30.0)), 5)
    0.90686
    """
    return (pressure_mbar / 1013.0) * (293.0 / (273.0 + temperature_c))


def sphere_gap_peek_kv(diameter_mm: Numeric, gap_mm: Numeric, relative_density: Numeric = 1.0) -> Numeric:
    """Breakdown between two equal spheres that are not earthed.

    Parameters
    ----------
    diameter_mm, gap_mm : float or array
        Sphere diameter and gap [mm].
    relative_density : float or array
        Air density relative to 1013 mbar and 20 C.

    Returns
    -------
    float or array
        Breakdown voltage, peak [kV]: `27.2 delta (1 + 0.54 / sqrt(delta R)) X / f` with R and the gap X
        in cm and `f = (X/R + 1 + sqrt((X/R + 1)^2 + 8)) / 4`. Peek, *Dielectric Phenomena in High
        Voltage Engineering* (1929), recalled. Holds for gaps from `0.54 sqrt(R)` cm to about 2 R.

    Examples
    --------
    >>> round(float(sphere_gap_peek_kv(100.0, 50.0)), 1)
    123.6
    """
    radius_cm = diameter_mm * 0.05
    gap_cm = gap_mm * 0.1
    ratio = gap_cm / radius_cm + 1.0
    sharpening = 0.25 * (ratio + np.sqrt(ratio * ratio + 8.0))
    surface = 27.2 * relative_density * (1.0 + 0.54 / np.sqrt(relative_density * radius_cm))
    return surface * gap_cm / sharpening


def sphere_gap_kv(diameter_mm: float, gap_mm: float) -> float:
    """Breakdown of a sphere gap in air at 20 C and 1013 mbar, such as a ball-gap spark tester has.

    Parameters
    ----------
    diameter_mm, gap_mm : float
        Sphere diameter and gap [mm]; the gap at most the diameter.

    Returns
    -------
    float
        Peak voltage [kV]. Short gaps (below `0.54 sqrt(R)` cm, where Peek's surface gradient stops
        holding) are taken as a uniform field, longer ones after Peek. Within 3 % of the IEC 60052
        table up to half the diameter, 5 % beyond.

    Raises
    ------
    PhysicsError
        For sizes not above 0 or a gap beyond the diameter, where no standard vouches for the reading.

    Examples
    --------
    >>> round(sphere_gap_kv(20.0, 5.0), 1)
    17.1
    """
    if not diameter_mm > 0.0:
        raise PhysicsError("diameter_mm", diameter_mm, "must be above 0 mm")
    if not 0.0 < gap_mm <= diameter_mm:
        raise PhysicsError("gap_mm", gap_mm, f"must be above 0 and at most the diameter, {diameter_mm:g} mm")
    if gap_mm < 5.4 * math.sqrt(diameter_mm / 20.0):
        return float(uniform_field_kuffel_zaengl_kv(1.013, gap_mm))
    return float(sphere_gap_peek_kv(diameter_mm, gap_mm))


def plug_breakdown_kv(pressure_bar: Numeric, temperature_k: Numeric, gap_mm: Numeric) -> Numeric:
    """Voltage a spark plug asks for in the gas that stands in its gap.

    Parameters
    ----------
    pressure_bar, temperature_k : float or array
        Gas at the plug at the moment of the spark [bar absolute, K].
    gap_mm : float or array
        Plug gap [mm].

    Returns
    -------
    float or array
        Breakdown voltage [kV]: the uniform field times `PLUG_FIELD_FACTOR`. Within some 30 %: wear,
        deposits, mixture and electrode temperature all count and are not modelled.

    Notes
    -----
    The factor from a uniform field to a plug is a choice, held against plugs recalled; see
    `PLUG_FIELD_FACTOR`.

    Examples
    --------
    >>> round(float(plug_breakdown_kv(1.0, 293.0, 0.6)), 1)
    2.5
    """
    return PLUG_FIELD_FACTOR * uniform_field_kuffel_zaengl_kv(pressure_bar, gap_mm, temperature_k)


def pressure_times_gap_bar_cm(pressure_bar: float, gap_mm: float, temperature_k: float) -> float:
    """Pressure, brought to the reference temperature, times gap: what the breakdown formula is proven over.

    It is proven over `PROVEN_BAR_CM`.

    Parameters
    ----------
    pressure_bar : float
        Gas pressure, absolute [bar].
    gap_mm : float
        Air to be jumped [mm].
    temperature_k : float
        Gas temperature [K].

    Raises
    ------
    PhysicsError
        Where no gas or no gap is there: pressure, temperature or gap not above 0.

    Notes
    -----
    Paschen's law (1889, recalled): breakdown counts the gas in the gap, its density times the way.

    Examples
    --------
    >>> round(pressure_times_gap_bar_cm(10.0, 0.9, 650.0), 3)
    0.406
    """
    for name, value in (
        ("pressure_bar", pressure_bar),
        ("gap_mm", gap_mm),
        ("temperature_k", temperature_k),
    ):
        if not (math.isfinite(value) and value > 0.0):
            raise PhysicsError(name, value, "must be above 0")
    return pressure_bar * REFERENCE_K / temperature_k * gap_mm * 0.1


@dataclass(frozen=True)
class Paths:
    """Voltage asked by the right path and by a wrong one through a neighbour's post [kV].

    ``wrong_low_kv`` takes the neighbour's gap as sharp corners, ``wrong_high_kv`` as a uniform field;
    the truth lies between. The right path is taken as uniform, its careful side.
    """

    right_kv: float
    wrong_low_kv: float
    wrong_high_kv: float

    @property
    def margin_kv(self) -> float:
        """Careful margin, wrong path less right path [kV]; below 0 the spark may go astray."""
        return self.wrong_low_kv - self.right_kv

    @property
    def ratio(self) -> float:
        """Careful margin as a ratio, wrong path over right path."""
        return self.wrong_low_kv / self.right_kv

    @property
    def state(self) -> State:
        """Good with `WRONG_PATH_RESERVE` to spare; a problem when even smooth posts would stray."""
        if self.wrong_high_kv < self.right_kv:
            return "problem"
        return "good" if self.ratio >= WRONG_PATH_RESERVE else "look"


WRONG_PATH_RESERVE = 1.2
"""Ratio of wrong path over right path that we call enough. Common practice, no source: our own choice."""


def paths(
    *,
    right_gap_mm: float,
    wrong_gap_mm: float,
    cap_pressure_bar: float,
    cap_temperature_k: float,
    right_plug_kv: float,
    wrong_plug_kv: float,
) -> Paths:
    """Compare the right path with one through a neighbour's post.

    Parameters
    ----------
    right_gap_mm, wrong_gap_mm : float
        Air from the tip to the right post and to the neighbour's [mm].
    cap_pressure_bar, cap_temperature_k : float
        Air inside the cap [bar absolute, K].
    right_plug_kv, wrong_plug_kv : float
        What the plug under compression asks, and the neighbour's plug in its own stroke [kV].

    Returns
    -------
    Paths
        Sums of rotor gap and plug for both ways.

    Raises
    ------
    PhysicsError
        For gaps, pressure or temperature not above 0, or a plug voltage below 0.

    Notes
    -----
    Voltages of gaps in a row are added; the careful count is our choice.

    Examples
    --------
    >>> ways = paths(right_gap_mm=0.8, wrong_gap_mm=14.0, cap_pressure_bar=1.0, cap_temperature_k=333.0,
    ...              right_plug_kv=11.0, wrong_plug_kv=3.0)
    >>> ways.state, ways.ratio > 1.2
    ('good', True)
    """
    for name, value in (
        ("right_gap_mm", right_gap_mm),
        ("wrong_gap_mm", wrong_gap_mm),
        ("cap_pressure_bar", cap_pressure_bar),
        ("cap_temperature_k", cap_temperature_k),
    ):
        if not (math.isfinite(value) and value > 0.0):
            raise PhysicsError(name, value, "must be above 0")
    for name, value in (("right_plug_kv", right_plug_kv), ("wrong_plug_kv", wrong_plug_kv)):
        if not (math.isfinite(value) and value >= 0.0):
            raise PhysicsError(name, value, "must not be below 0")
    right_air_kv = float(uniform_field_kuffel_zaengl_kv(cap_pressure_bar, right_gap_mm, cap_temperature_k))
    wrong_air_kv = float(uniform_field_kuffel_zaengl_kv(cap_pressure_bar, wrong_gap_mm, cap_temperature_k))
    return Paths(
        right_kv=right_air_kv + right_plug_kv,
        wrong_low_kv=CORNER_FIELD_FACTOR * wrong_air_kv + wrong_plug_kv,
        wrong_high_kv=wrong_air_kv + wrong_plug_kv,
    )
