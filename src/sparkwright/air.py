"""The air an engine breathes: the standard atmosphere, moisture, and dynamometer corrections.

Pressures are absolute. Below the freezing point the vapour formulas speak of supercooled water, not of ice;
the difference is without weight for an engine.
"""

from collections.abc import Callable
from dataclasses import dataclass
from math import isfinite

import numpy as np

from sparkwright.errors import PhysicsError
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

DRY_AIR_GAS_CONSTANT_J_KG_K = 287.05287
"""Gas constant of dry air, J/(kg K) (ISO 2533:1975)."""

VAPOUR_TO_DRY_AIR_MASS_RATIO = 0.62197
"""Molar mass of water over that of dry air, 18.0153/28.9644 (ISO 2533:1975 for the air)."""

KPA_PER_INCH_OF_MERCURY = 3.386389
"""One conventional inch of mercury in kPa (NIST Special Publication 811, appendix B)."""


def geopotential_height_m(geometric_height_m: Numeric) -> Numeric:
    """Give the geopotential height of a place: ``H = r z/(r + z)``.

    Parameters
    ----------
    geometric_height_m
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
    geopotential_height
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
    geopotential_height
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
    geopotential_height
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
    pressure_kpa
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


def magnus_saturation_hpa(temperature_c: Numeric) -> Numeric:
    """Give the saturation vapour pressure over water: ``6.112 exp(17.62 t/(243.12 + t))``.

    Parameters
    ----------
    temperature_c
        Air temperature [degC], -45 to 60.

    Returns
    -------
    float or array
        Saturation vapour pressure [hPa], same shape.

    Notes
    -----
    WMO-No. 8, Guide to Instruments and Methods of Observation.

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
    temperature_c
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
    temperature_c
        Air temperature [degC].

    Returns
    -------
    float or array
        Saturation vapour pressure [hPa], same shape.

    Notes
    -----
    Buck (1996), a revision of Buck (1981). Within 0.1 % of the IAPWS formula from 0 to 50 degC.
    `saturation_outside_range` says where it is stretched.

    Examples
    --------
    >>> round(float(buck_1996_saturation_hpa(20.0)), 3)
    23.383
    """
    result: Numeric = 6.1121 * np.exp(
        (18.678 - temperature_c / 234.5) * temperature_c / (257.14 + temperature_c)
    )
    return result


def saturation_outside_range(temperature_c: float) -> list[str]:
    """Say in plain sentences where the vapour formulas are stretched.

    Parameters
    ----------
    temperature_c
        Air temperature [degC].

    Returns
    -------
    list of str
        One sentence outside -20 to 50 degC, where all three formulas agree; empty inside.

    Examples
    --------
    >>> saturation_outside_range(25.0)
    []
    >>> saturation_outside_range(65.0)
    ['Air of 65 degC lies outside -20 to 50 degC: the moisture found there is uncertain.']
    """
    if -20.0 <= temperature_c <= 50.0:
        return []
    return [
        f"Air of {temperature_c:g} degC lies outside -20 to 50 degC: the moisture found there is uncertain."
    ]


def humidity_ratio(vapour_pressure_kpa: Numeric, dry_pressure_kpa: Numeric) -> Numeric:
    """Give the mass of water in a mass of dry air: ``W = 0.62197 e/p_dry``.

    Parameters
    ----------
    vapour_pressure_kpa
        Partial pressure of water vapour [kPa].
    dry_pressure_kpa
        Partial pressure of the dry air [kPa].

    Returns
    -------
    float or array
        Water over dry air [kg/kg], in the broadcast shape of the arguments.

    Notes
    -----
    Ideal-gas mixture.

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
    vapour_pressure_kpa
        Partial pressure of water vapour [kPa].
    dry_pressure_kpa
        Partial pressure of the dry air [kPa].
    temperature_k
        Air temperature [K].

    Returns
    -------
    float or array
        Density [kg/m3], in the broadcast shape of the arguments.

    Notes
    -----
    Ideal-gas mixture; within 0.1 % for outside air.

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

    @property
    def outside_range(self) -> list[str]:
        """Plain sentences on what was stretched to describe this air; empty when nothing was."""
        return saturation_outside_range(self.temperature_c)


def sae_j1349_factor(dry_pressure_kpa: Numeric, temperature_c: Numeric) -> Numeric:
    """Give the power correction of SAE J1349 in its 1990 form, spark-ignition engines.

    ``cf = 1.180 (99/p_d) sqrt((t + 273)/298) - 0.18``, for a mechanical efficiency of 85 %.

    Parameters
    ----------
    dry_pressure_kpa
        Pressure of the dry inlet air [kPa].
    temperature_c
        Inlet air temperature [degC].

    Returns
    -------
    float or array
        Factor on the measured torque or power [-], in the broadcast shape of the arguments.

    Notes
    -----
    SAE J1349 (June 1990); reference 99 kPa dry and 25 degC. `sae_j1349_outside_range` says where the standard
    does not allow it.

    Examples
    --------
    >>> round(float(sae_j1349_factor(97.0, 32.0)), 4)
    1.0384
    """
    result: Numeric = 1.180 * (99.0 / dry_pressure_kpa) * np.sqrt((temperature_c + 273.0) / 298.0) - 0.18
    return result


def iso_1585_factor(dry_pressure_kpa: Numeric, temperature_k: Numeric) -> Numeric:
    """Give the power correction of ISO 1585, spark-ignition engines.

    ``alpha_a = (99/p_s)^1.2 (T/298)^0.6``

    Parameters
    ----------
    dry_pressure_kpa
        Pressure of the dry inlet air [kPa].
    temperature_k
        Inlet air temperature [K].

    Returns
    -------
    float or array
        Factor on the measured torque or power [-], in the broadcast shape of the arguments.

    Notes
    -----
    ISO 1585:1992; reference 99 kPa dry and 298 K. `iso_1585_outside_range` says where the standard does not
    allow it.

    Examples
    --------
    >>> round(float(iso_1585_factor(97.0, 305.0)), 4)
    1.0392
    """
    result: Numeric = (99.0 / dry_pressure_kpa) ** 1.2 * (temperature_k / 298.0) ** 0.6
    return result


def sae_j607_factor(dry_pressure_kpa: Numeric, temperature_c: Numeric) -> Numeric:
    """Give the older power correction of SAE J607, which many dynamometers still print.

    ``cf = (29.92/p) sqrt((t_F + 460)/520)`` with p in inches of mercury, dry.

    Parameters
    ----------
    dry_pressure_kpa
        Pressure of the dry inlet air [kPa].
    temperature_c
        Inlet air temperature [degC].

    Returns
    -------
    float or array
        Factor on the measured torque or power [-], in the broadcast shape of the arguments.

    Notes
    -----
    SAE J607; reference 29.92 inHg dry and 60 degF, cooler and denser air than the newer standards, so the
    same pull reads some 4 % higher. See `sae_j607_outside_range`.

    Examples
    --------
    >>> round(float(sae_j607_factor(98.2053, 26.6667)), 4)
    1.0514
    """
    pressure_inhg = dry_pressure_kpa / KPA_PER_INCH_OF_MERCURY
    temperature_f = 1.8 * temperature_c + 32.0
    result: Numeric = 29.92 / pressure_inhg * np.sqrt((temperature_f + 460.0) / 520.0)
    return result


def _outside(
    standard: str, quantity: str, value: float, least: float, most: float, unit: str, digits: int
) -> list[str]:
    """One sentence when a value lies outside a standard's limits, else none."""
    if least <= value <= most:
        return []
    stated = f"{value:.{digits}f} {unit}".strip()
    limits = f"{least:g} to {most:g} {unit}".strip()
    return [f"{standard} holds for {limits} of {quantity}; here it is {stated}."]


def sae_j1349_outside_range(dry_pressure_kpa: float, temperature_c: float) -> list[str]:
    """Say in plain sentences where the air lies outside the limits of SAE J1349.

    Parameters
    ----------
    dry_pressure_kpa
        Pressure of the dry inlet air [kPa]; 90 to 105 is inside.
    temperature_c
        Inlet air temperature [degC]; 15 to 35 is inside.

    Returns
    -------
    list of str
        One sentence for each limit passed; empty inside (limits recalled from SAE J1349, June 1990).

    Examples
    --------
    >>> sae_j1349_outside_range(84.0, 20.0)
    ['SAE J1349 holds for 90 to 105 kPa of dry air pressure; here it is 84.0 kPa.']
    """
    return [
        *_outside("SAE J1349", "dry air pressure", dry_pressure_kpa, 90.0, 105.0, "kPa", 1),
        *_outside("SAE J1349", "air temperature", temperature_c, 15.0, 35.0, "degC", 1),
    ]


def iso_1585_outside_range(dry_pressure_kpa: float, temperature_k: float) -> list[str]:
    """Say in plain sentences where the air or the factor lies outside the limits of ISO 1585.

    Parameters
    ----------
    dry_pressure_kpa
        Pressure of the dry inlet air [kPa]; 80 to 110 is inside.
    temperature_k
        Inlet air temperature [K]; 288 to 308 is inside. The factor must come out from 0.93 to 1.07.

    Returns
    -------
    list of str
        One sentence for each limit passed; empty inside (limits recalled from ISO 1585:1992).

    Examples
    --------
    >>> iso_1585_outside_range(99.0, 310.0)
    ['ISO 1585 holds for 288 to 308 K of air temperature; here it is 310.0 K.']
    """
    factor = float(iso_1585_factor(dry_pressure_kpa, temperature_k))
    return [
        *_outside("ISO 1585", "dry air pressure", dry_pressure_kpa, 80.0, 110.0, "kPa", 1),
        *_outside("ISO 1585", "air temperature", temperature_k, 288.0, 308.0, "K", 1),
        *_outside("ISO 1585", "the factor itself", factor, 0.93, 1.07, "", 3),
    ]


def sae_j607_outside_range(dry_pressure_kpa: float, temperature_c: float) -> list[str]:
    """Say in plain sentences where SAE J607 should not be trusted.

    We know of no limits in J607 itself; the air is held against those of its successor, SAE J1349.

    Parameters
    ----------
    dry_pressure_kpa
        Pressure of the dry inlet air [kPa].
    temperature_c
        Inlet air temperature [degC].

    Returns
    -------
    list of str
        One sentence for each limit passed; empty inside.

    Examples
    --------
    >>> sae_j607_outside_range(97.0, 40.0)
    ['SAE J607 (by the limits of J1349) holds for 15 to 35 degC of air temperature; here it is 40.0 degC.']
    """
    name = "SAE J607 (by the limits of J1349)"
    return [
        *_outside(name, "dry air pressure", dry_pressure_kpa, 90.0, 105.0, "kPa", 1),
        *_outside(name, "air temperature", temperature_c, 15.0, 35.0, "degC", 1),
    ]


@dataclass(frozen=True)
class DynoCorrection:
    """A power correction, and whether its standard allows it.

    Parameters
    ----------
    standard
        Name of the standard.
    factor
        Factor on the measured torque or power [-].
    outside_range
        A sentence for each limit of the standard that was passed; empty when the factor is within it.

    Examples
    --------
    >>> DynoCorrection("ISO 1585", 1.02, ()).outside_range
    ()
    """

    standard: str
    factor: float
    outside_range: tuple[str, ...]


def _by_sae_j1349(air: OutsideAir) -> tuple[float, list[str]]:
    dry_kpa = air.dry_pressure_kpa
    return float(sae_j1349_factor(dry_kpa, air.temperature_c)), sae_j1349_outside_range(
        dry_kpa, air.temperature_c
    )


def _by_iso_1585(air: OutsideAir) -> tuple[float, list[str]]:
    dry_kpa = air.dry_pressure_kpa
    return float(iso_1585_factor(dry_kpa, air.temperature_k)), iso_1585_outside_range(
        dry_kpa, air.temperature_k
    )


def _by_sae_j607(air: OutsideAir) -> tuple[float, list[str]]:
    dry_kpa = air.dry_pressure_kpa
    return float(sae_j607_factor(dry_kpa, air.temperature_c)), sae_j607_outside_range(
        dry_kpa, air.temperature_c
    )


_CORRECTIONS: dict[str, Callable[[OutsideAir], tuple[float, list[str]]]] = {
    "SAE J1349": _by_sae_j1349,
    "ISO 1585": _by_iso_1585,
    "SAE J607": _by_sae_j607,
}

DYNO_STANDARDS = tuple(_CORRECTIONS)
"""The standards that `dyno_correction` knows."""


def dyno_correction(standard: str, air: OutsideAir) -> DynoCorrection:
    """Correct a pull for the air it was made in, by a named standard.

    Parameters
    ----------
    standard
        One of `DYNO_STANDARDS`.
    air
        The air at the inlet.

    Returns
    -------
    DynoCorrection
        The factor, and what of the standard's limits was passed.

    Raises
    ------
    PhysicsError
        When the standard is not known.

    Examples
    --------
    >>> dyno_correction("SAE J1349", OutsideAir(85.0, 20.0, 40.0)).outside_range
    ('SAE J1349 holds for 90 to 105 kPa of dry air pressure; here it is 84.1 kPa.',)
    """
    if standard not in _CORRECTIONS:
        raise PhysicsError("standard", standard, f"must be one of {', '.join(DYNO_STANDARDS)}")
    factor, sentences = _CORRECTIONS[standard](air)
    return DynoCorrection(standard, factor, tuple(sentences))
