"""The connection to one store: many readers, one writer at a time, every write one transaction.

A write is acknowledged when its method returns; it is on the disk then. With SQLite that is the write-ahead
log with full synchronisation, with PostgreSQL its own log.
"""

from __future__ import annotations

import sqlite3
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from typing import Any, Self

from sqlalchemy import Connection, Engine, create_engine, event, text
from sqlalchemy.exc import DBAPIError
from sqlalchemy.exc import TimeoutError as NoConnectionFreeError

from sparkwright.shop import tables
from sparkwright.shop.files import FILE_FOR_ONE_USER, FOR_ONE_USER, Files
from sparkwright.shop.migrate import migrate, version_of
from sparkwright.shop.place import StorePlace
from sparkwright.shop.refusals import FULL, AtPlaceError, ShopError

WAIT_S = 30.0
"""How long a writer waits for its turn."""
WRITERS_LOCK = 0x5A7C
"""Name of the lock by which writers to PostgreSQL take turns."""

# A reader sees one moment of the store from beginning to end; a writer sees what the one before it wrote.
POSTGRESQL_READING: dict[str, Any] = {"isolation_level": "REPEATABLE READ"}
POSTGRESQL_WRITING: dict[str, Any] = {"isolation_level": "READ COMMITTED"}
SQLITE_READING: dict[str, Any] = {"first_words": "BEGIN"}
SQLITE_WRITING: dict[str, Any] = {"first_words": "BEGIN IMMEDIATE"}

LOST_ROWS = "rows refer to rows that are not there"
SAID = {
    "not a database": "is not a store of Sparkwright; choose another file",
    "unable to open": "can't be opened; check that the folder is there and may be written",
    "readonly": "may not be written; check who owns the file and its folder",
    "read-only": "may not be written; check who owns the file and its folder",
    "full": f"{FULL}; nothing of this was saved, make room and do it again",
    "no space left": f"{FULL}; nothing of this was saved, make room and do it again",
    "locked": f"somebody else has been writing for {WAIT_S:.0f} s; nothing of this was saved, do it again",
    "malformed": "is damaged; bring back the newest backup with `sparkwright shop restore`",
    "disk i/o": "the disk can't be read or written; look after the disk before anything else",
    "foreign key": LOST_ROWS,
    "password": "PostgreSQL does not let this user in; check name and password",
    "does not exist": "PostgreSQL has no such database or user; check the address",
    "connection": "PostgreSQL can't be reached; check the address and that it runs",
}
"""What a database tells, and what a person hears of it."""


def now() -> datetime:
    """Give this moment, in UTC."""
    return datetime.now(UTC)


class Database:
    """One store's database and its folder of files.

    Parameters
    ----------
    place : Place
        Where it is.
    to : str or None
        Version of the tables to bring it to; None leaves it as it is.

    Raises
    ------
    ShopError
        If there is no store and none can be made.
    """

    def __init__(self, place: StorePlace, *, to: str | None = tables.NEWEST) -> None:
        self.place = place
        self.files = Files(place.files)
        self._on_sqlite = place.database is not None
        self._turn = threading.Lock()
        self._engine = _engine(place)
        try:
            with self._told():
                self._prepare(to)
        except BaseException:
            self._engine.dispose()
            raise

    def close(self) -> None:
        """Let go of the database; what was acknowledged is kept."""
        self._engine.dispose()

    def __enter__(self) -> Self:
        """Use the store in a block."""
        return self

    def __exit__(self, *about: object) -> None:
        """Close at the end of the block."""
        self.close()

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """Read one moment of the store: what is written meanwhile isn't seen."""
        with self._told(), self._engine.connect() as connection:
            connection.execution_options(**(SQLITE_READING if self._on_sqlite else POSTGRESQL_READING))
            with connection.begin():
                yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """Write all of a block or none of it, one writer at a time; it is on the disk when the block ends."""
        with self._told(), self._turn, self._engine.connect() as connection, self._writer(connection):
            yield connection

    @contextmanager
    def _writer(self, connection: Connection) -> Iterator[None]:
        connection.execution_options(**(SQLITE_WRITING if self._on_sqlite else POSTGRESQL_WRITING))
        with connection.begin():
            if not self._on_sqlite:
                connection.execute(text(f"SELECT pg_advisory_xact_lock({WRITERS_LOCK})"))
            yield

    @contextmanager
    def _told(self) -> Iterator[None]:
        """Say in a sentence what a database has told."""
        try:
            yield
        except (DBAPIError, sqlite3.Error) as problem:
            told = str(problem.orig if isinstance(problem, DBAPIError) else problem).lower()
            what = next((words for sign, words in SAID.items() if sign in told), None)
            if what is None:
                first = self.place.without_secrets(told.splitlines()[0])
                what = f"the database refused this ({first}); nothing of it was saved"
            raise AtPlaceError(self.place.shown, what) from problem
        except NoConnectionFreeError as problem:
            raise AtPlaceError(self.place.shown, SAID["locked"]) from problem

    def _prepare(self, to: str | None) -> None:
        if self.place.database is not None:
            try:
                self.place.database.parent.mkdir(mode=FOR_ONE_USER, parents=True, exist_ok=True)
            except OSError as problem:
                raise AtPlaceError(
                    self.place.shown, f"its folder can't be made ({problem.strerror})"
                ) from problem
            self._write_ahead()
            if self.version() is None:
                # It will hold customers and the shop's secrets; its log takes the same rights.
                self.place.database.chmod(FILE_FOR_ONE_USER)
        if to is not None and self.version() != to:
            self.bring_to(to)

    def version(self) -> str | None:
        """Give the version of the tables; None when there are none yet."""
        with self.reading() as connection:
            return version_of(connection)

    def bring_to(self, version: str, then: Callable[[Connection], None] = lambda connection: None) -> None:
        """Take the steps to a version of the tables, and one act more, all or none.

        Parameters
        ----------
        version : str
            Step of the tables to stand at.
        then : callable, optional
            What else is done in the same transaction, with its connection.
        """
        with self._told(), self._turn, self._engine.connect() as connection:
            if self._on_sqlite:
                # SQLite changes a table by making it anew; references are off meanwhile and checked after.
                _sqlite(connection).execute("PRAGMA foreign_keys = OFF")
            try:
                with self._writer(connection):
                    migrate(connection, version)
                    then(connection)
                    if self._on_sqlite and connection.exec_driver_sql("PRAGMA foreign_key_check").first():
                        raise AtPlaceError(self.place.shown, LOST_ROWS)
            finally:
                if self._on_sqlite:
                    _sqlite(connection).execute("PRAGMA foreign_keys = ON")

    def leave_no_trace(self) -> bool:
        """Write the file of SQLite anew without what was deleted; False where others keep that from ending.

        What was deleted is then in the log of what is written, until the last who uses the store closes it.
        PostgreSQL does such things by itself, in its own time.
        """
        if not self._on_sqlite:
            return True
        with self._turn, self._engine.connect() as connection:
            own = _sqlite(connection)
            try:
                own.execute("VACUUM")
                kept_from, _, _ = own.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
            except sqlite3.Error:
                return False
            return not kept_from

    def _write_ahead(self) -> None:
        """Let SQLite keep a log of what is written; it stays so, and can't be asked for twice at once."""
        until = time.monotonic() + WAIT_S
        while True:
            try:
                with self._engine.connect() as connection:
                    mode = _sqlite(connection).execute("PRAGMA journal_mode").fetchone()
                    if mode != ("wal",):
                        _sqlite(connection).execute("PRAGMA journal_mode = WAL")
                return
            except sqlite3.OperationalError as problem:
                if "locked" not in str(problem) or time.monotonic() > until:
                    raise
                time.sleep(0.02)


def _sqlite(connection: Connection) -> sqlite3.Connection:
    """Give SQLite's own connection, for what can't be said inside a transaction."""
    own = connection.connection.driver_connection
    assert isinstance(own, sqlite3.Connection)
    return own


def _engine(place: StorePlace) -> Engine:
    if place.database is None:
        try:
            return create_engine(
                place.url,
                pool_size=10,
                max_overflow=30,
                pool_pre_ping=True,
                connect_args={"options": "-c synchronous_commit=on -c timezone=UTC", "connect_timeout": 10},
            )
        except ModuleNotFoundError as problem:
            raise ShopError(
                "PostgreSQL needs the package psycopg; install Sparkwright as sparkwright[postgresql]"
            ) from problem
    engine = create_engine(place.url, pool_size=10, max_overflow=30, connect_args={"timeout": WAIT_S})
    event.listen(engine, "connect", _set_up_sqlite)
    event.listen(engine, "begin", _begin_sqlite)
    return engine


def _set_up_sqlite(connection: sqlite3.Connection, record: object) -> None:
    # Transactions are begun by us, so that making tables is part of one too.
    connection.isolation_level = None
    connection.execute("PRAGMA foreign_keys = ON")
    connection.execute("PRAGMA synchronous = FULL")
    # What is deleted is written over with zeros, and doesn't stay in the file's free parts.
    connection.execute("PRAGMA secure_delete = ON")


def _begin_sqlite(connection: Connection) -> None:
    # A writer takes its turn at once: begun as a reader it could find the store changed under it.
    connection.exec_driver_sql(connection.get_execution_options().get("first_words", "BEGIN"))
