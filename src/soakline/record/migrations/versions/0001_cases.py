"""Cases, and every text a case had."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Make the two tables."""
    op.create_table(
        "cases",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("label", sa.String(400), nullable=False),
        sa.Column("purpose", sa.String(20), nullable=False),
        sa.Column("origin", sa.String(20), nullable=False),
        sa.Column("text", sa.Text, nullable=False),
        sa.Column("content_hash", sa.String(64), nullable=False),
        sa.Column("version_id", sa.Integer, nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("updated_at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_cases"),
    )
    op.create_table(
        "case_versions",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("case_id", sa.Integer, nullable=False),
        sa.Column("version_id", sa.Integer, nullable=False),
        sa.Column("text", sa.Text, nullable=False),
        sa.Column("content_hash", sa.String(64), nullable=False),
        sa.Column("saved_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["case_id"], ["cases.id"], name="fk_case_versions_case_id_cases"),
        sa.PrimaryKeyConstraint("id", name="pk_case_versions"),
        sa.UniqueConstraint("case_id", "version_id", name="uq_case_versions_case_id"),
    )


def downgrade() -> None:
    """Take the two tables away."""
    op.drop_table("case_versions")
    op.drop_table("cases")
