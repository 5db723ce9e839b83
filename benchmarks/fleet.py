"""What a fleet makes of the cores of this machine, and what a cluster costs on top.

Run alone with ``.venv/bin/python benchmarks/fleet.py``, or as a part of ``make bench``.
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from rows import Row, show
from sparkwright.fleet.members import Grid, Member
from sparkwright.fleet.plans import plan_fleet, planned
from sparkwright.fleet.workers import Cluster, Here, Workers

EXAMPLE = Path(__file__).resolve().parent.parent / "examples" / "pump-house-v8.toml"
ENGINES = 192
"""Enough that starting the processes counts little; a choice."""

CLUSTER_ENGINES = 1000
SHARE, PLANS_A_SECOND, MORE_PERCENT = 0.85, 6.0, 10.0


def _grid(job_file: Path, engines: int) -> Grid:
    """Give engines that differ in compression and fuel."""
    ratios = tuple(round(8.0 + 0.002 * step, 3) for step in range(engines // 4))
    base = Member(str(job_file), job_file.read_text(encoding="utf-8"))
    return Grid(base, (("engine.compression_ratio", ratios), ("fuel.ron", (91, 93, 95, 97))))


def _seconds(grid: Grid, workers: Workers) -> float:
    with TemporaryDirectory() as folder:
        begun = time.perf_counter()
        plan_fleet(grid, Path(folder) / "out", workers)
        return time.perf_counter() - begun


def two_cores(job_file: Path) -> list[Row]:
    """Plans a second on all cores, beside what the processor time of one plan allows."""
    grid, cores = _grid(job_file, ENGINES), os.cpu_count() or 1
    planned(grid.member(0))
    begun = time.process_time()
    for number in range(24):
        planned(grid.member(number))
    one_s = (time.process_time() - begun) / 24
    starting = _seconds(_grid(job_file, 4), Here(cores))
    whole = _seconds(grid, Here(cores))
    rate = (ENGINES - 4) / (whole - starting)
    share = rate * one_s / cores
    return [
        Row("processor time of one plan of 16 x 16, with its table", f"{one_s:.3f} s"),
        Row("starting the processes, and four engines", f"{starting:.1f} s"),
        Row(f"{ENGINES} engines on {cores} cores", f"{whole:.1f} s"),
        Row("plans a second, once started", f"{rate:.1f}", "6 or more", rate >= PLANS_A_SECOND),
        Row("share of what the cores can do", f"{share:.0%}", "85 % or more", share >= SHARE),
    ]


def on_a_cluster(job_file: Path) -> list[Row]:
    """The same work on this machine's processes and on a cluster of as many workers."""
    from distributed import LocalCluster

    grid = _grid(job_file, CLUSTER_ENGINES)
    cores = os.cpu_count() or 1
    here = _seconds(grid, Here(cores))
    made: Any = LocalCluster
    with made(n_workers=cores, threads_per_worker=1, dashboard_address=None, host="127.0.0.1") as cluster:
        workers = Cluster(cluster.scheduler_address)
        try:
            _seconds(_grid(job_file, 4), workers)
            there = _seconds(grid, workers)
        finally:
            workers.close()
    more = 100.0 * (there / here - 1.0)
    return [
        Row(f"{CLUSTER_ENGINES} engines on {cores} processes", f"{here:.0f} s"),
        Row(f"the same on a cluster of {cores} workers", f"{there:.0f} s"),
        Row("more on the cluster", f"{more:.1f} %", "10 % or less", more <= MORE_PERCENT),
    ]


def measurements(job_file: Path) -> tuple[tuple[str, Callable[[], list[Row]]], ...]:
    """Give what is measured, with its heading."""
    return (
        ("A fleet on this machine", lambda: two_cores(job_file)),
        ("A fleet on a cluster", lambda: on_a_cluster(job_file)),
    )


if __name__ == "__main__":
    for title, measure in measurements(EXAMPLE):
        show(title, measure())
