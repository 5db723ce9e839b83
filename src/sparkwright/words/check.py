"""The hardware check in sentences: each kind of finding, and what to do about it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import partial
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

    Examples
    --------
    >>> what_settles(["distributor.tip_radius", "distributor.tip_width"])
    'measure tip and posts with a caliper'
    """
    return "; ".join(dict.fromkeys(USUAL[field].settled_by for field in fields))


def _not_proved_yet(assumed: Sequence[str]) -> str:
    """Say what to look at where a good finding counts on assumed facts."""
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
        _not_proved_yet(assumed),
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
    return f"{_both_ways(**asked)}: the spark keeps to its post.", _not_proved_yet(assumed)


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


def _discharge(_: System, *, energy_mj: float, rise_us: float, most_w: float) -> Said:
    return (
        f"Each discharge holds {energy_mj:.0f} mJ and rises in {rise_us:.0f} us; "
        f"there is no dwell to set. It draws {most_w:.0f} W at the highest speed.",
        "",
    )


def _never_full(_: System, *, energy_wanted_mj: float, running_v: float, current_a: float) -> Said:
    return (
        f"At {running_v:g} V the coil never stores {energy_wanted_mj:g} mJ: it takes "
        f"{current_a:.1f} A, more than resistance and driver let flow.",
        "Ask for less energy, take out a ballast that isn't needed, or fit a coil of lower resistance.",
    )


def _full_up_to(
    _: System, *, energy_wanted_mj: float, highest_full_energy_rpm: float, top_rpm: float, left_mj: float
) -> Said:
    return (
        f"The coil gives its {energy_wanted_mj:g} mJ up to {highest_full_energy_rpm:,.0f} rpm; "
        f"at {top_rpm:,.0f} rpm {left_mj:.0f} mJ are left.",
        "Accept it, ask for less energy, or fit a coil of lower inductance.",
    )


def _full(
    _: System, *, energy_wanted_mj: float, top_rpm: float, duty_percent: float, assumed: Sequence[str] = ()
) -> Said:
    return (
        f"The coil gives its {energy_wanted_mj:g} mJ up to {top_rpm:,.0f} rpm, with "
        f"{duty_percent:.0f} % duty there.",
        _not_proved_yet(assumed),
    )


def _starts(
    _: System, *, cranking_v: float, stored_mj: float, energy_wanted_mj: float, assumed: Sequence[str] = ()
) -> Said:
    return (
        f"On the starter, at {cranking_v:g} V, the coil stores {stored_mj:.0f} of {energy_wanted_mj:g} mJ.",
        _not_proved_yet(assumed),
    )


def _starts_weakly(system: System, **stored: Any) -> Said:
    return (
        _starts(system, **stored)[0],
        "Start with a full battery; a start feed past the ballast helps where there is one.",
    )


def _heat_not_stated(part: str, _: System, *, most_w: float) -> Said:
    return (
        f"The {part} sheds up to {most_w:.0f} W; what it can stand isn't stated.",
        f"State what power the {part} can stand, from its data sheet, or feel for heat after a long run, "
        "key off.",
    )


def _too_hot(part: str, system: System, **watts: Any) -> Said:
    return _cool_enough(part, system, **watts)[0], "Shorten the dwell, or mount it where it cools."


def _cool_enough(part: str, _: System, *, most_w: float, allowed_w: float) -> Said:
    return f"The {part} sheds up to {most_w:.0f} W of the {allowed_w:g} W it may.", ""


_VOLTAGE_ACTIONS = {
    "voltage.misfires": (
        "Narrow the plug gap, give more dwell, or fit a stronger coil: as it is, this point misfires."
    ),
    "voltage.may-misfire": (
        "It may misfire here. Narrow the plug gap, give more dwell, or fit a stronger coil; measuring "
        "what is assumed narrows the band."
    ),
    "voltage.may-misfire-worn": (
        "It may misfire here once plugs are worn or leads wet: keep both fresh, or narrow the gap."
    ),
    "voltage.little-spare": (
        "Worn and wet parts may ask up to {worn_kv:.0f} kV here: keep plugs fresh and "
        "leads dry, or narrow the gap a little."
    ),
    "voltage.enough": "",
}


def _voltage(
    action: str,
    _: System,
    *,
    rpm: float,
    kpa: float,
    asked_kv: float,
    asked_low_kv: float,
    asked_high_kv: float,
    there_kv: float,
    there_low_kv: float,
    there_high_kv: float,
    worn_kv: float,
) -> Said:
    return (
        f"Hardest for the coil is {rpm:,.0f} rpm at {kpa:.0f} kPa: "
        f"{asked_kv:.1f} kV asked (it may be {asked_low_kv:.0f} to {asked_high_kv:.0f}), "
        f"{there_kv:.1f} kV there ({there_low_kv:.0f} to {there_high_kv:.0f}).",
        action.format(worn_kv=worn_kv),
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
    return f"{_sparks(sparks, last_advance_deg)}, still under its post.", _not_proved_yet(assumed)


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


def _saturation_not_stated(_: System) -> Said:
    return (
        "The current at which the coil saturates isn't stated: its inductance is taken as constant, and "
        "a real coil stores less at high current.",
        "",
    )


def _beyond_proven(
    system: System,
    *,
    gap_mm: float,
    pressure_bar: float,
    temperature_k: float,
    bar_cm: float,
    least_bar_cm: float,
    most_bar_cm: float,
) -> Said:
    return (
        f"Breakdown of {length(gap_mm, system, 'g')} at {pressure_bar:.3g} bar and {temperature_k:.0f} K: "
        f"pressure times gap is {bar_cm:.3g} bar cm, outside the {least_bar_cm:g} to {most_bar_cm:g} over "
        "which the formula is proven.",
        "",
    )


def _fits_no_crank(_: System, *, order: Sequence[int]) -> Said:
    return (
        f"No even-firing crank gives the firing order {order_words(order)}: read it again from engine or "
        "book.",
        "",
    )


def _rare_crank(_: System, *, order: Sequence[int], crank: str) -> Said:
    return f"The firing order {order_words(order)} needs a {crank}, unusual in such an engine: sure?", ""


def _mirrored(_: System, *, order: Sequence[int], backwards: Sequence[int]) -> Said:
    return (
        f"The firing order {order_words(order)} needs a crank that turns the other way or is mirrored, as "
        f"in some boats: sure? Read backwards it is {order_words(backwards)}.",
        "",
    )


def _neighbours_follow(_: System, *, order: Sequence[int]) -> Said:
    return (
        f"In the firing order {order_words(order)} neighbours fire one after the other, unusual in a six in "
        "line: sure?",
        "",
    )


def _same_bank(_: System, *, order: Sequence[int]) -> Said:
    return (
        f"In the firing order {order_words(order)} two cylinders of one bank fire one after the other, "
        "unusual in a V6: sure? See how its banks are numbered.",
        "",
    )


def _taken_as_even(_: System) -> Said:
    return (
        "This V6 is taken to fire evenly; many with 90 deg between the banks and shared pins do not. "
        "Turn the rotor from post to post: where they stand 60 deg apart, state that it fires evenly.",
        "",
    )


def _lift_not_given(_: System, *, taken_mm: float) -> Said:
    return (
        "The lift at which the cam is stated was never given: it is taken as 0.050 in "
        f"({taken_mm:.2f} mm). Advertised degrees, counted near the seat, make a far milder cam: read on the "
        "card which it is.",
        "",
    )


def _duration(valve: str, duration_deg: float, at_lift_mm: float, system: System) -> str:
    return f"{duration_deg:g} deg of {valve} duration at {length(at_lift_mm, system, 'g')} of lift is"


def _long(system: System, *, valve: str, duration_deg: float, at_lift_mm: float) -> Said:
    return (
        f"{_duration(valve, duration_deg, at_lift_mm, system)} unusual, a racing cam: "
        "sure? See whether the card counts it there or advertises it, counted near the seat.",
        "",
    )


def _short(system: System, *, valve: str, duration_deg: float, at_lift_mm: float) -> Said:
    return (
        f"{_duration(valve, duration_deg, at_lift_mm, system)} unusually short: sure? See "
        "whether the card counts it at 0.050 in.",
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
    "coil.discharge": _discharge,
    "coil.never-full": _never_full,
    "coil.full-up-to": _full_up_to,
    "coil.full": _full,
    "coil.starts": _starts,
    "coil.starts-weakly": _starts_weakly,
    **{
        f"{part}.{kind}": partial(write, part)
        for part in ("coil", "driver")
        for kind, write in (
            ("heat-not-stated", _heat_not_stated),
            ("too-hot", _too_hot),
            ("cool-enough", _cool_enough),
        )
    },
    **{kind: partial(_voltage, action) for kind, action in _VOLTAGE_ACTIONS.items()},
    "cranking.astray": _astray,
    "cranking.under-post": _under_post,
    "cranking.past-post": _past_post,
    "order.changed-over": _changed_over,
    "wiring.otherwise": _otherwise,
    "wiring.open": _open,
    "wiring.done": _done,
    "leads.numbering-not-told": _numbering_not_told,
    "coil.saturation-not-stated": _saturation_not_stated,
    "gap.beyond-proven": _beyond_proven,
    "firing-order.fits-no-crank": _fits_no_crank,
    "firing-order.rare-crank": _rare_crank,
    "firing-order.mirrored": _mirrored,
    "firing-order.neighbours": _neighbours_follow,
    "firing-order.same-bank": _same_bank,
    "firing-order.taken-as-even": _taken_as_even,
    "cam.lift-not-given": _lift_not_given,
    "cam.long": _long,
    "cam.short": _short,
}
"""How each kind of finding is told."""
