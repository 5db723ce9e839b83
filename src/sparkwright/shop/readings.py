"""Readings as they are typed at the engine: one durable row each."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from sqlalchemy import ColumnElement, Connection, RowMapping, func, insert, select, update

from sparkwright.errors import Refusal
from sparkwright.shop.database import Database, now
from sparkwright.shop.facts import KeptReading
from sparkwright.shop.refusals import NotThereError, name_given, row_given
from sparkwright.shop.revisions import job_id_of, require_number
from sparkwright.shop.tables import readings

MOST_READINGS = 20_000
"""Readings of one job, also those taken back."""
MOST_SENT_AS = 40


@dataclass(frozen=True)
class Readings:
    """The readings of a store."""

    database: Database

    def put(
        self, key: str, row: Mapping[str, object], *, who: str, sent_as: str | None = None
    ) -> KeptReading:
        """Keep one reading, whose values have been checked; None in it means not known.

        Parameters
        ----------
        key : str
            The job.
        row : mapping
            What was read.
        who : str
            Who read it.
        sent_as : str, optional
            A word that whoever sends the reading makes up for it. Sent again under the same word, because no
            answer came, the same values are the same reading; other values are another one.

        Raises
        ------
        Refusal
            If it holds what JSON can't, such as nan.
        NotThereError
            If there is no such job.
        """
        who, text = name_given("who", who), row_given(dict(row))
        sent_as = None if sent_as is None else name_given("sent_as", sent_as, MOST_SENT_AS)
        with self.database.writing() as connection:
            kept_before = _sent_before(connection, key, text, sent_as)
            if kept_before is not None:
                return kept_before
            job_id = _job_with_room(connection, key, 1)
            done = connection.execute(
                insert(readings)
                .values(job_id=job_id, row=text, read_at=now(), read_by=who, sent_as=sent_as)
                .returning(*readings.c)
            )
            return _reading(done.mappings().one())

    def put_all(self, key: str, rows: Sequence[Mapping[str, object]], *, who: str) -> None:
        """Keep several readings, all or none, in their order.

        Raises
        ------
        Refusal
            If one holds what JSON can't, such as nan.
        NotThereError
            If there is no such job.
        """
        who, texts = name_given("who", who), [row_given(dict(row)) for row in rows]
        if not texts:
            return
        with self.database.writing() as connection:
            job_id, moment = _job_with_room(connection, key, len(texts)), now()
            connection.execute(
                insert(readings),
                [{"job_id": job_id, "row": text, "read_at": moment, "read_by": who} for text in texts],
            )

    def of_job(
        self, key: str, *, also_taken_back: bool = False, after: int = 0, limit: int | None = None
    ) -> list[KeptReading]:
        """Give readings of a job in the order in which they were given.

        Parameters
        ----------
        key : str
            The job.
        also_taken_back : bool
            Whether those that were taken back are among them.
        after : int
            Only readings after the one of this number.
        limit : int, optional
            Only so many.
        """
        with self.database.reading() as connection:
            return readings_of(connection, key, also_taken_back=also_taken_back, after=after, limit=limit)

    def count(self, key: str) -> int:
        """Count the readings of a job that were not taken back."""
        with self.database.reading() as connection:
            return _count(connection, job_id_of(connection, key), readings.c.taken_back_at.is_(None))

    def take_back(self, reading_id: int, *, who: str | None = None) -> None:
        """Mark a reading as taken back; the row stays.

        Raises
        ------
        NotThereError
            If there is no such reading, or it was taken back before.
        """
        who = None if who is None else name_given("who", who)
        require_number(reading_id, "reading")
        with self.database.writing() as connection:
            done = connection.execute(
                update(readings)
                .where(readings.c.id == reading_id, readings.c.taken_back_at.is_(None))
                .values(taken_back_at=now(), taken_back_by=who)
            )
            if done.rowcount == 0:
                raise NotThereError(f"there is no reading {reading_id}; it may have been taken back before")

    def put_back(self, reading_id: int) -> None:
        """Let a reading that was taken back count again.

        Raises
        ------
        NotThereError
            If there is no such reading, or it counts already.
        """
        require_number(reading_id, "reading")
        with self.database.writing() as connection:
            done = connection.execute(
                update(readings)
                .where(readings.c.id == reading_id, readings.c.taken_back_at.is_not(None))
                .values(taken_back_at=None, taken_back_by=None)
            )
            if done.rowcount == 0:
                raise NotThereError(f"there is no reading {reading_id} that was taken back")


def readings_of(
    connection: Connection,
    key: str,
    *,
    also_taken_back: bool = True,
    after: int = 0,
    limit: int | None = None,
) -> list[KeptReading]:
    """Give readings of a job, as `Readings.of_job` does."""
    wanted = select(readings).where(readings.c.job_id == job_id_of(connection, key), readings.c.id > after)
    if not also_taken_back:
        wanted = wanted.where(readings.c.taken_back_at.is_(None))
    return [
        _reading(row) for row in connection.execute(wanted.order_by(readings.c.id).limit(limit)).mappings()
    ]


def _sent_before(connection: Connection, key: str, text: str, sent_as: str | None) -> KeptReading | None:
    if sent_as is None:
        return None
    of_job = readings.c.job_id == job_id_of(connection, key)
    same = select(readings).where(of_job, readings.c.sent_as == sent_as, readings.c.row == text)
    row = connection.execute(same).mappings().first()
    return None if row is None else _reading(row)


def _job_with_room(connection: Connection, key: str, more: int) -> int:
    """Give the row of a job that can take so many readings more."""
    job_id = job_id_of(connection, key)
    there = _count(connection, job_id)
    if there + more > MOST_READINGS:
        raise Refusal.at(
            "readings",
            there + more,
            f"must be at most {MOST_READINGS:,} in one job",
            "start another job for this engine",
        )
    return job_id


def _count(connection: Connection, job_id: int, *which: ColumnElement[bool]) -> int:
    found: int = connection.execute(
        select(func.count()).select_from(readings).where(readings.c.job_id == job_id, *which)
    ).scalar_one()
    return found


def _reading(row: RowMapping) -> KeptReading:
    return KeptReading(
        id=row["id"],
        row=json.loads(row["row"]),
        when=row["read_at"],
        who=row["read_by"],
        taken_back_when=row["taken_back_at"],
        taken_back_by=row["taken_back_by"],
    )
