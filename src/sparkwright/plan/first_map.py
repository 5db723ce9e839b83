"""The first map: so late that knock is most unlikely, and the way from it to the plan in steps.

The way ends at the map that is typed in: the plan with its idle block, flat in the first map too.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil

import numpy as np
from numpy.typing import NDArray

from sparkwright.cycle.belief import PRIOR, Belief
from sparkwright.findings import Finding
from sparkwright.job import Job
from sparkwright.numeric import FloatArray
from sparkwright.plan.between_cells import OnRows
from sparkwright.plan.ceilings import TELLABLE_DEG, limit_slopes, round_down
from sparkwright.plan.chance_over_map import chances_over, hooks_over
from sparkwright.plan.firmness import Mapper
from sparkwright.plan.idle_block import idle_block
from sparkwright.plan.on_rows import as_rows_make
from sparkwright.plan.physics import CRUISE_SHARE, FULL_SHARE, Physics, idle_share, physics_of
from sparkwright.plan.planner import plan, planned_without_hand
from sparkwright.plan.result import PlanResult
from sparkwright.plan.spark_map import SparkMap

MOST_CHANCE_PERCENT = 1.0
"""Most chance of knock that a cell of the first map may have [%]: an engine that nobody has heard run yet."""

REGIONS = ("idle", "light load", "heavy load", "full load", "boost")
"""Parts of the map in the order in which they are brought to the plan: what can harm most comes last."""

STEP_DEG = {"idle": 2.0, "light load": 4.0, "heavy load": 2.0, "full load": 2.0, "boost": 1.0}
"""How far a step raises a cell at most [deg]; common practice, no source."""


@dataclass(frozen=True)
class FirstStep:
    """One step from the first map to the one to come to: a whole map, and what changed in it.

    ``chance_percent`` is the highest chance of knock among the cells of this step's part of the map that a
    running engine meets, and ``rpm`` and ``kpa`` are where; ``finding`` tells what to do.
    """

    number: int
    region: str
    spark_map: SparkMap
    cells: int
    raised_deg: float
    chance_percent: float
    rpm: float
    kpa: float
    finding: Finding


@dataclass(frozen=True)
class FirstMap:
    """The map for the first start, and the steps from it to the plan.

    ``goal`` is the map to come to, the plan with its idle block; ``later_deg`` is that less the first map,
    cell by cell; ``all_over_deg`` is the one number that, taken off all of the goal, is nowhere earlier than
    the first map among the cells that a running engine meets.
    """

    job_name: str
    fingerprint: str
    spark_map: SparkMap
    goal: SparkMap
    knock_chance_percent: FloatArray
    later_deg: FloatArray
    all_over_deg: float
    steps: tuple[FirstStep, ...]
    headline: Finding
    problems: tuple[Finding, ...]
    warnings: tuple[Finding, ...]


def first_map(
    job: Job,
    planned: PlanResult | None = None,
    belief: Belief = PRIOR,
    *,
    to_type: SparkMap | None = None,
    run: Mapper = map,
) -> FirstMap:
    """Give the map for the first start, and the way from it to the plan.

    Parameters
    ----------
    job : Job
        The job.
    planned : PlanResult, optional
        Its plan, where it is there already.
    belief : Belief, optional
        The belief that the plan is made under.
    to_type : SparkMap, optional
        The map to type in, where more than the idle block tells it from the plan (``plan.settings``).
    run : callable, optional
        Runs a function over many arguments, as for ``plan.planner.plan``.

    Returns
    -------
    FirstMap
        The plan and its idle block made anew with a chance of knock of 1 % at most in every cell, and nowhere
        above the map to type in; cells that are set by hand count only where they are later. Then a whole map
        for each step.

    Examples
    --------
    >>> from sparkwright.job import starter_text
    >>> first = first_map(Job.from_toml(starter_text()))
    >>> first.steps[0].region, bool(first.later_deg.min() >= 0.0)
    ('idle', True)
    """
    whole = plan(job, belief, run=run) if planned is None else planned
    cells, physics = whole.cells, physics_of(job, belief)
    goal = idle_block(job, whole, belief).spark_map if to_type is None else to_type
    careful = _careful(job, goal)
    late = idle_block(careful, planned_without_hand(careful, belief, run=run), belief).spark_map
    # What rows make of the lower cells is nowhere above the lower of what they make of each map.
    first_deg = as_rows_make(np.minimum(late.advance_deg, goal.advance_deg), goal.rpm, cells.rows)
    hooks = hooks_over(physics, goal.rpm, goal.kpa)
    chance = chances_over(hooks, first_deg, cells.ln_knock_sigma)
    later = goal.advance_deg - first_deg
    regions = regions_of(physics, goal.rpm, goal.kpa)
    steps, ways = [], _ways(job, goal, cells.rows, first_deg, regions)
    for number, (region, advance_deg, before_deg) in enumerate(ways, start=1):
        at_step = np.where(
            cells.met & (regions == region), chances_over(hooks, advance_deg, cells.ln_knock_sigma), -np.inf
        )
        steps.append(_step(number, region, SparkMap(goal.rpm, goal.kpa, advance_deg), before_deg, at_step))
    knocking = (chance > MOST_CHANCE_PERCENT + 1e-6) & cells.met
    problems = tuple(_still_knocks(knocking, chance, goal))
    all_over = float(np.max(later[cells.met], initial=0.0))
    return FirstMap(
        job_name=whole.job_name,
        fingerprint=whole.fingerprint,
        spark_map=SparkMap(goal.rpm, goal.kpa, first_deg),
        goal=goal,
        knock_chance_percent=chance,
        later_deg=later,
        all_over_deg=all_over,
        steps=tuple(steps),
        headline=problems[0] if problems else _headline(chance, cells.met, all_over, len(steps)),
        problems=problems,
        warnings=tuple(_set_by_hand(whole)),
    )


def regions_of(physics: Physics, rpm: FloatArray, kpa: FloatArray) -> NDArray[np.str_]:
    """Name for each cell of a map the part that it belongs to, of ``REGIONS``, shape (loads, speeds).

    Parameters
    ----------
    physics : Physics
        The job as the cycle sees it, for its idle and the site's air.
    rpm : array
        Speeds of the map [rpm].
    kpa : array
        Loads of the map [kPa absolute].
    """
    load = np.broadcast_to(kpa[:, None], (kpa.size, rpm.size))
    idles = idle_share(physics, rpm, kpa[:, None]) > 0.0
    places = [
        idles,
        physics.is_boost(load),
        load >= FULL_SHARE * physics.ambient_kpa,
        load >= CRUISE_SHARE * physics.ambient_kpa,
    ]
    return np.select(places, ["idle", "boost", "full load", "heavy load"], "light load")


def _careful(job: Job, goal: SparkMap) -> Job:
    """Give the job with a small chance of knock, on the axes of its plan."""
    limits = job.limits
    few = {
        name: min(MOST_CHANCE_PERCENT, getattr(limits, name))
        for name in ("knock_chance_percent", "boost_knock_chance_percent")
    }
    axes = {"rpm": goal.rpm.tolist(), "kpa": goal.kpa.tolist()}
    return job.without_hand().changed("limits", **few).changed("controller", **axes)


def _ways(
    job: Job, goal: SparkMap, rows: OnRows | None, first_deg: FloatArray, regions: NDArray[np.str_]
) -> Iterator[tuple[str, FloatArray, FloatArray]]:
    """Give region, map and the map before it of each step; the last map is the goal itself."""
    goal_deg = goal.advance_deg
    left = [name for name in REGIONS if np.any((goal_deg - first_deg)[regions == name] > TELLABLE_DEG)]
    done = np.zeros(first_deg.shape, dtype=bool)
    before = first_deg
    for region in left:
        here = regions == region
        most = float((goal_deg - first_deg)[here].max())
        for number in range(1, ceil(most / STEP_DEG[region] - 1e-9) + 1):
            asked = np.where(here, first_deg + number * STEP_DEG[region], first_deg)
            wanted = np.minimum(goal_deg, np.where(done, goal_deg, asked))
            now = np.maximum(before, _within_slopes(job, goal, wanted))
            now = as_rows_make(now, goal.rpm, rows)
            if (
                region == left[-1]
                and first_deg[here].min() + number * STEP_DEG[region] >= goal_deg[here].max()
            ):
                now = goal_deg
            if np.any(now > before + TELLABLE_DEG):
                yield region, now, before
                before = now
        done |= here
    if np.any(goal_deg > before + TELLABLE_DEG):
        yield left[-1], goal_deg, before


def _within_slopes(job: Job, goal: SparkMap, wanted_deg: FloatArray) -> FloatArray:
    """Lower a map where it would be steeper than allowed; the controller's step is slack, as in the plan."""
    step_deg = job.controller.step_deg
    limited, _ = limit_slopes(
        wanted_deg,
        goal.rpm,
        goal.kpa,
        job.limits.slope_deg_per_500rpm / 500.0,
        job.limits.slope_deg_per_10kpa / 10.0,
    )
    return np.minimum(round_down(wanted_deg, step_deg), round_down(limited + step_deg, step_deg))


def _step(
    number: int, region: str, spark_map: SparkMap, before_deg: FloatArray, chance: FloatArray
) -> FirstStep:
    raised = spark_map.advance_deg - before_deg
    most_deg, cells = float(raised.max()), int((raised > TELLABLE_DEG).sum())
    met = bool(np.isfinite(chance).any())
    i, j = np.unravel_index(int(np.argmax(np.nan_to_num(chance, nan=-np.inf))), chance.shape)
    rpm, kpa = float(spark_map.rpm[j]), float(spark_map.kpa[i])
    most_chance = float(chance[i, j]) if met else float("nan")
    return FirstStep(
        number=number,
        region=region,
        spark_map=spark_map,
        cells=cells,
        raised_deg=most_deg,
        chance_percent=most_chance,
        rpm=rpm,
        kpa=kpa,
        finding=Finding(
            f"first-step.{region.replace(' ', '-')}",
            "look",
            {
                "number": number,
                "cells": cells,
                "raised_deg": most_deg,
                "chance_percent": most_chance,
                "rpm": rpm,
                "kpa": kpa,
            },
        ),
    )


def _headline(chance: FloatArray, met: NDArray[np.bool_], all_over_deg: float, steps: int) -> Finding:
    here = chance[met]
    most = float(np.nanmax(here)) if here.size and np.isfinite(here).any() else float("nan")
    return Finding(
        "first-map.late",
        "look",
        {"chance_percent": most, "all_over_deg": all_over_deg, "steps": steps},
    )


def _still_knocks(knocking: NDArray[np.bool_], chance: FloatArray, spark_map: SparkMap) -> Iterator[Finding]:
    if knocking.any():
        i, j = np.unravel_index(int(np.argmax(np.where(knocking, chance, -np.inf))), chance.shape)
        yield Finding(
            "first-map.still-knocks",
            "problem",
            {
                "cells": int(knocking.sum()),
                "chance_percent": float(chance[i, j]),
                "rpm": float(spark_map.rpm[j]),
                "kpa": float(spark_map.kpa[i]),
            },
        )


def _set_by_hand(planned: PlanResult) -> Iterator[Finding]:
    over = int(planned.cells.over_ceiling.sum())
    if over:
        yield Finding("first-map.hand-left-out", "look", {"cells": over})
