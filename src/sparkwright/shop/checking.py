"""Looking through a whole store: whether all is there that was given, and is what was given."""

from __future__ import annotations

import json
from collections.abc import Iterator
from hashlib import sha256

from sqlalchemy import Connection, func, select, text

from sparkwright.shop.database import Database
from sparkwright.shop.files import Content
from sparkwright.shop.refusals import ShopError
from sparkwright.shop.tables import attachments, columns, evidence, hand_overs, jobs, metadata, revisions

MOST_TOLD = 100
"""Problems of the database file itself that are listed at most."""


def problems_of(database: Database) -> list[str]:
    """Read everything there is and give a sentence for each problem; an empty list when all is well.

    Files that no row names are no problem: they are what is left when the program is stopped between
    keeping a file and acknowledging it.

    Parameters
    ----------
    database : Database
        The store's database, with its files beside it.
    """
    problems: list[str] = []
    try:
        with database.reading() as connection:
            problems += _damage(connection)
            if problems:
                return problems  # what a damaged file says of its rows is worth nothing
            for look in (_references, _revisions, _list, _lists_inside):
                problems += look(connection)
            files = _files(connection)
    except ShopError as problem:
        return [*problems, problem.on_this_machine]
    for called, content in files:
        wrong = database.files.problem(content)
        if wrong is not None:
            problems.append(f"{called}: {wrong}")
    return problems


def _damage(connection: Connection) -> Iterator[str]:
    """Ask SQLite whether its file is whole; PostgreSQL looks after its own."""
    if connection.dialect.name == "sqlite":
        for (told,) in connection.execute(text(f"PRAGMA integrity_check({MOST_TOLD})")):
            if told != "ok":
                yield f"the database file: {told}"


def _references(connection: Connection) -> Iterator[str]:
    for table in metadata.sorted_tables:
        for key in table.foreign_keys:
            other = key.column.table.alias()  # a row may refer to another of its own table
            named = other.c[key.column.name]
            lost = connection.execute(
                select(func.count())
                .select_from(table.outerjoin(other, key.parent == named))
                .where(key.parent.is_not(None), named.is_(None))
            ).scalar_one()
            if lost:
                yield f"{table.name}: {lost} rows refer to {key.column.table.name} that are not there"


def _revisions(connection: Connection) -> Iterator[str]:
    wanted = (
        select(jobs.c.key, jobs.c.number, revisions.c.number, revisions.c.text, revisions.c.sha256)
        .outerjoin(revisions, revisions.c.job_id == jobs.c.id)
        .order_by(jobs.c.id, revisions.c.number)
    )
    expected: dict[str, int] = {}
    newest: dict[str, int] = {}
    for key, last, number, content, digest in connection.execute(wanted.execution_options(yield_per=100)):
        newest[key] = last
        if number is None:
            continue
        expected[key] = expected.get(key, 0) + 1
        if number != expected[key]:
            yield f"{key}: revision {expected[key]} is not there"
            expected[key] = number
        if sha256(content.encode()).hexdigest() != digest:
            yield f"{key}, revision {number}: its text is not what was saved"
    for key, last in newest.items():
        if expected.get(key, 0) != last:
            yield f"{key}: the list shows revision {last}, the newest there is {expected.get(key, 0)}"


def _list(connection: Connection) -> Iterator[str]:
    """Hold the list of jobs against the revisions it was made from."""
    wanted = (
        select(jobs, revisions.c.name, revisions.c.saved_by, revisions.c.saved_at, hand_overs.c.revision_id)
        .join(revisions, (revisions.c.job_id == jobs.c.id) & (revisions.c.number == jobs.c.number))
        .outerjoin(hand_overs, hand_overs.c.revision_id == revisions.c.id)
    )
    for row in connection.execute(wanted).mappings():
        listed = (row[jobs.c.name], row[jobs.c.saved_by], row[jobs.c.saved_at], row[jobs.c.handed_over])
        signed = row[hand_overs.c.revision_id] is not None
        saved = (row[revisions.c.name], row[revisions.c.saved_by], row[revisions.c.saved_at], signed)
        if listed != saved:
            yield f"{row[jobs.c.key]}: the list of jobs shows something else than its newest revision"


def _lists_inside(connection: Connection) -> Iterator[str]:
    for table, content in ((evidence, evidence.c.fields), (hand_overs, hand_overs.c.acknowledged)):
        for number, row in connection.execute(select(next(iter(table.primary_key)), content)):
            try:
                json.loads(row)
            except ValueError:
                yield f"{table.name} {number}: what it holds can't be read"


def _files(connection: Connection) -> list[tuple[str, Content]]:
    attached = select(jobs.c.key, attachments.c.name, attachments.c.sha256, attachments.c.size).join(
        attachments, attachments.c.job_id == jobs.c.id
    )
    read = (
        select(jobs.c.key, attachments.c.name, columns.c.sha256, columns.c.size)
        .join(attachments, attachments.c.job_id == jobs.c.id)
        .join(columns, columns.c.attachment_id == attachments.c.id)
    )
    return [
        *((f"{key}, {name}", Content(*content)) for key, name, *content in connection.execute(attached)),
        *(
            (f"{key}, columns of {name}", Content(*content))
            for key, name, *content in connection.execute(read)
        ),
    ]
