"""The whole store in one file while people work on it, and a new store made from such a file.

Tables stand in it as plain lines, so that a backup of SQLite can be restored to PostgreSQL and the other way
round, by this or a later version of the program.
"""

from __future__ import annotations

import json
import secrets
import shutil
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Column, Connection, DateTime, MetaData, Table, delete, func, insert, select

from sparkwright.shop import tables
from sparkwright.shop.database import Database
from sparkwright.shop.files import Content, chunks_of
from sparkwright.shop.migrate import is_known
from sparkwright.shop.package import Package, packing
from sparkwright.shop.place import place_of
from sparkwright.shop.refusals import ShopError
from sparkwright.shop.settings import ENDED_SIGN_INS, PASSPHRASE, SESSION_SECRET

SCHEMA = "urn:sparkwright:backup:1"
TABLES_VERSION = "tables/version"
ROWS_AT_ONCE = 500
MOST_LINE_BYTES = 20_000_000
"""The longest row there can be is a job file of a million bytes, each written as an escape of six."""
SIGN_INS = (SESSION_SECRET, ENDED_SIGN_INS)
"""Settings that no backup holds: with them whoever finds one could sign in to the store it came from."""
NOT_IN_BACKUPS = (tables.tries, tables.log, tables.learning_runs)
"""Who tried the pass-phrase, who came when and what runs just now, which is this store's alone."""


def write_backup(database: Database, target: str | Path) -> None:
    """Write everything that was acknowledged up to now into one file; others go on working.

    Parameters
    ----------
    database : Database
        The store's database, with its files beside it.
    target : str or Path
        Where the backup goes; nothing may be there yet.

    Raises
    ------
    ShopError
        If there is a file of that name, or an attached file is missing or damaged.
    """
    with packing(Path(target), SCHEMA) as package:
        package.add(TABLES_VERSION, [tables.NEWEST.encode()])
        with database.reading() as connection:
            for table in tables.metadata.sorted_tables:
                package.add(_rows_file(table.name), _lines(connection, table))
            kept = _kept_files(connection)
        # Files are put in before the rows that name them and never change, so that they can follow later.
        for content in kept:
            with database.files.open(content.sha256, content.sha256) as stream:
                packed = package.add(_bytes_file(content), chunks_of(stream))
            if packed != content:
                raise ShopError(
                    f"{database.files.problem(content)}; no backup was written, bring that file back first"
                )


def restore(source: str | Path, place: str | Path, *, files: str | Path | None = None) -> None:
    """Make a new store from a backup; never writes over one that is there.

    Parameters
    ----------
    source : str or Path
        The backup.
    place, files : str or Path
        Where the new store goes, as for `open_shop`.

    Raises
    ------
    ShopError
        If there is something at the place already, or the backup can't be used; then nothing is made.
    """
    to = place_of(place, files)
    if to.database is not None and to.database.exists():
        raise ShopError(f"{to.shown}: is there already and was left as it is; choose another place")
    if to.files is not None and to.files.exists() and any(to.files.iterdir()):
        raise ShopError(f"{to.files}: holds files already; choose another place")
    with Package(Path(source), SCHEMA, all_bytes=True) as package:
        made = Database(to, to=None)
        try:
            if made.version() is not None:
                raise ShopError(
                    f"{to.shown}: holds a store already and was left as it is; choose another place"
                )
            _fill(made, package)
        except BaseException:
            made.close()
            _take_away(to.database, to.files)
            raise
        made.close()


def _fill(made: Database, package: Package) -> None:
    version = package.read(TABLES_VERSION, 100).decode("ascii", "replace")
    if not is_known(version):
        raise ShopError(
            f"{package.name}: was written by a newer version of Sparkwright; bring the program up to date"
        )
    for name in package.manifest.members:
        if name.startswith(_FILES):
            content = made.files.put(package.chunks(name), most_bytes=2**60, called=name)
            if _bytes_file(content) != name:
                raise ShopError(f"{package.name}: {name} does not hold what its name says")
    made.bring_to(version, lambda connection: _insert_all(connection, package))
    made.bring_to(tables.NEWEST, _begin_sign_ins_anew)


def _begin_sign_ins_anew(connection: Connection) -> None:
    """Give the store a secret of its own, so that no sign-in to the one it came from opens it."""
    settings = tables.settings
    connection.execute(delete(settings).where(settings.c.name.in_(SIGN_INS)))
    if connection.execute(select(settings.c.name).where(settings.c.name == PASSPHRASE)).first():
        connection.execute(insert(settings).values(name=SESSION_SECRET, value=secrets.token_hex(32)))


def _take_away(database: Path | None, files: Path | None) -> None:
    if database is not None:
        for ending in ("", "-wal", "-shm"):
            database.with_name(database.name + ending).unlink(missing_ok=True)
    if files is not None:
        shutil.rmtree(files, ignore_errors=True)


_FILES = "files/"


def _bytes_file(content: Content) -> str:
    return f"{_FILES}{content.sha256}"


def _rows_file(table: str) -> str:
    return f"tables/{table}.jsonl"


def _kept_files(connection: Connection) -> list[Content]:
    found = []
    for table in (tables.attachments, tables.columns):
        found += [Content(*row) for row in connection.execute(select(table.c.sha256, table.c.size))]
    return list(dict.fromkeys(found))


# Rows to lines and back


def _lines(connection: Connection, table: Table) -> Iterator[bytes]:
    if table in NOT_IN_BACKUPS:
        return
    wanted = select(table)
    if table is tables.settings:
        wanted = wanted.where(table.c.name.not_in(SIGN_INS))
    for row in connection.execution_options(yield_per=ROWS_AT_ONCE).execute(wanted).mappings():
        plain = {
            name: value.isoformat() if isinstance(value, datetime) else value for name, value in row.items()
        }
        yield json.dumps(plain, ensure_ascii=False).encode() + b"\n"


def _insert_all(connection: Connection, package: Package) -> None:
    there = MetaData()
    there.reflect(connection)
    for table in there.sorted_tables:
        if table.name == "alembic_version":
            continue
        rows: list[dict[str, Any]] = []
        for row in _rows(table, package, connection):
            rows.append(row)
            if len(rows) == ROWS_AT_ONCE:
                connection.execute(insert(table), rows)
                rows = []
        if rows:
            connection.execute(insert(table), rows)
        if connection.dialect.name == "postgresql" and "id" in table.c:
            # New rows are numbered after those that came with their numbers.
            last = select(func.coalesce(func.max(table.c.id), 0) + 1).scalar_subquery()
            connection.execute(
                select(func.setval(func.pg_get_serial_sequence(table.name, "id"), last, False))
            )


def _rows(table: Table, package: Package, connection: Connection) -> Iterator[dict[str, Any]]:
    for count, line in enumerate(_whole_lines(package, _rows_file(table.name)), 1):
        where = f"{package.name}, {_rows_file(table.name)}, line {count}"
        try:
            given = json.loads(line)
            if set(given) != set(table.c.keys()):
                raise ValueError("other columns")
            row = {column.name: _value(column, given[column.name], connection) for column in table.c}
        except (ValueError, TypeError, RecursionError, OverflowError) as problem:
            raise ShopError(f"{where}: can't be read as a row of that table") from problem
        yield row


def _whole_lines(package: Package, name: str) -> Iterator[bytes]:
    rest = b""
    for chunk in package.chunks(name):
        *whole, rest = (rest + chunk).split(b"\n")
        yield from whole
        if len(rest) > MOST_LINE_BYTES:
            raise ShopError(
                f"{package.name}, {name}: holds a line longer than {MOST_LINE_BYTES:,} bytes, which is no row"
            )
    if rest:
        yield rest


def _value(column: Column[Any], given: Any, connection: Connection) -> Any:
    """Turn a value of a line into what its column takes.

    Raises
    ------
    ValueError, TypeError
        If the column can't hold it.
    """
    if given is None:
        if not column.nullable:
            raise ValueError("nothing given")
        return None
    if isinstance(column.type, DateTime):
        return tables.UtcTime().process_bind_param(datetime.fromisoformat(given), connection.dialect)
    if type(given) is not column.type.python_type:
        raise TypeError("another kind of value")
    if isinstance(given, int) and not -(2**63) <= given < 2**63:
        raise ValueError("too large")
    return given
