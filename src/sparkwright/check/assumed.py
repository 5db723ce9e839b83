"""What was taken where the shop states nothing, and how far it may be off."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Self

from sparkwright.job import Job
from sparkwright.job.usual import USUAL, Spread, usual_value


@dataclass(frozen=True)
class Assumed:
    """A value the shop did not state, with what was taken instead and why."""

    field: str
    value: str
    why: str


@dataclass(frozen=True)
class SpreadTaken:
    """One thing not known exactly, with the standard deviation taken for it, and where that comes from."""

    name: str
    amount: str
    stated: bool
    """Whether the job states it; what it leaves to assumption may be off by more."""
    origin: str

    @classmethod
    def of(cls, spread: Spread, taken: Collection[str]) -> Self:
        """Say what a spread is for a job that leaves these keys to assumption.

        Parameters
        ----------
        spread : Spread
            How far the usual value may be off.
        taken : collection of str
            Keys that were left to assumption.
        """
        return cls(spread.name, spread.said(taken), spread.is_stated(taken), spread.origin)


class Taken:
    """Collects what is taken in place of what a job doesn't state, while its facts are read."""

    def __init__(self, job: Job) -> None:
        self.job = job
        self.found: list[Assumed] = []

    def take(self, key: str, stated: float | None, derived: float | None = None) -> float:
        """Give what is stated; else what is derived or usual for the key, and note that.

        Parameters
        ----------
        key : str
            Key of the job, with its section.
        stated : float, optional
            What the job states.
        derived : float, optional
            What follows from other keys of the job.

        Examples
        --------
        >>> from sparkwright.job import starter_text
        >>> taken = Taken(Job.from_toml(starter_text()))
        >>> taken.take("engine.swirl", 1.4), taken.take("engine.idle_kpa", None), taken.found[0].value
        (1.4, 40.0, '40')
        """
        if stated is not None:
            return stated
        value = usual_value(key, self.job) if derived is None else derived
        self.note(key, USUAL[key].said(value))
        return value

    def note(self, key: str, said: str) -> None:
        """Note what is taken for a key, as it is said.

        Parameters
        ----------
        key : str
            Key of the job, with its section.
        said : str
            What stands for it, as it is said.
        """
        self.found.append(Assumed(key, said, USUAL[key].why_for(self.job)))
