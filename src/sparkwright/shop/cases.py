"""Cases of the desk in the store: rows are only ever added, and what was withdrawn stays to be read."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from sqlalchemy import ColumnElement, Connection, func, insert, select

from sparkwright.desk.case import Case, Entry
from sparkwright.errors import Refusal
from sparkwright.shop.database import Database, now
from sparkwright.shop.refusals import NotThereError, name_given, why_given
from sparkwright.shop.revision_rows import job_id_of, require_number
from sparkwright.shop.tables import case_entries, cases, jobs

MOST_CASES = 100_000
MOST_ENTRIES = 500
"""Things said in one case, also those withdrawn."""
MOST_CASE_NAME = 120


@dataclass(frozen=True)
class Cases:
    """The cases of a store."""

    database: Database

    def open(self, name: str, *, who: str, job: str | None = None) -> Case:
        """Begin a case.

        Parameters
        ----------
        name : str
            What it is called: who called, about which engine.
        who : str
            Who answers.
        job : str, optional
            Key of the job that it is about.

        Raises
        ------
        Refusal
            If a name is missing or too long.
        NotThereError
            If there is no such job.
        """
        row = {
            "name": name_given("name", name, MOST_CASE_NAME),
            "opened_at": now(),
            "opened_by": name_given("who", who),
        }
        with self.database.writing() as connection:
            there = connection.execute(select(func.count()).select_from(cases)).scalar_one()
            if there >= MOST_CASES:
                raise Refusal.at("cases", there, f"must be at most {MOST_CASES:,} in one store")
            job_id = job_id_of(connection, job) if job else None
            done = connection.execute(insert(cases).values(row | {"job_id": job_id}).returning(cases.c.id))
            return _case(connection, done.scalar_one())

    def case(self, case_id: int) -> Case:
        """Give one case.

        Parameters
        ----------
        case_id : int
            Number of the case.

        Raises
        ------
        NotThereError
            If there is none of that number.
        """
        require_number(case_id, "case")
        with self.database.reading() as connection:
            return _case(connection, case_id)

    def add(self, case_id: int, entries: Iterable[Entry], *, who: str) -> Case:
        """Note what was said, all of it or nothing; their numbers and times are given here.

        What stands in the case already is not noted again.

        Parameters
        ----------
        case_id : int
            Number of the case.
        entries : iterable of Entry
            What was said, in its order.
        who : str
            Who notes it.

        Raises
        ------
        Refusal
            If it is longer than is kept, or there is no room.
        NotThereError
            If there is no such case, or what is withdrawn doesn't stand in it.
        """
        name = name_given("who", who)
        said = list(entries)
        with self.database.writing() as connection:
            before = _case(connection, case_id)
            rows = [_row(each, name) for each in before.new_in(said)]
            if len(before.entries) + len(rows) > MOST_ENTRIES:
                raise Refusal.at(
                    "answers",
                    len(before.entries) + len(rows),
                    f"must be at most {MOST_ENTRIES}",
                    "open a new case",
                )
            standing = {each.id for each in before.standing}
            for row in rows:
                if row["kind"] == "withdrawn" and row["withdraws"] not in standing:
                    raise NotThereError(
                        f"case {case_id}: nothing stands under the number {row['withdraws']} to be withdrawn"
                    )
            if rows:
                connection.execute(insert(case_entries), [row | {"case_id": case_id} for row in rows])
            return _case(connection, case_id)

    def newest(self, limit: int = 50, *, job: str | None = None, before: int | None = None) -> list[Case]:
        """Give the cases opened last, of one job if it is named; ``before`` is the last of a page.

        Parameters
        ----------
        limit : int, optional
            How many at most.
        job : str, optional
            Key of the job; None for the cases of all, and of none.
        before : int, optional
            Number of the last case of the page before; None for the first page.
        """
        with self.database.reading() as connection:
            wanted = select(cases.c.id).order_by(cases.c.id.desc()).limit(limit)
            if job is not None:
                wanted = wanted.where(cases.c.job_id == job_id_of(connection, job))
            if before is not None:
                wanted = wanted.where(cases.c.id < before)
            return _cases(connection, cases.c.id.in_(wanted))[::-1]

    def closed(self) -> dict[str, int]:
        """Count the cases closed with each cause; an outcome that was taken back counts no more."""
        taken_back = select(case_entries.c.withdraws).where(case_entries.c.withdraws.is_not(None))
        last = (
            select(func.max(case_entries.c.id))
            .where(case_entries.c.kind == "closed", case_entries.c.id.not_in(taken_back))
            .group_by(case_entries.c.case_id)
        )
        counted = (
            select(case_entries.c.answer, func.count())
            .where(case_entries.c.id.in_(last))
            .group_by(case_entries.c.answer)
        )
        with self.database.reading() as connection:
            return {row[0]: row[1] for row in connection.execute(counted)}


def cases_of(connection: Connection, job: str) -> list[Case]:
    """Give the cases that are about one job, the oldest first.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        Where to read.
    job : str
        Key of the job.

    Raises
    ------
    NotThereError
        If there is no such job.
    """
    return _cases(connection, cases.c.job_id == job_id_of(connection, job))


def _row(entry: Entry, who: str) -> dict[str, Any]:
    return {
        "kind": entry.kind,
        "question": entry.question,
        "answer": entry.answer,
        "text": why_given(entry.text),
        "withdraws": entry.withdraws,
        "said_at": now(),
        "noted_by": who,
    }


def _case(connection: Connection, case_id: int) -> Case:
    found = _cases(connection, cases.c.id == case_id)
    if not found:
        raise NotThereError(f"there is no case {case_id} in this store")
    return found[0]


def _cases(connection: Connection, which: ColumnElement[bool]) -> list[Case]:
    wanted = select(cases, jobs.c.key).outerjoin(jobs, jobs.c.id == cases.c.job_id).where(which)
    rows = connection.execute(wanted.order_by(cases.c.id)).all()
    said = select(case_entries).where(case_entries.c.case_id.in_([row.id for row in rows]))
    entries: dict[int, list[Entry]] = {row.id: [] for row in rows}
    for row in connection.execute(said.order_by(case_entries.c.id)):
        entries[row.case_id].append(
            Entry(
                row.id, row.kind, row.question, row.answer, row.text, row.withdraws, row.said_at, row.noted_by
            )
        )
    return [
        Case(row.id, row.name, row.key, tuple(entries[row.id]), row.opened_at, row.opened_by) for row in rows
    ]
