"""Several sparks for one cylinder while cranking: where each falls, and whether it finds its post."""

from __future__ import annotations

import math
from dataclasses import dataclass

from sparkwright.errors import PhysicsError
from sparkwright.ignition.rotor import RotorCap


def crank_deg_turned(speed_rpm: float, time_ms: float) -> float:
    """Crank degrees turned in a time, `6 N t` with t in seconds.

    Parameters
    ----------
    speed_rpm : float
        Crank speed [rpm].
    time_ms : float
        Time [ms].

    Notes
    -----
    Definition of speed.

    Examples
    --------
    >>> crank_deg_turned(3000.0, 0.05)
    0.9
    """
    return speed_rpm * time_ms * 6.0 / 1000.0


@dataclass(frozen=True)
class CrankingSpark:
    """One of a row of sparks.

    ``advance_deg`` is where the crank then stands [deg before top dead centre, negative after].
    ``under_post``: the tip covers the right post. ``right_cylinder``: of all posts the right one is
    still the nearest, so the spark has no shorter way to another cylinder.
    """

    number: int
    time_ms: float
    advance_deg: float
    under_post: bool
    right_cylinder: bool


def cranking_sparks(
    cap: RotorCap, *, first_advance_deg: float, sparks: int, spacing_ms: float, speed_rpm: float
) -> tuple[CrankingSpark, ...]:
    """Where a row of sparks falls at a steady cranking speed.

    Parameters
    ----------
    cap : RotorCap
        The rotor in its cap.
    first_advance_deg : float
        Advance of the first spark [crank deg].
    sparks : int
        How many, at least 1.
    spacing_ms : float
        Time from one to the next [ms]; not used for a single spark.
    speed_rpm : float
        Cranking speed [rpm]. It swings within each compression; the mean is taken.

    Returns
    -------
    tuple of CrankingSpark
        In the order in which they come.

    Raises
    ------
    PhysicsError
        For fewer than one spark, or a spacing or speed not above 0.

    Notes
    -----
    Definition of a steady speed.

    Examples
    --------
    >>> cap = RotorCap(8, 29.2, 6.0, 30.0, 2.5, base_deg=10.0)
    >>> [round(spark.advance_deg, 2) for spark in cranking_sparks(
    ...     cap, first_advance_deg=10.0, sparks=3, spacing_ms=5.0, speed_rpm=180.0)]
    [10.0, 4.6, -0.8]
    """
    if sparks < 1:
        raise PhysicsError("sparks", sparks, "must be at least 1")
    for name, value in (("spacing_ms", spacing_ms), ("speed_rpm", speed_rpm)):
        if not (math.isfinite(value) and value > 0.0):
            raise PhysicsError(name, value, "must be above 0")
    row = []
    for index in range(sparks):
        time_ms = index * spacing_ms
        advance_deg = first_advance_deg - crank_deg_turned(speed_rpm, time_ms)
        offset = abs(float(cap.offset_distributor_deg(advance_deg)))
        row.append(
            CrankingSpark(
                number=index + 1,
                time_ms=time_ms,
                advance_deg=advance_deg,
                under_post=offset <= cap.half_window_distributor_deg,
                right_cylinder=offset < cap.pitch_distributor_deg / 2.0,
            )
        )
    return tuple(row)
