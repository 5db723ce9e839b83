"""The cam: when the valves open and close at a stated lift, and what that means at the seat.

Angles are crank degrees, in the four customs of a cam card: intake opens before top dead centre, intake
closes after bottom dead centre, exhaust opens before bottom dead centre, exhaust closes after top dead
centre. A negative value lies on the other side of its dead centre. Lobe separation is in camshaft degrees,
as on every cam card. Lift is the lift of the tappet, before any rocker.

Between the stated lift and the seat a model stands in for the lobe's true shape: each flank starts
from the seat with constant acceleration, ``lift = c x^2/2``. The usual acceleration is chosen so that the
angle between 0.15 mm (0.006 in) and 1.27 mm (0.050 in) comes out near 25 crank degrees a side, the difference
between the two durations on the cards of flat-tappet cams (common practice, no source). Roller cams rise
faster; a measured pair of durations gives the value for one cam (`flank_acceleration_mm_per_deg2`).
"""

from dataclasses import dataclass, fields
from math import isfinite
from typing import Literal

import numpy as np

from sparkwright.errors import PhysicsError
from sparkwright.numeric import Numeric

USUAL_FLANK_ACCELERATION_MM_PER_DEG2 = 0.00175
"""Acceleration of the tappet on a flank [mm per crank degree squared]; common practice, no source."""

EFFECTIVE_CLOSING_LIFT_MM = 1.27
"""Tappet lift (0.050 in) at which the intake valve no longer passes charge worth counting [mm]; common
practice, no source."""

NOT_SEAT_MM, MOST_USUAL_DEG = 1.0, 270.0
NEAR_SEAT_MM, LEAST_AT_SEAT_DEG, LEAST_OFF_SEAT_DEG = 0.6, 230.0, 160.0
"""Lifts [mm] and durations [deg crank] outside which a stated pair is doubted; common practice, no source."""


def flank_deg(lift_mm: Numeric, acceleration_mm_per_deg2: Numeric) -> Numeric:
    """Give the crank angle between the seat and a lift on a flank of constant acceleration.

    ``x = sqrt(2 lift/c)``

    Parameters
    ----------
    lift_mm : float or array
        Tappet lift [mm], 0 or more.
    acceleration_mm_per_deg2 : float or array
        c [mm per crank degree squared], above 0.

    Returns
    -------
    float or array
        Angle [deg crank], in the broadcast shape of the arguments.

    Notes
    -----
    Constant acceleration. It describes the first part of a flank, up to about 2 mm; higher up the lobe
    slows the tappet again.
    A choice, no source.

    Examples
    --------
    >>> round(float(flank_deg(1.27, 0.00175)), 2)
    38.1
    """
    result: Numeric = np.sqrt(2.0 * lift_mm / acceleration_mm_per_deg2)
    return result


def flank_acceleration_mm_per_deg2(
    low_lift_mm: Numeric, high_lift_mm: Numeric, duration_difference_deg: Numeric
) -> Numeric:
    """Give the flank acceleration from the durations at two lifts.

    ``c = (sqrt(2 high) - sqrt(2 low))^2/(difference/2)^2``

    Parameters
    ----------
    low_lift_mm, high_lift_mm : float or array
        The two tappet lifts [mm].
    duration_difference_deg : float or array
        Duration at the low lift less duration at the high lift [deg crank], above 0.

    Returns
    -------
    float or array
        Acceleration [mm per crank degree squared], in the broadcast shape of the arguments.

    Notes
    -----
    The inverse of `flank_deg`; both flanks alike.
    Geometry of that flank.

    Examples
    --------
    >>> round(float(flank_acceleration_mm_per_deg2(0.15, 1.27, 50.0)), 5)
    0.00175
    """
    result: Numeric = (
        (np.sqrt(2.0 * high_lift_mm) - np.sqrt(2.0 * low_lift_mm)) / (0.5 * duration_difference_deg)
    ) ** 2
    return result


def flank_overlap_area_m_deg(
    seat_overlap_deg: Numeric, rocker_ratio: Numeric, acceleration_mm_per_deg2: Numeric
) -> Numeric:
    """Give the area under one valve's lift between its seat and the middle of the overlap.

    With both flanks alike the lifts are equal halfway: ``A = R c (overlap/2)^3/6``.

    Parameters
    ----------
    seat_overlap_deg : float or array
        Overlap from seat to seat [deg crank]; 0 or below gives no area.
    rocker_ratio : float or array
        Valve lift over tappet lift [-].
    acceleration_mm_per_deg2 : float or array
        Tappet acceleration on the flank [mm per crank degree squared].

    Returns
    -------
    float or array
        Area [m deg crank], for the overlap factor of the residual module, in the broadcast shape of the
        arguments.

    Notes
    -----
    Geometry of two flanks of constant acceleration; up to about 60 deg of overlap.

    Examples
    --------
    >>> round(float(flank_overlap_area_m_deg(60.0, 1.5, 0.00175)), 5)
    0.01181
    """
    half_overlap_deg = 0.5 * np.maximum(seat_overlap_deg, 0.0)
    result: Numeric = rocker_ratio * acceleration_mm_per_deg2 * half_overlap_deg**3 / 6000.0
    return result


@dataclass(frozen=True)
class ValveEvents:
    """The four valve events of one cylinder at one tappet lift.

    Parameters
    ----------
    intake_opens_deg
        Before top dead centre [deg crank].
    intake_closes_deg
        After bottom dead centre [deg crank].
    exhaust_opens_deg
        Before bottom dead centre [deg crank].
    exhaust_closes_deg
        After top dead centre [deg crank].
    at_lift_mm
        Tappet lift at which the events are stated [mm].

    Raises
    ------
    PhysicsError
        When a value is not a number, the lift is below 0, or a valve would never open or never close.

    Examples
    --------
    >>> events = ValveEvents(10.0, 50.0, 55.0, 15.0, at_lift_mm=0.0)
    >>> events.intake_duration_deg, events.exhaust_duration_deg, events.overlap_deg
    (240.0, 250.0, 25.0)
    """

    intake_opens_deg: float
    intake_closes_deg: float
    exhaust_opens_deg: float
    exhaust_closes_deg: float
    at_lift_mm: float

    def __post_init__(self) -> None:
        """Refuse events that no camshaft has."""
        for field in fields(self):
            value = getattr(self, field.name)
            if not isfinite(value):
                raise PhysicsError(field.name, value, "must be a number")
        if self.at_lift_mm < 0.0:
            raise PhysicsError("at_lift_mm", self.at_lift_mm, "must be 0 or above")
        for name, duration_deg in (
            ("intake_duration_deg", self.intake_duration_deg),
            ("exhaust_duration_deg", self.exhaust_duration_deg),
        ):
            if not 0.0 < duration_deg < 720.0:
                raise PhysicsError(
                    name,
                    duration_deg,
                    "must be above 0 and below 720 deg",
                    "opening plus closing plus 180 gives it; check the signs of the events",
                )

    @property
    def intake_duration_deg(self) -> float:
        """Crank angle from intake opening to closing [deg]."""
        return self.intake_opens_deg + 180.0 + self.intake_closes_deg

    @property
    def exhaust_duration_deg(self) -> float:
        """Crank angle from exhaust opening to closing [deg]."""
        return self.exhaust_opens_deg + 180.0 + self.exhaust_closes_deg

    @property
    def overlap_deg(self) -> float:
        """Crank angle with both valves above the stated lift [deg]; below 0 they never are."""
        return self.intake_opens_deg + self.exhaust_closes_deg

    @property
    def intake_centreline_deg(self) -> float:
        """Middle of the intake lobe after top dead centre [deg crank]."""
        return 0.5 * self.intake_duration_deg - self.intake_opens_deg

    @property
    def exhaust_centreline_deg(self) -> float:
        """Middle of the exhaust lobe before top dead centre [deg crank]."""
        return 0.5 * self.exhaust_duration_deg - self.exhaust_closes_deg

    @property
    def lobe_separation_deg(self) -> float:
        """Angle between the middles of the lobes [deg CAMSHAFT]."""
        return 0.5 * (self.intake_centreline_deg + self.exhaust_centreline_deg)

    def at_lift(
        self, lift_mm: float, acceleration_mm_per_deg2: float = USUAL_FLANK_ACCELERATION_MM_PER_DEG2
    ) -> "ValveEvents":
        """Carry the events to another tappet lift along flanks of constant acceleration.

        Parameters
        ----------
        lift_mm : float
            Tappet lift wanted [mm]; 0 is the seat.
        acceleration_mm_per_deg2 : float
            Acceleration of the flanks [mm per crank degree squared].

        Returns
        -------
        ValveEvents
            The events at that lift; the middles of the lobes stay where they are.

        Raises
        ------
        PhysicsError
            When the lift is below 0, the acceleration not above 0, or the valve never reaches the lift.

        Examples
        --------
        >>> stated = ValveEvents(-5.0, 29.0, 44.0, -10.0, at_lift_mm=1.27)
        >>> round(stated.at_lift(0.15).intake_duration_deg - stated.intake_duration_deg, 1)
        50.0
        """
        if not lift_mm >= 0.0:
            raise PhysicsError("lift_mm", lift_mm, "must be 0 or above")
        if not acceleration_mm_per_deg2 > 0.0:
            raise PhysicsError(
                "acceleration_mm_per_deg2", acceleration_mm_per_deg2, "must be above 0, or no valve opens"
            )
        wider_deg = float(
            flank_deg(self.at_lift_mm, acceleration_mm_per_deg2)
            - flank_deg(lift_mm, acceleration_mm_per_deg2)
        )
        return ValveEvents(
            intake_opens_deg=self.intake_opens_deg + wider_deg,
            intake_closes_deg=self.intake_closes_deg + wider_deg,
            exhaust_opens_deg=self.exhaust_opens_deg + wider_deg,
            exhaust_closes_deg=self.exhaust_closes_deg + wider_deg,
            at_lift_mm=lift_mm,
        )


def events_from_durations(
    intake_duration_deg: float,
    exhaust_duration_deg: float,
    intake_centreline_deg: float,
    lobe_separation_deg: float,
    at_lift_mm: float,
) -> ValveEvents:
    """Derive the four events from the other way a cam card states them.

    The exhaust lobe's middle stands ``2 x separation - intake centreline`` before top dead centre; each event
    is half a duration from its middle.

    Parameters
    ----------
    intake_duration_deg, exhaust_duration_deg : float
        Durations at the stated lift [deg crank].
    intake_centreline_deg : float
        Middle of the intake lobe after top dead centre [deg crank].
    lobe_separation_deg : float
        Angle between the middles of the lobes [deg CAMSHAFT].
    at_lift_mm : float
        Tappet lift of the durations [mm].

    Returns
    -------
    ValveEvents
        The events at that lift.

    Raises
    ------
    PhysicsError
        As `ValveEvents`.

    Notes
    -----
    Geometry; both flanks of a lobe alike.

    Examples
    --------
    >>> events = events_from_durations(207.0, 213.0, 108.0, 111.5, at_lift_mm=1.27)
    >>> events.intake_opens_deg, events.intake_closes_deg
    (-4.5, 31.5)
    >>> events.exhaust_opens_deg, events.exhaust_closes_deg
    (41.5, -8.5)
    """
    exhaust_centreline_deg = 2.0 * lobe_separation_deg - intake_centreline_deg
    return ValveEvents(
        intake_opens_deg=0.5 * intake_duration_deg - intake_centreline_deg,
        intake_closes_deg=0.5 * intake_duration_deg + intake_centreline_deg - 180.0,
        exhaust_opens_deg=0.5 * exhaust_duration_deg + exhaust_centreline_deg - 180.0,
        exhaust_closes_deg=0.5 * exhaust_duration_deg - exhaust_centreline_deg,
        at_lift_mm=at_lift_mm,
    )


def effective_intake_closing_deg(
    events: ValveEvents,
    acceleration_mm_per_deg2: float = USUAL_FLANK_ACCELERATION_MM_PER_DEG2,
) -> float:
    """Give the crank angle at which the charge counts as shut in.

    It is where the closing intake flank passes `EFFECTIVE_CLOSING_LIFT_MM`; the last of the flank passes too
    little to count.

    Parameters
    ----------
    events : ValveEvents
        Valve events at any lift.
    acceleration_mm_per_deg2 : float
        Acceleration of the flanks [mm per crank degree squared].

    Returns
    -------
    float
        Crank angle from the firing top dead centre [deg], below 0.

    Raises
    ------
    PhysicsError
        As `ValveEvents.at_lift`.

    Notes
    -----
    Common practice, no source: what a lobe lifts by less hardly lets anything through.

    Examples
    --------
    >>> effective_intake_closing_deg(ValveEvents(-5.0, 29.0, 44.0, -10.0, at_lift_mm=1.27))
    -151.0
    """
    closing = events.at_lift(EFFECTIVE_CLOSING_LIFT_MM, acceleration_mm_per_deg2)
    return closing.intake_closes_deg - 180.0


def doubted_duration(duration_deg: float, at_lift_mm: float) -> Literal["long", "short"] | None:
    """Say whether a duration hardly fits the lift at which it is said to be counted.

    Parameters
    ----------
    duration_deg : float
        Duration [deg crank].
    at_lift_mm : float
        Tappet lift at which it is counted [mm].

    Returns
    -------
    {"long", "short"} or None
        "long" for more than 270 deg at 1 mm or more, which few engines for the road have: such a figure is
        mostly an advertised one. "short" for less than 230 deg at 0.6 mm or less, or less than 160 at more:
        such a figure near the seat is mostly one counted at 0.050 in.

    Notes
    -----
    Bounds are common practice, no source.

    Examples
    --------
    >>> doubted_duration(280.0, 1.27), doubted_duration(207.0, 0.15), doubted_duration(207.0, 1.27)
    ('long', 'short', None)
    """
    if at_lift_mm >= NOT_SEAT_MM and duration_deg > MOST_USUAL_DEG:
        return "long"
    least_deg = LEAST_AT_SEAT_DEG if at_lift_mm <= NEAR_SEAT_MM else LEAST_OFF_SEAT_DEG
    return "short" if duration_deg < least_deg else None
