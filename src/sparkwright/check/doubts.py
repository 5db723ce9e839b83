"""What a job states that can be, and mostly isn't: worth a second look at the engine or its papers."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from sparkwright.cycle.cam import doubted_duration
from sparkwright.ignition.crank import rarity, ways_that_fit
from sparkwright.job import Job


@dataclass(frozen=True)
class Doubt:
    """One fact to look at again: its field, and a sentence that says why and what to look at."""

    field: str
    sentence: str


def doubts(job: Job) -> tuple[Doubt, ...]:
    """Give everything about the engine that is open or unusual.

    Examples
    --------
    >>> from sparkwright.job import starter_text
    >>> doubts(Job.from_toml(starter_text()))
    ()
    """
    return (*order_doubts(job), *cam_doubts(job))


def order_doubts(job: Job) -> tuple[Doubt, ...]:
    """Give what is doubted about firing order and crank."""
    return tuple(Doubt("engine.firing_order", sentence) for sentence in _order(job))


def cam_doubts(job: Job) -> tuple[Doubt, ...]:
    """Give what is doubted about the cam and the lift at which it is stated."""
    return tuple(_cam(job))


def _order(job: Job) -> Iterator[str]:
    engine = job.engine
    order = "-".join(map(str, engine.firing_order))
    stated = (engine.firing_order, engine.layout, engine.bank_numbering)
    kind = rarity(*stated)
    if kind is None:
        yield f"No even-firing crank gives the firing order {order}: read it again from engine or book."
    elif kind == "rare-crank":
        crank = ways_that_fit(*stated)[0].crank.name
        yield f"The firing order {order} needs a {crank}, unusual in such an engine: sure?"
    elif kind == "mirrored":
        turned = "-".join(map(str, (1, *engine.firing_order[:0:-1])))
        yield (
            f"The firing order {order} needs a crank that turns the other way or is mirrored, as in some "
            f"boats: sure? Read backwards it is {turned}."
        )
    elif kind == "neighbours":
        yield (
            f"In the firing order {order} neighbours fire one after the other, unusual in a six in line: "
            "sure?"
        )
    elif kind == "same-bank":
        yield (
            f"In the firing order {order} two cylinders of one bank fire one after the other, unusual in a "
            "V6: sure? See how its banks are numbered."
        )
    if engine.layout == "v" and engine.cylinders == 6 and not job.stated("engine", "firing"):
        yield (
            "This V6 is taken to fire evenly; many with 90 deg between the banks and shared pins do not. "
            'Turn the rotor from post to post: where they stand 60 deg apart, state engine.firing = "even".'
        )


def _cam(job: Job) -> Iterator[Doubt]:
    cam = job.cam
    if cam.at_lift_mm is None:
        yield Doubt(
            "cam.at_lift",
            "The lift at which the cam is stated was never given: it is taken as 0.050 in (1.27 mm). "
            "Advertised degrees, counted near the seat, make a far milder cam: read on the card which it is.",
        )
    for valve, duration_deg in _durations(job):
        doubted = doubted_duration(duration_deg, cam.lift_mm)
        lift = cam.say("at_lift_mm") if cam.at_lift_mm is not None else "1.27 mm"
        if doubted == "long":
            yield Doubt(
                "cam.at_lift",
                f"{duration_deg:g} deg of {valve} duration at {lift} of lift is unusual, a racing cam: "
                "sure? See whether the card counts it there or advertises it, counted near the seat.",
            )
        elif doubted == "short":
            yield Doubt(
                "cam.at_lift",
                f"{duration_deg:g} deg of {valve} duration at {lift} of lift is unusually short: sure? See "
                "whether the card counts it at 0.050 in.",
            )


def _durations(job: Job) -> Iterator[tuple[str, float]]:
    cam = job.cam
    for valve, stated, opens, closes in (
        ("intake", cam.intake_duration_deg, cam.intake_opens_deg, cam.intake_closes_deg),
        ("exhaust", cam.exhaust_duration_deg, cam.exhaust_opens_deg, cam.exhaust_closes_deg),
    ):
        if stated is not None:
            yield valve, stated
        elif opens is not None and closes is not None:
            yield valve, opens + 180.0 + closes
