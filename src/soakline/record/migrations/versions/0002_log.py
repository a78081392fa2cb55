"""The log of all changes with its chain of hashes, and the plans and papers that were given out."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import UTC, datetime
from hashlib import sha256

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"

NEVER_CHANGED = ("case_versions", "plans", "papers", "entries")


def upgrade() -> None:
    """Make the tables, tell the log what is kept already, and let nobody change what is never changed."""
    _make_plans()
    _make_papers()
    _make_entries()
    op.bulk_insert(sa.table("entries", *_entry_columns()), list(_entries_of_before()))
    for table in NEVER_CHANGED:
        _keep_unchanged(table)


def downgrade() -> None:
    """Take the tables and the guards away."""
    for table in NEVER_CHANGED:
        _let_change(table)
    for table in ("entries", "papers", "plans"):
        op.drop_table(table)


def _make_plans() -> None:
    op.create_table(
        "plans",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("case_id", sa.Integer, nullable=False),
        sa.Column("version_id", sa.Integer, nullable=False),
        sa.Column("program_version", sa.String(40), nullable=False),
        sa.Column("rules_version", sa.String(80), nullable=False),
        sa.Column("settings", sa.Text, nullable=False),
        sa.Column("answer", sa.Text, nullable=False),
        sa.Column("answer_hash", sa.String(64), nullable=False),
        sa.Column("kept_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["case_id"], ["cases.id"], name="fk_plans_case_id_cases"),
        sa.PrimaryKeyConstraint("id", name="pk_plans"),
    )
    op.create_index("ix_plans_case_id_version_id", "plans", ["case_id", "version_id"])


def _make_papers() -> None:
    op.create_table(
        "papers",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("plan_id", sa.Integer, nullable=False),
        sa.Column("kind", sa.String(60), nullable=False),
        sa.Column("media_type", sa.String(100), nullable=False),
        sa.Column("content", sa.LargeBinary, nullable=False),
        sa.Column("content_hash", sa.String(64), nullable=False),
        sa.Column("printed_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["plan_id"], ["plans.id"], name="fk_papers_plan_id_plans"),
        sa.PrimaryKeyConstraint("id", name="pk_papers"),
    )


def _make_entries() -> None:
    op.create_table(
        "entries",
        *_entry_columns(),
        sa.ForeignKeyConstraint(["case_id"], ["cases.id"], name="fk_entries_case_id_cases"),
        sa.ForeignKeyConstraint(["corrects_id"], ["entries.id"], name="fk_entries_corrects_id_entries"),
        sa.PrimaryKeyConstraint("id", name="pk_entries"),
    )
    op.create_index("ix_entries_case_id", "entries", ["case_id"])


def _entry_columns() -> tuple[sa.Column[object], ...]:
    return (
        sa.Column("id", sa.Integer, nullable=False, autoincrement=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("who", sa.String(200), nullable=False),
        sa.Column("what", sa.String(60), nullable=False),
        sa.Column("case_id", sa.Integer, nullable=True),
        sa.Column("content", sa.Text, nullable=False),
        sa.Column("corrects_id", sa.Integer, nullable=True),
        sa.Column("previous_hash", sa.String(64), nullable=False),
        sa.Column("hash", sa.String(64), nullable=False),
    )


def _entries_of_before() -> Iterator[dict[str, object]]:
    """Give one entry for each text that was kept before there was a log; the chain is that of ``record/log.py``."""
    kept = sa.text(
        "SELECT v.case_id, v.version_id, v.content_hash, v.saved_at, c.label, c.purpose, c.origin "
        "FROM case_versions v JOIN cases c ON c.id = v.case_id ORDER BY v.id"
    ).columns(saved_at=sa.DateTime(timezone=True))
    entry_of_case: dict[int, int] = {}
    previous = "0" * 64
    for number, row in enumerate(op.get_bind().execute(kept).all(), 1):
        at: datetime = row.saved_at if row.saved_at.tzinfo else row.saved_at.replace(tzinfo=UTC)
        told = {
            "version": row.version_id,
            "label": row.label,
            "purpose": row.purpose,
            "origin": row.origin,
            "text_sha256": row.content_hash,
        }
        content = json.dumps(told, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
        what = "case saved" if row.case_id in entry_of_case else "case added"
        moment = at.astimezone(UTC).isoformat(timespec="microseconds")
        who, corrects = "kept before the log began", entry_of_case.get(row.case_id)
        said = [number, moment, who, what, row.case_id, content, corrects, previous]
        own = sha256(json.dumps(said, ensure_ascii=False, separators=(",", ":")).encode()).hexdigest()
        yield {
            "id": number,
            "at": at,
            "who": who,
            "what": what,
            "case_id": row.case_id,
            "content": content,
            "corrects_id": corrects,
            "previous_hash": previous,
            "hash": own,
        }
        previous, entry_of_case[row.case_id] = own, number


def _keep_unchanged(table: str) -> None:
    says = f"{table}: what was kept is never changed"
    if op.get_bind().dialect.name == "sqlite":
        for deed in ("UPDATE", "DELETE"):
            op.execute(
                f"CREATE TRIGGER {table}_no_{deed.lower()} BEFORE {deed} ON {table} "
                f"BEGIN SELECT RAISE(ABORT, '{says}'); END"
            )
        return
    op.execute(
        f"CREATE FUNCTION {table}_stay() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN RAISE EXCEPTION '{says}'; END $$"
    )
    op.execute(
        f"CREATE TRIGGER {table}_no_change BEFORE UPDATE OR DELETE OR TRUNCATE ON {table} "
        f"FOR EACH STATEMENT EXECUTE FUNCTION {table}_stay()"
    )


def _let_change(table: str) -> None:
    if op.get_bind().dialect.name == "sqlite":
        for deed in ("update", "delete"):
            op.execute(f"DROP TRIGGER {table}_no_{deed}")
        return
    op.execute(f"DROP TRIGGER {table}_no_change ON {table}")
    op.execute(f"DROP FUNCTION {table}_stay()")
