"""What is not known exactly of an engine, and how far it may be off: one standard deviation each."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import lru_cache

import numpy as np

from sparkwright.check.assumed import SpreadTaken
from sparkwright.check.rotor import rotor_cap
from sparkwright.cycle.belief import Belief
from sparkwright.cycle.shapes import SHAPES
from sparkwright.ignition.rotor import SIZE_SPREAD
from sparkwright.job import Job, usual
from sparkwright.job.usual import PHASE_SPREAD_DEG, TIMING_SPREAD_DEG, TIP_SPREAD_MM, Spread
from sparkwright.plan.own_belief import OwnBelief
from sparkwright.plan.physics import Physics

CALIBRATION = "misfit of the calibration's targets, all constants together"
OTHER_ENGINES = "engines that took no part in the calibration"
LEARNED = "learned from this engine; see docs/learning.md"

KNOWN_SHARE = 0.97
"""Share of the belief's variance that the directions kept hold [-]; the rest moves nothing."""


def _octane(physics: Physics, amount: float) -> Physics:
    return replace(physics, fuel=replace(physics.fuel, octane=physics.fuel.octane - amount))


def _warmer(physics: Physics, kelvin: float) -> Physics:
    return replace(physics, intake_k=physics.intake_k + kelvin, boosted_k=physics.boosted_k + kelvin)


def _compression(physics: Physics, percent: float) -> Physics:
    chamber = physics.engine.chamber
    more = replace(chamber, compression_ratio=(1.0 + 0.01 * percent) * chamber.compression_ratio)
    return replace(physics, engine=replace(physics.engine, chamber=more))


def _other_shape(physics: Physics, amount: float) -> Physics:
    """Take an open chamber, with its plug where it usually stands, for one that nobody looked at."""
    if not amount:
        return physics
    chamber = physics.engine.chamber
    other = replace(chamber, shape="open", plug_offset_m=SHAPES["open"].plug_offset_bores * chamber.bore_m)
    return replace(physics, engine=replace(physics.engine, chamber=other))


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
    # A plug on the axis lies as far off it on either side.
    offset_m = abs(chamber.plug_m + by_m if fits else chamber.plug_m - by_m)
    return replace(physics, engine=replace(physics.engine, chamber=replace(chamber, plug_offset_m=offset_m)))


SPREADS: tuple[tuple[Spread, Callable[[Physics, float], Physics]], ...] = (
    (usual.OCTANE, _octane),
    (usual.INTAKE_AIR, _warmer),
    (usual.COMPRESSION, _compression),
    (usual.CHAMBER, _other_shape),
    (usual.OVERLAP, _overlap),
    (usual.MIXTURE, _weaker),
    (usual.PLUG_OFFSET, _plug),
)
"""What of an engine isn't known exactly, each with what gives an engine that is off by an amount."""


def moved_by_facts(physics: Physics) -> tuple[Physics, ...]:
    """Engines of which one fact each lies one standard deviation off.

    Parameters
    ----------
    physics : Physics
        The job as the cycle sees it, with the keys that it leaves to assumption.
    """
    taken = physics.left_to_assumption
    amounts = ((moved, spread.amount(taken)) for spread, moved in SPREADS)
    return tuple(moved(physics, amount) for moved, amount in amounts if amount)


def timing_spread_deg(job: Job) -> float:
    """How far the real spark may lie from the commanded one, one standard deviation [crank deg].

    Parameters
    ----------
    job : Job
        The job, which may state it, or that its mark was proved.
    """
    if job.light.timing_spread_deg is not None:
        return job.light.timing_spread_deg
    return TIMING_SPREAD_DEG[bool(job.light.mark_proved)]


def moved_by_belief(physics: Physics) -> tuple[Physics, ...]:
    """Engines whose constants lie one standard deviation off, along each direction that counts.

    Parameters
    ----------
    physics : Physics
        The job as the cycle sees it, with what is believed of its constants.
    """
    return tuple(replace(physics, belief=moved) for moved in _moved(physics.belief))


@lru_cache(maxsize=8)
def _moved(belief: Belief) -> tuple[Belief, ...]:
    variances = np.sort(np.linalg.eigvalsh(belief.covariance))[::-1]
    kept = int(np.searchsorted(np.cumsum(variances), KNOWN_SHARE * variances.sum())) + 1
    return tuple(replace(belief, constants=constants) for constants in belief.directions()[:kept])


def reach_spreads(job: Job) -> dict[str, tuple[float, float, bool]]:
    """Give how far each part of the rotor's reach may be off.

    Parameters
    ----------
    job : Job
        The job, for the keys of the rotor that it states.

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
    """Give the standard deviation of the rotor's reach [deg], from how well its parts are known.

    Parameters
    ----------
    job : Job
        The job, for the keys of the rotor that it states.
    """
    return float(np.sqrt(sum(moved_deg**2 for _, moved_deg, _ in reach_spreads(job).values())))


def spreads_taken(job: Job, physics: Physics) -> tuple[SpreadTaken, ...]:
    """Say everything that was taken as not exactly known, and how far it may be off.

    Parameters
    ----------
    job : Job
        The job, for what it states of rotor and timing.
    physics : Physics
        The same as the cycle sees it.
    """
    words = {
        "tip_width_mm": ("tip width", "mm"),
        "post_width_mm": ("post width", "mm"),
        "rotor_phase_deg": ("rotor phase", "distributor deg"),
    }
    belief, taken = physics.belief, physics.left_to_assumption
    measured = job.light.timing_spread_deg is not None
    doubt = physics.engine.chamber.kind.limit_doubt
    chamber = (
        ()
        if doubt is None
        else (
            SpreadTaken(
                "chamber of its kind",
                f"best {doubt.best_deg:g} deg, knock {doubt.ln_knock:.0%}",
                True,
                doubt.origin,
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
    facts = tuple(SpreadTaken.of(spread, taken) for spread, _ in SPREADS if spread.amount(taken))
    return program + chamber + facts + reach
