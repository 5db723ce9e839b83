"""Measure speed and memory: ``make bench``. Prints tables; writes nothing but the file given with ``--json``.

Rivals that are compared run in turns in one process, each counted by its best turn, so that what else the
machine does falls on all alike. Times of one thread are its processor time; times of plans and commands
are the clock's.
"""

from __future__ import annotations

import argparse
import datetime
import json
import os
import platform
import subprocess
import sys
import time
import warnings
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import asdict
from pathlib import Path

import numpy as np
from scipy.integrate import ODEintWarning

import drives
import fleet
import full_grid
import strangers
import web
from between import between
from lsoda import Integrator, Outcome, Sides, by_odeint, by_solve_ivp, compiled_sides, plain_sides, run_lsoda
from rows import Row, show
from sparkwright.cycle.charge import Charge
from sparkwright.cycle.hook import step_deg
from sparkwright.cycle.kernel import RESULTS, FloatArray, run_hook
from sparkwright.job import Job
from sparkwright.plan.firmness import Mapper
from sparkwright.plan.hooks import trace_at
from sparkwright.plan.physics import physics_of
from sparkwright.plan.planner import plan
from store import store_costs

ROOT = Path(__file__).resolve().parent.parent
JOB_FILE = ROOT / "examples" / "pump-house-v8.toml"
COMMAND = Path(sys.executable).with_name("sparkwright")

PLACES = ((700.0, 40.0), (1800.0, 60.0), (3000.0, 95.0), (5000.0, 60.0))
"""Speeds [rpm] and loads [kPa] at which cycles are compared."""
FALLING_DEG: FloatArray = np.linspace(52.0, 4.0, 9)
SAME_MEAN_SHARE, SAME_CA50_DEG = 0.002, 0.2
"""Accuracy that a rival must reach too: share of mean pressure, and degrees of half burned mass."""
TOLERANCES = (2e-3, 1e-3, 5e-4, 2e-4, 1e-4, 5e-5, 2e-5, 1e-5, 5e-6)
REFERENCE_TOLERANCE = 1e-10


Run = Callable[[], object]
Case = tuple[Charge, float]
"""A charge and its step [deg]."""


def best_times(runs: dict[str, Run], turns: int, clock: Callable[[], float]) -> dict[str, float]:
    """Best time of each run [s]; the runs take turns."""
    best = dict.fromkeys(runs, float("inf"))
    for _ in range(turns):
        for name, run in runs.items():
            begun = clock()
            run()
            best[name] = min(best[name], clock() - begun)
    return best


def charges(job: Job) -> list[Case]:
    """Charge and step [deg] at each of the places."""
    physics = physics_of(job)
    return [
        (trace_at(physics, rpm, kpa, np.array([20.0, 30.0])).charge, step_deg(rpm)) for rpm, kpa in PLACES
    ]


def kernel_outcome(charge: Charge, step: float) -> Outcome:
    columns = dict(zip(RESULTS, run_hook(charge, FALLING_DEG, step).T, strict=True))
    return Outcome(columns["work_j"] / charge.displaced_m3, columns["ca50_deg"])


def worst_errors(outcomes: Iterable[Outcome], references: Iterable[Outcome]) -> tuple[float, float]:
    """Worst share of mean pressure and worst degrees of half burned mass by which outcomes miss."""
    pairs = list(zip(outcomes, references, strict=True))
    return (
        max(float(np.max(np.abs(have.mean_pa / want.mean_pa - 1.0))) for have, want in pairs),
        max(float(np.max(np.abs(have.ca50_deg - want.ca50_deg))) for have, want in pairs),
    )


def loosest_tolerance(cases: list[Case], references: list[Outcome], integrate: Integrator) -> float:
    """Loosest tolerance at which LSODA is as accurate as is asked of the kernel."""
    for rtol in TOLERANCES:
        outcomes = [run_lsoda(charge, FALLING_DEG, compiled_sides(), integrate, rtol) for charge, _ in cases]
        mean, ca50 = worst_errors(outcomes, references)
        if mean <= SAME_MEAN_SHARE and ca50 <= SAME_CA50_DEG:
            return rtol
    raise SystemExit("No tolerance of the list brings LSODA to the accuracy asked for.")


def cycles(cases: list[Case], turns: int) -> list[Row]:
    """Cycles a second on one core: the kernel, and LSODA with two right sides."""
    exact = compiled_sides()
    references = [
        run_lsoda(charge, FALLING_DEG, exact, by_odeint, REFERENCE_TOLERANCE) for charge, _ in cases
    ]
    mean, ca50 = worst_errors([kernel_outcome(charge, step) for charge, step in cases], references)
    count = len(cases) * FALLING_DEG.size

    def rival(sides: Sides, integrate: Integrator, rtol: float) -> Run:
        return lambda: [run_lsoda(charge, FALLING_DEG, sides, integrate, rtol) for charge, _ in cases]

    tolerance = {
        integrate: loosest_tolerance(cases, references, integrate) for integrate in (by_odeint, by_solve_ivp)
    }

    def kernel() -> object:
        return [run_hook(charge, FALLING_DEG, step) for charge, step in cases]

    fast = best_times({"kernel": kernel}, 20 * turns, time.thread_time)
    slow = best_times(
        {
            "plain, odeint": rival(plain_sides(), by_odeint, tolerance[by_odeint]),
            "plain, solve_ivp": rival(plain_sides(), by_solve_ivp, tolerance[by_solve_ivp]),
            "compiled, odeint": rival(compiled_sides(), by_odeint, tolerance[by_odeint]),
            "compiled, solve_ivp": rival(compiled_sides(), by_solve_ivp, tolerance[by_solve_ivp]),
            "kernel": kernel,
        },
        turns,
        time.thread_time,
    )
    ours = min(fast["kernel"], slow.pop("kernel"))
    rows = [
        Row("kernel: worst miss of mean pressure", f"{100 * mean:.3f} %", "0.2 %", mean <= SAME_MEAN_SHARE),
        Row("kernel: worst miss of half burned mass", f"{ca50:.3f} deg", "0.2 deg", ca50 <= SAME_CA50_DEG),
        Row("kernel", f"{count / ours:,.0f} /s"),
    ]
    for name, seconds in slow.items():
        least = 500 if name.startswith("plain") else 50
        rtol = tolerance[by_odeint if name.endswith("odeint") else by_solve_ivp]
        rows.append(Row(f"LSODA, right side {name}, rtol {rtol:g}", f"{count / seconds:,.1f} /s"))
        ratio = seconds / ours
        rows.append(
            Row(f"kernel over LSODA, {name}", f"{ratio:,.0f} x", f"{least} x or more", ratio >= least)
        )
    return rows


def whole_plan(job: Job, turns: int, run: Mapper) -> list[Row]:
    """Time of a warm plan by the clock, and what the processor spent on it."""
    plan(job, run=run)
    walls, processors = [], []
    for _ in range(turns):
        begun, spent = time.perf_counter(), time.process_time()
        result = plan(job, run=run)
        walls.append(time.perf_counter() - begun)
        processors.append(time.process_time() - spent)
    loads, speeds = result.cells.spark_map.advance_deg.shape
    size = f"{loads} x {speeds} cells"
    return [
        Row(f"plan, {size}, warm", f"{min(walls):.2f} s", "0.5 s or less", min(walls) <= 0.5),
        Row("the same, slowest of the turns", f"{max(walls):.2f} s"),
        Row("processor time of all its threads", f"{min(processors):.2f} s"),
    ]


PROBE = """
import os, subprocess, sys, time
begun = time.perf_counter()
child = subprocess.Popen(sys.argv[1:], stdout=subprocess.DEVNULL)
_, status, usage = os.wait4(child.pid, 0)
print(time.perf_counter() - begun, usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024.0)
child.returncode = os.waitstatus_to_exitcode(status)
sys.exit(child.returncode)
"""
"""Run from a small process, since a child is charged the memory that its parent held when it was born."""


def command_run(arguments: Sequence[str]) -> tuple[float, float, float]:
    """Run the command in a process of its own; clock [s], processor [s] and most memory [MB]."""
    probe = subprocess.run(
        [sys.executable, "-I", "-S", "-c", PROBE, str(COMMAND), *arguments],
        stdout=subprocess.PIPE,
        text=True,
        check=False,
    )
    if probe.returncode not in (0, 1):  # 1: done, and there is something that the person must see
        raise SystemExit(f"sparkwright {' '.join(arguments)} ended with {probe.returncode}.")
    wall, processor, memory = map(float, probe.stdout.split())
    return wall, processor, memory


def commands(turns: int) -> list[Row]:
    """Second starts: each run is a new process; the compiled kernel is on disk already."""
    rows = []
    job = str(JOB_FILE)
    point = ["point", job, "--rpm", "3000", "--kpa", "95"]
    for arguments, most_s in (
        (["--help"], 0.5),
        *((each, 2.0) for each in (["plan", job], ["check", job], point)),
    ):
        command_run(arguments)
        runs = [command_run(arguments) for _ in range(turns)]
        wall, processor, memory = (min(column) for column in zip(*runs, strict=True))
        what = f"sparkwright {arguments[0]}, from cold to done"
        rows.append(Row(what, f"{wall:.2f} s", f"{most_s} s or less", wall <= most_s))
        rows.append(Row("  processor time", f"{processor:.2f} s"))
        rows.append(Row("  most memory", f"{memory:.0f} MB"))
    return rows


def growth(job: Job, cases: list[Case], turns: int, run_on_cores: Mapper) -> list[Row]:
    """How the cost grows with cells, advances and step."""

    def plan_square(side: int) -> float:
        wider = job.changed(
            "controller",
            rpm=np.round(np.linspace(600.0, 5500.0, side)).tolist(),
            kpa=np.round(np.linspace(25.0, 98.0, side)).tolist(),
        )
        return best_times({"plan": lambda: plan(wider, run=run_on_cores)}, turns, time.perf_counter)["plan"]

    def run_hooks(falling_deg: FloatArray, refine: float) -> float:
        def run() -> None:
            for charge, step in cases:
                run_hook(charge, falling_deg, step / refine)

        return best_times({"hooks": run}, 10 * turns, time.thread_time)["hooks"] / len(cases)

    rows = []
    for side in (4, 8, 16, 32):
        seconds = plan_square(side)
        each_ms = 1e3 * seconds / side**2
        rows.append(Row(f"plan, {side} x {side} cells", f"{seconds:.2f} s, {each_ms:.2f} ms a cell"))
    for advances in (11, 21, 41, 81):
        seconds = run_hooks(np.linspace(60.0, -4.0, advances), 1.0)
        each_us = 1e6 * seconds / advances
        rows.append(Row(f"hook, {advances} advances", f"{1e3 * seconds:.2f} ms, {each_us:.0f} us each"))
    references = [kernel_outcome(charge, step / 32.0) for charge, step in cases]
    for refine in (0.5, 1.0, 2.0, 4.0):
        outcomes = [kernel_outcome(charge, step / refine) for charge, step in cases]
        mean, ca50 = worst_errors(outcomes, references)
        each_us = 1e6 * run_hooks(FALLING_DEG, refine) / FALLING_DEG.size
        what = f"step x {1 / refine:g}: misses by {100 * mean:.3f} % and {ca50:.3f} deg"
        rows.append(Row(what, f"{each_us:.0f} us a cycle"))
    return rows


def store() -> list[Row]:
    """What keeping and finding costs, by the clock."""
    return [
        Row(each.what, f"{each.median_ms:.2f} ms, 95 % {each.p95_ms:.2f}")
        for each in store_costs(JOB_FILE.read_text(encoding="utf-8"))
    ]


def processor_name() -> str:
    cpuinfo = Path("/proc/cpuinfo")
    if cpuinfo.exists():
        for line in cpuinfo.read_text().splitlines():
            if line.startswith("model name"):
                return line.partition(":")[2].strip()
    return platform.processor() or platform.machine()


def main() -> None:
    parser = argparse.ArgumentParser(description="Measure the speed and memory of Sparkwright.")
    parser.add_argument("--json", type=Path, help="also write the rows into this file")
    parser.add_argument("--turns", type=int, default=5, help="turns of each measurement; the best counts")
    parser.add_argument("--gigabyte", action="store_true", help="also read a drive of 1 GB")
    chosen = parser.parse_args()
    # A tolerance that LSODA does not reach is judged by its misses, not by its warning.
    warnings.simplefilter("ignore", ODEintWarning)
    job = Job.load(JOB_FILE)
    machine = (
        f"{processor_name()}, {os.cpu_count()} cores, {platform.system()}, "
        f"Python {platform.python_version()}, {datetime.date.today()}"
    )
    print(machine)
    print(
        f"Load of the machine before the run: {os.getloadavg()[0]:.1f}; best of {chosen.turns} turns or more"
    )
    cases = charges(job)
    cores = ThreadPoolExecutor(max_workers=os.cpu_count() or 1)
    measurements: tuple[tuple[str, Callable[[], list[Row]]], ...] = (
        ("A whole plan, on all cores", lambda: whole_plan(job, chosen.turns, cores.map)),
        ("A plan against whole hooks in every cell", lambda: full_grid.sparing(job, chosen.turns, cores.map)),
        ("The map between its cells", lambda: between(job, chosen.turns, cores.map)),
        ("Many plans in a row", lambda: full_grid.steady(job, 4, 1000, cores.map)),
        ("Cycles on one core", lambda: cycles(cases, chosen.turns)),
        ("Commands", lambda: commands(chosen.turns)),
        ("How the cost grows", lambda: growth(job, cases, chosen.turns, cores.map)),
        *web.measurements(),
        *strangers.measurements(),
        *fleet.measurements(JOB_FILE),
        ("Reading a drive", lambda: drives.drives((10, 100, 1000) if chosen.gigabyte else (10, 100), 2)),
        ("The store, in SQLite on this machine's disk", store),
    )
    tables = {}
    for title, measure in measurements:
        tables[title] = measure()
        show(title, tables[title])
    if chosen.json is not None:
        record = {
            "machine": machine,
            **{title: [asdict(row) for row in rows] for title, rows in tables.items()},
        }
        chosen.json.write_text(json.dumps(record, indent=2) + "\n")


if __name__ == "__main__":
    main()
