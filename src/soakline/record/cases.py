"""The cases: list them, read one, add one, save one so that nobody's change is overwritten unseen, close one."""

from __future__ import annotations

import json
from collections.abc import Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass, replace
from datetime import datetime
from hashlib import sha256
from typing import Any, Literal, TypedDict, TypeGuard

from sqlalchemy import Connection, Engine, Row, bindparam, insert, or_, select, update

from soakline.errors import CaseClosed, StaleRecord
from soakline.record.acting import acting, acting_as, check_may
from soakline.record.log import Told, add_entry
from soakline.record.opening import reading_session, writing
from soakline.record.schema import Base, CaseRow, CaseVersionRow, EntryRow

Origin = Literal["demo", "entered"]
ADDED, SAVED, WARD_NAMED = "case added", "case saved", "ward named"
CLOSED, REOPENED = "case closed", "case reopened"
ClosedKind = Literal[
    "wound closed", "other dressing", "moved to another hospital", "died", "entered by mistake", "other"
]
# Plain statements, put together once: a save waits for the disk, and for little else.
_CASES, _VERSIONS, _ENTRIES = (Base.metadata.tables[name] for name in ("cases", "case_versions", "entries"))
_ADD = insert(_CASES).returning(_CASES.c.id)
_KEEP_VERSION = insert(_VERSIONS)
_TEXT_ENTRY = (
    select(_ENTRIES.c.id)
    .where(_ENTRIES.c.case_id == _CASES.c.id, or_(_ENTRIES.c.what == ADDED, _ENTRIES.c.what == SAVED))
    .order_by(_ENTRIES.c.id.desc())
    .limit(1)
    .scalar_subquery()
)
_STANDING = select(_ENTRIES.c.what).where(_ENTRIES.c.id == _CASES.c.standing_id).correlate(_CASES).scalar_subquery()
_STANDS = select(
    _CASES.c.version_id,
    _CASES.c.origin,
    _CASES.c.created_at,
    _CASES.c.ward,
    _CASES.c.standing_id,
    _STANDING.label("standing"),
    _TEXT_ENTRY.label("entry_id"),
).where(_CASES.c.id == bindparam("case_id"))
_UPDATE = update(_CASES).where(_CASES.c.id == bindparam("case_id"))
_WITH_STANDING = select(CaseRow, EntryRow).outerjoin(EntryRow, EntryRow.id == CaseRow.standing_id)
IS_CLOSED = "This case is closed. Nothing was changed; reopen it on its page to go on with it."


@dataclass(frozen=True, slots=True)
class Closing:
    """Why a case is closed: kind and words, by whom and when; ``left_open`` is what was not resolved at that moment."""

    at: datetime
    who: str
    kind: str
    says: str
    by_role: str
    left_open: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class NewClosing:
    """Why a case is to be closed, by whom, and what is left open, in the words that they were shown."""

    kind: ClosedKind
    says: str
    by_role: str
    left_open: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class KeptCase:
    """One case as the record holds it; ``version_id`` counts its saves, times are in UTC.

    ``standing_id`` is the entry that closed or reopened it last, ``closing`` why it is closed, None while it is open.
    """

    id: int
    label: str
    purpose: str
    origin: str
    text: str
    content_hash: str
    version_id: int
    created_at: datetime
    updated_at: datetime
    ward: str = ""
    standing_id: int | None = None
    closing: Closing | None = None


@dataclass(frozen=True, slots=True)
class NewCase:
    """A case to keep: its label and purpose as the case file says them, and the file's text."""

    label: str
    purpose: str
    text: str


@dataclass(frozen=True, slots=True)
class Saved:
    """One text of an invented case, with the moment of its save and who is said to have saved it."""

    new: NewCase
    at: datetime
    who: str


@dataclass(frozen=True, slots=True)
class Story:
    """An invented case from its first text, in order, to its closing."""

    versions: tuple[Saved, ...]
    closing: NewClosing
    closed_at: datetime
    closed_by: str


class _Standing(TypedDict):
    """What a save puts in place of what stood before."""

    label: str
    purpose: str
    text: str
    content_hash: str
    version_id: int
    updated_at: datetime


def list_cases(engine: Engine) -> tuple[KeptCase, ...]:
    """Return all cases that whoever acts may see, closed ones too, the first kept first."""
    with reading_session(engine) as session:
        rows = session.execute(_WITH_STANDING.order_by(CaseRow.id))
        return tuple(_kept(row, standing) for row, standing in rows if may_see(row))


def find_case(engine: Engine, case_id: int) -> KeptCase | None:
    """Return one case, or None where there is none of that number that whoever acts may see."""
    with reading_session(engine) as session:
        found = session.execute(_WITH_STANDING.where(CaseRow.id == case_id)).first()
        return _kept(*found) if found and may_see(found[0]) else None


def add_case(engine: Engine, new: NewCase, now: datetime, origin: Origin = "entered", ward: str = "") -> KeptCase:
    """Keep a new case and its first text; it is on disk when this returns. Its ward's people see it."""
    check_may("plan")
    with writing(engine) as connection:
        kept = _add(connection, new, now, origin)
        return replace(kept, ward=_name_ward(connection, kept.id, ward, now)) if ward else kept


def move_case(engine: Engine, case_id: int, ward: str, expected_ward: str, now: datetime) -> None:
    """Name the ward whose people see a case from now on; raises StaleRecord where it was moved meanwhile."""
    check_may("plan")
    with writing(engine) as connection:
        row = connection.execute(select(_CASES.c.ward).where(_CASES.c.id == case_id)).first()
        if row is None or row.ward != expected_ward:
            msg = "Somebody named another ward for this case since you opened it. Open it again and look"
            raise StaleRecord(msg)
        _name_ward(connection, case_id, ward, now)


def save_case(engine: Engine, case_id: int, new: NewCase, expected_version: int, now: datetime) -> KeptCase:
    """Put a new text in place of the one last read, and keep both; it is on disk when this returns.

    Raises StaleRecord when the case is gone or was saved since version ``expected_version`` was read, CaseClosed while
    it is closed.
    """
    check_may("run")
    with writing(engine) as connection:
        return _save(connection, case_id, new, expected_version, now)


def close_case(engine: Engine, kept: KeptCase, new: NewClosing, now: datetime) -> None:
    """Close a case as it was read, with the reason; an entry of the log tells of it.

    Raises StaleRecord when it was saved, closed or reopened since.
    """
    check_may("plan")
    with writing(engine) as connection:
        _let_stand(connection, kept, CLOSED, _why(kept, new), now)


def reopen_case(engine: Engine, kept: KeptCase, says: str, by_role: str, now: datetime) -> None:
    """Open a closed case again, with the reason; an entry of the log tells of it.

    Raises StaleRecord when it was saved, closed or reopened since.
    """
    check_may("plan")
    with writing(engine) as connection:
        told: dict[str, Told] = {"version": kept.version_id, "says": says, "by_role": by_role}
        _let_stand(connection, kept, REOPENED, told, now)


def list_versions(engine: Engine, case_id: int) -> tuple[str, ...]:
    """Return every text a case had, the first first."""
    of_case = select(CaseVersionRow.text).where(CaseVersionRow.case_id == case_id).order_by(CaseVersionRow.version_id)
    with reading_session(engine) as session:
        return tuple(session.scalars(of_case))


def is_empty(engine: Engine) -> bool:
    """Say whether a record holds no case yet."""
    with reading_session(engine) as session:
        return session.scalar(select(CaseRow.id).limit(1)) is None


def import_demo(engine: Engine, cases: Sequence[NewCase], now: datetime, stories: Sequence[Story] = ()) -> int:
    """Keep the invented cases in a record that holds no case yet, all or none; return how many were kept.

    Stories go first, each entry with the moment and the name that it was invented with; the other cases are kept now.
    """
    with writing(engine) as connection:
        if connection.scalar(select(CaseRow.id).limit(1)) is not None:
            return 0
        for story in stories:
            _tell(connection, story)
        for new in cases:
            _add(connection, new, now, "demo")
    return len(stories) + len(cases)


def may_see(row: CaseRow | None) -> TypeGuard[CaseRow]:
    """Say whether a case is there and shown to whoever acts."""
    return row is not None and acting().sees(row.ward)


def text_hash(text: str) -> str:
    """Return the hash by which two texts are known to be the same."""
    return sha256(text.encode()).hexdigest()


def _add(connection: Connection, new: NewCase, now: datetime, origin: Origin) -> KeptCase:
    stands = _standing(new, text_hash(new.text), 1, now)
    case_id: int = connection.execute(_ADD, {"origin": origin, "created_at": now, **stands}).scalar_one()
    _keep_version(connection, case_id, origin, stands, ADDED, None)
    return KeptCase(id=case_id, origin=origin, created_at=now, **stands)


def _name_ward(connection: Connection, case_id: int, ward: str, now: datetime) -> str:
    connection.execute(update(_CASES).where(_CASES.c.id == case_id).values(ward=ward))
    add_entry(connection, WARD_NAMED, now, {"ward": ward}, case_id=case_id)
    return ward


def _tell(connection: Connection, story: Story) -> None:
    first, *rest = story.versions
    with _invented(first.who):
        kept = _add(connection, first.new, first.at, "demo")
    for version in rest:
        with _invented(version.who):
            kept = _save(connection, kept.id, version.new, kept.version_id, version.at)
    with _invented(story.closed_by):
        _let_stand(connection, kept, CLOSED, _why(kept, story.closing), story.closed_at)


def _invented(who: str) -> AbstractContextManager[None]:
    return acting_as(replace(acting(), name=who))


def _save(connection: Connection, case_id: int, new: NewCase, expected_version: int, now: datetime) -> KeptCase:
    row = _read_as(connection, case_id, expected_version)
    if row.standing == CLOSED:
        raise CaseClosed(IS_CLOSED)
    stands = _standing(new, text_hash(new.text), expected_version + 1, now)
    connection.execute(_UPDATE, {"case_id": case_id, **stands})
    _keep_version(connection, case_id, row.origin, stands, SAVED, row.entry_id)
    return KeptCase(
        id=case_id,
        origin=row.origin,
        created_at=row.created_at,
        ward=row.ward,
        standing_id=row.standing_id,
        **stands,
    )


def _why(kept: KeptCase, new: NewClosing) -> dict[str, Told]:
    return {
        "version": kept.version_id,
        "kind": new.kind,
        "says": new.says,
        "by_role": new.by_role,
        "left_open": [*new.left_open],
    }


def _let_stand(connection: Connection, kept: KeptCase, what: str, told: dict[str, Told], now: datetime) -> None:
    row = _read_as(connection, kept.id, kept.version_id)
    if row.standing_id != kept.standing_id or (row.standing == CLOSED) == (what == CLOSED):
        now_is = "closed" if row.standing == CLOSED else "open"
        msg = f"Somebody closed or reopened this case since you opened it: it is {now_is} now. Look at why first."
        raise StaleRecord(msg)
    entry_id = add_entry(connection, what, now, told, case_id=kept.id, corrects_id=kept.standing_id)
    connection.execute(_UPDATE, {"case_id": kept.id, "standing_id": entry_id})


def _read_as(connection: Connection, case_id: int, expected_version: int) -> Row[*tuple[Any, ...]]:
    """Return how a case stands; raises StaleRecord where it is gone or is not the version that was read."""
    row = connection.execute(_STANDS, {"case_id": case_id}).first()
    if row is None:
        msg = f"Case {case_id} is not in the record."
        raise StaleRecord(msg)
    if row.version_id != expected_version:
        msg = (
            f"Somebody saved this case since you opened it: you read version {expected_version}, "
            f"the record now holds version {row.version_id}."
        )
        raise StaleRecord(msg)
    return row


def _standing(new: NewCase, content_hash: str, version_id: int, now: datetime) -> _Standing:
    return {
        "label": new.label,
        "purpose": new.purpose,
        "text": new.text,
        "content_hash": content_hash,
        "version_id": version_id,
        "updated_at": now,
    }


def _keep_version(
    connection: Connection, case_id: int, origin: str, stands: _Standing, what: str, replaces: int | None
) -> None:
    """Keep the text as it now stands, and the entry that points at the one whose text it replaces."""
    text = {
        "case_id": case_id,
        "version_id": stands["version_id"],
        "text": stands["text"],
        "content_hash": stands["content_hash"],
        "saved_at": stands["updated_at"],
    }
    connection.execute(_KEEP_VERSION, text)
    told = {
        "version": stands["version_id"],
        "label": stands["label"],
        "purpose": stands["purpose"],
        "origin": origin,
        "text_sha256": stands["content_hash"],
    }
    add_entry(connection, what, stands["updated_at"], told, case_id=case_id, corrects_id=replaces)


def _kept(row: CaseRow, standing: EntryRow | None) -> KeptCase:
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
        ward=row.ward,
        standing_id=row.standing_id,
        closing=_closing(standing) if standing and standing.what == CLOSED else None,
    )


def _closing(entry: EntryRow) -> Closing:
    told: dict[str, Any] = json.loads(entry.content)
    return Closing(entry.at, entry.who, told["kind"], told["says"], told["by_role"], (*told["left_open"],))
