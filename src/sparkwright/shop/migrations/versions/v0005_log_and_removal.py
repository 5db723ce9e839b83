"""The record of who came and what left, removal of a job for good, and readings that may be sent twice."""

import sqlalchemy as sa
from alembic import op

from sparkwright.shop.migrations.fixed import fix_rows_but_for_removal

revision = "0005"
down_revision = "0004"


def upgrade() -> None:
    """Make the tables, let rows of a job that is being removed go, and give readings their word."""
    op.create_table(
        "log",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("kind", sa.String(20), nullable=False),
        sa.Column("happened_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("place", sa.String(64), nullable=False),
        sa.Column("who", sa.String(80)),
        sa.Column("key", sa.String(80)),
        sa.Column("about", sa.String(200), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_log"),
    )
    op.create_index("ix_log_kind", "log", ["kind"])
    op.create_table(
        "removing",
        sa.Column("job_id", sa.Integer, nullable=False),
        sa.PrimaryKeyConstraint("job_id", name="pk_removing"),
        sa.ForeignKeyConstraint(["job_id"], ["jobs.id"], name="fk_removing_job_id"),
    )
    fix_rows_but_for_removal("revisions", "OLD.job_id")
    fix_rows_but_for_removal("attachments", "OLD.job_id")
    fix_rows_but_for_removal("hand_overs", "(SELECT job_id FROM revisions WHERE id = OLD.revision_id)")
    op.add_column("readings", sa.Column("sent_as", sa.String(40)))
