"""The ceilings between the cells of a map: read at support points, carried between them by cubics.

The support is the map's own axes, made finer until its points lie close together, with a point wherever
the job itself has a corner: where its mixture turns, and on both sides of the site's air, above which less
knock is allowed. No cubic reaches over such a corner. Where a ceiling ends, so that a cubic would need a
point that has none, the places themselves are read. Cells are points of the support as they are.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from sparkwright.cycle.sparse import KNOCK_SPAN_DEG
from sparkwright.job import Job
from sparkwright.numeric import FloatArray
from sparkwright.plan.ceilings import TELLABLE_DEG
from sparkwright.plan.cell import ceilings_at
from sparkwright.plan.firmness import Firmness, Mapper
from sparkwright.plan.hooks import FIRST_DEG, LAST_DEG
from sparkwright.plan.physics import ROUNDED_KPA, Physics

WIDEST_RPM, WIDEST_KPA = 400.0, 6.0
WIDEST_SHARE_RPM, WIDEST_SHARE_KPA = 0.12, 0.1
"""Most that points of the support lie apart, and of where they stand where that is more; a choice: ceilings
turn less the faster and the fuller the engine runs. Carried so they differ from the cycle's own by less than
a tenth of a degree (tests/plan/test_support.py)."""

STEEP_SHARE = 0.3
"""Of where they stand, the most that points of the support lie apart, however slow and light the engine runs:
about the idle best moves fastest [-]; a choice."""

FINER = 4
"""How many times finer than the support the ceilings are looked at."""

STENCIL = 4
"""Points that a cubic goes through."""

NO_WIDTH = 1e-2
"""Corners no further apart are the two sides of one place [rpm or kPa]; a choice."""

AT_ONCE = 64
"""Places that are read in one go."""


@dataclass(frozen=True)
class Axis:
    """One axis of a support: its points, rising, and the corners that no cubic reaches over."""

    at: FloatArray
    corners: FloatArray

    def fine(self) -> FloatArray:
        """Give every point and ``FINER - 1`` between each two that aren't the two sides of one place."""
        parts, apart = np.arange(FINER) / FINER, np.diff(self.at)[:, None]
        between = self.at[:-1, None] + np.where(apart > NO_WIDTH, parts * apart, 0.0)
        return np.append(np.unique(between), self.at[-1])

    def straight(self, wanted: FloatArray) -> FloatArray:
        """Give the weights of the points in a straight line between two, shape (wanted, points).

        Parameters
        ----------
        wanted : array
            Places along the axis.
        """
        return straight_weights(self.at, wanted)

    def cubic(self, wanted: FloatArray) -> FloatArray:
        """Give the weights of the points in the cubic through the nearest four, or what there are of them.

        Lagrange's form. Beside a corner the four lie on one side of it.

        Parameters
        ----------
        wanted : array
            Places along the axis.
        """
        return _weights(self.at, self.corners, wanted)


def straight_weights(points: FloatArray, wanted: FloatArray) -> FloatArray:
    """Give the weights of rising points in straight lines between them, shape (wanted, points).

    Parameters
    ----------
    points : array
        Points along one axis, rising.
    wanted : array
        Places along the same axis; beyond the points their ends count.

    Examples
    --------
    >>> straight_weights(np.array([1000.0, 2000.0]), np.array([1250.0])).tolist()
    [[0.75, 0.25]]
    """
    low = np.clip(np.searchsorted(points, wanted, side="right") - 1, 0, points.size - 2)
    part = np.clip((wanted - points[low]) / (points[low + 1] - points[low]), 0.0, 1.0)
    found = np.zeros((wanted.size, points.size))
    row = np.arange(wanted.size)
    found[row, low], found[row, low + 1] = 1.0 - part, part
    return found


def _weights(points: FloatArray, corners: FloatArray, wanted: FloatArray) -> FloatArray:
    """Give the weights with which values at points make a value at each place wanted."""
    found = np.zeros((wanted.size, points.size))
    corner = np.isin(points, corners)
    low = np.clip(np.searchsorted(points, wanted, side="right") - 1, 0, points.size - 2)
    for row, (value, left) in enumerate(zip(wanted.tolist(), low.tolist(), strict=True)):
        # The piece between corners that the interval lies in, and the four of its points about it.
        first = next((at for at in range(left, 0, -1) if corner[at]), 0)
        last = next((at for at in range(left + 1, points.size) if corner[at]), points.size - 1)
        start = min(max(left - 1, first), max(last - STENCIL + 1, first))
        used = slice(start, min(start + STENCIL, last + 1))
        found[row, used] = _lagrange(points[used], value)
    return found


def _lagrange(nodes: FloatArray, value: float) -> FloatArray:
    """Weights of values at nodes in the polynomial through all of them (Lagrange)."""
    itself = np.eye(nodes.size, dtype=bool)
    apart = np.where(itself, 1.0, nodes[:, None] - nodes[None, :])
    away = np.where(itself, 1.0, value - nodes[None, :])
    return np.asarray(away.prod(axis=1) / apart.prod(axis=1))


@dataclass(frozen=True)
class FineCeilings:
    """Best and the knock ceiling on a fine grid over a map, shape (loads, speeds) [deg].

    Both have a number everywhere: where there is no best it is the last advance that is tested, where knock
    comes near no advance that was tested it lies as far beyond best as was looked, and where the charge
    knocks at any advance it is as late as a limit can be known.
    """

    rpm: FloatArray
    kpa: FloatArray
    best_deg: FloatArray
    knock_deg: FloatArray


@dataclass(frozen=True)
class Support:
    """What reads ceilings between the cells of a map: the job, and best and knock at its cells.

    ``most_deg`` is the most that any cell may have; what lies above it needs no care.
    """

    job: Job
    physics: Physics
    firmness: Firmness
    rpm: FloatArray
    kpa: FloatArray
    best_deg: FloatArray
    knock_deg: FloatArray
    most_deg: float = LAST_DEG
    run: Mapper = map
    """Runs a function over many arguments, like ``map``; a pool's runs parts side by side."""

    def fine(self) -> FineCeilings:
        """Give the ceilings between cells, `FINER` times as fine as the support."""
        speeds, loads = self._axes
        best, knock = self._at_points
        pegs = [(peg.rpm, peg.kpa) for peg in self.job.pegs]
        rpm = _with_points(speeds.fine(), [each for each, _ in pegs])
        kpa = _with_points(loads.fine(), [each for _, each in pegs])
        fine_best, best_ends = _carried(_best_filled(best), ~np.isnan(best), speeds, loads, rpm, kpa)
        filled = self._knock_filled(best, knock)
        fine_knock, knock_ends = _carried(filled, np.isfinite(knock), speeds, loads, rpm, kpa)
        # Toward where knock ends it rises ever steeper: what stands about a place says whether it may count.
        known = np.where(np.isnan(knock), np.inf, knock)
        least_knock = _least_about(known, speeds, loads, rpm, kpa)
        any_knock = -_least_about(-known, speeds, loads, rpm, kpa) > -np.inf
        knock_near = any_knock & (least_knock < np.minimum(fine_best, self.most_deg) + TELLABLE_DEG)
        best_near = fine_best < min(self.most_deg, LAST_DEG)
        rows, columns = np.nonzero((best_ends & best_near) | (knock_ends & knock_near))
        read = self.read(rpm[columns], kpa[rows])
        fine_best[rows, columns] = _best_filled(read[0])
        fine_knock[rows, columns] = self._knock_filled(*read)
        return FineCeilings(rpm, kpa, fine_best, fine_knock)

    def read(self, rpm: FloatArray, kpa: FloatArray) -> FloatArray:
        """Read best and the knock ceiling at places in a row, nan and -inf as in a cell [deg], shape (2, n).

        Parameters
        ----------
        rpm : array
            Speed of each place [rpm].
        kpa : array
            Load of each place [kPa absolute].
        """
        parts = [slice(start, start + AT_ONCE) for start in range(0, rpm.size, AT_ONCE)]
        found = self.run(lambda part: self._read_at_once(rpm[part], kpa[part]), parts)
        return np.concatenate([np.empty((2, 0)), *found], axis=1)

    @cached_property
    def _axes(self) -> tuple[Axis, Axis]:
        return support_axes(self.physics, self.rpm, self.kpa)

    @cached_property
    def _at_points(self) -> FloatArray:
        """Best and knock at the points of the support."""
        speeds, loads = (each.at for each in self._axes)
        found = np.full((2, loads.size, speeds.size), np.nan)
        wanted = np.ones(found.shape[1:], dtype=bool)
        rows, columns = np.ix_(np.searchsorted(loads, self.kpa), np.searchsorted(speeds, self.rpm))
        found[:, rows, columns] = self.best_deg, self.knock_deg
        wanted[rows, columns] = False
        down, across = np.nonzero(wanted)
        found[:, down, across] = self.read(speeds[across], loads[down])
        return found

    def _read_at_once(self, rpm: FloatArray, kpa: FloatArray) -> FloatArray:
        ln_sigma, _ = self.firmness.at(rpm, kpa)
        down, across = straight_weights(self.kpa, kpa), straight_weights(self.rpm, rpm)
        guess_deg = _at_places(_best_filled(self.best_deg), down, across)
        read = ceilings_at(self.job, self.physics, rpm, kpa, ln_sigma, guess_deg)
        return np.stack([read.best_deg, read.knock_deg])

    def _knock_filled(self, best: FloatArray, knock: FloatArray) -> FloatArray:
        far = np.where(np.isnan(knock), _best_filled(best) + KNOCK_SPAN_DEG, knock)
        return np.asarray(np.maximum(far, FIRST_DEG - self.job.limits.knock_margin_deg))


def _best_filled(best: FloatArray) -> FloatArray:
    return np.where(np.isnan(best), LAST_DEG, best)


def _at_places(cells: FloatArray, down: FloatArray, across: FloatArray) -> FloatArray:
    return np.asarray(np.einsum("pi,ij,pj->p", down, cells, across))


def _least_about(
    values: FloatArray, speeds: Axis, loads: Axis, rpm: FloatArray, kpa: FloatArray
) -> FloatArray:
    """Give the least of the points of a support that stand about each place."""
    low, high = _about(loads.at, kpa)
    rows = np.minimum(values[low], values[high])
    low, high = _about(speeds.at, rpm)
    return np.minimum(rows[:, low], rows[:, high])


def _about(points: FloatArray, wanted: FloatArray) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Give the points at and below, and at and above, places along one axis."""
    below = np.clip(np.searchsorted(points, wanted, side="right") - 1, 0, points.size - 1)
    above = np.clip(np.searchsorted(points, wanted, side="left"), 0, points.size - 1)
    return below, above


def _with_points(axis: FloatArray, points: list[float]) -> FloatArray:
    return np.union1d(axis, [each for each in points if axis[0] <= each <= axis[-1]])


def _carried(
    values: FloatArray,
    told: NDArray[np.bool_],
    speeds: Axis,
    loads: Axis,
    rpm: FloatArray,
    kpa: FloatArray,
) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Carry values by cubics, in straight lines where one needs a point that has none; say where."""
    down, across = loads.cubic(kpa), speeds.cubic(rpm)
    straight = loads.straight(kpa) @ values @ speeds.straight(rpm).T
    used_down, used_across = (down != 0.0).astype(float), (across != 0.0).astype(float)
    none = used_down @ (~told).astype(float) @ used_across.T
    some = used_down @ told.astype(float) @ used_across.T
    ends = (none > 0.0) & (some > 0.0)
    return np.where(none > 0.0, straight, down @ values @ across.T), ends


def support_axes(physics: Physics, rpm: FloatArray, kpa: FloatArray) -> tuple[Axis, Axis]:
    """Give the speeds and the loads of the support of a map.

    Parameters
    ----------
    physics : Physics
        The job as the cycle sees it, for where its mixture turns.
    rpm, kpa : array
        The map's axes, rising.
    """
    idle_rpm, idle_kpa = physics.idle_rpm, physics.idle_kpa
    speed_corners, load_corners = [], list(physics.mixture_kpa)
    if physics.idle_lambda is not None:
        speed_corners += [1.15 * idle_rpm, 1.6 * idle_rpm]
        load_corners += [1.2 * idle_kpa, 1.6 * idle_kpa]
    ambient = physics.ambient_kpa
    load_corners += [ambient, ambient + 2.0 * ROUNDED_KPA]  # the least that surely is boost
    return (
        _finer(rpm, speed_corners, WIDEST_RPM, WIDEST_SHARE_RPM),
        _finer(kpa, load_corners, WIDEST_KPA, WIDEST_SHARE_KPA),
    )


def _finer(own: FloatArray, corners: list[float], widest: float, share: float) -> Axis:
    """Put corners within an axis, and split evenly what then lies too far apart for a cubic.

    Points may lie ``widest`` apart, but `STEEP_SHARE` of where they stand at most, or ``share`` of it if that
    is more. Between two corners with no point of their own, however close, there are enough for a cubic:
    ceilings bend there as well, where a mixture goes from lean to rich within a kilopascal.
    """
    within = np.unique([each for each in corners if own[0] < each < own[-1]])
    points = np.unique(np.concatenate([own, within]))
    ends = np.isin(points, [own[0], *within, own[-1]])
    parts = []
    for at, (low, high) in enumerate(pairwise(points.tolist())):
        most = max(min(widest, STEEP_SHARE * low), share * low)
        alone = ends[at] and ends[at + 1]
        least = STENCIL - 1 if alone and high - low > NO_WIDTH else 1
        parts.append(np.linspace(low, high, max(int(np.ceil((high - low) / most)), least), endpoint=False))
    return Axis(np.append(np.concatenate(parts), points[-1]), within)
