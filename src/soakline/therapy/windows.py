"""When a canister is due and how long a bag lasts: elapsed time is kept, the local clock is read off it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction
from itertools import islice, takewhile

from soakline.errors import Finding
from soakline.therapy._figures import exact, show_count
from soakline.therapy.clock import doubt_of, later, say_time
from soakline.therapy.cycle import Exudate, TherapyUnit, period_min
from soakline.therapy.logbook import EMPTY_LOG, Event, Logbook
from soakline.therapy.rhythm import Rhythm, rhythm_of
from soakline.units import Range, Sum, as_range, likely

# Longer than any stay: what is not due by then is not looked for.
_FAR_MIN = Fraction(400 * 24 * 60)
_A_MOMENT_MIN = Fraction(1, 60_000_000)


@dataclass(frozen=True, slots=True)
class CanisterTimes:
    """When the canister reaches its planned share: minutes since the start, and aware local times.

    ``due`` is at the likely exudate, ``earliest`` at the high, ``latest`` at the low; the early edge is the one to plan
    on. ``counted_from`` is the last mark or change, or the start. Local times are written down to the whole minute.
    """

    due_min: float
    earliest_min: float
    latest_min: float
    due: datetime
    earliest: datetime
    latest: datetime
    counted_from: datetime
    says: str
    sums: tuple[Sum, ...]


@dataclass(frozen=True, slots=True)
class BagTimes:
    """How many whole cycles the bag gives after priming, and which fill falls short: when it starts, by how many mL.

    ``hung_at`` is when the bag was hung.
    """

    cycle_count: int
    short_min: float
    short_at: datetime
    short_ml: float
    hung_at: datetime
    says: str
    sums: tuple[Sum, ...]


def share_exudate(units: Sequence[TherapyUnit], whole: Exudate) -> tuple[float | Range | None, ...]:
    """Return each unit's exudate in mL an hour: its own, or an equal share of the whole wound's; None is "not given".

    >>> share_exudate([TherapyUnit("A"), TherapyUnit("B", exudate=Exudate(10))], Exudate(Range(30, 50, 80)))
    (Range(low=15.0, likely=25.0, high=40.0), 10)
    """
    return tuple(
        unit.exudate.ml_per_h
        if unit.exudate is not None and unit.exudate.ml_per_h is not None
        else _equal_share(whole.ml_per_h, len(units))
        for unit in units
    )


def canister_times(
    unit: TherapyUnit,
    exudate_ml_per_h: float | Range | None,
    *,
    planned_share: float,
    time_zone: str | None,
    book: Logbook = EMPTY_LOG,
) -> CanisterTimes | None:
    """Return when the unit's canister reaches its planned share (0–1), or None.

    It is counted from the last mark or change in the log, or else from the start with an empty one. None where a piece
    is missing (``check_windows`` names it). A whole fill counts when suction starts, exudate runs evenly. The share is
    the site's own setting (``fluids.canister_share``). Checked against ``worked.night``.

    >>> a = TherapyUnit("B", fill_ml=60, fill_min=2, dwell_min=8, suction_min=170, canister_ml=500,
    ...                 started_at=datetime(2026, 11, 20, 19))
    >>> canister_times(a, Range(15, 25, 40), planned_share=0.9, time_zone="Europe/Oslo").says
    'plan on 01:45, the early edge; expected 04:10, at the latest 07:10'
    """
    filling = _filling(unit, time_zone, book)
    if filling is None or exudate_ml_per_h is None or unit.canister_ml is None:
        return None
    target_ml = exact(unit.canister_ml) * exact(planned_share)
    span, start = as_range(exudate_ml_per_h), filling.rhythm.start
    elapsed: dict[float, Fraction] = {}
    for rate in (span.low, span.likely, span.high):
        minutes = filling.minutes_to(target_ml, rate)
        if minutes is None:
            return None
        elapsed[rate] = minutes
    local = {rate: later(start, minutes) for rate, minutes in elapsed.items()}
    return CanisterTimes(
        due_min=float(elapsed[span.likely]),
        earliest_min=float(elapsed[span.high]),
        latest_min=float(elapsed[span.low]),
        due=local[span.likely],
        earliest=local[span.high],
        latest=local[span.low],
        counted_from=filling.rhythm.at(filling.since_min),
        says=_say_window(local[span.high], local[span.likely], local[span.low], start),
        sums=tuple(
            _work_canister(
                filling,
                canister_ml=unit.canister_ml,
                planned_share=planned_share,
                rate_ml_per_h=rate,
                until_min=elapsed[rate],
                clock_words=say_time(local[rate], start),
            )
            for rate in sorted(elapsed, reverse=True)
        ),
    )


def bag_times(unit: TherapyUnit, time_zone: str | None, book: Logbook = EMPTY_LOG) -> BagTimes | None:
    """Return how many whole cycles the unit's bag gives and when it falls short; None where a piece is missing.

    It is counted from the last bag change in the log, or else from the start; each bag primes the line.

    >>> b = TherapyUnit("B", fill_ml=60, fill_min=2, dwell_min=8, suction_min=170, bag_ml=500, priming_ml=15,
    ...                 started_at=datetime(2026, 11, 20, 19))
    >>> bag_times(b, "Europe/Oslo").says
    '8 whole cycles; fill 9, at 19:00 on 21 Nov, is 55 mL short'
    """
    rhythm = rhythm_of(unit, time_zone, book)
    if rhythm is None or not unit.fill_ml or unit.bag_ml is None or unit.priming_ml is None:
        return None
    hung = _last(book, unit, "bag changed")
    bag_ml = hung.entry.ml if hung and hung.entry.ml else unit.bag_ml
    usable_ml, fill_ml = exact(bag_ml) - exact(unit.priming_ml), exact(unit.fill_ml)
    if usable_ml <= 0:
        return None
    whole = usable_ml // fill_ml
    since = rhythm.minute_of(hung.at) if hung else Fraction(0)
    short_min = next(islice(rhythm.fills(since, since + _FAR_MIN), whole, None), None)
    if short_min is None:
        return None
    short_ml = float(fill_ml - (usable_ml - whole * fill_ml))
    short_at = later(rhythm.start, short_min)
    clock_words = say_time(short_at, rhythm.start)
    return BagTimes(
        cycle_count=whole,
        short_min=float(short_min),
        short_at=short_at,
        short_ml=short_ml,
        hung_at=rhythm.at(since),
        says=(
            f"{whole} whole {'cycle' if whole == 1 else 'cycles'}; fill {whole + 1}, at {clock_words}, "
            f"is {show_count(short_ml)} mL short"
        ),
        sums=_work_bag(bag_ml, unit.priming_ml, unit.fill_ml, whole, clock_words),
    )


def check_windows(units: Sequence[TherapyUnit], exudate: Exudate, time_zone: str | None) -> tuple[Finding, ...]:
    """Return what stands between the units as entered and their windows: missing pieces, and clock readings in doubt.

    >>> for f in check_windows([TherapyUnit("A", canister_ml=500)], Exudate(), "Europe/Oslo"): print(f.where, f.says)
    unit.0 unit A: no canister window; missing: exudate, start, a whole cycle with its fill
    unit.0 unit A: no bag window; missing: solution bag, priming volume, start, a whole cycle with its fill
    """
    shares = share_exudate(units, exudate)
    findings = _check_shares(units, shares, exudate)
    for index, (unit, rate) in enumerate(zip(units, shares, strict=True)):
        findings += _check_start(unit, f"unit.{index}", time_zone)
        findings += _name_missing(unit, rate, f"unit.{index}", time_zone)
    return tuple(findings)


@dataclass(frozen=True, slots=True)
class _Filling:
    """A canister as it fills, exact: ``level_ml`` in it at ``since_min`` after the start, and a fill at each return."""

    rhythm: Rhythm
    fill_ml: Fraction
    since_min: Fraction
    level_ml: Fraction

    def minutes_to(self, target_ml: Fraction, exudate_ml_per_h: float) -> Fraction | None:
        """Return the first minute after the start at which ``target_ml`` is reached; None where none is in sight."""
        missing, rate = target_ml - self.level_ml, exact(exudate_ml_per_h) / 60
        if missing <= 0:
            return self.since_min
        for at in self.rhythm.returns(self.since_min, self.since_min + _FAR_MIN):
            if rate and missing / rate <= at - self.since_min:
                return self.since_min + missing / rate
            missing -= self.fill_ml
            if missing <= rate * (at - self.since_min):
                return at
        return None

    def count_by(self, until_min: Fraction) -> int:
        """Return how many fills have come back since, those at ``until_min`` counted."""
        returns = self.rhythm.returns(self.since_min, self.since_min + _FAR_MIN)
        return sum(1 for _ in takewhile(lambda at: at <= until_min, returns))


def _filling(unit: TherapyUnit, time_zone: str | None, book: Logbook) -> _Filling | None:
    rhythm = rhythm_of(unit, time_zone, book)
    if rhythm is None or not unit.fill_ml or not 0 < unit.fill_ml < math.inf:
        return None
    read = _last(book, unit, "canister", "canister changed")
    if read is None:
        return _Filling(rhythm, exact(unit.fill_ml), Fraction(0), Fraction(0))
    level = Fraction(0) if read.kind == "canister changed" else exact(read.entry.ml or 0)
    # What returns at the moment of the reading is in the mark already.
    return _Filling(rhythm, exact(unit.fill_ml), rhythm.minute_of(read.at) + _A_MOMENT_MIN, level)


def _last(book: Logbook, unit: TherapyUnit, *kinds: str) -> Event | None:
    """Return a unit's last entry of these kinds; a mark without its mL says nothing."""
    found = [event for event in book.events if event.unit == unit.name and event.kind in kinds]
    return next((e for e in reversed(found) if e.entry.ml is not None or e.kind.endswith("changed")), None)


def _equal_share(whole_ml_per_h: float | Range | None, unit_count: int) -> float | Range | None:
    if isinstance(whole_ml_per_h, Range):
        return Range(*(v / unit_count for v in (whole_ml_per_h.low, whole_ml_per_h.likely, whole_ml_per_h.high)))
    return None if whole_ml_per_h is None else whole_ml_per_h / unit_count


def _say_window(earliest: datetime, due: datetime, latest: datetime, start: datetime) -> str:
    if earliest == latest:
        return f"plan on {say_time(due, start)}; exudate was given without a range, so the window has no width"
    return (
        f"plan on {say_time(earliest, start)}, the early edge; expected {say_time(due, start)}, "
        f"at the latest {say_time(latest, start)}"
    )


def _work_canister(
    filling: _Filling,
    *,
    canister_ml: float,
    planned_share: float,
    rate_ml_per_h: float,
    until_min: Fraction,
    clock_words: str,
) -> Sum:
    count, fill, level = filling.count_by(until_min), float(filling.fill_ml), float(filling.level_ml)
    elapsed_h = float(until_min - filling.since_min) / 60
    collected_ml = level + count * fill + rate_ml_per_h * elapsed_h
    target_ml = float(exact(canister_ml) * exact(planned_share))
    rate, hours = show_count(rate_ml_per_h), show_count(elapsed_h)
    planned = f"{show_count(planned_share * 100)} % of {show_count(canister_ml)} is {show_count(target_ml)}"
    read = f"{show_count(level)} + " if level else ""
    return Sum(
        f"canister at {clock_words} with {rate} mL/h of exudate",
        f"{read}{count} × {show_count(fill)} + {rate} × {hours} h",
        f"{show_count(collected_ml, 0)} mL ({planned})",
    )


def _work_bag(bag_ml: float, priming_ml: float, fill_ml: float, whole: int, clock_words: str) -> tuple[Sum, ...]:
    fill = show_count(fill_ml)
    left = bag_ml - priming_ml - whole * fill_ml
    return (
        Sum(
            "whole fills in the bag",
            f"({show_count(bag_ml)} − {show_count(priming_ml)}) ÷ {fill}",
            f"{whole}, and {show_count(left)} mL left",
        ),
        Sum(
            f"short at fill {whole + 1}, {clock_words}",
            f"{fill} − {show_count(left)}",
            f"{show_count(fill_ml - left)} mL",
        ),
    )


def _check_shares(
    units: Sequence[TherapyUnit], shares: Sequence[float | Range | None], exudate: Exudate
) -> list[Finding]:
    findings: list[Finding] = []
    given = [share for share in shares if share is not None]
    if given and not any(isinstance(share, Range) for share in given):
        says = "exudate is given without a range, so a canister window has no width: write low, likely and high"
        findings.append(Finding("note", "exudate.ml_per_h", says))
    if exudate.ml_per_h is None or not any(u.exudate and u.exudate.ml_per_h is not None for u in units):
        return findings
    total, whole = sum(exact(likely(share)) for share in given), exact(likely(exudate.ml_per_h))
    if total != whole and not math.isclose(total, whole):
        says = (
            f"the units take {show_count(float(total))} mL/h between them, the whole wound gives "
            f"{show_count(float(whole))}: which holds? Each unit without its own is reckoned with an equal share"
        )
        findings.append(Finding("ask", "exudate.ml_per_h", says))
    return findings


def _check_start(unit: TherapyUnit, where: str, time_zone: str | None) -> list[Finding]:
    if unit.started_at is None or time_zone is None:
        return []
    says = doubt_of(unit.started_at, time_zone, again=unit.started_again)
    return [Finding("ask", f"{where}.started_at", says)] if says else []


def _whole_cycle(unit: TherapyUnit) -> float | None:
    period = period_min(unit)
    return period if period and unit.fill_ml and 0 < period < math.inf and 0 < unit.fill_ml < math.inf else None


def _name_missing(
    unit: TherapyUnit, exudate_ml_per_h: float | Range | None, where: str, time_zone: str | None
) -> list[Finding]:
    common = {"start": unit.started_at, "time zone": time_zone, "a whole cycle with its fill": _whole_cycle(unit)}
    windows = {
        "canister": {"canister": unit.canister_ml, "exudate": exudate_ml_per_h, **common},
        "bag": {"solution bag": unit.bag_ml, "priming volume": unit.priming_ml, **common},
    }
    missing = {what: [word for word, value in needs.items() if value is None] for what, needs in windows.items()}
    return [
        Finding("note", where, f"unit {unit.name}: no {what} window; missing: {', '.join(words)}")
        for what, words in missing.items()
        if words
    ]
