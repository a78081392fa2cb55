"""A change of the dressing as it was written down: what it changes in the case file, and what it may not change yet."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, fields
from datetime import datetime
from typing import Literal, get_args

from soakline.casefile.case import Case
from soakline.casefile.write import Value
from soakline.errors import Finding, InputRefused
from soakline.guard.change import Change, Looks, not_done
from soakline.guard.foam import Counted, Entry, Event, Piece, PieceKind, enter, reconcile

HowOut = Literal["out whole", "out torn", "not found", "left in", "matched"]


@dataclass(frozen=True, slots=True)
class CountedOut:
    """What became of one named piece at the count out; ``says`` is the reason where it is left in."""

    name: str
    how: HowOut
    says: str = ""


@dataclass(frozen=True, slots=True)
class CountedIn:
    """One new piece at the count in, by its name, its kind and its place, and what was cut off it."""

    name: str
    kind: PieceKind
    place: str
    trimmed: str = ""


@dataclass(frozen=True, slots=True)
class Sheet:
    """One change as written: its place in the file, its own keys, the counts out and in, and keys of the doses.

    ``number`` counts from 0; the next one appends. ``keys`` are keys of ``[[change]]``, ``doses`` those of one
    ``[[anaesthetic]]`` by its number; None takes a key out. ``counts`` are the counts on label and in the note of the
    dressing that comes off, by the keys of ``[foam_count]``; None leaves them.
    """

    number: int
    at: datetime | None
    closed_at: datetime | None
    by_role: str
    keys: Mapping[str, Value]
    out: tuple[CountedOut, ...] = ()
    put_in: tuple[CountedIn, ...] = ()
    doses: Mapping[int, Mapping[str, Value]] | None = None
    counts: Mapping[str, Value] | None = None


@dataclass(frozen=True, slots=True)
class Noted:
    """What a sheet changes in the case file, by dotted key, and why new pieces were held back, if they were."""

    changes: dict[str, Value]
    held_back: str | None


def open_change(case: Case) -> int:
    """Return which change is being written: the last one while something of it is missing, else a new one."""
    last = len(case.change) - 1
    return last if case.change and not_done(case.change[last]) else last + 1


def to_count_out(case: Case, number: int) -> tuple[Piece, ...]:
    """Return the pieces that a count out has to ask about: inside before this change, or torn and not laid together."""
    at = case.change[number].at if number < len(case.change) else None
    return tuple(
        piece
        for piece in case.foam
        if (piece.state in {"in", "not found", None} and not _came_at(piece, at))
        or (piece.state == "out torn" and not piece.matched_by_role)
    )


def count_of_dressing(case: Case, at: datetime | None) -> Counted:
    """Return what label and note say of the dressing that comes off at a change; nothing where they are of another."""
    last_in = _last_in(case, at)
    written_at = case.foam_count.at
    return Counted() if last_in and written_at and written_at < last_in else case.foam_count


def say_looks(change: Change) -> str:
    """Say how each hour looked at a change, empty where nobody looked hour by hour.

    >>> from soakline.guard.change import Probe
    >>> hours = (Probe(2, looks="clean"), Probe(3, looks="clean"), Probe(9, looks="not clean"), Probe(10, reach_cm=2))
    >>> say_looks(Change(datetime(2026, 11, 23, 9), probe=hours))
    "clean at 2, 3 o'clock; not clean at 9 o'clock; the other hours not looked at"
    """
    by_looks = {how: [f"{one.clock:g}" for one in change.probe if one.looks == how] for how in get_args(Looks)}
    said = [f"{how} at {', '.join(hours)} o'clock" for how, hours in by_looks.items() if hours]
    count = sum(map(len, by_looks.values()))
    return "; ".join([*said, *(["the other hours not looked at"] if 0 < count < 12 else [])])


def note_change(case: Case, sheet: Sheet) -> Noted:
    """Return what a sheet changes; new pieces are held back while foam is unresolved, all else is kept.

    Raises InputRefused with every reason where an entry cannot hold: no time, no role, a name used twice, one left in
    without a reason. Source key ``counting.rule``.
    """
    refused = list(_missing(sheet))
    if sheet.at is None:
        raise InputRefused(refused)
    ledger, told = _count(case.foam, [_out_entry(sheet, out, sheet.at) for out in sheet.out])
    refused += told
    found = reconcile(ledger, _counted(case, sheet))
    held_back = found.says if sheet.put_in and found.state == "unresolved" else None
    if held_back is None and sheet.closed_at is not None:
        closed_at = sheet.closed_at
        ledger, told = _count(ledger, [entry for new in sheet.put_in for entry in _in_entries(sheet, new, closed_at)])
        refused += told
    if refused:
        raise InputRefused(refused)
    return Noted(dict(_changes(case, sheet, ledger)), held_back)


def _missing(sheet: Sheet) -> Iterator[Finding]:
    where = f"change.{sheet.number}"
    if sheet.at is None:
        yield Finding("refuse", f"{where}.at", "no time: write day and time at which the change began")
    if (sheet.out or sheet.put_in) and not sheet.by_role.strip():
        yield Finding("refuse", f"{where}.by_role", "pieces were counted and no role is written: write who counts")
    if sheet.put_in and sheet.closed_at is None:
        says = "new pieces and no time: write when the new dressing was closed"
        yield Finding("refuse", f"{where}.closed_at", says)
    if sheet.at and sheet.closed_at and sheet.closed_at <= sheet.at:
        says = (
            f"closed at {sheet.closed_at:%H:%M}, begun at {sheet.at:%H:%M}: it is closed after it began; which holds?"
        )
        yield Finding("refuse", f"{where}.closed_at", says)


def _count(ledger: Sequence[Piece], entries: Sequence[Entry]) -> tuple[tuple[Piece, ...], list[Finding]]:
    """Enter one after the other; one that is refused leaves the ledger as it was and is told."""
    refused: list[Finding] = []
    pieces = tuple(ledger)
    for entry in entries:
        try:
            pieces = enter(pieces, entry)
        except InputRefused as against:
            refused += against.findings
    return pieces, refused


def _out_entry(sheet: Sheet, out: CountedOut, at: datetime) -> Entry:
    event: Event = out.how
    return Entry(event, out.name, at, sheet.by_role, says=out.says)


def _in_entries(sheet: Sheet, new: CountedIn, closed_at: datetime) -> Iterator[Entry]:
    yield Entry("placed", new.name, closed_at, sheet.by_role, new.kind, new.place)
    if new.trimmed:
        yield Entry("trimmed", new.name, closed_at, sheet.by_role, says=new.trimmed)


def _last_in(case: Case, at: datetime | None) -> datetime | None:
    """Return when the last piece of the dressing that comes off at ``at`` went in."""
    went_in = [piece.placed_at for piece in case.foam if piece.placed_at and (at is None or piece.placed_at < at)]
    return max(went_in, default=None)


def _counted(case: Case, sheet: Sheet) -> Counted:
    """Return the counts as written on this sheet; what is no count is left to the case file to refuse."""
    before = count_of_dressing(case, sheet.at)
    if sheet.counts is None:
        return before
    label, note = (_whole(sheet.counts.get(key)) for key in ("label_count", "note_count"))
    resolved = sheet.counts.get("resolved_by_role")
    by_role = resolved if isinstance(resolved, str) else None
    return Counted(label, note, before.at or _last_in(case, sheet.at), by_role)


def _whole(value: Value) -> int | None:
    return value if isinstance(value, int) and value >= 0 else None


def _counts(case: Case, sheet: Sheet) -> Iterator[tuple[str, Value]]:
    before = count_of_dressing(case, sheet.at)
    written = sheet.counts or {}
    if any(value != getattr(before, key) for key, value in written.items()):
        yield from ((f"foam_count.{key}", value) for key, value in written.items())
        yield "foam_count.at", _counted(case, sheet).at


def _changes(case: Case, sheet: Sheet, ledger: Sequence[Piece]) -> Iterator[tuple[str, Value]]:
    own: dict[str, Value] = {"at": sheet.at, "by_role": sheet.by_role.strip() or None, "closed_at": sheet.closed_at}
    for key, value in (own | dict(sheet.keys)).items():
        if value is not None or sheet.number < len(case.change):
            yield f"change.{sheet.number}.{key}", value
    for i, piece in enumerate(ledger):
        before = case.foam[i] if i < len(case.foam) else None
        yield from ((f"foam.{i}.{key}", value) for key, value in _differing(before, piece))
    yield from _counts(case, sheet)
    for i, keys in (sheet.doses or {}).items():
        yield from ((f"anaesthetic.{i}.{key}", value) for key, value in keys.items())


def _differing(before: Piece | None, after: Piece) -> Iterator[tuple[str, Value]]:
    for field in fields(Piece):
        value = getattr(after, field.name)
        given = None if before is None else getattr(before, field.name)
        if value != given and not (before is None and value is False):
            yield field.name, value


def _came_at(piece: Piece, at: datetime | None) -> bool:
    return at is not None and piece.placed_at is not None and piece.placed_at >= at
