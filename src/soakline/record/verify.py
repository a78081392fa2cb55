"""Hold the record against its log: every hash of the chain, and every kept row against the entry that told of it."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from hashlib import sha256
from typing import Any, TypeVar

from sqlalchemy import Engine, select
from sqlalchemy.orm import Session

from soakline.record.cases import ADDED, CLOSED, REOPENED, SAVED, WARD_NAMED, text_hash
from soakline.record.log import NO_HASH, Entry, entry_of, hash_of
from soakline.record.opening import reading_session
from soakline.record.people import PERSON_ADDED, PERSON_CHANGED, told_of
from soakline.record.plans import PAPER_PRINTED, PLAN_KEPT
from soakline.record.schema import Base, CaseRow, CaseVersionRow, EntryRow, PaperRow, PersonRow, PlanRow

_AT_ONCE = 500
Row = TypeVar("Row", bound=Base)


@dataclass(frozen=True, slots=True)
class Head:
    """The last entry of a log: its number and hash. Kept elsewhere, it shows later that no end was cut off."""

    entry_id: int
    hash: str


@dataclass(frozen=True, slots=True)
class Broken:
    """One place where the record is not what its log says."""

    where: str
    says: str


@dataclass(frozen=True, slots=True)
class Verified:
    """What a check of the whole record found; nothing broken leaves ``broken`` empty.

    ``backward`` counts entries stamped earlier than the one before: a clock was set back, and nothing is broken by it.
    """

    head: Head
    cases: int
    versions: int
    plans: int
    papers: int
    backward: int
    broken: tuple[Broken, ...]


def verify_record(engine: Engine, known_head: Head | None = None) -> Verified:
    """Check the chain from its first entry to its last, and every kept row against its entry, in one state.

    ``known_head`` is the last entry of an earlier time: the log must still hold it. Whoever can write to the database
    can also write a new chain from the first entry on; only a head kept elsewhere shows that.
    """
    with reading_session(engine) as session:
        return verify_session(session, known_head)


def verify_session(session: Session, known_head: Head | None = None) -> Verified:
    """Check as ``verify_record`` does, in a transaction that is running."""
    log = _Log()
    broken = [
        *_readable("entries", log.follow(session, known_head)),
        *_readable(
            "case_versions",
            _held(
                session, CaseVersionRow, log.versions, "case {0.case_id}, version {0.version_id}".format, _same_version
            ),
        ),
        *_readable("cases", _held(session, CaseRow, log.last_of_case, "case {0.id}".format, _same_case)),
        *_readable("cases", _other_wards(session, log.wards)),
        *_readable("people", _held(session, PersonRow, log.people, "person {0.id}".format, _same_person)),
        *_readable("cases", _other_standings(session, log.standings)),
        *_readable("plans", _held(session, PlanRow, log.plans, "plan {0.id}".format, _same_plan)),
        *_readable("papers", _held(session, PaperRow, log.papers, "paper {0.id}".format, _same_paper)),
    ]
    return Verified(
        log.head,
        len(log.last_of_case),
        len(log.versions),
        len(log.plans),
        len(log.papers),
        log.backward,
        (*broken,),
    )


def _readable(table: str, breaks: Iterator[Broken]) -> Iterator[Broken]:
    """Give the breaks, and one more where a row holds what cannot be read at all."""
    try:
        yield from breaks
    except (TypeError, ValueError, KeyError) as unreadable:
        yield Broken(f"table {table}", f"holds what no version of the program writes ({unreadable})")


@dataclass(frozen=True, slots=True)
class _Telling:
    """What one entry told of a kept row."""

    at: datetime
    case_id: int | None
    told: dict[str, Any]


class _Log:
    """What the log told: by the place of each version, plan and paper, and last of each case.

    ``standings`` holds, by case, the entry that closed or reopened it last.
    """

    def __init__(self) -> None:
        self.head = Head(0, NO_HASH)
        self.backward = 0
        self.versions: dict[str, _Telling] = {}
        self.last_of_case: dict[str, _Telling] = {}
        self.standings: dict[int | None, int] = {}
        self.plans: dict[str, _Telling] = {}
        self.papers: dict[str, _Telling] = {}
        self.people: dict[str, _Telling] = {}
        self.wards: dict[int | None, str] = {}

    def follow(self, session: Session, known_head: Head | None) -> Iterator[Broken]:
        """Walk the chain and gather what it tells; give every break."""
        latest: datetime | None = None
        rows = session.scalars(select(EntryRow).order_by(EntryRow.id).execution_options(yield_per=_AT_ONCE))
        for row in rows:
            entry = entry_of(row)
            yield from self._breaks(entry)
            self.backward += latest is not None and entry.at < latest
            latest = entry.at
            self.head = Head(entry.id, entry.hash)
            if known_head and known_head.entry_id == entry.id and known_head.hash != entry.hash:
                yield Broken(f"entry {entry.id}", "is not the entry that was written down: the log was written anew")
            self._take(entry)
        if known_head and known_head.entry_id > self.head.entry_id:
            says = f"is gone: the log ends with entry {self.head.entry_id}"
            yield Broken(f"entry {known_head.entry_id}", says)

    def _breaks(self, entry: Entry) -> Iterator[Broken]:
        where = f"entry {entry.id}"
        if entry.id != self.head.entry_id + 1:
            yield Broken(where, f"follows entry {self.head.entry_id}: entries between them are missing")
        if entry.previous_hash != self.head.hash:
            yield Broken(where, "does not carry the hash of the entry before it")
        own = hash_of(
            entry.id,
            entry.at,
            entry.who,
            entry.what,
            entry.case_id,
            entry.content,
            entry.corrects_id,
            entry.previous_hash,
        )
        if entry.hash != own:
            yield Broken(where, "was changed: its hash is not that of what it says")

    def _take(self, entry: Entry) -> None:
        try:
            told: dict[str, Any] = json.loads(entry.content)
            telling = _Telling(entry.at, entry.case_id, told)
            if entry.what in {ADDED, SAVED}:
                self.versions[f"case {entry.case_id}, version {told['version']}"] = telling
                self.last_of_case[f"case {entry.case_id}"] = telling
            elif entry.what in {CLOSED, REOPENED}:
                self.standings[entry.case_id] = entry.id
            elif entry.what == PLAN_KEPT:
                self.plans[f"plan {told['plan']}"] = telling
            elif entry.what == PAPER_PRINTED:
                self.papers[f"paper {told['paper']}"] = telling
            elif entry.what in {PERSON_ADDED, PERSON_CHANGED}:
                self.people[f"person {told['person']}"] = telling
            elif entry.what == WARD_NAMED:
                self.wards[entry.case_id] = told["ward"]
        except (ValueError, KeyError, TypeError):
            # Its hash has told already that it was changed.
            return


def _held(
    session: Session,
    rows: type[Row],
    tellings: dict[str, _Telling],
    place: Callable[[Row], str],
    same: Callable[[Row, _Telling], bool],
) -> Iterator[Broken]:
    """Hold every row of a table against the entry that told of its place; give every break."""
    found: set[str] = set()
    for row in session.scalars(select(rows).execution_options(yield_per=_AT_ONCE)):
        where = place(row)
        found.add(where)
        if where not in tellings:
            yield Broken(where, "is kept, but the log does not tell of it")
        elif not same(row, tellings[where]):
            yield Broken(where, "is not what its last entry in the log tells")
    yield from (Broken(where, "is in the log and gone") for where in tellings.keys() - found)


def _same_version(row: CaseVersionRow, entry: _Telling) -> bool:
    return row.saved_at == entry.at and row.content_hash == text_hash(row.text) == entry.told["text_sha256"]


def _same_case(row: CaseRow, entry: _Telling) -> bool:
    told = entry.told
    kept = (row.updated_at, row.version_id, row.label, row.purpose, row.origin, row.content_hash)
    said = (entry.at, told["version"], told["label"], told["purpose"], told["origin"], told["text_sha256"])
    return kept == said and text_hash(row.text) == row.content_hash


def _same_person(row: PersonRow, entry: _Telling) -> bool:
    return row.changed_at == entry.at and entry.told == told_of(row)


def _other_wards(session: Session, wards: Mapping[int | None, str]) -> Iterator[Broken]:
    for row in session.execute(select(CaseRow.id, CaseRow.ward)):
        if row.ward != wards.get(row.id, ""):
            yield Broken(f"case {row.id}", "is seen by another ward than its last entry in the log tells")


def _other_standings(session: Session, told: dict[int | None, int]) -> Iterator[Broken]:
    """Give each case whose last closing or reopening is another than the log tells."""
    for case_id, standing_id in session.execute(select(CaseRow.id, CaseRow.standing_id)):
        if standing_id != told.get(case_id):
            yield Broken(f"case {case_id}", "is not open or closed as its last entry in the log tells")


def _same_plan(row: PlanRow, entry: _Telling) -> bool:
    told = entry.told
    kept = (row.kept_at, row.case_id, row.version_id, row.program_version, row.rules_version, row.settings)
    said = (entry.at, entry.case_id, told["version"], told["program"], told["rules"], told["settings"])
    return kept == said and row.answer_hash == text_hash(row.answer) == told["answer_sha256"]


def _same_paper(row: PaperRow, entry: _Telling) -> bool:
    told = entry.told
    kept = (row.printed_at, row.plan_id, row.kind, row.content_hash)
    said = (entry.at, told["plan"], told["kind"], told["sha256"])
    return kept == said and sha256(row.content).hexdigest() == row.content_hash
