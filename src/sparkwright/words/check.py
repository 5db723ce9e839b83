"""The hardware check in sentences: each kind of finding, and what to do about it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from sparkwright.ignition.wiring import ITEMS, named
from sparkwright.job.usual import USUAL
from sparkwright.units import System
from sparkwright.words.parts import Said, Writer, length, order_words

NEIGHBOUR_WORDS = {"next": "the post that fires next", "previous": "the post that has just fired"}


_BATTERY_OFF = (
    "Key off and battery disconnected before a hand goes near cap, leads or coil: the voltage can kill."
)


def what_settles(fields: Iterable[str]) -> str:
    """Say what settles each of these facts that are only assumed, each once.

    Parameters
    ----------
    fields : iterable of str
        Section and key of each fact.

    Examples
    --------
    >>> what_settles(["distributor.tip_radius", "distributor.tip_width"])
    'measure tip and posts with a caliper'
    """
    return "; ".join(dict.fromkeys(USUAL[field].settled_by for field in fields))


def not_proved_yet(assumed: Sequence[str]) -> str:
    """Say what to look at where a good finding counts on assumed facts.

    Parameters
    ----------
    assumed : sequence of str
        Section and key of each assumed fact that the finding counts on.
    """
    if not assumed:
        return ""
    return f"Nobody has proved it yet, for it counts on assumed values: {what_settles(assumed)}."


def _delivers(_: System) -> Said:
    return (
        "This ignition can deliver what the plan asks.",
        "Work through the wiring list before the first start.",
    )


def _advance_free(_: System) -> Said:
    return (
        "The mechanical advance is still free: it adds to the controller's advance and carries the rotor "
        "with it.",
        "Lock the mechanism first; every figure for the rotor here counts on that.",
    )


def _not_lockable(_: System) -> Said:
    return (
        "The mechanical advance of this body can't be locked: the spark moves by its weights as well as by "
        "the map, and no light will agree with the controller.",
        "Fit a body that locks, or a trigger at the crank and let this one only hand the sparks round.",
    )


def _module_times_itself(_: System) -> Said:
    return (
        "The switching module inside the distributor charges and fires the coil by itself: the controller "
        "can't time it.",
        "Take the module out and wire its sensor to the controller, with a driver for the coil; or fit a "
        "module with an input for timing.",
    )


def _vacuum_connected(_: System) -> Said:
    return (
        "The vacuum advance is still connected: it moves the timing behind the controller's back.",
        "Disconnect the canister, fix the plate, and seal the port on the manifold.",
    )


def _covers(
    _: System,
    *,
    covers_from_deg: float,
    covers_to_deg: float,
    least_needed_deg: float,
    most_needed_deg: float,
    left_deg: float,
    assumed: Sequence[str] = (),
) -> Said:
    left = f"{left_deg:.1f} deg are left over"
    if left_deg < 0.0:
        left = f"{-left_deg:.1f} deg are missing, less than anybody can measure"
    return (
        f"The rotor covers its post from {covers_from_deg:.0f} to {covers_to_deg:.0f} deg; "
        f"{least_needed_deg:.0f} to {most_needed_deg:.0f} are needed, {left}.",
        not_proved_yet(assumed),
    )


def _hardly_covers(system: System, **numbers: Any) -> Said:
    return _covers(system, **numbers)[0], "Measure tip and post with a caliper before relying on it."


def _runs_out(
    system: System, *, reach_deg: float, above_base_deg: float, missing_deg: float, **move: float
) -> Said:
    return (
        f"The rotor runs out at {reach_deg:.0f} deg, {above_base_deg:.0f} above base: "
        f"the plan wants {missing_deg:.0f} more.",
        _what_to_move(system, **move),
    )


def _leaves_late(
    system: System,
    *,
    cranked_there: bool,
    covers_from_deg: float,
    missing_deg: float,
    least_needed_deg: float,
    **move: float,
) -> Said:
    least = "where the engine is cranked" if cranked_there else "the least that the plan uses"
    return (
        f"At {least_needed_deg:.1f} deg, {least}, the tip has already left its post on the late side: it "
        f"covers it only from {covers_from_deg:.1f} deg, and {missing_deg:.1f} deg are missing.",
        _what_to_move(system, least_needed_deg=least_needed_deg, **move),
    )


def _what_to_move(
    system: System,
    *,
    least_needed_deg: float,
    most_needed_deg: float,
    move_distributor_deg: float,
    move_mm: float,
    move_tip_fraction: float,
    phased_from_deg: float,
    phased_to_deg: float,
) -> str:
    way = "ahead, in the direction of rotation," if move_distributor_deg >= 0.0 else "back, against rotation,"
    move = (
        f"Move the tip {abs(move_distributor_deg):.1f} distributor deg {way} "
        f"{length(abs(move_mm), system)} at the tip, {abs(move_tip_fraction):.2f} of its width; "
        f"it then reaches {phased_from_deg:.0f} to {phased_to_deg:.0f} deg."
    )
    if phased_from_deg - least_needed_deg >= 0.5:
        move += (
            f" The plan goes down to {least_needed_deg:.0f}: there it has then left its post on the "
            "late side, and a spark can go to the wrong cylinder."
        )
    missing_deg = most_needed_deg - phased_to_deg
    if missing_deg >= 0.5:
        move += (
            f" Even so {missing_deg:.0f} deg are missing at the top: fit a wider tip, or accept less advance."
        )
    else:
        move += " Or raise base, or accept less advance and what it costs."
    return f"{move} {_BATTERY_OFF}"


def _turns_on(
    _: System,
    *,
    rpm: float,
    burning_ms: float,
    turn_distributor_deg: float,
    ends_over_post_from_deg: float | None,
) -> Said:
    """Say what a spark that goes on burning asks of the late end of the reach.

    Examples
    --------
    >>> print(_turns_on("metric", rpm=5000.0, burning_ms=1.0, turn_distributor_deg=15.0,
    ...     ends_over_post_from_deg=24.0)[0])
    At 5,000 rpm the rotor turns 15 distributor deg while a spark of 1.0 ms burns: one that starts below 24
    deg ends past the late end of its post, in a longer gap that may put it out early.
    """
    from_deg = ends_over_post_from_deg
    which = "each" if from_deg is None else f"one that starts below {from_deg:.0f} deg"
    return (
        f"At {rpm:,.0f} rpm the rotor turns {turn_distributor_deg:.0f} distributor deg while a "
        f"spark of {burning_ms:.1f} ms burns: {which} ends past the late end of its post, in a longer "
        "gap that may put it out early.",
        "",
    )


def _both_ways(
    *,
    neighbour: str,
    rpm: float,
    kpa: float,
    advance_deg: float,
    right_kv: float,
    wrong_low_kv: float,
    wrong_high_kv: float,
) -> str:
    return (
        f"At {rpm:,.0f} rpm, {kpa:.0f} kPa and {advance_deg:.0f} deg the right path asks {right_kv:.0f} kV, "
        f"the way over {NEIGHBOUR_WORDS[neighbour]} between {wrong_low_kv:.0f} and {wrong_high_kv:.0f} kV"
    )


def _kept(_: System, *, assumed: Sequence[str] = (), **asked: Any) -> Said:
    return f"{_both_ways(**asked)}: the spark keeps to its post.", not_proved_yet(assumed)


def _close(_: System, **asked: Any) -> Said:
    return (
        f"{_both_ways(**asked)}: the margin against firing the wrong cylinder is small.",
        "Keep the cap clean, dry and vented, the plug gap no wider than needed, and the tip over its post.",
    )


def _crossed(_: System, **asked: Any) -> Said:
    return (
        f"{_both_ways(**asked)}: the spark can fire the wrong cylinder.",
        "Bring the tip back over its post or narrow the plug gap before running it; a stray spark breaks "
        "engines.",
    )


def _sparks(sparks: int, last_advance_deg: float) -> str:
    count = "One spark" if sparks == 1 else f"{sparks} sparks"
    side = "before" if last_advance_deg >= 0.0 else "after"
    return (
        f"{count} for each firing while cranking, the last at {abs(last_advance_deg):.1f} deg {side} top "
        "dead centre"
    )


def _astray(_: System, *, sparks: int, last_advance_deg: float, covered: int) -> Said:
    return (
        f"{_sparks(sparks, last_advance_deg)}: by then another cylinder's post is nearer.",
        "Allow fewer sparks, or bring them closer together; a spark in the wrong cylinder kicks the starter.",
    )


def _under_post(
    _: System, *, sparks: int, last_advance_deg: float, covered: int, assumed: Sequence[str] = ()
) -> Said:
    return f"{_sparks(sparks, last_advance_deg)}, still under its post.", not_proved_yet(assumed)


def _past_post(_: System, *, sparks: int, last_advance_deg: float, covered: int) -> Said:
    return (
        f"{_sparks(sparks, last_advance_deg)}: only {covered} fall{'s' if covered == 1 else ''} under the "
        "post.",
        "Allow that many, or move the tip so that the arc leaves later.",
    )


def _changed_over(_: System, *, stated: Sequence[int], wanted: Sequence[int]) -> Said:
    return (
        f"The leads in the cap stand {order_words(stated)}; firing order and rotation ask "
        f"{order_words(wanted)}.",
        f"Change the leads over before any start: a wrong one burns back through the inlet. {_BATTERY_OFF}",
    )


_WIRING = {item.key: item for item in ITEMS}


def _asks(first: str, pairs: Sequence[tuple[int, int]]) -> str:
    """Give what a point of the wiring list asks for as the end of a sentence."""
    asks = named(_WIRING[first], pairs).rstrip(".")
    return f"the first asks: {asks[0].lower()}{asks[1:]}."


def _otherwise(
    _: System, *, points: int, count: int, first: str, pairs: Sequence[tuple[int, int]] = ()
) -> Said:
    return (
        f"{count} of {points} points of the wiring list are known to be otherwise; {_asks(first, pairs)}",
        f"{_WIRING[first].why} {_BATTERY_OFF}",
    )


def _open(_: System, *, points: int, count: int, first: str, pairs: Sequence[tuple[int, int]] = ()) -> Said:
    return (
        f"{count} of {points} points of the wiring list are still open; {_asks(first, pairs)}",
        f"See to each and say so in the job. The first is proved so: {_WIRING[first].prove}",
    )


def _done(_: System, *, points: int) -> Said:
    return "Every point of the wiring list is done.", ""


def _numbering_not_told(_: System) -> Said:
    return (
        "Which leads to keep apart is not determined: the firing order doesn't tell how the banks are "
        "numbered. State how the banks are numbered, or which leads lie side by side.",
        "",
    )


WRITERS: dict[str, Writer] = {
    "ignition.delivers": _delivers,
    "rotor.advance-free": _advance_free,
    "rotor.not-lockable": _not_lockable,
    "rotor.module-times-itself": _module_times_itself,
    "rotor.vacuum-connected": _vacuum_connected,
    "rotor.covers": _covers,
    "rotor.hardly-covers": _hardly_covers,
    "rotor.runs-out": _runs_out,
    "rotor.leaves-late": _leaves_late,
    "late-end.turns-on": _turns_on,
    "neighbours.kept": _kept,
    "neighbours.close": _close,
    "neighbours.crossed": _crossed,
    "cranking.astray": _astray,
    "cranking.under-post": _under_post,
    "cranking.past-post": _past_post,
    "order.changed-over": _changed_over,
    "wiring.otherwise": _otherwise,
    "wiring.open": _open,
    "wiring.done": _done,
    "leads.numbering-not-told": _numbering_not_told,
}
"""How each kind of finding is told."""
