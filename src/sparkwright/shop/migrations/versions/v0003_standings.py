"""How jobs stood when they were last worked out, for the list; every row can be thrown away."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    """Make the table of standings."""
    op.create_table(
        "standings",
        sa.Column("fingerprint", sa.String(64), nullable=False),
        sa.Column("program", sa.String(40), nullable=False),
        sa.Column("mark", sa.String(10), nullable=False),
        sa.Column("words", sa.String(500), nullable=False),
        sa.PrimaryKeyConstraint("fingerprint", "program", name="pk_standings"),
    )
