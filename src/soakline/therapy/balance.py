"""What came back against what went in: net, expected, unexplained, and what cannot be inside."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from fractions import Fraction
from itertools import pairwise

from soakline.errors import Finding
from soakline.therapy._figures import exact, show_count
from soakline.therapy.clock import elapsed_min, moment_of, say_day, say_hour
from soakline.therapy.colour import say_signs
from soakline.therapy.cycle import MIN_PER_DAY, TherapyUnit
from soakline.therapy.logbook import Event, Logbook
from soakline.units import Range, Sum, as_range

PROTEIN_G_PER_ML = 0.029
"""Source key ``fluids.exudate``: 2.9 g/dL, in open abdomens."""

_IN = ("instilled", "trial fill")
_OUT = ("canister", "canister changed", "returned")
_STEP_ML = 5
# A reading as near as this to the end of a day closes it.
_NEAR_MIN = 12 * 60


@dataclass(frozen=True, slots=True)
class Bounds:
    """What a balance is held against: the reading error of one canister, and the void at its largest corner, in mL.

    ``exudate_ml_per_h`` stands in for days before, where there are none; None is "not known".
    """

    reading_error_ml: float
    void_high_ml: float | None = None
    exudate_ml_per_h: float | Range | None = None


@dataclass(frozen=True, slots=True)
class DayBalance:
    """One day between two readings: mL in, out, expected, unexplained; None where it cannot be told.

    ``day`` is the date on which it closes. ``unexplained_ml`` is what came back beyond what was expected, negative what
    is missing; ``error_ml`` is the reading error of the day. ``cannot_be_inside_ml`` is what the void cannot hold of
    what is missing, rounded down. ``stop`` is what colour, gas or blood say by themselves.
    """

    day: str
    from_time: datetime
    until_time: datetime
    hours_h: float
    instilled_ml: float | None
    returned_ml: float | None
    net_ml: float | None
    expected_ml: float | None
    unexplained_ml: float | None
    error_ml: float
    cannot_be_inside_ml: float | None
    protein_g_per_day: float | None
    stop: tuple[str, ...]
    causes: tuple[str, ...]
    ruled_out: tuple[str, ...]
    says: str
    sums: tuple[Sum, ...]


def balances(
    book: Logbook, units: Sequence[TherapyUnit], time_zone: str | None, bounds: Bounds, confirmed: frozenset[str]
) -> tuple[tuple[DayBalance, ...], tuple[Finding, ...]]:
    """Return the balance of each day, oldest first, and what has to be asked about the readings.

    Days are counted back from the last reading; each runs from reading to reading, so that nothing is shared out by
    guess. Expected is what went in and the net of the two days before, by the hour. ``confirmed`` holds the dotted keys
    that a person has answered: those readings count as typed. Checked against ``worked.balance``.
    """
    trains = [_train(book, unit, time_zone, confirmed) for unit in (*units, *_of_no_unit(book, units))]
    findings = tuple(found for train in trains for found in train.findings)
    read = [train for train in trains if len(train.marks) > 1]
    days: list[DayBalance] = []
    for spans in _days(read):
        days.append(_balance(_Day(book, tuple(units), spans), days, bounds))
    return tuple(days), findings


@dataclass(frozen=True, slots=True)
class _Mark:
    """What one unit had given back in all by a moment, exact; ``doubts`` is what is unsure since the mark before."""

    at: datetime
    total_ml: Fraction
    is_change: bool = False
    doubts: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Train:
    """The marks of one unit in their order, and what has to be asked about them; name "" is of no unit."""

    name: str
    marks: tuple[_Mark, ...]
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class _Span:
    """One unit's part of a day: from mark to mark."""

    train: _Train
    begin: _Mark
    end: _Mark

    def holds(self, event: Event) -> bool:
        """Whether an entry falls into it; what is charted with the first mark of all belongs to the first day."""
        begin, at = _utc(self.begin.at), _utc(event.at)
        is_first = self.begin is self.train.marks[0]
        return (begin < at or (is_first and begin == at)) and at <= _utc(self.end.at)

    def inside(self) -> list[_Mark]:
        """Return the marks after the first, the last included."""
        marks = self.train.marks
        return list(marks[marks.index(self.begin) + 1 : marks.index(self.end) + 1])


@dataclass(frozen=True, slots=True)
class _Day:
    """One day of all units, and what was charted in it."""

    book: Logbook
    units: tuple[TherapyUnit, ...]
    spans: tuple[_Span, ...]

    @property
    def begin(self) -> datetime:
        return min((span.begin.at for span in self._running()), key=_utc)

    @property
    def end(self) -> datetime:
        return max((span.end.at for span in self._running()), key=_utc)

    @property
    def lasts_min(self) -> Fraction:
        return elapsed_min(self.begin, self.end)

    def charted(self, *kinds: str) -> list[Event]:
        """Return the entries of these kinds in the day, each within its own unit's part of it."""
        held = {span.train.name: span for span in self.spans}
        begin, end = _utc(self.begin), _utc(self.end)
        found: list[Event] = []
        for event in (event for event in self.book.events if event.kind in kinds):
            span = held.get(event.unit or "")
            if span.holds(event) if span else begin < _utc(event.at) <= end:
                found.append(event)
        return found

    def seen(self) -> list[Event]:
        """Return every entry in the day, whatever its unit."""
        begin, end = _utc(self.begin), _utc(self.end)
        return [event for event in self.book.events if begin < _utc(event.at) <= end]

    def _running(self) -> list[_Span]:
        return [span for span in self.spans if span.begin is not span.end] or list(self.spans)


def _of_no_unit(book: Logbook, units: Sequence[TherapyUnit]) -> list[TherapyUnit]:
    """Return stand-ins for entries without a unit, and for each letter that is no unit, from the first start of all."""
    named = {unit.name for unit in units}
    others = dict.fromkeys(e.unit or "" for e in book.events if e.kind in _OUT and e.unit not in named)
    starts = [unit.started_at for unit in units if unit.started_at is not None]
    return [TherapyUnit(name, started_at=min(starts, default=None)) for name in others]


def _train(book: Logbook, unit: TherapyUnit, time_zone: str | None, confirmed: frozenset[str]) -> _Train:
    start = moment_of(unit.started_at, time_zone, again=bool(unit.started_again))
    events = [event for event in book.events if (event.unit or "") == unit.name and event.kind in _OUT]
    reading = _Reading(unit, confirmed, level_ml=Fraction(0) if start else None)
    if start is not None:
        reading.marks.append(_Mark(start, Fraction(0)))
    for event in events:
        if start is None or _utc(event.at) >= _utc(start):
            reading.take(event)
    return _Train(unit.name, tuple(reading.marks), tuple(reading.findings))


@dataclass(slots=True)
class _Reading:
    """One unit's canister as its entries are read one after another; ``level_ml`` None until the first mark."""

    unit: TherapyUnit
    confirmed: frozenset[str]
    level_ml: Fraction | None
    marks: list[_Mark] = field(default_factory=list[_Mark])
    findings: list[Finding] = field(default_factory=list[Finding])

    def take(self, event: Event) -> None:
        given = None if event.entry.ml is None else exact(event.entry.ml)
        is_change = event.kind == "canister changed"
        if event.kind == "returned":
            self._add(event, given or Fraction(0))
        elif given is not None:
            doubts = self._doubts(event, given)
            gained = given - self.level_ml if self.level_ml is not None else Fraction(0)
            self._add(event, gained, is_change=is_change, doubts=doubts)
            self.level_ml = given
        elif is_change and self.marks:
            self._add(event, Fraction(0), is_change=True, doubts=(self._ask_last_mark(event),))
        if is_change:
            self.level_ml = Fraction(0)

    def _add(self, event: Event, gained_ml: Fraction, *, is_change: bool = False, doubts: tuple[str, ...] = ()) -> None:
        total = self.marks[-1].total_ml if self.marks else Fraction(0)
        settled = f"{event.where}.ml" in self.confirmed
        self.marks.append(_Mark(event.at, total + gained_ml, is_change, () if settled else doubts))

    def _doubts(self, event: Event, given: Fraction) -> tuple[str, ...]:
        doubts: list[str] = []
        if self.level_ml is not None and given < self.level_ml:
            says = (
                f"{_ml(given)} read after {_ml(self.level_ml)} without a change: a new canister, or a slip? Write an "
                'entry "canister changed" with the last mark of the old one, or correct the mark'
            )
            self.findings.append(Finding("ask", f"{event.where}.ml", says))
            doubts.append(f"{_ml(given)} was read after {_ml(self.level_ml)} without a change")
        if self.unit.canister_ml is not None and given > exact(self.unit.canister_ml):
            doubts.append(f"{_ml(given)} was read on a canister of {show_count(self.unit.canister_ml)} mL")
        return tuple(doubts)

    def _ask_last_mark(self, event: Event) -> str:
        says = (
            f"canister of unit {self.unit.name} changed at {say_hour(event.at)}: how much was in the old one? What "
            "came since the mark before is not counted"
        )
        self.findings.append(Finding("ask", f"{event.where}.ml", says))
        return f"the last mark of the canister changed at {say_hour(event.at)} is not written"


def _days(trains: Sequence[_Train]) -> list[tuple[_Span, ...]]:
    """Return the days, oldest first, as each unit's part of them."""
    if not trains:
        return []
    last = max((train.marks[-1].at for train in trains), key=_utc)
    first = min((train.marks[0].at for train in trains), key=_utc)
    ends: dict[tuple[_Mark, ...], None] = {}
    for back in range(int(elapsed_min(first, last) // MIN_PER_DAY) + 2):
        # Counted on the clock: a day that the clocks make longer closes at the same hour.
        near = [_nearest(train, last - timedelta(days=back)) for train in trains]
        if all(mark is not None for mark in near):
            ends[tuple(mark for mark in near if mark is not None)] = None
    ends[tuple(train.marks[0] for train in trains)] = None
    in_order = [*ends][::-1]
    return [
        tuple(_Span(train, *pair) for train, *pair in zip(trains, begin, end, strict=True))
        for begin, end in pairwise(in_order)
    ]


def _nearest(train: _Train, end: datetime) -> _Mark | None:
    """Return the mark that closes a day; before the first and after the last the unit stands still."""
    first, last = train.marks[0], train.marks[-1]
    if _utc(end) <= _utc(first.at):
        return first
    if _utc(end) >= _utc(last.at):
        return last
    away = [(abs(elapsed_min(mark.at, end)), -number) for number, mark in enumerate(train.marks)]
    nearest, number = min(away)
    return train.marks[-number] if nearest <= _NEAR_MIN else None


def _balance(day: _Day, before: Sequence[DayBalance], bounds: Bounds) -> DayBalance:
    doubts = [doubt for span in day.spans for mark in span.inside() for doubt in mark.doubts]
    returned = None if doubts else sum((span.end.total_ml - span.begin.total_ml for span in day.spans), Fraction(0))
    fills = [event for event in day.charted(*_IN) if event.entry.ml is not None]
    instilled = sum((exact(event.entry.ml or 0) for event in fills), Fraction(0)) if fills else None
    usual, basis = _usual_net(before, bounds, day.lasts_min)
    net = None if returned is None or instilled is None else returned - instilled
    expected = None if usual is None or instilled is None else instilled + usual
    unexplained = None if returned is None or expected is None else returned - expected
    error_ml = bounds.reading_error_ml * math.sqrt(_canister_count(day))
    found = _Found(day, returned, instilled, net, expected, usual, unexplained, error_ml, bounds.void_high_ml)
    stop = say_signs(day.seen())
    return DayBalance(
        day=f"{day.end:%Y-%m-%d}",
        from_time=day.begin,
        until_time=day.end,
        hours_h=float(day.lasts_min / 60),
        instilled_ml=_float(instilled),
        returned_ml=_float(returned),
        net_ml=_float(net),
        expected_ml=_float(expected),
        unexplained_ml=_float(unexplained),
        error_ml=error_ml,
        cannot_be_inside_ml=found.cannot_be_inside_ml(),
        protein_g_per_day=found.protein_g_per_day(),
        stop=stop,
        causes=found.causes(),
        ruled_out=found.ruled_out(),
        says=". ".join([*(f"{says[:1].upper()}{says[1:]}" for says in stop), *found.say(doubts, basis)]) + ".",
        sums=found.sums(basis),
    )


@dataclass(frozen=True, slots=True)
class _Found:
    """The figures of one day, exact, and what follows from them."""

    day: _Day
    returned_ml: Fraction | None
    instilled_ml: Fraction | None
    net_ml: Fraction | None
    expected_ml: Fraction | None
    usual_net_ml: Fraction | None
    unexplained_ml: Fraction | None
    error_ml: float
    void_high_ml: float | None

    @property
    def is_beyond_error(self) -> bool:
        return self.unexplained_ml is not None and abs(self.unexplained_ml) > self.error_ml

    @property
    def missing_ml(self) -> Fraction:
        return max(-(self.unexplained_ml or Fraction(0)), Fraction(0))

    def cannot_be_inside_ml(self) -> float | None:
        if self.unexplained_ml is None or self.void_high_ml is None:
            return None
        beyond = float(self.missing_ml) - self.void_high_ml
        return float(max(_STEP_ML * math.floor(beyond / _STEP_ML), 0))

    def protein_g_per_day(self) -> float | None:
        if self.net_ml is None or self.net_ml <= 0:
            return None
        return PROTEIN_G_PER_ML * float(self.net_ml * MIN_PER_DAY / self.day.lasts_min)

    def causes(self) -> tuple[str, ...]:
        if not self.is_beyond_error or self.unexplained_ml is None:
            return ()
        if self.unexplained_ml > 0:
            return ("more exudate", "blood", "bowel content (effluent) or another fluid", "a fill not charted",
                    "a mark read too high, or a canister counted twice")  # fmt: skip
        fills = [unit.fill_ml for unit in self.day.units if unit.fill_ml]
        counted = f" (it would take {show_count(float(self.missing_ml) / max(fills), 1)} fills)" if fills else ""
        inside = "" if self.void_high_ml is None else f" (at most {show_count(self.void_high_ml, 0)} mL)"
        return ("leak", "blocked branch", f"soak not given{counted}", "a canister not charted",
                f"liquid still inside{inside}")  # fmt: skip

    def ruled_out(self) -> tuple[str, ...]:
        if not self.is_beyond_error:
            return ()
        rows = [f"reading error alone (±{show_count(self.error_ml, 0)} mL)"]
        if self.cannot_be_inside_ml():
            rows.append("all of it still inside")
        if self.instilled_ml is not None and self.missing_ml > self.instilled_ml:
            rows.append(f"soaks not given alone ({_ml(self.instilled_ml)} is all that was charted)")
        return tuple(rows)

    def say(self, doubts: Sequence[str], basis: str) -> list[str]:
        over = (
            f"{show_count(float(self.day.lasts_min / 60), 1)} h to {say_hour(self.day.end)} on {say_day(self.day.end)}"
        )
        if doubts:
            return [f"{over}: no balance until it is answered: {'; '.join(doubts)}"]
        if self.instilled_ml is None or self.net_ml is None:
            return [
                f"{over}: {_ml(self.returned_ml or Fraction(0))} came back; what went in is not charted: no balance"
            ]
        lines = [f"{over}: net {_signed(self.net_ml)}"]
        if self.net_ml < 0:
            lines.append("Less came back than went in: it is inside, in the foam, leaked, or not read")
        if self.unexplained_ml is None:
            return [*lines, "Nothing to expect it from yet: no day before, no exudate given"]
        lines.append(f"Unexplained {_signed(self.unexplained_ml)} against {basis}")
        if not self.is_beyond_error:
            lines.append(f"Inside the reading error of ±{show_count(self.error_ml, 0)} mL: nothing stands out")
            return lines
        if beyond := self.cannot_be_inside_ml():
            lines.append(f"At least {show_count(beyond)} mL cannot be inside")
        return [*lines, f"Can come from: {', '.join(self.causes())}", f"Ruled out: {', '.join(self.ruled_out())}"]

    def sums(self, basis: str) -> tuple[Sum, ...]:
        if self.net_ml is None or self.returned_ml is None or self.instilled_ml is None:
            return ()
        back, went_in = _plain(self.returned_ml), _plain(self.instilled_ml)
        rows = [Sum("net", f"{back} − {went_in}", f"{_plain(self.net_ml)} mL")]
        if self.expected_ml is not None and self.usual_net_ml is not None and self.unexplained_ml is not None:
            expected = _plain(self.expected_ml)
            rows.append(Sum("expected out", f"{went_in} + {_plain(self.usual_net_ml)} ({basis})", f"{expected} mL"))
            rows.append(Sum("unexplained", f"{back} − {expected}", f"{_plain(self.unexplained_ml)} mL"))
        beyond = self.cannot_be_inside_ml()
        if beyond and self.void_high_ml is not None:
            void = show_count(self.void_high_ml, 0)
            rows.append(
                Sum("cannot be inside", f"{_plain(self.missing_ml)} − {void}", f"at least {show_count(beyond)} mL")
            )
        protein = self.protein_g_per_day()
        if protein is not None:
            rows.append(
                Sum("protein in the exudate, roughly", "net of 24 h × 2.9 g per 100 mL", f"{protein:.0f} g a day")
            )
        return tuple(rows)


def _usual_net(before: Sequence[DayBalance], bounds: Bounds, lasts_min: Fraction) -> tuple[Fraction | None, str]:
    """Return the net to expect of a day, and what that rests on."""
    known = [day for day in before if day.net_ml is not None][-2:]
    if known:
        rates = [exact(day.net_ml or 0) / exact(day.hours_h) for day in known]
        nets = " and ".join(f"{day.net_ml:g}" for day in known)
        words = "the two days before" if len(known) == 2 else "the day before"
        return sum(rates, Fraction(0)) / len(rates) * lasts_min / 60, f"the net of {words}, {nets} mL"
    if bounds.exudate_ml_per_h is None:
        return None, ""
    span = as_range(bounds.exudate_ml_per_h)
    return exact(span.likely) * lasts_min / 60, (
        f"the exudate given, {show_count(span.likely)} mL/h ({show_count(span.low)}–{show_count(span.high)})"
    )


def _canister_count(day: _Day) -> int:
    """Return how many canisters were read: one a unit, and one more at each change before the last mark."""
    inside = [span.inside() for span in day.spans]
    return max(sum(bool(marks) + sum(mark.is_change for mark in marks[:-1]) for marks in inside), 1)


def _utc(moment: datetime) -> datetime:
    return moment.astimezone(UTC)


def _ml(volume: Fraction) -> str:
    return f"{_plain(volume)} mL"


def _plain(volume: Fraction) -> str:
    return show_count(float(volume), 1)


def _signed(volume: Fraction) -> str:
    return f"{'+' if volume > 0 else ''}{_plain(volume)} mL"


def _float(value: Fraction | None) -> float | None:
    return None if value is None else float(value)
