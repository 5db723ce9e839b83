"""What to measure next: the sweep that would most reduce the torque lost to not knowing.

A planned sweep changes the covariance by what its points would tell, whatever they show: in a linear normal
model the covariance after a measurement doesn't depend on the measured values (Chaloner and Verdinelli,
Statistical Science 10, 1995, sec. 2). So each candidate's posterior covariance is worked out without running
it, carried to the whole map, and turned into torque: a cell at best loses half its curvature times the
variance of best; one that knock holds loses what its margin for not knowing the limit costs. Beside that
counts what not knowing best would cost everywhere, wherever knock stands today.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from functools import cached_property
from math import floor

import numpy as np
from scipy.special import log_ndtr
from scipy.stats import norm

from sparkwright.check.assumed import Assumed
from sparkwright.cycle.sparse import LEAST_DEG, MOST_DEG
from sparkwright.dyno.sweep import Sweep
from sparkwright.findings import Finding
from sparkwright.job import Job
from sparkwright.learn.belief import LearnedBelief, belief_of, designs, friction_nm, variances
from sparkwright.learn.posterior import BEST, EAR, PARTS_EACH, Seen, noise_nm
from sparkwright.learn.response import Place, response_of
from sparkwright.learn.result import evidence_of
from sparkwright.numeric import FloatArray
from sparkwright.plan.axes import axes_of
from sparkwright.plan.firmness import chance_allowed_percent, knock_level
from sparkwright.plan.hooks import USUAL_BEST_DEG, one_hook_at
from sparkwright.plan.physics import Physics, physics_of
from sparkwright.plan.planner import Progress, cells_met

POINTS, APART_DEG = 7, 5.0
"""Points of a proposed sweep, and how far they lie apart [crank deg]; common practice, no source."""

PAST_BEST_DEG, PAST_SIGMAS = 8.0, 1.5
"""How far past best a sweep goes where knock lets it [crank deg], and how many standard deviations of best on
top: it must cross the top wherever that lies; choices."""

FEWEST_POINTS = 4
LEAST_TORQUE_SHARE = 0.1
"""A road engine is asked for little torque more often than for much: a cell counts by the inverse of its
torque, up to that of this share of the most [-]; a choice."""

COVER_SHARE = 0.75
"""Weight of knowing best everywhere against what the map as it stands would gain [-]: a map is read for
years, with other fuel and in other weather than today's, and by torque alone sweeps crowd where knock holds;
a choice."""

MOST_MARGIN_DEG = 20.0
"""Margin to the knock limit beyond which a cell is taken to lose no more [crank deg]; a choice."""

CANDIDATES = 5
"""Speeds, and loads, among which the next sweep is looked for."""

PROPOSALS = 5
ENOUGH_SHARE = 0.0005
"""Share of the mean torque over use below which one more sweep isn't worth its time [-]; a choice."""


@dataclass(frozen=True)
class NextRun:
    """One sweep worth running: from the latest advance to the earliest, and what it is worth.

    ``worth`` is the torque that the whole map is expected to gain, as mean over use [N m].
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
        runs = []
        for done, each in enumerate(pool.map(worth.run, places), start=1):
            runs += [] if each is None else [each]
            if progress is not None:
                progress(done, len(places))
    runs.sort(key=lambda each: (-each.worth, each.rpm, each.kpa))
    return runs, worth.lost_now, float(worth.use @ worth.best_nm)


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
    taken = tuple(most - APART_DEG * k for k in range(POINTS - 1, -1, -1) if most - APART_DEG * k >= 0.0)
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

    @cached_property
    def now(self) -> tuple[FloatArray, FloatArray]:
        """What was measured so far: the information on the unknowns, and their middle."""
        posterior = self.belief.posterior
        return posterior.problem.quadratic(posterior.top)[1], posterior.middle

    @cached_property
    def lost_now(self) -> float:
        """Torque lost now [N m]."""
        problem = self.belief.posterior.problem
        design, left, _ = designs(problem, self.belief.answers, self.cells_rpm, self.cells_kpa)
        return self.lost(variances(design, left, self.belief.posterior.covariance))

    def run(self, place: tuple[float, float]) -> NextRun | None:
        """Say what a sweep at one place is worth; None where it can't be run."""
        rpm, kpa = place
        advances, chance = advances_at(self.job, self.belief, rpm, kpa)
        if len(advances) < FEWEST_POINTS:
            return None
        gained = self.lost_now - self.lost(self._variance_after(rpm, kpa, np.array(advances)))
        return NextRun(rpm, kpa, advances, gained, chance)

    def _variance_after(self, rpm: float, kpa: float, advance_deg: FloatArray) -> FloatArray:
        """Variance of best and of ln of the integral in each cell, were this sweep run."""
        belief, posterior = self.belief, self.belief.posterior
        problem, (known, middle) = posterior.problem, self.now
        here = belief.answers.places(np.array([rpm]), np.array([kpa]))[0]
        hook = one_hook_at(self.physics, rpm, kpa)
        torque = np.array([hook.at(float(each))[0] for each in advance_deg])
        sweep = Seen(
            response=response_of(belief.engine, Place(rpm, kpa)),
            coordinates=here,
            advance_deg=advance_deg,
            torque_nm=torque,
            sigma_nm=noise_nm(torque),
            elapsed=np.linspace(-0.5, 0.5, advance_deg.size),
            heard=np.ones(advance_deg.size),
            heavy=np.zeros(advance_deg.size),
            friction_nm=friction_nm(belief.engine),
        )
        more = replace(problem, sweeps=(*problem.sweeps, sweep))
        at, before = more.layout, problem.layout
        # The old unknowns keep their order; the new sweep's own stand behind those of the others.
        place = [*range(before.moves + 3)]
        for part in range(PARTS_EACH):
            place += range(at.each(part).start, at.each(part).stop - 1)
        place += range(at.first_run, at.size)
        information = np.zeros((at.size, at.size))
        information[np.ix_(place, place)] = known
        x = np.zeros(at.size)
        x[place] = middle
        correction = belief.correction(rpm, kpa)
        x[at.each(BEST).stop - 1] = correction.later_deg - middle[before.mark]
        _, _, torque_by, ln_knock_by = more.predicted(x, len(problem.sweeps))
        information += (torque_by.T / sweep.sigma_nm**2) @ torque_by
        # What is heard tells most where knock is as likely as not.
        spread = np.hypot(EAR, correction.ln_knock_sigma)
        t = np.array([hook.at(float(each))[1] for each in advance_deg]) / spread
        ln_density = -0.5 * t**2 - 0.5 * np.log(2.0 * np.pi)
        weight = np.exp(2.0 * ln_density - log_ndtr(t) - log_ndtr(-t)) / spread**2
        information += (ln_knock_by.T * weight) @ ln_knock_by
        root = more.root
        inside = np.eye(at.size) + root.T @ information @ root
        covariance = root @ np.linalg.solve(inside, root.T)
        design, left, _ = designs(more, belief.answers, self.cells_rpm, self.cells_kpa)
        return variances(design, left, covariance)


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
