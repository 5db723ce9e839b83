"""The tables of the store, as the newest migration leaves them."""

from __future__ import annotations

from datetime import UTC, datetime

from sqlalchemy import (
    BigInteger,
    Boolean,
    Column,
    DateTime,
    Dialect,
    ForeignKey,
    Integer,
    MetaData,
    String,
    Table,
    Text,
    TypeDecorator,
    UniqueConstraint,
)

NEWEST = "0008"
"""The migration that makes what stands here."""

NAMES = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "fk": "fk_%(table_name)s_%(column_0_name)s",
    "pk": "pk_%(table_name)s",
}
"""Every constraint has a name, for SQLite can only change what has one."""


class UtcTime(TypeDecorator[datetime]):
    """A moment, kept in UTC; SQLite has no time zones, so they are taken off there and put back."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Turn an aware moment into what the database keeps.

        Parameters
        ----------
        value : datetime or None
            Moment with its zone; None where there is none.
        dialect : Dialect
            Which database it goes to; kept alike in all.
        """
        if value is None:
            return None
        moment = value.astimezone(UTC)
        return moment.replace(tzinfo=None) if dialect.name == "sqlite" else moment

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Turn what the database keeps into an aware moment.

        Parameters
        ----------
        value : datetime or None
            Moment as the database keeps it, in UTC; None where there is none.
        dialect : Dialect
            Which database it comes from; kept alike in all.
        """
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


metadata = MetaData(naming_convention=NAMES)

jobs = Table(
    "jobs",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("key", String(80), nullable=False, unique=True),
    Column("turn", Integer, nullable=False, index=True),  # rises with every change of any job
    Column("number", Integer, nullable=False),  # from here on: what the list shows of the latest revision
    Column("name", String(120), nullable=False),
    Column("engine", String(120), nullable=False),
    Column("vehicle", String(120)),
    Column("customer", String(120)),
    Column("invented", Boolean, nullable=False),
    Column("search", Text, nullable=False),
    Column("saved_at", UtcTime, nullable=False),
    Column("saved_by", String(80), nullable=False),
    Column("handed_over", Boolean, nullable=False),
    Column("imported_at", UtcTime),
    Column("imported_by", String(80)),
    Column("sent_as", String(40)),  # of what started it: the same when it is sent again
)

revisions = Table(
    "revisions",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("job_id", ForeignKey("jobs.id"), nullable=False),
    Column("number", Integer, nullable=False),
    Column("text", Text, nullable=False),
    Column("name", String(120), nullable=False),
    Column("fingerprint", String(64), nullable=False),
    Column("saved_at", UtcTime, nullable=False),
    Column("saved_by", String(80), nullable=False),
    Column("why", String(500), nullable=False),
    Column("sha256", String(64), nullable=False),  # of the text
    UniqueConstraint("job_id", "number"),
)

hand_overs = Table(
    "hand_overs",
    metadata,
    Column("revision_id", ForeignKey("revisions.id"), primary_key=True),
    Column("signed_at", UtcTime, nullable=False),
    Column("signed_by", String(80), nullable=False),
    Column("signed_for", String(80), nullable=False),
    Column("acknowledged", Text, nullable=False),  # JSON list of sentences
)

kept_texts = Table(
    "kept_texts",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("job_id", ForeignKey("jobs.id"), nullable=False, index=True),
    Column("text", Text, nullable=False),
    Column("kept_at", UtcTime, nullable=False),
    Column("given_by", String(80), nullable=False),
    Column("why", String(500), nullable=False),
    Column("based_on", Integer, nullable=False),
    Column("dropped_at", UtcTime),
)

attachments = Table(
    "attachments",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("job_id", ForeignKey("jobs.id"), nullable=False, index=True),
    Column("name", String(200), nullable=False),
    Column("kind", String(20), nullable=False),
    Column("size", BigInteger, nullable=False),
    Column("sha256", String(64), nullable=False),
    Column("attached_at", UtcTime, nullable=False),
    Column("attached_by", String(80), nullable=False),
)

columns = Table(
    "columns",
    metadata,
    Column("attachment_id", ForeignKey("attachments.id"), primary_key=True),
    Column("size", BigInteger, nullable=False),
    Column("sha256", String(64), nullable=False),
)

evidence = Table(
    "evidence",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("job_id", ForeignKey("jobs.id"), nullable=False, index=True),
    Column("kind", String(20), nullable=False),
    Column("version", Integer, nullable=False),  # of the kind's fields
    Column("fields", Text, nullable=False),  # JSON
    Column("taken_at", UtcTime, nullable=False),
    Column("taken_by", String(80), nullable=False),
    Column("withdrawn_at", UtcTime),
    Column("withdrawn_by", String(80)),
    Column("withdrawn_why", String(500), nullable=False),
    Column("sent_as", String(40)),  # of what was sent: the same when it is sent again
)

cases = Table(
    "cases",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("job_id", ForeignKey("jobs.id"), index=True),  # null where it is no job of the shop
    Column("name", String(120), nullable=False),
    Column("opened_at", UtcTime, nullable=False),
    Column("opened_by", String(80), nullable=False),
)

case_entries = Table(
    "case_entries",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("case_id", ForeignKey("cases.id"), nullable=False, index=True),
    Column("kind", String(20), nullable=False),
    Column("question", String(40), nullable=False),
    Column("answer", String(40), nullable=False),
    Column("text", String(500), nullable=False),
    Column("withdraws", ForeignKey("case_entries.id")),
    Column("said_at", UtcTime, nullable=False),
    Column("noted_by", String(80), nullable=False),
)

job_states = Table(
    "standings",
    metadata,
    Column("fingerprint", String(64), primary_key=True),  # of the facts that were worked out
    Column("program", String(40), primary_key=True),  # the version that worked them out
    Column("mark", String(10), nullable=False),
    Column("words", String(500), nullable=False),
)

settings = Table(
    "settings",
    metadata,
    Column("name", String(80), primary_key=True),
    Column("value", Text, nullable=False),
)

tries = Table(
    "tries",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("place", String(64), nullable=False),
    Column("tried_at", UtcTime, nullable=False),
)

learning_runs = Table(
    "learning_runs",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("fingerprint", String(64), nullable=False),  # of the job that is learned
    Column("what", String(80), nullable=False),
    Column("done", Integer, nullable=False),
    Column("total", Integer, nullable=False),
    Column("told_at", UtcTime, nullable=False),  # by the database's clock
    Column("stop_asked", Boolean, nullable=False),
)

log = Table(
    "log",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("kind", String(20), nullable=False, index=True),
    Column("happened_at", UtcTime, nullable=False),
    Column("place", String(64), nullable=False),
    Column("who", String(80)),
    Column("key", String(80)),  # of the job; null where it was none's, or of one that was removed since
    Column("about", String(200), nullable=False),
)

removing = Table(
    "removing",
    metadata,
    Column("job_id", ForeignKey("jobs.id"), primary_key=True),  # only inside the transaction that removes it
)
