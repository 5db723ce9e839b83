"""How far the voltages asked and there may be off, so that a verdict says no more than is known."""

from __future__ import annotations

import math
from collections.abc import Collection

import numpy as np

from sparkwright.job import usual
from sparkwright.numeric import FloatArray

COIL = (usual.COIL_LOSSES, usual.SECONDARY_CAPACITANCE, usual.KIND_OF_COIL, usual.SECONDARY_RESISTANCE)
"""What the voltage there hangs on with any driver."""

CHARGE = (usual.BALLAST, usual.BATTERY, usual.ENERGY)
"""What it also hangs on where a coil is charged."""


def asked_band_kv(plug_kv: FloatArray, rotor_kv: FloatArray, assumed: Collection[str]) -> FloatArray:
    """Give half the band of the voltage asked [kV]: plug and rotor gap are independent of each other.

    Parameters
    ----------
    plug_kv : array
        What the plug asks [kV].
    rotor_kv : array, same shape
        What the rotor gap asks [kV].
    assumed : collection of str
        Keys that were left to assumption.
    """
    plug, rotor = usual.PLUG_VOLTAGE.amount(assumed), usual.ROTOR_GAP.amount(assumed)
    return 0.01 * np.hypot(plug * plug_kv, rotor * rotor_kv)


def there_spreads(charged: bool) -> tuple[usual.Spread, ...]:
    """Give what the voltage there hangs on, with a coil that is charged or one that a condenser drives.

    Parameters
    ----------
    charged : bool
        Whether the coil is charged, and not fed by a condenser.
    """
    return (*COIL, *CHARGE) if charged else COIL


def there_band_kv(available_kv: FloatArray, charged: bool, assumed: Collection[str]) -> FloatArray:
    """Give half the band of the voltage there [kV].

    Parameters
    ----------
    available_kv : array
        Voltage there [kV].
    charged : bool
        Whether the coil is charged, and not fed by a condenser.
    assumed : collection of str
        Keys that were left to assumption.
    """
    percent = math.hypot(*(each.amount(assumed) for each in there_spreads(charged)))
    return 0.01 * percent * available_kv
