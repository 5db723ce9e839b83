"""The work on a distributor at the bench, in sentences: why each piece is done, and the boxes to tick."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from sparkwright.findings import Length, Sentence
from sparkwright.ignition.body import SwitchingModule, WeightsPlace
from sparkwright.ignition.rotor import Rotation
from sparkwright.job.sections.pickup import PickupKind
from sparkwright.mounting.before_it_goes_in import BeforeItGoesIn
from sparkwright.units import System
from sparkwright.words.parts import Said, Writer
from sparkwright.words.ways import way_of

CAUTIONS = (
    "All of this is done on the bench. Battery disconnected and its lead tied back before the distributor is "
    "drawn; the coil's lead off its tower.",
    "Springs of the weights fly: goggles on, a cloth over the plate while they come off.",
    "The drive gear may turn the oil pump as well: with the distributor out nothing proves oil pressure, "
    "and the "
    "engine must not be turned by its starter.",
    "Old caps and dust of linings may hold asbestos: wipe wet, don't blow. Brake cleaner and heat make a "
    "poisonous "
    "gas.",
    "Heat, hammer and welding near the magnet or sensor ruin it. Whoever has no press and no vice with "
    "soft jaws "
    "leaves pins and gears to a machine shop.",
    "Where the law keeps the emission parts of this vehicle as made, its advance stays as made. Local "
    "codes and "
    "licensed practice come first.",
)
"""Cautions of the trade, in our words. Common practice, no source."""


@dataclass(frozen=True)
class Task:
    """One piece of work at the bench: why it is done, and the boxes to tick."""

    title: str
    why: str
    boxes: tuple[Sentence | str, ...]


def tasks(work: BeforeItGoesIn) -> tuple[Task, ...]:
    """Say what is done at the bench, in the order of the work.

    Parameters
    ----------
    work : BeforeItGoesIn
        What kind of body it is.

    Examples
    --------
    >>> from sparkwright.mounting.before_it_goes_in import before_it_goes_in
    >>> [task.title for task in tasks(before_it_goes_in("hall", "clockwise"))]
    ['Lock the advance', 'Fix the plate, seal the port', 'Gear, bearings, end play', 'Rotor', 'Pickup']
    """
    return (
        _locking(work.weights, work.rotation),
        _plate(work.rotation),
        _gear(),
        _rotor(work.rotation),
        _pickup(work.pickup, work.module),
    )


def _locking(weights: WeightsPlace | None, rotation: Rotation) -> Task:
    """Name the work that locks the shaft: at rest, where its springs hold it at its latest."""
    return Task(
        "Lock the advance",
        "Weights that still move add their own degrees to the map's, and carry rotor and trigger with "
        "them. Locked "
        "at rest, where the springs hold it, the shaft keeps the relation in which it was built.",
        (*_weights_out(weights), *_fixed(weights, rotation)),
    )


def _weights_out(weights: WeightsPlace | None) -> Iterator[str]:
    if weights == "none":
        yield "There are no weights: twist the rotor against the gear both ways. Nothing gives."
        return
    if weights is None:
        yield (
            "Find the weights: under the rotor's foot (above the plate), or under the pickup's plate "
            "(below it)."
        )
    if weights != "below the plate":
        yield "Above the plate: rotor off; springs and weights out, each bagged with this job's name."
    if weights != "above the plate":
        yield (
            "Below the plate: mark how the trigger wheel sits on its shaft, lift wheel and plate, then "
            "springs and "
            "weights out, each bagged with this job's name."
        )


def _fixed(weights: WeightsPlace | None, rotation: Rotation) -> Iterator[str]:
    if weights == "none":
        return
    yield (
        f"Turn the upper shaft back, {way_of(rotation, -1.0)}, until it stands at its stop: that is rest, no "
        "advance."
    )
    yield (
        "Fix it there with metal: a plate screwed over both pins, a filler piece in the stop's slot, or a "
        "weld by "
        "someone who welds. No cable tie, no glue, no springs wound tight."
    )
    yield (
        "Prove it: gear in soft jaws, twist the rotor hard both ways. No play that the eye can see, no "
        "spring."
    )


def _plate(rotation: Rotation) -> Task:
    return Task(
        "Fix the plate, seal the port",
        "The vacuum canister turns the pickup's plate against rotation; a plate left free shakes, and an "
        "open port "
        "leans the idle.",
        (
            "Canister off, or its rod off its pin; the hole in the body closed against dirt.",
            f"Plate turned to its stop in the direction of rotation ({rotation}): rest, no vacuum. Screwed "
            "fast there.",
            "Ground wire of the plate whole, long enough, and not rubbed by the wheel.",
            "Port at carburettor, throttle body or manifold capped with a cap that oil and heat don't "
            "soften.",
            "Prove it: push the plate both ways with a finger. It stands.",
        ),
    )


def _gear() -> Task:
    return Task(
        "Gear, bearings, end play",
        "What the shaft can move without the crank, the spark moves too; the table says by how much.",
        (
            "Gear: teeth unworn on the driving side, of the metal that suits the camshaft's; its pin tight.",
            "Side play: dial gauge on the shaft at the trigger wheel, push and pull. Note ______.",
            Sentence(
                "End play: dial gauge on the shaft's end, lift and press. Note ______. Shims set it; "
                "without the maker's figure keep it between {0} and {1}.",
                (Length(0.1), Length(0.5)),
            ),
            "Shaft turns freely over a whole turn; bush oiled, its felt damp.",
        ),
    )


def _rotor(rotation: Rotation) -> Task:
    return Task(
        "Rotor",
        "The spark jumps from tip to post: where the tip stands when the coil fires decides how much "
        "advance the cap "
        "can carry.",
        (
            "Cap and rotor new or clean: no tracks, no carbon line, tip and posts bright, vent open.",
            "Phase: tip to post as on the rotor-phasing sheet of this job, measured with the trigger at "
            "its firing "
            f"place; ahead means in the direction of rotation ({rotation}).",
            "Rotor secured as that sheet says: screws with thread lock, or a rotor that can turn on no "
            "spline.",
            "Prove it: cap with a window, or the sheet's marks, and the tip stands as drawn.",
        ),
    )


_PICKUPS: dict[PickupKind, tuple[str, ...]] = {
    "two-wire": (
        "Two-wire: air gap the same at every tooth, none of them touching. Resistance ______ ohm, cold; "
        "wires moved "
        "while measuring: it doesn't jump.",
        "Its two wires twisted from here on; which one swings down as the tooth passes is noted: ______.",
    ),
    "hall": (
        "Hall: every vane runs in the middle of the slot, none bent; the sensor's own plug and lock whole.",
        "Supply voltage that the sensor takes, and which edge (vane in or out) counts, noted: ______.",
    ),
    "points": (
        "Points as trigger: faces square and bright, rubbing block greased, gap or dwell set; condenser "
        "off where the "
        "controller's wiring says so.",
        "The controller takes points as a trigger, with current enough to keep them clean: read, not "
        "guessed.",
    ),
}


def _pickup(pickup: PickupKind, module: SwitchingModule | None) -> Task:
    return Task(
        "Pickup",
        "One signal for each cylinder and no other.",
        (*_PICKUPS[pickup], *_module_boxes(module)),
    )


def _module_boxes(module: SwitchingModule | None) -> Iterator[str]:
    if module is None:
        yield (
            "Look whether a switching module sits inside the body: it times and charges by itself unless "
            "it has an input."
        )
    elif module == "own dwell":
        yield "Module out, its heat sink's hole closed; the sensor's own wires brought out to the controller."
    elif module == "timing input":
        yield (
            "Module with an input: reference out, timing in, and the wire that hands over to the "
            "controller each "
            "found and marked. What it does while cranking, before the hand-over, noted: ______."
        )
        yield "The dwell is the module's own: the controller's dwell table does nothing here."


def _in_order(_: System) -> Said:
    return (
        "One spark for one signal, and nothing that moves.",
        "Work down the boxes on the bench; leave the distributor out while one is open.",
    )


def _unfit(system: System, *, since: str) -> Said:
    return "Don't fit this body as it is.", WRITERS[since](system)[0]


def _not_lockable(_: System) -> Said:
    return (
        "Its advance can't be locked: the spark would move by the weights as well as by the map, and the "
        "light would never agree with the controller. Fit a body that locks, or a trigger at the crank and "
        "use this one to hand sparks round only.",
        "",
    )


def _own_timing(_: System) -> Said:
    return (
        "The module inside charges the coil by itself and fires when its own sensor says so: a controller "
        "can't time it. Take the module out and wire the sensor to the controller, with a driver for the "
        "coil; or fit a module with an input for timing.",
        "",
    )


WRITERS: dict[str, Writer] = {
    "bench.in-order": _in_order,
    "bench.unfit": _unfit,
    "bench.not-lockable": _not_lockable,
    "bench.own-timing": _own_timing,
}
