"""How far the voltages asked and there may be off, so that a verdict says no more than is known."""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import dataclass

import numpy as np

from sparkwright.check.assumed import SpreadTaken
from sparkwright.numeric import FloatArray


@dataclass(frozen=True)
class VoltageSpread:
    """One thing that a voltage hangs on: half the band that it gives it [%], where stated and where assumed.

    ``fields`` are the job's keys that state it; none where no job can.
    """

    name: str
    stated_percent: float
    assumed_percent: float
    origin: str
    fields: tuple[str, ...] = ()

    def taken(self, assumed: Collection[str]) -> SpreadTaken:
        """Say what was taken for a job that leaves these keys to assumption."""
        return SpreadTaken(
            self.name, f"{self.percent(assumed):g} %", not set(self.fields) & set(assumed), self.origin
        )

    def percent(self, assumed: Collection[str]) -> float:
        """Half the band [%] for a job that leaves these keys to assumption."""
        return self.assumed_percent if set(self.fields) & set(assumed) else self.stated_percent


PLUG = VoltageSpread(
    "voltage of the plug", 30.0, 30.0, "wear, deposits, mixture, hot electrodes; recalled, no source"
)
ROTOR = VoltageSpread(
    "voltage of the rotor gap",
    10.0,
    35.0,
    "the formula and a worn gap; 0.5 to 1.1 mm where 0.8 is assumed; recalled, no source",
    ("distributor.tip_radius", "distributor.post_radius"),
)
COIL = (
    VoltageSpread("losses of the coil", 10.0, 10.0, "coupling, iron and a dirty plug; recalled, no source"),
    VoltageSpread(
        "capacitance of secondary, lead and plug",
        3.0,
        15.0,
        "the peak goes with its root, and 60 to 110 pF are usual; recalled, no source",
        ("coil.secondary_capacitance",),
    ),
    VoltageSpread(
        "what coil it is",
        0.0,
        20.0,
        "coils of one kind differ in turns and inductance; recalled, no source",
        ("coil.primary_resistance", "coil.primary_inductance", "coil.turns_ratio"),
    ),
    VoltageSpread(
        "resistance of the secondary",
        0.0,
        3.0,
        "6 to 12 kohm are usual; recalled, no source",
        ("coil.secondary_resistance",),
    ),
)
"""What counts with any driver."""

CHARGE = (
    VoltageSpread(
        "ballast in the coil's feed",
        0.0,
        15.0,
        "one that nobody has seen keeps current away; recalled, no source",
        ("driver.ballast",),
    ),
    VoltageSpread(
        "voltage of the battery and of the driver",
        2.0,
        5.0,
        "half a volt or so; common practice, no source",
        ("battery.running", "battery.cranking", "driver.drop"),
    ),
    VoltageSpread(
        "energy in the coil",
        5.0,
        10.0,
        "the dwell set may be another; common practice, no source",
        ("coil.energy_wanted",),
    ),
)
"""What counts where a coil is charged."""


def asked_band_kv(plug_kv: FloatArray, rotor_kv: FloatArray, assumed: Collection[str]) -> FloatArray:
    """Give half the band of the voltage asked [kV]: plug and rotor gap are independent of each other."""
    return 0.01 * np.hypot(PLUG.percent(assumed) * plug_kv, ROTOR.percent(assumed) * rotor_kv)


def there_spreads(charged: bool) -> tuple[VoltageSpread, ...]:
    """Give what the voltage there hangs on, with a coil that is charged or one that a condenser drives."""
    return (*COIL, *CHARGE) if charged else COIL


def there_band_kv(available_kv: FloatArray, charged: bool, assumed: Collection[str]) -> FloatArray:
    """Give half the band of the voltage there [kV]."""
    percent = math.hypot(*(each.percent(assumed) for each in there_spreads(charged)))
    return 0.01 * percent * available_kv
