"""The clock table: every fill, turn, change and pain check of a shift, in local time with elapsed time underneath."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from fractions import Fraction
from itertools import pairwise
from typing import Literal

from soakline.therapy._figures import exact, show_count
from soakline.therapy.clock import elapsed_min, moment_of
from soakline.therapy.cycle import MIN_PER_DAY, TherapyUnit, period_min
from soakline.therapy.rhythm import Rhythm

What = Literal["fill", "suction", "turn", "canister", "bag", "hang time", "fetch solution", "pain check"]
_ORDER: tuple[What, ...] = ("canister", "fetch solution", "bag", "hang time", "turn", "fill", "suction", "pain check")


@dataclass(frozen=True, slots=True)
class Row:
    """One thing to do or to expect: ``at`` in local time, ``elapsed_min`` since its unit's start (None: of no unit)."""

    at: datetime
    elapsed_min: float | None
    unit: str | None
    what: What
    says: str


@dataclass(frozen=True, slots=True)
class Shift:
    """One shift, from its start to before its end, with its rows in their order."""

    starts: datetime
    ends: datetime
    is_night: bool
    rows: tuple[Row, ...]


@dataclass(frozen=True, slots=True)
class OnTheClock:
    """Whether a period divides the day: by how many minutes a day the fills wander, and the nearest that does not."""

    stays: bool
    later_each_day_min: float
    nearest_period_min: float
    says: str


def on_the_clock(unit: TherapyUnit) -> OnTheClock | None:
    """Return how a unit's fills stand on the clock from day to day; None without a period.

    >>> on_the_clock(TherapyUnit("B", fill_min=2, dwell_min=10, suction_min=178)).says
    'every 190 min does not divide the day: fills stand 80 min later each day; 180 min would stay on the clock'
    """
    period = period_min(unit)
    if period is None or not 0 < period < float("inf"):
        return None
    exact_period = exact(period)
    over = Fraction(MIN_PER_DAY) % exact_period
    # The fill of the next day that is nearest to this one's hour.
    wander = -over if over <= exact_period / 2 else exact_period - over
    whole = [length for length in range(1, MIN_PER_DAY + 1) if MIN_PER_DAY % length == 0]
    nearest = min(whole, key=lambda length: (abs(length - exact_period), length))
    if wander == 0:
        return OnTheClock(True, 0.0, period, f"every {show_count(period)} min: the same hours each day")  # noqa: FBT003
    side = "later" if wander > 0 else "earlier"
    says = (
        f"every {show_count(period)} min does not divide the day: fills stand {show_count(abs(float(wander)))} min "
        f"{side} each day; {nearest} min would stay on the clock"
    )
    return OnTheClock(False, float(wander), float(nearest), says)  # noqa: FBT003


def shifts_between(
    begin: datetime, end: datetime, shift_starts: Sequence[time]
) -> tuple[tuple[datetime, datetime], ...]:
    """Return the shifts that hold any of the time from ``begin`` to ``end``, each (start, end), by the local clock.

    >>> from zoneinfo import ZoneInfo
    >>> now = datetime(2026, 11, 20, 22, 40, tzinfo=ZoneInfo("Europe/Oslo"))
    >>> found = shifts_between(now, now + timedelta(hours=4), [time(7), time(15), time(23)])
    >>> [f"{a:%H}–{b:%H}" for a, b in found]
    ['15–23', '23–07']
    """
    if begin.tzinfo is None:
        msg = "shifts are told of aware moments"
        raise ValueError(msg)
    days = range(-1, (end.date() - begin.date()).days + 2)
    edges = [_edge(begin, days_on, at) for days_on in days for at in sorted(shift_starts)]
    return tuple((a, b) for a, b in pairwise(edges) if elapsed_min(begin, b) > 0 and elapsed_min(a, end) > 0)


def rows_of_unit(unit: TherapyUnit, rhythm: Rhythm, begin: datetime, end: datetime) -> Iterator[Row]:
    """Yield the fills of one unit and when its suction starts, from ``begin`` to before ``end``."""
    low, high = max(rhythm.minute_of(begin), Fraction(0)), rhythm.minute_of(end)
    number = sum(1 for _ in rhythm.fills(Fraction(0), low))
    amount = f", {show_count(unit.fill_ml)} mL" if unit.fill_ml is not None else ""
    for at in rhythm.fills(low, high):
        number += 1
        yield Row(rhythm.at(at), float(at), unit.name, "fill", f"fill {number}{amount}")
    for at in rhythm.returns(low, high):
        yield Row(rhythm.at(at), float(at), unit.name, "suction", "suction starts, the fill comes back")


def pain_rows(fills: Sequence[Row], every_min: float) -> Iterator[Row]:
    """Yield a pain check at the first fill, and at the next one each time ``every_min`` has passed: a fill can hurt."""
    last: datetime | None = None
    for row in sorted(fills, key=lambda row: elapsed_min(fills[0].at, row.at)):
        if last is None or elapsed_min(last, row.at) >= every_min:
            last = row.at
            yield Row(row.at, row.elapsed_min, row.unit, "pain check", "ask about pain with this fill")


def in_shifts(rows: Sequence[Row], begin: datetime, end: datetime, shift_starts: Sequence[time]) -> tuple[Shift, ...]:
    """Return rows shift by shift, in their order; rows outside ``begin`` to ``end`` are left out."""
    kept = [row for row in rows if elapsed_min(begin, row.at) >= 0 and elapsed_min(row.at, end) > 0]
    kept.sort(key=lambda row: (elapsed_min(begin, row.at), _ORDER.index(row.what), row.unit or ""))
    return tuple(
        Shift(a, b, _is_night(a, b), tuple(r for r in kept if elapsed_min(a, r.at) >= 0 and elapsed_min(r.at, b) > 0))
        for a, b in shifts_between(begin, end, shift_starts)
    )


def _edge(begin: datetime, days_on: int, at: time) -> datetime:
    day = begin.date() + timedelta(days=days_on)
    edge = datetime.combine(day, at, tzinfo=begin.tzinfo)
    # An hour that the clocks jump over begins where they land.
    found = moment_of(edge.replace(tzinfo=None), str(begin.tzinfo))
    return found if found is not None else edge + timedelta(hours=1)


def _is_night(starts: datetime, ends: datetime) -> bool:
    """Whether a shift holds 3 o'clock in the night."""
    three = starts.replace(hour=3, minute=0)
    return any(starts <= three + timedelta(days=on) < ends for on in (0, 1))
