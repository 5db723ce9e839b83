"""Jobs, their revisions, hand-overs, texts kept beside, settings."""

import sqlalchemy as sa
from alembic import op

from sparkwright.shop.migrations.fixed import fix_rows

revision = "0001"
down_revision = None

TIME = sa.DateTime(timezone=True)


def upgrade() -> None:
    """Make the first tables."""
    op.create_table(
        "jobs",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("key", sa.String(80), nullable=False),
        sa.Column("turn", sa.Integer, nullable=False),
        sa.Column("number", sa.Integer, nullable=False),
        sa.Column("name", sa.String(120), nullable=False),
        sa.Column("engine", sa.String(120), nullable=False),
        sa.Column("vehicle", sa.String(120)),
        sa.Column("customer", sa.String(120)),
        sa.Column("invented", sa.Boolean, nullable=False),
        sa.Column("search", sa.Text, nullable=False),
        sa.Column("saved_at", TIME, nullable=False),
        sa.Column("saved_by", sa.String(80), nullable=False),
        sa.Column("handed_over", sa.Boolean, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_jobs"),
        sa.UniqueConstraint("key", name="uq_jobs_key"),
    )
    op.create_index("ix_jobs_turn", "jobs", ["turn"])
    op.create_table(
        "revisions",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("job_id", sa.Integer, nullable=False),
        sa.Column("number", sa.Integer, nullable=False),
        sa.Column("text", sa.Text, nullable=False),
        sa.Column("name", sa.String(120), nullable=False),
        sa.Column("fingerprint", sa.String(64), nullable=False),
        sa.Column("saved_at", TIME, nullable=False),
        sa.Column("saved_by", sa.String(80), nullable=False),
        sa.Column("why", sa.String(500), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_revisions"),
        sa.ForeignKeyConstraint(["job_id"], ["jobs.id"], name="fk_revisions_job_id"),
        sa.UniqueConstraint("job_id", "number", name="uq_revisions_job_id_number"),
    )
    op.create_table(
        "hand_overs",
        sa.Column("revision_id", sa.Integer, nullable=False),
        sa.Column("signed_at", TIME, nullable=False),
        sa.Column("signed_by", sa.String(80), nullable=False),
        sa.Column("signed_for", sa.String(80), nullable=False),
        sa.Column("acknowledged", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("revision_id", name="pk_hand_overs"),
        sa.ForeignKeyConstraint(["revision_id"], ["revisions.id"], name="fk_hand_overs_revision_id"),
    )
    op.create_table(
        "kept_texts",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("job_id", sa.Integer, nullable=False),
        sa.Column("text", sa.Text, nullable=False),
        sa.Column("kept_at", TIME, nullable=False),
        sa.Column("given_by", sa.String(80), nullable=False),
        sa.Column("why", sa.String(500), nullable=False),
        sa.Column("based_on", sa.Integer, nullable=False),
        sa.Column("dropped_at", TIME),
        sa.PrimaryKeyConstraint("id", name="pk_kept_texts"),
        sa.ForeignKeyConstraint(["job_id"], ["jobs.id"], name="fk_kept_texts_job_id"),
    )
    op.create_index("ix_kept_texts_job_id", "kept_texts", ["job_id"])
    op.create_table(
        "settings",
        sa.Column("name", sa.String(80), nullable=False),
        sa.Column("value", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("name", name="pk_settings"),
    )
    fix_rows("revisions")
    fix_rows("hand_overs")
