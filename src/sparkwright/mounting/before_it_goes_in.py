"""What is done to a distributor on the bench: advance locked, port sealed, play measured, rotor phased."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from sparkwright.findings import Length, Sentence
from sparkwright.ignition.body import (
    SwitchingModule,
    WeightsPlace,
    end_play_crank_deg,
    side_play_crank_deg,
)
from sparkwright.ignition.rotor import Rotation
from sparkwright.job import Job
from sparkwright.job.sections.pickup import PickupKind

TRIGGER_RADIUS_MM = 16.0
GEAR_RADIUS_MM = 16.0
"""Radius of a trigger wheel, and pitch radius of a drive gear, of usual size; common practice, no source."""

SIDE_PLAY_MM = (0.05, 0.1, 0.2)
END_PLAY_MM = (0.1, 0.3, 0.6)
"""Plays that the table tells the cost of [mm]."""

MOST_SCATTER_DEG = 1.0
"""Play that costs more than this can be seen with a light [crank deg]; common practice, no source."""

IN_ORDER = "One spark for one signal, and nothing that moves."

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


@dataclass(frozen=True)
class PlayCost:
    """What one play costs: where, how much [mm], and the timing that it may move [crank deg]."""

    where: str
    play_mm: float
    crank_deg: float


@dataclass(frozen=True)
class BeforeItGoesIn:
    """The whole sheet: tasks in the order of the work, what play costs, and what stands in the way.

    ``troubles`` are what no work on this body can cure; empty where there is nothing of the kind.
    """

    weights: WeightsPlace | None
    pickup: PickupKind
    module: SwitchingModule | None
    rotation: Rotation
    headline: str
    action: str
    troubles: tuple[str, ...]
    tasks: tuple[Task, ...]
    play: tuple[PlayCost, ...]
    cautions: tuple[str, ...]


def before_it_goes_in(
    pickup: PickupKind,
    rotation: Rotation,
    *,
    weights: WeightsPlace | None = None,
    module: SwitchingModule | None = None,
    lockable: bool = True,
) -> BeforeItGoesIn:
    """Gather the work at the bench for one kind of distributor.

    Parameters
    ----------
    pickup : {"two-wire", "hall", "points"}
        What triggers.
    rotation : {"clockwise", "anticlockwise"}
        Which way the rotor turns, seen from above.
    weights : {"above the plate", "below the plate", "none"}, optional
        Where the centrifugal weights sit; both ways are told when not given.
    module : {"none", "own dwell", "timing input"}, optional
        What switches inside the body; told as a question when not given.
    lockable : bool
        False for a body whose advance can't be locked.

    Examples
    --------
    >>> sheet = before_it_goes_in("hall", "clockwise", weights="below the plate")
    >>> [task.title for task in sheet.tasks]
    ['Lock the advance', 'Fix the plate, seal the port', 'Gear, bearings, end play', 'Rotor', 'Pickup']
    """
    stops = tuple(_stops(module, lockable))
    return BeforeItGoesIn(
        weights=weights,
        pickup=pickup,
        module=module,
        rotation=rotation,
        headline="Don't fit this body as it is."
        if stops
        else "One spark for one signal, and nothing that moves.",
        action=stops[0]
        if stops
        else "Work down the boxes on the bench; leave the distributor out while one is open.",
        troubles=stops,
        tasks=(
            _locking(weights, rotation),
            _plate(rotation),
            _gear(),
            _rotor(rotation),
            _pickup(pickup, module),
        ),
        play=_play(),
        cautions=CAUTIONS,
    )


def bench_work(job: Job) -> BeforeItGoesIn:
    """Gather the work at the bench for the distributor of a job.

    Examples
    --------
    >>> from sparkwright.job import starter_text
    >>> bench_work(Job.from_toml(starter_text())).headline
    'One spark for one signal, and nothing that moves.'
    """
    body = job.distributor
    return before_it_goes_in(
        job.pickup.kind,
        body.rotation,
        weights=body.weights,
        module=body.module_inside,
        lockable=body.advance != "not lockable",
    )


def _stops(module: SwitchingModule | None, lockable: bool) -> Iterator[str]:
    if not lockable:
        yield (
            "Its advance can't be locked: the spark would move by the weights as well as by the map, and "
            "the light "
            "would never agree with the controller. Fit a body that locks, or a trigger at the crank and "
            "use this one "
            "to hand sparks round only."
        )
    if module == "own dwell":
        yield (
            "The module inside charges the coil by itself and fires when its own sensor says so: a "
            "controller can't "
            "time it. Take the module out and wire the sensor to the controller, with a driver for the "
            "coil; or fit a "
            "module with an input for timing."
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
        f"Turn the upper shaft back against rotation (rotation is {rotation} from above) until it stands "
        "at its stop: "
        "that is rest, no advance."
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


def _play() -> tuple[PlayCost, ...]:
    side = (
        PlayCost("side play at the trigger wheel", play, side_play_crank_deg(play, TRIGGER_RADIUS_MM))
        for play in SIDE_PLAY_MM
    )
    end = (
        PlayCost("end play through the drive gear", play, end_play_crank_deg(play, GEAR_RADIUS_MM))
        for play in END_PLAY_MM
    )
    return (*side, *end)
