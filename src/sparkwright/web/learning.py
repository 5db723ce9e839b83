"""What pages and API show of what was measured: worked out one at a time, and remembered."""

from __future__ import annotations

import threading
from collections.abc import Hashable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import lru_cache

from cachetools import LRUCache, cached

from sparkwright.dyno.fits import DynoResult, dyno_of, fit_of
from sparkwright.dyno.hook_fit import SweepFit
from sparkwright.dyno.sweep import Sweep
from sparkwright.evidence.pulls import taught_by
from sparkwright.evidence.records import Record
from sparkwright.evidence.sweeps import LEARNED_FROM
from sparkwright.job import Job
from sparkwright.learn.against import Against, against_of
from sparkwright.learn.belief import LearnedBelief, belief_of
from sparkwright.learn.next_runs import NextResult, advances_at, next_of
from sparkwright.learn.result import LearnResult, evidence_of, learned_and_planned
from sparkwright.plan.physics import physics_of
from sparkwright.plan.planner import Progress
from sparkwright.plan.result import PlanResult
from sparkwright.shop import LearningRuns, Revision, Shop
from sparkwright.units import System
from sparkwright.web.learning_progress import Counting, told
from sparkwright.web.reckoning import BusyError
from sparkwright.words.measured import MeasuredTold, counted_at, measured_told

WAIT_S = 30.0
"""So long an answer waits for its turn before it is refused; a choice."""

_turn = threading.Lock()


@contextmanager
def _in_turn() -> Iterator[None]:
    if not _turn.acquire(timeout=WAIT_S):
        raise BusyError("Another engine is being learned just now. Nothing was lost; ask again in a moment.")
    try:
        yield
    finally:
        _turn.release()


@dataclass(frozen=True)
class Measured:
    """A job and everything that was measured on its engine; what is asked of it waits for its turn."""

    job: Job
    sweeps: tuple[Sweep, ...]
    runs: LearningRuns
    """Where it is told how far learning is."""

    def next_runs(self) -> NextResult:
        """Say what to measure next."""
        with self._in_turn() as counting:
            return self._next(counting)

    def advances_at(self, rpm: float, kpa: float) -> tuple[float, ...]:
        """Give the advances that may be run at a place.

        Parameters
        ----------
        rpm : float
            Speed of the place [rpm].
        kpa : float
            Load of the place [kPa absolute].
        """
        with _in_turn():
            return advances_at(self.job, _belief(self.job, self.sweeps), rpm, kpa)[0]

    def learned(self) -> tuple[LearnResult, PlanResult]:
        """Say what was learned, and give the plan made from it."""
        with self._in_turn() as counting:
            return self._learned(counting)

    def learned_and_next(self) -> tuple[LearnResult, PlanResult, NextResult]:
        """Say what was learned, give the plan made from it, and say what to measure next."""
        with self._in_turn() as counting:
            return *self._learned(counting), self._next(counting)

    def against(self) -> Against:
        """Hold what was measured against what was foretold."""
        with _in_turn():
            return _against(self.job, self.sweeps)

    def fitted(self) -> DynoResult:
        """Fit every sweep."""
        with _in_turn():
            return dyno_of(self.job, self.sweeps)

    @contextmanager
    def _in_turn(self) -> Iterator[Counting]:
        with told(self.runs, self.job.fingerprint) as counting, _in_turn():
            yield counting

    def _learned(self, counting: Counting) -> tuple[LearnResult, PlanResult]:
        return _learned(self.job, self.sweeps, counting("cells planned anew"))

    def _next(self, counting: Counting) -> NextResult:
        return _next(self.job, self.sweeps, counting("places weighed for the next sweep"))


def fit_for(job: Job, sweep: Sweep) -> SweepFit | None:
    """Fit one sweep without waiting for a turn; None where its points are too few.

    Parameters
    ----------
    job : Job
        The engine.
    sweep : Sweep
        One sweep.
    """
    return fit_of(physics_of(job), sweep) if sweep.determines_a_top else None


def records_of(shop: Shop, key: str, *, also_withdrawn: bool = False) -> list[Record]:
    """Give the records of a job from which its engine is learned.

    Parameters
    ----------
    shop : Shop
        The store.
    key : str
        Key of the job.
    also_withdrawn : bool, optional
        Whether records that were withdrawn are among them.
    """
    records = shop.evidence.of_job(key, also_withdrawn=also_withdrawn)
    return [each for each in records if each.kind in LEARNED_FROM]


def measured_on(shop: Shop, key: str) -> Measured:
    """Give a job as it stands now, with everything that counts of what was measured on its engine.

    Parameters
    ----------
    shop : Shop
        The store.
    key : str
        Key of the job.
    """
    return Measured(shop.jobs.latest(key).job, taught_by(records_of(shop, key)), shop.learning_runs)


def measured_of(shop: Shop, revision: Revision, system: System = "metric") -> MeasuredTold:
    """Say what of a card is measured, and what has changed since it was signed.

    Parameters
    ----------
    shop : Shop
        The store.
    revision : Revision
        The revision that the card is of.
    system : System, optional
        Units that the person reads.
    """
    records = shop.evidence.of_job(revision.key, also_withdrawn=True)
    signed, latest = revision.handed_over_when, shop.jobs.latest(revision.key).number
    sweeps = taught_by(counted_at(records, signed))
    against = Measured(revision.job, sweeps, shop.learning_runs).against() if sweeps else None
    return measured_told(records, against, signed, revision.number, latest, system)


def _but_for_progress(job: Job, sweeps: tuple[Sweep, ...], _: Progress) -> Hashable:
    return job, sweeps


@cached(LRUCache(16), key=_but_for_progress)
def _next(job: Job, sweeps: tuple[Sweep, ...], progress: Progress) -> NextResult:
    return next_of(job, sweeps, progress=progress)


@cached(LRUCache(8), key=_but_for_progress)
def _learned(job: Job, sweeps: tuple[Sweep, ...], progress: Progress) -> tuple[LearnResult, PlanResult]:
    return learned_and_planned(job, sweeps, progress=progress)


@lru_cache(maxsize=8)
def _against(job: Job, sweeps: tuple[Sweep, ...]) -> Against:
    return against_of(job, sweeps, _belief(job, sweeps))


@lru_cache(maxsize=8)
def _belief(job: Job, sweeps: tuple[Sweep, ...]) -> LearnedBelief:
    return belief_of(job, evidence_of(job, sweeps).used)
