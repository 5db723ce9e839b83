"""Where the speeds and loads of a map stand best, for so many of them as a controller has.

Judged by the torque that a map on them gives away, weighed by use: what its rounding, its slopes and the
straight lines between its cells leave below the lowest ceiling.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import ceil, floor

import numpy as np

from sparkwright.check.demand import highest_rpm
from sparkwright.cycle.belief import PRIOR, Belief
from sparkwright.errors import Refusal
from sparkwright.job import LOAD_SPAN_KPA, MOST_NODES, SPEED_SPAN_RPM, Job
from sparkwright.numeric import FloatArray
from sparkwright.plan.axes import default_axes
from sparkwright.plan.between import made_of, stands_over
from sparkwright.plan.between_cells import Grid
from sparkwright.plan.ceilings import limit_slopes, round_down
from sparkwright.plan.firmness import Mapper
from sparkwright.plan.hooks import FIRST_DEG, LAST_DEG, USUAL_BEST_DEG, sparse_at
from sparkwright.plan.on_rows import nodes_of, on_its_rows
from sparkwright.plan.physics import Physics, physics_of
from sparkwright.plan.planner import lowered_for_between, planned_without_hand
from sparkwright.plan.support import straight_weights
from sparkwright.plan.use import use_of

MOST_PLACES = 61
"""Most places on one axis among which nodes are chosen; finer steps than that gain nothing that counts."""

MOST_STEPS = 100_000
"""Most steps that an axis is counted in [-]: far more than a controller has."""

OFF_BEST_DEG = 8.0
"""How far off best the bend of the torque is read [deg]; a choice."""


@dataclass(frozen=True)
class Nodes:
    """What a controller has on one axis: how many nodes, the step they stand on, and those that are fixed."""

    count: int
    step: float
    fixed: tuple[float, ...] = ()


@dataclass(frozen=True)
class AxesChoice:
    """Axes chosen for a map, beside evenly spaced ones.

    ``lost_percent`` and ``even_lost_percent`` are the torque given away, of what the lowest ceilings would
    give, weighed by use [%].
    """

    rpm: FloatArray
    kpa: FloatArray
    lost_percent: float
    even_rpm: FloatArray
    even_kpa: FloatArray
    even_lost_percent: float
    use: str
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
    job: Job, speeds: Nodes, loads: Nodes, belief: Belief = PRIOR, *, run: Mapper = map
) -> AxesChoice:
    """Choose where the speeds and loads of a map stand, so that it gives away the least torque.

    Parameters
    ----------
    job : Job
        The job. An axis that its controller states is kept as it is, and only the other one is chosen; so
        are its rows where they have speeds of their own, and then nothing is chosen.
    speeds, loads : Nodes
        What the controller has: steps in rpm and kPa absolute. Nothing is asked of those of a kept axis.
    belief : Belief, optional
        What is believed of the engine's constants.
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
    own_rpm, own_kpa = job.controller.speeds, job.controller.loads
    rpm, kpa = default_axes(job, physics)
    rpm, kpa = _with_own(rpm, own_rpm), _with_own(kpa, own_kpa)
    ends = (float(rpm[0]), float(rpm[-1])), (float(kpa[0]), float(kpa[-1]))
    rpm_places = _places_for(speeds, own_rpm, "rpm", SPEED_SPAN_RPM, ends[0])
    kpa_places = _places_for(loads, own_kpa, "kpa", LOAD_SPAN_KPA, ends[1])
    rows = job.controller.rows
    free = job if rows else job.changed("controller", rpm=rpm.tolist(), kpa=kpa.tolist())
    loss = _loss(free, physics, belief, run)
    even = (
        rpm_places if own_rpm is not None else _even(rpm_places, speeds),
        kpa_places if own_kpa is not None else _even(kpa_places, loads),
    )
    found = (
        rpm_places if own_rpm is not None else _chosen(rpm_places, speeds, loss, across=True),
        kpa_places if own_kpa is not None else _chosen(kpa_places, loads, loss, across=False),
    )
    pairs = [even, found, (found[0], even[1]), (even[0], found[1])]
    lost = [loss.of(*pair) for pair in pairs]
    least = int(np.argmin(lost))
    return AxesChoice(*pairs[least], lost[least], *even, lost[0], job.engine.use or "road", rows is not None)


def _with_own(usual: FloatArray, own: Sequence[float] | None) -> FloatArray:
    """Give an axis on which to look: the usual one, or the person's own with the usual within it."""
    if own is None:
        return usual
    axis = np.array(own, dtype=float)
    return np.union1d(axis, usual[(usual > axis[0]) & (usual < axis[-1])])


def _places_for(
    nodes: Nodes,
    own: Sequence[float] | None,
    name: str,
    span: tuple[float, float],
    ends: tuple[float, float],
) -> FloatArray:
    """Give the places that nodes may have; those of the person's own axis are its nodes."""
    if own is not None:
        return np.array(own, dtype=float)
    _require(nodes, name, span)
    return _places(nodes, name, *ends)


def _require(nodes: Nodes, name: str, span: tuple[float, float]) -> None:
    if not 2 <= nodes.count <= MOST_NODES:
        raise Refusal.at(f"axes.{name}", nodes.count, f"must be 2 to {MOST_NODES} nodes")
    if not nodes.step > 0.0:
        raise Refusal.at(f"axes.{name}_step", f"{nodes.step:g}", "must be above 0")
    if (span[1] - span[0]) / nodes.step > MOST_STEPS:
        least = (span[1] - span[0]) / MOST_STEPS
        raise Refusal.at(f"axes.{name}_step", f"{nodes.step:g}", f"must be at least {least:g}")
    for before, after in zip(nodes.fixed, nodes.fixed[1:], strict=False):
        if after <= before:
            said = "stands twice" if after == before else f"falls after {before:g}"
            raise Refusal.at(f"axes.fixed_{name}", f"{after:g} {said}", "must rise", "give each node once")
    for each in nodes.fixed:
        if not span[0] <= each <= span[1]:
            raise Refusal.at(f"axes.fixed_{name}", f"{each:g}", f"must be {span[0]:g} to {span[1]:g}")
    if len(nodes.fixed) > nodes.count:
        raise Refusal.at(
            f"axes.fixed_{name}", f"{len(nodes.fixed)} nodes", f"must be at most {nodes.count}, what there is"
        )


def _places(nodes: Nodes, name: str, low: float, high: float) -> FloatArray:
    """Give the places on one axis that a node may have, from end to end of the map."""
    outside = [each for each in nodes.fixed if not low <= each <= high]
    if outside:
        raise Refusal.at(
            f"axes.fixed_{name}",
            f"{outside[0]:g}",
            f"must be {low:g} to {high:g}, what this engine meets",
            "leave it out",
        )
    steps = np.arange(ceil(low / nodes.step - 1e-9), floor(high / nodes.step + 1e-9) + 1)
    every = max(1, ceil(steps.size / MOST_PLACES))
    thinned = np.union1d(steps[::every], steps[-1:]) if steps.size else steps
    places = np.union1d(thinned * nodes.step, nodes.fixed)
    if places.size < nodes.count:
        raise Refusal.at(
            f"axes.{name}",
            f"{nodes.count} nodes",
            f"must fit between {low:g} and {high:g} in steps of {nodes.step:g}",
            "take fewer, or a finer step",
        )
    return places


def _even(places: FloatArray, nodes: Nodes) -> FloatArray:
    """Give nodes as evenly spaced as the places allow, the fixed ones among them."""
    wanted = np.linspace(places[0], places[-1], nodes.count)
    taken = [float(each) for each in nodes.fixed]
    for each in sorted(
        wanted.tolist(), key=lambda value: min([abs(value - at) for at in taken], default=0.0)
    ):
        # The wanted nodes that lie nearest to fixed ones are those that these stand for.
        if len(taken) == nodes.count:
            break
        if sum(abs(each - at) < 0.5 * (wanted[1] - wanted[0]) for at in nodes.fixed):
            continue
        free = places[~np.isin(places, taken)]
        taken.append(float(free[np.argmin(np.abs(free - each))]))
    while len(taken) < nodes.count:
        free = places[~np.isin(places, taken)]
        gaps = np.array([min(abs(place - at) for at in taken) for place in free])
        taken.append(float(free[int(np.argmax(gaps))]))
    return np.array(sorted(taken))


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


def _chosen(places: FloatArray, nodes: Nodes, loss: _Loss, *, across: bool) -> FloatArray:
    """Choose nodes among places so that intervals between them give away the least (Bellman)."""
    axis = loss.grid.rpm if across else loss.grid.kpa
    turned = loss.grid.lowest_deg if across else loss.grid.lowest_deg.T
    off_deg = np.maximum(loss.best_deg - loss.grid.lowest_deg, 0.0)
    off_deg, weight = (off_deg, loss.weight) if across else (off_deg.T, loss.weight.T)
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
