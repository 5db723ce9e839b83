"""What sweeps not yet run would leave unknown of a map, any of them together.

In a linear normal model that doesn't depend on what they show. All that could be run stand in one such model
with what was measured, so that any of them together cost one small solve.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from sparkwright.learn.belief import LearnedBelief, designs, variances
from sparkwright.learn.posterior import BEST, PARTS_EACH, Layout, Problem, Seen
from sparkwright.numeric import FloatArray


@dataclass(frozen=True, eq=False)
class Planned:
    """A sweep that could be run, with what it would read.

    ``later_deg`` is how much later its hook is believed to lie than the cycle's [crank deg]; ``told`` how
    firmly each mark of knock would tell ln of the knock integral, one over its scatter [-].
    """

    rpm: float
    kpa: float
    advances_deg: tuple[float, ...]
    knock_chance_percent: float
    sweep: Seen
    later_deg: float
    told: FloatArray


class Together:
    """Sweeps that could be run, in one model with what was measured.

    Parameters
    ----------
    belief : LearnedBelief
        What was learned up to now.
    planned : sequence of Planned
        Sweeps that could be run.
    rpm, kpa : array
        Speed [rpm] and load [kPa absolute] of the cells asked for.
    """

    def __init__(
        self, belief: LearnedBelief, planned: Sequence[Planned], rpm: FloatArray, kpa: FloatArray
    ) -> None:
        posterior = belief.posterior
        problem, measured = posterior.problem, len(posterior.problem.sweeps)
        more = replace(problem, sweeps=(*problem.sweeps, *(each.sweep for each in planned)))
        at, kept = more.layout, _places_kept(problem.layout, more.layout)
        x = np.zeros(at.size)
        x[kept] = posterior.middle
        x[at.each(BEST)][measured:] = [each.later_deg - x[at.mark] for each in planned]
        by = [_told_by(more, x, k, each.told) for k, each in enumerate(planned, start=measured)]
        self._whose = np.repeat(np.arange(len(planned)), [len(each) for each in by])
        information = np.zeros((at.size, at.size))
        information[np.ix_(kept, kept)] = problem.quadratic(posterior.top)[1]
        root, told = more.root, np.concatenate([np.zeros((0, at.size)), *by])
        covariance = root @ np.linalg.solve(np.eye(at.size) + root.T @ information @ root, root.T)
        design, left, _ = designs(more, belief.answers, rpm, kpa)
        self._now = variances(design, left, covariance)
        self._read = told @ covariance @ told.T
        self._across = design @ covariance @ told.T

    def variances_after(self, run: Sequence[int]) -> FloatArray:
        """Variance of best and of ln of the integral after some of the sweeps, shape (2, cells).

        Parameters
        ----------
        run : sequence of int
            Which of the planned sweeps, from 0; none for what is left unknown now.
        """
        rows = np.flatnonzero(np.isin(self._whose, run))
        across = self._across[:, :, rows]
        solved = across @ np.linalg.inv(np.eye(rows.size) + self._read[np.ix_(rows, rows)])
        return np.asarray(self._now - np.sum(across * solved, axis=2))


def _places_kept(before: Layout, after: Layout) -> list[int]:
    """Where the old unknowns stand with more sweeps: these stand behind the old ones in each part."""
    place = [*range(before.moves + 3)]
    for part in range(PARTS_EACH):
        start = after.each(part).start
        place += range(start, start + before.sweeps)
    return [*place, *range(after.first_run, after.size)]


def _told_by(problem: Problem, x: FloatArray, k: int, told: FloatArray) -> FloatArray:
    """How what a sweep reads, over its scatter, changes with the unknowns."""
    _, _, torque_by, ln_knock_by = problem.predicted(x, k)
    sigma = problem.sweeps[k].sigma_nm
    return np.concatenate([torque_by / sigma[:, None], ln_knock_by * told[:, None]])
