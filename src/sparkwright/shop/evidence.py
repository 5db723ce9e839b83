"""Evidence in the store: one durable row for each thing that was seen on an engine."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, Connection, RowMapping, Select, func, insert, select, update

from sparkwright.errors import Refusal
from sparkwright.evidence.kinds import Seen, kind_of, write
from sparkwright.evidence.records import Record, Withdrawal
from sparkwright.shop.database import Database, now
from sparkwright.shop.refusals import NotThereError, fields_given, name_given, sent_as_given, why_given
from sparkwright.shop.revision_rows import job_id_of, require_number
from sparkwright.shop.tables import evidence, jobs

MOST_RECORDS = 20_000
"""Records of one job, also those withdrawn."""


@dataclass(frozen=True)
class Evidence:
    """The evidence of a store."""

    database: Database

    def add(
        self, key: str, seen: Seen, *, who: str, when: datetime | None = None, sent_as: str | None = None
    ) -> Record:
        """Keep one thing that was seen.

        Parameters
        ----------
        key : str
            The job.
        seen : Seen
            What was seen.
        who : str
            Who saw it.
        when : datetime, optional
            When it was taken; now, when not given.
        sent_as : str, optional
            A word that whoever sends it makes up for it. Sent again under the same word, because no answer
            came, the same values are the same record; other values are another one.

        Raises
        ------
        Refusal
            If it is longer than is kept, or there is no room.
        NotThereError
            If there is no such job.
        """
        row = _row(seen, name_given("who", who), when or now())
        row["sent_as"] = sent_as_given(sent_as)
        with self.database.writing() as connection:
            kept_before = _sent_before(connection, key, row)
            if kept_before is not None:
                return kept_before
            row["job_id"] = _job_with_room(connection, key, 1)
            done = connection.execute(insert(evidence).values(row).returning(evidence.c.id))
            return record_of(connection, done.scalar_one())

    def add_all(self, key: str, seen: Sequence[Seen], *, who: str, when: datetime | None = None) -> None:
        """Keep several things that were seen, all or none, in their order; refused like `add`.

        Parameters
        ----------
        key : str
            Key of the job.
        seen : sequence of Seen
            What was seen, of any kinds, in its order.
        who : str
            Who saw it.
        when : datetime, optional
            When; None for the present moment.
        """
        rows = [_row(each, name_given("who", who), when or now()) for each in seen]
        if not rows:
            return
        with self.database.writing() as connection:
            job_id = _job_with_room(connection, key, len(rows))
            connection.execute(insert(evidence), [{**row, "job_id": job_id} for row in rows])

    def of_job(
        self,
        key: str,
        kind: str | None = None,
        *,
        also_withdrawn: bool = False,
        after: int = 0,
        limit: int | None = None,
    ) -> list[Record]:
        """Give what was seen on a job's engine, in the order in which it was given.

        Parameters
        ----------
        key : str
            The job.
        kind : str, optional
            Only records of this kind.
        also_withdrawn : bool
            Whether those that were withdrawn are among them.
        after : int
            Only records after the one of this number.
        limit : int, optional
            Only so many.
        """
        which = [evidence.c.id > after]
        if kind is not None:
            which.append(evidence.c.kind == kind)
        if not also_withdrawn:
            which.append(evidence.c.withdrawn_at.is_(None))
        with self.database.reading() as connection:
            return records_of(connection, key, *which, limit=limit)

    def count(self, key: str, kind: str) -> int:
        """Count the records of a kind that count: those not withdrawn.

        Parameters
        ----------
        key : str
            Key of the job.
        kind : str
            Kind of evidence, by the name under which it is kept.
        """
        with self.database.reading() as connection:
            counted = (evidence.c.kind == kind) & evidence.c.withdrawn_at.is_(None)
            return _count(connection, job_id_of(connection, key), counted)

    def withdraw(self, key: str, record_id: int, *, who: str, why: str = "") -> Record:
        """Let a record of a job count no longer; it stays, marked with when, by whom and why.

        Parameters
        ----------
        key : str
            Key of the job.
        record_id : int
            Number of the record.
        who : str
            Who withdraws it.
        why : str, optional
            The reason, for those who read it later.

        Raises
        ------
        NotThereError
            If the job has no such record, or it was withdrawn before.
        """
        marked = {
            "withdrawn_at": now(),
            "withdrawn_by": name_given("who", who),
            "withdrawn_why": why_given(why),
        }
        return self._mark(key, record_id, evidence.c.withdrawn_at.is_(None), marked)

    def put_back(self, key: str, record_id: int) -> Record:
        """Let a record count again that was withdrawn.

        Parameters
        ----------
        key : str
            Key of the job.
        record_id : int
            Number of the record.

        Raises
        ------
        NotThereError
            If the job has no such record, or it counts already.
        """
        marked = {"withdrawn_at": None, "withdrawn_by": None, "withdrawn_why": ""}
        return self._mark(key, record_id, evidence.c.withdrawn_at.is_not(None), marked)

    def _mark(self, key: str, record_id: int, stood: ColumnElement[bool], marked: dict[str, Any]) -> Record:
        require_number(record_id, "reading")
        with self.database.writing() as connection:
            mine = (evidence.c.id == record_id) & (evidence.c.job_id == job_id_of(connection, key))
            if connection.execute(update(evidence).where(mine, stood).values(marked)).rowcount == 0:
                tail = "that was taken back" if marked["withdrawn_at"] is None else "that counts"
                raise NotThereError(f"there is no reading {record_id} of this job {tail}")
            return record_of(connection, record_id)


def records_of(
    connection: Connection, key: str, *which: ColumnElement[bool], limit: int | None = None
) -> list[Record]:
    """Give records of a job, oldest first.

    Parameters
    ----------
    connection : Connection
        Open connection, inside whose transaction it is read.
    key : str
        Key of the job.
    limit : int, optional
        How many at most; None for all.
    """
    wanted = _records().where(evidence.c.job_id == job_id_of(connection, key), *which)
    rows = connection.execute(wanted.order_by(evidence.c.id).limit(limit))
    return [_record(row) for row in rows.mappings()]


def record_of(connection: Connection, record_id: int) -> Record:
    """Give one record that is there.

    Parameters
    ----------
    connection : Connection
        Open connection, inside whose transaction it is read.
    record_id : int
        Number of the record.
    """
    rows = connection.execute(_records().where(evidence.c.id == record_id))
    return _record(rows.mappings().one())


def _row(seen: Seen, who: str, when: datetime) -> dict[str, Any]:
    kind = kind_of(seen)
    return {
        "kind": kind.name,
        "version": kind.version,
        "fields": fields_given(write(seen)),
        "taken_at": when,
        "taken_by": who,
        "withdrawn_why": "",
    }


def _sent_before(connection: Connection, key: str, row: dict[str, Any]) -> Record | None:
    if row["sent_as"] is None:
        return None
    same = [evidence.c[name] == row[name] for name in ("kind", "version", "fields", "sent_as")]
    return next(iter(records_of(connection, key, *same, limit=1)), None)


def _job_with_room(connection: Connection, key: str, more: int) -> int:
    """Give the row of a job that can take so many records more."""
    job_id = job_id_of(connection, key)
    there = _count(connection, job_id)
    if there + more > MOST_RECORDS:
        raise Refusal.at(
            "readings",
            there + more,
            f"must be at most {MOST_RECORDS:,} in one job",
            "start another job for this engine",
        )
    return job_id


def _count(connection: Connection, job_id: int, *which: ColumnElement[bool]) -> int:
    found: int = connection.execute(
        select(func.count()).select_from(evidence).where(evidence.c.job_id == job_id, *which)
    ).scalar_one()
    return found


def _records() -> Select[Any]:
    return select(evidence, jobs.c.key).join(jobs, jobs.c.id == evidence.c.job_id)


def _record(row: RowMapping) -> Record:
    gone = row["withdrawn_at"]
    return Record(
        id=row["id"],
        job=row["key"],
        kind=row["kind"],
        version=row["version"],
        when=row["taken_at"],
        who=row["taken_by"],
        fields=json.loads(row["fields"]),
        withdrawn=None if gone is None else Withdrawal(gone, row["withdrawn_by"], row["withdrawn_why"]),
    )
