"""The record of who came, and what came in, left or was taken back, for who owns the store."""

from __future__ import annotations

import logging
from dataclasses import dataclass
from typing import Any, get_args

from sqlalchemy import Connection, delete, insert, select

from sparkwright.errors import Refusal, printable
from sparkwright.shop.database import Database, now
from sparkwright.shop.facts import LogKind, LogLine
from sparkwright.shop.refusals import MOST_NAME, ShopError
from sparkwright.shop.tables import log

HERE = "this machine"
"""The place of what is done by a command and not over a network."""
MOST_LINES_OF_A_KIND = 2000
"""A choice. Each kind has its own, so that whoever tries pass-phrases can't push out anything else."""
MOST_LISTED = MOST_LINES_OF_A_KIND * len(get_args(LogKind))


@dataclass(frozen=True)
class Log:
    """The record of a store."""

    database: Database

    def note(
        self, kind: LogKind, place: str, *, who: str = "", key: str | None = None, about: str = ""
    ) -> None:
        """Note what happened; where it can't be noted, the program's log says so and work goes on.

        Parameters
        ----------
        kind : LogKind
            What happened.
        place : str
            Where it came from, such as the address of who asked.
        who : str, optional
            Who is said to have done it; cut to a readable length.
        key : str, optional
            Key of the job that it is about; None where it is about none.
        about : str, optional
            What else is to be known of it.
        """
        try:
            with self.database.writing() as connection:
                add_line(connection, kind, place, who=who, key=key, about=about)
        except ShopError as problem:
            logging.getLogger(__name__).warning("%s from %s could not be noted: %s", kind, place, problem)

    def lines(self, limit: int = 50) -> list[LogLine]:
        """Give the newest lines, newest first.

        Parameters
        ----------
        limit : int, optional
            How many at most.
        """
        if not 0 < limit <= MOST_LISTED:
            raise Refusal.at("limit", limit, f"must be 1 to {MOST_LISTED}")
        with self.database.reading() as connection:
            rows = connection.execute(select(log).order_by(log.c.id.desc()).limit(limit))
            return [_line(row) for row in rows.mappings()]


def add_line(
    connection: Connection, kind: LogKind, place: str, *, who: str, key: str | None, about: str
) -> None:
    """Add a line inside a transaction, and let the oldest of its kind go where there are too many.

    Parameters
    ----------
    connection : Connection
        Open connection, inside whose transaction the line is added.
    kind : LogKind
        What happened.
    place : str
        Where it came from, such as the address of who asked.
    who : str
        Who is said to have done it; cut to a readable length.
    key : str or None
        Key of the job that it is about; None where it is about none.
    about : str
        What else is to be known of it.
    """
    connection.execute(
        insert(log).values(
            kind=kind,
            happened_at=now(),
            place=place,
            who=printable(who)[:MOST_NAME] or None,
            key=key,
            about=about,
        )
    )
    of_kind = select(log.c.id).where(log.c.kind == kind).order_by(log.c.id.desc())
    oldest_kept = of_kind.offset(MOST_LINES_OF_A_KIND - 1).limit(1).scalar_subquery()
    connection.execute(delete(log).where(log.c.kind == kind, log.c.id < oldest_kept))


def _line(row: Any) -> LogLine:
    return LogLine(
        when=row["happened_at"],
        kind=row["kind"],
        place=row["place"],
        who=row["who"],
        key=row["key"],
        about=row["about"],
    )
