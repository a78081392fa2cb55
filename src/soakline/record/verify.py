"""Hold the record against its log: every hash of the chain, and every kept row against the entry that told of it."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime
from hashlib import sha256
from typing import Any

from sqlalchemy import Engine, select
from sqlalchemy.orm import Session

from soakline.record.cases import ADDED, SAVED, text_hash
from soakline.record.log import NO_HASH, Entry, entry_of, hash_of
from soakline.record.opening import reading_session
from soakline.record.plans import PAPER_PRINTED, PLAN_KEPT
from soakline.record.schema import CaseRow, CaseVersionRow, EntryRow, PaperRow, PlanRow

_AT_ONCE = 500
Told = dict[str, Any]


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
    broken = [*_readable("entries", log.follow(session, known_head))]
    for table, check in _CHECKS.items():
        broken += _readable(table, check(session, log))
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


class _Log:
    """What the log told: by version, plan and paper, and last of each case."""

    def __init__(self) -> None:
        self.head = Head(0, NO_HASH)
        self.backward = 0
        self.versions: dict[tuple[int, int], tuple[datetime, Told]] = {}
        self.last_of_case: dict[int, tuple[datetime, Told]] = {}
        self.plans: dict[int, tuple[datetime, int | None, Told]] = {}
        self.papers: dict[int, tuple[datetime, Told]] = {}

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
            told: Told = json.loads(entry.content)
            if entry.what in {ADDED, SAVED} and entry.case_id is not None:
                self.versions[entry.case_id, told["version"]] = entry.at, told
                self.last_of_case[entry.case_id] = entry.at, told
            elif entry.what == PLAN_KEPT:
                self.plans[told["plan"]] = entry.at, entry.case_id, told
            elif entry.what == PAPER_PRINTED:
                self.papers[told["paper"]] = entry.at, told
        except (ValueError, KeyError, TypeError):
            # Its hash has told already that it was changed.
            return


def _check_versions(session: Session, log: _Log) -> Iterator[Broken]:
    found: set[tuple[int, int]] = set()
    for row in session.scalars(select(CaseVersionRow).execution_options(yield_per=_AT_ONCE)):
        where, key = f"case {row.case_id}, version {row.version_id}", (row.case_id, row.version_id)
        found.add(key)
        if key not in log.versions:
            yield Broken(where, "is kept, but the log does not tell of it")
            continue
        at, told = log.versions[key]
        if (text_hash(row.text), row.content_hash, row.saved_at) != (told["text_sha256"], told["text_sha256"], at):
            yield Broken(where, "is not the text that the log tells of")
    yield from (Broken(f"case {c}, version {v}", "is in the log and gone") for c, v in log.versions.keys() - found)


def _check_cases(session: Session, log: _Log) -> Iterator[Broken]:
    found: set[int] = set()
    for row in session.scalars(select(CaseRow).execution_options(yield_per=_AT_ONCE)):
        found.add(row.id)
        if row.id not in log.last_of_case:
            yield Broken(f"case {row.id}", "is kept, but the log does not tell of it")
            continue
        at, told = log.last_of_case[row.id]
        kept = (
            row.updated_at,
            row.version_id,
            row.label,
            row.purpose,
            row.origin,
            row.content_hash,
            text_hash(row.text),
        )
        said = (at, told["version"], told["label"], told["purpose"], told["origin"], *[told["text_sha256"]] * 2)
        if kept != said:
            yield Broken(f"case {row.id}", "is not as its last entry tells")
    yield from (Broken(f"case {case_id}", "is in the log and gone") for case_id in log.last_of_case.keys() - found)


def _check_plans(session: Session, log: _Log) -> Iterator[Broken]:
    found: set[int] = set()
    for row in session.scalars(select(PlanRow).execution_options(yield_per=_AT_ONCE)):
        found.add(row.id)
        if row.id not in log.plans:
            yield Broken(f"plan {row.id}", "is kept, but the log does not tell of it")
            continue
        at, case_id, told = log.plans[row.id]
        kept = (row.kept_at, row.case_id, row.version_id, row.program_version, row.rules_version, row.settings)
        said = (at, case_id, told["version"], told["program"], told["rules"], told["settings"])
        hashes = {row.answer_hash, text_hash(row.answer), told["answer_sha256"]}
        if kept != said or len(hashes) > 1:
            yield Broken(f"plan {row.id}", "is not the plan that the log tells of")
    yield from (Broken(f"plan {plan_id}", "is in the log and gone") for plan_id in log.plans.keys() - found)


def _check_papers(session: Session, log: _Log) -> Iterator[Broken]:
    found: set[int] = set()
    for row in session.scalars(select(PaperRow).execution_options(yield_per=_AT_ONCE)):
        found.add(row.id)
        if row.id not in log.papers:
            yield Broken(f"paper {row.id}", "is kept, but the log does not tell of it")
            continue
        at, told = log.papers[row.id]
        hashes = {row.content_hash, sha256(row.content).hexdigest(), told["sha256"]}
        if len(hashes) > 1 or (row.printed_at, row.plan_id, row.kind) != (at, told["plan"], told["kind"]):
            yield Broken(f"paper {row.id}", "is not the paper that the log tells of")
    yield from (Broken(f"paper {paper_id}", "is in the log and gone") for paper_id in log.papers.keys() - found)


_CHECKS: dict[str, Callable[[Session, _Log], Iterator[Broken]]] = {
    "case_versions": _check_versions,
    "cases": _check_cases,
    "plans": _check_plans,
    "papers": _check_papers,
}
