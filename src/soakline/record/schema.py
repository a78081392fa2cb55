"""What is kept: each case as it stands and as it ever was, the plans and papers given out, and the log of it all."""

from __future__ import annotations

from datetime import UTC, datetime

from sqlalchemy import (
    DateTime,
    Dialect,
    ForeignKey,
    Index,
    LargeBinary,
    MetaData,
    String,
    Table,
    Text,
    TypeDecorator,
    UniqueConstraint,
)
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column

NAMES = {
    "ix": "ix_%(column_0_label)s",
    "uq": "uq_%(table_name)s_%(column_0_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_name)s_%(referred_table_name)s",
    "pk": "pk_%(table_name)s",
}


class UtcTime(TypeDecorator[datetime]):
    """A moment, kept in UTC and given back with its zone; one without a zone is refused."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Return the moment in UTC; raise ValueError where it names no zone."""
        del dialect
        if value is None:
            return None
        if value.tzinfo is None:
            msg = f"{value}: a moment that is kept names its zone"
            raise ValueError(msg)
        return value.astimezone(UTC)

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Return the moment with UTC written on it, which SQLite leaves off."""
        del dialect
        return value.replace(tzinfo=UTC) if value and value.tzinfo is None else value


class Base(DeclarativeBase):
    """The root of all tables; constraints are named, so that a migration can find them."""

    metadata = MetaData(naming_convention=NAMES)


class CaseRow(Base):
    """One case as it stands. ``version_id`` rises by one with each save; ``origin`` is demo or entered.

    ``ward`` is the ward whose people see it, empty where none was named. ``standing_id`` is the entry of the log that
    closed or reopened it last, None where it was never closed; the log points at the case already, so the database
    holds no second pointer back: ``record/verify.py`` holds this one.
    """

    __tablename__ = "cases"

    id: Mapped[int] = mapped_column(primary_key=True)
    label: Mapped[str] = mapped_column(String(400))
    purpose: Mapped[str] = mapped_column(String(20))
    origin: Mapped[str] = mapped_column(String(20))
    text: Mapped[str] = mapped_column(Text)
    content_hash: Mapped[str] = mapped_column(String(64))
    version_id: Mapped[int] = mapped_column()
    created_at: Mapped[datetime] = mapped_column(UtcTime)
    updated_at: Mapped[datetime] = mapped_column(UtcTime)
    ward: Mapped[str] = mapped_column(String(80), server_default="")
    standing_id: Mapped[int | None]


class CaseVersionRow(Base):
    """One text a case had, never changed after it was kept."""

    __tablename__ = "case_versions"
    __table_args__ = (UniqueConstraint("case_id", "version_id"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    case_id: Mapped[int] = mapped_column(ForeignKey("cases.id"))
    version_id: Mapped[int]
    text: Mapped[str] = mapped_column(Text)
    content_hash: Mapped[str] = mapped_column(String(64))
    saved_at: Mapped[datetime] = mapped_column(UtcTime)


class PlanRow(Base):
    """One plan that was given out: of which text, by which version, rules and settings, and its whole answer."""

    __tablename__ = "plans"
    __table_args__ = (Index("ix_plans_case_id_version_id", "case_id", "version_id"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    case_id: Mapped[int] = mapped_column(ForeignKey("cases.id"))
    version_id: Mapped[int]
    program_version: Mapped[str] = mapped_column(String(40))
    rules_version: Mapped[str] = mapped_column(String(80))
    settings: Mapped[str] = mapped_column(Text)
    answer: Mapped[str] = mapped_column(Text)
    answer_hash: Mapped[str] = mapped_column(String(64))
    kept_at: Mapped[datetime] = mapped_column(UtcTime)


class PaperRow(Base):
    """One paper that was given out, byte for byte, with the plan that it was filled from."""

    __tablename__ = "papers"

    id: Mapped[int] = mapped_column(primary_key=True)
    plan_id: Mapped[int] = mapped_column(ForeignKey("plans.id"))
    kind: Mapped[str] = mapped_column(String(60))
    media_type: Mapped[str] = mapped_column(String(100))
    content: Mapped[bytes] = mapped_column(LargeBinary)
    content_hash: Mapped[str] = mapped_column(String(64))
    printed_at: Mapped[datetime] = mapped_column(UtcTime)


class EntryRow(Base):
    """One entry of the log, numbered without a gap; ``content`` is JSON, ``hash`` covers all else in the row."""

    __tablename__ = "entries"
    __table_args__ = (Index("ix_entries_case_id", "case_id"),)

    id: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    at: Mapped[datetime] = mapped_column(UtcTime)
    who: Mapped[str] = mapped_column(String(200))
    what: Mapped[str] = mapped_column(String(60))
    case_id: Mapped[int | None] = mapped_column(ForeignKey("cases.id"))
    content: Mapped[str] = mapped_column(Text)
    corrects_id: Mapped[int | None] = mapped_column(ForeignKey("entries.id"))
    previous_hash: Mapped[str] = mapped_column(String(64))
    hash: Mapped[str] = mapped_column(String(64))


class PersonRow(Base):
    """One who may sign in: by a password, of which the argon2id hash is kept, or at the site's provider as ``subject``.

    ``wards`` is JSON, a list of names or null for every ward. ``version_id`` rises by one with each change.
    """

    __tablename__ = "people"

    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(String(100), unique=True)
    role: Mapped[str] = mapped_column(String(20))
    wards: Mapped[str] = mapped_column(Text)
    password_hash: Mapped[str | None] = mapped_column(String(200))
    has_first_password: Mapped[bool]
    subject: Mapped[str | None] = mapped_column(String(300), unique=True)
    is_locked: Mapped[bool]
    version_id: Mapped[int]
    changed_at: Mapped[datetime] = mapped_column(UtcTime)


class SessionRow(Base):
    """One browser that was let in: by whom, ``person_id`` None at this computer, and the hash of what its cookie holds.

    It passes, so no backup takes it along.
    """

    __tablename__ = "sessions"
    __table_args__ = {"info": {"passes": True}}  # noqa: RUF012 - as the library wants it

    id: Mapped[int] = mapped_column(primary_key=True)
    token_hash: Mapped[str] = mapped_column(String(64), unique=True)
    person_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"), index=True)
    opened_at: Mapped[datetime] = mapped_column(UtcTime)
    seen_at: Mapped[datetime] = mapped_column(UtcTime)


class AttemptRow(Base):
    """One sign-in that was refused, by the hash of the name that was typed and the address it came from; it passes."""

    __tablename__ = "attempts"
    __table_args__ = (Index("ix_attempts_at", "at"), {"info": {"passes": True}})

    id: Mapped[int] = mapped_column(primary_key=True)
    at: Mapped[datetime] = mapped_column(UtcTime)
    name_hash: Mapped[str] = mapped_column(String(64))
    address: Mapped[str] = mapped_column(String(100))


def lasting_tables() -> list[Table]:
    """Return the tables of what is kept for good, each after those that it points at."""
    return [table for table in Base.metadata.sorted_tables if not table.info.get("passes")]
