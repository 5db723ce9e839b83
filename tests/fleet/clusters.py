"""A cluster for tests: a scheduler and its workers, each a process that a test may kill."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

BEGIN_SECONDS = 60.0
HERE = Path(__file__).parent


@dataclass
class Processes:
    """A scheduler and workers without a nanny: who is killed stays away."""

    folder: Path
    address: str = ""
    scheduler: subprocess.Popen[bytes] = field(init=False)
    workers: list[subprocess.Popen[bytes]] = field(default_factory=list)

    def begin(self, program: str, *arguments: str) -> subprocess.Popen[bytes]:
        """Begin a process of the cluster, which finds the work of these tests and writes its log here."""
        path = os.pathsep.join((str(HERE), str(HERE.parent)))
        with (self.folder / f"{program}.log").open("ab") as log:
            return subprocess.Popen(
                [sys.executable, "-m", f"distributed.cli.{program}", "--host", "127.0.0.1", *arguments],
                env={**os.environ, "PYTHONPATH": path},
                stdout=log,
                stderr=log,
            )

    def begin_scheduler(self) -> None:
        told = self.folder / "scheduler.json"
        told.unlink(missing_ok=True)
        self.scheduler = self.begin(
            "dask_scheduler", "--port", "0", "--no-dashboard", "--scheduler-file", str(told)
        )
        until = time.monotonic() + BEGIN_SECONDS
        while time.monotonic() < until:
            try:
                self.address = json.loads(told.read_text())["address"]
                return
            except (OSError, ValueError):
                time.sleep(0.05)
        raise TimeoutError((self.folder / "dask_scheduler.log").read_text())

    def begin_workers(self, count: int) -> None:
        options = ("--nthreads", "1", "--no-nanny", "--no-dashboard")
        place = ("--local-directory", str(self.folder))
        self.workers += [self.begin("dask_worker", self.address, *options, *place) for _ in range(count)]

    def end(self) -> None:
        for each in (*self.workers, self.scheduler):
            each.kill()
        for each in (*self.workers, self.scheduler):
            each.wait()


@contextmanager
def cluster_of(folder: Path, workers: int) -> Iterator[Processes]:
    """Run a cluster; what it is begun with is there when its workers have registered."""
    processes = Processes(folder)
    processes.begin_scheduler()
    try:
        processes.begin_workers(workers)
        until = time.monotonic() + BEGIN_SECONDS
        registered = folder / "dask_worker.log"
        while registered.read_text().count("Registered to") < workers:
            if time.monotonic() > until:
                raise TimeoutError(registered.read_text())
            time.sleep(0.05)
        yield processes
    finally:
        processes.end()
