"""Telling the store how far learning is, and asking it whether somebody wants it stopped."""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from sparkwright.errors import SparkwrightError
from sparkwright.plan.planner import Progress
from sparkwright.shop import LearningRun, LearningRuns, ShopError

Counting = Callable[[str], Progress]
"""Takes what is counted from now on, in words; gives what takes how far that has come."""

EACH_S = 0.5
"""How often the store is told and asked; what ends sooner is never written down. A choice."""

_LOG = logging.getLogger(__name__)


class StoppedError(SparkwrightError):
    """Learning was stopped by a person; nothing was kept or lost."""

    def __init__(self) -> None:
        super().__init__("Learning was stopped by somebody. Nothing was lost; ask for it again.")


@contextmanager
def told(runs: LearningRuns, fingerprint: str) -> Iterator[Counting]:
    """Tell of learning in every process while a block runs; gives what counts one thing after another.

    Counting raises `StoppedError` soon after a person has asked in any process for it to stop. A store that
    can't be used for a while stops nothing.

    Parameters
    ----------
    runs : LearningRuns
        Where it is told.
    fingerprint : str
        Fingerprint of the job.
    """
    run = _Run(runs, fingerprint)
    _under_way.add(run)
    teller = threading.Thread(target=run.keep_telling, name="learning is told", daemon=True)
    teller.start()
    try:
        yield run.counting
    finally:
        _under_way.discard(run)
        run.over.set()
        teller.join()


class _Run:
    def __init__(self, runs: LearningRuns, fingerprint: str) -> None:
        self._runs, self._fingerprint = runs, fingerprint
        self._far = LearningRun("", 0, 0)
        self.stop_asked = False
        self.over = threading.Event()

    def counting(self, what: str) -> Progress:
        def progress(done: int, total: int) -> None:
            self._far = LearningRun(what, done, total)
            if self.stop_asked:
                raise StoppedError

        progress(0, 0)
        return progress

    def keep_telling(self) -> None:
        number = None
        while not self.over.wait(EACH_S):
            try:
                if number is None:
                    number = self._runs.begin(self._fingerprint)
                if self._runs.tell(number, self._far):
                    self.stop_asked = True
            except ShopError as problem:
                _LOG.warning("how far learning is can't be told: %s", problem.on_this_machine)
        if number is not None:
            try:
                self._runs.end(number)
            except ShopError as problem:
                _LOG.warning("that learning has ended can't be told: %s", problem.on_this_machine)


_under_way: set[_Run] = set()
"""What is learned in this process now."""


def turn_away() -> None:
    """Stop what is learned in this process, so that nothing holds up its end."""
    for run in list(_under_way):
        run.stop_asked = True


def far_words(runs: LearningRuns, fingerprint: str) -> str:
    """Say in words how far learning has come; "" where nothing is being worked out for this job.

    Parameters
    ----------
    runs : LearningRuns
        Where it is told.
    fingerprint : str
        Fingerprint of the job.
    """
    run = runs.of(fingerprint)
    if run is None:
        return ""
    return f"{run.done} of {run.total} {run.what}" if run.total else "Learning ..."
