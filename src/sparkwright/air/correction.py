"""What a dyno corrects its readings by, after three standards, each with its own range."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from sparkwright.air.humidity import OutsideAir
from sparkwright.errors import PhysicsError
from sparkwright.findings import Finding, Value
from sparkwright.numeric import Numeric

KPA_PER_INCH_OF_MERCURY = 3.386389
"""One conventional inch of mercury in kPa (NIST Special Publication 811, appendix B)."""


def sae_j1349_factor(dry_pressure_kpa: Numeric, temperature_c: Numeric) -> Numeric:
    """Give the power correction of SAE J1349 in its 1990 form, spark-ignition engines.

    ``cf = 1.180 (99/p_d) sqrt((t + 273)/298) - 0.18``, for a mechanical efficiency of 85 %.

    Parameters
    ----------
    dry_pressure_kpa : float or array
        Pressure of the dry inlet air [kPa].
    temperature_c : float or array
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
    dry_pressure_kpa : float or array
        Pressure of the dry inlet air [kPa].
    temperature_k : float or array
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
    dry_pressure_kpa : float or array
        Pressure of the dry inlet air [kPa].
    temperature_c : float or array
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
    standard: str, quantity: str, value: float, least: float, most: float, unit: str
) -> list[Finding]:
    """Give a finding when a value lies outside a standard's limits, else none."""
    if least <= value <= most:
        return []
    numbers: dict[str, Value] = {"standard": standard, "quantity": quantity, "unit": unit}
    return [
        Finding("correction.limit-passed", "look", {**numbers, "value": value, "least": least, "most": most})
    ]


def sae_j1349_outside_range(dry_pressure_kpa: float, temperature_c: float) -> list[Finding]:
    """Give where the air lies outside the limits of SAE J1349.

    Parameters
    ----------
    dry_pressure_kpa : float
        Pressure of the dry inlet air [kPa]; 90 to 105 is inside.
    temperature_c : float
        Inlet air temperature [degC]; 15 to 35 is inside.

    Returns
    -------
    list of Finding
        One for each limit passed; empty inside (limits recalled from SAE J1349, June 1990).

    Examples
    --------
    >>> [passed.numbers["quantity"] for passed in sae_j1349_outside_range(84.0, 20.0)]
    ['dry air pressure']
    """
    return [
        *_outside("SAE J1349", "dry air pressure", dry_pressure_kpa, 90.0, 105.0, "kPa"),
        *_outside("SAE J1349", "air temperature", temperature_c, 15.0, 35.0, "degC"),
    ]


def iso_1585_outside_range(dry_pressure_kpa: float, temperature_k: float) -> list[Finding]:
    """Give where the air or the factor lies outside the limits of ISO 1585.

    Parameters
    ----------
    dry_pressure_kpa : float
        Pressure of the dry inlet air [kPa]; 80 to 110 is inside.
    temperature_k : float
        Inlet air temperature [K]; 288 to 308 is inside. The factor must come out from 0.93 to 1.07.

    Returns
    -------
    list of Finding
        One for each limit passed; empty inside (limits recalled from ISO 1585:1992).

    Examples
    --------
    >>> [passed.numbers["quantity"] for passed in iso_1585_outside_range(99.0, 310.0)]
    ['air temperature']
    """
    factor = float(iso_1585_factor(dry_pressure_kpa, temperature_k))
    return [
        *_outside("ISO 1585", "dry air pressure", dry_pressure_kpa, 80.0, 110.0, "kPa"),
        *_outside("ISO 1585", "air temperature", temperature_k, 288.0, 308.0, "K"),
        *_outside("ISO 1585", "the factor itself", factor, 0.93, 1.07, ""),
    ]


def sae_j607_outside_range(dry_pressure_kpa: float, temperature_c: float) -> list[Finding]:
    """Give where SAE J607 should not be trusted.

    We know of no limits in J607 itself; the air is held against those of its successor, SAE J1349.

    Parameters
    ----------
    dry_pressure_kpa : float
        Pressure of the dry inlet air [kPa].
    temperature_c : float
        Inlet air temperature [degC].

    Returns
    -------
    list of Finding
        One for each limit passed; empty inside.

    Examples
    --------
    >>> [passed.numbers["quantity"] for passed in sae_j607_outside_range(97.0, 40.0)]
    ['air temperature']
    """
    name = "SAE J607 (by the limits of J1349)"
    return [
        *_outside(name, "dry air pressure", dry_pressure_kpa, 90.0, 105.0, "kPa"),
        *_outside(name, "air temperature", temperature_c, 15.0, 35.0, "degC"),
    ]


@dataclass(frozen=True)
class DynoCorrection:
    """A power correction, and whether its standard allows it.

    Parameters
    ----------
    standard : str
        Name of the standard.
    factor : float
        Factor on the measured torque or power [-].
    outside_range : tuple of Finding
        One for each limit of the standard that was passed; empty when the factor is within it.

    Examples
    --------
    >>> DynoCorrection("ISO 1585", 1.02, ()).outside_range
    ()
    """

    standard: str
    factor: float
    outside_range: tuple[Finding, ...]


def _by_sae_j1349(air: OutsideAir) -> tuple[float, list[Finding]]:
    dry_kpa = air.dry_pressure_kpa
    return float(sae_j1349_factor(dry_kpa, air.temperature_c)), sae_j1349_outside_range(
        dry_kpa, air.temperature_c
    )


def _by_iso_1585(air: OutsideAir) -> tuple[float, list[Finding]]:
    dry_kpa = air.dry_pressure_kpa
    return float(iso_1585_factor(dry_kpa, air.temperature_k)), iso_1585_outside_range(
        dry_kpa, air.temperature_k
    )


def _by_sae_j607(air: OutsideAir) -> tuple[float, list[Finding]]:
    dry_kpa = air.dry_pressure_kpa
    return float(sae_j607_factor(dry_kpa, air.temperature_c)), sae_j607_outside_range(
        dry_kpa, air.temperature_c
    )


_CORRECTIONS: dict[str, Callable[[OutsideAir], tuple[float, list[Finding]]]] = {
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
    standard : str
        One of `DYNO_STANDARDS`.
    air : OutsideAir
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
    >>> correction = dyno_correction("SAE J1349", OutsideAir(85.0, 20.0, 40.0))
    >>> [passed.numbers["quantity"] for passed in correction.outside_range]
    ['dry air pressure']
    """
    if standard not in _CORRECTIONS:
        raise PhysicsError("standard", standard, f"must be one of {', '.join(DYNO_STANDARDS)}")
    factor, passed = _CORRECTIONS[standard](air)
    return DynoCorrection(standard, factor, tuple(passed))
