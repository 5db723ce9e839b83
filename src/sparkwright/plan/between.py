"""A map safe between its cells: lowered where what the controller makes of it would stand over a ceiling.

What a controller makes of a map between its cells is a weighted mean of cells: in straight lines in both
directions, of the four about a point (bilinear interpolation); or the nearest cell alone. Each point of a
fine grid that stands over its ceiling asks that its mean come down. The least lowering that does so, each
degree weighed by how much its cell is used, is a linear programme; it keeps the map's slopes. Then cells
are rounded down to the controller's step, and put back by whole steps where that crosses nothing.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from sparkwright.job import Between
from sparkwright.numeric import FloatArray
from sparkwright.plan.between_cells import Grid, Lowered
from sparkwright.plan.ceilings import TELLABLE_DEG, round_down
from sparkwright.plan.support import FineCeilings, straight_weights

if TYPE_CHECKING:
    from scipy.sparse import csr_array

LEFT_DEG = 0.5 * TELLABLE_DEG
"""What may stand over a ceiling between cells [deg]: half of what can be told, since the ceilings there are
carried; a choice."""

TIE = 1e-6
"""Share by which a degree at the latest cell weighs less than one at the earliest, so that of equal ways the
one that lowers the later value is taken [-]; a choice."""


def lowest_ceilings(
    fine: FineCeilings, reach_deg: float, limit_deg: float, pegs: tuple[tuple[float, float, float], ...] = ()
) -> Grid:
    """Put the ceilings of a fine grid together.

    Parameters
    ----------
    fine : FineCeilings
        Best and knock.
    reach_deg, limit_deg : float
        What the rotor reaches, and what person and controller allow [crank deg].
    pegs : tuple of (rpm, kpa, advance_deg)
        Values insisted on; each holds at its own speed and load.
    """
    limit = np.full(fine.best_deg.shape, limit_deg)
    for rpm, kpa, advance_deg in pegs:
        at = np.ix_(fine.kpa == kpa, fine.rpm == rpm)
        limit[at] = np.minimum(limit[at], advance_deg)
    stack = np.stack([fine.best_deg, fine.knock_deg, np.full(limit.shape, reach_deg), limit])
    names = np.array(["best", "knock", "reach", "limit"])[stack.argmin(axis=0)]
    return Grid(fine.rpm, fine.kpa, stack.min(axis=0), names)


def made_of(how: Between, rpm: FloatArray, kpa: FloatArray, grid: Grid) -> csr_array:
    """Give of which cells each point of a fine grid is made, and with what weights.

    Parameters
    ----------
    how : {"straight lines", "nearest cell"}
        What the controller does between cells.
    rpm, kpa : array
        The map's axes.
    grid : Grid
        The fine grid, within the map.

    Returns
    -------
    csr_array, shape (points or a multiple of them, cells)
        Points and cells counted along the rows. Midway between cells either may be the nearest: then the
        points come once for each way to settle it.
    """
    from scipy.sparse import csr_array, kron, vstack

    if how == "straight lines":
        ways = [(straight_weights(kpa, grid.kpa), straight_weights(rpm, grid.rpm))]
    else:
        ways = [
            (nearest_weights(kpa, grid.kpa, up), nearest_weights(rpm, grid.rpm, right))
            for up in (False, True)
            for right in (False, True)
        ]
    return csr_array(vstack([kron(csr_array(down), csr_array(across)) for down, across in ways]))


def nearest_weights(points: FloatArray, wanted: FloatArray, later: bool) -> FloatArray:
    """Give a weight of 1 to the point nearest to each place; midway to the later or to the earlier one.

    Parameters
    ----------
    points : array
        Points of the map along one axis, rising.
    wanted : array
        Places along the same axis, within the points.
    later : bool
        Whether the later of two points counts midway between them.

    Examples
    --------
    >>> nearest_weights(np.array([0.0, 2.0]), np.array([0.4, 1.0]), later=True).tolist()
    [[1.0, 0.0], [0.0, 1.0]]
    """
    middle = 0.5 * (points[:-1] + points[1:])
    at = np.searchsorted(middle, wanted, side="right" if later else "left")
    found = np.zeros((wanted.size, points.size))
    found[np.arange(wanted.size), at] = 1.0
    return found


def lower_between(
    value_deg: FloatArray,
    rpm: FloatArray,
    kpa: FloatArray,
    grid: Grid,
    use: FloatArray,
    *,
    how: Between,
    step_deg: float,
    min_deg: float,
    per_rpm: float,
    per_kpa: float,
) -> Lowered:
    """Lower the cells of a map, as little as will do, until nothing between them stands over a ceiling.

    Parameters
    ----------
    value_deg : array, shape (loads, speeds)
        The map, under its ceilings at its cells, in whole steps [deg].
    rpm, kpa : array
        Its axes.
    grid : Grid
        The ceilings between.
    use : array
        How much a degree at each cell weighs, above 0 [-].
    how : {"straight lines", "nearest cell"}
        What the controller does between cells.
    step_deg : float
        The controller's step.
    min_deg : float
        The least advance that the controller takes; no cell is brought below it, nor below the lowest of the
        ceilings where that is lower.
    per_rpm, per_kpa : float
        Steepest slopes allowed [deg/rpm], [deg/kPa].
    """
    weights = made_of(how, rpm, kpa, grid)
    repeats = weights.shape[0] // grid.lowest_deg.size
    allowed = np.tile(grid.lowest_deg.ravel(), repeats) + LEFT_DEG
    value = value_deg.ravel()
    asked = np.flatnonzero(weights @ value > allowed + 1e-9)
    if not asked.size:
        nothing = np.full(value_deg.shape, np.nan)
        blank = tuple(("",) * rpm.size for _ in kpa)
        return Lowered(value_deg, np.zeros(value_deg.shape), nothing, nothing, blank)
    weights, allowed = weights[asked], allowed[asked]
    pairs = _neighbours(rpm, kpa, per_rpm, per_kpa)
    # All cells at this value would do, so that there always is a way.
    least_deg = float(round_down(np.array([min(min_deg, float(grid.lowest_deg.min()))]), step_deg)[0])
    least = least_lowering(value, weights, allowed, pairs, use.ravel(), least_deg)
    down = round_down(value - least, step_deg)
    down = put_back(down, value, weights, allowed, pairs, use.ravel(), step_deg)
    lowered = value - down
    place, points = _asks_the_most(weights, weights @ value - allowed, lowered), asked % grid.lowest_deg.size
    row, column = np.unravel_index(points[place], grid.lowest_deg.shape)
    told = lowered > 1e-9
    names = np.where(told, grid.names[row, column], "").reshape(value_deg.shape)
    return Lowered(
        advance_deg=down.reshape(value_deg.shape),
        lowered_deg=lowered.reshape(value_deg.shape),
        rpm=np.where(told, grid.rpm[column], np.nan).reshape(value_deg.shape),
        kpa=np.where(told, grid.kpa[row], np.nan).reshape(value_deg.shape),
        ceiling=tuple(tuple(map(str, line)) for line in names),
    )


def lowered_under(
    value_deg: FloatArray,
    weights: csr_array,
    ceiling_deg: FloatArray,
    pairs: Pairs,
    use: FloatArray,
    step_deg: float,
) -> FloatArray:
    """Lower cells of any table, as little as will do, until nothing made of them stands over a ceiling.

    Parameters
    ----------
    value_deg : array, shape (cells,)
        The cells, in whole steps [crank deg].
    weights : csr_array, shape (points, cells)
        Of which cells each point is made.
    ceiling_deg : array, shape (points,)
        The most each point may have; `LEFT_DEG` more is left [crank deg].
    pairs : Pairs
        Neighbours and how much they may differ.
    use : array, shape (cells,)
        How much a degree weighs, above 0 [-].
    step_deg : float
        The controller's step [crank deg].

    Returns
    -------
    array, shape (cells,)
        The cells in whole steps, nowhere above what they were [crank deg].
    """
    allowed = ceiling_deg + LEFT_DEG
    asked = np.flatnonzero(weights @ value_deg > allowed + 1e-9)
    if not asked.size:
        return value_deg
    weights, allowed = weights[asked], allowed[asked]
    # All cells at this value would do, so that there always is a way.
    least_deg = float(round_down(np.array([min(float(allowed.min()), float(value_deg.min()))]), step_deg)[0])
    least = least_lowering(value_deg, weights, allowed, pairs, use, least_deg)
    down = round_down(value_deg - least, step_deg)
    return put_back(down, value_deg, weights, allowed, pairs, use, step_deg)


@dataclass(frozen=True)
class Pairs:
    """Neighbouring cells of a map, counted along the rows, and how much they may differ [deg]."""

    one: np.ndarray[tuple[int], np.dtype[np.intp]]
    other: np.ndarray[tuple[int], np.dtype[np.intp]]
    most_deg: FloatArray


def _neighbours(rpm: FloatArray, kpa: FloatArray, per_rpm: float, per_kpa: float) -> Pairs:
    """Give both orders of each two neighbours; slopes between neighbours bound those between all cells."""
    cell = np.arange(kpa.size * rpm.size).reshape(kpa.size, rpm.size)
    right = np.broadcast_to(per_rpm * np.diff(rpm), (kpa.size, rpm.size - 1)).ravel()
    up = np.broadcast_to((per_kpa * np.diff(kpa))[:, None], (kpa.size - 1, rpm.size)).ravel()
    one = np.concatenate([cell[:, :-1].ravel(), cell[:-1].ravel()])
    other = np.concatenate([cell[:, 1:].ravel(), cell[1:].ravel()])
    most = np.concatenate([right, up])
    return Pairs(np.concatenate([one, other]), np.concatenate([other, one]), np.tile(most, 2))


def least_lowering(
    value_deg: FloatArray,
    weights: csr_array,
    allowed_deg: FloatArray,
    pairs: Pairs,
    use: FloatArray,
    least_deg: float = -np.inf,
) -> FloatArray:
    """Give the least degrees to take from each cell, weighed by use, so that every mean is allowed.

    A linear programme (Dantzig): minimise ``sum(use * d)`` over ``d >= 0`` with ``weights @ (value - d)`` at
    most what is allowed, and no slope steeper than it may be, or than it was where rounding made it so.
    Solved by the dual simplex of HiGHS (Huangfu and Hall, Math. Prog. Comp. 10, 2018), which gives the same
    for the same. Of equal ways the later value is lowered.

    Parameters
    ----------
    value_deg : array, shape (cells,)
        The values now.
    weights : csr_array, shape (points, cells)
        Of which cells each point is made.
    allowed_deg : array, shape (points,)
        The most each point may have.
    pairs : Pairs
        Neighbours and how much they may differ.
    use : array, shape (cells,)
        How much a degree weighs, above 0 [-].
    least_deg : float
        Below it no cell is brought.

    Raises
    ------
    RuntimeError
        If no lowering is enough: the least value lies above what a point may have.
    """
    from scipy.optimize import linprog
    from scipy.sparse import csr_array, vstack

    count = np.arange(pairs.one.size)
    ones = np.ones(pairs.one.size)
    differ = csr_array(
        (np.concatenate([-ones, ones]), (np.tile(count, 2), np.concatenate([pairs.one, pairs.other]))),
        shape=(pairs.one.size, value_deg.size),
    )
    now_deg = value_deg[pairs.one] - value_deg[pairs.other]
    latest_first = np.argsort(np.argsort(value_deg, kind="stable"), kind="stable")
    rows: Any = vstack([-weights, differ])  # sparse, which the types of SciPy don't know it to take
    found = linprog(
        use * (1.0 + TIE * latest_first / value_deg.size),
        A_ub=rows,
        b_ub=np.concatenate([allowed_deg - weights @ value_deg, np.maximum(pairs.most_deg - now_deg, 0.0)]),
        bounds=[(0.0, room) for room in np.maximum(value_deg - least_deg, 0.0).tolist()],
        method="highs-ds",
    )
    if found.x is None:
        raise RuntimeError(f"no map lies under its ceilings: {found.message}")
    return np.asarray(np.maximum(found.x, 0.0))


def put_back(
    down_deg: FloatArray,
    before_deg: FloatArray,
    weights: csr_array,
    allowed_deg: FloatArray,
    pairs: Pairs,
    use: FloatArray,
    step_deg: float,
) -> FloatArray:
    """Raise rounded cells again by whole steps, the most used first, where that crosses nothing.

    Parameters
    ----------
    down_deg : array
        The lowered values, one for each cell [deg].
    before_deg : array
        What they may rise to at most, one for each cell [deg].
    weights : csr_array
        What the controller makes of the cells at each place, shape (places, cells).
    allowed_deg : array
        What may stand at each place [deg].
    pairs : Pairs
        Cells that lie side by side, and how much they may differ [deg].
    use : array
        How much each cell is used [-].
    step_deg : float
        The controller's step [deg].
    """
    value = down_deg.copy()
    points_of = weights.tocsc()
    room = allowed_deg - weights @ value
    most = np.maximum(pairs.most_deg, before_deg[pairs.one] - before_deg[pairs.other])
    order = np.argsort(-use, kind="stable")
    for cell in order[(before_deg - down_deg)[order] > 1e-9].tolist():
        asked = slice(points_of.indptr[cell], points_of.indptr[cell + 1])
        points, shares = points_of.indices[asked], points_of.data[asked]
        beside = pairs.one == cell
        while value[cell] + step_deg <= before_deg[cell] + 1e-9:
            raised = value[cell] + step_deg
            if np.any(room[points] < step_deg * shares - 1e-9):
                break
            if np.any(raised - value[pairs.other[beside]] > most[beside] + 1e-9):
                break
            value[cell] = raised
            room[points] -= step_deg * shares
    return value


def _asks_the_most(weights: csr_array, over_deg: FloatArray, lowered: FloatArray) -> np.ndarray:
    """Give for each cell the point that asks the most of it; of a cell lowered for a slope, of any."""
    asked = weights.multiply(over_deg[:, None]).tocsc()
    found = np.full(lowered.size, int(np.argmax(over_deg)))
    for cell in np.flatnonzero(lowered > 1e-9).tolist():
        own = slice(asked.indptr[cell], asked.indptr[cell + 1])
        if own.stop > own.start:
            found[cell] = asked.indices[own][int(np.argmax(asked.data[own]))]
    return found


def stands_over(
    value_deg: FloatArray, rpm: FloatArray, kpa: FloatArray, grid: Grid, how: Between
) -> tuple[FloatArray, FloatArray]:
    """Give what a controller makes of a map on a fine grid within it, and how far over the ceilings [deg].

    Where either of two cells may be the nearest, the one that is earlier counts.

    Parameters
    ----------
    value_deg : array
        The map, shape (loads, speeds) [deg before top dead centre].
    rpm : array
        Speeds of the map [rpm], rising.
    kpa : array
        Loads of the map [kPa absolute], rising.
    grid : Grid
        Places between the cells, with the lowest ceiling at each.
    how : Between
        What the controller takes between cells.
    """
    made = (made_of(how, rpm, kpa, grid) @ value_deg.ravel()).reshape(-1, *grid.lowest_deg.shape)
    made_deg = made.max(axis=0)
    return made_deg, made_deg - grid.lowest_deg
