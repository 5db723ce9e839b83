"""Rotor and cap: over which advances the tip covers its post, and how far it stands from the others.

The rotor turns at half crank speed. Where its tip stands when the spark comes is an offset in
distributor degrees from the centre of the post that is meant, positive in the direction of rotation.
A spark at more advance is earlier: the tip has not come so far, so the offset falls.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from sparkwright.errors import PhysicsError
from sparkwright.numeric import Numeric

Rotation = Literal["clockwise", "anticlockwise"]

SUPPORTED_CYLINDERS = (4, 6, 8)

LEAST_REACH_DEG = 0.5
"""Smallest lack of reach worth telling [crank deg]: no light and no caliper shows less; a choice."""

SIZE_SPREAD = 0.15
"""Share by which the widths of a cap that nobody measured may differ from its size class.
Common practice, no source: our own allowance."""


def subtended_deg(width_mm: Numeric, radius_mm: Numeric) -> Numeric:
    """Angle that a straight conductor of a width covers, seen from the shaft.

    Parameters
    ----------
    width_mm : float or array
        Width across the direction of rotation [mm].
    radius_mm : float or array
        Radius at which it stands [mm], at least half the width.

    Returns
    -------
    float or array
        Angle [distributor deg], `2 asin(w / 2R)`. Plane geometry, exact.

    Examples
    --------
    >>> round(float(subtended_deg(8.0, 30.0)), 4)
    15.3245
    """
    return 2.0 * np.arcsin(width_mm / (2.0 * radius_mm)) * (180.0 / np.pi)


def corner_gap_mm(
    inner_radius_mm: Numeric, outer_radius_mm: Numeric, apart_distributor_deg: Numeric
) -> Numeric:
    """Straight distance between a corner of the tip and a corner of a post.

    Parameters
    ----------
    inner_radius_mm, outer_radius_mm : float or array
        Radii of the two corners [mm].
    apart_distributor_deg : float or array
        Angle between them [distributor deg].

    Returns
    -------
    float or array
        Distance [mm], the law of cosines. At 0 deg it is the radial gap.

    Notes
    -----
    Geometry.

    Examples
    --------
    >>> round(float(corner_gap_mm(29.0, 30.0, 6.0)), 4)
    3.2453
    """
    cosine = np.cos(apart_distributor_deg * (np.pi / 180.0))
    return np.sqrt(
        inner_radius_mm * inner_radius_mm
        + outer_radius_mm * outer_radius_mm
        - 2.0 * inner_radius_mm * outer_radius_mm * cosine
    )


def pitch_distributor_deg(cylinders: int) -> float:
    """Angle between one post and the next [distributor deg]; twice that in crank degrees.

    Parameters
    ----------
    cylinders : int
        Posts of the cap [-].

    Notes
    -----
    Geometry.

    Examples
    --------
    >>> pitch_distributor_deg(8), 2 * pitch_distributor_deg(6)
    (45.0, 120.0)
    """
    return 360.0 / cylinders


def arc_mm_per_crank_deg(radius_mm: Numeric) -> Numeric:
    """Length on the cap that one crank degree is worth [mm]: half a degree of arc at this radius.

    Parameters
    ----------
    radius_mm : float or array
        Radius of the rotor tip [mm].

    Notes
    -----
    Geometry.

    Examples
    --------
    >>> round(float(arc_mm_per_crank_deg(30.0)), 4)
    0.2618
    """
    return radius_mm * (np.pi / 360.0)


def tip_offset_distributor_deg(
    advance_deg: Numeric, base_deg: Numeric, phase_distributor_deg: Numeric
) -> Numeric:
    """Where the tip stands at a spark, from the centre of its post, positive in rotation.

    Parameters
    ----------
    advance_deg : float or array
        Advance of the spark [crank deg before top dead centre].
    base_deg : float or array
        Advance at which the engine fires when the controller adds nothing [crank deg].
    phase_distributor_deg : float or array
        How far ahead of the post, in rotation, the tip stands at base [distributor deg].

    Returns
    -------
    float or array
        Offset [distributor deg], `phase - (advance - base) / 2`. Geometry: the distributor turns at
        half crank speed. Holds for a rotor that moves with the crank, its own advance locked.

    Examples
    --------
    >>> tip_offset_distributor_deg(30.0, 16.0, 0.0)
    -7.0
    """
    return phase_distributor_deg - (advance_deg - base_deg) / 2.0


@dataclass(frozen=True)
class CapSize:
    """Usual dimensions of a size of cap, for what was not measured [mm].

    Recalled from handling such parts, no printed source; widths may differ by `SIZE_SPREAD`.
    """

    tip_radius_mm: float
    tip_width_mm: float
    post_radius_mm: float
    post_width_mm: float


CAP_SIZES = {
    "small": CapSize(tip_radius_mm=23.2, tip_width_mm=5.0, post_radius_mm=24.0, post_width_mm=2.5),
    "medium": CapSize(tip_radius_mm=29.2, tip_width_mm=6.0, post_radius_mm=30.0, post_width_mm=2.5),
    "large": CapSize(tip_radius_mm=40.0, tip_width_mm=8.0, post_radius_mm=41.0, post_width_mm=3.5),
}


@dataclass(frozen=True)
class Reach:
    """Span of advance over which the tip covers its post [crank deg].

    ``least_deg`` is where the arc leaves the trailing edge (cranking), ``most_deg`` where it leaves
    the leading edge (most advance).
    """

    least_deg: float
    most_deg: float
    base_deg: float

    @property
    def above_base_deg(self) -> float:
        """Advance that can be added to base before the tip leaves its post [crank deg]."""
        return self.most_deg - self.base_deg

    @property
    def width_deg(self) -> float:
        """Whole span [crank deg]."""
        return self.most_deg - self.least_deg


@dataclass(frozen=True)
class PhaseAdvice:
    """The phase that puts the middle of the wanted span of advance over the middle of the post.

    ``phase_distributor_deg`` is counted from an unphased rotor, ``move_...`` from where it stands
    today; both positive in the direction of rotation. ``spare_deg`` is what is left between either
    end of the wanted span and the edge of the post [crank deg]; below 0 no phase covers the span.
    """

    phase_distributor_deg: float
    move_distributor_deg: float
    move_mm: float
    move_tip_fraction: float
    phase_tip_fraction: float
    spare_deg: float


@dataclass(frozen=True)
class RotorCap:
    """A rotor in its cap, set at a base.

    Parameters
    ----------
    cylinders : int
        4, 6 or 8, firing evenly.
    tip_radius_mm, tip_width_mm : float
        Radius and width of the rotor tip [mm].
    post_radius_mm, post_width_mm : float
        Radius and width of the posts in the cap [mm].
    base_deg : float
        Advance at which the engine fires when the controller adds nothing [crank deg].
    phase_distributor_deg : float
        How far ahead of the post's centre, in rotation, the tip stands at base [distributor deg].

    Raises
    ------
    PhysicsError
        Where the parts can't be built: no gap between tip and post, posts wider than their pitch.

    Examples
    --------
    >>> cap = RotorCap(8, 29.2, 6.0, 30.0, 2.5, base_deg=10.0)
    >>> round(cap.reach().above_base_deg, 1)
    16.6
    """

    cylinders: int
    tip_radius_mm: float
    tip_width_mm: float
    post_radius_mm: float
    post_width_mm: float
    base_deg: float
    phase_distributor_deg: float = 0.0

    def __post_init__(self) -> None:
        if self.cylinders not in SUPPORTED_CYLINDERS:
            raise PhysicsError("cylinders", self.cylinders, "must be 4, 6 or 8, firing evenly")
        for name in ("tip_radius_mm", "tip_width_mm", "post_radius_mm", "post_width_mm"):
            value = getattr(self, name)
            if not (math.isfinite(value) and value > 0.0):
                raise PhysicsError(name, value, "must be above 0 mm", "measure it with a caliper")
        for name in ("base_deg", "phase_distributor_deg"):
            if not math.isfinite(getattr(self, name)):
                raise PhysicsError(name, getattr(self, name), "must be a number of degrees")
        if self.tip_radius_mm >= self.post_radius_mm:
            raise PhysicsError(
                "tip_radius_mm",
                self.tip_radius_mm,
                f"must be below post_radius_mm = {self.post_radius_mm}",
                "the tip turns inside the posts without touching them",
            )
        if self.tip_width_mm >= 2.0 * self.tip_radius_mm:
            raise PhysicsError(
                "tip_width_mm", self.tip_width_mm, f"must be below {2.0 * self.tip_radius_mm:g} mm"
            )
        chord_mm = 2.0 * self.post_radius_mm * math.sin(math.pi / self.cylinders)
        if self.post_width_mm >= chord_mm:
            raise PhysicsError(
                "post_width_mm",
                self.post_width_mm,
                f"must be below {chord_mm:.1f} mm, the distance from post to post",
                "wider posts would touch one another",
            )

    @property
    def pitch_distributor_deg(self) -> float:
        """Angle from post to post [distributor deg]."""
        return pitch_distributor_deg(self.cylinders)

    @property
    def tip_distributor_deg(self) -> float:
        """Angle the tip covers [distributor deg]."""
        return float(subtended_deg(self.tip_width_mm, self.tip_radius_mm))

    @property
    def post_distributor_deg(self) -> float:
        """Angle a post covers [distributor deg]."""
        return float(subtended_deg(self.post_width_mm, self.post_radius_mm))

    @property
    def half_window_distributor_deg(self) -> float:
        """Largest offset at which tip and post still face each other [distributor deg]."""
        return (self.tip_distributor_deg + self.post_distributor_deg) / 2.0

    def offset_distributor_deg(self, advance_deg: Numeric) -> Numeric:
        """Where the tip stands at a spark of this advance; see `tip_offset_distributor_deg`.

        Parameters
        ----------
        advance_deg : float or array
            Advance [crank deg].
        """
        return tip_offset_distributor_deg(advance_deg, self.base_deg, self.phase_distributor_deg)

    def tip_arc_mm(self, angle_distributor_deg: float) -> float:
        """Length along the circle of the tip's end for an angle of the distributor [mm].

        Parameters
        ----------
        angle_distributor_deg : float
            Angle [distributor deg].

        Examples
        --------
        >>> round(RotorCap(8, 29.2, 6.0, 30.0, 2.5, base_deg=10.0).tip_arc_mm(10.0), 3)
        5.096
        """
        return self.tip_radius_mm * math.pi / 180.0 * angle_distributor_deg

    def reach(self) -> Reach:
        """Span of advance over which the tip covers its post.

        Examples
        --------
        >>> reach = RotorCap(8, 29.2, 6.0, 30.0, 2.5, 10.0, phase_distributor_deg=6.0).reach()
        >>> round(reach.least_deg, 1), round(reach.most_deg, 1)
        (5.4, 38.6)
        """
        centre_deg = self.base_deg + 2.0 * self.phase_distributor_deg
        half_deg = 2.0 * self.half_window_distributor_deg
        return Reach(centre_deg - half_deg, centre_deg + half_deg, self.base_deg)

    def covers(self, advance_deg: float) -> bool:
        """Whether the tip covers its post at this advance.

        Parameters
        ----------
        advance_deg : float
            Advance [crank deg].
        """
        reach = self.reach()
        return reach.least_deg <= advance_deg <= reach.most_deg

    def advice(self, least_deg: float, most_deg: float) -> PhaseAdvice:
        """Phase that centres a wanted span of advance on the post.

        Parameters
        ----------
        least_deg, most_deg : float
            Span that the rotor must cover, cranking included [crank deg].

        Returns
        -------
        PhaseAdvice
            Moving the tip ahead, in rotation, raises the reach by two crank degrees a degree.

        Raises
        ------
        PhysicsError
            Where the span runs backwards.

        Examples
        --------
        >>> RotorCap(8, 29.2, 6.0, 30.0, 2.5, base_deg=10.0).advice(10.0, 34.0).move_distributor_deg
        6.0
        """
        if not least_deg <= most_deg:
            raise PhysicsError("least_deg", least_deg, f"must not be above most_deg = {most_deg}")
        phase = ((least_deg + most_deg) / 2.0 - self.base_deg) / 2.0
        move = phase - self.phase_distributor_deg
        tip_mm_per_deg = self.tip_radius_mm * math.pi / 180.0
        return PhaseAdvice(
            phase_distributor_deg=phase,
            move_distributor_deg=move,
            move_mm=move * tip_mm_per_deg,
            move_tip_fraction=move * tip_mm_per_deg / self.tip_width_mm,
            phase_tip_fraction=phase * tip_mm_per_deg / self.tip_width_mm,
            spare_deg=(self.reach().width_deg - (most_deg - least_deg)) / 2.0,
        )

    def gap_at_offset_mm(self, offset_distributor_deg: Numeric) -> Numeric:
        """Air from the tip to a post that lies this far behind it [mm].

        Where they face each other this is the radial gap, beyond that the straight line from corner
        to corner. Counts the shorter way round the cap.

        Parameters
        ----------
        offset_distributor_deg : float or array
            Offset of tip and post [distributor deg].
        """
        half_turn = np.mod(np.abs(offset_distributor_deg), 360.0)
        shorter = np.minimum(half_turn, 360.0 - half_turn)
        beyond = np.maximum(shorter - self.half_window_distributor_deg, 0.0)
        return corner_gap_mm(self.tip_radius_mm, self.post_radius_mm, beyond)

    def right_gap_mm(self, advance_deg: Numeric) -> Numeric:
        """Air from the tip to the post that is meant [mm].

        Parameters
        ----------
        advance_deg : float or array
            Advance [crank deg].

        Examples
        --------
        >>> round(float(RotorCap(8, 29.2, 6.0, 30.0, 2.5, base_deg=10.0).right_gap_mm(20.0)), 3)
        0.8
        """
        return self.gap_at_offset_mm(self.offset_distributor_deg(advance_deg))

    def next_gap_mm(self, advance_deg: Numeric) -> Numeric:
        """Air from the tip to the post that fires next [mm].

        Parameters
        ----------
        advance_deg : float or array
            Advance [crank deg].
        """
        return self.gap_at_offset_mm(self.offset_distributor_deg(advance_deg) - self.pitch_distributor_deg)

    def previous_gap_mm(self, advance_deg: Numeric) -> Numeric:
        """Air from the tip to the post that has just fired [mm].

        Parameters
        ----------
        advance_deg : float or array
            Advance [crank deg].
        """
        return self.gap_at_offset_mm(self.offset_distributor_deg(advance_deg) + self.pitch_distributor_deg)


def post_bearing_deg(number: int, cylinders: int, rotation: Rotation) -> float:
    """Bearing of a post seen from above, clockwise from post 0 [distributor deg].

    Parameters
    ----------
    number : int
        Posts counted from 0 in the direction of rotation.
    cylinders : int
        Posts in the cap.
    rotation : {"clockwise", "anticlockwise"}
        Which way the rotor turns, seen from above the cap.

    Notes
    -----
    Geometry.

    Examples
    --------
    >>> post_bearing_deg(1, 8, "clockwise"), post_bearing_deg(1, 8, "anticlockwise")
    (45.0, 315.0)
    """
    along = number * pitch_distributor_deg(cylinders)
    return (along if rotation == "clockwise" else -along) % 360.0


def tip_bearing_deg(cap: RotorCap, advance_deg: float, rotation: Rotation) -> float:
    """Bearing of the tip at the spark for post 0, clockwise from that post, -180 to 180 [distributor deg].

    Parameters
    ----------
    cap : RotorCap
        Cap and rotor.
    advance_deg : float
        Advance at which the spark comes [crank deg].
    rotation : Rotation
        Which way the rotor turns, seen from above.

    Notes
    -----
    Geometry.

    Examples
    --------
    >>> cap = RotorCap(8, 29.2, 6.0, 30.0, 2.5, base_deg=10.0)
    >>> tip_bearing_deg(cap, 20.0, "clockwise"), tip_bearing_deg(cap, 20.0, "anticlockwise")
    (-5.0, 5.0)
    """
    offset = float(cap.offset_distributor_deg(advance_deg))
    return offset if rotation == "clockwise" else -offset
