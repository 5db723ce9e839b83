"""Rows that are never changed: the database itself refuses it, whoever asks."""

from alembic import op

REFUSAL = "what was saved is never changed"


def fix_rows(table: str) -> None:
    """Let the database refuse to change or delete a row of a table."""
    if op.get_bind().dialect.name == "sqlite":
        for act in ("UPDATE", "DELETE"):
            op.execute(
                f"CREATE TRIGGER {table}_fixed_{act.lower()} BEFORE {act} ON {table} "
                f"BEGIN SELECT RAISE(ABORT, '{REFUSAL}'); END"
            )
        return
    op.execute(
        "CREATE OR REPLACE FUNCTION sparkwright_fixed() RETURNS trigger LANGUAGE plpgsql AS "
        f"$$ BEGIN RAISE EXCEPTION '{REFUSAL}'; END $$"
    )
    op.execute(
        f"CREATE TRIGGER {table}_fixed BEFORE UPDATE OR DELETE ON {table} "
        "FOR EACH ROW EXECUTE FUNCTION sparkwright_fixed()"
    )


def free_rows(table: str) -> None:
    """Take the refusal off a table, for a step that has to fill a new column."""
    if op.get_bind().dialect.name == "sqlite":
        for act in ("update", "delete"):
            op.execute(f"DROP TRIGGER {table}_fixed_{act}")
    else:
        op.execute(f"DROP TRIGGER {table}_fixed ON {table}")
