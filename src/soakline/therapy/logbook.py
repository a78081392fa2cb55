"""What was written down while it ran: each entry at its moment, and what has to be asked about before it is counted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from difflib import get_close_matches
from itertools import pairwise, zip_longest

from soakline.errors import Finding
from soakline.therapy._figures import show_count
from soakline.therapy.clock import comes_twice, doubt_of, moment_of, say_day, say_hour
from soakline.therapy.cycle import TherapyUnit

KINDS = {
    "instilled": "what went in",
    "trial fill": "what a trial fill put in",
    "canister": "the mark read on the canister, counted from its last change",
    "canister changed": "a new, empty canister; ml is the last mark of the old one",
    "returned": "what came back since the entry before, charted as an amount",
    "bag changed": "a new solution bag",
    "colour": "what the liquid looked like",
    "gas": "new gas",
    "blood": "blood",
    "leak": "a leak of the drape",
    "pause": "no suction from at until until",
    "resume": "the end of a pause",
    "restart": "the cycle begun anew at its fill",
    "turned": "turned to another posture",
    "alarm": "an alarm",
    "note": "anything else",
}
"""What an entry can be, each with what it says."""

_ALSO = {
    "canister change": "canister changed",
    "new canister": "canister changed",
    "bag change": "bag changed",
    "new bag": "bag changed",
    "color": "colour",
    "paused": "pause",
    "resumed": "resume",
    "restarted": "restart",
    "bleeding": "blood",
    "turn": "turned",
}
_NEEDS_ML = frozenset({"instilled", "trial fill", "canister", "returned"})
_OF_A_UNIT = frozenset({"instilled", "canister", "canister changed", "returned", "bag changed"})


@dataclass(frozen=True, slots=True)
class LogEntry:
    """One entry as written: local wall-clock times, ``ml`` in mL; None is "not given".

    ``again`` says of a time that the clocks give twice that it was the second.
    """

    at: datetime
    kind: str
    unit: str | None = None
    ml: float | None = None
    colour: str | None = None
    until: datetime | None = None
    again: bool | None = None
    says: str | None = None
    by_role: str | None = None


@dataclass(frozen=True, slots=True)
class Event:
    """One entry at its moment; ``number`` is its place in the file, ``kind`` one of ``KINDS`` or as written.

    ``utc`` is the moment in universal time: two local times would compare by the clock on the wall alone.
    """

    number_index: int
    at: datetime
    kind: str
    unit: str | None
    entry: LogEntry
    utc: datetime = field(init=False)

    def __post_init__(self) -> None:
        """Take the moment in universal time once: a log is compared over and over."""
        object.__setattr__(self, "utc", self.at.astimezone(UTC))

    @property
    def where(self) -> str:
        """The entry's dotted key."""
        return f"log.{self.number_index}"


@dataclass(frozen=True, slots=True)
class Pause:
    """A time without suction that was not programmed, of one unit; ``end`` None is a pause whose end is not written."""

    start: datetime
    end: datetime | None
    number_index: int


@dataclass(frozen=True, slots=True)
class Logbook:
    """All entries whose moment is known, in their order, with what has to be asked."""

    events: tuple[Event, ...] = ()
    findings: tuple[Finding, ...] = ()

    def of_unit(self, name: str, *kinds: str) -> tuple[Event, ...]:
        """Return the entries of one unit, and those of no unit, of these kinds."""
        return tuple(event for event in self.events if event.kind in kinds and event.unit in {name, None})

    def pauses(self, name: str) -> tuple[Pause, ...]:
        """Return the pauses of one unit in their order; those that touch are one."""
        found: list[Pause] = []
        for event in self.of_unit(name, "pause", "resume", "restart"):
            if event.kind == "pause":
                _add_pause(found, event)
            elif found and found[-1].end is None and event.utc >= found[-1].start.astimezone(UTC):
                found[-1] = replace(found[-1], end=event.at)
        return tuple(found)

    def restarts(self, name: str) -> tuple[datetime, ...]:
        """Return when one unit's cycle was begun anew."""
        return tuple(event.at for event in self.of_unit(name, "restart"))


EMPTY_LOG = Logbook()


def read_log(entries: Sequence[LogEntry], units: Sequence[TherapyUnit], time_zone: str | None) -> Logbook:
    """Return the log in the order of its moments; what cannot be placed or may be a slip is asked about by its key.

    >>> book = read_log([LogEntry(datetime(2026, 11, 21, 7), "canister", "A", 430)], [TherapyUnit("A")], "Europe/Oslo")
    >>> [event.kind for event in book.events], book.findings
    (['canister'], ())
    """
    if not entries:
        return EMPTY_LOG
    if time_zone is None:
        return Logbook(
            (), (Finding("ask", "time_zone", "the log has times, but no zone: which time zone are they in?"),)
        )
    findings: list[Finding] = []
    events = [found for i, entry in enumerate(entries) if (found := _place(i, entry, units, time_zone, findings))]
    findings += _check_order(events)
    ordered = tuple(sorted(events, key=lambda event: (event.utc, event.number_index)))
    book = Logbook(ordered)
    findings += [found for event in ordered for found in _check_event(event, units, time_zone)]
    findings += [found for unit in units for found in _check_pauses(book, unit)]
    return replace(book, findings=tuple(dict.fromkeys(findings)))


def say_known_kinds() -> str:
    """Write the kinds that an entry can have."""
    return ", ".join(KINDS)


def _add_pause(found: list[Pause], event: Event) -> None:
    end = _until(event)
    last = found[-1] if found else None
    if last is not None and last.end is not None and event.utc <= last.end.astimezone(UTC):
        found[-1] = replace(last, end=None if end is None else max(last.end, end, key=lambda at: at.astimezone(UTC)))
    elif last is None or last.end is not None:
        found.append(Pause(event.at, end, event.number_index))


def _until(event: Event) -> datetime | None:
    if event.entry.until is None:
        return None
    end = event.entry.until.replace(tzinfo=event.at.tzinfo, fold=event.at.fold)
    if comes_twice(end) and end.astimezone(UTC) <= event.utc:
        end = end.replace(fold=1)
    return end if end.astimezone(UTC) > event.utc else None


def _place(
    index: int, entry: LogEntry, units: Sequence[TherapyUnit], time_zone: str, findings: list[Finding]
) -> Event | None:
    where = f"log.{index}"
    if says := doubt_of(entry.at, time_zone, again=entry.again):
        findings.append(Finding("ask", f"{where}.at", says))
    moment = moment_of(entry.at, time_zone, again=bool(entry.again))
    kind = " ".join(entry.kind.lower().split())
    kind = _ALSO.get(kind, kind)
    if kind not in KINDS:
        near = get_close_matches(kind, [*KINDS, *_ALSO], n=1)
        hint = f"was {_ALSO.get(near[0], near[0])} meant?" if near else f"known are {say_known_kinds()}"
        findings.append(Finding("ask", f"{where}.kind", f'"{entry.kind}" is kept but not counted: {hint}'))
    named = entry.unit
    if named is None and kind in _OF_A_UNIT:
        named = units[0].name if len(units) == 1 else None
        if named is None:
            says = f"{_written(entry)}: no unit given; of which unit? It counts for the whole wound alone"
            findings.append(Finding("ask", f"{where}.unit", says))
    if named is not None and named not in {unit.name for unit in units}:
        letters = ", ".join(unit.name for unit in units) or "none"
        findings.append(
            Finding("ask", f"{where}.unit", f'"{named}" is no unit of this case (units: {letters}): which?')
        )
    return Event(index, moment, kind, named, entry) if moment is not None else None


def _check_order(events: Sequence[Event]) -> list[Finding]:
    findings: list[Finding] = []
    latest: dict[str | None, Event] = {}
    for event in events:
        before = latest.get(event.unit)
        if before is not None and event.utc < before.utc:
            says = (
                f"{_moment(event.at)} stands after {_moment(before.at)} (log.{before.number_index}): counted in the "
                "order of the times; is a time wrong?"
            )
            findings.append(Finding("ask", f"{event.where}.at", says))
        else:
            latest[event.unit] = event
    return findings


def _check_event(event: Event, units: Sequence[TherapyUnit], time_zone: str) -> list[Finding]:
    findings: list[Finding] = []
    entry, unit = event.entry, next((unit for unit in units if unit.name == event.unit), None)
    if event.kind in _NEEDS_ML and entry.ml is None:
        findings.append(
            Finding("ask", f"{event.where}.ml", f"{_written(entry)}: how much? It is not counted until then")
        )
    size = unit.canister_ml if unit else None
    if event.kind in {"canister", "canister changed"} and entry.ml is not None and size and entry.ml > size:
        says = (
            f"{show_count(entry.ml)} mL read on a canister of {show_count(size)} mL: which is wrong? A total of "
            'several canisters is written with kind = "returned"'
        )
        findings.append(Finding("ask", f"{event.where}.ml", says))
    start = moment_of(unit.started_at, time_zone, again=bool(unit.started_again)) if unit else None
    if start is not None and event.utc < start.astimezone(UTC) and event.kind != "trial fill":
        says = f"{_moment(event.at)} is before unit {event.unit} started, {_moment(start)}: which time is wrong?"
        findings.append(Finding("ask", f"{event.where}.at", says))
    if entry.until is not None and _until(event) is None:
        says = f"ends {entry.until:%H:%M on %Y-%m-%d}, not after it began: when did it end?"
        findings.append(Finding("ask", f"{event.where}.until", says))
    return findings


def _check_pauses(book: Logbook, unit: TherapyUnit) -> list[Finding]:
    findings: list[Finding] = []
    starts = book.of_unit(unit.name, "pause", "resume", "restart")
    for event, following in zip_longest(starts, starts[1:]):
        if event.kind != "pause" or event.entry.until is not None:
            continue
        if following is None or following.kind == "pause":
            says = (
                f"unit {unit.name} paused at {_moment(event.at)}, no end is written: is it still off? Write until, or "
                "an entry resume or restart; no clock can be told for it until then"
            )
            findings.append(Finding("ask", f"{event.where}.until", says))
    for before, event in pairwise((None, *starts)):
        if event and event.kind == "resume" and (before is None or before.kind != "pause"):
            says = (
                f"unit {unit.name} resumed at {_moment(event.at)}, but no pause is written before it: when did it stop?"
            )
            findings.append(Finding("ask", f"{event.where}.kind", says))
    return findings


def _written(entry: LogEntry) -> str:
    return f"{entry.kind} at {entry.at:%H:%M}"


def _moment(moment: datetime) -> str:
    return f"{say_hour(moment)} on {say_day(moment)}"
