"""The map as whole hooks in every cell would plan it, kept to measure what the sparse search saves."""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np

from rows import Row
from sparkwright.cycle.hook import best_spark, knock_limit_deg
from sparkwright.job import Job
from sparkwright.numeric import FloatArray
from sparkwright.plan.axes import default_axes
from sparkwright.plan.firmness import Mapper
from sparkwright.plan.hooks import FIRST_DEG, LAST_DEG, sparse_at, trace_at
from sparkwright.plan.physics import Physics, physics_of
from sparkwright.plan.planner import plan
from sparkwright.plan.uncertainty import moved_by_belief, moved_by_facts

CELL_ADVANCES: FloatArray = np.linspace(FIRST_DEG, LAST_DEG, 41)
COARSE_NODES = 4
COARSE_ADVANCES: FloatArray = np.linspace(FIRST_DEG, LAST_DEG, 17)
FINE_ADVANCES: FloatArray = np.linspace(FIRST_DEG, LAST_DEG, 257)


Place = tuple[Physics, float, float]
"""An engine, its speed [rpm] and its load [kPa]."""


def best_and_limit(place: Place, advance_deg: FloatArray) -> tuple[float, float]:
    """Read best and the knock limit off a whole hook."""
    physics, rpm, kpa = place
    trace = trace_at(physics, rpm, kpa, advance_deg)
    rising = np.maximum.accumulate(trace.knock_integral)
    return best_spark(advance_deg, trace.torque_nm).best_deg, knock_limit_deg(advance_deg, rising)


def by_full_grid(job: Job, run: Mapper) -> None:
    """Run all that a plan asks of the cycle, by whole hooks."""
    physics = physics_of(job)
    rpm, kpa = default_axes(job, physics)
    nodes = [
        (each, float(speed), float(load))
        for load in np.linspace(kpa[0], kpa[-1], COARSE_NODES)
        for speed in np.linspace(rpm[0], rpm[-1], COARSE_NODES)
        for each in (
            physics,
            *moved_by_belief(physics),
            *moved_by_facts(physics),
        )
    ]
    cells = [(physics, speed, load) for load in kpa.tolist() for speed in rpm.tolist()]
    list(run(lambda place: best_and_limit(place, COARSE_ADVANCES), nodes))
    list(run(lambda place: best_and_limit(place, CELL_ADVANCES), cells))


def sparing(job: Job, turns: int, run_on_cores: Mapper) -> list[Row]:
    """Time of a warm plan against whole hooks in every cell, in turns, and what it misses of 257 advances."""
    runs: dict[str, Callable[[], object]] = {
        "full": lambda: by_full_grid(job, run_on_cores),
        "sparse": lambda: plan(job, run=run_on_cores),
    }
    for run in runs.values():
        run()
    wall = dict.fromkeys(runs, float("inf"))
    spent = dict.fromkeys(runs, float("inf"))
    for _ in range(turns):
        for name, run in runs.items():
            begun, processor = time.perf_counter(), time.process_time()
            run()
            wall[name] = min(wall[name], time.perf_counter() - begun)
            spent[name] = min(spent[name], time.process_time() - processor)
    best_off, knock_off, cycles = misses(job)
    ratio = wall["full"] / wall["sparse"]
    return [
        Row("16 x 16 plan, warm", f"{wall['sparse']:.3f} s"),
        Row("whole hooks in every cell, 41 advances", f"{wall['full']:.3f} s"),
        Row("whole hooks over plan", f"{ratio:.1f} x", "4 x or more", ratio >= 4.0),
        Row("the same in processor time", f"{spent['full'] / spent['sparse']:.1f} x"),
        Row("cycles a cell", f"{cycles:.1f}"),
        Row(
            "best against 257 advances, 95 % and worst",
            f"{np.percentile(best_off, 95):.3f} and {best_off.max():.3f} deg",
            "0.1 and 0.2 deg",
            bool(np.percentile(best_off, 95) <= 0.1 and best_off.max() <= 0.2),
        ),
        Row(
            "knock limit below best + 6, worst",
            f"{knock_off.max():.3f} deg",
            "0.3 deg",
            bool(knock_off.max() <= 0.3),
        ),
    ]


def misses(job: Job) -> tuple[FloatArray, FloatArray, float]:
    """How far best and limit lie from those of 257 advances over the map [deg], and cycles run a cell."""
    physics = physics_of(job)
    rpm, kpa = default_axes(job, physics)
    best_off, knock_off, cycles = [], [], []
    guess = 28.0
    for load in kpa[::3].tolist():
        for speed in rpm[::3].tolist():
            best, limit = best_and_limit((physics, speed, load), FINE_ADVANCES)
            hook = sparse_at(physics, speed, load)
            found, _ = hook.best(guess)
            if best < LAST_DEG:
                best_off.append(abs(found - best))
                guess = float(found)
            if np.isfinite(limit) and limit < best + 6.0:
                knock_off.append(abs(hook.knock(0.0) - limit))
            cycles.append(hook.cycles)
    return np.array(best_off), np.array(knock_off), float(np.mean(cycles))


def steady(job: Job, side: int, plans: int, run_on_cores: Mapper) -> list[Row]:
    """Memory over many plans of some cells a side: after the first tenth it must not grow."""
    import resource

    def most_mb() -> float:
        return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0

    rpm, kpa = default_axes(job, physics_of(job))
    few = job.changed(
        "controller",
        rpm=np.round(np.linspace(rpm[0], rpm[-1], side)).tolist(),
        kpa=np.round(np.linspace(kpa[0], kpa[-1], side)).tolist(),
    )
    early = 0.0
    for number in range(plans):
        if number == plans // 10:
            early = most_mb()
        plan(few, run=run_on_cores)
    grown = most_mb() - early
    what = f"{plans:,} plans of {side} x {side} cells in a row: most memory grows by"
    return [Row(what, f"{grown:.1f} MB", "5 MB", grown <= 5.0)]
