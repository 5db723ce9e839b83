"""How far a best advance or a knock limit may be off, from stated spreads, by small changes.

Each spread is one standard deviation. Effects are taken as straight lines and as independent of each
other, computed on a coarse grid of the map and carried to every cell by interpolation.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from sparkwright.cycle.hook import best_spark, knock_limit_deg
from sparkwright.ignition.rotor import SIZE_SPREAD
from sparkwright.job import Job
from sparkwright.plan.hardware import rotor_cap
from sparkwright.plan.physics import Physics
from sparkwright.plan.point import trace_at
from sparkwright.plan.result import FloatArray, SpreadTaken

COARSE_ADVANCE_DEG: FloatArray = np.linspace(-4.0, 60.0, 17)
COARSE_NODES = 4


CALIBRATION = "misfit of the calibration's targets"


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


def _constant(name: str, towards: float = 1.0) -> Callable[[Physics, float], Physics]:
    def moved(physics: Physics, percent: float) -> Physics:
        value = getattr(physics.constants, name) * (1.0 + 0.01 * towards * percent)
        return replace(physics, constants=replace(physics.constants, **{name: value}))

    return moved


def _octane(physics: Physics, amount: float) -> Physics:
    return replace(physics, fuel=replace(physics.fuel, octane=physics.fuel.octane - amount))


def _warmer(physics: Physics, kelvin: float) -> Physics:
    return replace(physics, intake_k=physics.intake_k + kelvin, boosted_k=physics.boosted_k + kelvin)


def _compression(physics: Physics, percent: float) -> Physics:
    chamber = physics.engine.chamber
    more = replace(chamber, compression_ratio=(1.0 + 0.01 * percent) * chamber.compression_ratio)
    return replace(physics, engine=replace(physics.engine, chamber=more))


def _overlap(physics: Physics, percent: float) -> Physics:
    engine, wider = physics.engine, 1.0 + 0.01 * percent
    return replace(
        physics,
        engine=replace(
            engine, intake_seat_m=wider * engine.intake_seat_m, exhaust_seat_m=wider * engine.exhaust_seat_m
        ),
    )


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


def _swirl(physics: Physics, percent: float) -> Physics:
    return replace(
        physics, engine=replace(physics.engine, swirl=(1.0 - 0.01 * percent) * physics.engine.swirl)
    )


CAM_SIZES = ("cam.intake_valve", "cam.exhaust_valve", "cam.intake_lift", "cam.exhaust_lift")

SPREADS = (
    Spread("turbulence", "%", 8, 8, CALIBRATION, (), _constant("turbulence")),
    Spread("burn-up time", "%", 15, 15, CALIBRATION, (), _constant("burn_up")),
    Spread("induction time", "%", 10, 10, CALIBRATION, (), _constant("knock_factor", -1.0)),
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
    Spread(
        "swirl",
        "%",
        3,
        6,
        "ports of one kind, beyond the calibration's misfit, a choice",
        ("engine.swirl",),
        _swirl,
    ),
)
"""One standard deviation each. What the job leaves to assumption may be off by more than what it states."""

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
    return tuple(each.taken(physics) for each in SPREADS) + tuple(
        SpreadTaken(
            words[part][0], f"{amount:.2g} {words[part][1]}", stated, "a caliper on worn edges, a choice"
        )
        for part, (amount, _, stated) in reach_spreads(job).items()
    )


def _limits(physics: Physics, rpm: float, kpa: float) -> tuple[float, float]:
    trace = trace_at(physics, rpm, kpa, COARSE_ADVANCE_DEG)
    best = best_spark(trace.advance_deg, trace.torque_nm)
    return (
        float("nan") if best.at_edge else best.best_deg,
        knock_limit_deg(trace.advance_deg, trace.knock_integral),
    )


def coarse_points(rpm: FloatArray, kpa: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Speeds and loads of the coarse grid, evenly spaced over the map."""
    return np.linspace(rpm[0], rpm[-1], COARSE_NODES), np.linspace(kpa[0], kpa[-1], COARSE_NODES)


def sigma_at(physics: Physics, rpm: float, kpa: float) -> tuple[float, float]:
    """Give the standard deviations of best advance and knock limit at one speed and load [deg].

    Either is nan where the tested advances do not show it. A limit that a spread moves out of them counts
    as standing at their edge, so what it adds is then the least it may be.
    """
    limits = np.array(
        [_limits(physics, rpm, kpa)]
        + [_limits(each.moved(physics, each.amount(physics)), rpm, kpa) for each in SPREADS]
    )
    base = np.where(np.isfinite(limits[0]), limits[0], np.nan)
    moved = np.nan_to_num(limits[1:], nan=COARSE_ADVANCE_DEG[-1], neginf=COARSE_ADVANCE_DEG[0])
    sigma = np.sqrt(np.sum((moved - base) ** 2, axis=0))
    return float(sigma[0]), float(sigma[1])


def spread_over(rpm: FloatArray, kpa: FloatArray, coarse: FloatArray) -> FloatArray:
    """Carry the coarse grid, shape (loads, speeds), to every cell; nan counts as the largest known."""
    if not np.any(np.isfinite(coarse)):
        return np.full((kpa.size, rpm.size), np.nan)
    filled = np.where(np.isfinite(coarse), coarse, np.nanmax(coarse))
    coarse_rpm, coarse_kpa = coarse_points(rpm, kpa)
    rows = np.array([np.interp(rpm, coarse_rpm, row) for row in filled])
    return np.array([np.interp(kpa, coarse_kpa, column) for column in rows.T]).T
