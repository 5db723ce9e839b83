"""How far a best advance or a knock limit may be off, from stated spreads, by small changes.

Each spread is one standard deviation. Effects are taken as straight lines and as independent of each
other, computed on a coarse grid of the map and carried to every cell by interpolation.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from sparkwright.cycle.hook import best_spark, knock_limit_deg
from sparkwright.plan.physics import Physics
from sparkwright.plan.point import trace_at
from sparkwright.plan.result import FloatArray

COARSE_ADVANCE_DEG: FloatArray = np.linspace(-4.0, 60.0, 17)
COARSE_NODES = 4


@dataclass(frozen=True)
class Spread:
    """One thing not known exactly: how far it may be off, and an engine that is off so far."""

    name: str
    amount: str
    origin: str
    moved: Callable[[Physics], Physics]


def _constant(name: str, share: float) -> Callable[[Physics], Physics]:
    def moved(physics: Physics) -> Physics:
        value = getattr(physics.constants, name) * (1.0 + share)
        return replace(physics, constants=replace(physics.constants, **{name: value}))

    return moved


def _octane(physics: Physics) -> Physics:
    return replace(physics, fuel=replace(physics.fuel, octane=physics.fuel.octane - 1.0))


def _warmer(physics: Physics) -> Physics:
    return replace(physics, intake_k=physics.intake_k + 8.0, boosted_k=physics.boosted_k + 8.0)


def _compression(physics: Physics) -> Physics:
    chamber = physics.engine.chamber
    more = replace(chamber, compression_ratio=1.03 * chamber.compression_ratio)
    return replace(physics, engine=replace(physics.engine, chamber=more))


def _overlap(physics: Physics) -> Physics:
    engine = physics.engine
    wider = replace(
        engine, intake_seat_m=1.3 * engine.intake_seat_m, exhaust_seat_m=1.3 * engine.exhaust_seat_m
    )
    return replace(physics, engine=wider)


SPREADS = (
    Spread("turbulence", "8 %", "misfit of the calibration's targets", _constant("turbulence", 0.08)),
    Spread("burn-up time", "15 %", "misfit of the calibration's targets", _constant("burn_up", 0.15)),
    Spread("induction time", "10 %", "misfit of the calibration's targets", _constant("knock_factor", -0.10)),
    Spread("octane number", "1", "tolerance of pump fuel, recalled", _octane),
    Spread("intake air", "8 K", "difference between sites of a sensor, recalled", _warmer),
    Spread("compression ratio", "3 %", "casting and gasket, recalled", _compression),
    Spread("valve overlap", "30 %", "lift flanks estimated from the cam's events", _overlap),
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
        [_limits(physics, rpm, kpa)] + [_limits(each.moved(physics), rpm, kpa) for each in SPREADS]
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
