"""What is not known exactly of an engine, and how far it may be off: one standard deviation each."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from sparkwright.cycle.knock import limit_doubt
from sparkwright.ignition.rotor import SIZE_SPREAD
from sparkwright.job import Job
from sparkwright.plan.hardware import rotor_cap
from sparkwright.plan.own_belief import OwnBelief
from sparkwright.plan.physics import Physics
from sparkwright.plan.result import SpreadTaken

CALIBRATION = "misfit of the calibration's targets, all constants together"
OTHER_ENGINES = "engines that took no part in the calibration"
LEARNED = "learned from this engine; see docs/learning.md"

KNOWN_SHARE = 0.97
"""Share of the belief's variance that the directions kept hold [-]; the rest moves nothing."""


@dataclass(frozen=True)
class Spread:
    """One thing not known exactly: how far it may be off, and an engine that is off so far.

    ``fields`` are the job's keys that state it, or how they begin: up to a point or underscore. Where any
    of them is assumed, ``assumed`` is how far it may be off, else ``stated``.
    """

    name: str
    unit: str
    stated: float
    assumed: float
    origin: str
    fields: tuple[str, ...]
    moved: Callable[[Physics, float], Physics]

    def is_stated(self, physics: Physics) -> bool:
        """Whether the job states everything that this depends on."""
        taken = [each.field for each in physics.assumed]
        return not any(
            name.startswith(field) if field[-1] in "._" else name == field
            for name in taken
            for field in self.fields
        )

    def amount(self, physics: Physics) -> float:
        """One standard deviation, in ``unit``."""
        return self.stated if self.is_stated(physics) else self.assumed

    def taken(self, physics: Physics) -> SpreadTaken:
        """Say what was taken for a job."""
        return SpreadTaken(
            self.name, f"{self.amount(physics):g} {self.unit}".strip(), self.is_stated(physics), self.origin
        )


def _octane(physics: Physics, amount: float) -> Physics:
    return replace(physics, fuel=replace(physics.fuel, octane=physics.fuel.octane - amount))


def _warmer(physics: Physics, kelvin: float) -> Physics:
    return replace(physics, intake_k=physics.intake_k + kelvin, boosted_k=physics.boosted_k + kelvin)


def _compression(physics: Physics, percent: float) -> Physics:
    chamber = physics.engine.chamber
    more = replace(chamber, compression_ratio=(1.0 + 0.01 * percent) * chamber.compression_ratio)
    return replace(physics, engine=replace(physics.engine, chamber=more))


def _overlap(physics: Physics, percent: float) -> Physics:
    """Open the valves further over the same events, as steeper flanks do."""
    engine = physics.engine
    return replace(physics, engine=replace(engine, rocker_ratio=(1.0 + 0.01 * percent) * engine.rocker_ratio))


def _weaker(physics: Physics, amount: float) -> Physics:
    return replace(
        physics,
        mixture_lambda=tuple(each + amount for each in physics.mixture_lambda),
        idle_lambda=None if physics.idle_lambda is None else physics.idle_lambda + amount,
    )


def _plug(physics: Physics, percent_of_bore: float) -> Physics:
    """Move the plug away from the bore's axis, where that does more, or towards it where the bore ends."""
    chamber = physics.engine.chamber
    by_m = 0.01 * percent_of_bore * chamber.bore_m
    fits = chamber.plug_m + by_m < 0.48 * chamber.bore_m
    offset_m = chamber.plug_m + by_m if fits else chamber.plug_m - by_m
    return replace(physics, engine=replace(physics.engine, chamber=replace(chamber, plug_offset_m=offset_m)))


CAM_SIZES = ("cam.intake_valve", "cam.exhaust_valve", "cam.intake_lift", "cam.exhaust_lift")

SPREADS = (
    Spread(
        "octane number",
        "",
        1,
        1.5,
        "tolerance of pump fuel and its second number, recalled",
        ("fuel",),
        _octane,
    ),
    Spread(
        "intake air",
        "K",
        8,
        12,
        "where a sensor stands, and how it was warmed, recalled",
        ("induction.",),
        _warmer,
    ),
    Spread("compression ratio", "%", 3, 3, "casting and gasket, recalled", (), _compression),
    Spread("valve overlap", "%", 30, 40, "lift flanks estimated from the cam's events", CAM_SIZES, _overlap),
    Spread("mixture, lambda", "", 0.03, 0.05, "carburettor and gauge, recalled", ("fuel.lambda_",), _weaker),
    Spread("plug offset", "% of bore", 2, 5, "a ruler on the head, recalled", ("engine.plug_offset",), _plug),
)
"""One standard deviation each. What the job leaves to assumption may be off by more than what it states."""


@dataclass(frozen=True)
class ShapeSpread:
    """How much less is known of engines whose chamber the program was not held against."""

    best_deg: float
    ln_knock: float
    origin: str


SHAPE_SPREADS = {
    "fast-burn": ShapeSpread(4.0, 0.47, "13 octane numbers by which the knock law falls short of practice"),
    "side-valve": ShapeSpread(6.0, 0.35, "a slow engine of 1923, and no knock ever measured to compare"),
}
"""By the kind of ``sparkwright.cycle.knock.limit_doubt``: standard deviations of best [crank deg] and of ln
of the knock integral [-], on top of those of any engine."""


def shape_spread(physics: Physics) -> ShapeSpread | None:
    """Give what the chamber adds to the spreads; None where the program was held against its like."""
    doubt = limit_doubt(physics.engine.chamber.shape)
    return None if doubt is None else SHAPE_SPREADS[doubt.kind]


TIMING_SPREAD_DEG = {True: 1.0, False: 2.0}
"""Base, mark and scatter of the spark together, with the mark proved and without [crank deg], until a light
check has measured them; common practice, no source."""


def timing_spread_deg(job: Job) -> float:
    """How far the real spark may lie from the commanded one, one standard deviation [crank deg]."""
    if job.light.timing_spread_deg is not None:
        return job.light.timing_spread_deg
    return TIMING_SPREAD_DEG[bool(job.light.mark_proved)]


def moved_by_belief(physics: Physics) -> tuple[Physics, ...]:
    """Engines whose constants lie one standard deviation off, along each direction that counts."""
    belief = physics.belief
    variances = np.sort(np.linalg.eigvalsh(belief.covariance))[::-1]
    kept = int(np.searchsorted(np.cumsum(variances), KNOWN_SHARE * variances.sum())) + 1
    return tuple(
        replace(physics, belief=replace(belief, constants=constants))
        for constants in belief.directions()[:kept]
    )


TIP_SPREAD_MM = 0.3
"""A caliper on a worn or curved edge [mm]; a choice."""

PHASE_SPREAD_DEG = {True: 0.5, False: 2.0}
"""Rotor phase where stated, and where the rotor is taken to stand unphased [distributor deg]; a choice."""


def reach_spreads(job: Job) -> dict[str, tuple[float, float, bool]]:
    """Give how far each part of the rotor's reach may be off.

    Returns
    -------
    dict
        By name: what was taken (in mm, or in distributor deg for the phase), what it does to the reach
        [crank deg], and whether the job states the part.
    """
    cap = rotor_cap(job)
    found = {}
    for part in ("tip_width_mm", "post_width_mm"):
        stated = getattr(job.distributor, part) is not None
        amount = TIP_SPREAD_MM if stated else SIZE_SPREAD * getattr(cap, part)
        # Narrower, since a wider one might bridge two posts.
        narrower = replace(cap, **{part: max(0.5 * getattr(cap, part), getattr(cap, part) - amount)})
        found[part] = (amount, cap.reach().most_deg - narrower.reach().most_deg, stated)
    stated = job.stated("distributor", "rotor_phase_deg")
    found["rotor_phase_deg"] = (PHASE_SPREAD_DEG[stated], 2.0 * PHASE_SPREAD_DEG[stated], stated)
    return found


def reach_sigma_deg(job: Job) -> float:
    """Give the standard deviation of the rotor's reach [deg], from how well its parts are known."""
    return float(np.sqrt(sum(moved_deg**2 for _, moved_deg, _ in reach_spreads(job).values())))


def spreads_taken(job: Job, physics: Physics) -> tuple[SpreadTaken, ...]:
    """Say everything that was taken as not exactly known, and how far it may be off."""
    words = {
        "tip_width_mm": ("tip width", "mm"),
        "post_width_mm": ("post width", "mm"),
        "rotor_phase_deg": ("rotor phase", "distributor deg"),
    }
    belief = physics.belief
    measured = job.light.timing_spread_deg is not None
    shape = shape_spread(physics)
    chamber = (
        ()
        if shape is None
        else (
            SpreadTaken(
                "chamber of its kind",
                f"best {shape.best_deg:g} deg, knock {shape.ln_knock:.0%}",
                True,
                shape.origin,
            ),
        )
    )
    program = (
        SpreadTaken("the program's constants", "jointly", True, CALIBRATION),
        SpreadTaken("best, from engine to engine", f"{belief.engine_best_deg:g} deg", True, OTHER_ENGINES),
        SpreadTaken("knock, from engine to engine", f"{belief.engine_ln_knock:.0%}", True, OTHER_ENGINES),
        SpreadTaken(
            "base, mark and scatter of the spark",
            f"{timing_spread_deg(job):g} deg",
            measured or bool(job.light.mark_proved),
            "the light check" if measured else "what a light check has not proved, a choice",
        ),
    )
    reach = tuple(
        SpreadTaken(
            words[part][0], f"{amount:.2g} {words[part][1]}", stated, "a caliper on worn edges, a choice"
        )
        for part, (amount, _, stated) in reach_spreads(job).items()
    )
    if isinstance(belief, OwnBelief):
        return (SpreadTaken("what its own sweeps leave", "cell by cell", True, LEARNED), *reach)
    return program + chamber + tuple(each.taken(physics) for each in SPREADS) + reach
