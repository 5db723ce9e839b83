"""Octane: what stands on the pump, what a blend gives, and which number the knock formula takes.

Two test engines rate a fuel: the research method runs cool for its pressure, the motor method hot. How much
of each counts in another engine follows from how hot and how fast it runs, see `motor_weight`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from sparkwright.errors import PhysicsError
from sparkwright.numeric import Numeric

#: Pressure at which the temperature of the charge decides between research and motor octane number [Pa].
WEIGHING_PRESSURE_PA: Final = 15e5

#: Speed from which the motor weight counts the speed [rpm]: that of the research method (ASTM D2699).
WEIGHING_SPEED_RPM: Final = 600.0

#: Width over which the motor weight is held between 0 and 1 [-]; a choice.
MOTOR_WEIGHT_ROUNDING: Final = 0.05

# Research number of pump gasolines and how far the motor number lies below it. 91/83, 95/85 and 98/88 are
# common grades; the sensitivity of 4 at 70 stands for old straight-run gasoline (recalled).
_COMMON_RON: Final = np.array([70.0, 91.0, 95.0, 120.0])
_COMMON_SENSITIVITY: Final = np.array([4.0, 8.0, 10.0, 10.0])

_LOWEST_OCTANE: Final = 40.0
_HIGHEST_OCTANE: Final = 130.0


def anti_knock_index(ron: Numeric, mon: Numeric) -> Numeric:
    """Anti-knock index, as posted on pumps in North America: ``(RON + MON)/2``.

    Parameters
    ----------
    ron, mon : float or array
        Research and motor octane number [-].

    Returns
    -------
    float or array
        Index [-], in the broadcast shape of the arguments.

    Notes
    -----
    16 CFR 306; ASTM D4814.

    Examples
    --------
    >>> anti_knock_index(91.0, 83.0)
    87.0
    """
    return 0.5 * (ron + mon)


def kalghatgi_octane_index(ron: Numeric, mon: Numeric, motor_weight: Numeric) -> Numeric:
    """Octane index of an engine that weighs the two octane numbers: ``(1 - K) RON + K MON``.

    Parameters
    ----------
    ron, mon : float or array
        Research and motor octane number [-].
    motor_weight : float or array
        K [-]: 0 makes it the research number, 1 the motor number, a half the anti-knock index; see
        `motor_weight`.

    Returns
    -------
    float or array
        Index [-], in the broadcast shape of the arguments.

    Notes
    -----
    Kalghatgi, SAE 2001-01-3584 (2001), recalled.

    Examples
    --------
    >>> kalghatgi_octane_index(98.0, 88.0, 0.5)
    93.0
    """
    return (1.0 - motor_weight) * ron + motor_weight * mon


def charge_heat_k(temperature_k: Numeric, speed_rpm: Numeric, speed_k: float) -> Numeric:
    """Say how hot a charge runs for the weighing of the octane numbers: ``T_15 + s ln(N/600)``.

    Parameters
    ----------
    temperature_k : float or array
        T_15, of the unburned charge where compression without heat has brought it to 15 bar [K].
    speed_rpm : float or array
        N, engine speed [rpm], above 0.
    speed_k : float
        s [K], see ``sparkwright.cycle.engine.Constants``.

    Returns
    -------
    float or array
        The measure [K], in the broadcast shape of the arguments.

    Notes
    -----
    Kalghatgi weighs by T_15 alone (SAE 2005-01-0244, 2005). That alone puts every warm V8 beside the research
    test, while the anti-knock index, the mean of both numbers, is posted because such engines knock by it. A
    faster engine leaves its end gas less time, so that it knocks hotter: speed is the second variable.

    Examples
    --------
    >>> float(charge_heat_k(720.0, 600.0, 90.0))
    720.0
    """
    result: Numeric = temperature_k + speed_k * np.log(speed_rpm / WEIGHING_SPEED_RPM)
    return result


def motor_weight(heat_k: Numeric, research_k: float, motor_k: float) -> Numeric:
    """Weight K of the motor octane number: 0 at the heat of the research test, 1 at that of the motor test.

    Parameters
    ----------
    heat_k : float or array
        Of `charge_heat_k` [K].
    research_k, motor_k : float
        What `charge_heat_k` gives for the program's own simulation of the two tests [K].

    Returns
    -------
    float or array
        K [-], in the shape of the first argument, for `kalghatgi_octane_index`.

    Notes
    -----
    By definition the research test rates by the one number and the motor test by the other; between them the
    weight goes straight. Kalghatgi, SAE 2001-01-3584 (2001), measured values below 0 in engines that run
    cooler than the research test, and above 1 (recalled); that a fuel is credited with no more than the one
    number and no less than the other is our choice.

    Examples
    --------
    >>> round(float(motor_weight(800.0, 700.0, 900.0)), 3)
    0.5
    """
    line = (heat_k - research_k) / (motor_k - research_k)
    width = MOTOR_WEIGHT_ROUNDING
    held: Numeric = 0.5 * (1.0 + np.sqrt(line**2 + width**2) - np.sqrt((line - 1.0) ** 2 + width**2))
    return held


@dataclass(frozen=True)
class Octane:
    """Octane numbers of a fuel as it is sold, its ethanol included.

    Attributes
    ----------
    ron, mon
        Research and motor octane number [-].
    assumed
        What was not given and how it was filled in, one sentence each.
    """

    ron: float
    mon: float
    assumed: tuple[str, ...] = ()

    @property
    def anti_knock_index(self) -> float:
        """Half the sum of the two numbers [-]."""
        return float(anti_knock_index(self.ron, self.mon))

    @property
    def sensitivity(self) -> float:
        """Research less motor octane number [-]."""
        return self.ron - self.mon


def octane_of_fuel(ron: float | None = None, mon: float | None = None, aki: float | None = None) -> Octane:
    """Make both octane numbers out of whichever are known.

    Parameters
    ----------
    ron, mon, aki : float | None
        Research and motor octane number and anti-knock index [-], 40 to 130; at least one, None where
        unknown.

    Returns
    -------
    Octane
        Both numbers; where only one was known, the other is that of common pump gasolines, and it says so.

    Raises
    ------
    PhysicsError
        When nothing is known, a number is outside 40 to 130, or the motor number comes out above the research
        one.

    Notes
    -----
    Common grades: 91/83, 95/85, 98/88 (recalled). A fuel with much ethanol is more sensitive than they are:
    give both numbers for it.

    Examples
    --------
    >>> octane_of_fuel(ron=95.0)
    Octane(ron=95.0, mon=85.0, assumed=('MON 85.0, as common gasoline of RON 95.0 has it',))
    >>> octane_of_fuel(aki=87.0).ron
    91.0
    """
    for field, value in (("ron", ron), ("mon", mon), ("aki", aki)):
        if value is not None and not _LOWEST_OCTANE <= value <= _HIGHEST_OCTANE:
            raise PhysicsError(field, value, "must be from 40 to 130", "no motor fuel lies outside")
    if ron is not None and mon is not None:
        return _checked(Octane(ron, mon))
    if aki is not None and ron is not None:
        return _checked(Octane(ron, 2.0 * aki - ron))
    if aki is not None and mon is not None:
        return _checked(Octane(2.0 * aki - mon, mon))
    if ron is not None:
        mon = ron - float(np.interp(ron, _COMMON_RON, _COMMON_SENSITIVITY))
        return Octane(ron, mon, (f"MON {mon:.1f}, as common gasoline of RON {ron:.1f} has it",))
    if mon is not None:
        ron = mon + float(np.interp(mon, _COMMON_RON - _COMMON_SENSITIVITY, _COMMON_SENSITIVITY))
        return Octane(ron, mon, (f"RON {ron:.1f}, as common gasoline of MON {mon:.1f} has it",))
    if aki is not None:
        half = 0.5 * float(np.interp(aki, _COMMON_RON - 0.5 * _COMMON_SENSITIVITY, _COMMON_SENSITIVITY))
        assumed = (
            f"RON {aki + half:.1f} and MON {aki - half:.1f}, as common gasoline of AKI {aki:.1f} has them"
        )
        return Octane(aki + half, aki - half, (assumed,))
    raise PhysicsError("ron", None, "must be given, or mon or aki", "read it at the pump")


def _checked(octane: Octane) -> Octane:
    if octane.mon > octane.ron:
        raise PhysicsError(
            "mon", octane.mon, f"must not be above ron ({octane.ron:g})", "perhaps they are swapped"
        )
    return octane
