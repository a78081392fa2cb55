"""The foam ledger: every piece by its name, where it went in, how it came out, and what is not accounted for."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from difflib import get_close_matches
from typing import Literal, NoReturn

from soakline.errors import Finding, InputRefused

PieceKind = Literal["foam", "contact layer", "gauze"]
PieceState = Literal["in", "out whole", "out torn", "not found", "discarded"]
Event = Literal["placed", "trimmed", "torn", "out whole", "out torn", "not found", "matched", "left in"]

_STILL_INSIDE = frozenset({"in", "not found", None})
# What may still be entered of a piece that was looked for in vain.
_FOUND = frozenset({"out whole", "out torn", "not found"})


@dataclass(frozen=True, slots=True)
class Piece:
    """One piece with its whole life: named, placed, trimmed, torn, taken out; a time that nobody wrote is None.

    ``torn`` says that a part is known to have come off while it lies in the wound. ``matched_by_role`` laid the parts
    of a torn piece together and found them complete. ``left_by_role`` left it in on purpose at the last count out.
    "not found" was looked for and did not come out: it is taken to lie inside until it is found.
    """

    name: str
    kind: PieceKind
    place: str | None = None
    placed_at: datetime | None = None
    placed_by_role: str | None = None
    state: PieceState | None = "in"
    trimmed: str | None = None
    torn: bool = False
    out_at: datetime | None = None
    out_by_role: str | None = None
    matched_by_role: str | None = None
    left_by_role: str | None = None
    left_at: datetime | None = None
    left_reason: str | None = None


@dataclass(frozen=True, slots=True)
class Counted:
    """The counts that were written down for one dressing, when it was closed: on its label, and in the note."""

    label_count: int | None = None
    note_count: int | None = None
    at: datetime | None = None
    resolved_by_role: str | None = None


@dataclass(frozen=True, slots=True)
class Reconciled:
    """What the ledger gives: pieces inside by name, what is missing or torn, and whether all is accounted for.

    ``unclear`` are pieces of which the entries do not say enough; ``expected_count`` is the higher of label, note and
    names until somebody has resolved a difference. Unresolved means: stop, explore, escalate, no new dressing.
    """

    state: Literal["matched", "unresolved"]
    inside: tuple[Piece, ...]
    missing: tuple[str, ...]
    torn: tuple[str, ...]
    unclear: tuple[str, ...]
    expected_count: int
    says: str


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of the ledger: what was done with which piece, when, by whom, with place, kind or reason as it needs."""

    event: Event
    name: str
    at: datetime
    by_role: str
    kind: PieceKind = "foam"
    says: str = ""


@dataclass(frozen=True, slots=True)
class Happened:
    """One thing that happened to a piece, in words; a time that nobody wrote is None."""

    at: datetime | None
    says: str


UNRESOLVED_MEANS = "Stop, explore, escalate; no new dressing until it is resolved."


def reconcile(pieces: Sequence[Piece], counted: Counted = Counted()) -> Reconciled:
    """Return what is inside, missing and torn, by name and wholeness; the number of objects settles nothing.

    Once one piece has come out, each piece of that dressing that has not is missing, unless somebody left it in on
    purpose. Source key ``counting.rule``.

    >>> placed = [Piece("A1", "foam", "left"), Piece("B1", "foam", "tunnel")]
    >>> reconcile([replace(placed[0], state="out whole"), placed[1]]).missing
    ('B1',)
    """
    coming_out = [piece for piece in pieces if _is_out(piece)]
    inside = tuple(piece for piece in pieces if piece.state in _STILL_INSIDE)
    missing = [piece.name for piece in inside if piece.state == "not found" or _should_be_out(piece, coming_out)]
    torn = [piece.name for piece in pieces if _is_torn(piece)]
    unclear = [piece.name for piece in pieces if _is_unclear(piece)]
    named_count = sum(_was_inside(piece, counted.at) for piece in pieces)
    expected_count = _expected_count(named_count, counted)
    if expected_count > named_count:
        missing.append(f"{expected_count - named_count} without a name")
    unmatched = [piece.name for piece in pieces if _is_unmatched(piece)]
    state = "unresolved" if missing or unmatched or unclear or _differs(counted) else "matched"
    says = _say(inside, missing, unmatched, unclear, counted, expected_count)
    return Reconciled(state, inside, tuple(missing), tuple(torn), tuple(unclear), expected_count, says)


def check_foam(pieces: Sequence[Piece], counted: Counted, tunnel_names: Collection[str] = ()) -> tuple[Finding, ...]:
    """Return what to say about the ledger: what is missing, torn or unclear, and foam pushed where it tears.

    ``tunnel_names`` are pieces that lie in a tunnel. Source keys ``counting.rule``, ``counting.tears_in_tunnels``.
    """
    return tuple(_findings(pieces, counted, tunnel_names))


def enter(pieces: Sequence[Piece], entry: Entry) -> tuple[Piece, ...]:
    """Return the ledger with one more entry; it is a ledger of names, so that a name is used once and for all.

    Raises InputRefused, with the ledger as it was, for a name never placed, one placed before, or one that is out.
    """
    if not entry.by_role.strip():
        _refuse("by_role", f'"{entry.event}" without a role: write who did it')
    known = {piece.name: piece for piece in pieces}
    if entry.event == "placed":
        return (*pieces, _place(known, entry))
    if entry.name not in known:
        _refuse("name", f'"{entry.name}" was never placed; {_nearest(entry.name, known)}')
    changed = _change(known[entry.name], entry)
    return tuple(changed if piece.name == entry.name else piece for piece in pieces)


def label_text(pieces: Sequence[Piece]) -> str:
    """Return the text of the label on the drape: how many pieces are inside, and each by name, kind and place.

    >>> label_text([Piece("A1", "foam", "left pocket"), Piece("C1", "contact layer", "bed")])
    '2 pieces inside: A1 foam, left pocket; C1 contact layer, bed'
    """
    inside = reconcile(pieces).inside
    noun = "piece" if len(inside) == 1 else "pieces"
    said = "; ".join(f"{piece.name} {piece.kind}, {piece.place or 'place not written'}" for piece in inside)
    return f"{len(inside)} {noun} inside: {said}" if inside else "no piece inside by this ledger"


def history(pieces: Sequence[Piece]) -> tuple[Happened, ...]:
    """Return what happened to the pieces over all changes, in order of time; what has no time stands first."""
    lines = [Happened(at, says) for piece in pieces for at, says in _life(piece)]
    return tuple(sorted(lines, key=lambda line: line.at.isoformat() if line.at else ""))


def _life(piece: Piece) -> Iterator[tuple[datetime | None, str]]:
    if _was_placed(piece):
        place = piece.place or "place not written"
        yield piece.placed_at, f"{piece.name} {piece.kind} placed: {place}{_by(piece.placed_by_role)}"
    if piece.trimmed:
        yield piece.placed_at, f"{piece.name} trimmed: {piece.trimmed}"
    if piece.torn:
        yield None, f"{piece.name} tore inside"
    if piece.left_by_role:
        reason = piece.left_reason or "no reason written"
        yield piece.left_at, f"{piece.name} left in: {reason}{_by(piece.left_by_role)}"
    if piece.state not in {"in", None}:
        yield piece.out_at, f"{piece.name} {piece.state}{_by(piece.out_by_role)}"
    if piece.matched_by_role:
        yield piece.out_at, f"{piece.name} parts laid together and found complete{_by(piece.matched_by_role)}"


def _by(role: str | None) -> str:
    return f", by {role}" if role else ", by whom not written"


def _is_out(piece: Piece) -> bool:
    return piece.state in {"out whole", "out torn"} or (piece.state == "discarded" and _was_placed(piece))


def _was_placed(piece: Piece) -> bool:
    return piece.placed_at is not None or piece.place is not None


def _should_be_out(piece: Piece, coming_out: Sequence[Piece]) -> bool:
    """Say whether a piece still inside belongs to a dressing that has come out; doubt says yes."""
    return any(not _came_later(piece, out) and not _was_left_in(piece, out) for out in coming_out)


def _came_later(piece: Piece, out: Piece) -> bool:
    # A time out that lies before the time in is a slip, and settles nothing.
    known = out.out_at is not None and not _ends_before_it_begins(out)
    return known and piece.placed_at is not None and piece.placed_at > (out.out_at or piece.placed_at)


def _was_left_in(piece: Piece, out: Piece) -> bool:
    if not (piece.left_by_role and piece.left_reason and piece.left_at and out.out_at):
        return False
    # Leaving it in at one change says nothing of the next: then it is counted anew.
    return out.out_at.date() <= piece.left_at.date()


def _is_torn(piece: Piece) -> bool:
    return piece.state == "out torn" or (piece.torn and not _is_out(piece))


def _is_unmatched(piece: Piece) -> bool:
    return _is_torn(piece) and not piece.matched_by_role


def _is_unclear(piece: Piece) -> bool:
    if piece.state is None:
        return True
    return (_is_out(piece) and not _was_placed(piece)) or (piece.state == "discarded" and _was_placed(piece))


def _differs(counted: Counted) -> bool:
    counts = {counted.label_count, counted.note_count} - {None}
    return len(counts) > 1 and not counted.resolved_by_role


def _was_inside(piece: Piece, at: datetime | None) -> bool:
    """Say whether a piece lay inside when a count was written; of an unknown time whether it ever did."""
    if not (_was_placed(piece) or piece.state in _STILL_INSIDE):
        return False
    if at is None:
        return True
    return not (piece.placed_at is not None and piece.placed_at > at) and not (
        _is_out(piece) and piece.out_at is not None and piece.out_at <= at
    )


def _expected_count(named_count: int, counted: Counted) -> int:
    if counted.resolved_by_role:
        return named_count
    return max(named_count, counted.label_count or 0, counted.note_count or 0)


def _say(
    inside: Sequence[Piece],
    missing: Sequence[str],
    unmatched: Sequence[str],
    unclear: Sequence[str],
    counted: Counted,
    expected_count: int,
) -> str:
    said: list[str] = []
    if missing:
        said.append(f"missing: {', '.join(missing)}")
    if unmatched:
        said.append(f"torn, parts not laid together: {', '.join(unmatched)}")
    if unclear:
        said.append(f"not clear from the entries: {', '.join(unclear)}")
    if _differs(counted):
        label, note = counted.label_count, counted.note_count
        said.append(f"label says {label}, note says {note}: take {expected_count} until resolved")
    if not said:
        count = f"{len(inside)} {'piece' if len(inside) == 1 else 'pieces'} inside"
        return f"{count}; each piece entered is accounted for by name. A piece nobody entered is not known here."
    words = "; ".join(said)
    return f"{words[0].upper()}{words[1:]}. {UNRESOLVED_MEANS}"


def _findings(pieces: Sequence[Piece], counted: Counted, tunnel_names: Collection[str]) -> Iterator[Finding]:
    found = reconcile(pieces, counted)
    if found.state == "unresolved":
        yield Finding("warn", "foam", f"STOP: {found.says[0].lower()}{found.says[1:]}")
    for i, piece in enumerate(pieces):
        where = f"foam.{i}"
        if piece.state is None:
            yield Finding("ask", f"{where}.state", f"{piece.name}: in, or how did it come out? Write its state")
        elif _is_out(piece) and not _was_placed(piece):
            says = f"{piece.name} came out and nobody wrote that it went in: what was it, where did it lie, what else?"
            yield Finding("ask", f"{where}.place", says)
        elif piece.state == "discarded" and _was_placed(piece):
            says = f'{piece.name} was placed and then discarded: whole? Write "out whole" or "out torn"'
            yield Finding("ask", f"{where}.state", says)
        if piece.state == "in" and not piece.place:
            yield Finding("warn", f"{where}.place", f"{piece.name} is inside and nobody wrote where")
        if piece.name in tunnel_names and piece.kind == "foam" and not _is_out(piece):
            says = f"{piece.name} lies in a tunnel: foam tears there (counting.tears_in_tunnels); look for its end"
            yield Finding("warn", f"{where}.place", says)
        if piece.left_by_role and not (piece.left_reason and piece.left_at):
            says = f"{piece.name} left in without a reason or a time: it counts as missing once another is out"
            yield Finding("warn", f"{where}.left_reason", says)
        if _ends_before_it_begins(piece):
            yield Finding("warn", f"{where}.out_at", f"{piece.name} came out before it went in: which time holds?")


def _ends_before_it_begins(piece: Piece) -> bool:
    return piece.placed_at is not None and piece.out_at is not None and piece.out_at < piece.placed_at


def _place(known: dict[str, Piece], entry: Entry) -> Piece:
    if entry.name in known:
        _refuse("name", f'"{entry.name}" is in the ledger already; a name is used once: take the next number')
    if not entry.name.strip():
        _refuse("name", "a piece without a name cannot be counted out; write one, such as A1")
    if not entry.says.strip():
        _refuse("place", f"{entry.name}: write where it lies")
    if reconcile(tuple(known.values())).state == "unresolved":
        _refuse("name", f"no new piece while one is unresolved. {reconcile(tuple(known.values())).says}")
    return Piece(entry.name, entry.kind, entry.says, entry.at, entry.by_role)


def _change(piece: Piece, entry: Entry) -> Piece:
    if entry.event == "matched":
        if piece.state != "out torn":
            _refuse("name", f"{piece.name} did not come out torn: there are no parts to lay together")
        return replace(piece, matched_by_role=entry.by_role)
    if piece.state != "in" and not (piece.state == "not found" and entry.event in _FOUND):
        _refuse("name", f'{piece.name} is "{piece.state}" already: which entry holds?')
    if piece.placed_at is not None and entry.at < piece.placed_at:
        _refuse("at", f"{piece.name} went in after that: check the time")
    if entry.event == "out whole" and piece.torn:
        _refuse("name", f'{piece.name} tore inside: it cannot come out whole; write "out torn"')
    return _changed(piece, entry)


def _changed(piece: Piece, entry: Entry) -> Piece:
    if entry.event == "trimmed":
        return replace(piece, trimmed=entry.says or "trimmed")
    if entry.event == "torn":
        return replace(piece, torn=True)
    if entry.event == "left in":
        if not entry.says.strip():
            _refuse("reason", f"{piece.name} is left in by a named role with a reason: write the reason")
        return replace(piece, left_by_role=entry.by_role, left_at=entry.at, left_reason=entry.says)
    states: dict[Event, PieceState] = {"out whole": "out whole", "out torn": "out torn", "not found": "not found"}
    return replace(piece, state=states[entry.event], out_at=entry.at, out_by_role=entry.by_role)


def _nearest(name: str, known: Collection[str]) -> str:
    near = get_close_matches(name, known, n=1, cutoff=0.0)
    return f"the nearest name is {near[0]}" if near else "nothing is in the ledger"


def _refuse(key: str, says: str) -> NoReturn:
    raise InputRefused([Finding("refuse", f"foam.{key}", says)])
