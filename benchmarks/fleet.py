"""What a fleet makes of the cores of this machine, and what a cluster costs on top.

Run alone with ``.venv/bin/python benchmarks/fleet.py``, or as a part of ``make bench``. With ``--engines 24``
it shows in a minute that it runs, and measures little.
"""

from __future__ import annotations

import argparse
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
        result = plan_fleet(grid, Path(folder) / "out", workers)
        taken = time.perf_counter() - begun
    if result.planned != len(grid):
        raise SystemExit(f"Only {result.planned} of {len(grid)} engines have a map: {result.refused[:1]}")
    return taken


def two_cores(job_file: Path, engines: int = ENGINES) -> list[Row]:
    """Plans a second on all cores, beside what the processor time of one plan allows."""
    grid, cores = _grid(job_file, engines), os.cpu_count() or 1
    planned(grid.member(0))
    begun = time.process_time()
    alone = min(24, len(grid))
    for number in range(alone):
        planned(grid.member(number))
    one_s = (time.process_time() - begun) / alone
    starting = _seconds(_grid(job_file, 4), Here(cores))
    whole = _seconds(grid, Here(cores))
    rate = (len(grid) - 4) / (whole - starting)
    share = rate * one_s / cores
    return [
        Row("processor time of one plan of 16 x 16, with its table", f"{one_s:.3f} s"),
        Row("starting the processes, and four engines", f"{starting:.1f} s"),
        Row(f"{len(grid)} engines on {cores} cores", f"{whole:.1f} s"),
        Row("plans a second, once started", f"{rate:.1f}", "6 or more", rate >= PLANS_A_SECOND),
        Row("share of what the cores can do", f"{share:.0%}", "85 % or more", share >= SHARE),
    ]


def on_a_cluster(job_file: Path, engines: int = CLUSTER_ENGINES) -> list[Row]:
    """The same work on this machine's processes and on a cluster of as many workers.

    Both without what it takes until they have loaded the program. On processes half is done before and half
    after, so that a machine that gets slower meanwhile is not laid at the cluster's door.
    """
    from distributed import LocalCluster

    grid, half = _grid(job_file, engines), _grid(job_file, engines // 2)
    cores = os.cpu_count() or 1
    starting = _seconds(_grid(job_file, 4), Here(cores))
    before = _seconds(half, Here(cores)) - starting
    made: Any = LocalCluster
    with made(n_workers=cores, threads_per_worker=1, dashboard_address=None, host="127.0.0.1") as cluster:
        workers = Cluster(cluster.scheduler_address)
        try:
            _seconds(_grid(job_file, 4), workers)
            there = _seconds(grid, workers)
        finally:
            workers.close()
    here = before + _seconds(half, Here(cores)) - starting
    more = 100.0 * (there / here - 1.0)
    return [
        Row(f"twice {len(half)} engines on {cores} processes, once started", f"{here:.0f} s"),
        Row(f"{len(grid)} on a cluster of {cores} workers, once started", f"{there:.0f} s"),
        Row("more on the cluster", f"{more:.1f} %", "10 % or less", more <= MORE_PERCENT),
    ]


def measurements(job_file: Path) -> tuple[tuple[str, Callable[[], list[Row]]], ...]:
    """Give what is measured, with its heading."""
    return (
        ("A fleet on this machine", lambda: two_cores(job_file)),
        ("A fleet on a cluster", lambda: on_a_cluster(job_file)),
    )


def main() -> None:
    parser = argparse.ArgumentParser(description="Measure a fleet.")
    parser.add_argument("--engines", type=int, help="so many in each measurement, in eights")
    asked = parser.parse_args().engines
    engines = None if asked is None else 8 * max(2, asked // 8)
    print(f"Load of the machine before the run: {os.getloadavg()[0]:.1f}")
    show("A fleet on this machine", two_cores(EXAMPLE, engines or ENGINES))
    show("A fleet on a cluster", on_a_cluster(EXAMPLE, engines or CLUSTER_ENGINES))


if __name__ == "__main__":
    main()
