"""What measuring an assumed fact is worth: the degrees by which timing may lie off while it is a guess."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from sparkwright.check.assumed import Assumed
from sparkwright.cycle.belief import PRIOR, Belief
from sparkwright.job import Job
from sparkwright.job.usual import USUAL
from sparkwright.plan.hooks import USUAL_BEST_DEG, sparse_at
from sparkwright.plan.physics import Physics, physics_of
from sparkwright.plan.uncertainty import SPREADS, reach_spreads

CRUISE_SHARE = 0.45
"""Load at which cruise is judged, of the site's pressure [-]; common practice, no source."""

LEAST_DEG = 0.1
"""Below this no fact is worth a measurement [crank deg]; a light reads no finer."""

FULL_LOAD_RPM, FULL_LOAD_FAST_RPM, CRUISE_RPM = 1500.0, 3000.0, 2500.0
"""Speeds at which the worth is judged; common practice, no source."""


@dataclass(frozen=True)
class Worth:
    """What one assumed fact may cost: its keys in the job, the one that counts most first, and where.

    ``moved_deg`` is how far the right timing, the lower of best and the knock limit, may lie off at one
    standard deviation [crank deg]; for a part of the rotor, how far its reach may.
    """

    name: str
    keys: tuple[str, ...]
    moved_deg: float
    rpm: float | None
    kpa: float | None


def worth_measuring(job: Job, belief: Belief = PRIOR) -> tuple[Worth, ...]:
    """Give the facts that a job leaves to assumption, the most worth measuring first.

    Parameters
    ----------
    job : Job
        The job.
    belief : Belief, optional
        What is believed of the engine's constants.

    Returns
    -------
    tuple of Worth
        Those that move the timing at all; empty where everything that moves it is stated.

    Notes
    -----
    Each fact is moved by one standard deviation of its guess, alone, and the timing found anew at idle, at
    cruise and at full load at two speeds. Straight differences of the cycle, nothing published.

    Examples
    --------
    >>> from sparkwright.job import starter_text
    >>> found = worth_measuring(Job.from_toml(starter_text()))
    >>> all(one.moved_deg >= other.moved_deg for one, other in zip(found, found[1:]))
    True
    """
    physics = physics_of(job, belief)
    taken = physics.left_to_assumption
    places = _places(physics)
    now = {name: _timing_deg(physics, *place) for name, place in places.items()}
    found = [
        _worth(spread.name, left, moved(physics, spread.amount(taken)), places, now)
        for spread, moved in SPREADS
        if (left := tuple(sorted(spread.left(taken))))
    ]
    found += [
        Worth(name, (key,), moved_deg, None, None)
        for part, (_, moved_deg, stated) in reach_spreads(job).items()
        if not stated
        for name, key in (PARTS[part],)
    ]
    told = (each for each in found if each.moved_deg >= LEAST_DEG)
    return tuple(sorted(told, key=lambda each: -each.moved_deg))


PARTS = {
    "tip_width_mm": ("tip width", "distributor.tip_width"),
    "post_width_mm": ("post width", "distributor.post_width"),
    "rotor_phase_deg": ("rotor phase", "distributor.rotor_phase_deg"),
}
"""What each part of the rotor's reach is called, and its key."""


def _places(physics: Physics) -> dict[str, tuple[float, float]]:
    """Give where the worth is judged, by the word that a key for that place ends in: speed and load."""
    ambient = physics.ambient_kpa
    return {
        "idle": (physics.idle_rpm, physics.idle_kpa),
        "cruise": (CRUISE_RPM, CRUISE_SHARE * ambient),
        "full": (FULL_LOAD_RPM, ambient),
        "boost" if physics.top_kpa > ambient else "full, fast": (FULL_LOAD_FAST_RPM, physics.top_kpa),
    }


def _timing_deg(physics: Physics, rpm: float, kpa: float) -> float:
    hook = sparse_at(physics, rpm, kpa)
    return float(np.fmin(hook.best(USUAL_BEST_DEG)[0], hook.knock(0.0)))


def _worth(
    name: str,
    keys: tuple[str, ...],
    other: Physics,
    places: dict[str, tuple[float, float]],
    now: dict[str, float],
) -> Worth:
    moved = {at: abs(_timing_deg(other, *place) - now[at]) for at, place in places.items()}
    most = max(moved, key=moved.__getitem__)
    first = tuple(sorted(keys, key=lambda key: not key.endswith(most)))
    return Worth(name, first, moved[most], *places[most])


@dataclass(frozen=True)
class MeasureFirst:
    """An assumed value that is worth measuring, and why; ``worth`` is None where no degrees hang on it."""

    field: str
    value: str
    why: str
    worth: Worth | None = None


def measure_first(
    assumed: Iterable[Assumed], worth: Iterable[Worth] = (), most: int = 3
) -> tuple[MeasureFirst, ...]:
    """Give the assumed values that matter most: those that move the timing, the most first, then the others.

    Parameters
    ----------
    assumed : iterable of Assumed
        What the job left to assumption.
    worth : iterable of Worth, optional
        How far each assumed value moves the timing; none for what moves none.
    most : int, optional
        How many to give at most.

    Examples
    --------
    >>> taken = [Assumed("fuel.lambda_full", "0.87", "usual"), Assumed("engine.swirl", "1", "usual")]
    >>> [each.field for each in measure_first(taken, most=1)]
    ['engine.swirl']
    >>> mixture = Worth("mixture", ("fuel.lambda_full",), 1.4, 3000, 97)
    >>> [each.field for each in measure_first(taken, [mixture])]
    ['fuel.lambda_full', 'engine.swirl']
    """
    by_field = {each.field: each.value for each in assumed}
    moving = {each.keys[0]: each for each in worth}
    counted = {key for each in worth for key in each.keys}
    found = [
        MeasureFirst(key, by_field[key], USUAL[key].matters, moving.get(key))
        for key in (*moving, *(key for key in USUAL if key not in counted))
        if key in by_field and key in USUAL and USUAL[key].matters
    ]
    return tuple(found[:most])
