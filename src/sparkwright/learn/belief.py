"""The belief of one engine, from its sweeps and marks of knock."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, fields, replace
from functools import cached_property, lru_cache

import numpy as np

from sparkwright.cycle.belief import PRIOR, Belief
from sparkwright.dyno.sweep import Sweep
from sparkwright.job import Job
from sparkwright.learn.moves import Move, moved, moves_of
from sparkwright.learn.posterior import (
    BEST,
    FRICTION_SIGMA_BAR,
    KNOCK,
    LEVEL,
    LEVEL_SIGMA,
    LIMIT_FOLLOWS,
    Posterior,
    Problem,
    posterior_of,
    runs_of,
    seen,
)
from sparkwright.learn.response import Answer, Place, answer_of, hook_of, response_of
from sparkwright.learn.surface import Smooth, carried, coordinates
from sparkwright.numeric import FloatArray
from sparkwright.plan.axes import axes_of
from sparkwright.plan.own_belief import Correction, OwnBelief
from sparkwright.plan.physics import Physics, physics_of
from sparkwright.plan.uncertainty import timing_spread_deg

BEST_SURFACE = Smooth(constant=2.0, slope=1.3, local=1.2, backflow=2.5, mixture=1.5)
"""How best may differ from the cycle's beyond what its constants explain, one standard deviation of each part
[crank deg]: together some 2.5 deg in the middle of a map, as `cycle.belief.ENGINE_BEST_DEG`. What is drawn
back in the overlap is some percent of the charge at low speed and load and may be half as much again; best
moves by about a degree for each percent; recalled. Enrichment speeds the flame by more or less than the gas
tables say."""

KNOCK_SURFACE = Smooth(constant=0.18, slope=0.15, local=0.10)
"""The same of ln of the knock integral [-]; wider than `cycle.belief.ENGINE_LN_KNOCK`, so that what was heard
leads where the two disagree."""

PARTS, FADES = (0.5, 0.7, 1.0, 1.4, 2.0), (0.7, 1.0, 1.5)
"""Factors on the surface's size and on its lengths that are tried; the evidence weighs them."""

PARTS_SIGMA, FADES_SIGMA = 0.5, 0.4
"""How far the logarithms of these factors may lie from 0 before anything was measured [-]; choices."""

SPARK_SCATTER_DEG = 0.5
"""Scatter of the spark itself, which no measurement takes away [crank deg]; common practice, no source."""

CORRECTIONS = 2
"""How often the hooks are run anew at what was found; a third time moves nothing that counts."""

COARSE_NODES = 5
"""Speeds, and loads, at which the cells' answers to the moves are found."""


@dataclass(frozen=True, eq=False, kw_only=True)
class LearnedBelief(OwnBelief):
    """What is believed of one engine, after its measurements.

    Parameters
    ----------
    posterior : Posterior
        Over the moves, the mark, the surfaces and each sweep's own unknowns.
    moves : tuple of Move
        What may be otherwise, in the posterior's order.
    answers : Answers
        How the cells answer to the moves.
    engine : Physics
        The engine as job and program say, before it is moved.
    """

    posterior: Posterior
    moves: tuple[Move, ...]
    answers: Answers
    engine: Physics

    @cached_property
    def fingerprint(self) -> str:
        """The SHA-256 of all its numbers, in hexadecimal, those that were learned among them."""
        before = Belief(**{each.name: getattr(self, each.name) for each in fields(Belief)})
        learned = self.posterior.middle.tobytes() + self.posterior.covariance.tobytes()
        return hashlib.sha256(before.fingerprint.encode() + learned).hexdigest()

    def engine_of(self, physics: Physics) -> Physics:
        """Give the engine as it is believed to be.

        Parameters
        ----------
        physics : Physics
            The engine as its job states it.
        """
        amounts = self.posterior.middle[: len(self.moves)]
        return replace(moved(physics, self.moves, amounts), belief=self)

    def correction(self, rpm: float, kpa: float) -> Correction:
        """Give what a cell's hook differs by, and how firmly that is known.

        Parameters
        ----------
        rpm : float
            Speed of the cell [rpm].
        kpa : float
            Load of the cell [kPa absolute].
        """
        middle, at = self.posterior.middle, self.posterior.problem.layout
        design, left, slope = designs(self.posterior.problem, self.answers, np.array([rpm]), np.array([kpa]))
        later = float(design[0, 0, at.each(BEST)] @ middle[at.each(BEST)])
        mark = float(middle[at.mark])
        variance = variances(design, left, self.posterior.covariance)[:, 0]
        # What the spark's own scatter does lies beyond what can be learned.
        scatter = slope[0] * SPARK_SCATTER_DEG
        return Correction(
            later_deg=mark + later,
            knock_later_deg=mark + LIMIT_FOLLOWS * later,
            ln_knock=float(design[1, 0, at.each(KNOCK)] @ middle[at.each(KNOCK)]),
            torque_factor=float(np.exp(middle[at.scale] + self._level(rpm, kpa))),
            friction_nm=float(middle[at.friction] * friction_nm(self.engine)),
            best_sigma_deg=float(np.sqrt(variance[0])),
            ln_knock_sigma=float(np.hypot(np.sqrt(variance[1]), scatter)),
        )

    def _level(self, rpm: float, kpa: float) -> float:
        """Logarithm of the factor on torque beyond that on all of it [-]."""
        problem = self.posterior.problem
        there = np.array([each.coordinates for each in problem.sweeps]).reshape(-1, 3)
        here = self.answers.places(np.array([rpm]), np.array([kpa]))
        weights, _ = carried(problem.level, there, here, (LEVEL_SIGMA / problem.level.local) ** 2)
        return float(weights[0] @ self.posterior.middle[problem.layout.each(LEVEL)])


def designs(
    problem: Problem, answers: Answers, rpm: FloatArray, kpa: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """How best and ln of the knock integral of some cells follow from the unknowns.

    Parameters
    ----------
    problem : Problem
        The measurements and what was believed before them.
    answers : Answers
        How cells answer to the moves.
    rpm : array
        Speed of each cell [rpm].
    kpa : array
        Load of each cell [kPa absolute].

    Returns
    -------
    design : array, shape (2, cells, unknowns)
    left : array, shape (2, cells)
        Variance that even all unknowns known would leave.
    slope : array, shape (cells,)
        ln of the knock integral per degree.
    """
    at, n = problem.layout, problem.moves
    found = [answers.at(*cell) for cell in zip(rpm.tolist(), kpa.tolist(), strict=True)]
    slope = np.array([each.ln_slope for each in found])
    design, left = np.zeros((2, rpm.size, at.size)), np.zeros((2, rpm.size))
    design[0, :, :n] = [each.best_by for each in found]
    design[1, :, :n] = [each.ln_knock_by for each in found]
    design[0, :, at.mark] = 1.0
    there, here = (
        np.array([each.coordinates for each in problem.sweeps]).reshape(-1, 3),
        answers.places(rpm, kpa),
    )
    for row, (part, smooth) in enumerate(((BEST, problem.best), (KNOCK, problem.knock))):
        design[row, :, at.each(part)], left[row] = carried(smooth, there, here)
    # A hook read later as a whole by the mark knocks as much later; one that burns slower, by a share of it.
    design[1, :, at.mark] = -slope
    design[1, :, at.each(BEST)] = -LIMIT_FOLLOWS * slope[:, None] * design[0, :, at.each(BEST)]
    left[1] += (LIMIT_FOLLOWS * slope) ** 2 * left[0]
    return design, left, slope


def variances(design: FloatArray, left: FloatArray, covariance: FloatArray) -> FloatArray:
    """Variance of best and of ln of the knock integral, shape (2, cells).

    Parameters
    ----------
    design : array
        How both follow from the unknowns, shape (2, cells, unknowns).
    left : array
        Variance that even all unknowns known would leave, shape (2, cells).
    covariance : array
        Of the unknowns, shape (unknowns, unknowns).
    """
    return np.asarray(np.einsum("rci,ij,rcj->rc", design, covariance, design) + left)


@dataclass(frozen=True, eq=False)
class Answers:
    """How the cells of a map answer to the moves: found on a coarse grid, carried by straight lines."""

    rpm: FloatArray
    kpa: FloatArray
    rows: tuple[tuple[Answer, ...], ...]
    engine: Physics

    def places(self, rpm: FloatArray, kpa: FloatArray) -> FloatArray:
        """Give the coordinates of cells, with the mixture that the engine gets there, shape (cells, 3).

        Parameters
        ----------
        rpm : array
            Speed of each cell [rpm].
        kpa : array
            Load of each cell [kPa absolute].
        """
        mixture = [self.engine.lambda_at(*cell) for cell in zip(rpm.tolist(), kpa.tolist(), strict=True)]
        return coordinates(rpm, kpa, np.array(mixture))

    @cached_property
    def _stacked(self) -> FloatArray:
        nodes = np.array(
            [
                [
                    np.concatenate(
                        [[each.best_deg, each.stands_deg, each.ln_slope], each.best_by, each.ln_knock_by]
                    )
                    for each in row
                ]
                for row in self.rows
            ]
        )
        # Where best is not determined a cell answers as the nearest one of its speed does.
        for i in range(nodes.shape[0] - 2, -1, -1):
            nodes[i] = np.where(np.isnan(nodes[i]), nodes[i + 1], nodes[i])
        return np.asarray(np.nan_to_num(nodes))

    def at(self, rpm: float, kpa: float) -> Answer:
        """Give the answer of a cell.

        Parameters
        ----------
        rpm : float
            Speed of the cell [rpm].
        kpa : float
            Load of the cell [kPa absolute].
        """
        i, u = _between(self.kpa, kpa)
        j, v = _between(self.rpm, rpm)
        nodes = self._stacked
        found: FloatArray = (1 - u) * ((1 - v) * nodes[i, j] + v * nodes[i, j + 1]) + u * (
            (1 - v) * nodes[i + 1, j] + v * nodes[i + 1, j + 1]
        )
        n = (found.size - 3) // 2
        return Answer(float(found[0]), float(found[1]), found[3 : 3 + n], found[3 + n :], float(found[2]))


def _between(axis: FloatArray, value: float) -> tuple[int, float]:
    place = int(np.clip(np.searchsorted(axis, value) - 1, 0, axis.size - 2))
    share = (value - axis[place]) / (axis[place + 1] - axis[place])
    return place, float(np.clip(share, 0.0, 1.0))


def friction_nm(physics: Physics) -> float:
    """Torque of one standard deviation of friction [N m].

    Parameters
    ----------
    physics : Physics
        The engine, for its displacement.
    """
    return 1e5 * FRICTION_SIGMA_BAR * physics.engine.displacement_m3 / (4.0 * np.pi)


def place_of(sweep: Sweep) -> Place:
    """Give where a sweep was measured, as the cycle is run there.

    Parameters
    ----------
    sweep : Sweep
        The sweep, with speed, load, and what is known of mixture and air at its points.
    """
    return Place(sweep.rpm, sweep.kpa, sweep.mean_of("mixture_lambda"), sweep.mean_of("intake_c"))


@lru_cache(maxsize=16)
def _answers_of(job: Job, prior: Belief) -> Answers:
    physics = physics_of(job, prior)
    moves = moves_of(physics)
    rpm, kpa = axes_of(job, physics)
    # Cells stand closer together where speed is low, as octaves do.
    coarse_rpm = np.geomspace(rpm[0], rpm[-1], COARSE_NODES)
    coarse_kpa = np.linspace(kpa[0], kpa[-1], COARSE_NODES)
    nodes = [(speed, load) for load in coarse_kpa.tolist() for speed in coarse_rpm.tolist()]
    with ThreadPoolExecutor(max_workers=os.cpu_count() or 1) as pool:
        found = list(pool.map(lambda node: answer_of(physics, moves, *node), nodes))
    rows = tuple(tuple(found[i * COARSE_NODES : (i + 1) * COARSE_NODES]) for i in range(COARSE_NODES))
    return Answers(coarse_rpm, coarse_kpa, rows, physics)


@lru_cache(maxsize=16)
def _physics_of(job: Job, prior: Belief) -> Physics:
    """Keep one record for each job, so that what was run for it is found again."""
    return physics_of(job, prior)


def in_order(evidence: Sequence[Sweep]) -> list[Sweep]:
    """Give sweeps in the one order in which they are learned from, whatever order they come in.

    Parameters
    ----------
    evidence : sequence of Sweep
        What was measured.
    """
    return sorted(evidence, key=lambda each: repr((each.points, each.name)))


def problem_of(job: Job, sweeps: Sequence[Sweep], prior: Belief = PRIOR) -> Problem:
    """Give what was measured beside what is held possible before.

    Parameters
    ----------
    job : Job
        The engine, as the shop states it.
    sweeps : sequence of Sweep
        What was measured, in the order in which the problem shall have it.
    prior : Belief, optional
        What was believed before.
    """
    physics = _physics_of(job, prior)
    with ThreadPoolExecutor(max_workers=os.cpu_count() or 1) as pool:
        responses = list(pool.map(lambda each: response_of(physics, place_of(each)), sweeps))
    shape, runs = physics.engine.chamber.kind.limit_doubt, runs_of(sweeps)
    return Problem(
        sweeps=tuple(
            seen(
                sweep,
                response,
                _coordinates_of(physics, place_of(sweep)),
                friction_nm(physics),
                runs,
            )
            for sweep, response in zip(sweeps, responses, strict=True)
        ),
        moves=len(moves_of(physics)),
        mark_sigma_deg=timing_spread_deg(job),
        best=_widened(BEST_SURFACE, 0.0 if shape is None else shape.best_deg),
        knock=_widened(KNOCK_SURFACE, 0.0 if shape is None else shape.ln_knock),
        runs=len(runs),
    )


def belief_of(job: Job, evidence: Sequence[Sweep], prior: Belief = PRIOR) -> LearnedBelief:
    """Learn what is believed of one engine.

    A pure function: the same sweeps in any order give the same belief to the last digit, and one taken out
    leaves what would have been without it.

    Parameters
    ----------
    job : Job
        The engine, as the shop states it.
    evidence : sequence of Sweep
        What was measured and is not set aside; pulls as `points_of_pulls` gives them among it.
    prior : Belief, optional
        What was believed before.

    Returns
    -------
    LearnedBelief
        To plan with: ``plan(job, belief)``.
    """
    physics = _physics_of(job, prior)
    moves, sweeps = moves_of(physics), in_order(evidence)
    problem = problem_of(job, sweeps, prior)
    posterior = posterior_of(problem)
    if sweeps:
        for _ in range(CORRECTIONS):
            problem = _run_anew(physics, moves, problem, sweeps, posterior.middle)
            posterior = posterior_of(problem, posterior.middle)
        posterior = posterior_of(_weighed(posterior), posterior.middle)
    amounts = posterior.middle[: len(moves)]
    return LearnedBelief(
        constants=moved(physics, moves, amounts).constants,
        uncertain=prior.uncertain,
        covariance=prior.covariance,
        engine_best_deg=prior.engine_best_deg,
        engine_ln_knock=prior.engine_ln_knock,
        posterior=posterior,
        moves=moves,
        answers=_answers_of(job, prior),
        engine=physics,
    )


def _coordinates_of(physics: Physics, place: Place) -> FloatArray:
    mixture = (
        physics.lambda_at(place.rpm, place.kpa) if place.mixture_lambda is None else place.mixture_lambda
    )
    return np.asarray(coordinates(np.array([place.rpm]), np.array([place.kpa]), mixture)[0])


def _widened(smooth: Smooth, constant: float) -> Smooth:
    return replace(smooth, constant=float(np.hypot(smooth.constant, constant)))


def _run_anew(
    physics: Physics, moves: tuple[Move, ...], problem: Problem, sweeps: Sequence[Sweep], middle: FloatArray
) -> Problem:
    """Put the sweeps' hooks through what the cycle gives at the belief's middle."""
    amounts = middle[: len(moves)]
    there = moved(physics, moves, amounts)
    return replace(
        problem,
        sweeps=tuple(
            replace(each, response=each.response.corrected(amounts, hook_of(there, place_of(sweep))))
            for sweep, each in zip(sweeps, problem.sweeps, strict=True)
        ),
    )


def _weighed(posterior: Posterior) -> Problem:
    """Give the problem with the surface that the measurements make likeliest."""
    problem = posterior.problem
    b, a = problem.quadratic(posterior.top)
    scored = []
    for parts in PARTS:
        for fade in FADES:
            tried = replace(problem, best=problem.best.scaled(parts, fade))
            doubt = (np.log(parts) / PARTS_SIGMA) ** 2 + (np.log(fade) / FADES_SIGMA) ** 2
            scored.append((tried.ln_evidence(b, a) - 0.5 * float(doubt), tried))
    return max(scored, key=lambda each: each[0])[1]
