"""Setting the distributor with the engine standing: where the crank stands, which way to turn the body."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from sparkwright.findings import Finding
from sparkwright.ignition.rotor import Rotation, arc_mm_per_crank_deg
from sparkwright.job.sections.pickup import PickupKind
from sparkwright.mounting.questions import SETTING

RIGHT_WITHIN_DEG = 0.25
"""What is left to turn where nobody turns [crank deg]. Common practice, no source."""

_WAYS: dict[Rotation, Rotation] = {"clockwise": "anticlockwise", "anticlockwise": "clockwise"}


@dataclass(frozen=True)
class StaticSetting:
    """How to set the distributor with the engine standing.

    Attributes
    ----------
    base_deg : float
        Advance at which the engine fires when the controller adds nothing [crank deg].
    mark_error_deg : float or None
        What the mark shows at true top dead centre; None where nobody proved it.
    shown_deg : float
        What the balancer must show at the pointer, positive before [crank deg].
    earlier_way, later_way : str
        Which way to turn the body for an earlier or later spark, seen from above.
    mm_per_crank_deg : float or None
        Way along the housing's rim for one crank degree [mm]; None where its diameter is not known.
    turn_crank_deg, turn_distributor_deg, turn_mm : float or None
        From what a light saw to base: positive for an earlier spark; None where nothing was seen.
    tip_ahead_distributor_deg : float
        Where the tip stands then, ahead of the middle of post 1 in rotation [distributor deg].
    """

    base_deg: float
    mark_error_deg: float | None
    shown_deg: float
    rotation: Rotation
    pickup: PickupKind
    earlier_way: Rotation
    later_way: Rotation
    housing_diameter_mm: float | None
    mm_per_crank_deg: float | None
    seen_deg: float | None
    turn_crank_deg: float | None
    turn_distributor_deg: float | None
    turn_mm: float | None
    tip_ahead_distributor_deg: float
    headline: Finding
    warnings: tuple[Finding, ...]


def static_setting(
    base_deg: float,
    rotation: Rotation,
    pickup: PickupKind,
    *,
    tip_ahead_distributor_deg: float = 0.0,
    mark_error_deg: float | None = None,
    seen_deg: float | None = None,
    housing_diameter_mm: float | None = None,
) -> StaticSetting:
    """Compute the static setting.

    Parameters
    ----------
    base_deg : float
        Where the engine is to fire with the controller adding nothing, before positive [crank deg].
    rotation : {"clockwise", "anticlockwise"}
        Which way the rotor turns, seen from above.
    pickup : {"two-wire", "hall", "points"}
        What triggers the controller.
    tip_ahead_distributor_deg : float
        Rotor phase at base [distributor deg].
    mark_error_deg : float, optional
        What the balancer's mark shows at true top dead centre, before positive [crank deg].
    seen_deg : float, optional
        What a light shows now, on the same mark, with the controller adding nothing [crank deg].
    housing_diameter_mm : float, optional
        Diameter of the distributor's body where the turn is measured [mm].

    Returns
    -------
    StaticSetting
        Turning the body against the rotor's rotation makes the spark earlier; one crank degree is half a
        degree of the body, ``pi D/720`` along its rim.

    Raises
    ------
    Refusal
        For a value outside its range.

    Examples
    --------
    >>> found = static_setting(10.0, "clockwise", "points", seen_deg=4.0, housing_diameter_mm=80.0)
    >>> found.turn_distributor_deg, round(found.turn_mm, 2), found.earlier_way
    (3.0, 2.09, 'anticlockwise')
    """
    SETTING["mark_error"].require(mark_error_deg)
    SETTING["seen"].require(seen_deg)
    SETTING["housing_diameter"].require(housing_diameter_mm)
    mm_per_crank_deg = None
    if housing_diameter_mm is not None:
        mm_per_crank_deg = float(arc_mm_per_crank_deg(housing_diameter_mm / 2.0))
    shown_deg = base_deg + (mark_error_deg or 0.0)
    turn_deg = None if seen_deg is None else shown_deg - seen_deg
    turn_mm = None if turn_deg is None or mm_per_crank_deg is None else turn_deg * mm_per_crank_deg
    earlier = _WAYS[rotation]
    return StaticSetting(
        base_deg=base_deg,
        mark_error_deg=mark_error_deg,
        shown_deg=shown_deg,
        rotation=rotation,
        pickup=pickup,
        earlier_way=earlier,
        later_way=rotation,
        housing_diameter_mm=housing_diameter_mm,
        mm_per_crank_deg=mm_per_crank_deg,
        seen_deg=seen_deg,
        turn_crank_deg=turn_deg,
        turn_distributor_deg=None if turn_deg is None else turn_deg / 2.0,
        turn_mm=turn_mm,
        tip_ahead_distributor_deg=tip_ahead_distributor_deg,
        headline=_headline(shown_deg, turn_deg, turn_mm, rotation),
        warnings=tuple(_warnings(mark_error_deg, housing_diameter_mm)),
    )


def _headline(shown_deg: float, turn_deg: float | None, turn_mm: float | None, rotation: Rotation) -> Finding:
    numbers = {"shown_deg": shown_deg, "turn_deg": turn_deg, "turn_mm": turn_mm, "rotation": rotation}
    if turn_deg is None:
        return Finding("setting.not-seen", "open", numbers)
    if abs(turn_deg) < RIGHT_WITHIN_DEG:
        return Finding("setting.stands-right", "good", numbers)
    return Finding("setting.turn-the-body", "look", numbers)


def _warnings(mark_error_deg: float | None, housing_diameter_mm: float | None) -> Iterator[Finding]:
    if mark_error_deg is None:
        yield Finding("setting.mark-not-proved", "open")
    if housing_diameter_mm is None:
        yield Finding("setting.housing-not-stated", "open")
