"""What readings at a piston stop or dial say of the balancer's mark, in sentences."""

from __future__ import annotations

from sparkwright.mounting.dead_centre import DeadCentre
from sparkwright.units import System
from sparkwright.words.parts import Said, Writer, length

CAUTIONS = (
    "Key off, battery disconnected, all plugs out: the engine must not fire or be cranked while a stop or a "
    "dial is in a cylinder.",
    "Turn the engine by hand at the crank's bolt, slowly, with a bar that comes off again. Never run a "
    "piston against a stop with the starter: it bends valves and breaks pistons.",
    "Hold the stop or dial clear of the valves over the whole turn, and take it out before the plugs go in.",
)
"""Cautions of the trade, in our words. Common practice, no source."""


def interval_words(found: DeadCentre) -> str:
    """Say what the interval of the mark's error comes from.

    Parameters
    ----------
    found : DeadCentre
        Top dead centre as it was found, with its interval.

    Examples
    --------
    >>> from sparkwright.mounting.dead_centre import dead_centre
    >>> from sparkwright.mounting.mark_readings import ReadPair
    >>> interval_words(dead_centre([ReadPair(27.0, -31.0)]))
    'how finely pointer and dial are read'
    """
    if found.interval_from == "scatter":
        return f"the scatter of {len(found.pairs)} tries"
    return "how finely pointer and dial are read"


def _side(error_deg: float) -> str:
    return f"{abs(error_deg):.1f} deg {'before' if error_deg > 0.0 else 'after'}"


def _wanders(_: System, *, wander_deg: float) -> Said:
    return (
        f"The mark is somewhere else at each try, by {wander_deg:.1f} deg: it can't be trusted.",
        "Read again with more care. If it still moves, the outer ring turns on its hub: replace the damper "
        "before setting any timing by it.",
    )


def _right(_: System, *, error_deg: float, half_interval_deg: float) -> Said:
    return (
        f"The mark is right: at true top dead centre it shows {_side(error_deg)}, within "
        f"{half_interval_deg:.1f}.",
        "Use it as it is.",
    )


def _off(system: System, *, error_deg: float, half_interval_deg: float, move_mm: float | None) -> Said:
    more_or_less = "more" if error_deg > 0.0 else "less"
    way = "in the direction of rotation" if error_deg > 0.0 else "against the direction of rotation"
    along = f", {length(abs(move_mm), system)} along the rim," if move_mm else ""
    return (
        f"At true top dead centre the mark shows {_side(error_deg)}, within {half_interval_deg:.1f}.",
        f"A light shows {abs(error_deg):.1f} deg {more_or_less} advance than there is. Put the true zero on "
        f"the balancer {abs(error_deg):.1f} deg{along} from the old mark, {way}.",
    )


def _both_on_one_side(_: System) -> Said:
    return (
        "Both readings of a try lie on one side of the mark: see that each was given with its own side, "
        "before or after.",
        "",
    )


def _may_have_slipped(_: System, *, slipped_from_deg: float) -> Said:
    return (
        f"More than {slipped_from_deg:g} deg, or another place at each try, is how a slipped damper ring "
        "looks. Look for cracked or bulging rubber, a ring that stands proud of its hub or wobbles, and "
        "a mark that has moved since a line was painted across ring and hub. A cover, pointer or damper "
        "of another engine looks the same, but stays where it is.",
        "",
    )


def _dial_stands_still(_: System, *, flat_top_deg: float) -> Said:
    return (
        f"At the very top the dial stands still over {flat_top_deg:.1f} deg to either side: read at "
        "equal drops, not where the needle turns.",
        "",
    )


def _stop_too_high(_: System, *, half_travel_deg: float) -> Said:
    return (
        f"The readings lie only {half_travel_deg:.1f} deg to either side: a stop so near the top gives with "
        "the piston. Lower it until they lie 15 to 40 deg to either side.",
        "",
    )


def _stop_too_low(_: System) -> Said:
    return "The stop stands very low; 15 to 40 deg to either side read best.", ""


def _pin_offset_not_stated(system: System, *, doubt_deg: float, usual_mm: float) -> Said:
    return (
        f"The pin offset is not stated and not counted; {length(usual_mm, system, 'g')} would change this by "
        f"{doubt_deg:.2f} deg.",
        "",
    )


def _throw_not_stated(_: System) -> Said:
    return (
        "Stroke, rod and pin offset are not stated: what the offset does to the middle is not determined; it "
        "is a few hundredths of a degree in ordinary engines.",
        "",
    )


def _read_once(_: System) -> Said:
    return "One try only: a second one, taken from new, shows whether the ring stays where it is.", ""


WRITERS: dict[str, Writer] = {
    "mark.wanders": _wanders,
    "mark.right": _right,
    "mark.off": _off,
    "mark.both-on-one-side": _both_on_one_side,
    "mark.may-have-slipped": _may_have_slipped,
    "mark.dial-stands-still": _dial_stands_still,
    "mark.stop-too-high": _stop_too_high,
    "mark.stop-too-low": _stop_too_low,
    "mark.pin-offset-not-stated": _pin_offset_not_stated,
    "mark.throw-not-stated": _throw_not_stated,
    "mark.read-once": _read_once,
}
