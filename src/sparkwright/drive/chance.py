"""How likely it is that chance alone heaped events up at one place."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sparkwright.numeric import FloatArray


@dataclass(frozen=True)
class Heap:
    """A place where events are more frequent than elsewhere.

    ``chance`` is the probability that some place of the map sees so many by chance, if all were alike.
    """

    cell: int
    count: int
    of: int
    chance: float


def heaps(events: NDArray[np.bool_], cells: NDArray[np.int32], fewest: int, most_chance: float) -> list[Heap]:
    """Find the cells in which events heap up, the surest first.

    Each cell is held against all others: the tail of Poisson's law at their rate, times the number of cells
    (an upper bound by Boole's inequality). Where the others saw none, one half of an event is put for them.

    Parameters
    ----------
    events : array of bool
        Whether a window has one.
    cells : array of int
        The cell of each window.
    fewest : int
        Events below which a cell is not told.
    most_chance : float
        Chance above which it isn't.
    """
    from scipy.stats import poisson

    size = int(cells.max()) + 1 if cells.size else 0
    seen = np.bincount(cells, minlength=size)
    found = np.bincount(cells[events], minlength=size)
    met = int(np.count_nonzero(seen))
    heaped = []
    for cell in np.flatnonzero(found >= fewest).tolist():
        elsewhere = max(int(seen.sum() - seen[cell]), 1)
        rate = max(int(found.sum() - found[cell]), 0.5) / elsewhere
        chance = min(1.0, met * float(poisson.sf(found[cell] - 1, rate * seen[cell])))
        if chance <= most_chance:
            heaped.append(Heap(cell, int(found[cell]), int(seen[cell]), chance))
    return sorted(heaped, key=lambda each: (each.chance, -each.count, each.cell))


def rising_chance(
    events: NDArray[np.bool_], against: FloatArray, strata: NDArray[np.int32]
) -> tuple[float, float]:
    """Say how surely events grow more frequent with something, place by place: z and its chance.

    The extension of Mantel and Haenszel's test (Mantel 1963) to a score: within each place the scores of the
    windows with events are held against the mean of all, so that places that differ in both don't count.

    Parameters
    ----------
    events : array of bool
        Whether it happened, one for each window.
    against : array
        What it may rise with, such as advance [deg], one for each window; nan where unknown, which
        doesn't count.
    strata : array of int
        Number of the place, speed and load alike, that each window belongs to; places aren't mixed.

    Examples
    --------
    >>> score = np.tile(np.arange(10.0), 40)
    >>> z, chance = rising_chance(score > 7.5, score, np.zeros(400, dtype=np.int32))
    >>> z > 10, chance < 1e-9
    (True, True)
    """
    from scipy.stats import norm

    known = np.isfinite(against)
    events, against, strata = events[known], against[known], strata[known]
    total, variance = 0.0, 0.0
    for place in np.unique(strata[events]).tolist():
        here = strata == place
        score, hit = against[here], events[here]
        count, hits = score.size, int(hit.sum())
        if count < 2 or hits in (0, count):
            continue
        total += float(score[hit].sum() - hits * score.mean())
        variance += (
            hits * (count - hits) / (count * (count - 1.0)) * float(((score - score.mean()) ** 2).sum())
        )
    if variance <= 0.0:
        return 0.0, 1.0
    z = total / np.sqrt(variance)
    return float(z), float(norm.sf(z))
