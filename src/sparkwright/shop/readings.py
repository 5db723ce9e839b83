"""Readings as they are typed at the engine: one durable row each."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence

from sqlalchemy import Connection, RowMapping, insert, select, update

from sparkwright.shop.database import Database, now
from sparkwright.shop.facts import Reading
from sparkwright.shop.revisions import job_id_of, require_number
from sparkwright.shop.said import NotThereError, name_given, row_given
from sparkwright.shop.tables import readings


class Readings(Database):
    """The readings of a store."""

    def put_reading(self, key: str, row: Mapping[str, object], *, who: str) -> Reading:
        """Keep one reading, whose values have been checked; None in it means not known.

        Raises
        ------
        InputError
            If it holds what JSON can't, such as nan.
        NotThereError
            If there is no such job.
        """
        who, text = name_given("who", who), row_given(dict(row))
        with self.writing() as connection:
            done = connection.execute(
                insert(readings)
                .values(job_id=job_id_of(connection, key), row=text, read_at=now(), read_by=who)
                .returning(*readings.c)
            )
            return _reading(done.mappings().one())

    def put_readings(self, key: str, rows: Sequence[Mapping[str, object]], *, who: str) -> None:
        """Keep several readings, all or none, in their order.

        Raises
        ------
        InputError
            If one holds what JSON can't, such as nan.
        NotThereError
            If there is no such job.
        """
        who, texts = name_given("who", who), [row_given(dict(row)) for row in rows]
        if not texts:
            return
        with self.writing() as connection:
            job_id, moment = job_id_of(connection, key), now()
            connection.execute(
                insert(readings),
                [{"job_id": job_id, "row": text, "read_at": moment, "read_by": who} for text in texts],
            )

    def readings(self, key: str, *, also_taken_back: bool = False) -> list[Reading]:
        """Give the readings of a job in the order in which they were given."""
        with self.reading() as connection:
            found = readings_of(connection, key)
        return found if also_taken_back else [each for each in found if each.taken_back_when is None]

    def take_back_reading(self, reading_id: int, *, who: str | None = None) -> None:
        """Mark a reading as taken back; the row stays.

        Raises
        ------
        NotThereError
            If there is no such reading, or it was taken back before.
        """
        who = None if who is None else name_given("who", who)
        require_number(reading_id, "reading")
        with self.writing() as connection:
            done = connection.execute(
                update(readings)
                .where(readings.c.id == reading_id, readings.c.taken_back_at.is_(None))
                .values(taken_back_at=now(), taken_back_by=who)
            )
            if done.rowcount == 0:
                raise NotThereError(f"there is no reading {reading_id}; it may have been taken back before")


def readings_of(connection: Connection, key: str) -> list[Reading]:
    """Give all readings of a job, also those taken back."""
    wanted = select(readings).where(readings.c.job_id == job_id_of(connection, key))
    return [_reading(row) for row in connection.execute(wanted.order_by(readings.c.id)).mappings()]


def _reading(row: RowMapping) -> Reading:
    return Reading(
        id=row["id"],
        row=json.loads(row["row"]),
        when=row["read_at"],
        who=row["read_by"],
        taken_back_when=row["taken_back_at"],
        taken_back_by=row["taken_back_by"],
    )
