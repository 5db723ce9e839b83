"""Who does the work of a fleet: processes of this machine, or the workers of a Dask cluster.

Work is a plain function of plain data, so that the answer is the same wherever it is done and in whatever
order. What brings its worker down is tried again alone; what does so twice is given up and named.
"""

from __future__ import annotations

import os
import signal
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, BrokenExecutor, Executor, Future, ProcessPoolExecutor, wait
from contextlib import suppress
from dataclasses import dataclass
from itertools import islice
from multiprocessing import get_context
from pathlib import Path
from typing import Any, Generic, Protocol, TypeVar
from urllib.parse import urlsplit

import sparkwright
from sparkwright.errors import Refusal
from sparkwright.fleet.build import build_of

Item = TypeVar("Item")
Result = TypeVar("Result")

AHEAD = 3
"""Pieces of work handed out for each worker, so that none waits while memory stays flat; a choice."""

LOOPBACK = ("localhost", "127.0.0.1", "::1")
SCHEDULER_SECONDS = 10
"""How long a cluster may take to answer; a choice."""


@dataclass(frozen=True)
class Lost:
    """Stands for the result of work that brought its worker down twice."""


class Workers(Protocol):
    """What a fleet is computed on."""

    @property
    def count(self) -> int:
        """How many work side by side."""

    def start(self) -> Executor:
        """Begin to work; done again after workers were lost."""


class Here:
    """Processes of this machine.

    Parameters
    ----------
    count : int, optional
        How many; by default one for each core.
    """

    def __init__(self, count: int | None = None) -> None:
        self._count = count or os.cpu_count() or 1

    @property
    def count(self) -> int:
        """How many work side by side."""
        return self._count

    def start(self) -> Executor:
        """Begin to work."""
        # Spawned, since a fork would take over locks that threads of this process may hold.
        return ProcessPoolExecutor(self._count, mp_context=get_context("spawn"), initializer=_leave_stopping)


def _leave_stopping() -> None:
    """Let Ctrl-C stop the program that asks, which then ends its workers."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


class Cluster:
    """The workers of a Dask cluster; they must run this very program.

    Parameters
    ----------
    address : str
        Of the scheduler: ``tls://host:port``, or ``tcp://`` on this machine.
    ca_file, cert_file, key_file : Path, optional
        What TLS needs: the authority's certificate, and this side's own with its key.

    Raises
    ------
    Refusal
        If the address is neither TLS nor this machine's, if nobody answers there, or a worker runs something
        else.
    """

    def __init__(
        self,
        address: str,
        ca_file: Path | None = None,
        cert_file: Path | None = None,
        key_file: Path | None = None,
    ) -> None:
        _require_safe(address)
        try:
            import distributed
        except ImportError:
            raise Refusal.at(
                "--cluster", address, "needs the extra `cluster`", "run: pip install 'sparkwright[cluster]'"
            ) from None
        files = {"ca": ca_file, "client_cert": cert_file, "client_key": key_file}
        tls = {f"tls_{name}{'_file' if name == 'ca' else ''}": str(at) for name, at in files.items() if at}
        dask: Any = distributed
        security = dask.Security(require_encryption=True, **tls) if address.startswith("tls://") else None
        try:
            self._client: Any = dask.Client(address, timeout=SCHEDULER_SECONDS, security=security)
        except (OSError, ValueError, RuntimeError) as problem:
            raise Refusal.at(
                "--cluster",
                address,
                "can't be reached",
                f"start its scheduler, look at address and certificates, and run the same again ({problem})",
            ) from None
        self._require_same_program()

    def _require_same_program(self) -> None:
        mine = _mine()
        found: dict[str, Any] = self._client.run(build_of, on_error="return")
        if not found:
            raise Refusal.at("--cluster", None, "has no workers", "start at least one and run the same again")
        for worker, theirs in sorted(found.items()):
            if theirs != mine:
                runs = theirs if isinstance(theirs, str) else "no Sparkwright that answers"
                raise Refusal.at(
                    f"worker {worker}",
                    runs,
                    f"must run {mine} as this side does",
                    f"install version {sparkwright.__version__} with the same packages on it",
                )

    @property
    def count(self) -> int:
        """How many work side by side."""
        threads: dict[str, int] = self._client.nthreads()
        return max(1, sum(threads.values()))

    def start(self) -> Executor:
        """Begin to work."""
        executor: Executor = self._client.get_executor()
        return executor

    def close(self) -> None:
        """Leave the cluster as it is."""
        self._client.close()


def _mine() -> str:
    return build_of()


def _require_safe(address: str) -> None:
    place = urlsplit(address if "://" in address else f"tcp://{address}")
    if place.scheme == "tls" or (place.scheme == "tcp" and place.hostname in LOOPBACK):
        return
    raise Refusal.at(
        "--cluster",
        address,
        "must begin with tls:// unless it is this machine's",
        "what goes to a cluster is run there, and what comes back is believed: nobody may write between",
    )


class _Handed(Generic[Item]):
    """What is under way, by its future."""

    def __init__(self) -> None:
        self.items: dict[Future[Any], tuple[int, Item]] = {}

    def hand(self, executor: Executor, work: Callable[[Item], Any], number: int, item: Item) -> None:
        self.items[executor.submit(work, item)] = (number, item)

    def all_back(self) -> list[tuple[int, Item]]:
        back, self.items = sorted(self.items.values(), key=lambda each: each[0]), {}
        return back


def spread(
    workers: Workers, work: Callable[[Item], Result], items: Iterable[tuple[int, Item]]
) -> Iterator[tuple[int, Result | Lost]]:
    """Run work over numbered items and give each result with its number, as they come.

    Parameters
    ----------
    workers : Workers
        Who does it.
    work : callable
        A function of one item that can be sent to another process, and raises nothing.
    items : iterable of (int, item)
        Taken only as workers get free.

    Yields
    ------
    tuple of (int, result)
        `Lost` where the work brought its worker down twice.
    """
    waiting, handed = iter(items), _Handed[Item]()
    executor = workers.start()
    try:
        while True:
            for number, item in islice(waiting, AHEAD * workers.count - len(handed.items)):
                handed.hand(executor, work, number, item)
            if not handed.items:
                return
            done, _ = wait(handed.items, return_when=FIRST_COMPLETED)
            broken = False
            for future in done:
                number, item = handed.items[future]
                found = _result(future)
                if found is None:
                    broken = True
                    continue
                del handed.items[future]
                yield number, found[0]
            if broken:
                executor.shutdown(wait=False)
                yield from _one_by_one(workers, work, handed.all_back())
                executor = workers.start()
    finally:
        for future in handed.items:
            future.cancel()
        executor.shutdown(wait=True)


def _result(future: Future[Any]) -> tuple[Any] | None:
    """Give the result in a tuple; None where the worker is gone."""
    with suppress(BrokenExecutor):
        try:
            return (future.result(),)
        except Exception as lost:
            # A cluster gives work to other workers by itself and tells of it only when several are gone.
            if type(lost).__name__ == "KilledWorker":
                return (Lost(),)
            raise
    return None


def _one_by_one(
    workers: Workers, work: Callable[[Item], Result], items: Iterable[tuple[int, Item]]
) -> Iterator[tuple[int, Result | Lost]]:
    """Try again, with nothing else beside each, what was under way when workers were lost."""
    executor = workers.start()
    try:
        for number, item in items:
            found = _result(executor.submit(work, item))
            yield number, Lost() if found is None else found[0]
            if found is None:
                executor.shutdown(wait=False)
                executor = workers.start()
    finally:
        executor.shutdown(wait=True)
