"""Rows that are never changed: the database itself refuses it, whoever asks."""

from alembic import op

REFUSAL = "what was saved is never changed"


def fix_rows(table: str) -> None:
    """Let the database refuse to change or delete a row of a table.

    Parameters
    ----------
    table : str
        Name of the table.
    """
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
    """Take the refusal off a table, for a step that has to fill a new column.

    Parameters
    ----------
    table : str
        Name of the table.
    """
    if op.get_bind().dialect.name == "sqlite":
        for act in ("update", "delete"):
            op.execute(f"DROP TRIGGER {table}_fixed_{act}")
    else:
        op.execute(f"DROP TRIGGER {table}_fixed ON {table}")


def fix_rows_but_for_removal(table: str, job_of_row: str) -> None:
    """Let the database refuse every change of a table's fixed rows but one: a job is removed for good.

    Rows may be deleted while their job stands in the table ``removing``. `Removal.remove` puts it there
    and takes it out in the transaction that deletes everything of the job, so that no other ever sees it.

    Parameters
    ----------
    table : str
        A table that was fixed by `fix_rows`.
    job_of_row : str
        SQL that gives the job of the row ``OLD``.
    """
    stays = f"NOT EXISTS (SELECT 1 FROM removing WHERE job_id = {job_of_row})"
    if op.get_bind().dialect.name == "sqlite":
        op.execute(f"DROP TRIGGER {table}_fixed_delete")
        op.execute(
            f"CREATE TRIGGER {table}_fixed_delete BEFORE DELETE ON {table} WHEN {stays} "
            f"BEGIN SELECT RAISE(ABORT, '{REFUSAL}'); END"
        )
        return
    op.execute(f"DROP TRIGGER {table}_fixed ON {table}")
    op.execute(
        f"CREATE TRIGGER {table}_fixed BEFORE UPDATE ON {table} "
        "FOR EACH ROW EXECUTE FUNCTION sparkwright_fixed()"
    )
    op.execute(
        f"CREATE FUNCTION sparkwright_{table}_stay() RETURNS trigger LANGUAGE plpgsql AS "
        f"$$ BEGIN IF {stays} THEN RAISE EXCEPTION '{REFUSAL}'; END IF; RETURN OLD; END $$"
    )
    op.execute(
        f"CREATE TRIGGER {table}_fixed_delete BEFORE DELETE ON {table} "
        f"FOR EACH ROW EXECUTE FUNCTION sparkwright_{table}_stay()"
    )
