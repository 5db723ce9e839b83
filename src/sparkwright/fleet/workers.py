"""Who does the work of a fleet: processes of this machine, or the workers of a Dask cluster.

Work is a plain function of plain data, so that the answer is the same wherever it is done and in whatever
order. What brings its worker down is tried again alone; what does so twice is given up and named.
"""

from __future__ import annotations

import logging
import os
import signal
from collections.abc import Callable, Collection, Iterable, Iterator
from concurrent.futures import (
    FIRST_COMPLETED,
    BrokenExecutor,
    CancelledError,
    Executor,
    Future,
    ProcessPoolExecutor,
    wait,
)
from dataclasses import dataclass
from itertools import islice
from math import inf
from multiprocessing import get_context
from pathlib import Path
from time import monotonic
from typing import Any, Protocol, TypeVar
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

NO_WORKER_SECONDS = 60
"""How long a cluster may be without any worker; a choice: one that is begun anew is there sooner."""

LOOK_SECONDS = 1.0
"""How often somebody who waits looks whether anybody still works; a choice."""

GOES_ON = "start it again and run the same command: it goes on from the parts that stand"


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

    def require_alive(self) -> None:
        """Refuse to wait any longer where nobody is left to work."""


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

    def require_alive(self) -> None:
        """Refuse nothing: a process that falls breaks its executor, and nobody waits."""


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
        _silence_log()
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
        self._address = address
        self._threads, self._looked, self._last_seen = 0, -inf, monotonic()
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
        self._look()
        return max(1, self._threads)

    def _look(self) -> None:
        """Ask the scheduler who works, but not for each piece of work anew."""
        now = monotonic()
        if now - self._looked < LOOK_SECONDS or self._client.status != "running":
            return
        threads: dict[str, int] = self._client.nthreads()
        self._threads, self._looked = sum(threads.values()), now
        if self._threads:
            self._last_seen = now

    def start(self) -> Executor:
        """Begin to work."""
        # Not pure: a piece that is tried again must not be answered with how it went the first time.
        executor: Executor = self._client.get_executor(pure=False)
        return executor

    def require_alive(self) -> None:
        """Refuse to wait any longer where nobody is left to work.

        Raises
        ------
        Refusal
            If the scheduler is gone, or has been without a worker for long.
        """
        if self._client.status != "running":
            raise Refusal.at("--cluster", self._address, "was lost in the middle", GOES_ON)
        self._look()
        if monotonic() - self._last_seen > NO_WORKER_SECONDS:
            raise Refusal.at("--cluster", self._address, "has lost its last worker", GOES_ON)

    def close(self) -> None:
        """Leave the cluster as it is."""
        self._client.close()


def _silence_log() -> None:
    """Keep Dask's log from a person: what it tells is told here by a refusal, without a traceback."""
    for name in ("distributed", "distributed.client", "tornado.application"):
        logging.getLogger(name).setLevel(logging.CRITICAL)


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
        `Lost` where the work brought its worker down again when nothing else was beside it.

    Raises
    ------
    Refusal
        If nobody is left to work.
    """
    waiting = iter(items)
    handed: dict[Future[Any], tuple[int, Item]] = {}
    suspected: list[tuple[int, Item]] = []
    executor = workers.start()
    try:
        while True:
            # Fewer may work than a moment ago, and more be handed out already than they are due.
            for number, item in islice(waiting, max(0, AHEAD * workers.count - len(handed))):
                handed[executor.submit(work, item)] = (number, item)
            if not handed:
                break
            broken = False
            for future in _done(workers, handed):
                found = _found(future)
                if isinstance(found, _Fell):
                    broken = broken or found.with_all
                    suspected.append(handed.pop(future))
                else:
                    number, _ = handed.pop(future)
                    yield number, found
            if broken:
                executor.shutdown(wait=False)
                suspected += handed.values()
                handed.clear()
                yield from _one_by_one(workers, work, suspected)
                suspected.clear()
                executor = workers.start()
    finally:
        for future in handed:
            future.cancel()
        executor.shutdown(wait=True)
    yield from _one_by_one(workers, work, suspected)


@dataclass(frozen=True)
class _Fell:
    """Stands for a result whose worker is gone; ``with_all`` where everything under way went too."""

    with_all: bool


def _done(workers: Workers, handed: Collection[Future[Any]]) -> set[Future[Any]]:
    """Wait until something is done, as long as anybody is there to do it."""
    while True:
        done, _ = wait(handed, timeout=LOOK_SECONDS, return_when=FIRST_COMPLETED)
        if done:
            return done
        workers.require_alive()


def _found(future: Future[Any]) -> Any:
    try:
        return future.result()
    except (BrokenExecutor, CancelledError):
        # Nothing is cancelled here that is still waited for: a scheduler was lost with all that it knew.
        return _Fell(with_all=True)
    except Exception as problem:
        # A cluster gives work to other workers by itself, and tells of what several fell over, with what
        # merely lay beside it.
        if type(problem).__name__ == "KilledWorker":
            return _Fell(with_all=False)
        raise


def _one_by_one(
    workers: Workers, work: Callable[[Item], Result], items: Collection[tuple[int, Item]]
) -> Iterator[tuple[int, Result | Lost]]:
    """Try again, with nothing else beside each, what was under way when workers were lost."""
    if not items:
        return
    executor = workers.start()
    try:
        for number, item in sorted(items, key=lambda each: each[0]):
            (done,) = _done(workers, (executor.submit(work, item),))
            found = _found(done)
            yield number, Lost() if isinstance(found, _Fell) else found
            if isinstance(found, _Fell):
                executor.shutdown(wait=False)
                executor = workers.start()
    finally:
        executor.shutdown(wait=True)
