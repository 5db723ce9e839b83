"""The standard atmosphere: pressure and temperature over height, after ISO 2533."""

from __future__ import annotations

from sparkwright.numeric import Numeric

SEA_LEVEL_TEMPERATURE_K = 288.15
"""Temperature of the standard atmosphere at 0 m, K (ISO 2533:1975)."""


SEA_LEVEL_PRESSURE_KPA = 101.325
"""Pressure of the standard atmosphere at 0 m, kPa (ISO 2533:1975)."""


TEMPERATURE_LAPSE_K_PER_M = 0.0065
"""Fall of temperature with geopotential height up to 11 km, K/m (ISO 2533:1975)."""


PRESSURE_EXPONENT = 5.255880
"""Power of the temperature ratio in the standard pressure up to 11 km (ISO 2533:1975)."""


EARTH_RADIUS_M = 6_356_766.0
"""Nominal radius of the Earth for geopotential height, m (ISO 2533:1975)."""


def geopotential_height_m(geometric_height_m: Numeric) -> Numeric:
    """Give the geopotential height of a place: ``H = r z/(r + z)``.

    Parameters
    ----------
    geometric_height_m : float or array
        Height above sea level as a map shows it [m].

    Returns
    -------
    float or array
        Geopotential height [m], same shape.

    Notes
    -----
    ISO 2533:1975.

    Examples
    --------
    >>> round(geopotential_height_m(1450.0), 2)
    1449.67
    """
    return EARTH_RADIUS_M * geometric_height_m / (EARTH_RADIUS_M + geometric_height_m)


def geometric_height_m(geopotential_height: Numeric) -> Numeric:
    """Give the height above sea level of a geopotential height: ``z = r H/(r - H)``.

    Parameters
    ----------
    geopotential_height : float or array
        Geopotential height [m].

    Returns
    -------
    float or array
        Height above sea level [m], same shape.

    Notes
    -----
    ISO 2533:1975; the inverse of `geopotential_height_m`.

    Examples
    --------
    >>> round(geometric_height_m(1449.67), 1)
    1450.0
    """
    return EARTH_RADIUS_M * geopotential_height / (EARTH_RADIUS_M - geopotential_height)


def iso2533_temperature_k(geopotential_height: Numeric) -> Numeric:
    """Give the standard temperature: ``T = 288.15 - 0.0065 H``.

    Parameters
    ----------
    geopotential_height : float or array
        Geopotential height [m], up to 11 000 m.

    Returns
    -------
    float or array
        Temperature [K], same shape.

    Notes
    -----
    ISO 2533:1975.

    Examples
    --------
    >>> round(iso2533_temperature_k(1000.0), 3)
    281.65
    """
    return SEA_LEVEL_TEMPERATURE_K - TEMPERATURE_LAPSE_K_PER_M * geopotential_height


def iso2533_pressure_kpa(geopotential_height: Numeric) -> Numeric:
    """Give the standard pressure: ``p = 101.325 (T/288.15)^5.255880``.

    Parameters
    ----------
    geopotential_height : float or array
        Geopotential height [m], up to 11 000 m.

    Returns
    -------
    float or array
        Pressure [kPa], same shape.

    Notes
    -----
    ISO 2533:1975. The weather moves the true pressure by a few percent around it.

    Examples
    --------
    >>> round(iso2533_pressure_kpa(1000.0), 4)
    89.8746
    """
    result: Numeric = (
        SEA_LEVEL_PRESSURE_KPA
        * (1.0 - TEMPERATURE_LAPSE_K_PER_M / SEA_LEVEL_TEMPERATURE_K * geopotential_height)
        ** PRESSURE_EXPONENT
    )
    return result


def iso2533_height_m(pressure_kpa: Numeric) -> Numeric:
    """Give the geopotential height at which the standard atmosphere has a pressure.

    ``H = (288.15/0.0065) (1 - (p/101.325)^(1/5.255880))``

    Parameters
    ----------
    pressure_kpa : float or array
        Pressure [kPa], 22.632 kPa or more.

    Returns
    -------
    float or array
        Geopotential height [m], same shape.

    Notes
    -----
    ISO 2533:1975; the inverse of `iso2533_pressure_kpa`.

    Examples
    --------
    >>> round(iso2533_height_m(89.8746), 1)
    1000.0
    """
    result: Numeric = (
        SEA_LEVEL_TEMPERATURE_K
        / TEMPERATURE_LAPSE_K_PER_M
        * (1.0 - (pressure_kpa / SEA_LEVEL_PRESSURE_KPA) ** (1.0 / PRESSURE_EXPONENT))
    )
    return result
