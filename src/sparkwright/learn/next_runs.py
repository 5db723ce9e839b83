"""What to measure next: the sweep that would most reduce the torque lost to not knowing.

A planned sweep changes the covariance by what its points would tell, whatever they show: in a linear normal
model the covariance after a measurement doesn't depend on the measured values (Chaloner and Verdinelli,
Statistical Science 10, 1995, sec. 2). So each candidate's posterior covariance is worked out without running
it, carried to the whole map, and turned into torque: a cell at best loses half its curvature times the
variance of best; one that knock holds loses what its margin for not knowing the limit costs. Beside that
counts what not knowing best would cost everywhere, wherever knock stands today.

The sweep that gains most by itself lies in the middle of the map and leaves its corners to guessing. So all
sweeps that the day may still bring are chosen together, and chosen anew after each.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from math import floor

import numpy as np
from scipy.special import log_ndtr
from scipy.stats import norm

from sparkwright.check.assumed import Assumed
from sparkwright.cycle.sparse import LEAST_DEG, MOST_DEG
from sparkwright.dyno.sweep import Sweep
from sparkwright.findings import Finding
from sparkwright.job import Job
from sparkwright.learn.belief import LearnedBelief, belief_of, friction_nm
from sparkwright.learn.posterior import EAR, Seen, noise_nm
from sparkwright.learn.response import Place, response_of
from sparkwright.learn.result import evidence_of
from sparkwright.learn.together import Planned, Together
from sparkwright.numeric import FloatArray
from sparkwright.plan.axes import axes_of
from sparkwright.plan.firmness import chance_allowed_percent, knock_level
from sparkwright.plan.hooks import USUAL_BEST_DEG, one_hook_at
from sparkwright.plan.physics import Physics, physics_of
from sparkwright.plan.planner import Progress, cells_met

POINTS, APART_DEG, LEAST_APART_DEG = 7, 5.0, 2.5
"""Points of a proposed sweep, how far they lie apart, and how close they come where knock leaves less room
[crank deg]; common practice, no source."""

PAST_BEST_DEG, PAST_SIGMAS = 8.0, 1.5
"""How far past best a sweep goes where knock lets it [crank deg], and how many standard deviations of best on
top: it must cross the top wherever that lies; choices."""

FEWEST_POINTS = 4
LEAST_TORQUE_SHARE = 0.1
"""A road engine is asked for little torque more often than for much: a cell counts by the inverse of its
torque, up to that of this share of the most [-]; a choice."""

COVER_SHARE = 0.95
"""Weight of knowing best everywhere against what the map as it stands would gain [-]: a map is read for
years, with other fuel and in other weather than today's, and by torque alone sweeps crowd where knock holds;
a choice."""

MOST_MARGIN_DEG = 20.0
"""Margin to the knock limit beyond which a cell is taken to lose no more [crank deg]; a choice."""

CANDIDATES = 5
"""Speeds, and loads, among which the next sweep is looked for."""

DAY_SWEEPS = 4
"""Sweeps that a day at the brake holds: those still to come are reckoned with, so that each leaves to the
others what they tell better; common practice, no source."""

_BETTER = 1e-6
"""Share of what is lost by which an exchange of one planned sweep for another must gain [-]."""

PROPOSALS = 5
ENOUGH_SHARE = 0.0005
"""Share of the mean torque over use below which one more sweep isn't worth its time [-]; a choice."""


@dataclass(frozen=True)
class NextRun:
    """One sweep worth running: from the latest advance to the earliest, and what it is worth.

    ``worth`` is the torque that the whole map is expected to gain by it beside the other sweeps that the day
    may still bring, as mean over use [N m].
    """

    rpm: float
    kpa: float
    advances_deg: tuple[float, ...]
    worth: float
    knock_chance_percent: float


@dataclass(frozen=True)
class NextResult:
    """What to measure next, best first; none where more isn't worth it."""

    headline: Finding
    """What leads: the sweep to run, or that no more are worth it."""
    next: tuple[NextRun, ...]
    enough: bool
    lost_nm: float
    """Torque that is lost now to not knowing, as mean over use [N m]."""
    set_aside: tuple[str, ...]
    findings: tuple[Finding, ...]
    job_name: str
    fingerprint: str
    assumed: tuple[Assumed, ...]


def next_of(job: Job, sweeps: Sequence[Sweep], *, progress: Progress | None = None) -> NextResult:
    """Say what to measure next on an engine; works with nothing measured yet.

    Parameters
    ----------
    job : Job
        The engine, as the shop states it.
    sweeps : sequence of Sweep
        Everything measured up to now; may be empty.
    progress : callable, optional
        Called with (sweeps weighed, sweeps in all); raise from it to stop.

    Examples
    --------
    Before anything was measured a sweep is worth its time, the one that saves most first:

    >>> from sparkwright.job import starter_text
    >>> job = Job.from_toml(starter_text()).changed("controller", rpm=[600, 3000], kpa=[40, 95])
    >>> found = next_of(job, [])
    >>> found.enough, found.next[0].worth == max(each.worth for each in found.next)
    (False, True)
    """
    evidence = evidence_of(job, sweeps)
    belief = belief_of(job, evidence.used)
    runs, lost, mean = ranked(job, belief, progress)
    worth_it = tuple(each for each in runs if each.worth >= ENOUGH_SHARE * mean)[:PROPOSALS]
    return NextResult(
        headline=_headline(worth_it, lost),
        next=worth_it,
        enough=not worth_it,
        lost_nm=lost,
        set_aside=evidence.set_aside,
        findings=evidence.findings,
        job_name=job.name,
        fingerprint=job.fingerprint,
        assumed=physics_of(job).assumed,
    )


def ranked(
    job: Job, belief: LearnedBelief, progress: Progress | None = None
) -> tuple[list[NextRun], float, float]:
    """Rank the sweeps that could be run.

    Parameters
    ----------
    job : Job
        The engine.
    belief : LearnedBelief
        What was learned of it up to now.
    progress : callable, optional
        Called with (sweeps weighed, sweeps in all); raise from it to stop.

    Returns
    -------
    runs : list of NextRun
        Best first.
    lost, mean : float
        What is lost now to not knowing, and torque at best, both as means over use [N m].
    """
    worth = _Worth(job, belief)
    places = _candidates(worth)
    with ThreadPoolExecutor(max_workers=os.cpu_count() or 1) as pool:
        planned = []
        for done, each in enumerate(pool.map(worth.sweep_at, places), start=1):
            planned += [] if each is None else [each]
            if progress is not None:
                progress(done, len(places))
    day = _Day(worth, planned)
    measured = sum(not each.run for each in belief.posterior.problem.sweeps)
    runs = [
        NextRun(each.rpm, each.kpa, each.advances_deg, gained, each.knock_chance_percent)
        for each, gained in zip(planned, day.gains(max(DAY_SWEEPS - measured, 1)), strict=True)
    ]
    runs.sort(key=lambda each: (-each.worth, each.rpm, each.kpa))
    return runs, day.lost([]), float(worth.use @ worth.best_nm)


def advances_at(job: Job, belief: LearnedBelief, rpm: float, kpa: float) -> tuple[tuple[float, ...], float]:
    """Give the advances of a sweep at a place within the stated chance of knock, and the most chance of them.

    They go from the late side; empty where none is allowed.

    Parameters
    ----------
    job : Job
        The engine, for the chance of knock that it allows and its controller's most advance.
    belief : LearnedBelief
        What was learned of it up to now.
    rpm : float
        Speed of the sweep [rpm].
    kpa : float
        Load of the sweep [kPa absolute].
    """
    physics = physics_of(job, belief)
    hook = one_hook_at(physics, rpm, kpa)
    best = hook.best(USUAL_BEST_DEG)[0]
    known = belief.correction(rpm, kpa)
    sigma = float(known.ln_knock_sigma)
    ceiling = hook.knock(float(knock_level(sigma, chance_allowed_percent(job, physics, kpa))))
    past = best + PAST_BEST_DEG + PAST_SIGMAS * float(known.best_sigma_deg)
    most = min(past, MOST_DEG - 4.0, job.controller.max_deg)
    if not np.isnan(ceiling):
        most = min(most, ceiling)
    most = floor(most) if np.isfinite(most) else LEAST_DEG
    apart = float(np.clip(floor(2.0 * most / (POINTS - 1)) / 2.0, LEAST_APART_DEG, APART_DEG))
    taken = tuple(most - apart * k for k in range(POINTS - 1, -1, -1) if most - apart * k >= 0.0)
    if not taken:
        return (), 0.0
    return taken, 100.0 * float(norm.cdf(hook.at(taken[-1])[1] / sigma))


def _candidates(worth: _Worth) -> list[tuple[float, float]]:
    """Give some speeds and loads of cells that the engine meets, spread over the map."""
    met = worth.met
    rows, columns = np.flatnonzero(met.any(axis=1)), np.flatnonzero(met.any(axis=0))
    some_rows = sorted({int(rows[round(k)]) for k in np.linspace(0, rows.size - 1, CANDIDATES)})
    octaves = np.log2(worth.rpm[columns])
    wanted = np.linspace(octaves[0], octaves[-1], CANDIDATES)
    some_columns = sorted({int(columns[int(np.argmin(np.abs(octaves - each)))]) for each in wanted})
    return [(float(worth.rpm[j]), float(worth.kpa[i])) for i in some_rows for j in some_columns if met[i, j]]


class _Worth:
    """What a map loses to not knowing, and what a sweep would take from that."""

    def __init__(self, job: Job, belief: LearnedBelief) -> None:
        self.job, self.belief = job, belief
        self.physics: Physics = physics_of(job, belief)
        self.rpm, self.kpa = axes_of(job, self.physics)
        self.met = cells_met(self.rpm, self.kpa, self.physics)
        cells = [
            (rpm, kpa) for i, kpa in enumerate(self.kpa) for j, rpm in enumerate(self.rpm) if self.met[i, j]
        ]
        self.cells_rpm, self.cells_kpa = np.array(cells).T
        read = np.array([self._cell(*cell) for cell in cells])
        self.best_nm, self.curvature, self.short_deg, self.allowed_z, self.slope = read.T
        seldom = 1.0 / np.maximum(self.best_nm, LEAST_TORQUE_SHARE * self.best_nm.max())
        self.use = seldom / seldom.sum()

    def _cell(self, rpm: float, kpa: float) -> tuple[float, float, float, float, float]:
        """Torque at best, its curvature, how far the even chance of knock lies short of best, and the margin.

        A cell whose best is not determined or that doesn't pull counts for nothing.
        """
        hook = one_hook_at(self.physics, rpm, kpa)
        best, torque = hook.best(USUAL_BEST_DEG)
        allowed = chance_allowed_percent(self.job, self.physics, kpa)
        z = -float(norm.ppf(0.01 * allowed))
        if not LEAST_DEG + 4.0 < best < MOST_DEG - 4.0 or torque <= 0.0:
            return 0.0, 0.0, float("-inf"), z, 1.0
        sides = 0.5 * (hook.at(best - 4.0)[0] + hook.at(best + 4.0)[0])
        limit = hook.knock(0.0)
        limit = max(limit, best - MOST_MARGIN_DEG)
        at = best if np.isnan(limit) else float(np.clip(limit, LEAST_DEG + 1.0, best))
        slope = 0.5 * (hook.at(at + 1.0)[1] - hook.at(at - 1.0)[1])
        short = float("-inf") if np.isnan(limit) else best - max(limit, LEAST_DEG)
        return torque, max(2.0 * (torque - sides) / 16.0, 0.0), short, z, max(slope, 1e-3)

    def lost(self, variance: FloatArray) -> float:
        """Torque lost to not knowing, as mean over use [N m]; variance of best and of ln of the integral.

        Where knock holds, the plan stands its margin below the even chance; short of that nothing would be
        lost to not knowing. The cover takes every cell alike, by the mean curvature.
        """
        margin = np.minimum(self.allowed_z * np.sqrt(variance[1]) / self.slope, MOST_MARGIN_DEG)
        by_best = 0.5 * self.curvature * variance[0]
        below = np.maximum(self.short_deg + margin, 0.0)
        known = np.maximum(self.short_deg, 0.0)
        by_knock = 0.5 * self.curvature * (below**2 - known**2)
        # A cell that knock holds doesn't ask where its best lies.
        today = float(self.use @ np.where(self.short_deg > 0.0, by_knock, np.maximum(by_best, by_knock)))
        cover = 0.5 * float(self.use @ self.curvature) * float(np.mean(variance[0]))
        return (1.0 - COVER_SHARE) * today + COVER_SHARE * cover

    def sweep_at(self, place: tuple[float, float]) -> Planned | None:
        """Lay out the sweep that could be run at a place; None where too little of one can be."""
        rpm, kpa = place
        advances, chance = advances_at(self.job, self.belief, rpm, kpa)
        if len(advances) < FEWEST_POINTS:
            return None
        belief, advance = self.belief, np.array(advances)
        hook = one_hook_at(self.physics, rpm, kpa)
        read = np.array([hook.at(each)[:2] for each in advances])
        sweep = Seen(
            response=response_of(belief.engine, Place(rpm, kpa)),
            coordinates=belief.answers.places(np.array([rpm]), np.array([kpa]))[0],
            advance_deg=advance,
            torque_nm=read[:, 0],
            sigma_nm=noise_nm(read[:, 0]),
            elapsed=np.linspace(-0.5, 0.5, advance.size),
            heard=np.ones(advance.size),
            heavy=np.zeros(advance.size),
            friction_nm=friction_nm(belief.engine),
        )
        known = belief.correction(rpm, kpa)
        # What is heard tells most where knock is as likely as not.
        spread = np.hypot(EAR, float(known.ln_knock_sigma))
        t = read[:, 1] / spread
        ln_density = -0.5 * t**2 - 0.5 * np.log(2.0 * np.pi)
        told = np.exp(2.0 * ln_density - log_ndtr(t) - log_ndtr(-t)) / spread**2
        return Planned(rpm, kpa, advances, chance, sweep, float(known.later_deg), np.sqrt(told))


class _Day:
    """The sweeps that a day may still bring, chosen together."""

    def __init__(self, worth: _Worth, planned: Sequence[Planned]) -> None:
        self._worth, self._every = worth, range(len(planned))
        self._together = Together(worth.belief, planned, worth.cells_rpm, worth.cells_kpa)

    def lost(self, run: Sequence[int]) -> float:
        """Torque lost after some of the planned sweeps, as mean over use [N m]."""
        return self._worth.lost(self._together.variances_after(run))

    def gains(self, count: int) -> list[float]:
        """Torque that each sweep would gain beside the others of the best so many [N m], as mean over use.

        One that isn't among these takes the place of the one of them that would be missed most.
        """
        best = self.together(count)
        others = {k: [each for each in best if each != k] for k in best}
        missed = max(others.values(), key=self.lost, default=[])
        beside = [others.get(k, missed) for k in self._every]
        return [self.lost(rest) - self.lost([*rest, k]) for k, rest in enumerate(beside)]

    def together(self, count: int) -> list[int]:
        """Give so many sweeps that are worth most together, by exchanging one after another.

        The method is that of Fedorov (Theory of Optimal Experiments, 1972, ch. 3), begun with the sweeps that
        are worth most one after another.
        """
        run: list[int] = []
        for _ in range(min(count, len(self._every))):
            run.append(min((k for k in self._every if k not in run), key=lambda k: self.lost([*run, k])))
        better = True
        while better:
            better = False
            for place in range(len(run)):
                others = run[:place] + run[place + 1 :]
                found = min(
                    (k for k in self._every if k not in others), key=lambda k: self.lost([*others, k])
                )
                if self.lost([*others, found]) < self.lost(run) * (1.0 - _BETTER):
                    run[place], better = found, True
        return run


def _headline(runs: Sequence[NextRun], lost_nm: float) -> Finding:
    if not runs:
        return Finding("next.enough", "good", {"lost_nm": lost_nm})
    first = runs[0]
    return Finding(
        "next.sweep",
        "look",
        {
            "rpm": first.rpm,
            "kpa": first.kpa,
            "advances_deg": first.advances_deg,
            "worth_nm": first.worth,
            "lost_nm": lost_nm,
        },
    )
