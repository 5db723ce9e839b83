"""Trims: degrees added to the map by air and engine temperature, air pressure and fuel.

The map is planned at each stated condition by itself and at every corner of them all. Trims are then the
highest tables under all those ceilings at once, at the cells and between them, by a linear programme: each
trim is a table over its condition, times a weight by load, or a table over both where the first loses more
than a degree.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from math import inf

import numpy as np
from numpy.typing import NDArray

from sparkwright.cycle.belief import PRIOR, Belief
from sparkwright.errors import Refusal
from sparkwright.findings import Finding, Value
from sparkwright.job import Between, Job
from sparkwright.numeric import FloatArray
from sparkwright.plan.between import LEFT_DEG, made_of, nearest_weights, stands_over
from sparkwright.plan.between_cells import Grid, OnRows
from sparkwright.plan.ceilings import TELLABLE_DEG, limit_slopes, round_down
from sparkwright.plan.chance_over_map import hooks_over
from sparkwright.plan.conditions import Name, Place, Way, job_at, places_of, sensor_reads, ways_of
from sparkwright.plan.firmness import Mapper
from sparkwright.plan.idle_block import idle_block
from sparkwright.plan.on_rows import as_rows_make, on_its_rows
from sparkwright.plan.physics import physics_of
from sparkwright.plan.planner import Progress, lowered_for_between, planned_without_hand
from sparkwright.plan.result import PlanResult
from sparkwright.plan.spark_map import SparkMap
from sparkwright.plan.support import straight_weights
from sparkwright.plan.trim_programme import Room, highest_trims

MOST_LOSS_DEG = 1.0
"""What a table over one condition may lose before it gets loads of its own [deg]."""

WEIGHT_STEP = 0.05
"""Weights by load are rounded up to it [-]."""


@dataclass(frozen=True)
class Trim:
    """Degrees to add to the map against one condition.

    Parameters
    ----------
    name, unit : str
        The condition, and what its values are in.
    values : array, shape (k,)
        Values of the condition, rising.
    sensor : array, shape (k,)
        What the controller's own sensor is taken to read at these values: of the air, that in the manifold.
    kpa : array, shape (m,)
        The map's loads, rising.
    degrees : array, shape (k,) or (k, m)
        Degrees at each value, times the weight of the load; or, with no weights, at each value and load.
    weights : array, shape (m,), or None
        Share of the degrees that each load takes; None where the table has loads of its own.

    Raises
    ------
    Refusal
        If the condition's values do not rise or the shapes do not fit.

    Examples
    --------
    >>> outside, in_manifold, loads = [20.0, 40.0], [32.0, 52.0], [40.0, 90.0]
    >>> trim = Trim("air temperature", "degC", outside, in_manifold, loads, [0.0, -3.0], [0.5, 1.0])
    >>> trim.at(30.0).tolist()
    [-0.75, -1.5]
    """

    name: Name
    unit: str
    values: FloatArray
    sensor: FloatArray
    kpa: FloatArray
    degrees: FloatArray
    weights: FloatArray | None

    def __post_init__(self) -> None:
        for name in ("values", "sensor", "kpa", "degrees"):
            object.__setattr__(self, name, np.asarray(getattr(self, name), dtype=float))
        if self.weights is not None:
            object.__setattr__(self, "weights", np.asarray(self.weights, dtype=float))
        for name in ("values", "sensor", "kpa"):
            axis = getattr(self, name)
            if axis.ndim != 1 or axis.size < 2 or not np.all(np.isfinite(axis)) or np.any(np.diff(axis) <= 0):
                raise Refusal.at(
                    f"trim by {self.name}, {name}",
                    axis.tolist(),
                    "must be at least two finite values that rise",
                    "put its columns in order, each value once",
                )
        given = self.degrees.shape if self.weights is None else (*self.degrees.shape, *self.weights.shape)
        if given != (self.values.size, self.kpa.size):
            said = "x".join(map(str, given))
            raise Refusal.at(f"trim by {self.name}", said, "must fit its values and loads")

    def at(self, value: float) -> FloatArray:
        """Degrees to add at a value of the condition, one for each load; held beyond the ends.

        Parameters
        ----------
        value : float
            Value of the condition, in the unit of its way.
        """
        if self.weights is not None:
            return float(np.interp(value, self.values, self.degrees)) * self.weights
        return np.array([np.interp(value, self.values, column) for column in self.degrees.T])


@dataclass(frozen=True)
class CornerCheck:
    """The map with its trims at one stated condition or corner, held against the ceilings planned there.

    ``over_deg`` is the most it stands over a ceiling, at a cell or between, below 0 where over none;
    ``lost_deg`` the most that the trims leave unused of what is planned there, at ``rpm`` and ``kpa``, beside
    what the map itself leaves to its plan; ``hopeless`` counts cells in which this charge knocks at any
    advance, which no trim can help.
    """

    values: dict[str, float]
    corner: bool
    over_deg: float
    lost_deg: float
    rpm: float
    kpa: float
    hopeless: int


@dataclass(frozen=True)
class Trims:
    """The map that trims are added to, the trims, and how they stand at every stated condition.

    ``spark_map`` is the plan with its idle block where the controller trims by all that is stated; else the
    map for the worst of what it doesn't trim by.
    """

    job_name: str
    fingerprint: str
    spark_map: SparkMap
    trims: tuple[Trim, ...]
    checks: tuple[CornerCheck, ...]
    headline: Finding
    problems: tuple[Finding, ...]
    warnings: tuple[Finding, ...]

    def advance_deg(self, values: dict[str, float]) -> FloatArray:
        """Give map plus trims at some conditions, shape (loads, speeds); what isn't named adds nothing.

        Parameters
        ----------
        values : dict
            Value of each named condition, in the unit of its way.
        """
        added = sum(
            (trim.at(values[trim.name]) for trim in self.trims if trim.name in values),
            start=np.zeros(self.spark_map.kpa.size),
        )
        return np.asarray(self.spark_map.advance_deg + added[:, None])


@dataclass(frozen=True)
class _There:
    """The plan at one place of the conditions, as the trims are held against it."""

    place: Place
    planned_deg: FloatArray
    lowest_deg: FloatArray
    counts: NDArray[np.bool_]
    hopeless: int
    between: Grid
    """Ceilings between the cells that count; inf where one of the cells that make a point doesn't."""

    def room(self, how: Between, spark_map: SparkMap) -> Room:
        """Give what a map leaves under the lowest ceiling, at and between loads; inf where no cell counts."""
        kpa, grid = spark_map.kpa, self.between
        if how == "straight lines":
            downs = [straight_weights(kpa, grid.kpa)]
        else:
            downs = [nearest_weights(kpa, grid.kpa, up) for up in (False, True)]
        _, over_deg = stands_over(spark_map.advance_deg, spark_map.rpm, kpa, grid, how)
        at_cells_deg = np.where(self.counts, self.lowest_deg - spark_map.advance_deg, inf).min(axis=1)
        between_deg = [LEFT_DEG - over_deg.max(axis=1)] * len(downs)
        return Room(np.concatenate([np.eye(kpa.size), *downs]), np.concatenate([at_cells_deg, *between_deg]))


def trims(
    job: Job,
    planned: PlanResult,
    belief: Belief = PRIOR,
    *,
    run: Mapper = map,
    progress: Progress | None = None,
) -> Trims:
    """Find the trims of a job's map for the conditions that it states.

    Parameters
    ----------
    job : Job
        The job, with ``conditions``.
    planned : PlanResult
        Its plan.
    belief : Belief, optional
        The belief that the plan was made under.
    run : callable, optional
        Runs a function over many arguments, as for ``plan.planner.plan``.
    progress : callable, optional
        Called with (conditions done, conditions in all).

    Returns
    -------
    Trims
        Tables, and at every condition and corner how map plus trims stands under the ceilings planned there.

    Raises
    ------
    Refusal
        If the job states no condition beside its own.
    """
    ways = ways_of(job)
    if not ways:
        raise Refusal.at(
            "conditions",
            None,
            "must state at least one day, height, engine temperature or fuel beside the job's own",
            'for example hottest_air = "40 degC" in the section conditions',
        )
    places = places_of(ways)
    there = []
    # Whole places at once, since within a plan one thread waits for the other between its parts.
    for found in run(partial(_plan_there, job, planned, ways, belief), places):
        there.append(found)
        if progress is not None:
            progress(len(there), len(places))
    with_block = idle_block(job, planned, belief).spark_map
    spark_map = _for_the_worst(job, with_block, planned.cells.rows, ways, there)
    tables = _tables(job, spark_map, ways, there)
    left_deg = np.maximum(0.0, planned.cells.spark_map.advance_deg - spark_map.advance_deg)
    checks = tuple(_checks(job.controller.takes_between, spark_map, left_deg, tables, ways, there))
    cost = tuple(_cost_of_the_worst(job, planned.cells.met, with_block, spark_map, ways, belief))
    over = [each for each in checks if each.over_deg > TELLABLE_DEG]
    problems = (*_over(over), *_hopeless(checks))
    return Trims(
        job_name=planned.job_name,
        fingerprint=planned.fingerprint,
        spark_map=spark_map,
        trims=tables,
        checks=checks,
        headline=problems[0] if problems else _holds(tables, checks),
        problems=problems,
        warnings=(*cost, *_cant_follow(checks)),
    )


def _plan_there(job: Job, planned: PlanResult, ways: Sequence[Way], belief: Belief, place: Place) -> _There:
    """Plan the map at one place of the conditions, on the axes of the plan."""
    axes = {"rpm": planned.cells.spark_map.rpm.tolist(), "kpa": planned.cells.spark_map.kpa.tolist()}
    other = job_at(job.without_hand(), tuple(ways), place).changed("controller", **axes)
    found = planned_without_hand(other, belief)
    knock = found.cells.ceilings.knock_deg
    stack = (
        np.nan_to_num(found.cells.ceilings.best_deg, nan=inf),
        np.nan_to_num(knock, nan=inf, neginf=inf),
        found.cells.ceilings.reach_deg,
        found.cells.ceilings.limit_deg,
    )
    hopeless = np.isneginf(knock) & found.cells.met
    counts = found.cells.met & ~np.isneginf(knock) & ~planned.cells.over_ceiling
    between = _where_it_counts(found, counts)
    lowest = np.min(stack, axis=0)
    return _There(place, found.cells.spark_map.advance_deg, lowest, counts, int(hopeless.sum()), between)


def _where_it_counts(found: PlanResult, counts: NDArray[np.bool_]) -> Grid:
    """Give the ceilings between the cells of a plan, inf where a cell that makes the point doesn't count."""
    grid = found.cells.between.grid
    if grid is None:
        raise ValueError("a plan has looked between its cells")
    made = made_of(found.cells.between.how, found.cells.spark_map.rpm, found.cells.spark_map.kpa, grid)
    out = (made @ (~counts).ravel().astype(float)).reshape(-1, *grid.lowest_deg.shape).max(axis=0) > 0.0
    return replace(grid, lowest_deg=np.where(out, inf, grid.lowest_deg))


def _for_the_worst(
    job: Job, spark_map: SparkMap, rows: OnRows | None, ways: Sequence[Way], there: Sequence[_There]
) -> SparkMap:
    """Lower a map under the ceilings of every place that no trim answers to."""
    rpm, kpa, base_deg = spark_map.rpm, spark_map.kpa, spark_map.advance_deg
    unanswered = [each for each in there if not _answered(ways, each.place)]
    lowest = base_deg
    for each in unanswered:
        lowest = np.minimum(lowest, np.where(each.counts, each.lowest_deg, inf))
    slopes = job.limits.slope_deg_per_500rpm / 500.0, job.limits.slope_deg_per_10kpa / 10.0
    if not np.array_equal(lowest, base_deg):
        limited, _ = limit_slopes(lowest, rpm, kpa, *slopes)
        base_deg = np.minimum(base_deg, round_down(limited, job.controller.step_deg))
    for each in unanswered:
        base_deg = lowered_for_between(job, base_deg, rpm, kpa, each.between).advance_deg
    base_deg = as_rows_make(base_deg, rpm, rows)
    if rows is not None:
        for each in unanswered:
            base_deg = on_its_rows(job, base_deg, each.between, rows.nodes)
    return SparkMap(rpm, kpa, base_deg)


def _answered(ways: Sequence[Way], place: Place) -> bool:
    """Say whether a trim answers to a place, which otherwise the map itself must serve."""
    return any(way.trimmed and at != way.own for way, at in zip(ways, place, strict=True))


def _tables(job: Job, spark_map: SparkMap, ways: Sequence[Way], there: Sequence[_There]) -> tuple[Trim, ...]:
    """Give a table for each condition that the controller trims by, with loads of its own where it must."""
    kpa = spark_map.kpa
    everywhere = [each.room(job.controller.takes_between, spark_map) for each in there]
    rooms = np.array([each.by_load_deg for each in everywhere])
    weights = {
        number: _weights(number, ways[number], there, rooms) for number, way in enumerate(ways) if way.trimmed
    }
    chosen = {
        number: None if _lost_deg(number, ways, there, rooms, weight) > MOST_LOSS_DEG else weight
        for number, weight in weights.items()
    }
    degrees = highest_trims(ways, [each.place for each in there], everywhere, chosen, kpa.size)
    return tuple(_table(job, ways[number], kpa, degrees[number], weight) for number, weight in chosen.items())


def _table(job: Job, way: Way, kpa: FloatArray, by_load: FloatArray, weight: FloatArray | None) -> Trim:
    """Round a trim down to the controller's step; nothing is added at the job's own condition."""
    heaviest = 0 if weight is None else int(np.argmax(weight))
    exact = by_load if weight is None else by_load[:, heaviest] / weight[heaviest]
    degrees = round_down(exact, job.controller.step_deg) + 0.0  # a nought has no sign
    values = np.array(way.values)
    return Trim(way.name, way.unit, values, sensor_reads(job, way), kpa, degrees, weight)


def _lost_deg(
    number: int, ways: Sequence[Way], there: Sequence[_There], rooms: FloatArray, weight: FloatArray
) -> float:
    """Give the most that a table over one condition takes from a load that needs less of it [deg]."""
    lost = 0.0
    for each, room in zip(there, rooms, strict=True):
        if each.place[number] != ways[number].own and _moved(ways, each.place) == 1:
            need = np.minimum(0.0, np.where(np.isfinite(room), room, 0.0))
            asked = float(np.min(need[weight > 0.0] / weight[weight > 0.0], initial=0.0))
            lost = max(lost, float(np.max(need - asked * weight)))
    return lost


def _moved(ways: Sequence[Way], place: Place) -> int:
    """Count the conditions that a place has otherwise than the job."""
    return sum(at != way.own for way, at in zip(ways, place, strict=True))


def _weights(number: int, way: Way, there: Sequence[_There], rooms: FloatArray) -> FloatArray:
    """Give each load the share of a trim that it needs where it needs most of it; 1 where none needs any."""
    share = np.zeros(rooms.shape[1])
    for each, room in zip(there, rooms, strict=True):
        need = np.maximum(0.0, -np.where(np.isfinite(room), room, 0.0))
        if each.place[number] != way.own and need.max() > 0.0:
            share = np.maximum(share, need / need.max())
    if not share.any():
        return np.ones(rooms.shape[1])
    return np.clip(np.ceil(share / WEIGHT_STEP - 1e-9) * WEIGHT_STEP, 0.0, 1.0) + 0.0


def _checks(
    how: Between,
    spark_map: SparkMap,
    left_deg: FloatArray,
    tables: Sequence[Trim],
    ways: Sequence[Way],
    there: Sequence[_There],
) -> Iterator[CornerCheck]:
    """Hold map plus trims against the ceilings at each place, at its cells and between them.

    ``left_deg`` is what the map leaves to its own plan, as the idle block does: no trim is to blame for it.
    """
    for each in there:
        values = {way.name: way.values[at] for way, at in zip(ways, each.place, strict=True)}
        added = sum((trim.at(values[trim.name]) for trim in tables), start=np.zeros(spark_map.kpa.size))
        advance_deg = spark_map.advance_deg + added[:, None]
        over = np.where(each.counts, advance_deg - each.lowest_deg, -inf)
        lost = np.where(each.counts, each.planned_deg - advance_deg - left_deg, -inf)
        _, between = stands_over(advance_deg, spark_map.rpm, spark_map.kpa, each.between, how)
        over_deg = float(max(over.max(), between.max()))
        if over_deg <= TELLABLE_DEG:
            rpm, kpa = _at_most(spark_map.rpm, spark_map.kpa, lost)
        elif between.max() > over.max():
            rpm, kpa = _at_most(each.between.rpm, each.between.kpa, between)
        else:
            rpm, kpa = _at_most(spark_map.rpm, spark_map.kpa, over)
        yield CornerCheck(
            values={str(name): value for name, value in values.items()},
            corner=_moved(ways, each.place) > 1,
            over_deg=over_deg,
            lost_deg=float(lost.max()),
            rpm=rpm,
            kpa=kpa,
            hopeless=each.hopeless,
        )


def _at_most(rpm: FloatArray, kpa: FloatArray, values: FloatArray) -> tuple[float, float]:
    """Give speed and load of the greatest of some values."""
    i, j = np.unravel_index(int(np.argmax(values)), values.shape)
    return float(rpm[j]), float(kpa[i])


def _holds(tables: Sequence[Trim], checks: Sequence[CornerCheck]) -> Finding:
    numbers: dict[str, Value] = {
        "places": len(checks),
        "corners": sum(each.corner for each in checks),
        "trims": len(tables),
        "most_off_deg": -min((float(each.degrees.min()) for each in tables), default=0.0),
        "most_added_deg": max((float(each.degrees.max()) for each in tables), default=0.0),
    }
    return Finding("trims.hold", "good", numbers)


def _where(check: CornerCheck) -> dict[str, Value]:
    at = tuple((name, value) for name, value in check.values.items())
    return {"rpm": check.rpm, "kpa": check.kpa, "at": at}


def _over(over: Sequence[CornerCheck]) -> Iterator[Finding]:
    if over:
        worst = max(over, key=lambda each: each.over_deg)
        yield Finding(
            "trims.over-a-ceiling",
            "problem",
            {"places": len(over), "over_deg": worst.over_deg, **_where(worst)},
        )


def _hopeless(checks: Sequence[CornerCheck]) -> Iterator[Finding]:
    worst = max(checks, key=lambda each: each.hopeless)
    if worst.hopeless:
        at = tuple((name, value) for name, value in worst.values.items())
        yield Finding("trims.knocks-anyway", "problem", {"cells": worst.hopeless, "at": at})


def _cant_follow(checks: Sequence[CornerCheck]) -> Iterator[Finding]:
    """Tell where trims leave most advance unused, since one number serves all speeds of a load."""
    worst = max(checks, key=lambda each: each.lost_deg)
    if worst.over_deg <= TELLABLE_DEG and worst.lost_deg > MOST_LOSS_DEG:
        yield Finding("trims.cant-follow", "look", {"lost_deg": worst.lost_deg, **_where(worst)})


def _cost_of_the_worst(
    job: Job,
    met: NDArray[np.bool_],
    with_block: SparkMap,
    spark_map: SparkMap,
    ways: Sequence[Way],
    belief: Belief,
) -> Iterator[Finding]:
    """Tell what the map for the worst of what isn't trimmed costs on an ordinary day."""
    lower = with_block.advance_deg - spark_map.advance_deg
    if lower.max() <= TELLABLE_DEG:
        return
    hooks = hooks_over(physics_of(job, belief), spark_map.rpm, spark_map.kpa)
    before, after = (
        np.array([hook.at(row)[0] for hook, row in zip(hooks, each.advance_deg, strict=True)])
        for each in (with_block, spark_map)
    )
    pulls = met & np.isfinite(before) & (before > 0.0)
    lost = np.where(pulls, 100.0 * (1.0 - after / np.where(pulls, before, 1.0)), 0.0)
    i, j = np.unravel_index(int(np.argmax(lost)), lost.shape)
    yield Finding(
        "trims.worst-day",
        "look",
        {
            "untrimmed": tuple(way.name for way in ways if not way.trimmed),
            "lower_deg": float(lower.max()),
            "lost_percent": float(lost[i, j]),
            "rpm": float(spark_map.rpm[j]),
            "kpa": float(spark_map.kpa[i]),
        },
    )
