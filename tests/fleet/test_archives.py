"""An archive of drives, read file by file into tables."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import polars
import pytest

from fleet_jobs import InThisProcess
from planning_jobs import EXAMPLES
from sparkwright.cli import REFUSED, SEE, main
from sparkwright.drive.drives import drive_of
from sparkwright.errors import Refusal
from sparkwright.fleet.drives import files_in, read_archive
from sparkwright.fleet.workers import Here
from sparkwright.job import Job

JOB = EXAMPLES / "old-four.toml"


def archive(folder: Path, count: int) -> Path:
    """Write drives with an engine that wanders over its map; the numbers are drawn, and no engine's."""
    folder.mkdir()
    for number in range(count):
        draw = np.random.default_rng(number)
        rows = [
            f"{0.1 * i:.1f},{rpm:.0f},{kpa:.1f}"
            for i, (rpm, kpa) in enumerate(
                zip(draw.uniform(600, 4000, 300), draw.uniform(30, 100, 300), strict=True)
            )
        ]
        head = "Time (s),Engine speed (rpm),Manifold pressure (kPa)"
        (folder / f"drive-{number}.csv").write_text("\n".join([head, *rows]) + "\n")
    return folder


def test_every_file_is_what_it_is_when_read_alone(tmp_path: Path) -> None:
    job, paths = Job.load(JOB), files_in([archive(tmp_path / "drives", 3)])
    result = read_archive(job, paths, tmp_path / "out", Here(2))
    assert (result.files, result.read, result.rows) == (3, 3, 900)
    cells = polars.read_parquet(tmp_path / "out" / "cells-*.parquet")
    for number, path in enumerate(paths):
        alone = drive_of(job, [path])
        for channel in alone.channels:
            there = cells.filter((polars.col("file") == number) & (polars.col("channel") == channel.name))
            assert there["count"].to_list() == [each.count for each in channel.cells]
            assert there["q50"].to_list() == [each.q50 for each in channel.cells]


def test_the_share_of_a_cell_is_its_rows_over_all_running_ones(tmp_path: Path) -> None:
    paths = files_in([archive(tmp_path / "drives", 2)])
    result = read_archive(Job.load(JOB), paths, tmp_path / "out", InThisProcess())
    assert result.used[0].share_percent >= result.used[-1].share_percent
    cells = polars.read_parquet(tmp_path / "out" / "cells-*.parquet").filter(polars.col("quantity") == "rpm")
    first = result.used[0]
    rows = float(
        cells.filter((polars.col("rpm") == first.rpm) & (polars.col("kpa") == first.kpa))["count"].sum()
    )
    assert first.share_percent == pytest.approx(100.0 * rows / result.running_rows)


def test_a_file_that_is_no_drive_is_told_and_the_rest_is_read(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = archive(tmp_path / "drives", 2)
    (folder / "letter.txt").write_text("Dear driver, the engine runs well again.\n")
    asked = ["fleet", "drives", str(JOB), str(folder), "--to", str(tmp_path / "out")]
    assert main(asked) == SEE
    said = " ".join(capsys.readouterr().out.split())
    assert "2 of 3 drives are read, 600 running rows" in said
    assert "1 can't be read:" in said
    assert main([*asked, "--json"]) == SEE
    results = json.loads(capsys.readouterr().out)["results"]
    assert (results["already"], results["read"], results["refused_count"]) == (3, 2, 1)


def test_a_drive_that_changed_is_another_archive(tmp_path: Path) -> None:
    folder = archive(tmp_path / "drives", 1)
    read_archive(Job.load(JOB), files_in([folder]), tmp_path / "out", InThisProcess())
    (folder / "drive-0.csv").write_text("Time (s),Engine speed (rpm),Manifold pressure (kPa)\n0,900,40\n")
    with pytest.raises(Refusal, match="name another folder"):
        read_archive(Job.load(JOB), files_in([folder]), tmp_path / "out", InThisProcess())


def test_an_empty_archive_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "none").mkdir()
    for folder, sentence in (("none", "has no file in it"), ("gone", "is not there")):
        asked = ["fleet", "drives", str(JOB), str(tmp_path / folder), "--to", str(tmp_path / "out")]
        assert main(asked) == REFUSED
        assert f"{sentence}; name the folder of the drives" in capsys.readouterr().err
