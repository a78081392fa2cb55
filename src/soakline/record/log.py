"""The log: one entry for each change, never changed itself, each carrying the hash of the one before."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from hashlib import sha256

from sqlalchemy import Connection, Engine, insert, select

from soakline.record.acting import acting
from soakline.record.opening import reading_session
from soakline.record.schema import EntryRow

NO_HASH = "0" * 64
_ENTRIES = EntryRow.metadata.tables["entries"]
_ADD = insert(_ENTRIES)
_LAST = select(_ENTRIES.c.id, _ENTRIES.c.hash).order_by(_ENTRIES.c.id.desc()).limit(1)
Told = str | int | bool | None | list[str]


@dataclass(frozen=True, slots=True)
class Entry:
    """One change as the log tells it; ``corrects_id`` is the entry that it takes the place of."""

    id: int
    at: datetime
    who: str
    what: str
    case_id: int | None
    content: str
    corrects_id: int | None
    previous_hash: str
    hash: str


def add_entry(
    connection: Connection,
    what: str,
    now: datetime,
    told: Mapping[str, Told],
    *,
    case_id: int | None = None,
    corrects_id: int | None = None,
    who: str | None = None,
) -> int:
    """Write the next entry in the running transaction and return its number; whoever acts stands beside it.

    The transaction holds the lock of all writers, so that no two entries follow the same one.
    """
    last = connection.execute(_LAST).first()
    number, previous_hash = (last.id + 1, last.hash) if last else (1, NO_HASH)
    content = json.dumps(told, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    name = who or acting().name
    values = {
        "id": number,
        "at": now,
        "who": name,
        "what": what,
        "case_id": case_id,
        "content": content,
        "corrects_id": corrects_id,
        "previous_hash": previous_hash,
        "hash": hash_of(number, now, name, what, case_id, content, corrects_id, previous_hash),
    }
    connection.execute(_ADD, values)
    return number


def hash_of(
    number: int,
    at: datetime,
    who: str,
    what: str,
    case_id: int | None,
    content: str,
    corrects_id: int | None,
    previous_hash: str,
) -> str:
    """Return the hash of one entry, over all that it says and the hash of the entry before."""
    moment = at.astimezone(UTC).isoformat(timespec="microseconds")
    said = [number, moment, who, what, case_id, content, corrects_id, previous_hash]
    return sha256(json.dumps(said, ensure_ascii=False, separators=(",", ":")).encode()).hexdigest()


def entry_of(row: EntryRow) -> Entry:
    """Return a kept entry as it stands."""
    return Entry(
        row.id, row.at, row.who, row.what, row.case_id, row.content, row.corrects_id, row.previous_hash, row.hash
    )


def list_entries(engine: Engine, case_id: int) -> tuple[Entry, ...]:
    """Return what was done with one case, the first first."""
    of_case = select(EntryRow).where(EntryRow.case_id == case_id).order_by(EntryRow.id)
    with reading_session(engine) as session:
        return tuple(entry_of(row) for row in session.scalars(of_case))
