"""A fleet on a cluster: the same to the last digit, whatever is lost in the middle."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import dask
import pytest
from distributed import LocalCluster

from clusters import cluster_of
from fleet_jobs import InThisProcess, fleet_of
from fleet_work import squared, squared_unless_poisoned
from sparkwright.errors import Refusal
from sparkwright.fleet import plans
from sparkwright.fleet.filling import Progress, fill
from sparkwright.fleet.members import files_of
from sparkwright.fleet.parts import MANIFEST, Columns, Parts
from sparkwright.fleet.plans import plan_fleet
from sparkwright.fleet.workers import Cluster, Lost, Workers, spread

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def local() -> Iterator[Any]:
    """Two workers with nannies, under a scheduler that gives work up when its first worker falls."""
    made: Any = LocalCluster  # it has no types
    with (
        dask.config.set({"distributed.scheduler.allowed-failures": 0}),
        made(n_workers=2, threads_per_worker=1, dashboard_address=None, host="127.0.0.1") as cluster,
    ):
        yield cluster


def test_a_cluster_gives_the_same_as_this_machine(local: Any) -> None:
    with closing(Cluster(local.scheduler_address)) as cluster:
        found = dict(spread(cluster, squared, enumerate(range(60))))
    assert found == {number: number * number for number in range(60)}


def test_a_worker_that_runs_another_build_is_named_with_what_to_install(
    local: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Sent by its name to the workers, which answer what they are; only this side is another build.
    monkeypatch.setattr("sparkwright.fleet.workers._mine", lambda: "sparkwright-9.9 (of tomorrow)")
    with pytest.raises(Refusal) as refusal:
        Cluster(local.scheduler_address)
    assert str(refusal.value).startswith("worker tcp://127.0.0.1:")
    assert "must run sparkwright-9.9 (of tomorrow) as this side does; install version" in str(refusal.value)


def test_a_poisoned_job_is_given_up_alone_and_not_with_what_lay_beside_it(local: Any) -> None:
    with closing(Cluster(local.scheduler_address)) as cluster:
        found = dict(spread(cluster, squared_unless_poisoned, enumerate(range(30))))
    assert found.pop(13) == Lost()
    assert found == {number: number * number for number in range(30) if number != 13}


def test_a_worker_of_the_cluster_killed_in_the_middle_costs_time_only(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(plans, "ENGINES_A_PART", 3)
    jobs = files_of([fleet_of(tmp_path / "jobs", 10)])
    with cluster_of(tmp_path, workers=2) as processes, closing(Cluster(processes.address)) as cluster:

        def kill(done: int, total: int) -> None:
            if done == 3:
                processes.workers[0].kill()

        result = plan_fleet(jobs, tmp_path / "there", cluster, progress=kill)
        assert processes.workers[0].wait() == -9
    assert (result.planned, result.refused) == (10, ())
    plan_fleet(jobs, tmp_path / "here", InThisProcess())
    names = sorted(each.name for each in (tmp_path / "here").iterdir())
    assert names == sorted(each.name for each in (tmp_path / "there").iterdir())
    for name in names:
        assert (tmp_path / "here" / name).read_bytes() == (tmp_path / "there" / name).read_bytes(), name


def squares(folder: Path, workers: Workers, kill: Progress | None = None) -> list[int]:
    """Fill a folder with the first squares, two in a part; gives what stands in it at the end."""
    parts = Parts(folder, "squares", "the first squares", 40, 2)

    def tables(found: list[tuple[int, int]]) -> dict[str, Columns]:
        return {"squares": {"square": [square for _, square in found]}}

    fill(parts, workers, squared, lambda number: number, lambda _: 0, tables, kill)
    return [int(each) for each in parts.read("squares")["square"]]


def test_a_lost_scheduler_is_named_and_another_one_goes_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    monkeypatch.setattr("sparkwright.fleet.workers.SCHEDULER_SECONDS", 2)
    out = tmp_path / "out"
    with cluster_of(tmp_path, workers=1) as processes, closing(Cluster(processes.address)) as cluster:

        def kill(done: int, total: int) -> None:
            if done == 9:
                processes.scheduler.kill()

        with pytest.raises(Refusal) as refusal:
            squares(out, cluster, kill)
    assert str(refusal.value) == (
        f"--cluster = {processes.address}: was lost in the middle; start it again and run the same command: "
        "it goes on from the parts that stand"
    )
    assert caplog.text == "", "its log would tell the same again, with a traceback"
    assert json.loads((out / MANIFEST).read_text())["whole"] is False
    told: list[int] = []
    assert squares(out, InThisProcess(), lambda done, total: told.append(done)) == [n * n for n in range(40)]
    assert 8 <= told[0] < 40, "what stood whole was made again, or nothing was missing"


def test_a_cluster_whose_last_worker_is_gone_is_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("sparkwright.fleet.workers.NO_WORKER_SECONDS", 1)
    with cluster_of(tmp_path, workers=1) as processes, closing(Cluster(processes.address)) as cluster:
        results = spread(cluster, squared, enumerate(range(1000)))
        next(results)
        processes.workers[0].kill()
        with pytest.raises(Refusal, match="has lost its last worker; start it again and run the same"):
            list(results)
