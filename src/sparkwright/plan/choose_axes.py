"""Where the speeds and loads of a map stand best, for so many of them as a controller has.

Judged by the torque that a map on them gives away, weighed by use: what its rounding, its slopes and the
straight lines between its cells leave below the lowest ceiling.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from sparkwright.check.demand import highest_rpm
from sparkwright.cycle.belief import PRIOR, Belief
from sparkwright.job import Job, LoadTerm
from sparkwright.numeric import FloatArray
from sparkwright.plan.axes import default_axes
from sparkwright.plan.between import made_of, stands_over
from sparkwright.plan.between_cells import Grid
from sparkwright.plan.ceilings import limit_slopes, round_down
from sparkwright.plan.firmness import Mapper
from sparkwright.plan.hooks import FIRST_DEG, LAST_DEG, USUAL_BEST_DEG, sparse_at
from sparkwright.plan.load_terms import loads_of
from sparkwright.plan.nodes import Axis, AxisName, Nodes, Terms, axis_asked, axis_kept, axis_of_own_ends
from sparkwright.plan.on_rows import nodes_of, on_its_rows
from sparkwright.plan.physics import Physics, physics_of
from sparkwright.plan.planner import lowered_for_between, planned_without_hand
from sparkwright.plan.support import straight_weights
from sparkwright.plan.use import use_of

OFF_BEST_DEG = 8.0
"""How far off best the bend of the torque is read [deg]; a choice."""


@dataclass(frozen=True)
class AxesChoice:
    """Axes chosen for a map, beside evenly spaced ones.

    ``lost_percent`` and ``even_lost_percent`` are the torque given away, of what the lowest ceilings would
    give, weighed by use [%]. ``load`` and ``even_load`` are ``kpa`` and ``even_kpa`` in the terms
    ``load_term``, those of the controller; kPa absolute where it has its loads by throttle. ``kept`` names
    the axes that are the person's own, and ``anew_lost_percent`` is the torque given away were these chosen
    too, as many nodes between the same ends; nan where none is kept.
    """

    rpm: FloatArray
    kpa: FloatArray
    lost_percent: float
    even_rpm: FloatArray
    even_kpa: FloatArray
    even_lost_percent: float
    use: str
    load_term: LoadTerm
    load: FloatArray
    even_load: FloatArray
    kept: tuple[AxisName, ...]
    anew_lost_percent: float
    rows_kept: bool = False
    """Whether the controller's rows have speeds of their own: then they are kept, and nothing is chosen."""


@dataclass(frozen=True)
class _Loss:
    """What a map is judged by, on a fine grid."""

    job: Job
    grid: Grid
    best_deg: FloatArray
    weight: FloatArray
    """Use times the bend of the torque [N m/deg2]: what a squared degree off best counts."""
    whole_nm: float
    """Torque at the lowest ceilings, weighed by use and summed."""

    def of(self, rpm: FloatArray, kpa: FloatArray) -> float:
        """Torque that the map on these axes gives away [%]."""
        grid, limits = self.grid, self.job.limits
        down, across = straight_weights(grid.kpa, kpa), straight_weights(grid.rpm, rpm)
        lowest = down @ grid.lowest_deg @ across.T
        slopes = limits.slope_deg_per_500rpm / 500.0, limits.slope_deg_per_10kpa / 10.0
        limited, _ = limit_slopes(lowest, rpm, kpa, *slopes)
        value = round_down(limited, self.job.controller.step_deg)
        found = lowered_for_between(self.job, value, rpm, kpa, grid)
        nodes, value = nodes_of(self.job.controller.rows, rpm, kpa), found.advance_deg
        if nodes is not None:
            value = on_its_rows(self.job, value, grid, nodes)
        made = made_of(self.job.controller.takes_between, rpm, kpa, grid) @ value.ravel()
        made_deg = made.reshape(-1, *grid.lowest_deg.shape).min(axis=0)
        return 100.0 * float(self.short(grid.lowest_deg - made_deg).sum()) / self.whole_nm

    def short(self, short_deg: FloatArray) -> FloatArray:
        """Torque given away by standing so far below the lowest ceilings, weighed by use [N m]."""
        off_deg = np.maximum(self.best_deg - self.grid.lowest_deg, 0.0)
        return np.asarray(self.weight * ((off_deg + np.maximum(short_deg, 0.0)) ** 2 - off_deg**2))


def choose_axes(
    job: Job,
    speeds: Nodes,
    loads: Nodes,
    belief: Belief = PRIOR,
    *,
    keep: bool = True,
    run: Mapper = map,
) -> AxesChoice:
    """Choose where the speeds and loads of a map stand, so that it gives away the least torque.

    Parameters
    ----------
    job : Job
        The job. An axis that its controller states is kept as it is, and only the other one is chosen; so
        are its rows where they have speeds of their own, and then nothing is chosen.
    speeds, loads : Nodes
        What the controller has: speeds in rpm, loads in its own terms, kPa absolute where it has them by
        throttle or the job doesn't say. Nothing is asked of those of a kept axis.
    belief : Belief, optional
        What is believed of the engine's constants.
    keep : bool, optional
        Whether axes that the job states are kept; where they aren't, only their ends are.
    run : callable, optional
        As for ``plan.planner.plan``.

    Returns
    -------
    AxesChoice
        Never worse than even spacing: where nothing better is found, that is given. A kept axis stands
        beside chosen and even nodes of the other alike.

    Raises
    ------
    Refusal
        If there is no room for so many nodes, or a fixed one can't be had.

    Notes
    -----
    Each axis by itself, by dynamic programming (Bellman) over the places that its step allows: the least sum,
    over the intervals between nodes, of what straight lines kept under the ceilings give away. Of the two
    axes so found and the even ones, the pair that a whole map on them is best with.
    """
    physics = physics_of(job, belief)
    rows = job.controller.rows
    terms = loads_of(job).over_pressure
    rpm, kpa = default_axes(job, physics)
    own_rpm, own_kpa = job.controller.speeds, job.controller.loads
    rpm, kpa = _with_own(rpm, own_rpm), _with_own(kpa, own_kpa)
    keep = keep or rows is not None
    across = _axis(Terms(), speeds, own_rpm, rpm, keep=keep)
    down = _axis(Terms(terms), loads, own_kpa, kpa, keep=keep)
    free = job if rows else job.changed("controller", rpm=rpm.tolist(), kpa=kpa.tolist())
    loss = _loss(free, physics, belief, run)
    even = across.even(), down.even()
    anew = _chosen(across, loss, of_speeds=True), _chosen(down, loss, of_speeds=False)
    found = (
        anew[0] if across.own is None else across.own,
        anew[1] if down.own is None else down.own,
    )
    pairs = [even, found, (found[0], even[1]), (even[0], found[1])]
    lost = [loss.of(*pair) for pair in pairs]
    least = int(np.argmin(lost))
    best_rpm, best_kpa = pairs[least]
    kept: tuple[AxisName, ...] = tuple(
        each.name for each, axis in ((Terms(), across), (Terms(terms), down)) if axis.own is not None
    )
    return AxesChoice(
        rpm=best_rpm,
        kpa=best_kpa,
        lost_percent=lost[least],
        even_rpm=even[0],
        even_kpa=even[1],
        even_lost_percent=lost[0],
        use=job.engine.use or "road",
        load_term=terms.term,
        load=terms.as_typed(best_kpa),
        even_load=terms.as_typed(even[1]),
        kept=kept,
        anew_lost_percent=min(lost[least], loss.of(*anew)) if kept and rows is None else np.nan,
        rows_kept=rows is not None,
    )


def _with_own(usual: FloatArray, own: Sequence[float] | None) -> FloatArray:
    """Give an axis on which to look: the usual one, or the person's own with the usual within it."""
    if own is None:
        return usual
    axis = np.array(own, dtype=float)
    return np.union1d(axis, usual[(usual > axis[0]) & (usual < axis[-1])])


def _axis(terms: Terms, nodes: Nodes, own: Sequence[float] | None, whole: FloatArray, *, keep: bool) -> Axis:
    """Read what is asked of an axis, which the job may state; ``whole`` is the one on which to look."""
    if own is None:
        return axis_asked(terms, nodes, (float(whole[0]), float(whole[-1])))
    stated = np.array(own, dtype=float)
    return axis_kept(terms, nodes.step, stated) if keep else axis_of_own_ends(terms, nodes, stated)


def _loss(job: Job, physics: Physics, belief: Belief, run: Mapper) -> _Loss:
    planned = planned_without_hand(job, belief, run=run)
    grid, ceilings = planned.cells.between.grid, planned.cells.ceilings
    if grid is None:
        raise ValueError("a plan has looked between its cells")
    own = planned.cells.spark_map
    made_deg, over_deg = stands_over(own.advance_deg, own.rpm, own.kpa, grid, planned.cells.between.how)
    # Where nothing is asked nothing is given away.
    grid = replace(grid, lowest_deg=np.where(np.isinf(over_deg), made_deg, grid.lowest_deg))
    rpm, kpa = planned.cells.spark_map.rpm, planned.cells.spark_map.kpa
    hooks = sparse_at(physics, np.tile(rpm, kpa.size), np.repeat(kpa, rpm.size))
    best, best_nm = hooks.best(USUAL_BEST_DEG)
    later = np.maximum(best - OFF_BEST_DEG, FIRST_DEG)
    bend = (best_nm - hooks.at(later)[0]) / np.maximum(best - later, 1.0) ** 2
    shape = (kpa.size, rpm.size)
    pulls = planned.cells.met & np.isfinite(planned.cells.torque_lost_percent)
    down, across = straight_weights(kpa, grid.kpa), straight_weights(rpm, grid.rpm)

    def carried(cells: FloatArray) -> FloatArray:
        return np.asarray(down @ cells @ across.T)

    # Where the engine isn't or hardly pulls, no torque is given away.
    bend = np.where(pulls, np.maximum(bend.reshape(shape), 0.0), 0.0)
    torque = np.where(pulls, np.nan_to_num(planned.cells.torque_nm), 0.0)
    area = np.outer(np.gradient(grid.kpa), np.gradient(grid.rpm))
    top = highest_rpm(job), float(kpa[-1])
    use = area * use_of(job.engine.use or "road", grid.rpm, grid.kpa, *top)
    best_deg = carried(np.where(np.isnan(ceilings.best_deg), LAST_DEG, ceilings.best_deg))
    whole = float((use * carried(torque)).sum())
    return _Loss(job, grid, best_deg, use * carried(bend), whole)


def _chosen(nodes: Axis, loss: _Loss, *, of_speeds: bool) -> FloatArray:
    """Choose nodes among places so that intervals between them give away the least (Bellman)."""
    places = nodes.places
    axis = loss.grid.rpm if of_speeds else loss.grid.kpa
    turned = loss.grid.lowest_deg if of_speeds else loss.grid.lowest_deg.T
    off_deg = np.maximum(loss.best_deg - loss.grid.lowest_deg, 0.0)
    off_deg, weight = (off_deg, loss.weight) if of_speeds else (off_deg.T, loss.weight.T)
    at_places = turned @ straight_weights(axis, places).T
    fixed = np.isin(places, nodes.fixed)
    cost = np.full((places.size, places.size), np.inf)
    for i in range(places.size - 1):
        for j in range(i + 1, places.size):
            if fixed[i + 1 : j].any():
                break
            inside = (axis >= places[i]) & (axis < places[j])
            part = (axis[inside] - places[i]) / (places[j] - places[i])
            chord = at_places[:, [i]] * (1.0 - part) + at_places[:, [j]] * part
            lowest = turned[:, inside]
            under = chord - np.max(chord - lowest, axis=1, initial=0.0)[:, None]
            off, short = off_deg[:, inside], lowest - under
            cost[i, j] = float(np.sum(weight[:, inside] * ((off + short) ** 2 - off**2)))
    least = cost[0]
    came: list[np.ndarray] = []
    for _ in range(nodes.count - 2):
        ways = least[:, None] + cost
        came.append(ways.argmin(axis=0))
        least = ways.min(axis=0)
    at, chosen = places.size - 1, [places.size - 1]
    for before in reversed(came):
        at = int(before[at])
        chosen.append(at)
    return np.asarray(places[[0, *reversed(chosen)]])
