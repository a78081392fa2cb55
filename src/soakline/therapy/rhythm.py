"""One unit's cycle on the clock: where it stands at any moment, pauses and new beginnings counted."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from fractions import Fraction

from soakline.therapy._figures import exact
from soakline.therapy.clock import elapsed_min, moment_of
from soakline.therapy.cycle import TherapyUnit
from soakline.therapy.logbook import EMPTY_LOG, Logbook, Pause

Span = tuple[Fraction, Fraction]


@dataclass(frozen=True, slots=True)
class Stretch:
    """A time in which the cycle runs undisturbed, in minutes since the unit's start; ``end_min`` None runs on.

    ``into_min`` is how far into its cycle the unit stands where the stretch begins.
    """

    begin_min: Fraction
    into_min: Fraction
    end_min: Fraction | None


@dataclass(frozen=True, slots=True)
class Rhythm:
    """One unit's whole cycle from its ``start``: fill, soak (fill and dwell) and period in minutes, and its stretches.

    ``begun`` is when it was last begun anew. A pause stops the cycle's clock; it goes on where it stood.
    """

    name: str
    start: datetime
    fill_min: Fraction
    soak_min: Fraction
    period_min: Fraction
    stretches: tuple[Stretch, ...]
    begun: datetime

    @property
    def is_stopped(self) -> bool:
        """Whether it is not known to run at the end of the log."""
        return not self.stretches or self.stretches[-1].end_min is not None

    def minute_of(self, moment: datetime) -> Fraction:
        """Return a moment in minutes since the start."""
        return elapsed_min(self.start, moment)

    def at(self, minute_min: Fraction) -> datetime:
        """Return the local time that many minutes after the start, not rounded."""
        utc = self.start.astimezone(UTC) + timedelta(minutes=float(minute_min))
        return utc.astimezone(self.start.tzinfo)

    def fills(self, from_min: Fraction, to_min: Fraction) -> Iterator[Fraction]:
        """Yield the minutes since the start, from ``from_min`` to before ``to_min``, at which a fill starts."""
        return self._pulses(Fraction(0), from_min, to_min)

    def returns(self, from_min: Fraction, to_min: Fraction) -> Iterator[Fraction]:
        """Yield the minutes since the start at which suction starts, so that a fill comes back."""
        return self._pulses(self.soak_min, from_min, to_min)

    def soaks(self, to_min: Fraction) -> Iterator[Span]:
        """Yield fill and dwell of each cycle up to ``to_min``, in minutes since the start."""
        return self._spans(Fraction(0), self.soak_min, to_min)

    def dwells(self, to_min: Fraction) -> Iterator[Span]:
        """Yield the dwell of each cycle up to ``to_min``, in minutes since the start."""
        return self._spans(self.fill_min, self.soak_min, to_min)

    def _pulses(self, offset: Fraction, from_min: Fraction, to_min: Fraction) -> Iterator[Fraction]:
        for stretch in self.stretches:
            first = max(stretch.begin_min, from_min)
            last = to_min if stretch.end_min is None else min(stretch.end_min, to_min)
            zero = stretch.begin_min - stretch.into_min + offset
            count = max(-((zero - first) // self.period_min), 0)
            at = zero + count * self.period_min
            while at < last:
                yield at
                at += self.period_min

    def _spans(self, begin: Fraction, end: Fraction, to_min: Fraction) -> Iterator[Span]:
        for stretch in self.stretches:
            last = to_min if stretch.end_min is None else min(stretch.end_min, to_min)
            zero = stretch.begin_min - stretch.into_min
            while zero + begin < last:
                low, high = max(zero + begin, stretch.begin_min), min(zero + end, last)
                if low < high:
                    yield low, high
                zero += self.period_min


def rhythm_of(unit: TherapyUnit, time_zone: str | None, book: Logbook = EMPTY_LOG) -> Rhythm | None:
    """Return a unit's cycle on the clock with the log's pauses; None where its start or a phase is not known.

    >>> unit = TherapyUnit("A", fill_min=2, dwell_min=8, suction_min=170, started_at=datetime(2026, 11, 20, 8))
    >>> [int(minute) for minute in rhythm_of(unit, "Europe/Oslo").fills(Fraction(0), Fraction(400))]
    [0, 180, 360]
    """
    start = moment_of(unit.started_at, time_zone, again=bool(unit.started_again))
    if start is None or unit.fill_min is None or unit.dwell_min is None or unit.suction_min is None:
        return None
    fill, soak = exact(unit.fill_min), exact(unit.fill_min) + exact(unit.dwell_min)
    period = soak + exact(unit.suction_min)
    if period <= 0 or soak < 0:
        return None
    anew = book.restarts(unit.name)
    stretches = _stretches(period, start, book.pauses(unit.name), anew)
    return Rhythm(
        unit.name,
        start,
        fill,
        soak,
        period,
        stretches,
        begun=max((start, *anew), key=lambda moment: moment.astimezone(UTC)),
    )


def overlaps(one: Sequence[Span], other: Sequence[Span]) -> list[Span]:
    """Return where spans of two lists, each in order and apart, lie over each other, in their unit.

    >>> overlaps([(0, 10), (20, 30)], [(5, 22)])
    [(5, 10), (20, 22)]
    """
    found: list[Span] = []
    i = j = 0
    while i < len(one) and j < len(other):
        low, high = max(one[i][0], other[j][0]), min(one[i][1], other[j][1])
        if low < high:
            found.append((low, high))
        if one[i][1] < other[j][1]:
            i += 1
        else:
            j += 1
    return found


def _stretches(
    period: Fraction, start: datetime, pauses: Sequence[Pause], restarts: Sequence[datetime]
) -> tuple[Stretch, ...]:
    stops = [(elapsed_min(start, p.start), None if p.end is None else elapsed_min(start, p.end)) for p in pauses]
    anew = [elapsed_min(start, moment) for moment in restarts]
    changes = sorted([(at, 0, end) for at, end in stops if at > 0] + [(at, 1, at) for at in anew if at > 0])
    found: list[Stretch] = []
    begin, into = Fraction(0), Fraction(0)
    for at, is_restart, goes_on in changes:
        if at < begin:
            continue
        if at > begin:
            found.append(Stretch(begin, into, at))
        into = Fraction(0) if is_restart else (into + at - begin) % period
        if goes_on is None:
            return tuple(found)
        begin = goes_on
    return (*found, Stretch(begin, into, None))
