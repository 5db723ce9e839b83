"""Results of jobs, reckoned in the background, kept while they are wanted, and never saved.

A result belongs to a fingerprint: the same facts have the same plan. What takes longer than a page may
is a `Work` with its progress; it can be stopped, and whoever comes back finds it where it stands.
"""

from __future__ import annotations

import logging
import threading
from collections import OrderedDict
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field

from sparkwright.errors import SparkwrightError
from sparkwright.job import Job
from sparkwright.plan.hand import set_by_hand
from sparkwright.plan.hardware_result import HardwareResult
from sparkwright.plan.planned_demand import check
from sparkwright.plan.planner import planned_without_hand
from sparkwright.plan.result import PlanResult

KEPT = 300
"""Results kept at a time; a choice, some 60 MB."""


@dataclass(frozen=True)
class Reckoned:
    """What the pages of one revision show."""

    plan: PlanResult
    check: HardwareResult
    without_hand: PlanResult
    """The plan before the cells set by hand were put in; what a change of them starts from."""


class StoppedError(Exception):
    """A person stopped the work."""


@dataclass
class Work:
    """Reckoning under way, or how it ended without a result."""

    fingerprint: str
    name: str
    done: int = 0
    total: int = 1
    stop_asked: bool = False
    refused: str = ""
    ended: bool = False
    future: Future[Reckoned] = field(default_factory=Future)

    @property
    def percent(self) -> int:
        """How far it has come."""
        return 100 * self.done // max(self.total, 1)

    def progress(self, done: int, total: int) -> None:
        """Take note of how far the planner is; raises where it should stop."""
        self.done, self.total = done, total
        if self.stop_asked:
            raise StoppedError


class Reckoner:
    """Reckons one job at a time, on all cores, and keeps the results."""

    def __init__(self, found: Callable[[str, Reckoned], None] | None = None) -> None:
        """Begin with nothing kept; `found` is called with each new result and its fingerprint."""
        self._found = found
        self._kept: OrderedDict[str, Reckoned] = OrderedDict()
        self._works: dict[str, Work] = {}
        self._lock = threading.Lock()
        self._pool = ThreadPoolExecutor(max_workers=1, thread_name_prefix="reckoning")

    def close(self) -> None:
        """Stop what is under way and let go."""
        with self._lock:
            for work in self._works.values():
                work.stop_asked = True
        self._pool.shutdown(wait=True, cancel_futures=True)
        for work in self._works.values():
            if not work.ended:
                self._end(work, SparkwrightError("The workbench was closed before this was worked out."))

    def kept(self, fingerprint: str) -> Reckoned | None:
        """Give a result if it is there."""
        with self._lock:
            found = self._kept.get(fingerprint)
            if found is not None:
                self._kept.move_to_end(fingerprint)
            return found

    def work(self, fingerprint: str) -> Work | None:
        """Give the work on a result that isn't there yet."""
        with self._lock:
            return self._works.get(fingerprint)

    def begin(self, job: Job) -> Work:
        """Begin to reckon a job, or join what has begun; anew where it was stopped or refused."""
        fingerprint = job.fingerprint
        with self._lock:
            work = self._works.get(fingerprint)
            if work is not None and not work.ended:
                return work
            work = Work(fingerprint, job.name)
            kept = self._kept.get(fingerprint)
            if kept is not None:
                work.future.set_result(kept)
                work.ended = True
                return work
            self._forget_ended()
            self._works[fingerprint] = work
        self._pool.submit(self._run, job, work)
        return work

    def _forget_ended(self) -> None:
        """Let go of the oldest of what was stopped or refused."""
        ended = [fingerprint for fingerprint, work in self._works.items() if work.ended]
        for fingerprint in ended[: max(0, len(ended) - KEPT)]:
            del self._works[fingerprint]

    def stop(self, fingerprint: str) -> None:
        """Ask the work on a result to stop."""
        work = self.work(fingerprint)
        if work is not None:
            work.stop_asked = True

    def reckon(self, job: Job) -> Reckoned:
        """Give the result of a job, waiting for it.

        Raises
        ------
        SparkwrightError
            If the job can't be planned, or somebody stopped the work.
        """
        return self.kept(job.fingerprint) or self.begin(job).future.result()

    def _run(self, job: Job, work: Work) -> None:
        try:
            work.progress(0, 1)
            without_hand = self._without_hand(job, work)
            planned = set_by_hand(without_hand, job)
            found = Reckoned(planned, check(job, planned), without_hand)
        except StoppedError:
            work.refused = "Stopped. Nothing was lost; work it out again when you want it."
            self._end(work, SparkwrightError(work.refused))
        except SparkwrightError as refusal:
            work.refused = str(refusal)
            self._end(work, refusal)
        except Exception:
            logging.getLogger(__name__).exception("reckoning %s", job.fingerprint)
            work.refused = "This could not be worked out; the fault is ours and stands in the program's log."
            self._end(work, SparkwrightError(work.refused))
        else:
            with self._lock:
                self._kept[work.fingerprint] = found
                while len(self._kept) > KEPT:
                    self._kept.popitem(last=False)
                work.ended = True
                self._works.pop(work.fingerprint, None)
            self._tell(work.fingerprint, found)
            work.future.set_result(found)

    def _tell(self, fingerprint: str, found: Reckoned) -> None:
        """Tell of a result; whoever waits for it gets it, even if a full disk can't take the note."""
        try:
            if self._found is not None:
                self._found(fingerprint, found)
        except Exception:
            logging.getLogger(__name__).exception("noting how %s stands", fingerprint)

    def _without_hand(self, job: Job, work: Work) -> PlanResult:
        """Give the long part of the work, kept from a job that differs only in its cells set by hand."""
        wanted = job.without_hand().fingerprint
        with self._lock:
            kept = [each.without_hand for each in reversed(self._kept.values())]
        for planned in kept:
            if planned.fingerprint == wanted:
                return planned
        return planned_without_hand(job, progress=work.progress)

    @staticmethod
    def _end(work: Work, refusal: SparkwrightError) -> None:
        work.ended = True
        work.future.set_exception(refusal)
