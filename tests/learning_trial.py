"""One invented engine learned from its sweeps, and held against its truth and against a baseline."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from invented_engines import FIVE_PLACES, KPA, RPM, FloatArray, InventedEngine
from sparkwright.dyno.sweep import Sweep
from sparkwright.learn.belief import belief_of
from sparkwright.learn.next_runs import ranked
from sparkwright.learn.result import cells_of
from sparkwright.learn.surface import Smooth, coordinates
from sparkwright.plan.planner import plan
from sparkwright.plan.result import PlanResult

CELL_RPM, CELL_KPA = np.meshgrid(RPM, KPA)

LATE_DEG, EARLY_DEG, POINTS = 20.0, 10.0, 7
"""A sweep runs from so far before the untaught plan's best to so far beyond."""


def five_sweeps(engine: InventedEngine, untaught: PlanResult) -> list[Sweep]:
    """Measure where a shop that asks nobody would: seven points about the untaught plan's best."""
    found = []
    for k, (rpm, kpa) in enumerate(FIVE_PLACES):
        best = float(_over(np.nan_to_num(untaught.cells.ceilings.best_deg, nan=58.0), rpm, kpa))
        advance = np.linspace(best - LATE_DEG, best + EARLY_DEG, POINTS)
        found.append(engine.sweep(rpm, kpa, advance, 1000 * engine.seed + k))
    return found


def chosen_sweeps(engine: InventedEngine, count: int) -> list[Sweep]:
    """Measure where the program asks, one sweep after another."""
    found: list[Sweep] = []
    for k in range(count):
        run = ranked(engine.job, belief_of(engine.job, found))[0][0]
        found.append(engine.sweep(run.rpm, run.kpa, np.array(run.advances_deg), 1000 * engine.seed + 500 + k))
    return found


def _over(grid: FloatArray, rpm: float, kpa: float) -> float:
    rows = [float(np.interp(rpm, RPM, row)) for row in grid]
    return float(np.interp(kpa, KPA, rows))


def parabola_top_deg(sweep: Sweep) -> float:
    """Top of a parabola through the points about the highest: no physics at all."""
    advance, torque = sweep.advance_deg, sweep.torque_nm
    near = np.abs(advance - advance[int(np.argmax(torque))]) <= 11.0
    if near.sum() < 4:
        near[:] = True
    bend, slope, _ = np.polyfit(advance[near] - advance.mean(), torque[near], 2)
    if bend >= 0.0:
        return float(advance[int(np.argmax(torque))])
    top = advance.mean() - 0.5 * slope / bend
    return float(np.clip(top, advance.min() - 5.0, advance.max() + 5.0))


def baseline_deg(untaught: PlanResult, sweeps: Sequence[Sweep]) -> FloatArray:
    """Best over the map from the untaught plan, plus a trend and a smooth surface through the sweeps'
    tops."""
    grid = np.nan_to_num(untaught.cells.ceilings.best_deg, nan=60.0)
    there = coordinates(np.array([each.rpm for each in sweeps]), np.array([each.kpa for each in sweeps]))
    off = np.array([parabola_top_deg(each) - _over(grid, each.rpm, each.kpa) for each in sweeps])
    smooth = Smooth(constant=10.0, slope=3.0, local=1.0)
    inside = smooth.covariance(there, there) + 0.7**2 * np.eye(len(sweeps))
    cells = coordinates(CELL_RPM.ravel(), CELL_KPA.ravel())
    added = smooth.covariance(cells, there) @ np.linalg.solve(inside, off)
    return np.asarray(grid + added.reshape(grid.shape))


@dataclass(frozen=True)
class Trial:
    """How one engine came out; errors of best over the cells [crank deg]."""

    seed: int
    untaught: FloatArray
    baseline: FloatArray
    learned: FloatArray
    inside_90: FloatArray
    knock_error_deg: FloatArray
    """Of the limit where it truly holds the map, inf where none was found."""
    over_deg: FloatArray
    """How far planned cells that knock holds stand over the true limit; negative is below."""
    chosen: FloatArray | None = None


def trial(engine: InventedEngine, chosen: int = 0) -> Trial:
    """Learn one engine and compare."""
    hooks = engine.hooks(CELL_RPM.ravel(), CELL_KPA.ravel())
    best = np.array([each.best_deg for each in hooks]).reshape(CELL_RPM.shape)
    limit = np.array([each.limit_deg for each in hooks]).reshape(CELL_RPM.shape)
    untaught = plan(engine.job)
    sweeps = five_sweeps(engine, untaught)
    belief = belief_of(engine.job, sweeps)
    planned = plan(engine.job, belief)
    cells = cells_of(engine.job, belief, planned)
    grid = np.array(
        [[each.best_deg, each.best_low_deg, each.best_high_deg, each.knock_deg] for each in cells]
    )
    taught, low, high, knock = grid.T.reshape(4, *CELL_RPM.shape)
    holds = limit < best
    knock_held = np.array(planned.cells.held_by) == "knock"
    after = None
    if chosen:
        other = belief_of(engine.job, chosen_sweeps(engine, chosen))
        again = cells_of(engine.job, other, planned)
        after = np.array([each.best_deg for each in again]).reshape(CELL_RPM.shape) - best
    return Trial(
        seed=engine.seed,
        untaught=untaught.cells.ceilings.best_deg - best,
        baseline=baseline_deg(untaught, sweeps) - best,
        learned=taught - best,
        inside_90=(low <= best) & (best <= high),
        knock_error_deg=np.nan_to_num(knock - limit, nan=np.inf)[holds],
        over_deg=(planned.cells.spark_map.advance_deg - limit)[knock_held],
        chosen=after,
    )


def rms(errors: FloatArray) -> float:
    """Root of the mean square of what is determined; nan where nothing is."""
    known = errors[np.isfinite(errors)]
    return float(np.sqrt(np.mean(np.square(known)))) if known.size else float("nan")


def pooled(trials: Sequence[Trial]) -> dict[str, float]:
    """Figures over all engines; angles in crank deg, the others shares."""
    learned = np.array([each.learned for each in trials])
    knock = np.concatenate([each.knock_error_deg for each in trials])
    found = knock[np.isfinite(knock)]
    over = np.concatenate([each.over_deg for each in trials])
    figures = {
        "untaught": rms(np.array([each.untaught for each in trials])),
        "baseline": rms(np.array([each.baseline for each in trials])),
        "learned": rms(learned),
        "within 4": float(np.mean(np.abs(learned[np.isfinite(learned)]) <= 4.0)),
        "inside 90 %": float(np.mean([each.inside_90 for each in trials])),
        "knock": rms(found),
        "knock found": float(found.size / max(knock.size, 1)),
        "over": float(np.mean(over > 0.0)),
        "most over": float(over.max(initial=-np.inf)),
    }
    chosen = [each.chosen for each in trials if each.chosen is not None]
    if chosen:
        figures["four chosen"] = rms(np.array(chosen))
    return figures
