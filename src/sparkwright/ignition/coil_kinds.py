"""What coils of a kind usually are, for a coil that nobody has measured.

All numbers are recalled from the trade, no source. A coil is measured in five minutes with an ohmmeter, a
bridge for the inductance, and a low alternating voltage for the turns.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

CoilKind = Literal[
    "oil-filled", "oil-filled with ballast", "high-energy", "for a capacitive driver", "unknown"
]


@dataclass(frozen=True)
class UsualCoil:
    """What a coil of one kind usually is: primary [ohm, mH], turns ratio [-], secondary [kohm]."""

    primary_ohm: float
    primary_mh: float
    turns_ratio: float
    secondary_kohm: float


COIL_KINDS: dict[CoilKind, UsualCoil] = {
    "oil-filled": UsualCoil(3.0, 9.0, 70.0, 9.0),
    "oil-filled with ballast": UsualCoil(1.5, 6.5, 75.0, 9.0),
    "high-energy": UsualCoil(0.6, 4.5, 85.0, 9.0),
    "for a capacitive driver": UsualCoil(0.4, 1.2, 90.0, 2.0),
    "unknown": UsualCoil(3.0, 9.0, 60.0, 9.0),
}
"""By kind. An unknown one is taken as the weakest that is common."""


def usual_coil(kind: CoilKind | None, capacitive: bool) -> UsualCoil:
    """Give what a coil is taken to be; one that nobody named goes with its driver.

    Parameters
    ----------
    kind : CoilKind | None
        What the coil is.
    capacitive : bool
        Whether a capacitive ignition feeds it.

    Examples
    --------
    >>> usual_coil(None, capacitive=True).primary_mh, usual_coil("high-energy", capacitive=False).turns_ratio
    (1.2, 85.0)
    """
    if kind in (None, "unknown") and capacitive:
        return COIL_KINDS["for a capacitive driver"]
    return COIL_KINDS[kind or "unknown"]
