"""Results of jobs, reckoned in the background, kept while they are wanted, and never saved.

A result belongs to two fingerprints, that of the job and that of the belief about the engine's constants:
the same facts under the same belief have the same plan. What takes longer than a page may
is a `Work` with its progress; it can be stopped, and whoever comes back finds it where it stands. One is
reckoned at a time, on all cores; the others stand in a queue of a set length. Work that nobody waits for
any more is dropped, whether its turn has come or not.
"""

from __future__ import annotations

import asyncio
import logging
import os
import threading
import time
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field
from typing import Protocol

from anyio import from_thread
from cachetools import LRUCache
from starlette.types import Receive

from sparkwright.check.result import HardwareResult
from sparkwright.cycle.belief import PRIOR, Belief
from sparkwright.errors import SparkwrightError
from sparkwright.job import Job
from sparkwright.plan.firmness import Mapper
from sparkwright.plan.hand import set_by_hand
from sparkwright.plan.planned_demand import check
from sparkwright.plan.planner import Progress, planned_without_hand
from sparkwright.plan.result import PlanResult
from sparkwright.plan.worth import Worth, worth_measuring

KEPT = 300
"""Results kept at a time; a choice, some 60 MB."""
MOST_WORKS = 40
"""Plans under way or in the queue; more are refused. A choice: the last one has its turn within a minute."""
MOST_WAITING = 40
"""Answers that wait for a plan at a time, each in a thread of its own; more are refused. A choice."""
WANTED_S = 30.0
"""So long after a page last asked for it a plan is still wanted, though no answer waits for it; a choice.
A page in sight asks each third of a second."""
RETRY_S = 5
"""After so long it is worth asking again; a choice."""

TOO_MANY = (
    f"{MOST_WORKS} plans are being worked out already, as many as wait here at a time. "
    f"Nothing was lost; ask again in {RETRY_S} seconds."
)
CLOSING = "The workbench is being stopped. What was saved is safe; ask again when it is open."


Key = tuple[str, str]
"""What a result belongs to: the fingerprints of a job and of a belief."""


@dataclass(frozen=True)
class Reckoned:
    """What the pages of one revision show."""

    plan: PlanResult
    check: HardwareResult
    without_hand: PlanResult
    """The plan before the cells set by hand were put in; what a change of them starts from."""
    worth: tuple[Worth, ...] = ()
    """What measuring each assumed fact is worth."""


class BusyError(Exception):
    """No more work is taken now."""


class HungUpError(Exception):
    """Whoever asked has hung up before the result was there."""


class StoppedError(Exception):
    """A person stopped the work."""


class UnwantedError(Exception):
    """Nobody waits for the work any more."""


@dataclass
class Work:
    """Reckoning under way, or how it ended without a result."""

    key: Key
    name: str
    done: int = 0
    total: int = 1
    stop_asked: bool = False
    refused: str = ""
    ended: bool = False
    waiting: int = 0
    """Answers that wait for it."""
    asked_for_s: float = float("-inf")
    """When a page last asked how far it is."""
    turn: Future[None] | None = None
    future: Future[Reckoned] = field(default_factory=Future)

    @property
    def percent(self) -> int:
        """How far it has come."""
        return 100 * self.done // max(self.total, 1)

    @property
    def wanted(self) -> bool:
        """Whether an answer waits for it, or a page has asked for it lately."""
        return self.waiting > 0 or time.monotonic() - self.asked_for_s < WANTED_S

    def progress(self, done: int, total: int) -> None:
        """Take note of how far the planner is; raises where it should stop.

        Parameters
        ----------
        done : int
            Cells that are planned.
        total : int
            Cells in all.
        """
        self.done, self.total = done, total
        if self.stop_asked:
            raise StoppedError
        if not self.wanted:
            raise UnwantedError


class Planner(Protocol):
    """What plans a job as if no cell were set by hand, and tells how far it is."""

    def __call__(self, job: Job, belief: Belief, /, *, run: Mapper, progress: Progress) -> PlanResult:
        """Give the plan, its rows worked on by `run`; `progress` raises where the work should stop."""


class Reckoner:
    """Reckons one job at a time, on all cores, and keeps the results."""

    def __init__(
        self,
        found: Callable[[str, Reckoned], None] | None = None,
        planner: Planner = planned_without_hand,
    ) -> None:
        """Begin with nothing kept; `found` is called with each new result and its fingerprint."""
        self._found = found
        self._planner = planner
        self._kept: LRUCache[Key, Reckoned] = LRUCache(KEPT)
        self._works: dict[Key, Work] = {}
        self._lock = threading.Lock()
        self._pool = ThreadPoolExecutor(max_workers=1, thread_name_prefix="reckoning")
        self._cores = ThreadPoolExecutor(max_workers=os.cpu_count() or 1, thread_name_prefix="core")
        self._closing = False

    def turn_away(self) -> None:
        """Take no more work, stop what is under way, and send away whoever waits."""
        with self._lock:
            self._closing = True
            works = [work for work in self._works.values() if not work.ended]
        for work in works:
            work.stop_asked = True
            self._end(work, BusyError(CLOSING))

    def close(self) -> None:
        """Stop what is under way and let go."""
        self.turn_away()
        self._pool.shutdown(wait=True, cancel_futures=True)
        self._cores.shutdown(wait=True, cancel_futures=True)

    def kept(self, fingerprint: str, belief: Belief = PRIOR) -> Reckoned | None:
        """Give the result of a job's fingerprint if it is there.

        Parameters
        ----------
        fingerprint : str
            Fingerprint of the job.
        belief : Belief, optional
            What is believed of the engine.
        """
        key = (fingerprint, belief.fingerprint)
        with self._lock:
            return self._kept.get(key)

    def work(self, fingerprint: str, belief: Belief = PRIOR) -> Work | None:
        """Give the work on a result that isn't there yet; keeps it wanted for a while.

        Parameters
        ----------
        fingerprint : str
            Fingerprint of the job.
        belief : Belief, optional
            What is believed of the engine.
        """
        with self._lock:
            work = self._works.get((fingerprint, belief.fingerprint))
            if work is not None:
                work.asked_for_s = time.monotonic()
            return work

    def begin(self, job: Job, belief: Belief = PRIOR) -> Work:
        """Begin to reckon a job, or join what has begun; anew where it was stopped or refused.

        Parameters
        ----------
        job : Job
            The job.
        belief : Belief, optional
            What is believed of the engine.

        Raises
        ------
        BusyError
            If the queue is full, or the workbench is being stopped.
        """
        with self._lock:
            work = self._joined(job, belief)
            work.asked_for_s = time.monotonic()
            return work

    def _joined(self, job: Job, belief: Belief) -> Work:
        key = (job.fingerprint, belief.fingerprint)
        work = self._works.get(key)
        if work is not None and not work.ended:
            return work
        work = Work(key, job.name)
        kept = self._kept.get(key)
        if kept is not None:
            work.future.set_result(kept)
            work.ended = True
            return work
        if self._closing:
            raise BusyError(CLOSING)
        if sum(not each.ended for each in self._works.values()) >= MOST_WORKS:
            raise BusyError(TOO_MANY)
        self._forget_ended()
        self._works[key] = work
        work.turn = self._pool.submit(self._run, job, belief, work)
        return work

    def _forget_ended(self) -> None:
        """Let go of the oldest of what was stopped or refused."""
        ended = [key for key, work in self._works.items() if work.ended]
        for key in ended[: max(0, len(ended) - KEPT)]:
            del self._works[key]

    def stop(self, fingerprint: str, belief: Belief = PRIOR) -> None:
        """Ask the work on a result to stop.

        Parameters
        ----------
        fingerprint : str
            Fingerprint of the job.
        belief : Belief, optional
            What is believed of the engine.
        """
        work = self.work(fingerprint, belief)
        if work is not None:
            work.stop_asked = True

    def reckon(self, job: Job, receive: Receive, belief: Belief = PRIOR) -> Reckoned:
        """Give the result of a job, waiting for it in a thread that serves one request.

        Parameters
        ----------
        job : Job
            What to reckon.
        receive : callable
            What says that the person has hung up: the `receive` of the request (ASGI).
        belief : Belief, optional
            What is believed of the engine's constants; by default what the program believes of any engine.

        Raises
        ------
        SparkwrightError
            If the job can't be planned, or somebody stopped the work.
        BusyError
            If too many wait already, or the workbench is being stopped.
        HungUpError
            If the person hangs up first.
        """
        kept = self.kept(job.fingerprint, belief)
        if kept is not None:
            return kept
        work = self._waited_for(job, belief)
        try:
            if not from_thread.run(_ends_before_hanging_up, work.future, receive):
                raise HungUpError
        finally:
            self._leave(work)
        return work.future.result()

    def _waited_for(self, job: Job, belief: Belief) -> Work:
        with self._lock:
            if sum(each.waiting for each in self._works.values()) >= MOST_WAITING:
                raise BusyError(TOO_MANY)
            work = self._joined(job, belief)
            work.waiting += 1
            return work

    def _leave(self, work: Work) -> None:
        """Wait no longer; what nobody else wants leaves the queue, and what runs stops by itself."""
        with self._lock:
            work.waiting -= 1
            left = not work.ended and not work.wanted and work.turn is not None and work.turn.cancel()
            if left:
                self._forget(work)

    def _forget(self, work: Work) -> None:
        """Let go of work that nobody wants, so that whoever wants it later begins it anew."""
        work.ended = True
        if self._works.get(work.key) is work:
            del self._works[work.key]

    def _run(self, job: Job, belief: Belief, work: Work) -> None:
        try:
            work.progress(0, 1)
            without_hand = self._without_hand(job, belief, work)
            planned = set_by_hand(without_hand, job, belief)
            checked = check(job, planned, run=self._cores.map)
            found = Reckoned(planned, checked, without_hand, worth_measuring(job, belief))
        except UnwantedError:
            with self._lock:
                if work.wanted and not self._closing:  # somebody came back in this very moment
                    work.turn = self._pool.submit(self._run, job, belief, work)
                else:
                    self._forget(work)
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
                self._kept[work.key] = found
            self._tell(job.fingerprint, found)
            self._end(work, found)

    def _tell(self, fingerprint: str, found: Reckoned) -> None:
        """Tell of a result; whoever waits for it gets it, even if a full disk can't take the note."""
        try:
            if self._found is not None:
                self._found(fingerprint, found)
        except Exception:
            logging.getLogger(__name__).exception("noting how %s stands", fingerprint)

    def _without_hand(self, job: Job, belief: Belief, work: Work) -> PlanResult:
        """Give the long part of the work, kept from a job that differs only in its cells set by hand."""
        wanted = (job.without_hand().fingerprint, belief.fingerprint)
        with self._lock:
            kept = [each.without_hand for each in self._kept.values()]
        for planned in kept:
            if (planned.fingerprint, planned.belief_fingerprint) == wanted:
                return planned
        return self._planner(job, belief, run=self._cores.map, progress=work.progress)

    def _end(self, work: Work, outcome: Reckoned | Exception) -> None:
        """Give work its result, or what refused it; the first outcome stands."""
        with self._lock:
            if work.ended:
                return
            work.ended = True
            if isinstance(outcome, Reckoned):
                self._works.pop(work.key, None)
        if isinstance(outcome, Reckoned):
            work.future.set_result(outcome)
        else:
            work.future.set_exception(outcome)


async def _ends_before_hanging_up(future: Future[Reckoned], receive: Receive) -> bool:
    """Wait for a result, and whether the person hangs up first; the result stays whole for others."""
    loop, ended = asyncio.get_running_loop(), asyncio.Event()
    future.add_done_callback(lambda _: loop.call_soon_threadsafe(ended.set))
    either = [loop.create_task(ended.wait()), loop.create_task(_hung_up(receive))]
    try:
        await asyncio.wait(either, return_when=asyncio.FIRST_COMPLETED)
    finally:
        for task in either:
            task.cancel()
        await asyncio.gather(*either, return_exceptions=True)
    return ended.is_set()


async def _hung_up(receive: Receive) -> bool:
    while (await receive())["type"] != "http.disconnect":
        pass
    return True
