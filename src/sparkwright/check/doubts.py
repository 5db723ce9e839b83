"""What a job states that can be, and mostly isn't: worth a second look at the engine or its papers."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from sparkwright.cycle.cam import doubted_duration
from sparkwright.findings import Finding
from sparkwright.ignition.crank import rarity, ways_that_fit
from sparkwright.job import Job


@dataclass(frozen=True)
class Doubt:
    """One fact to look at again: its field, and the finding that says why and what to look at."""

    field: str
    finding: Finding


def doubts(job: Job) -> tuple[Doubt, ...]:
    """Give everything about the engine that is open or unusual.

    Parameters
    ----------
    job : Job
        What the shop states of the engine.

    Examples
    --------
    >>> from sparkwright.job import starter_text
    >>> doubts(Job.from_toml(starter_text()))
    ()
    """
    return (*order_doubts(job), *cam_doubts(job))


def order_doubts(job: Job) -> tuple[Doubt, ...]:
    """Give what is doubted about firing order and crank.

    Parameters
    ----------
    job : Job
        What the shop states of the engine.
    """
    return tuple(Doubt("engine.firing_order", finding) for finding in _order(job))


def cam_doubts(job: Job) -> tuple[Doubt, ...]:
    """Give what is doubted about the cam and the lift at which it is stated.

    Parameters
    ----------
    job : Job
        What the shop states of the engine.
    """
    return tuple(Doubt("cam.at_lift", finding) for finding in _cam(job))


def _order(job: Job) -> Iterator[Finding]:
    engine = job.engine
    order = engine.firing_order
    stated = (order, engine.layout, engine.bank_numbering)
    kind = rarity(*stated)
    if kind is None:
        yield Finding("firing-order.fits-no-crank", "look", {"order": order})
    elif kind == "rare-crank":
        crank = ways_that_fit(*stated)[0].crank.name
        yield Finding("firing-order.rare-crank", "look", {"order": order, "crank": crank})
    elif kind == "mirrored":
        turned = (1, *order[:0:-1])
        yield Finding("firing-order.mirrored", "look", {"order": order, "backwards": turned})
    elif kind == "neighbours":
        yield Finding("firing-order.neighbours", "look", {"order": order})
    elif kind == "same-bank":
        yield Finding("firing-order.same-bank", "look", {"order": order})
    if engine.layout == "v" and engine.cylinders == 6 and not job.stated("engine", "firing"):
        yield Finding("firing-order.taken-as-even", "look")


def _cam(job: Job) -> Iterator[Finding]:
    cam = job.cam
    if cam.at_lift_mm is None:
        yield Finding("cam.lift-not-given", "look", {"taken_mm": cam.lift_mm})
    for valve, duration_deg in _durations(job):
        doubted = doubted_duration(duration_deg, cam.lift_mm)
        if doubted is not None:
            yield Finding(
                f"cam.{doubted}",
                "look",
                {"valve": valve, "duration_deg": duration_deg, "at_lift_mm": cam.lift_mm},
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
