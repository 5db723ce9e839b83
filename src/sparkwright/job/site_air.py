"""The air pressure at a job's site, from what is stated of it."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeAlias

SiteAir: TypeAlias = Callable[[], float]
"""Gives the air pressure at the site [kPa absolute] when a load that is stated against it asks."""


def air_pressure_kpa(pressure_kpa: float | None, altitude_m: float | None) -> float:
    """Give the air pressure at a site [kPa absolute]: as stated, from its height, or at sea level.

    Parameters
    ----------
    pressure_kpa : float or None
        As it was read at the site [kPa absolute]; None where it wasn't.
    altitude_m : float or None
        Height above the sea [m]; None where it isn't stated.

    Examples
    --------
    >>> air_pressure_kpa(85.0, None), round(air_pressure_kpa(None, None), 3)
    (85.0, 101.325)
    """
    if pressure_kpa is not None:
        return pressure_kpa
    # Loading NumPy takes a fifth of a second, and few jobs that are only read and listed ask.
    from sparkwright.air import geopotential_height_m, iso2533_pressure_kpa

    return float(iso2533_pressure_kpa(geopotential_height_m(altitude_m or 0.0)))
