"""Rows of jobs, revisions and hand-overs, read and written within one transaction of whoever holds it."""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from datetime import datetime
from hashlib import sha256
from typing import Any, NoReturn

from sqlalchemy import ColumnElement, Connection, RowMapping, Select, func, insert, select

from sparkwright import __version__
from sparkwright.job import Job
from sparkwright.shop.database import now
from sparkwright.shop.facts import JobLine, KeptText, Revision, shown_in_list
from sparkwright.shop.refusals import NotThereError
from sparkwright.shop.tables import hand_overs, job_states, jobs, kept_texts, revisions

MOST_NUMBER = 2**31 - 1
"""The largest number that a row can have, in either database."""


KEY = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")


def require_number(number: int, what: str) -> None:
    """Refuse a number that no row can have.

    Parameters
    ----------
    number : int
        The number that was asked for.
    what : str
        What it counts, for the refusal.
    """
    if not 0 < number <= MOST_NUMBER:
        raise NotThereError(f"there is no {what} {number}")


def job_id_of(connection: Connection, key: str) -> int:
    """Give the row of a job, or refuse its key.

    Parameters
    ----------
    connection : Connection
        The transaction that it is part of.
    key : str
        The job.
    """
    _require_key(key)
    found: int | None = connection.execute(select(jobs.c.id).where(jobs.c.key == key)).scalar()
    if found is None:
        _no_such_job(key)
    return found


def _require_key(key: str) -> None:
    # What can't be a key is never asked for: databases differ in what text they take.
    if KEY.fullmatch(key) is None:
        _no_such_job(key)


def _no_such_job(key: str) -> NoReturn:
    raise NotThereError(f'there is no job "{key}" in this store; `sparkwright shop list` shows what there is')


def latest_of(connection: Connection, key: str) -> Revision:
    """Give the newest revision of a job.

    Parameters
    ----------
    connection : Connection
        The transaction that it is part of.
    key : str
        The job.
    """
    _require_key(key)
    found = _revisions(connection, jobs.c.key == key, revisions.c.number == jobs.c.number)
    return found[0] if found else _no_such_job(key)


def revision_of(connection: Connection, key: str, number: int) -> Revision:
    """Give one revision of a job.

    Parameters
    ----------
    connection : Connection
        The transaction that it is part of.
    key : str
        The job.
    number : int
        Number of the revision, from 1.
    """
    newest = latest_of(connection, key).number
    if not 1 <= number <= newest:
        raise NotThereError(f"{key} has no revision {number}; it has 1 to {newest}")
    (found,) = _revisions(connection, jobs.c.key == key, revisions.c.number == number)
    return found


def all_revisions(connection: Connection, key: str) -> list[Revision]:
    """Give every revision of a job with its text, oldest first.

    Parameters
    ----------
    connection : Connection
        The transaction that it is part of.
    key : str
        The job.
    """
    return _revisions(connection, jobs.c.id == job_id_of(connection, key))


def _revisions(connection: Connection, *which: ColumnElement[bool]) -> list[Revision]:
    wanted = select_revisions(with_text=True).where(*which).order_by(revisions.c.number)
    return [Revision(**revision_facts(row)) for row in connection.execute(wanted).mappings()]


def kept_of(connection: Connection, key: str) -> list[KeptText]:
    """Give the texts kept beside a job, oldest first.

    Parameters
    ----------
    connection : Connection
        The transaction that it is part of.
    key : str
        The job.
    """
    rows = connection.execute(
        select(kept_texts)
        .where(kept_texts.c.job_id == job_id_of(connection, key), kept_texts.c.dropped_at.is_(None))
        .order_by(kept_texts.c.id)
    )
    return [_kept_text(row) for row in rows.mappings()]


def next_turn(connection: Connection) -> int:
    """Give the next number in the order in which jobs changed; a clock could go back, this can't.

    Parameters
    ----------
    connection : Connection
        The transaction that it is part of.
    """
    last: int | None = connection.execute(select(func.max(jobs.c.turn))).scalar()
    return (last or 0) + 1


def add_job(
    connection: Connection, key: str, job: Job, who: str, when: datetime, sent_as: str | None = None
) -> int:
    """Add the row of a new job at its first revision.

    Parameters
    ----------
    connection : Connection
        The transaction that it is part of.
    key : str
        Key of the new job, which no other has.
    job : Job
        The job as it is read.
    who : str
        Who starts it.
    when : datetime
        When.
    sent_as : str, optional
        The word under which it was sent.
    """
    done = connection.execute(
        insert(jobs)
        .values(
            **shown_in_list(job),
            key=key,
            turn=next_turn(connection),
            number=1,
            saved_at=when,
            saved_by=who,
            handed_over=False,
            sent_as=sent_as,
        )
        .returning(jobs.c.id)
    )
    job_id: int = done.scalar_one()
    return job_id


def add_revision(
    connection: Connection, job_id: int, number: int, text: str, job: Job, who: str, why: str, when: datetime
) -> None:
    """Add the row of one revision.

    Parameters
    ----------
    connection : Connection
        The transaction that it is part of.
    job_id : int
        Row of the job.
    number : int
        Number of the revision, from 1.
    text : str
        The job file, whole.
    job : Job
        The same as it is read.
    who, why : str
        Who saved it, and for what reason.
    when : datetime
        When.
    """
    connection.execute(
        insert(revisions).values(
            job_id=job_id,
            number=number,
            text=text,
            name=job.name,
            fingerprint=job.fingerprint,
            saved_at=when,
            saved_by=who,
            why=why,
            sha256=sha256(text.encode()).hexdigest(),
        )
    )


def sign(
    connection: Connection,
    job_id: int,
    number: int,
    who: str,
    acknowledged: Sequence[str],
    signed_for: str,
    when: datetime,
) -> None:
    """Add the row of a hand-over.

    Parameters
    ----------
    connection : Connection
        The transaction that it is part of.
    job_id : int
        Row of the job.
    number : int
        The revision that is handed over.
    who : str
        Who signs.
    acknowledged : sequence of str
        Cautions that this person has acknowledged.
    signed_for : str
        For whom; empty where it is the person who signs.
    when : datetime
        When.
    """
    revision_id = select(revisions.c.id).where(revisions.c.job_id == job_id, revisions.c.number == number)
    connection.execute(
        insert(hand_overs).values(
            revision_id=revision_id.scalar_subquery(),
            signed_at=when,
            signed_by=who,
            signed_for=signed_for,
            acknowledged=json.dumps(list(acknowledged), ensure_ascii=False),
        )
    )


def keep_text(connection: Connection, key: str, text: str, who: str, why: str, based_on: int) -> KeptText:
    """Keep a text beside a job whose newest revision its writer had not seen.

    Parameters
    ----------
    connection : Connection
        The transaction that it is part of.
    key : str
        The job.
    text : str
        The job file, whole.
    who, why : str
        Who gave it, and for what reason.
    based_on : int
        The revision that this person had before them.
    """
    done = connection.execute(
        insert(kept_texts)
        .values(
            job_id=job_id_of(connection, key),
            text=text,
            kept_at=now(),
            given_by=who,
            why=why,
            based_on=based_on,
        )
        .returning(*kept_texts.c)
    )
    return _kept_text(done.mappings().one())


def select_jobs() -> Select[Any]:
    """Jobs, each with how the facts of its latest revision stood."""
    latest = (revisions.c.job_id == jobs.c.id) & (revisions.c.number == jobs.c.number)
    seen = (job_states.c.fingerprint == revisions.c.fingerprint) & (job_states.c.program == __version__)
    return (
        select(*jobs.c, job_states.c.mark, job_states.c.words)
        .join(revisions, latest)
        .outerjoin(job_states, seen)
    )


def select_revisions(*, with_text: bool) -> Select[Any]:
    """Ask for revisions, each with the key of its job and how it was handed over.

    Parameters
    ----------
    with_text : bool
        Whether their texts come with them.
    """
    left_out = () if with_text else ("text",)
    columns = [column for column in revisions.c if column.name not in left_out]
    return (
        select(jobs.c.key, *columns, *hand_overs.c)
        .join(revisions, revisions.c.job_id == jobs.c.id)
        .outerjoin(hand_overs, hand_overs.c.revision_id == revisions.c.id)
    )


def revision_facts(row: RowMapping) -> dict[str, Any]:
    """Give the fields of a revision, or of a line of the history where its text wasn't asked for.

    Parameters
    ----------
    row : RowMapping
        A row as `select_revisions` gives it.
    """
    signed = row[hand_overs.c.signed_at] is not None
    facts = {
        "key": row[jobs.c.key],
        "number": row[revisions.c.number],
        "name": row[revisions.c.name],
        "fingerprint": row[revisions.c.fingerprint],
        "when": row[revisions.c.saved_at],
        "who": row[revisions.c.saved_by],
        "why": row[revisions.c.why],
        "handed_over": signed,
        "handed_over_by": row[hand_overs.c.signed_by],
        "handed_over_when": row[hand_overs.c.signed_at],
        "signed_for": row[hand_overs.c.signed_for] or None,
        "acknowledged": tuple(json.loads(row[hand_overs.c.acknowledged])) if signed else (),
    }
    return {**facts, "text": row[revisions.c.text]} if revisions.c.text in row else facts


def job_line(row: RowMapping) -> JobLine:
    """Give a line of the list of jobs.

    Parameters
    ----------
    row : RowMapping
        A row as `select_jobs` gives it.
    """
    return JobLine(
        key=row["key"],
        name=row["name"],
        engine=row["engine"],
        vehicle=row["vehicle"],
        customer=row["customer"],
        invented=row["invented"],
        number=row["number"],
        when=row["saved_at"],
        who=row["saved_by"],
        handed_over=row["handed_over"],
        mark=row["mark"],
        words=row["words"] or "",
        imported_by=row["imported_by"],
    )


def _kept_text(row: RowMapping) -> KeptText:
    return KeptText(
        id=row["id"],
        text=row["text"],
        who=row["given_by"],
        why=row["why"],
        when=row["kept_at"],
        based_on=row["based_on"],
    )
