"""Heat from the gas to the walls: the published coefficients and the gas velocity they need.

The heat flow is ``coefficient x area x (gas temperature - wall temperature)``. All formulas are plain
arithmetic on numbers or arrays, and compile unchanged.

No paper states limits in numbers. Woschni and Hohenberg fitted whole-cylinder averages, mostly on diesel
engines; on other engines the coefficient is uncertain by a few tens of percent, and local values near a
flame or a valve are not described at all (common practice, no source).
"""

import numpy as np

from sparkwright.numeric import Numeric

WOSCHNI_GAS_EXCHANGE_FACTOR = 6.18
"""Share of mean piston speed in the gas velocity while a valve is open (Woschni 1967)."""

WOSCHNI_CLOSED_FACTOR = 2.28
"""Share of mean piston speed in the gas velocity while the valves are closed (Woschni 1967)."""

WOSCHNI_COMBUSTION_FACTOR = 3.24e-3
"""Weight of the pressure rise by combustion in the gas velocity, m/(s K) (Woschni 1967)."""

HUBER_TOP_FACTOR = 2.0
"""Weight of the nearly shut cylinder in the gas velocity [-] (Huber, Woschni and Zeilinger 1990)."""


def woschni_gas_velocity(
    mean_piston_speed_m_s: Numeric,
    pressure_rise_kpa: Numeric,
    displaced_volume_m3: Numeric,
    reference_temperature_k: Numeric,
    reference_pressure_kpa: Numeric,
    reference_volume_m3: Numeric,
    piston_speed_factor: Numeric = WOSCHNI_CLOSED_FACTOR,
    combustion_factor: Numeric = WOSCHNI_COMBUSTION_FACTOR,
) -> Numeric:
    """Give the mean gas velocity of Woschni's correlation.

    ``w = C1 S_p + C2 (V_d T_r / (p_r V_r)) (p - p_motored)``

    Parameters
    ----------
    mean_piston_speed_m_s : float or array
        Mean piston speed [m/s].
    pressure_rise_kpa : float or array
        Pressure less the pressure of the same cycle without combustion [kPa]; 0 before combustion.
    displaced_volume_m3 : float or array
        Displaced volume of the cylinder [m3].
    reference_temperature_k, reference_pressure_kpa, reference_volume_m3 : float or array
        State of the charge at one moment before combustion, usually intake-valve closing [K, kPa, m3].
    piston_speed_factor : float or array
        C1 [-]: `WOSCHNI_CLOSED_FACTOR` or `WOSCHNI_GAS_EXCHANGE_FACTOR`.
    combustion_factor : float or array
        C2 [m/(s K)].

    Returns
    -------
    float or array
        Gas velocity [m/s], in the broadcast shape of the arguments.

    Notes
    -----
    Woschni, SAE 670931 (1967); Heywood, Internal Combustion Engine Fundamentals (1988), ch. 12.

    Examples
    --------
    >>> round(float(woschni_gas_velocity(8.0, 0.0, 5e-4, 340.0, 90.0, 5.5e-4)), 2)
    18.24
    """
    return piston_speed_factor * mean_piston_speed_m_s + combustion_factor * pressure_rise_kpa * (
        displaced_volume_m3 * reference_temperature_k / (reference_pressure_kpa * reference_volume_m3)
    )


def huber_gas_velocity(
    mean_piston_speed_m_s: Numeric, clearance_share: Numeric, indicated_bar: Numeric
) -> Numeric:
    """Give the gas velocity without a burn, with the stirring that a nearly shut cylinder keeps.

    ``w = C1 S_p (1 + 2 (V_c/V)^2 p_mi^-0.2)``, counted instead of Woschni's where it is the greater.

    Parameters
    ----------
    mean_piston_speed_m_s : float or array
        Mean piston speed [m/s].
    clearance_share : float or array
        Clearance volume over cylinder volume at the moment, V_c/V [-].
    indicated_bar : float or array
        Mean indicated pressure [bar], 1 or above.

    Returns
    -------
    float or array
        Gas velocity [m/s], in the broadcast shape of the arguments.

    Notes
    -----
    Huber, Woschni and Zeilinger, FISITA 905018 (1990), recalled: measured on motored and lightly loaded
    engines, where the formula of 1967 gives too little heat about top dead centre.

    Examples
    --------
    >>> round(float(huber_gas_velocity(8.0, 1.0, 8.0)), 2)
    42.31
    """
    result: Numeric = (
        WOSCHNI_CLOSED_FACTOR
        * mean_piston_speed_m_s
        * (1.0 + HUBER_TOP_FACTOR * clearance_share**2 * indicated_bar**-0.2)
    )
    return result


def woschni_heat_transfer_w_m2_k(
    bore_m: Numeric, pressure_kpa: Numeric, temperature_k: Numeric, gas_velocity_m_s: Numeric
) -> Numeric:
    """Give Woschni's heat-transfer coefficient, with the temperature exponent of many handbooks.

    ``h = 3.26 B^-0.2 p^0.8 T^-0.55 w^0.8``

    Parameters
    ----------
    bore_m : float or array
        Bore [m].
    pressure_kpa : float or array
        Cylinder pressure [kPa].
    temperature_k : float or array
        Mean gas temperature [K].
    gas_velocity_m_s : float or array
        From `woschni_gas_velocity` [m/s].

    Returns
    -------
    float or array
        Heat-transfer coefficient [W/(m2 K)], in the broadcast shape of the arguments.

    Notes
    -----
    Woschni, SAE 670931 (1967), in the form of Heywood (1988), ch. 12. The correlation is printed with
    T^-0.55 and with T^-0.53 and the same factor; see `woschni_original_heat_transfer_w_m2_k`, which
    the cycle uses.

    Examples
    --------
    >>> round(float(woschni_heat_transfer_w_m2_k(0.1, 1000.0, 600.0, 20.0)), 1)
    422.7
    """
    result: Numeric = 3.26 * bore_m**-0.2 * pressure_kpa**0.8 * temperature_k**-0.55 * gas_velocity_m_s**0.8
    return result


def woschni_original_heat_transfer_w_m2_k(
    bore_m: Numeric, pressure_kpa: Numeric, temperature_k: Numeric, gas_velocity_m_s: Numeric
) -> Numeric:
    """Give Woschni's coefficient with the temperature exponent of the first printing, -0.53.

    ``h = 3.26 B^-0.2 p^0.8 T^-0.53 w^0.8``, which is T^0.02 times `woschni_heat_transfer_w_m2_k`.

    Parameters
    ----------
    bore_m, pressure_kpa, temperature_k, gas_velocity_m_s : float or array
        As for `woschni_heat_transfer_w_m2_k`.

    Returns
    -------
    float or array
        Heat-transfer coefficient [W/(m2 K)], in the broadcast shape of the arguments.

    Notes
    -----
    Woschni, SAE 670931 (1967), in SI units. Over an engine's pressures and temperatures it lies within a
    few percent of Hohenberg's formula; the other exponent lies 12 to 17 % lower.

    Examples
    --------
    >>> round(float(woschni_original_heat_transfer_w_m2_k(0.1, 1000.0, 600.0, 20.0)), 1)
    480.4
    """
    result: Numeric = 3.26 * bore_m**-0.2 * pressure_kpa**0.8 * temperature_k**-0.53 * gas_velocity_m_s**0.8
    return result


def wall_area_m2(bore_m: Numeric, volume_m3: Numeric) -> Numeric:
    """Give the wall area of a plain cylinder: flat head, flat piston, and the wall between them.

    ``A = pi B^2/2 + 4 V/B``; the wall stands the height ``V/(pi B^2/4)``, clearance included.

    Parameters
    ----------
    bore_m : float or array
        Bore [m].
    volume_m3 : float or array
        Cylinder volume at the moment [m3].

    Returns
    -------
    float or array
        Area [m2], in the broadcast shape of the arguments.

    Notes
    -----
    Exact for a flat disc chamber of the bore's width; a chamber of another shape has another area.
    Geometry.

    Examples
    --------
    >>> round(wall_area_m2(0.1, 6e-4), 6)
    0.039708
    """
    return np.pi * bore_m * bore_m / 2.0 + 4.0 * volume_m3 / bore_m
