"""One table for everything that was seen on an engine, and new jobs that may be sent twice."""

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"

TIME = sa.DateTime(timezone=True)


def upgrade() -> None:
    """Make the table of evidence, move the readings into it under their numbers, and give jobs their word."""
    op.create_table(
        "evidence",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("job_id", sa.Integer, nullable=False),
        sa.Column("kind", sa.String(20), nullable=False),
        sa.Column("version", sa.Integer, nullable=False),
        sa.Column("fields", sa.Text, nullable=False),
        sa.Column("taken_at", TIME, nullable=False),
        sa.Column("taken_by", sa.String(80), nullable=False),
        sa.Column("withdrawn_at", TIME),
        sa.Column("withdrawn_by", sa.String(80)),
        sa.Column("withdrawn_why", sa.String(500), nullable=False),
        sa.Column("sent_as", sa.String(40)),
        sa.PrimaryKeyConstraint("id", name="pk_evidence"),
        sa.ForeignKeyConstraint(["job_id"], ["jobs.id"], name="fk_evidence_job_id"),
    )
    op.create_index("ix_evidence_job_id", "evidence", ["job_id"])
    # Every row that was there was given as a reading of a light.
    op.execute(
        "INSERT INTO evidence (id, job_id, kind, version, fields, taken_at, taken_by, withdrawn_at, "
        "withdrawn_by, withdrawn_why, sent_as) SELECT id, job_id, 'light-reading', 1, \"row\", read_at, "
        "read_by, taken_back_at, taken_back_by, '', sent_as FROM readings"
    )
    if op.get_bind().dialect.name == "postgresql":
        op.execute(
            "SELECT setval(pg_get_serial_sequence('evidence', 'id'), "
            "(SELECT coalesce(max(id), 0) + 1 FROM readings), false)"
        )
    op.drop_table("readings")
    op.add_column("jobs", sa.Column("sent_as", sa.String(40)))
