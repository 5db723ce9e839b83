"""Wiring and preparation: what must be right on the bench before any timing means anything.

Everything here is common practice of the trade, no source.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

CheckState = Literal["done", "open", "look"]
Answer = bool | None


@dataclass(frozen=True)
class WiringFacts:
    """What is known of one installation; None where nobody has said.

    Attributes
    ----------
    pickup : {"two-wire", "hall", "points"}
        What senses the distributor. A two-wire pickup is a coil round a magnet.
    driver : {"inductive", "capacitive"}
        What drives the coil.
    controls_dwell : bool
        Whether the driver sets the dwell itself.
    ballast_ohm : float or None
        Resistor in the coil's feed [ohm]; 0 where somebody has seen that there is none.
    advance_locked, vacuum_sealed, polarity_checked, twisted_pair, away_from_plug_leads : bool or None
        Whether each has been done.
    module_times_by_itself : bool or None
        Whether a switching module inside the body charges and fires the coil by itself.
    other_leads_on_coil : bool or None
        Whether anything but a capacitive driver's output sits on the coil's terminals.
    rotor_screws_secured, cap_vented, cap_order_agrees : bool or None
        Whether each has been seen to.
    kept_apart : tuple of pairs or None
        Cylinders whose leads must not run side by side; None where nobody has looked which do.
    """

    pickup: Literal["two-wire", "hall", "points"]
    driver: Literal["inductive", "capacitive"]
    controls_dwell: bool
    ballast_ohm: float | None
    advance_locked: Answer
    vacuum_sealed: Answer
    polarity_checked: Answer
    twisted_pair: Answer
    away_from_plug_leads: Answer
    other_leads_on_coil: Answer
    rotor_screws_secured: Answer
    cap_vented: Answer
    cap_order_agrees: Answer
    kept_apart: tuple[tuple[int, int], ...] | None = ()
    module_times_by_itself: Answer = None


@dataclass(frozen=True)
class WiringItem:
    """One thing to see to: what, why, how to prove it, where it applies and whether it is done."""

    key: str
    what: str
    why: str
    prove: str
    applies: Callable[[WiringFacts], bool]
    answer: Callable[[WiringFacts], Answer]


@dataclass(frozen=True)
class CheckedItem:
    """An item as it stands on this job: "done", "open" (nobody has said) or "look" (known otherwise)."""

    key: str
    what: str
    why: str
    prove: str
    state: CheckState


def _always(_: WiringFacts) -> bool:
    return True


def _unknown(_: WiringFacts) -> Answer:
    return None


def _two_wire(facts: WiringFacts) -> bool:
    return facts.pickup == "two-wire"


def _points_signal(facts: WiringFacts) -> bool:
    return facts.pickup == "points"


def _hall(facts: WiringFacts) -> bool:
    return facts.pickup == "hall"


def _signal_wires(facts: WiringFacts) -> bool:
    return facts.pickup != "points"


def _inductive_dwell(facts: WiringFacts) -> bool:
    return facts.driver == "inductive" and facts.controls_dwell


def _capacitive(facts: WiringFacts) -> bool:
    return facts.driver == "capacitive"


def _nothing_else_on_coil(facts: WiringFacts) -> Answer:
    return None if facts.other_leads_on_coil is None else not facts.other_leads_on_coil


ITEMS = (
    WiringItem(
        "advance-locked",
        "Mechanical advance locked.",
        "Weights that still move add their own advance to the controller's, and they carry the rotor with "
        "them.",
        "Hold the shaft and twist the rotor: no spring, no play. With the controller held at one advance, a "
        "timing light shows the same figure at idle and at 3,000 rpm.",
        _always,
        lambda facts: facts.advance_locked,
    ),
    WiringItem(
        "module-inside",
        "No switching module inside the body that charges and fires by itself.",
        "A controller can't time such a module: it has a dwell of its own and no input. One with an input "
        "for timing "
        "may stay; its dwell is its own then.",
        "Look under cap and plate and outside on the body: a module with only supply, ground and coil "
        "wires has no "
        "input.",
        _always,
        lambda facts: None if facts.module_times_by_itself is None else not facts.module_times_by_itself,
    ),
    WiringItem(
        "vacuum-sealed",
        "Vacuum advance disconnected and its port sealed.",
        "A live canister moves the pickup behind the controller's back; an open port leans the idle.",
        "Blow on the manifold port: nothing passes. Rev the engine with the hose off and watch that the "
        "plate stays still.",
        _always,
        lambda facts: facts.vacuum_sealed,
    ),
    WiringItem(
        "pickup-polarity",
        "Pickup wired the right way round.",
        "Reversed, the controller triggers on the slow edge of the signal: the spark comes late and wanders "
        "with speed.",
        "Hold one advance and read the light at 1,000 and 3,000 rpm: a drift of several degrees points to "
        "reversed wires. Swap them and read again.",
        _two_wire,
        lambda facts: facts.polarity_checked,
    ),
    WiringItem(
        "pickup-twisted",
        "Pickup wires run as a twisted pair, one turn every finger's width, all the way.",
        "Both wires then pick up the same stray field and the controller sees none of it.",
        "Follow the pair from distributor to controller by eye; no run of more than three fingers lies open.",
        _two_wire,
        lambda facts: facts.twisted_pair,
    ),
    WiringItem(
        "hall-supply",
        "Hall sensor fed with its own voltage and signal ground, screened or twisted wires.",
        "Its output has no meaning when supply or ground carries coil current.",
        "With the key on, measure supply to sensor ground; turn the engine by hand and see the output switch "
        "cleanly.",
        _hall,
        _unknown,
    ),
    WiringItem(
        "points-condition",
        "Points clean, gapped, and used as a trigger only if the driver asks for that.",
        "Dirty or bouncing contacts give a second, false trigger.",
        "Resistance closed under 0.2 ohm; dwell steady on a meter from idle to the highest speed used.",
        _points_signal,
        _unknown,
    ),
    WiringItem(
        "pickup-away",
        "Pickup wires at least a hand's breadth from plug leads, coil lead and coil wires, crossing them "
        "squarely where they must.",
        "The spark's own pulse on the pickup gives false triggers, at full load first.",
        "Look along the whole run. Watch the controller's speed at full load: one jump is one too many.",
        _signal_wires,
        lambda facts: facts.away_from_plug_leads,
    ),
    WiringItem(
        "no-ballast",
        "No ballast resistor or resistance wire in the coil's feed.",
        "The driver sets the current by time; a ballast slows the charge, and the spark weakens where it is "
        "needed most.",
        "Key on, coil drawing current: coil positive within 0.5 V of the battery, in the running position "
        "too.",
        _inductive_dwell,
        lambda facts: None if facts.ballast_ohm is None else facts.ballast_ohm == 0.0,
    ),
    WiringItem(
        "capacitive-alone",
        "Nothing but the driver's own output on the coil's terminals: no feed, no condenser, no tachometer, "
        "no ballast.",
        "The output swings to several hundred volts: it destroys what is tied to it and can kill a person.",
        "Battery disconnected and the driver's discharge time waited out: each coil terminal carries one "
        "wire, from the driver.",
        _capacitive,
        _nothing_else_on_coil,
    ),
    WiringItem(
        "rotor-screws",
        "Rotor screws secured, after any change of phase.",
        "A rotor that slips moves the spark to the wrong post, and a screw that falls in wrecks cap and "
        "shaft.",
        "Thread lock or lock washers fitted; the rotor doesn't move under firm finger force either way.",
        _always,
        lambda facts: facts.rotor_screws_secured,
    ),
    WiringItem(
        "cap-order",
        "Leads in the cap in firing order, in the direction in which the rotor turns.",
        "Two leads changed over fire a cylinder in its intake stroke and can burn back through the inlet.",
        "Turn the engine by hand in its own direction and name each post as the tip passes it.",
        _always,
        lambda facts: facts.cap_order_agrees,
    ),
    WiringItem(
        "leads-apart",
        "Leads of cylinders that fire one after the other and sit side by side kept apart.",
        "The second is in its compression when the first fires; a pulse induced in its lead lights it far "
        "too early.",
        "The two leads don't touch, don't run parallel, and sit in separate holders; in the dark no glow "
        "between them.",
        lambda facts: facts.kept_apart is None or bool(facts.kept_apart),
        _unknown,
    ),
    WiringItem(
        "cap-vented",
        "Cap clean, dry, without tracks, and vented.",
        "Sparking makes ozone and nitric oxides; shut in, they eat the metal and lower the voltage at which "
        "air breaks down.",
        "Hold the cap to the light: no cracks, no carbon lines; the vent is open.",
        _always,
        lambda facts: facts.cap_vented,
    ),
)


def _state(answer: Answer) -> CheckState:
    if answer is None:
        return "open"
    return "done" if answer else "look"


def checklist(facts: WiringFacts) -> tuple[CheckedItem, ...]:
    """Items that apply to this installation, each with its state.

    Parameters
    ----------
    facts : WiringFacts
        What is known.

    Returns
    -------
    tuple of CheckedItem
        In the order in which to work. Where leads must be kept apart, the pairs are named.

    Examples
    --------
    >>> facts = WiringFacts(pickup="hall", driver="inductive", controls_dwell=True, ballast_ohm=1.5,
    ...     advance_locked=True, vacuum_sealed=None, polarity_checked=None, twisted_pair=None,
    ...     away_from_plug_leads=True, other_leads_on_coil=None, rotor_screws_secured=None,
    ...     cap_vented=None, cap_order_agrees=True)
    >>> {item.key: item.state for item in checklist(facts)}["no-ballast"]
    'look'
    """
    return tuple(
        CheckedItem(
            item.key, named(item, facts.kept_apart or ()), item.why, item.prove, _state(item.answer(facts))
        )
        for item in ITEMS
        if item.applies(facts)
    )


def named(item: WiringItem, kept_apart: Sequence[tuple[int, int]]) -> str:
    """Give what an item asks for; where leads are to be kept apart, with their pairs of cylinders.

    Parameters
    ----------
    item : WiringItem
        One point of the list.
    kept_apart : sequence of (int, int)
        Pairs of cylinders whose leads are to be kept apart.
    """
    if item.key != "leads-apart" or not kept_apart:
        return item.what
    pairs = ", ".join(f"{first} and {second}" for first, second in kept_apart)
    return f"{item.what.removesuffix('.')}: {pairs}."
