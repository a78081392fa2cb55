"""People who sign in, their sessions, the sign-ins that were refused, and the ward of each case."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    """Make the tables, and the column that says which ward a case belongs to."""
    op.create_table(
        "people",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("name", sa.String(100), nullable=False),
        sa.Column("role", sa.String(20), nullable=False),
        sa.Column("wards", sa.Text, nullable=False),
        sa.Column("password_hash", sa.String(200), nullable=True),
        sa.Column("has_first_password", sa.Boolean, nullable=False),
        sa.Column("subject", sa.String(300), nullable=True),
        sa.Column("is_locked", sa.Boolean, nullable=False),
        sa.Column("version_id", sa.Integer, nullable=False),
        sa.Column("changed_at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_people"),
        sa.UniqueConstraint("name", name="uq_people_name"),
        sa.UniqueConstraint("subject", name="uq_people_subject"),
    )
    op.create_table(
        "sessions",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("token_hash", sa.String(64), nullable=False),
        sa.Column("person_id", sa.Integer, nullable=True),
        sa.Column("opened_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("seen_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name="fk_sessions_person_id_people"),
        sa.PrimaryKeyConstraint("id", name="pk_sessions"),
        sa.UniqueConstraint("token_hash", name="uq_sessions_token_hash"),
    )
    op.create_index("ix_sessions_person_id", "sessions", ["person_id"])
    op.create_table(
        "attempts",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("name_hash", sa.String(64), nullable=False),
        sa.Column("address", sa.String(100), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_attempts"),
    )
    op.create_index("ix_attempts_at", "attempts", ["at"])
    op.add_column("cases", sa.Column("ward", sa.String(80), nullable=False, server_default=""))


def downgrade() -> None:
    """Take the tables and the column away."""
    op.drop_column("cases", "ward")
    for table in ("attempts", "sessions", "people"):
        op.drop_table(table)
