"""Learning under way, so that every serving process can tell of it and stop it; each row goes as it ends."""

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"


def upgrade() -> None:
    """Make the table of runs."""
    op.create_table(
        "learning_runs",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("fingerprint", sa.String(64), nullable=False),
        sa.Column("what", sa.String(80), nullable=False),
        sa.Column("done", sa.Integer, nullable=False),
        sa.Column("total", sa.Integer, nullable=False),
        sa.Column("told_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("stop_asked", sa.Boolean, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_learning_runs"),
    )
