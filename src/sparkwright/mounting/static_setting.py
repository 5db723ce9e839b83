"""Setting the distributor with the engine standing: where the crank stands, which way to turn the body."""

from __future__ import annotations

import math
from dataclasses import dataclass

from sparkwright.findings import Length, Sentence
from sparkwright.ignition.rotor import Rotation, arc_mm_per_crank_deg
from sparkwright.job.sections.pickup import PickupKind
from sparkwright.mounting.questions import SETTING
from sparkwright.mounting.ways import other_way, way_of

SLACK_DEG = 30.0
"""How far to turn back before coming up to a mark, so that gear and chain lie on their driving side [crank
deg]. Common practice, no source."""

CAUTIONS = (
    "Key off and battery disconnected while hands are at cap, leads, coil or clamp bolt. With the key on "
    "for a lamp, keep off the coil: one stray spark can kill.",
    "Stop the engine before touching the clamp bolt or a lead. Turn it by hand at the crank's bolt, bar off "
    "again before anything else; wheels blocked, out of gear, clear of fan and belts.",
    "No fuel vapour about: a pickup that fires gives a spark. Ground the coil's lead, or fit a plug to it "
    "on the block, never leave it in the air.",
    "Prove the setting with a light at once after the start; run it only with exhaust led away. Local codes "
    "and emission law come first.",
)
"""Cautions of the trade, in our words. Common practice, no source."""

_FIRES = {
    "points": (
        "Put a test lamp across the points, key on. Turn the body in the direction of rotation until the "
        "points close and the lamp goes out, then slowly back against it: the moment it lights they open, "
        "and there the coil fires."
    ),
    "hall": (
        "Put a voltmeter on the pickup's signal, key on. Turn the body in the direction of rotation past the "
        "place, then slowly back against it: where the signal jumps is where the controller is triggered. "
        "Which of the two edges counts, its wiring instructions say."
    ),
    "two-wire": (
        "A two-wire pickup gives nothing at rest. Turn the body until a tooth stands exactly across from the "
        "pole: there its signal crosses zero, and there it triggers. Then prove it with the light while "
        "cranking, plugs out and coil lead grounded through a test plug."
    ),
}


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
    earlier_way: Rotation
    later_way: Rotation
    housing_diameter_mm: float | None
    mm_per_crank_deg: float | None
    seen_deg: float | None
    turn_crank_deg: float | None
    turn_distributor_deg: float | None
    turn_mm: float | None
    tip_ahead_distributor_deg: float
    headline: str
    action: Sentence
    steps: tuple[str, ...]
    warnings: tuple[str, ...]
    cautions: tuple[str, ...]


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
    earlier = other_way(rotation)
    return StaticSetting(
        base_deg=base_deg,
        mark_error_deg=mark_error_deg,
        shown_deg=shown_deg,
        rotation=rotation,
        earlier_way=earlier,
        later_way=rotation,
        housing_diameter_mm=housing_diameter_mm,
        mm_per_crank_deg=mm_per_crank_deg,
        seen_deg=seen_deg,
        turn_crank_deg=turn_deg,
        turn_distributor_deg=None if turn_deg is None else turn_deg / 2.0,
        turn_mm=turn_mm,
        tip_ahead_distributor_deg=tip_ahead_distributor_deg,
        headline=f"The pickup must fire cylinder 1 with the balancer showing {side_words(shown_deg)}.",
        action=_action(turn_deg, turn_mm, rotation),
        steps=_steps(shown_deg, rotation, pickup, tip_ahead_distributor_deg),
        warnings=_warnings(mark_error_deg, housing_diameter_mm),
        cautions=CAUTIONS,
    )


def side_words(advance_deg: float) -> str:
    """Say an angle by its side of top dead centre.

    Examples
    --------
    >>> side_words(10.0), side_words(-2.5), side_words(0.0)
    ('10 deg before top dead centre', '2.5 deg after top dead centre', 'top dead centre')
    """
    if abs(advance_deg) < 0.05:
        return "top dead centre"
    side = "before" if advance_deg > 0.0 else "after"
    return f"{round(abs(advance_deg), 1):g} deg {side} top dead centre"


def _action(turn_deg: float | None, turn_mm: float | None, rotation: Rotation) -> Sentence:
    if turn_deg is None:
        return Sentence(
            f"For an earlier spark turn the body {way_of(rotation, -1.0)}; for a later one {rotation}: half "
            "a degree of the body for each degree of the crank."
        )
    if abs(turn_deg) < 0.25:
        return Sentence("It stands right: leave the body where it is.")
    lengths = () if turn_mm is None else (Length(abs(turn_mm)),)
    rim = ", {0} at its rim" if lengths else ""
    return Sentence(
        f"Turn the body {way_of(rotation, -turn_deg)}, by {abs(turn_deg) / 2.0:.1f} deg{rim}: the spark "
        f"comes {abs(turn_deg):.1f} crank deg {'earlier' if turn_deg > 0.0 else 'later'}.",
        lengths,
    )


def _steps(shown_deg: float, rotation: Rotation, pickup: PickupKind, tip_ahead_deg: float) -> tuple[str, ...]:
    stands = "at the middle of post 1"
    if not math.isclose(tip_ahead_deg, 0.0, abs_tol=0.05):
        way = "past" if tip_ahead_deg > 0.0 else "short of"
        stands = f"{abs(tip_ahead_deg):.1f} distributor deg {way} the middle of post 1"
    return (
        "Plug 1 out, a finger over the hole: turn the engine the way it runs until the air pushes out. That "
        "is the compression stroke; on the other one everything is half a turn of the rotor off.",
        f"Go on until the balancer shows {side_words(shown_deg)}. If it went too far, turn back "
        f"{SLACK_DEG:g} deg and come up again, so that gear and chain are pulled tight.",
        f"Cap off: the tip must stand {stands}, rotation {rotation}. If it points elsewhere, the distributor "
        "is a tooth off or the leads are one post off; mend that first.",
        f"Clamp bolt just loose. {_FIRES[pickup]}",
        "Clamp bolt tight without moving the body, then look at the mark once more. Cap on, leads in the "
        "order of the cap plan.",
        "Start it, hold the controller at base so that it adds nothing, and prove it with the light.",
    )


def _warnings(mark_error_deg: float | None, housing_diameter_mm: float | None) -> tuple[str, ...]:
    said = []
    if mark_error_deg is None:
        said.append(
            "The balancer's mark is taken as right, and nobody proved it: find true top dead centre first."
        )
    if housing_diameter_mm is None:
        said.append("mm at the housing's rim: not determined, since its diameter is not stated.")
    return tuple(said)
