"""The distributor's body: where its own advance sits, what switches inside it, and what play costs."""

from __future__ import annotations

import math
from typing import Literal

from sparkwright.errors import PhysicsError

WeightsPlace = Literal["above the plate", "below the plate", "none"]
"""Where the centrifugal weights sit, seen from the pickup's plate; a body made for a controller has none."""

SwitchingModule = Literal["none", "own dwell", "timing input"]
"""What switches inside the body: nothing; a module that charges the coil by itself and takes no timing from
outside; one that has an input by which a controller times the spark."""

USUAL_HELIX_DEG = 45.0
"""Helix of the gear on crossed shafts at a right angle; common practice, no source."""


def side_play_crank_deg(play_mm: float, radius_mm: float) -> float:
    """Give what side play at a radius may do to the timing [crank deg].

    Parameters
    ----------
    play_mm : float
        Way along the circle that the part can move without the crank, 0 or more [mm].
    radius_mm : float
        Radius at which it was measured: trigger wheel, or pitch circle of the gear for its backlash [mm].

    Returns
    -------
    float
        The whole play, as crank degrees: twice the angle at the shaft, which turns at half crank speed.

    Raises
    ------
    PhysicsError
        For play below 0, or a radius that isn't above 0.

    Notes
    -----
    By the definition of the radian: ``2 * play / radius``.

    Examples
    --------
    >>> round(side_play_crank_deg(0.1, 20.0), 2)
    0.57
    """
    _require(play_mm, radius_mm)
    return 2.0 * math.degrees(play_mm / radius_mm)


def end_play_crank_deg(play_mm: float, pitch_radius_mm: float, helix_deg: float = USUAL_HELIX_DEG) -> float:
    """Give what end play of the shaft does through a helical drive gear [crank deg].

    A gear that slides along its own axis in mesh is screwed round by its helix, as a nut on a thread whose
    lead is ``2 pi r / tan(helix)``.

    Parameters
    ----------
    play_mm : float
        End play of the shaft, 0 or more [mm].
    pitch_radius_mm : float
        Pitch radius of the gear on the distributor's shaft [mm].
    helix_deg : float
        Its helix angle, measured from the shaft's axis, 0 for a straight gear [deg].

    Returns
    -------
    float
        The whole turn between both ends of the play [crank deg].

    Raises
    ------
    PhysicsError
        For play below 0, a radius that isn't above 0, or a helix outside 0 to 80.

    Notes
    -----
    The lead of a helix is its definition (ISO 1122-1, 1998).

    Examples
    --------
    >>> round(end_play_crank_deg(0.5, 16.0), 2)
    3.58
    """
    _require(play_mm, pitch_radius_mm)
    if not 0.0 <= helix_deg <= 80.0:
        raise PhysicsError("helix_deg", helix_deg, "must be from 0 to 80")
    return side_play_crank_deg(play_mm * math.tan(math.radians(helix_deg)), pitch_radius_mm)


def _require(play_mm: float, radius_mm: float) -> None:
    if not play_mm >= 0.0:
        raise PhysicsError("play_mm", play_mm, "must be 0 or more")
    if not radius_mm > 0.0:
        raise PhysicsError("radius_mm", radius_mm, "must be above 0")
