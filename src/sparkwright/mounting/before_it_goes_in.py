"""What is done to a distributor on the bench: advance locked, port sealed, play measured, rotor phased."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from sparkwright.findings import Finding
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


@dataclass(frozen=True)
class PlayCost:
    """What one play costs: where, how much [mm], and the timing that it may move [crank deg]."""

    where: str
    play_mm: float
    crank_deg: float


@dataclass(frozen=True)
class BeforeItGoesIn:
    """The whole sheet: what kind of body it is, what play costs, and what stands in the way.

    ``troubles`` are what no work on this body can cure; empty where there is nothing of the kind.
    """

    weights: WeightsPlace | None
    pickup: PickupKind
    module: SwitchingModule | None
    rotation: Rotation
    headline: Finding
    troubles: tuple[Finding, ...]
    play: tuple[PlayCost, ...]


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
    >>> sheet.headline.kind, sheet.troubles
    ('bench.in-order', ())
    """
    stops = tuple(_stops(module, lockable))
    return BeforeItGoesIn(
        weights=weights,
        pickup=pickup,
        module=module,
        rotation=rotation,
        headline=_headline(stops),
        troubles=stops,
        play=_play(),
    )


def bench_work(job: Job) -> BeforeItGoesIn:
    """Gather the work at the bench for the distributor of a job.

    Parameters
    ----------
    job : Job
        What the shop states of the engine.

    Examples
    --------
    >>> from sparkwright.job import starter_text
    >>> bench_work(Job.from_toml(starter_text())).headline.state
    'good'
    """
    body = job.distributor
    return before_it_goes_in(
        job.pickup.kind,
        body.rotation,
        weights=body.weights,
        module=body.module_inside,
        lockable=body.advance != "not lockable",
    )


def _stops(module: SwitchingModule | None, lockable: bool) -> Iterator[Finding]:
    if not lockable:
        yield Finding("bench.not-lockable", "problem")
    if module == "own dwell":
        yield Finding("bench.own-timing", "problem")


def _headline(stops: Sequence[Finding]) -> Finding:
    return (
        Finding("bench.unfit", "problem", {"since": stops[0].kind})
        if stops
        else Finding("bench.in-order", "good")
    )


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
