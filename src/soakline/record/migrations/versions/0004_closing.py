"""Whether a case is closed: the entry of the log that closed or reopened it last."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"


def upgrade() -> None:
    """Make the column; every case that is kept is open."""
    op.add_column("cases", sa.Column("standing_id", sa.Integer, nullable=True))


def downgrade() -> None:
    """Take the column away; what the log tells of closed cases stays in it."""
    op.drop_column("cases", "standing_id")
