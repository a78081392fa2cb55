"""The cases: list them, read one, add one, save one so that nobody's change is overwritten unseen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from hashlib import sha256
from typing import Literal, TypeGuard

from sqlalchemy import Engine, func, insert, select
from sqlalchemy.orm import Session

from soakline.errors import StaleRecord
from soakline.record.log import add_entry
from soakline.record.opening import reading_session, writing_session
from soakline.record.schema import CaseRow, CaseVersionRow, EntryRow

Origin = Literal["demo", "entered"]
ADDED, SAVED = "case added", "case saved"
_VERSIONS = CaseVersionRow.metadata.tables["case_versions"]


@dataclass(frozen=True, slots=True)
class KeptCase:
    """One case as the record holds it; ``version_id`` counts its saves, times are in UTC."""

    id: int
    label: str
    purpose: str
    origin: str
    text: str
    content_hash: str
    version_id: int
    created_at: datetime
    updated_at: datetime


@dataclass(frozen=True, slots=True)
class NewCase:
    """A case to keep: its label and purpose as the case file says them, and the file's text."""

    label: str
    purpose: str
    text: str


def list_cases(engine: Engine) -> tuple[KeptCase, ...]:
    """Return all cases, the first kept first."""
    with reading_session(engine) as session:
        return tuple(_kept(row) for row in session.scalars(select(CaseRow).order_by(CaseRow.id)))


def find_case(engine: Engine, case_id: int) -> KeptCase | None:
    """Return one case, or None where there is none of that number."""
    with reading_session(engine) as session:
        row = session.get(CaseRow, case_id)
        return _kept(row) if row else None


def add_case(engine: Engine, new: NewCase, now: datetime, origin: Origin = "entered") -> KeptCase:
    """Keep a new case and its first text; it is on disk when this returns."""
    with writing_session(engine) as session:
        row = _add(session, new, now, origin)
    return _kept(row)


def save_case(engine: Engine, case_id: int, new: NewCase, expected_version: int, now: datetime) -> KeptCase:
    """Put a new text in place of the one last read, and keep both; it is on disk when this returns.

    Raises StaleRecord when the case is gone or was saved since version ``expected_version`` was read.
    """
    with writing_session(engine) as session:
        row = session.get(CaseRow, case_id)
        if row is None:
            msg = f"Case {case_id} is not in the record."
            raise StaleRecord(msg)
        if row.version_id != expected_version:
            msg = (
                f"Somebody saved this case since you opened it: you read version {expected_version}, "
                f"the record now holds version {row.version_id}."
            )
            raise StaleRecord(msg)
        row.label, row.purpose, row.text = new.label, new.purpose, new.text
        row.content_hash, row.updated_at = text_hash(new.text), now
        session.flush()
        _keep_version(session, row, now, SAVED)
    return _kept(row)


def list_versions(engine: Engine, case_id: int) -> tuple[str, ...]:
    """Return every text a case had, the first first."""
    of_case = select(CaseVersionRow.text).where(CaseVersionRow.case_id == case_id).order_by(CaseVersionRow.version_id)
    with reading_session(engine) as session:
        return tuple(session.scalars(of_case))


def import_demo(engine: Engine, cases: Sequence[NewCase], now: datetime) -> int:
    """Keep the invented cases in a record that holds no case yet, all or none; return how many were kept."""
    with writing_session(engine) as session:
        if session.scalar(select(CaseRow.id).limit(1)) is not None:
            return 0
        for new in cases:
            _add(session, new, now, "demo")
    return len(cases)


def may_see(row: CaseRow | None) -> TypeGuard[CaseRow]:
    """Say whether a case is there and shown to whoever acts."""
    return row is not None


def text_hash(text: str) -> str:
    """Return the hash by which two texts are known to be the same."""
    return sha256(text.encode()).hexdigest()


def _add(session: Session, new: NewCase, now: datetime, origin: Origin) -> CaseRow:
    row = CaseRow(
        label=new.label,
        purpose=new.purpose,
        origin=origin,
        text=new.text,
        content_hash=text_hash(new.text),
        created_at=now,
        updated_at=now,
    )
    session.add(row)
    session.flush()
    _keep_version(session, row, now, ADDED)
    return row


def _keep_version(session: Session, row: CaseRow, now: datetime, what: str) -> None:
    """Keep the text as it now stands, and the entry that points at the one whose text it replaces."""
    text = {"text": row.text, "content_hash": row.content_hash, "saved_at": now}
    # Plain statements: a save waits for the disk, and for little else.
    session.connection().execute(insert(_VERSIONS), {"case_id": row.id, "version_id": row.version_id, **text})
    replaced = select(func.max(EntryRow.id)).where(EntryRow.case_id == row.id, EntryRow.what.in_((ADDED, SAVED)))
    told = {
        "version": row.version_id,
        "label": row.label,
        "purpose": row.purpose,
        "origin": row.origin,
        "text_sha256": row.content_hash,
    }
    add_entry(session, what, now, told, case_id=row.id, corrects_id=session.scalar(replaced))


def _kept(row: CaseRow) -> KeptCase:
    return KeptCase(
        id=row.id,
        label=row.label,
        purpose=row.purpose,
        origin=row.origin,
        text=row.text,
        content_hash=row.content_hash,
        version_id=row.version_id,
        created_at=row.created_at,
        updated_at=row.updated_at,
    )
