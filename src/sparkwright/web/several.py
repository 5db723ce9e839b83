"""Several processes behind one address: each serves the same shop, and one that falls is begun anew.

They share the listening socket, so that whoever is free takes the next connection; sign-ins, guesses and all
that is kept stand in the store. They end with the process that began them, also where that is killed. Limits
on connections and the queue of plans hold in each process by itself.
"""

from __future__ import annotations

import logging
import os
import signal
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from types import FrameType
from typing import NoReturn

from sparkwright.errors import Refusal

MOST = 64
ENDING = {signal.SIGINT, signal.SIGTERM}
RESTED_S = 1.0
"""A process that fell is begun anew after so long, so that one which can't begin doesn't burn the machine."""

_LOG = logging.getLogger(__name__)


def require_possible(count: int) -> None:
    """Refuse a number of processes that can't be had.

    Parameters
    ----------
    count : int
        How many processes are asked for.

    Raises
    ------
    Refusal
        If it is none, too many, or this system can't part a process in two.
    """
    if not 1 <= count <= MOST:
        raise Refusal.at(
            "--workers", count, f"must be 1 to {MOST}", "as many as the machine has cores is usual"
        )
    if count > 1 and not hasattr(os, "fork"):
        raise Refusal.at("--workers", count, "must be 1 on this system", "it can't share one socket")


def keep_serving(count: int, serve_one: Callable[[], None], begun: Callable[[], None]) -> None:
    """Run as many processes that serve, until this one is told to stop; then stop them and wait.

    Parameters
    ----------
    count : int
        How many.
    serve_one : callable
        Serves until it gets SIGINT or SIGTERM; called in each process, where nothing is open yet but the
        socket.
    begun : callable
        Called once all of them run, in this process.
    """
    family = _Family(serve_one)
    for told in ENDING:
        signal.signal(told, family.stop)
    for _ in range(count):
        family.begin_one()
    begun()
    family.tend()


class _Family:
    def __init__(self, serve_one: Callable[[], None]) -> None:
        self._serve_one = serve_one
        self._running: set[int] = set()
        self._stopping = False
        self._alive, self._held_open = os.pipe()

    def begin_one(self) -> None:
        # A signal waits until the child is known here, and until it is the child's own there.
        signal.pthread_sigmask(signal.SIG_BLOCK, ENDING)
        number = os.fork()
        if number == 0:
            self._serve()
        self._running.add(number)
        signal.pthread_sigmask(signal.SIG_UNBLOCK, ENDING)
        if self._stopping:
            _tell_to_end(number)

    def _serve(self) -> NoReturn:
        code = 1
        try:
            signal.signal(signal.SIGTERM, signal.SIG_DFL)
            signal.signal(signal.SIGINT, signal.default_int_handler)
            signal.pthread_sigmask(signal.SIG_UNBLOCK, ENDING)
            os.close(self._held_open)
            threading.Thread(target=self._end_with_parent, daemon=True).start()
            self._serve_one()
            code = 0
        except KeyboardInterrupt:
            code = 0
        except Exception:
            _LOG.exception("a process of the workbench can't serve")
        finally:
            os._exit(code)  # what the parent has begun is the parent's to end

    def _end_with_parent(self) -> None:
        """Wait until the parent is gone, however it went: then nothing is left that holds its end open."""
        os.read(self._alive, 1)
        _tell_to_end(os.getpid())

    def stop(self, told: int, _: FrameType | None) -> None:
        self._stopping = True
        for number in self._running:
            _tell_to_end(number)

    def tend(self) -> None:
        while self._running:
            number, status = os.wait()
            self._running.discard(number)
            if self._stopping:
                continue
            _LOG.warning("a process of the workbench ended (%s) and is begun anew", status)
            time.sleep(RESTED_S)
            if not self._stopping:
                self.begin_one()


def _tell_to_end(number: int) -> None:
    with suppress(ProcessLookupError):  # it has ended by itself
        os.kill(number, signal.SIGTERM)
