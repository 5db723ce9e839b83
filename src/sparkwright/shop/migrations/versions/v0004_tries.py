"""Tries of the pass-phrase, so that all serving processes count the same; each row is gone in a minute."""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"


def upgrade() -> None:
    """Make the table of tries."""
    op.create_table(
        "tries",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("place", sa.String(64), nullable=False),
        sa.Column("tried_at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_tries"),
    )
