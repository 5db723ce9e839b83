"""What a plan notices: what leads it, what must be put right, and what is worth a look."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import asdict, replace
from typing import SupportsIndex

import numpy as np
from numpy.typing import NDArray

from sparkwright.check.doubts import cam_doubts
from sparkwright.check.result import HardwareResult
from sparkwright.cycle import knock
from sparkwright.findings import Finding, Value, each_once
from sparkwright.ignition.rotor import LEAST_REACH_DEG, PhaseAdvice, Reach
from sparkwright.job import HandCell, Job
from sparkwright.plan.ceilings import TELLABLE_DEG
from sparkwright.plan.hooks import FIRST_DEG, LAST_DEG
from sparkwright.plan.physics import Physics
from sparkwright.plan.result import (
    LEAST_MOVE_MM,
    WORST_FIRST,
    Line,
    MapCells,
    OverCeiling,
    PlanResult,
    ReachCost,
)


def problems(
    job: Job,
    cells: MapCells,
    cost: ReachCost | None,
    over: Sequence[OverCeiling],
    advice: PhaseAdvice,
) -> tuple[Finding, ...]:
    """Give what the person must see before the map runs an engine, the worst first.

    What can break the engine comes first, then what fires the wrong cylinder, then what goes against the
    person's own limits, then what costs torque. Less than anybody can measure is no problem.

    Parameters
    ----------
    job : Job
        The job, for the least advance that its controller takes.
    cells : MapCells
        The map, cell by cell, beside its ceilings.
    cost : ReachCost or None
        What the rotor's reach costs in advance and torque; None where it costs nothing.
    over : sequence of OverCeiling
        Cells set by hand that stand over a ceiling.
    advice : PhaseAdvice
        What phase of the rotor would serve the plan.
    """
    # What is to be done counts all cells over a ceiling, and the move of the rotor that would free the plan.
    all_over = len({(each.rpm, each.kpa) for each in over})
    to_do: dict[str, Value] = {"all_over": all_over, **({} if cost is None else asdict(cost))}
    set_over = {
        str(numbers["ceiling"]): (Finding("over.set-by-hand", "problem", {**numbers, **to_do}),)
        for numbers in _over_by_ceiling(over)
    }
    return (
        *set_over.get("knock", ()),
        *_knocks_at_any_advance(cells, to_do),
        *_below_controller(job.controller.min_deg, cells),
        *set_over.get("reach", ()),
        *_left_late(cells, cost, advice),
        *set_over.get("limit", ()),
        *(() if cost is None else (Finding("reach.holds", "problem", asdict(cost)),)),
    )


def _knocks_at_any_advance(cells: MapCells, to_do: dict[str, Value]) -> Iterator[Finding]:
    hopeless = np.isneginf(cells.ceilings.knock_deg) & cells.met
    if hopeless.any():
        i, j = np.argwhere(hopeless)[0]
        yield Finding("knock.at-any-advance", "problem", {**_where(cells, i, j), **to_do})


def left_late(cells: MapCells, floor_deg: float) -> NDArray[np.bool_]:
    """Mark the cells an engine meets where the tip has left its post late, by more than can't be measured.

    Parameters
    ----------
    cells : MapCells
        The map.
    floor_deg : float
        Below it the tip has left its post on the late side [crank deg].
    """
    return np.asarray(cells.met & (cells.spark_map.advance_deg <= floor_deg - LEAST_REACH_DEG))


def _left_late(cells: MapCells, cost: ReachCost | None, advice: PhaseAdvice) -> Iterator[Finding]:
    floor_deg = float(cells.ceilings.floor_deg[0, 0])
    left = left_late(cells, floor_deg)
    if not left.any():
        return
    value = np.where(left, cells.spark_map.advance_deg, np.inf)
    i, j = np.unravel_index(int(np.argmin(value)), value.shape)
    # A tip that lacks reach at the other end too has nowhere to go.
    back = cost is None and advice.move_mm <= -LEAST_MOVE_MM
    yield Finding(
        "reach.left-late",
        "problem",
        {
            "cells": int(left.sum()),
            "floor_deg": floor_deg,
            "advance_deg": float(value[i, j]),
            **_where(cells, i, j),
            "back_mm": -advice.move_mm if back else None,
            "back_distributor_deg": -advice.move_distributor_deg if back else None,
        },
    )


def _where(cells: MapCells, i: SupportsIndex, j: SupportsIndex) -> dict[str, Value]:
    return {"rpm": float(cells.spark_map.rpm[j]), "kpa": float(cells.spark_map.kpa[i])}


def standing(cells: MapCells, over: Sequence[OverCeiling]) -> tuple[Finding, ...]:
    """Give for cells set by hand over which ceiling they stand, by how much and where.

    Past best come only cells that stand over nothing else.

    Parameters
    ----------
    cells : MapCells
        The map, cell by cell, beside its ceilings.
    over : sequence of OverCeiling
        Cells set by hand that stand over a ceiling.
    """
    found = [Finding("over.stands", "problem", numbers) for numbers in _over_by_ceiling(over)]
    return (*found, *_set_past_best(cells))


def _over_by_ceiling(over: Sequence[OverCeiling]) -> Iterator[dict[str, Value]]:
    """Give for each ceiling, the worst first, how many cells stand over it and the one that does the most."""
    for name in WORST_FIRST:
        those = [each for each in over if each.ceiling == name]
        if those:
            most = max(those, key=lambda each: each.over_deg)
            yield {
                "ceiling": name,
                "set_cells": len(those),
                "over_deg": most.over_deg,
                "rpm": most.rpm,
                "kpa": most.kpa,
                "reason": most.reason,
            }


def _below_controller(least_deg: float, cells: MapCells) -> Iterator[Finding]:
    over = np.where(cells.met, least_deg - cells.spark_map.advance_deg, 0.0)
    told = over >= LEAST_REACH_DEG
    if told.any():
        i, j = np.unravel_index(int(np.argmax(over)), over.shape)
        numbers = {"cells": int(told.sum()), "least_deg": least_deg, "over_deg": float(over[i, j])}
        yield Finding("controller.takes-no-less", "problem", {**numbers, **_where(cells, i, j)})


def worries(plan: PlanResult, check: HardwareResult) -> tuple[Finding, ...]:
    """Give what must be put right in plan and check, each once.

    The plan says of the rotor's reach what the check does, and with more of what it costs.

    Parameters
    ----------
    plan : PlanResult
        The plan of a job.
    check : HardwareResult
        The check of the same job's hardware.
    """
    of_reach = {"rotor.runs-out", "rotor.leaves-late"} if plan.reach_cost else set()
    of_check = (each for each in check.problems if each.kind not in of_reach)
    return each_once((*plan.problems, *of_check))


def headline(
    cells: MapCells, reach: Reach, base_deg: float, problems: Sequence[Finding], full: Line
) -> Finding:
    """Give what leads the plan: the worst problem, or that it fits.

    No cell of the map holds the advance at which the engine cranks, base: a tip moved so far ahead that it
    has left its post there reaches all of the map and still starts the engine badly.

    Parameters
    ----------
    cells : MapCells
        The map, cell by cell, beside its ceilings.
    reach : Reach
        Least and most advance at which the tip meets its post [crank deg].
    base_deg : float
        Advance at which the engine cranks [crank deg].
    problems : sequence of Finding
        What `problems` found, the worst first.
    full : Line
        The map's line at full load along speed.
    """
    if problems:
        first = problems[0]
        return replace(first, kind="reach.runs-out") if first.kind == "reach.holds" else first
    if base_deg < reach.least_deg - LEAST_REACH_DEG:
        off = {"base_deg": base_deg, "least_deg": reach.least_deg, "reach_deg": reach.most_deg}
        return Finding("reach.off-at-base", "look", off)
    return Finding(
        "plan.fits",
        "good",
        {
            "reach_deg": reach.most_deg,
            "spare_deg": reach.most_deg - float(np.max(full.plan_deg)),
            "held_by_knock": sum(row.count("knock") for row in cells.held_by),
            "held_by_reach": sum(row.count("reach") for row in cells.held_by),
        },
    )


def warnings(
    job: Job, physics: Physics, cells: MapCells, off_the_map: Sequence[HandCell]
) -> Iterator[Finding]:
    """Give what is worth a look but keeps nobody from going on.

    Parameters
    ----------
    job : Job
        The job, for its cam, pegs and controller.
    physics : Physics
        The same as the cycle sees it, for what site and boost can give.
    cells : MapCells
        The map, cell by cell, beside its ceilings.
    off_the_map : sequence of HandCell
        Cells set by hand at a speed and load that the map hasn't.
    """
    yield from (each.finding for each in cam_doubts(job))
    yield from _set_past_best(cells)
    for cell in off_the_map:
        yield _look("hand.off-the-map", rpm=cell.rpm, kpa=cell.kpa, advance_deg=cell.advance_deg)
    kpa = cells.spark_map.kpa
    beyond = kpa[kpa > physics.top_kpa + 0.5]
    if beyond.size:
        yield _look("rows.above-the-site", from_kpa=float(beyond[0]), top_kpa=physics.top_kpa)
    states = [state for row in cells.burn_state for state in row]
    if "misfire" in states:
        yield _look("burn.misfires", cells=states.count("misfire"))
    yield from _best_outside_the_tested(cells)
    if "slow burn" in states:
        yield _look("burn.slow", cells=states.count("slow burn"))
    yield from _below_unmet(job, cells)
    yield from _pegs(job, cells)
    yield from _not_firm(physics)
    outside = int(cells.outside_range.sum())
    if outside:
        yield _look("formula.outside-range", cells=outside)


def _look(kind: str, **numbers: Value) -> Finding:
    return Finding(kind, "look", numbers)


def _below_unmet(job: Job, cells: MapCells) -> Iterator[Finding]:
    """Give what lies below what controller or rotor allow, where a running engine does not come."""
    value = cells.spark_map.advance_deg
    below = (value < job.controller.min_deg) | (value < cells.ceilings.floor_deg)
    unmet = value[~cells.met & below]
    if unmet.size:
        yield _look("map.below-least-unmet", cells=int(unmet.size), least_deg=float(unmet.min()))


def _not_firm(physics: Physics) -> Iterator[Finding]:
    """Give where the knock limit of a chamber, or of a fuel, is not firm."""
    shape = physics.engine.chamber.shape
    doubt = physics.engine.chamber.kind.limit_doubt
    if doubt is not None:
        yield _look(f"chamber.{doubt.kind}", shape=shape, octane_numbers=doubt.octane_numbers)
    yield from knock.octane_outside_range(physics.fuel.octane)


def _pegs(job: Job, cells: MapCells) -> Iterator[Finding]:
    """Give which peg lies off the map, above a ceiling, or is not reached."""
    ceilings, value = cells.ceilings, cells.spark_map.advance_deg
    rpm, kpa = cells.spark_map.rpm, cells.spark_map.kpa
    for peg in job.pegs:
        at: dict[str, Value] = {"rpm": peg.rpm, "kpa": peg.kpa, "reason": peg.reason}
        i, j = int(np.argmin(np.abs(kpa - peg.kpa))), int(np.argmin(np.abs(rpm - peg.rpm)))
        if not (rpm[0] <= peg.rpm <= rpm[-1] and kpa[0] <= peg.kpa <= kpa[-1]):
            yield _look("peg.off-the-map", **at, cell_rpm=float(rpm[j]), cell_kpa=float(kpa[i]))
        at["advance_deg"] = peg.advance_deg
        latest_deg = FIRST_DEG - job.limits.knock_margin_deg
        limit = max(float(np.fmin(ceilings.reach_deg[i, j], ceilings.knock_deg[i, j])), latest_deg)
        if peg.advance_deg > limit:
            yield _look("peg.over-a-ceiling", **at, ceiling_deg=limit)
        elif not cells.by_hand[i, j] and value[i, j] < peg.advance_deg - job.controller.step_deg:
            yield _look("peg.not-reached", **at, comes_out_deg=float(value[i, j]))


def _best_outside_the_tested(cells: MapCells) -> Iterator[Finding]:
    misfire = np.array(cells.burn_state) == "misfire"
    beyond = int((np.isnan(cells.ceilings.best_deg) & ~misfire).sum())
    before = int((cells.ceilings.best_deg <= FIRST_DEG).sum())
    if beyond:
        yield _look("best.beyond-the-tested", cells=beyond, last_deg=LAST_DEG)
    if before:
        yield _look("best.before-the-tested", cells=before, first_deg=FIRST_DEG)


def _set_past_best(cells: MapCells) -> tuple[Finding, ...]:
    only_best = cells.by_hand & ~cells.over_ceiling
    past = np.where(only_best, cells.spark_map.advance_deg - cells.ceilings.best_deg, np.nan)
    past = np.nan_to_num(past, nan=0.0)
    late = past > TELLABLE_DEG
    if not late.any():
        return ()
    i, j = np.unravel_index(int(np.argmax(past)), past.shape)
    return (
        _look(
            "hand.past-best",
            cells=int(late.sum()),
            past_deg=float(past[i, j]),
            rpm=float(cells.spark_map.rpm[j]),
            kpa=float(cells.spark_map.kpa[i]),
        ),
    )
