"""What may be otherwise in one engine than job and program say, and how far: one standard deviation each.

The constants move along the directions of the prior's own covariance. What a shop states may be wrong by the
spreads that the plan reckons with; the cam's place and the heat to the walls come on top. Mixture is left
out: the program keeps its gas tables for stated mixtures, and what it does shows in the surface of what is
left over.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from sparkwright.cycle.belief import Belief
from sparkwright.cycle.cam import ValveEvents
from sparkwright.numeric import FloatArray
from sparkwright.plan.physics import Physics
from sparkwright.plan.uncertainty import SPREADS

CAM_SIGMA_DEG = 3.0
"""How far a cam may stand from its card, one standard deviation [crank deg]; chain, key and card,
recalled."""

HEAT_SIGMA = 0.15
"""The same of the heat to the walls [-]; Woschni's coefficient is known to tens of percent."""

COMPRESSION_SIGMA = 0.04
"""The same of the compression ratio [-], where a shop took it from a book; recalled."""

KEPT_VARIANCE = 1e-3
"""Share of the constants' variance below which a direction is left alone [-]."""

LEARNED_FACTS = ("octane number", "intake air", "valve overlap", "plug offset")


@dataclass(frozen=True, eq=False)
class Move:
    """One thing that may be otherwise, and the engine in which it is so by some standard deviations.

    ``sigma`` is one standard deviation in ``unit``; the number 1 for a direction of the constants.
    """

    name: str
    unit: str
    sigma: float
    moved: Callable[[Physics, float], Physics]


def moves_of(physics: Physics) -> tuple[Move, ...]:
    """Give everything that may be otherwise in an engine, before anything was measured on it.

    Parameters
    ----------
    physics : Physics
        The engine, with the facts that it leaves to assumption.
    """
    facts = tuple(
        Move(spread.name, spread.unit, spread.amount(physics.left_to_assumption), moved)
        for spread, moved in SPREADS
        if spread.name in LEARNED_FACTS
    )
    own = (
        Move("compression ratio", "%", 100.0 * COMPRESSION_SIGMA, _compressed),
        Move("cam", "deg", CAM_SIGMA_DEG, _cam_later),
        Move("heat to the walls", "%", 100.0 * HEAT_SIGMA, _hotter),
    )
    return _constants(physics.belief) + facts + own


def moved(physics: Physics, moves: tuple[Move, ...], amounts: FloatArray) -> Physics:
    """Move everything at once.

    Parameters
    ----------
    physics : Physics
        The engine as job and program say.
    moves : tuple of Move
        What is moved.
    amounts : array, shape (moves,)
        By how many standard deviations [-].
    """
    for each, amount in zip(moves, amounts.tolist(), strict=True):
        if amount != 0.0:
            physics = each.moved(physics, amount * each.sigma)
    return physics


def _constants(belief: Belief) -> tuple[Move, ...]:
    variances, vectors = np.linalg.eigh(belief.covariance)
    order = np.argsort(-variances, kind="stable")
    kept = [k for k in order if variances[k] > KEPT_VARIANCE * variances.sum()]
    return tuple(
        Move(
            f"constants {place}",
            "",
            1.0,
            partial(_along, belief.uncertain, vectors[:, k] * np.sqrt(variances[k])),
        )
        for place, k in enumerate(kept, start=1)
    )


def _along(names: tuple[str, ...], logarithms: FloatArray, physics: Physics, amount: float) -> Physics:
    constants = physics.belief.constants
    values = {
        name: getattr(constants, name) * float(np.exp(amount * by))
        for name, by in zip(names, logarithms, strict=True)
    }
    return replace(physics, belief=replace(physics.belief, constants=replace(constants, **values)))


def _compressed(physics: Physics, percent: float) -> Physics:
    chamber = physics.engine.chamber
    ratio = chamber.compression_ratio * float(np.exp(0.01 * percent))
    return replace(physics, engine=replace(physics.engine, chamber=replace(chamber, compression_ratio=ratio)))


def _cam_later(physics: Physics, degrees: float) -> Physics:
    events = physics.engine.events
    later = ValveEvents(
        events.intake_opens_deg - degrees,
        events.intake_closes_deg + degrees,
        events.exhaust_opens_deg - degrees,
        events.exhaust_closes_deg + degrees,
        events.at_lift_mm,
    )
    return replace(physics, engine=replace(physics.engine, events=later))


def _hotter(physics: Physics, percent: float) -> Physics:
    engine = physics.engine
    return replace(
        physics, engine=replace(engine, wall_heat=engine.wall_heat * float(np.exp(0.01 * percent)))
    )
