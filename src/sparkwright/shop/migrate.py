"""Bringing a database to the newest tables when it is opened, each step whole or not at all."""

from __future__ import annotations

from pathlib import Path

from sqlalchemy import Connection, inspect, text

from sparkwright.shop import tables
from sparkwright.shop.refusals import ShopError

STEPS = Path(__file__).parent / "migrations"


def version_of(connection: Connection) -> str | None:
    """Give the step at which a database stands; None when it is empty.

    Parameters
    ----------
    connection : Connection
        Open connection to the database.

    Raises
    ------
    ShopError
        If it holds tables of something else.
    """
    names = inspect(connection).get_table_names()
    if "alembic_version" in names:
        version: str | None = connection.execute(text("SELECT version_num FROM alembic_version")).scalar()
        return version
    if names:
        raise ShopError("this database holds tables of something else; choose another place for the store")
    return None


def migrate(connection: Connection, to: str = tables.NEWEST) -> None:
    """Take every step that a database still lacks, inside the caller's transaction.

    Parameters
    ----------
    connection : Connection
        Open connection, inside whose transaction the steps are taken.
    to : str, optional
        Step to end at; the newest by default.

    Raises
    ------
    ShopError
        If a newer version of the program wrote it, or it is no store.
    """
    at = version_of(connection)
    if at == to:
        return
    # Loaded only here: a store that is up to date opens without it.
    from alembic.migration import MigrationContext
    from alembic.operations import Operations
    from alembic.script import ScriptDirectory

    script = ScriptDirectory(str(STEPS))
    if at is not None and not is_known(at):
        raise ShopError(
            "this store was written by a newer version of Sparkwright; bring the program up to date"
        )
    context = MigrationContext.configure(connection)
    with Operations.context(context):
        for step in reversed(list(script.iterate_revisions(to, at or "base"))):
            step.module.upgrade()
            context.stamp(script, step.revision)


def is_known(version: str) -> bool:
    """Whether this version of the program knows a step.

    Parameters
    ----------
    version : str
        Step at which a database says that it stands.
    """
    from alembic.script import ScriptDirectory

    return any(step.revision == version for step in ScriptDirectory(str(STEPS)).walk_revisions())
