"""The stirred charge: how fast a flame swallows it, and how long what was swallowed takes to burn.

Entrainment picture of Blizard and Keck, SAE 740191 (1974), in the form of Tabaczynski, Ferguson and
Radhakrishnan, SAE 770647 (1977); see Heywood, Internal Combustion Engine Fundamentals (1988), ch. 14.
The scales of turbulence in a given engine are not known in advance: the factors that set them are
calibrated, and the formulas here only carry them to the moment of burning.
"""

import numpy as np

from sparkwright.numeric import Numeric

SUTHERLAND_FACTOR = 1.458e-6
"""Sutherland's factor for air, kg/(m s K^0.5) (ISO 2533:1975)."""

SUTHERLAND_TEMPERATURE_K = 110.4
"""Sutherland's temperature for air, K (ISO 2533:1975)."""


def sutherland_viscosity_pa_s(temperature_k: Numeric) -> Numeric:
    """Give the dynamic viscosity of air, which stands for the unburned charge too.

    ``mu = 1.458e-6 T^1.5/(T + 110.4)``

    Parameters
    ----------
    temperature_k
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


def kinematic_viscosity_m2_s(temperature_k: Numeric, density_kg_m3: Numeric) -> Numeric:
    """Give the kinematic viscosity of an air-like charge, ``nu = mu/rho``.

    Parameters
    ----------
    temperature_k
        Gas temperature [K].
    density_kg_m3
        Gas density [kg/m3].

    Returns
    -------
    float or array
        Kinematic viscosity [m2/s], in the broadcast shape of the arguments.

    Notes
    -----
    See `sutherland_viscosity_pa_s` for source and range. The arithmetic is repeated here so that the
    function compiles by itself.

    Examples
    --------
    >>> round(float(kinematic_viscosity_m2_s(700.0, 8.0) * 1e6), 3)
    4.165
    """
    return (
        SUTHERLAND_FACTOR
        * temperature_k
        * np.sqrt(temperature_k)
        / ((temperature_k + SUTHERLAND_TEMPERATURE_K) * density_kg_m3)
    )


def turbulent_reynolds(
    intensity_m_s: Numeric, integral_length_m: Numeric, kinematic_viscosity: Numeric
) -> Numeric:
    """Give the turbulent Reynolds number, ``Re_t = u' L/nu``.

    Parameters
    ----------
    intensity_m_s
        Turbulence intensity [m/s].
    integral_length_m
        Integral length scale [m].
    kinematic_viscosity
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
    intensity_m_s
        Turbulence intensity [m/s], above 0.
    integral_length_m
        Integral length scale [m].
    kinematic_viscosity
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
    taylor_microscale
        Taylor microscale [m].
    laminar_speed_m_s
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


def intake_intensity_m_s(mean_piston_speed_m_s: Numeric, swirl: Numeric) -> Numeric:
    """Give the turbulence intensity that the intake stroke leaves for the burn.

    ``u' = 0.5 swirl S (S/10)^0.05``

    Parameters
    ----------
    mean_piston_speed_m_s
        S, mean piston speed [m/s], above 0.
    swirl
        Factor of the port on an ordinary one [-].

    Returns
    -------
    float or array
        Intensity [m/s], in the broadcast shape of the arguments.

    Notes
    -----
    Near top dead centre u' is about half the mean piston speed in open chambers without swirl (Heywood 1988,
    sec. 8.2.2, fig. 8-9, recalled). It is held constant over the burn: growth by compression and decay by
    friction act against each other. That it grows a little faster than the piston speed is our choice.

    Examples
    --------
    >>> intake_intensity_m_s(10.0, 1.0)
    5.0
    """
    result: Numeric = 0.5 * swirl * mean_piston_speed_m_s * (0.1 * mean_piston_speed_m_s) ** 0.05
    return result


def between_walls_length_m(bore_m: Numeric, height_m: Numeric) -> Numeric:
    """Give the integral length of the turbulence: ``L = 0.2 sqrt(0.1 B H)``.

    Parameters
    ----------
    bore_m
        Bore [m].
    height_m
        Cylinder volume over piston area [m].

    Returns
    -------
    float or array
        Length [m], in the broadcast shape of the arguments.

    Notes
    -----
    A fifth of the height between the walls near top dead centre (Heywood 1988, sec. 8.2.2: 0.15 to 0.25 of
    the clearance, recalled); the geometric mean with a tenth of the bore, a usual height at the spark, lets
    it grow more slowly than the piston falls (our choice).

    Examples
    --------
    >>> round(1e3 * float(between_walls_length_m(0.1, 0.01)), 3)
    2.0
    """
    result: Numeric = 0.2 * np.sqrt(0.1 * bore_m * height_m)
    return result


GROWTH_REYNOLDS = 4000.0
"""Reynolds number of the laminar flame at which `growing_entrainment_m_s` adds just the gain times u' [-]; a
choice of scale, near that of a flame half across a bore."""


def growing_entrainment_m_s(
    laminar_speed_m_s: Numeric,
    intensity_m_s: Numeric,
    flame_radius_m: Numeric,
    viscosity_m2_s: Numeric,
    gain: Numeric,
    growth: Numeric,
) -> Numeric:
    """Give the speed at which a growing flame swallows the charge.

    ``u_e = S + C u' (S r/(4000 nu))^b``

    Parameters
    ----------
    laminar_speed_m_s
        S, laminar burning velocity [m/s].
    intensity_m_s
        u', turbulence intensity [m/s].
    flame_radius_m
        r, radius of the sphere of the flame's volume [m].
    viscosity_m2_s
        nu, kinematic viscosity of the unburned charge [m2/s].
    gain, growth
        C and b [-], see ``sparkwright.cycle.engine.Constants``.

    Returns
    -------
    float or array
        Entrainment speed [m/s], in the broadcast shape of the arguments.

    Notes
    -----
    Blizard and Keck (1974) with the intensity weighted by a power of the flame's own Reynolds number:
    expanding flames are wrinkled over more scales the larger and the thinner they are, so that their speed
    grows with radius over flame thickness (Chaudhuri, Wu, Zhu and Law, Phys. Rev. Lett. 108 (2012) 044503,
    with an exponent of a half at constant pressure, recalled). In an engine the exponent is smaller; it is
    fitted.

    Examples
    --------
    >>> growing_entrainment_m_s(0.8, 4.0, 0.02, 4e-6, 3.0, 0.15)
    12.8
    """
    reynolds = laminar_speed_m_s * flame_radius_m / viscosity_m2_s
    return laminar_speed_m_s + gain * intensity_m_s * (reynolds / GROWTH_REYNOLDS) ** growth


def entrainment_rate_kg_s(
    unburned_density_kg_m3: Numeric,
    flame_area_m2: Numeric,
    intensity_m_s: Numeric,
    laminar_speed_m_s: Numeric,
) -> Numeric:
    """Give the mass that the flame front swallows, ``dm_e/dt = rho_u A_f (u' + S_L)``.

    Parameters
    ----------
    unburned_density_kg_m3
        Density of the unburned gas [kg/m3].
    flame_area_m2
        Free area of the flame front [m2].
    intensity_m_s
        Turbulence intensity at the front [m/s].
    laminar_speed_m_s
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
    entrained_kg
        Mass inside the flame front [kg].
    burned_kg
        Burned mass [kg].
    burn_up_time
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
    time_s
        Time since entrainment began [s].
    entrainment_rate
        R [kg/s].
    burn_up_time
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
    intake_speed_m_s
        Mean speed of the gas through the open intake valve [m/s].
    density_ratio
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
    intake_valve_lift_m
        Greatest lift of the intake valve [m].
    density_ratio
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
