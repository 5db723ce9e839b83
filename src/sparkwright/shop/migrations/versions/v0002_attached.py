"""Attached files, readings, a hash of every revision's text, and who brought a job in from an archive."""

from hashlib import sha256

import sqlalchemy as sa
from alembic import op

from sparkwright.shop.migrations.fixed import fix_rows, free_rows

revision = "0002"
down_revision = "0001"

TIME = sa.DateTime(timezone=True)


def upgrade() -> None:
    """Add the tables and fill in the hashes."""
    op.create_table(
        "attachments",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("job_id", sa.Integer, nullable=False),
        sa.Column("name", sa.String(200), nullable=False),
        sa.Column("kind", sa.String(20), nullable=False),
        sa.Column("size", sa.BigInteger, nullable=False),
        sa.Column("sha256", sa.String(64), nullable=False),
        sa.Column("attached_at", TIME, nullable=False),
        sa.Column("attached_by", sa.String(80), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_attachments"),
        sa.ForeignKeyConstraint(["job_id"], ["jobs.id"], name="fk_attachments_job_id"),
    )
    op.create_index("ix_attachments_job_id", "attachments", ["job_id"])
    op.create_table(
        "columns",
        sa.Column("attachment_id", sa.Integer, nullable=False),
        sa.Column("size", sa.BigInteger, nullable=False),
        sa.Column("sha256", sa.String(64), nullable=False),
        sa.PrimaryKeyConstraint("attachment_id", name="pk_columns"),
        sa.ForeignKeyConstraint(["attachment_id"], ["attachments.id"], name="fk_columns_attachment_id"),
    )
    op.create_table(
        "readings",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("job_id", sa.Integer, nullable=False),
        sa.Column("row", sa.Text, nullable=False),
        sa.Column("read_at", TIME, nullable=False),
        sa.Column("read_by", sa.String(80), nullable=False),
        sa.Column("taken_back_at", TIME),
        sa.Column("taken_back_by", sa.String(80)),
        sa.PrimaryKeyConstraint("id", name="pk_readings"),
        sa.ForeignKeyConstraint(["job_id"], ["jobs.id"], name="fk_readings_job_id"),
    )
    op.create_index("ix_readings_job_id", "readings", ["job_id"])
    op.add_column("jobs", sa.Column("imported_at", TIME))
    op.add_column("jobs", sa.Column("imported_by", sa.String(80)))
    _hash_texts()
    fix_rows("attachments")


def _hash_texts() -> None:
    free_rows("revisions")
    op.add_column("revisions", sa.Column("sha256", sa.String(64)))
    table = sa.table("revisions", sa.column("id"), sa.column("text"), sa.column("sha256"))
    connection = op.get_bind()
    for number, text in connection.execute(sa.select(table.c.id, table.c.text)).all():
        digest = sha256(text.encode()).hexdigest()
        connection.execute(table.update().where(table.c.id == number).values(sha256=digest))
    with op.batch_alter_table("revisions") as batch:
        batch.alter_column("sha256", existing_type=sa.String(64), nullable=False)
    fix_rows("revisions")
