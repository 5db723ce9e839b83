"""A person's own map against the plan, by region, and a map that takes what is worth it of the plan."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sparkwright.cycle.belief import PRIOR, Belief
from sparkwright.findings import Finding, Value
from sparkwright.job import Job
from sparkwright.numeric import FloatArray
from sparkwright.plan.between import made_of
from sparkwright.plan.ceilings import TELLABLE_DEG
from sparkwright.plan.chance_over_map import chances_over, hooks_over
from sparkwright.plan.first_map import REGIONS, regions_of
from sparkwright.plan.hooks import FIRST_DEG, LAST_DEG
from sparkwright.plan.on_rows import as_rows_make, made_of_nodes
from sparkwright.plan.physics import physics_of
from sparkwright.plan.result import LEAST_LOST_PERCENT, WORST_FIRST, PlanResult
from sparkwright.plan.spark_map import SparkMap

WORTH_PERCENT = 2.0 * LEAST_LOST_PERCENT
"""Torque that a cell must give away before it is worth changing [%]: twice what a brake shows; a choice."""

TELLABLE_LATE_DEG = 1.0
"""How much later than the plan a cell must be before it is told [deg]; a choice."""


@dataclass(frozen=True)
class MineRegion:
    """One part of a map against the plan.

    ``ceiling`` is the worst that any of its cells stands over, "" for none, the most by ``over_deg`` at
    ``over_rpm`` and ``over_kpa`` with a chance of knock of ``chance_percent``. ``late_deg`` is the most that
    it lies later than the plan, ``lost_percent`` the most torque that this gives away, at ``late_rpm`` and
    ``late_kpa``. ``steps`` counts neighbours further apart than the slopes of the job allow.
    """

    name: str
    cells: int
    ceiling: str
    over_cells: int
    over_deg: float
    chance_percent: float
    over_rpm: float
    over_kpa: float
    late_deg: float
    lost_percent: float
    late_rpm: float
    late_kpa: float
    steps: int
    findings: tuple[Finding, ...]


@dataclass(frozen=True)
class Mine:
    """A person's map against the plan, and the map merged of both.

    ``changed`` marks the cells of ``merged`` that are the plan's: those over a ceiling other than best, those
    above the plan that would bring a point between cells over one, and those that give torque away by
    standing off best. ``lost_percent`` is torque given away against the plan, below 0 where the map has
    more; nan where the engine hardly pulls.
    """

    job_name: str
    fingerprint: str
    spark_map: SparkMap
    plan_deg: FloatArray
    knock_chance_percent: FloatArray
    lost_percent: FloatArray
    regions: tuple[MineRegion, ...]
    merged: SparkMap
    changed: NDArray[np.bool_]
    headline: Finding
    problems: tuple[Finding, ...]
    warnings: tuple[Finding, ...]


def mine(job: Job, planned: PlanResult, own: SparkMap, belief: Belief = PRIOR) -> Mine:
    """Hold a person's map against the plan, region by region, and merge the two.

    Parameters
    ----------
    job : Job
        The job.
    planned : PlanResult
        Its plan on the axes of the person's map, as ``plan.compare.planned_on_its_axes`` gives it.
    own : SparkMap
        The person's map.
    belief : Belief, optional
        The belief that the plan was made under.
    """
    physics = physics_of(job, belief)
    rpm, kpa = own.rpm, own.kpa
    hooks = hooks_over(physics, rpm, kpa)
    tested = np.clip(own.advance_deg, FIRST_DEG, LAST_DEG)
    chance = chances_over(hooks, own.advance_deg, planned.cells.ln_knock_sigma)
    torque = np.array([hook.at(row)[0] for hook, row in zip(hooks, tested, strict=True)])
    pulls = np.isfinite(planned.cells.torque_lost_percent) & (planned.cells.torque_nm > 0.0)
    goal_nm = np.where(pulls, planned.cells.torque_nm, 1.0)
    lost = np.where(pulls, 100.0 * (1.0 - torque / goal_nm), np.nan)
    over = _over(planned, own)
    harms = np.any([over[name] > TELLABLE_DEG for name in WORST_FIRST[:3]], axis=0)
    changed = planned.cells.met & (harms | (np.nan_to_num(lost) > WORTH_PERCENT))
    if planned.cells.rows is not None:
        changed &= planned.cells.rows.nodes
    changed |= _about_what_is_over(planned, own, changed)
    merged = SparkMap(rpm, kpa, _merged(planned, own, changed))
    steep = _steep(job, own)
    where = regions_of(physics, rpm, kpa)
    regions = tuple(
        _region(name, here, planned, own, over, chance, lost, steep)
        for name in REGIONS
        if (here := (where == name) & planned.cells.met).any()
    )
    findings = [finding for region in regions for finding in region.findings]
    problems = tuple(each for each in findings if each.state == "problem")
    return Mine(
        job_name=planned.job_name,
        fingerprint=job.fingerprint,
        spark_map=own,
        plan_deg=planned.cells.spark_map.advance_deg,
        knock_chance_percent=chance,
        lost_percent=lost,
        regions=regions,
        merged=merged,
        changed=changed,
        headline=_headline(harms & planned.cells.met, changed, int(planned.cells.met.sum())),
        problems=problems,
        warnings=(*(each for each in findings if each.state == "look"), *_steps_made(job, own, merged)),
    )


def _over(planned: PlanResult, own: SparkMap) -> dict[str, FloatArray]:
    """Give by ceiling how far each cell stands over it [deg]; inf where the charge knocks at any advance."""
    found = {}
    for name in WORST_FIRST:
        ceiling = np.nan_to_num(getattr(planned.cells.ceilings, f"{name}_deg"), nan=np.inf, neginf=-np.inf)
        found[name] = own.advance_deg - ceiling
    return found


def _about_what_is_over(planned: PlanResult, own: SparkMap, changed: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Mark cells above the plan of which the controller would make too much between them, once merged.

    None of the cells about a point then stands above the plan's, and the plan's own are safe there. Past
    best only costs torque, and is left.
    """
    between, plan_deg = planned.cells.between, planned.cells.spark_map.advance_deg
    if between.grid is None:
        return np.zeros(changed.shape, dtype=bool)
    merged_deg = _merged(planned, own, changed)
    weights = made_of(between.how, own.rpm, own.kpa, between.grid)
    repeats = weights.shape[0] // between.grid.lowest_deg.size
    allowed_deg = np.tile(between.grid.lowest_deg.ravel(), repeats) + TELLABLE_DEG
    harmful = np.tile(between.grid.names.ravel() != "best", repeats)
    over = harmful & (weights @ merged_deg.ravel() > allowed_deg)
    about = weights.T @ over.astype(float)
    rows = planned.cells.rows
    if rows is not None:
        nodes_about = np.zeros(changed.shape)
        nodes_about[rows.nodes] = made_of_nodes(rows.nodes, own.rpm).T @ about
        return np.asarray((nodes_about > 0.0) & (merged_deg > plan_deg))
    return np.asarray((about.reshape(changed.shape) > 0.0) & planned.cells.met & (merged_deg > plan_deg))


def _merged(planned: PlanResult, own: SparkMap, changed: NDArray[np.bool_]) -> FloatArray:
    """Give the plan's cells where they are changed and the person's elsewhere, as the controller makes it."""
    cells = np.where(changed, planned.cells.spark_map.advance_deg, own.advance_deg)
    return as_rows_make(cells, own.rpm, planned.cells.rows)


def _steep(job: Job, own: SparkMap) -> NDArray[np.bool_]:
    """Mark cells that an engine feels a step to: further from a neighbour than the job's slopes allow."""
    slack = job.controller.step_deg + 1e-9
    by_rpm = job.limits.slope_deg_per_500rpm / 500.0 * np.diff(own.rpm)
    by_kpa = job.limits.slope_deg_per_10kpa / 10.0 * np.diff(own.kpa)
    steep = np.zeros(own.advance_deg.shape, dtype=bool)
    steep[:, 1:] |= np.abs(np.diff(own.advance_deg, axis=1)) > by_rpm + slack
    steep[1:] |= np.abs(np.diff(own.advance_deg, axis=0)) > by_kpa[:, None] + slack
    return steep


def _region(
    name: str,
    here: NDArray[np.bool_],
    planned: PlanResult,
    own: SparkMap,
    over: dict[str, FloatArray],
    chance: FloatArray,
    lost: FloatArray,
    steep: NDArray[np.bool_],
) -> MineRegion:
    ceiling = next((each for each in WORST_FIRST if np.any(over[each][here] > TELLABLE_DEG)), "")
    above = np.where(here, over[ceiling or "best"], -np.inf)
    i, j = np.unravel_index(int(np.argmax(above)), above.shape)
    late = np.where(here, planned.cells.spark_map.advance_deg - own.advance_deg, -np.inf)
    given = np.where(here & (late > TELLABLE_DEG), np.nan_to_num(lost, nan=0.0), -np.inf)
    # What gives most torque away leads; where nothing pulls, what lies latest.
    k, m = np.unravel_index(int(np.argmax(given if given.max() > 0.0 else late)), late.shape)
    region = MineRegion(
        name=name,
        cells=int(here.sum()),
        ceiling=ceiling,
        over_cells=int((above > TELLABLE_DEG).sum()) if ceiling else 0,
        over_deg=float(above[i, j]) if ceiling else 0.0,
        chance_percent=float(chance[i, j]),
        over_rpm=float(own.rpm[j]),
        over_kpa=float(own.kpa[i]),
        late_deg=max(0.0, float(late[k, m])),
        lost_percent=max(0.0, float(given.max())),
        late_rpm=float(own.rpm[m]),
        late_kpa=float(own.kpa[k]),
        steps=int((steep & here).sum()),
        findings=(),
    )
    return _told(region)


def _told(region: MineRegion) -> MineRegion:
    return replace(region, findings=tuple(_findings(region)))


def _findings(region: MineRegion) -> Iterator[Finding]:
    if region.ceiling:
        numbers: dict[str, Value] = {
            "region": region.name,
            "cells": region.over_cells,
            "of_cells": region.cells,
            "ceiling": region.ceiling,
            "over_deg": region.over_deg,
            "chance_percent": region.chance_percent,
            "rpm": region.over_rpm,
            "kpa": region.over_kpa,
        }
        yield Finding("mine.over", "look" if region.ceiling == "best" else "problem", numbers)
    late = region.late_deg > TELLABLE_LATE_DEG or region.lost_percent > WORTH_PERCENT
    if late:
        yield Finding(
            "mine.late",
            "look",
            {
                "region": region.name,
                "late_deg": region.late_deg,
                "lost_percent": region.lost_percent,
                "rpm": region.late_rpm,
                "kpa": region.late_kpa,
            },
        )
    if region.steps:
        yield Finding("mine.steps", "look", {"region": region.name, "steps": region.steps})
    if not region.ceiling and not late and not region.steps:
        yield Finding("mine.close", "good", {"region": region.name, "cells": region.cells})


def _steps_made(job: Job, own: SparkMap, merged: SparkMap) -> Iterator[Finding]:
    """Tell of steps that are in the merged map and not in the person's own."""
    made = int((_steep(job, merged) & ~_steep(job, own)).sum())
    if made:
        yield Finding("mine.merged-steps", "look", {"steps": made})


def _headline(harms: NDArray[np.bool_], changed: NDArray[np.bool_], met: int) -> Finding:
    numbers: dict[str, Value] = {
        "over": int(harms.sum()),
        "changed": int(changed.sum()),
        "of_cells": met,
    }
    if harms.any():
        return Finding("mine.harms", "problem", numbers)
    return Finding("mine.may-stay", "look" if changed.any() else "good", numbers)
