"""Learning that is under way in any serving process, so that each of them can tell of it and stop it.

A run is a row while it lasts. Its process writes down again and again how far it is; a run of which nothing
was heard for a while is one whose process has ended without a word, and is running no more.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import timedelta

from sqlalchemy import Connection, delete, func, insert, select, update

from sparkwright.shop.database import Database
from sparkwright.shop.tables import UtcTime, learning_runs

LOST_AFTER = timedelta(seconds=10)
"""So long after its last word a run is taken for ended; a choice, twenty times as long as it is silent."""
FORGOTTEN_AFTER = timedelta(hours=1)
"""So long a lost run is kept, for a process that was only asleep; a choice."""

_NOW = func.current_timestamp(type_=UtcTime())
"""The database's own clock, since the machines that share it may differ; whole seconds in SQLite."""


@dataclass(frozen=True)
class LearningRun:
    """How far a run is: what is counted, how much of it is done and how much there is (0: not known)."""

    what: str
    done: int
    total: int


@dataclass(frozen=True)
class LearningRuns:
    """The runs of a store."""

    database: Database

    def begin(self, fingerprint: str) -> int:
        """Note that learning has begun; give the number of the run.

        Parameters
        ----------
        fingerprint : str
            Fingerprint of the job whose engine is learned.
        """
        with self.database.writing() as connection:
            lost = [number for number, silent in _silent(connection) if silent > FORGOTTEN_AFTER]
            connection.execute(delete(learning_runs).where(learning_runs.c.id.in_(lost)))
            row = {"fingerprint": fingerprint, "told_at": _NOW, **asdict(LearningRun("", 0, 0))}
            begun = insert(learning_runs).values(stop_asked=False, **row).returning(learning_runs.c.id)
            number: int = connection.execute(begun).scalar_one()
            return number

    def tell(self, number: int, far: LearningRun) -> bool:
        """Note how far a run is, and that it still runs; say whether somebody asked it to stop.

        Parameters
        ----------
        number : int
            Number of the run, as `begin` gave it.
        far : LearningRun
            How far it is.
        """
        told = (
            update(learning_runs)
            .where(learning_runs.c.id == number)
            .values(**asdict(far), told_at=_NOW)
            .returning(learning_runs.c.stop_asked)
        )
        with self.database.writing() as connection:
            return bool(connection.execute(told).scalar())

    def end(self, number: int) -> None:
        """Forget a run that has ended.

        Parameters
        ----------
        number : int
            Number of the run, as `begin` gave it.
        """
        with self.database.writing() as connection:
            connection.execute(delete(learning_runs).where(learning_runs.c.id == number))

    def stop(self, fingerprint: str) -> bool:
        """Ask every run for a job to stop at its next step; False where there is none.

        Parameters
        ----------
        fingerprint : str
            Fingerprint of the job; what runs for another goes on.
        """
        with self.database.writing() as connection:
            numbers = _running(connection, fingerprint)
            asked = update(learning_runs).where(learning_runs.c.id.in_(numbers)).values(stop_asked=True)
            connection.execute(asked)
            return bool(numbers)

    def of(self, fingerprint: str) -> LearningRun | None:
        """Say how far the newest run for a job is; None where there is none.

        Parameters
        ----------
        fingerprint : str
            Fingerprint of the job.
        """
        with self.database.reading() as connection:
            numbers = _running(connection, fingerprint)
            if not numbers:
                return None
            wanted = select(learning_runs).where(learning_runs.c.id == numbers[-1])
            row = connection.execute(wanted).one()
            return LearningRun(row.what, row.done, row.total)


def _running(connection: Connection, fingerprint: str) -> list[int]:
    """Give the numbers of the runs for a job that were heard of lately, the newest last."""
    return [number for number, silent in _silent(connection, fingerprint) if silent <= LOST_AFTER]


def _silent(connection: Connection, fingerprint: str | None = None) -> list[tuple[int, timedelta]]:
    """Give runs by number, and how long each has been silent; of one job where it is named."""
    wanted = select(learning_runs.c.id, learning_runs.c.told_at, _NOW).order_by(learning_runs.c.id)
    if fingerprint is not None:
        wanted = wanted.where(learning_runs.c.fingerprint == fingerprint)
    return [(number, now - told) for number, told, now in connection.execute(wanted)]
