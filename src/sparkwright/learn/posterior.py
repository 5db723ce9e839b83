"""The posterior: what sweeps and marks of knock leave of what was possible before.

Everything unknown of an engine stands in one vector: how far its constants and stated facts lie from the
program's (`learn.moves`), the mark's zero, the two surfaces of what the moves can't explain (`learn.surface`)
at each sweep, a factor on torque, friction, for each sweep a level, a stretch of its hook and a drift, and
for each pull at full throttle a level of its own. Before the measurements all are normal. A measured torque
lies about its hook with normal scatter whose pull stops growing some way off, so that one bad point doesn't
lead (Huber 1964, in its smooth form); a mark of knock says on which side of its limit an advance lies, by a
probit.

The top is found by Gauss and Newton's method, and the posterior taken as normal about it (Laplace; MacKay,
Information Theory, Inference, and Learning Algorithms, 2003, ch. 27).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from scipy.linalg import block_diag, cho_factor, cho_solve, solve_triangular
from scipy.special import log_ndtr

from sparkwright.dyno.sweep import Sweep
from sparkwright.learn.response import Response, reading
from sparkwright.learn.surface import Smooth
from sparkwright.numeric import FloatArray

TORQUE_NOISE = 0.005
"""Scatter of a steady reading of torque over torque [-]; recalled, of a good brake."""

SHAPE_DOUBT = 0.05
"""Share of the torque lost off the top to which the shape of a hook is trusted [-]; a choice."""

LEAST_NOISE_NM = 0.2
PULL = 3.0
"""Standard deviations from which a point's pull on its hook stops growing [-]: few good points lie farther,
and none is let go, so that there is one top; a choice."""

EAR = 0.06
"""Scatter of what is heard, in ln of the knock integral [-]: about a degree; a choice."""

HEAVY, HEAVY_EAR = 0.18, 0.10
"""ln of the knock integral from which knock is heavy, and how well that is told from a trace [-]: some three
degrees past the first trace, give or take two; recalled."""

SCALE_SIGMA, LEVEL_SIGMA, DRIFT_SIGMA = 0.10, 0.01, 0.003
"""Standard deviations of a factor on all torque, of each sweep's own, and of its drift from first to last
point [-]; choices."""

LEVEL_SURFACE = Smooth(constant=0.0, slope=0.0, local=0.05, fade_octaves=0.6, fade_steps=0.6)
"""How the factor on torque may run over speed and load [-]; a choice."""

RUN_SIGMA = 0.01
"""How far one pull reads above or below the next at all its speeds, one standard deviation [-]; recalled."""

STRETCH_SIGMA, SKEW_SIGMA = (0.10, 0.05), (0.05, 0.02)
"""The same of the logarithm of a hook's width, and of how much wider it is on one side of its top than on the
other: what all hooks of an engine share, and each sweep's own [-]; choices."""

LIMIT_FOLLOWS = 0.3
"""By how many degrees the knock limit lies later where the surface puts best one degree later [-]. What moves
best is mostly the pace of the flame, and a slow one keeps the end gas waiting: by the cycle the limit follows
by half a degree at 800 rpm and hardly at all at 4,500; one number between is a choice."""

SKEW_OVER_DEG = 15.0
"""How far from the top that skew is counted [crank deg]."""

FRICTION_SIGMA_BAR = 0.3
"""The same of friction, as mean pressure [bar]; a choice."""

_ROUNDS, _CLOSE = 60, 1e-5
_NORMAL = 1e9


@dataclass(frozen=True, eq=False)
class Seen:
    """One sweep with the hook that the cycle gives for it.

    ``sigma_nm`` is one standard deviation of each torque; ``heard`` 1 where knock was heard, -1 where it
    wasn't, 0 where nobody listened; ``heavy`` 1 where it was heavy, -1 where it was a trace, else 0.
    ``friction_nm`` is the torque of one standard deviation of friction.
    """

    response: Response
    coordinates: FloatArray
    advance_deg: FloatArray
    torque_nm: FloatArray
    sigma_nm: FloatArray
    elapsed: FloatArray
    heard: FloatArray
    heavy: FloatArray
    friction_nm: float
    run: tuple[int, ...] = ()
    """Which pull each point comes from, from 0; empty for a sweep held steady."""


def runs_of(sweeps: Sequence[Sweep]) -> tuple[str, ...]:
    """Name the pulls from which points of some sweeps come, in an order of their own.

    Parameters
    ----------
    sweeps : sequence of Sweep
        Sweeps, those that stand for pulls among them.
    """
    return tuple(sorted({name for sweep in sweeps for name in sweep.pulls}))


def seen(
    sweep: Sweep,
    response: Response,
    coordinates: FloatArray,
    friction_nm: float,
    runs: tuple[str, ...] = (),
) -> Seen:
    """Put a sweep beside its hook.

    Parameters
    ----------
    sweep : Sweep
        What was measured; a torque that wasn't is nan, and only its mark of knock counts.
    response : Response
        The cycle's hook there and its answer to every move.
    coordinates : array
        Where it lies, as `coordinates` of ``learn.surface`` gives one place.
    friction_nm : float
        Torque of one standard deviation of friction [N m].
    runs : tuple of str, optional
        Names of all pulls, in the order of their unknowns.
    """
    torque = sweep.torque_nm
    known = np.isfinite(torque)
    sigma = np.full(torque.size, np.inf)
    if sweep.determines_a_top or sweep.pulls:
        sigma[known] = noise_nm(torque[known])
    torque[~known] = 0.0  # of infinite scatter, so that no such number counts
    marks = {"none": (-1.0, 0.0), "trace": (1.0, -1.0), "heavy": (1.0, 1.0), None: (0.0, 0.0)}
    heard, heavy = np.array([marks[each.knock] for each in sweep.points]).T
    return Seen(
        response,
        coordinates,
        sweep.advance_deg,
        torque,
        sigma,
        0.0 * torque if sweep.pulls else sweep.elapsed,
        heard,
        heavy,
        friction_nm,
        tuple(runs.index(each) for each in sweep.pulls),
    )


def noise_nm(torque_nm: FloatArray) -> FloatArray:
    """Give one standard deviation of each torque of a sweep, for scatter and for the shape of its hook.

    Parameters
    ----------
    torque_nm : array
        Torque of each point of a sweep [N m].
    """
    noise = np.hypot(TORQUE_NOISE * np.abs(torque_nm), LEAST_NOISE_NM)
    return np.asarray(np.hypot(noise, SHAPE_DOUBT * (torque_nm.max() - torque_nm)))


@dataclass(frozen=True)
class Layout:
    """Where each part of the unknown vector stands, for so many moves, sweeps and pulls."""

    moves: int
    sweeps: int
    runs: int = 0

    @property
    def mark(self) -> int:
        """The mark's zero [crank deg]: how much later the spark comes than the shop reads."""
        return self.moves

    @property
    def scale(self) -> int:
        """Logarithm of a factor on all torque [-]."""
        return self.moves + 1

    @property
    def friction(self) -> int:
        """Friction above the program's, in standard deviations [-]."""
        return self.moves + 2

    def each(self, part: int) -> slice:
        """Give the place of the sweeps' best, knock, level, stretch, skew and drift, in this order from 0.

        Parameters
        ----------
        part : int
            Which of the six, from 0 for best.
        """
        start = self.moves + 3 + part * self.sweeps
        return slice(start, start + self.sweeps)

    @property
    def first_run(self) -> int:
        """Where the pulls' own levels begin [-]."""
        return self.moves + 3 + PARTS_EACH * self.sweeps

    @property
    def size(self) -> int:
        """Length of the vector."""
        return self.first_run + self.runs


PARTS_EACH = 6
BEST, KNOCK, LEVEL, STRETCH, SKEW, DRIFT = range(PARTS_EACH)


@dataclass(frozen=True, eq=False)
class Problem:
    """What was seen and what was held possible before."""

    sweeps: tuple[Seen, ...]
    moves: int
    mark_sigma_deg: float
    best: Smooth
    knock: Smooth
    pull: float = PULL
    runs: int = 0
    level: Smooth = LEVEL_SURFACE

    @cached_property
    def layout(self) -> Layout:
        """Where each part stands."""
        return Layout(self.moves, len(self.sweeps), self.runs)

    @cached_property
    def prior_covariance(self) -> FloatArray:
        """Covariance before anything was measured."""
        n = len(self.sweeps)
        where = np.array([each.coordinates for each in self.sweeps]).reshape(n, 3)
        parts: list[FloatArray] = [
            np.eye(self.moves),
            np.diag([self.mark_sigma_deg**2, SCALE_SIGMA**2, 1.0]),
        ]
        if n:
            parts += [
                smooth.covariance(where, where) + 1e-6 * np.eye(n) for smooth in (self.best, self.knock)
            ]
            parts.append(self.level.covariance(where, where) + LEVEL_SIGMA**2 * np.eye(n))
            shares = (STRETCH_SIGMA, SKEW_SIGMA, (0.0, DRIFT_SIGMA))
            parts += [shared**2 * np.ones((n, n)) + own**2 * np.eye(n) for shared, own in shares]
        if self.runs:
            parts.append(RUN_SIGMA**2 * np.eye(self.runs))
        return np.asarray(block_diag(*parts))

    @cached_property
    def root(self) -> FloatArray:
        """Lower triangular root of the prior covariance."""
        return np.asarray(np.linalg.cholesky(self.prior_covariance))

    def predicted(self, x: FloatArray, k: int) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
        """Torque [N m] and ln of the knock integral of one sweep, and how each changes with the unknowns.

        Parameters
        ----------
        x : array
            All unknowns, in the order of the layout.
        k : int
            Which sweep, from 0.

        Returns
        -------
        torque, ln_knock : array, shape (points,)
        torque_by, ln_knock_by : array, shape (points, unknowns)
        """
        each, at = self.sweeps[k], self.layout
        best, knock, level, stretch, skew, drift = (at.each(i).start + k for i in range(PARTS_EACH))
        amounts = x[: self.moves]
        curves, by_moves = each.response.at(amounts), each.response.by(amounts)
        # A hook is stretched about its own top, wherever the moves have put it.
        middle = each.response.best_deg + float(each.response.best_by @ amounts)
        off = each.advance_deg - middle - x[at.mark] - x[best]
        wide = np.exp(x[stretch]) * off
        bowed = x[skew] * off**2 / SKEW_OVER_DEG
        inside = np.abs(off) < 40.0
        values, slopes = reading(middle + np.clip(wide + np.where(inside, bowed, 0.0), -45.0, 45.0))
        slope_by_off = np.exp(x[stretch]) + np.where(inside, 2.0 * x[skew] * off / SKEW_OVER_DEG, 0.0)
        plain, slope = curves[0] @ values, curves[0] @ slopes
        points, runs = np.arange(len(each.run)), at.first_run + np.array(each.run, dtype=int)
        level_factor = np.full(off.size, np.exp(x[at.scale] + x[level]))
        level_factor[points] *= np.exp(x[runs])
        factor = level_factor * (1.0 + each.elapsed * x[drift])
        torque = factor * plain - each.friction_nm * x[at.friction]
        torque_by = np.zeros((off.size, at.size))
        torque_by[:, : self.moves] = (factor * (by_moves[:, 0] @ values)).T
        torque_by[:, : self.moves] += np.outer(factor * slope * (1.0 - slope_by_off), each.response.best_by)
        torque_by[:, at.mark] = torque_by[:, best] = -factor * slope * slope_by_off
        torque_by[:, at.scale] = torque_by[:, level] = factor * plain
        torque_by[:, at.friction] = -each.friction_nm
        torque_by[:, stretch] = factor * slope * wide
        torque_by[:, skew] = factor * slope * np.where(inside, off**2 / SKEW_OVER_DEG, 0.0)
        torque_by[:, drift] = level_factor * plain * each.elapsed
        torque_by[points, runs] = (factor * plain)[points]
        off += (1.0 - LIMIT_FOLLOWS) * x[best]
        values, slopes = reading(middle + np.clip(off, -45.0, 45.0))
        ln_knock = curves[1] @ values + x[knock]
        ln_knock_by = np.zeros((off.size, at.size))
        ln_knock_by[:, : self.moves] = (by_moves[:, 1] @ values).T
        ln_knock_by[:, at.mark] = -curves[1] @ slopes
        ln_knock_by[:, best] = LIMIT_FOLLOWS * ln_knock_by[:, at.mark]
        ln_knock_by[:, knock] = 1.0
        return torque, ln_knock, torque_by, ln_knock_by

    def minus_log(self, u: FloatArray) -> tuple[float, FloatArray, FloatArray]:
        """Minus the logarithm of the posterior, its slope and its curvature, over the whitened unknowns.

        The curvature is Gauss and Newton's, which is never negative.

        Parameters
        ----------
        u : array
            All unknowns, whitened by the prior: each of mean 0 and variance 1, apart from the others.
        """
        x = self.root @ u
        value, slope, curvature = 0.5 * float(u @ u), np.zeros(x.size), np.zeros((x.size, x.size))
        for k, each in enumerate(self.sweeps):
            torque, ln_knock, torque_by, ln_knock_by = self.predicted(x, k)
            off = (torque - each.torque_nm) / each.sigma_nm
            bent = np.sqrt(1.0 + (off / self.pull) ** 2)
            value += float(np.sum(off**2 / (1.0 + bent)))
            weight = 1.0 / bent / each.sigma_nm**2
            with np.errstate(invalid="ignore"):
                pull = np.where(np.isfinite(each.sigma_nm), weight * (torque - each.torque_nm), 0.0)
            slope += torque_by.T @ pull
            curvature += (torque_by.T * weight) @ torque_by
            for off, side in ((ln_knock, each.heard / EAR), (ln_knock - HEAVY, each.heavy / HEAVY_EAR)):
                minus_ln, by, twice = _probit(off, side)
                value += minus_ln
                slope += ln_knock_by.T @ by
                curvature += (ln_knock_by.T * twice) @ ln_knock_by
        return value, u + self.root.T @ slope, np.eye(x.size) + self.root.T @ curvature @ self.root

    def top_from(self, start: FloatArray) -> Top:
        """Climb to a top of the posterior from a start, over the whitened unknowns.

        Parameters
        ----------
        start : array
            Whitened unknowns to start from.
        """
        u = start.copy()
        value, slope, curvature = self.minus_log(u)
        for _ in range(_ROUNDS):
            step = -cho_solve(cho_factor(curvature), slope)
            share = 1.0
            tried = self.minus_log(u + step)
            while tried[0] > value + 1e-4 * share * float(slope @ step) and share > 1e-4:
                share *= 0.5
                tried = self.minus_log(u + share * step)
            moved = float(np.max(np.abs(share * step)))
            if tried[0] > value:
                break
            u, (value, slope, curvature) = u + share * step, tried
            if moved < _CLOSE:
                break
        return Top(u, value, curvature)

    def whitened(self, x: FloatArray) -> FloatArray:
        """Give unknowns as the whitened ones of this prior.

        Parameters
        ----------
        x : array
            All unknowns, in the order of the layout.
        """
        return np.asarray(solve_triangular(self.root, x, lower=True))

    def top(self, middle: FloatArray | None = None) -> Top:
        """Give the highest top found from several starts.

        One start is the middle of the prior; one the top with normal scatter, which lets no sweep go as a
        whole; one, where it is given, a middle found before.

        Parameters
        ----------
        middle : array, optional
            Unknowns from which one more climb starts; None for none.
        """
        none = np.zeros(self.layout.size)
        starts = [none, replace(self, pull=_NORMAL).top_from(none).u]
        if middle is not None:
            starts.append(self.whitened(middle))
        tops = [self.top_from(each) for each in starts]
        return min(tops, key=lambda each: each.value)

    def quadratic(self, top: Top) -> tuple[FloatArray, FloatArray]:
        """Give what the measurements say about a top: ``b`` and ``a`` of ``b @ x - x @ a @ x / 2``.

        Parameters
        ----------
        top : Top
            A top of the posterior.
        """
        back = solve_triangular(self.root, np.eye(top.u.size), lower=True)
        a = back.T @ (top.curvature - np.eye(top.u.size)) @ back
        return a @ (self.root @ top.u) + back.T @ top.u, a

    def ln_evidence(self, b: FloatArray, a: FloatArray) -> float:
        """Logarithm of the evidence of this prior, with what the measurements say, up to a constant.

        Parameters
        ----------
        b : array
            Linear part of what the measurements say, one for each unknown.
        a : array
            Curved part of it, shape (unknowns, unknowns).
        """
        inside = np.eye(b.size) + self.root.T @ a @ self.root
        pulled = solve_triangular(np.linalg.cholesky(inside), self.root.T @ b, lower=True)
        return 0.5 * float(pulled @ pulled) - 0.5 * float(np.linalg.slogdet(inside)[1])


def _probit(off: FloatArray, side: FloatArray) -> tuple[float, FloatArray, FloatArray]:
    """Minus the logarithm of the chance that each lies on its side, its slope and its curvature over ``off``.

    ``side`` is the side over the scatter; 0 says nothing.
    """
    t = side * off
    ratio = np.exp(-0.5 * t**2 - 0.5 * np.log(2.0 * np.pi) - log_ndtr(t))
    return -float(np.sum(log_ndtr(t[side != 0.0]))), -side * ratio, side**2 * ratio * (ratio + t)


@dataclass(frozen=True, eq=False)
class Top:
    """A top of the posterior over the whitened unknowns, and its curvature there."""

    u: FloatArray
    value: float
    curvature: FloatArray


@dataclass(frozen=True, eq=False)
class Posterior:
    """The unknowns after the measurements: their middle and their covariance."""

    problem: Problem
    top: Top
    middle: FloatArray
    covariance: FloatArray


def posterior_of(problem: Problem, middle: FloatArray | None = None) -> Posterior:
    """Find the posterior of a problem; a middle found before is one more start.

    Parameters
    ----------
    problem : Problem
        The measurements and what was believed before them.
    middle : array, optional
        Unknowns from which one more climb starts; None for none.
    """
    top = problem.top(middle)
    half = cho_solve(cho_factor(top.curvature), problem.root.T)
    return Posterior(problem, top, problem.root @ top.u, problem.root @ half)
