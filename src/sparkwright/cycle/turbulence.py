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


def kinematic_viscosity_m2_s(temperature_k: Numeric, density_kg_m3: Numeric) -> Numeric:
    """Give the kinematic viscosity of an air-like charge, ``nu = mu/rho``.

    Parameters
    ----------
    temperature_k : float or array
        Gas temperature [K].
    density_kg_m3 : float or array
        Gas density [kg/m3].

    Returns
    -------
    float or array
        Kinematic viscosity [m2/s], in the broadcast shape of the arguments.

    Notes
    -----
    See `published.turbulence.sutherland_viscosity_pa_s` for the range; ISO 2533:1975. The arithmetic is
    repeated here so that the function compiles by itself.

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


def intake_intensity_m_s(mean_piston_speed_m_s: Numeric, swirl: Numeric) -> Numeric:
    """Give the turbulence intensity that the intake stroke leaves for the burn.

    ``u' = 0.5 swirl S (S/10)^0.05``

    Parameters
    ----------
    mean_piston_speed_m_s : float or array
        S, mean piston speed [m/s], above 0.
    swirl : float or array
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
    bore_m : float or array
        Bore [m].
    height_m : float or array
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
    laminar_speed_m_s : float or array
        S, laminar burning velocity [m/s].
    intensity_m_s : float or array
        u', turbulence intensity [m/s].
    flame_radius_m : float or array
        r, radius of the sphere of the flame's volume [m].
    viscosity_m2_s : float or array
        nu, kinematic viscosity of the unburned charge [m2/s].
    gain, growth : float or array
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
