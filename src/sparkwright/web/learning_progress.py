"""How far the engine that is being learned has come, and the way to stop it.

One engine is learned at a time in a process, so that one record of it is enough.
"""

from __future__ import annotations

from dataclasses import dataclass


class StoppedError(Exception):
    """Learning was stopped by a person; nothing was kept or lost."""


@dataclass
class Running:
    """What is being worked out now: for which job, how much of it is done, and whether it shall stop."""

    fingerprint: str | None = None
    what: str = ""
    done: int = 0
    total: int = 0
    stopped: bool = False

    def begin(self, fingerprint: str, what: str) -> None:
        """Begin anew.

        Parameters
        ----------
        fingerprint : str
            Of the job.
        what : str
            What is counted, in words.
        """
        self.fingerprint, self.what, self.done, self.total, self.stopped = fingerprint, what, 0, 0, False

    def end(self) -> None:
        """Say that nothing is being worked out."""
        self.fingerprint = None

    def tell(self, done: int, total: int) -> None:
        """Take how far it has come; raises where it shall stop.

        Parameters
        ----------
        done, total : int
            How many are done, and how many there are.

        Raises
        ------
        StoppedError
            Where a person has asked for it.
        """
        self.done, self.total = done, total
        if self.stopped:
            raise StoppedError

    def stop(self, fingerprint: str) -> None:
        """Ask what is being worked out for a job to stop at its next step.

        Parameters
        ----------
        fingerprint : str
            Of the job; another's goes on.
        """
        self.stopped = self.fingerprint == fingerprint

    def of(self, fingerprint: str) -> str:
        """Say in words how far it has come; "" where nothing is being worked out for this job.

        Parameters
        ----------
        fingerprint : str
            Of the job.

        Examples
        --------
        >>> running = Running()
        >>> running.begin("a", "cells planned anew")
        >>> running.of("a"), running.of("b")
        ('Learning ...', '')
        >>> running.tell(3, 20)
        >>> running.of("a")
        '3 of 20 cells planned anew'
        """
        if self.fingerprint != fingerprint:
            return ""
        return f"{self.done} of {self.total} {self.what}" if self.total else "Learning ..."


now = Running()
