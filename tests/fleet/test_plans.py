"""Many engines planned: the same maps as one by one, going on after a stop, and never half a file."""

from __future__ import annotations

import errno
import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import numpy as np
import polars
import pytest

from fleet_jobs import InThisProcess, fleet_of, small_job
from fleet_work import planned_or_dead
from planning_jobs import EXAMPLES
from sparkwright.cli import REFUSED, SEE, main
from sparkwright.errors import Refusal, SparkwrightError
from sparkwright.fleet import plans
from sparkwright.fleet.members import files_of
from sparkwright.fleet.parts import MANIFEST, Parts
from sparkwright.fleet.plans import plan_fleet
from sparkwright.fleet.workers import Here
from sparkwright.job import Job
from sparkwright.plan.planner import plan


def test_every_map_is_the_one_that_the_plan_alone_makes(tmp_path: Path) -> None:
    jobs = fleet_of(tmp_path / "jobs", 5)
    result = plan_fleet(files_of([jobs]), tmp_path / "out", Here(2))
    assert (result.engines, result.planned, result.refused) == (5, 5, ())
    cells = polars.read_parquet(tmp_path / "out" / "cells-*.parquet")
    for number, path in enumerate(sorted(jobs.glob("*.toml"))):
        alone = plan(Job.load(path)).cells.spark_map.advance_deg.ravel()
        there = cells.filter(polars.col("engine") == number)["advance_deg"].to_numpy()
        np.testing.assert_array_equal(there, alone)


def test_the_number_of_processes_moves_no_byte(tmp_path: Path) -> None:
    jobs = files_of([fleet_of(tmp_path / "jobs", 6)])
    for processes in (1, 3):
        plan_fleet(jobs, tmp_path / f"out{processes}", Here(processes))
    names = sorted(each.name for each in (tmp_path / "out1").iterdir())
    assert names == sorted(each.name for each in (tmp_path / "out3").iterdir())
    for name in names:
        assert (tmp_path / "out1" / name).read_bytes() == (tmp_path / "out3" / name).read_bytes(), name


def test_broken_jobs_are_told_and_the_rest_is_planned(tmp_path: Path) -> None:
    jobs = fleet_of(tmp_path / "jobs", 4)
    (jobs / "broken.toml").write_text("engine.bore = 3")
    (jobs / "no-text.toml").write_bytes(b"\xff\xfe\x00")
    result = plan_fleet(files_of([jobs]), tmp_path / "out", InThisProcess())
    assert (result.planned, result.refused_count) == (4, 2)
    said = dict(result.refused)
    assert "name (not given)" in said[str(jobs / "broken.toml")]
    assert (
        said[str(jobs / "no-text.toml")] == f"{jobs / 'no-text.toml'}: can't be read (it is no text in UTF-8)"
    )


def test_a_job_that_brings_its_worker_down_is_told_and_the_rest_is_planned(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    jobs = fleet_of(tmp_path / "jobs", 4)
    (jobs / "poison.toml").write_text(small_job().replace("{name}", "Poison").replace("{ron}", "90"))
    monkeypatch.setattr(plans, "planned", planned_or_dead)
    result = plan_fleet(files_of([jobs]), tmp_path / "out", Here(2))
    assert result.planned == 4
    assert result.refused == (
        (str(jobs / "poison.toml"), "this job brought its worker down twice and was given up"),
    )


def test_a_stopped_run_goes_on_where_it_was(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(plans, "ENGINES_A_PART", 2)
    jobs = files_of([fleet_of(tmp_path / "jobs", 8)])

    class StopError(Exception):
        pass

    def stop(done: int, total: int) -> None:
        if done == 5:
            raise StopError

    with pytest.raises(StopError):
        plan_fleet(jobs, tmp_path / "out", InThisProcess(), progress=stop)
    manifest = json.loads((tmp_path / "out" / MANIFEST).read_text())
    assert manifest["whole"] is False
    before = {name: (tmp_path / "out" / name).stat().st_mtime_ns for name in os.listdir(tmp_path / "out")}
    result = plan_fleet(jobs, tmp_path / "out", InThisProcess())
    assert 2 <= result.already <= 6
    assert result.planned == 8
    assert json.loads((tmp_path / "out" / MANIFEST).read_text())["whole"] is True
    for name, when in before.items():
        if name != MANIFEST:
            assert (tmp_path / "out" / name).stat().st_mtime_ns == when, f"{name} was made again"
    plan_fleet(jobs, tmp_path / "at-once", InThisProcess())
    assert (tmp_path / "out" / MANIFEST).read_bytes() == (tmp_path / "at-once" / MANIFEST).read_bytes()


def test_a_part_that_was_torn_is_made_again(tmp_path: Path) -> None:
    jobs = files_of([fleet_of(tmp_path / "jobs", 2)])
    plan_fleet(jobs, tmp_path / "out", InThisProcess())
    part = tmp_path / "out" / "cells-000000.parquet"
    whole = part.read_bytes()
    part.write_bytes(whole[: len(whole) // 2])
    assert plan_fleet(jobs, tmp_path / "out", InThisProcess()).already == 0
    assert part.read_bytes() == whole


def test_other_jobs_do_not_go_into_the_same_folder(tmp_path: Path) -> None:
    jobs = fleet_of(tmp_path / "jobs", 2)
    plan_fleet(files_of([jobs]), tmp_path / "out", InThisProcess())
    (jobs / "engine-000.toml").write_text(small_job().replace("{name}", "Other").replace("{ron}", "97"))
    with pytest.raises(Refusal, match="holds results made for other jobs or draws; name another folder"):
        plan_fleet(files_of([jobs]), tmp_path / "out", InThisProcess())
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "letter.txt").write_text("dear")
    with pytest.raises(Refusal, match=r"must be empty or hold this fleet, and has letter\.txt"):
        plan_fleet(files_of([jobs]), tmp_path / "full", InThisProcess())


def test_a_full_disk_is_told_and_leaves_no_file_that_looks_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    parts = Parts(tmp_path / "out", "plan", "x", 2, 1)
    parts.put(0, {"cells": {"engine": [0]}})

    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(SparkwrightError) as refusal:
        parts.put(1, {"cells": {"engine": [1]}})
    assert "can't be written (no space left on device)" in str(refusal.value)
    assert "run the same again: 1 of 2 stand and are kept" in str(refusal.value)
    assert sorted(each.name for each in (tmp_path / "out").iterdir()) == ["cells-000000.parquet", MANIFEST]


@pytest.mark.proof
def test_a_run_that_is_killed_goes_on_to_the_same_tables(tmp_path: Path) -> None:
    jobs = fleet_of(tmp_path / "jobs", 70)
    command = [
        sys.executable,
        "-m",
        "sparkwright.cli",
        "fleet",
        "plan",
        str(jobs),
        "--to",
        str(tmp_path / "out"),
    ]
    begun = subprocess.Popen(
        command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True
    )
    first = tmp_path / "out" / "engines-000000.parquet"
    for _ in range(600):
        if first.exists() or begun.poll() is not None:
            break
        time.sleep(0.05)
    os.killpg(begun.pid, signal.SIGKILL)
    begun.wait()
    result = plan_fleet(files_of([jobs]), tmp_path / "out", InThisProcess())
    assert result.planned == 70
    plan_fleet(files_of([jobs]), tmp_path / "at-once", InThisProcess())
    for each in (tmp_path / "at-once").iterdir():
        assert (tmp_path / "out" / each.name).read_bytes() == each.read_bytes()


def test_the_command_says_how_many_have_a_map_and_which_have_none(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    jobs = fleet_of(tmp_path / "jobs", 2)
    (jobs / "broken.toml").write_text("engine.bore = 3")
    asked = ["fleet", "plan", str(jobs), "--to", str(tmp_path / "out"), "--processes", "1"]
    assert main(asked) == SEE
    said = capsys.readouterr().out
    assert "2 of 3 engines are planned" in " ".join(said.split())
    assert "1 has no map" in said
    assert main([*asked, "--json"]) == SEE
    results: dict[str, Any] = json.loads(capsys.readouterr().out)["results"]
    assert (results["engines"], results["already"], results["refused_count"]) == (3, 3, 1)


def test_what_the_command_cannot_use_is_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    to = ["--to", str(tmp_path / "out")]
    for asked, sentence in (
        (["fleet", "plan", *to], "JOB... (not given): give job files or folders, or else --grid FILE"),
        (
            ["fleet", "plan", "x.toml", "--grid", "g.toml", *to],
            "give job files or folders, or else --grid FILE",
        ),
        (["fleet", "plan", "x.toml", *to], "x.toml: is not there"),
        (["fleet", "plan", str(EXAMPLES), *to, "--ca", "a.pem"], "belong to a cluster; give --cluster too"),
        (
            ["fleet", "plan", str(EXAMPLES), *to, "--cluster", "tls://h:1", "--processes", "2"],
            "is for this machine; a cluster has its own workers",
        ),
    ):
        assert main(asked) == REFUSED
        assert sentence in capsys.readouterr().err
