"""What reading a drive costs: this program's command against the bare scan and aggregation of two engines.

Each run is a process of its own, so that its memory is its own; rivals take turns. ``python
benchmarks/drives.py CASE FILE`` runs one.
"""

from __future__ import annotations

import json
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from rows import Row

JOB = Path(__file__).resolve().parent.parent / "examples" / "pump-house-v8.toml"
ROWS_A_MB = 14_600
CHANNELS = (
    "tps",
    "advance",
    "lambda",
    "coolant",
    "intake",
    "battery",
    "dwell",
    "knock",
    "exhaust",
    "rpm",
    "map",
)
CASES = ("sparkwright", "polars", "polars with quartiles", "duckdb", "duckdb with quartiles")
BARE, ASKED = "polars", "polars with quartiles"
"""The engine used: its scan with counts and means, and with all that a cell is asked for."""
MOST_TIMES, MOST_MB = 1.5, 1024
PACKAGES = {"polars": ("polars", "_polars_runtime_32"), "duckdb": ("duckdb", "_duckdb.cpython*")}


def write_drive(path: Path, megabytes: float) -> None:
    """Write an invented drive of twelve columns at 20 rows a second."""
    import polars as pl

    count = int(ROWS_A_MB * megabytes)
    rng = np.random.default_rng(1)
    time_s = np.arange(count) * 0.05
    rpm = 2500 + 1500 * np.sin(time_s / 30) + rng.normal(0, 20, count)
    kpa = 60 + 25 * np.sin(time_s / 11) + rng.normal(0, 1, count)
    columns = {
        "time": time_s.round(3),
        "rpm": rpm.round(0),
        "map": kpa.round(1),
        "tps": (kpa - 20).round(1),
        "advance": (30 - kpa / 8 + rng.normal(0, 0.3, count)).round(1),
        "lambda": (1 + rng.normal(0, 0.02, count)).round(3),
        "coolant": 85.0 + rng.integers(0, 3, count),
        "intake": 30.0 + rng.integers(0, 3, count),
        "battery": (13.8 + rng.normal(0, 0.1, count)).round(2),
        "dwell": (3 + rng.normal(0, 0.05, count)).round(2),
        "knock": (rng.normal(1, 0.2, count) ** 2).round(3),
        "exhaust": (700 + rng.normal(0, 10, count)).round(0),
    }
    pl.DataFrame(columns).write_csv(path)


def run(case: str, path: str) -> None:
    """Run one case in this process and print what it took."""
    begun, worked = time.perf_counter(), time.process_time()
    if case == "sparkwright":
        from sparkwright.drive.drives import drive_of
        from sparkwright.job import Job

        assert drive_of(Job.load(JOB), [Path(path)]).rows
    elif case.startswith("polars"):
        _polars(path, "quartiles" in case)
    else:
        _duckdb(path, "quartiles" in case)
    used_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(json.dumps([time.perf_counter() - begun, time.process_time() - worked, used_mb]))


def _polars(path: str, quartiles: bool) -> None:
    import polars as pl

    column = ((pl.col("rpm") - 500) / 400).round().clip(0, 15).cast(pl.Int16)
    row = ((pl.col("map") - 20) / 6).round().clip(0, 15).cast(pl.Int16)
    wanted = [pl.len(), *(pl.col(name).mean().name.suffix(" mean") for name in CHANNELS)]
    if quartiles:
        wanted += [
            pl.col(name).quantile(q, "linear").name.suffix(f" {q}")
            for name in CHANNELS
            for q in (0.25, 0.5, 0.75)
        ]
    scan = pl.scan_csv(path).filter(pl.col("rpm") > 400).with_columns(column=column, row=row)
    scan.group_by("column", "row").agg(wanted).collect(engine="streaming")


def _duckdb(path: str, quartiles: bool) -> None:
    import duckdb

    wanted = [f'avg("{name}")' for name in CHANNELS]
    if quartiles:
        wanted += [f'quantile_cont("{name}", [0.25, 0.5, 0.75])' for name in CHANNELS]
    found = duckdb.sql(
        f"select round((rpm - 500) / 400), round((map - 20) / 6), count(*), {', '.join(wanted)} "
        f"from read_csv('{path}') where rpm > 400 group by 1, 2"
    )
    assert found is not None
    found.fetchall()


def installed_mb(package: str) -> float:
    """Room that a package takes once installed [MB]."""
    site = Path(np.__file__).parent.parent
    places = [place for pattern in PACKAGES[package] for place in site.glob(pattern)]
    files = [each for place in places for each in ([place] if place.is_file() else place.rglob("*"))]
    return sum(each.stat().st_size for each in files if each.is_file()) / 1e6


def drives(sizes_mb: tuple[float, ...], turns: int) -> list[Row]:
    """Measure all cases at some sizes; the best of the turns counts."""
    rows = [Row(f"{name}, installed", f"{installed_mb(name):.0f} MB") for name in PACKAGES]
    with tempfile.TemporaryDirectory() as folder:
        for size in sizes_mb:
            path = Path(folder) / f"{size:g}.csv"
            write_drive(path, size)
            best = {case: [float("inf")] * 3 for case in CASES}
            for _ in range(turns):
                for case in CASES:
                    command = [sys.executable, __file__, case, str(path)]
                    done = subprocess.run(command, capture_output=True, text=True, check=True)
                    best[case] = [min(pair) for pair in zip(best[case], json.loads(done.stdout), strict=True)]
            for case, (clock_s, worked_s, used_mb) in best.items():
                rows.append(
                    Row(f"{size:g} MB, {case}", f"{clock_s:.2f} s, {worked_s:.2f} s worked, {used_mb:.0f} MB")
                )
            bare, asked = (best["sparkwright"][0] / best[case][0] for case in (BARE, ASKED))
            large = size >= 1000
            rows.append(Row(f"{size:g} MB: this program over counts and means alone", f"{bare:.2f}", ""))
            rows.append(
                Row(
                    f"{size:g} MB: this program over the same aggregation",
                    f"{asked:.2f}",
                    f"{MOST_TIMES} or less" if large else "",
                    asked <= MOST_TIMES if large else None,
                )
            )
            used = best["sparkwright"][2]
            rows.append(Row(f"{size:g} MB: most memory", f"{used:.0f} MB", f"{MOST_MB} MB", used <= MOST_MB))
            path.unlink()
    return rows


if __name__ == "__main__":
    run(sys.argv[1], sys.argv[2])
