"""Vapour in the air: how much it can hold, how much it holds, and how heavy it is."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite

import numpy as np

from sparkwright.errors import PhysicsError
from sparkwright.numeric import Numeric

DRY_AIR_GAS_CONSTANT_J_KG_K = 287.05287
"""Gas constant of dry air, J/(kg K) (ISO 2533:1975)."""


VAPOUR_TO_DRY_AIR_MASS_RATIO = 0.62197
"""Molar mass of water over that of dry air, 18.0153/28.9644 (ISO 2533:1975 for the air)."""


def magnus_saturation_hpa(temperature_c: Numeric) -> Numeric:
    """Give the saturation vapour pressure over water: ``6.112 exp(17.62 t/(243.12 + t))``.

    Parameters
    ----------
    temperature_c : float or array
        Air temperature [degC], -45 to 60.

    Returns
    -------
    float or array
        Saturation vapour pressure [hPa], same shape.

    Notes
    -----
    The form of Magnus (1844), with the coefficients of WMO-No. 8, Guide to Instruments and Methods of
    Observation (2008); both years recalled.

    Examples
    --------
    >>> round(float(magnus_saturation_hpa(20.0)), 3)
    23.326
    """
    result: Numeric = 6.112 * np.exp(17.62 * temperature_c / (243.12 + temperature_c))
    return result


def buck_1981_saturation_hpa(temperature_c: Numeric) -> Numeric:
    """Give the saturation vapour pressure over water: ``6.1121 exp(17.502 t/(240.97 + t))``.

    Parameters
    ----------
    temperature_c : float or array
        Air temperature [degC], -20 to 50.

    Returns
    -------
    float or array
        Saturation vapour pressure [hPa], same shape.

    Notes
    -----
    Buck, Journal of Applied Meteorology 20 (1981) 1527-1532.

    Examples
    --------
    >>> round(float(buck_1981_saturation_hpa(20.0)), 3)
    23.373
    """
    result: Numeric = 6.1121 * np.exp(17.502 * temperature_c / (240.97 + temperature_c))
    return result


def buck_1996_saturation_hpa(temperature_c: Numeric) -> Numeric:
    """Give the saturation vapour pressure over water as `OutsideAir` takes it; a plan takes the Magnus form.

    ``6.1121 exp((18.678 - t/234.5) t/(257.14 + t))``

    Parameters
    ----------
    temperature_c : float or array
        Air temperature [degC].

    Returns
    -------
    float or array
        Saturation vapour pressure [hPa], same shape.

    Notes
    -----
    Buck (1996), a revision of Buck (1981). Within 0.1 % of the IAPWS formula from 0 to 50 degC, and stretched
    outside -20 to 50 degC.

    Examples
    --------
    >>> round(float(buck_1996_saturation_hpa(20.0)), 3)
    23.383
    """
    result: Numeric = 6.1121 * np.exp(
        (18.678 - temperature_c / 234.5) * temperature_c / (257.14 + temperature_c)
    )
    return result


def humidity_ratio(vapour_pressure_kpa: Numeric, dry_pressure_kpa: Numeric) -> Numeric:
    """Give the mass of water in a mass of dry air: ``W = 0.62197 e/p_dry``.

    Parameters
    ----------
    vapour_pressure_kpa : float or array
        Partial pressure of water vapour [kPa].
    dry_pressure_kpa : float or array
        Partial pressure of the dry air [kPa].

    Returns
    -------
    float or array
        Water over dry air [kg/kg], in the broadcast shape of the arguments.

    Notes
    -----
    Ideal-gas mixture.
    Definition, for ideal gases.

    Examples
    --------
    >>> round(humidity_ratio(1.584, 99.741), 5)
    0.00988
    """
    return VAPOUR_TO_DRY_AIR_MASS_RATIO * vapour_pressure_kpa / dry_pressure_kpa


def moist_air_density_kg_m3(
    vapour_pressure_kpa: Numeric, dry_pressure_kpa: Numeric, temperature_k: Numeric
) -> Numeric:
    """Give the density of moist air: ``rho = (p_dry + 0.62197 e)/(R T)``.

    Parameters
    ----------
    vapour_pressure_kpa : float or array
        Partial pressure of water vapour [kPa].
    dry_pressure_kpa : float or array
        Partial pressure of the dry air [kPa].
    temperature_k : float or array
        Air temperature [K].

    Returns
    -------
    float or array
        Density [kg/m3], in the broadcast shape of the arguments.

    Notes
    -----
    Ideal-gas mixture; within 0.1 % for outside air.
    Definition, for ideal gases.

    Examples
    --------
    >>> round(moist_air_density_kg_m3(0.0, 101.325, 288.15), 4)
    1.225
    """
    return (
        1000.0
        * (dry_pressure_kpa + VAPOUR_TO_DRY_AIR_MASS_RATIO * vapour_pressure_kpa)
        / (DRY_AIR_GAS_CONSTANT_J_KG_K * temperature_k)
    )


@dataclass(frozen=True)
class OutsideAir:
    """The air around an engine at one moment.

    Parameters
    ----------
    pressure_kpa
        Barometric pressure as a station barometer shows it, not reduced to sea level [kPa].
    temperature_c
        Air temperature [degC].
    humidity_percent
        Relative humidity [%], 0 to 100.

    Raises
    ------
    PhysicsError
        When a number cannot be: no pressure, colder than -90 degC, hotter than 100 degC, humidity outside
        0 to 100 %, or more vapour than there is pressure.

    Examples
    --------
    >>> air = OutsideAir(pressure_kpa=100.0, temperature_c=30.0, humidity_percent=60.0)
    >>> round(air.dry_pressure_kpa, 2), round(air.humidity_ratio, 4)
    (97.45, 0.0163)
    """

    pressure_kpa: float
    temperature_c: float
    humidity_percent: float

    def __post_init__(self) -> None:
        """Refuse air that cannot be."""
        if not (isfinite(self.pressure_kpa) and self.pressure_kpa > 0.0):
            raise PhysicsError("pressure_kpa", self.pressure_kpa, "must be above 0")
        if not -90.0 <= self.temperature_c <= 100.0:
            raise PhysicsError("temperature_c", self.temperature_c, "must be from -90 to 100 degC")
        if not 0.0 <= self.humidity_percent <= 100.0:
            raise PhysicsError("humidity_percent", self.humidity_percent, "must be from 0 to 100")
        if not self.dry_pressure_kpa > 0.0:
            raise PhysicsError(
                "humidity_percent",
                self.humidity_percent,
                f"must leave room for air: the vapour alone would press {self.vapour_pressure_kpa:.1f} kPa",
                "lower the humidity or the temperature",
            )

    @property
    def temperature_k(self) -> float:
        """Air temperature [K]."""
        return self.temperature_c + 273.15

    @property
    def vapour_pressure_kpa(self) -> float:
        """Partial pressure of the water vapour, after Buck (1996) [kPa]."""
        return self.humidity_percent / 100.0 * float(buck_1996_saturation_hpa(self.temperature_c)) / 10.0

    @property
    def dry_pressure_kpa(self) -> float:
        """Partial pressure of the dry air [kPa]."""
        return self.pressure_kpa - self.vapour_pressure_kpa

    @property
    def humidity_ratio(self) -> float:
        """Water over dry air [kg/kg]."""
        return float(humidity_ratio(self.vapour_pressure_kpa, self.dry_pressure_kpa))

    @property
    def density_kg_m3(self) -> float:
        """Density [kg/m3]."""
        return float(
            moist_air_density_kg_m3(self.vapour_pressure_kpa, self.dry_pressure_kpa, self.temperature_k)
        )
