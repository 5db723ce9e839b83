"""Cap plan and phasing sheet in sentences: what to do with leads and tip, and how to prove it."""

from __future__ import annotations

from collections.abc import Sequence

from sparkwright.findings import Length, Sentence
from sparkwright.mounting.cap_plan import Station
from sparkwright.mounting.phasing import RotorPhasing
from sparkwright.plan.result import LEAST_MOVE_MM
from sparkwright.units import System
from sparkwright.words.parts import Said, Writer, length, order_words
from sparkwright.words.ways import way_of

HOLE_MM = 10.0
"""Hole through which to see tip and post [mm]. Common practice, no source."""

CAUTIONS = (
    "Battery disconnected before the cap comes off: the voltage can kill.",
    "A drilled cap is for this check only. It lets spark, damp and dust through: keep face, hands and the "
    "light's body a hand's breadth from the hole, no fuel vapour about, and take it off before the engine "
    "is driven.",
    "Wear eye protection, drill the cap off the engine and clean out every chip. Sleeves, leads and light "
    "clear of fan and belts, wheels blocked, exhaust led away.",
    "Secure the rotor: a tip that comes loose, or sparks that reach the wrong post, break engines.",
)
"""Cautions of the trade, in our words. Common practice, no source."""


# The cap plan


def _leads_wrong(
    _: System, *, rotation: str, order: tuple[int, ...], left_at: tuple[tuple[str, float], ...]
) -> Said:
    return (
        f"The leads stand wrong in the cap: {rotation} from post 1 they must be {order_words(order)}.",
        _leads(rotation, order, left_at),
    )


def _tip_left(
    _: System, *, rotation: str, order: tuple[int, ...], left_at: tuple[tuple[str, float], ...]
) -> Said:
    left = [f"{name} ({advance_deg:.0f} deg)" for name, advance_deg in left_at]
    return f"The tip has left its post at {' and '.join(left)}.", _leads(rotation, order, left_at)


def _tip_covers(
    _: System, *, rotation: str, order: tuple[int, ...], left_at: tuple[tuple[str, float], ...]
) -> Said:
    return "The tip stands over its post at every spark that matters.", _leads(rotation, order, left_at)


def _leads(rotation: str, order: tuple[int, ...], left_at: tuple[tuple[str, float], ...]) -> str:
    move = " Move the tip as the phasing sheet says." if left_at else ""
    return f"Leads {rotation} from post 1: {order_words(order)}.{move}"


def _advance_free(_: System) -> Said:
    return (
        "The mechanical advance is still free: it carries the rotor with it, and what stands here "
        "counts on a locked one.",
        "",
    )


def _not_lockable(_: System) -> Said:
    return (
        "The mechanical advance of this body can't be locked: it carries the rotor with it, and what "
        "stands here counts on a locked one. Fit another body.",
        "",
    )


def _vacuum_connected(_: System) -> Said:
    return "The vacuum advance is still connected and moves the timing: disconnect it first.", ""


def _not_measured(_: System, *, parts: tuple[str, ...], reach_spread_deg: float) -> Said:
    return (
        f"Not measured, so drawn as a cap of this size usually is: {', '.join(parts)}. Measure with a "
        f"caliper; either end of the reach may lie {reach_spread_deg:.0f} crank deg off.",
        "",
    )


# The phasing sheet


def _span(from_deg: float, to_deg: float) -> str:
    return f"{from_deg:.0f} to {to_deg:.0f} deg"


def _leave_the_tip(
    system: System,
    *,
    least_deg: float,
    most_deg: float,
    from_deg: float,
    to_deg: float,
    rotation: str,
    move_mm: float,
    move_distributor_deg: float,
) -> Said:
    leave = f"Leave the tip: it covers its post over all that is asked, {_span(least_deg, most_deg)}."
    if abs(move_mm) < LEAST_MOVE_MM:
        return leave, f"It reaches {_span(from_deg, to_deg)}, and stands in the middle of that."
    stands = f"{length(abs(move_mm), system)} {way_of(rotation, move_distributor_deg)}"
    return (
        leave,
        f"It reaches {_span(from_deg, to_deg)}. Centred it would stand {stands}.",
    )


def _as_well_as_it_can(
    _: System,
    *,
    least_deg: float,
    most_deg: float,
    from_deg: float,
    to_deg: float,
    missing_deg: float | None,
) -> Said:
    return (
        f"The tip stands as well as it can, and does not cover all that is asked, "
        f"{_span(least_deg, most_deg)}.",
        f"It covers {_span(from_deg, to_deg)}.{_missing(missing_deg)}",
    )


def _move_the_tip(
    system: System,
    *,
    from_deg: float,
    to_deg: float,
    then_from_deg: float,
    then_to_deg: float,
    rotation: str,
    move_mm: float,
    move_distributor_deg: float,
    move_tip_fraction: float,
    missing_deg: float | None,
) -> Said:
    return (
        f"Move the tip {length(abs(move_mm), system)} {way_of(rotation, move_distributor_deg)}.",
        f"It then covers {_span(then_from_deg, then_to_deg)} instead of {_span(from_deg, to_deg)}. "
        f"The move is {abs(move_distributor_deg):.1f} deg at the distributor, "
        f"{2 * abs(move_distributor_deg):.1f} at the crank, "
        f"{abs(move_tip_fraction):.2f} of the tip's width.{_missing(missing_deg)}",
    )


def _missing(missing_deg: float | None) -> str:
    if missing_deg is None:
        return ""
    return f" {missing_deg:.0f} deg stay out of reach: fit a wider tip, or accept less advance."


def steps(phasing: RotorPhasing) -> tuple[Sentence, ...]:
    """Say step by step how the tip is moved; nothing where no move is advised.

    Parameters
    ----------
    phasing : RotorPhasing
        What the sheet shows.
    """
    if not phasing.advised:
        return ()
    way = way_of(phasing.rotation, phasing.move_distributor_deg)
    return (
        Sentence(
            f"Turn the engine by hand to base, {phasing.cap_before.base_deg:g} deg, on the compression "
            "stroke of cylinder 1, coming up in the direction it runs. Battery disconnected, cap off."
        ),
        Sentence(
            "Mark on the body where the middle of post 1 stands and where the middle of the tip stands now."
        ),
        Sentence(
            f"Move the tip on the shaft, not the body: {{0}} {way}, measured along the circle of its end. "
            "The body stays, so base stays.",
            (Length(abs(phasing.move_mm)),),
        ),
        Sentence(
            "Secure it so that it can't creep: both screws with locking compound, or a pin. A rotor that "
            "nobody can move takes a re-drilled plate, or one made to be set."
        ),
        Sentence(
            "Turn the shaft against its drive by hand: play moves the tip as well; a worn gear or bush takes "
            "from the reach what it moves."
        ),
        Sentence("Write the new rotor phase into the job and plan again."),
    )


def proof(phasing: RotorPhasing) -> tuple[Sentence, ...]:
    """Say step by step how a drilled cap proves where the tip stands, moved or as it is.

    Parameters
    ----------
    phasing : RotorPhasing
        What the sheet shows.
    """
    seen = phasing.after if phasing.advised else phasing.before
    return (
        Sentence(
            "Take an old cap of the same kind. Drill a {0} hole in its roof just inside post 1, "
            "where the tip's end passes; smooth the edge. Scratch the middle of the post beside the hole.",
            (Length(HOLE_MM, "g"),),
        ),
        Sentence("Paint the middle of the tip's end with a white line."),
        Sentence(
            "Light on the lead of cylinder 1, engine running, the light shone into the hole: line and "
            "scratch stand still at the spark."
        ),
        _places([each for each in seen if each.covers]),
        Sentence(
            "At each the post must still have tip beside it. If the picture jitters, look for play in shaft "
            "and gear."
        ),
    )


def _places(seen: Sequence[Station]) -> Sentence:
    """Say where the line must stand at each spark; one so near the middle stands there."""
    looks: list[str] = []
    lengths: list[Length] = []
    for each in seen:
        place = "in the middle"
        if abs(each.ahead_mm) >= 0.05:
            place = f"{{{len(lengths)}}} {'past it' if each.ahead_mm > 0.0 else 'short of it'}"
            lengths.append(Length(abs(each.ahead_mm)))
        looks.append(f"{each.name} ({each.advance_deg:.0f} deg): {place}")
    return Sentence(
        f"From the middle of the post the line must stand, at {'; '.join(looks)}.", tuple(lengths)
    )


WRITERS: dict[str, Writer] = {
    "cap-plan.leads-wrong": _leads_wrong,
    "cap-plan.tip-left": _tip_left,
    "cap-plan.tip-covers": _tip_covers,
    "rotor-drawn.advance-free": _advance_free,
    "rotor-drawn.not-lockable": _not_lockable,
    "rotor-drawn.vacuum-connected": _vacuum_connected,
    "rotor-drawn.not-measured": _not_measured,
    "phasing.leave-the-tip": _leave_the_tip,
    "phasing.as-well-as-it-can": _as_well_as_it_can,
    "phasing.move-the-tip": _move_the_tip,
}
