"""Turbulent flames as published: rates and lengths that the compiled kernel is held against."""

from __future__ import annotations

import numpy as np

from sparkwright.cycle.turbulence import SUTHERLAND_FACTOR, SUTHERLAND_TEMPERATURE_K
from sparkwright.numeric import Numeric


def sutherland_viscosity_pa_s(temperature_k: Numeric) -> Numeric:
    """Give the dynamic viscosity of air, which stands for the unburned charge too.

    ``mu = 1.458e-6 T^1.5/(T + 110.4)``

    Parameters
    ----------
    temperature_k : float or array
        Gas temperature [K].

    Returns
    -------
    float or array
        Dynamic viscosity [Pa s], same shape.

    Notes
    -----
    Sutherland's law with the constants of ISO 2533:1975. Fuel vapour and residual change the viscosity of
    the charge by a few percent, far less than the uncertainty of the turbulence itself. The law is
    good for air from about 100 K to 1900 K (recalled).

    Examples
    --------
    >>> round(float(sutherland_viscosity_pa_s(700.0) * 1e6), 2)
    33.32
    """
    return (
        SUTHERLAND_FACTOR
        * temperature_k
        * np.sqrt(temperature_k)
        / (temperature_k + SUTHERLAND_TEMPERATURE_K)
    )


def turbulent_reynolds(
    intensity_m_s: Numeric, integral_length_m: Numeric, kinematic_viscosity: Numeric
) -> Numeric:
    """Give the turbulent Reynolds number, ``Re_t = u' L/nu``.

    Parameters
    ----------
    intensity_m_s : float or array
        Turbulence intensity [m/s].
    integral_length_m : float or array
        Integral length scale [m].
    kinematic_viscosity : float or array
        Kinematic viscosity [m2/s].

    Returns
    -------
    float or array
        Reynolds number [-], in the broadcast shape of the arguments.

    Notes
    -----
    Definition; Heywood (1988), ch. 14.

    Examples
    --------
    >>> turbulent_reynolds(4.0, 0.003, 6.0e-6)
    2000.0
    """
    return intensity_m_s * integral_length_m / kinematic_viscosity


def taylor_microscale_m(
    intensity_m_s: Numeric, integral_length_m: Numeric, kinematic_viscosity: Numeric
) -> Numeric:
    """Give the Taylor microscale of isotropic turbulence.

    ``lambda = L sqrt(15/Re_t)`` with ``Re_t = u' L/nu``.

    Parameters
    ----------
    intensity_m_s : float or array
        Turbulence intensity [m/s], above 0.
    integral_length_m : float or array
        Integral length scale [m].
    kinematic_viscosity : float or array
        Kinematic viscosity [m2/s].

    Returns
    -------
    float or array
        Taylor microscale [m], in the broadcast shape of the arguments.

    Notes
    -----
    Tabaczynski et al. (1977); Heywood (1988), ch. 14. Holds for well-developed turbulence (Re_t of some
    hundreds or more).

    Examples
    --------
    >>> round(float(taylor_microscale_m(4.0, 0.002, 4.0e-6) * 1000.0), 4)
    0.1732
    """
    result: Numeric = np.sqrt(15.0 * kinematic_viscosity * integral_length_m / intensity_m_s)
    return result


def burn_up_time_s(taylor_microscale: Numeric, laminar_speed_m_s: Numeric) -> Numeric:
    """Give the time an entrained pocket takes to burn, ``tau = lambda/S_L``.

    Parameters
    ----------
    taylor_microscale : float or array
        Taylor microscale [m].
    laminar_speed_m_s : float or array
        Laminar burning velocity [m/s], above 0.

    Returns
    -------
    float or array
        Burn-up time [s], in the broadcast shape of the arguments.

    Notes
    -----
    Tabaczynski et al. (1977).

    Examples
    --------
    >>> round(float(burn_up_time_s(0.0002, 0.5) * 1000.0), 3)
    0.4
    """
    return taylor_microscale / laminar_speed_m_s


def entrainment_rate_kg_s(
    unburned_density_kg_m3: Numeric,
    flame_area_m2: Numeric,
    intensity_m_s: Numeric,
    laminar_speed_m_s: Numeric,
) -> Numeric:
    """Give the mass that the flame front swallows, ``dm_e/dt = rho_u A_f (u' + S_L)``.

    Parameters
    ----------
    unburned_density_kg_m3 : float or array
        Density of the unburned gas [kg/m3].
    flame_area_m2 : float or array
        Free area of the flame front [m2].
    intensity_m_s : float or array
        Turbulence intensity at the front [m/s].
    laminar_speed_m_s : float or array
        Laminar burning velocity [m/s].

    Returns
    -------
    float or array
        Entrainment rate [kg/s], in the broadcast shape of the arguments.

    Notes
    -----
    Blizard and Keck (1974); Heywood (1988), ch. 14.

    Examples
    --------
    >>> round(float(entrainment_rate_kg_s(8.0, 0.0015, 4.0, 0.6)), 4)
    0.0552
    """
    return unburned_density_kg_m3 * flame_area_m2 * (intensity_m_s + laminar_speed_m_s)


def burn_rate_kg_s(entrained_kg: Numeric, burned_kg: Numeric, burn_up_time: Numeric) -> Numeric:
    """Give the rate at which entrained mass burns, ``dm_b/dt = (m_e - m_b)/tau``.

    Parameters
    ----------
    entrained_kg : float or array
        Mass inside the flame front [kg].
    burned_kg : float or array
        Burned mass [kg].
    burn_up_time : float or array
        Burn-up time [s], above 0.

    Returns
    -------
    float or array
        Burning rate [kg/s], in the broadcast shape of the arguments.

    Notes
    -----
    Blizard and Keck (1974).

    Examples
    --------
    >>> round(float(burn_rate_kg_s(0.0003, 0.0002, 0.0005)), 3)
    0.2
    """
    return (entrained_kg - burned_kg) / burn_up_time


def steady_entrainment_burned_kg(
    time_s: Numeric, entrainment_rate: Numeric, burn_up_time: Numeric
) -> Numeric:
    """Give the mass burned when entrainment and burn-up time are constant.

    ``m_b = R [t - tau (1 - exp(-t/tau))]``

    Parameters
    ----------
    time_s : float or array
        Time since entrainment began [s].
    entrainment_rate : float or array
        R [kg/s].
    burn_up_time : float or array
        tau [s], above 0.

    Returns
    -------
    float or array
        Burned mass [kg], in the broadcast shape of the arguments.

    Notes
    -----
    Closed form of the two rate equations of Blizard and Keck (1974); used to prove the integration.

    Examples
    --------
    >>> round(float(steady_entrainment_burned_kg(0.001, 0.2, 0.0005) * 1e6), 2)
    113.53
    """
    result: Numeric = entrainment_rate * (time_s - burn_up_time * (1.0 - np.exp(-time_s / burn_up_time)))
    return result


def keck_entrainment_speed_m_s(intake_speed_m_s: Numeric, density_ratio: Numeric) -> Numeric:
    """Give Keck's fit of the turbulent entrainment speed, ``u_T = 0.08 u_i (rho_u/rho_i)^(1/2)``.

    Parameters
    ----------
    intake_speed_m_s : float or array
        Mean speed of the gas through the open intake valve [m/s].
    density_ratio : float or array
        Unburned density over intake density [-].

    Returns
    -------
    float or array
        Entrainment speed [m/s], in the broadcast shape of the arguments.

    Notes
    -----
    Keck, 19th Symposium (International) on Combustion (1982) 1451; the fit holds within about 10 %.

    Examples
    --------
    >>> round(float(keck_entrainment_speed_m_s(40.0, 9.0)), 3)
    9.6
    """
    result: Numeric = 0.08 * intake_speed_m_s * np.sqrt(density_ratio)
    return result


def keck_eddy_length_m(intake_valve_lift_m: Numeric, density_ratio: Numeric) -> Numeric:
    """Give Keck's fit of the burning eddy size, ``l_T = 0.8 L_iv (rho_i/rho_u)^(3/4)``.

    Parameters
    ----------
    intake_valve_lift_m : float or array
        Greatest lift of the intake valve [m].
    density_ratio : float or array
        Unburned density over intake density [-].

    Returns
    -------
    float or array
        Eddy size [m], in the broadcast shape of the arguments.

    Notes
    -----
    Keck, 19th Symposium (International) on Combustion (1982) 1451; the fit holds within about 25 %.

    Examples
    --------
    >>> round(float(keck_eddy_length_m(0.01, 16.0) * 1000.0), 3)
    1.0
    """
    result: Numeric = 0.8 * intake_valve_lift_m * density_ratio**-0.75
    return result
