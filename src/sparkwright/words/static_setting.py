"""Setting the distributor with the engine standing, in sentences."""

from __future__ import annotations

import math

from sparkwright.mounting.static_setting import StaticSetting
from sparkwright.units import System
from sparkwright.words.parts import Said, Writer, length
from sparkwright.words.ways import way_of

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


def side_words(advance_deg: float) -> str:
    """Say an angle by its side of top dead centre.

    Parameters
    ----------
    advance_deg : float
        Angle [crank deg], before top dead centre positive.

    Examples
    --------
    >>> side_words(10.0), side_words(-2.5), side_words(0.0)
    ('10 deg before top dead centre', '2.5 deg after top dead centre', 'top dead centre')
    """
    if abs(advance_deg) < 0.05:
        return "top dead centre"
    side = "before" if advance_deg > 0.0 else "after"
    return f"{round(abs(advance_deg), 1):g} deg {side} top dead centre"


def _place(shown_deg: float) -> str:
    return f"The pickup must fire cylinder 1 with the balancer showing {side_words(shown_deg)}."


def _not_seen(
    _: System, *, shown_deg: float, turn_deg: float | None, turn_mm: float | None, rotation: str
) -> Said:
    return (
        _place(shown_deg),
        f"For an earlier spark turn the body {way_of(rotation, -1.0)}; for a later one {rotation}: half "
        "a degree of the body for each degree of the crank.",
    )


def _stands_right(
    _: System, *, shown_deg: float, turn_deg: float, turn_mm: float | None, rotation: str
) -> Said:
    return _place(shown_deg), "It stands right: leave the body where it is."


def _turn_the_body(
    system: System, *, shown_deg: float, turn_deg: float, turn_mm: float | None, rotation: str
) -> Said:
    earlier = turn_deg > 0.0
    rim = "" if turn_mm is None else f", {length(abs(turn_mm), system)} at its rim"
    return (
        _place(shown_deg),
        f"Turn the body {way_of(rotation, -turn_deg)}, by {abs(turn_deg) / 2.0:.1f} deg{rim}: the spark "
        f"comes {abs(turn_deg):.1f} crank deg {'earlier' if earlier else 'later'}.",
    )


def _mark_not_proved(_: System) -> Said:
    return (
        "The balancer's mark is taken as right, and nobody proved it: find true top dead centre first.",
        "",
    )


def _housing_not_stated(_: System) -> Said:
    return "mm at the housing's rim: not determined, since its diameter is not stated.", ""


def steps(setting: StaticSetting) -> tuple[str, ...]:
    """Say step by step how the distributor is set.

    Parameters
    ----------
    setting : StaticSetting
        Where the crank must stand, and what triggers.
    """
    stands, tip_ahead_deg = "at the middle of post 1", setting.tip_ahead_distributor_deg
    if not math.isclose(tip_ahead_deg, 0.0, abs_tol=0.05):
        way = "past" if tip_ahead_deg > 0.0 else "short of"
        stands = f"{abs(tip_ahead_deg):.1f} distributor deg {way} the middle of post 1"
    return (
        "Plug 1 out, a finger over the hole: turn the engine the way it runs until the air pushes out. That "
        "is the compression stroke; on the other one everything is half a turn of the rotor off.",
        f"Go on until the balancer shows {side_words(setting.shown_deg)}. If it went too far, turn back "
        f"{SLACK_DEG:g} deg and come up again, so that gear and chain are pulled tight.",
        f"Cap off: the tip must stand {stands}, rotation {setting.rotation}. If it points elsewhere, the "
        "distributor is a tooth off or the leads are one post off; mend that first.",
        f"Clamp bolt just loose. {_FIRES[setting.pickup]}",
        "Clamp bolt tight without moving the body, then look at the mark once more. Cap on, leads in the "
        "order of the cap plan.",
        "Start it, hold the controller at base so that it adds nothing, and prove it with the light.",
    )


WRITERS: dict[str, Writer] = {
    "setting.not-seen": _not_seen,
    "setting.stands-right": _stands_right,
    "setting.turn-the-body": _turn_the_body,
    "setting.mark-not-proved": _mark_not_proved,
    "setting.housing-not-stated": _housing_not_stated,
}
