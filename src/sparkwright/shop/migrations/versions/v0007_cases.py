"""Cases of the desk: what was said, one row each, never changed."""

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"

TIME = sa.DateTime(timezone=True)


def upgrade() -> None:
    """Make the two tables."""
    op.create_table(
        "cases",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("job_id", sa.Integer),
        sa.Column("name", sa.String(120), nullable=False),
        sa.Column("opened_at", TIME, nullable=False),
        sa.Column("opened_by", sa.String(80), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_cases"),
        sa.ForeignKeyConstraint(["job_id"], ["jobs.id"], name="fk_cases_job_id"),
    )
    op.create_index("ix_cases_job_id", "cases", ["job_id"])
    op.create_table(
        "case_entries",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("case_id", sa.Integer, nullable=False),
        sa.Column("kind", sa.String(20), nullable=False),
        sa.Column("question", sa.String(40), nullable=False),
        sa.Column("answer", sa.String(40), nullable=False),
        sa.Column("text", sa.String(500), nullable=False),
        sa.Column("withdraws", sa.Integer),
        sa.Column("said_at", TIME, nullable=False),
        sa.Column("noted_by", sa.String(80), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_case_entries"),
        sa.ForeignKeyConstraint(["case_id"], ["cases.id"], name="fk_case_entries_case_id"),
        sa.ForeignKeyConstraint(["withdraws"], ["case_entries.id"], name="fk_case_entries_withdraws"),
    )
    op.create_index("ix_case_entries_case_id", "case_entries", ["case_id"])
