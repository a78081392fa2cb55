"""When a canister is due and how long a bag lasts: elapsed time is kept, the local clock is read off it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction

from soakline.errors import Finding
from soakline.therapy._figures import exact, show_count
from soakline.therapy.clock import doubt_of, later, moment_of, say_time
from soakline.therapy.cycle import Exudate, TherapyUnit, period_min
from soakline.units import Range, Sum, as_range, likely


@dataclass(frozen=True, slots=True)
class CanisterTimes:
    """When the canister reaches its planned share: minutes since the start, and aware local times.

    ``due`` is at the likely exudate, ``earliest`` at the high, ``latest`` at the low; the early edge is the one to plan
    on. Local times are written down to the whole minute.
    """

    due_min: float
    earliest_min: float
    latest_min: float
    due: datetime
    earliest: datetime
    latest: datetime
    says: str
    sums: tuple[Sum, ...]


@dataclass(frozen=True, slots=True)
class BagTimes:
    """How many whole cycles the bag gives after priming, and which fill falls short: when it starts, by how many mL."""

    cycle_count: int
    short_min: float
    short_at: datetime
    short_ml: float
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
) -> CanisterTimes | None:
    """Return when the unit's canister, fitted at the start, reaches its planned share (0–1), or None.

    None where a piece is missing (``check_windows`` names it). A whole fill counts when suction starts, exudate runs
    evenly. The share is the site's own setting (``fluids.canister_share``). Checked against ``worked.night``.

    >>> a = TherapyUnit("B", fill_ml=60, fill_min=2, dwell_min=8, suction_min=170, canister_ml=500,
    ...                 started_at=datetime(2026, 11, 20, 19))
    >>> canister_times(a, Range(15, 25, 40), planned_share=0.9, time_zone="Europe/Oslo").says
    'plan on 01:45, the early edge; expected 04:10, at the latest 07:10'
    """
    start, returns = moment_of(unit.started_at, time_zone, again=bool(unit.started_again)), _returns(unit)
    if start is None or returns is None or exudate_ml_per_h is None or unit.canister_ml is None:
        return None
    target_ml = exact(unit.canister_ml) * exact(planned_share)
    span = as_range(exudate_ml_per_h)
    elapsed = {rate: returns.minutes_to(target_ml, rate) for rate in (span.low, span.likely, span.high)}
    local = {rate: later(start, minutes) for rate, minutes in elapsed.items()}
    return CanisterTimes(
        due_min=float(elapsed[span.likely]),
        earliest_min=float(elapsed[span.high]),
        latest_min=float(elapsed[span.low]),
        due=local[span.likely],
        earliest=local[span.high],
        latest=local[span.low],
        says=_say_window(local[span.high], local[span.likely], local[span.low], start),
        sums=tuple(
            _work_canister(
                returns,
                canister_ml=unit.canister_ml,
                planned_share=planned_share,
                rate_ml_per_h=rate,
                elapsed_min=elapsed[rate],
                clock_words=say_time(local[rate], start),
            )
            for rate in sorted(elapsed, reverse=True)
        ),
    )


def bag_times(unit: TherapyUnit, time_zone: str | None) -> BagTimes | None:
    """Return how many whole cycles the unit's bag gives and when it falls short; None where a piece is missing.

    >>> b = TherapyUnit("B", fill_ml=60, fill_min=2, dwell_min=8, suction_min=170, bag_ml=500, priming_ml=15,
    ...                 started_at=datetime(2026, 11, 20, 19))
    >>> bag_times(b, "Europe/Oslo").says
    '8 whole cycles; fill 9, at 19:00 on 21 Nov, is 55 mL short'
    """
    start, returns = moment_of(unit.started_at, time_zone, again=bool(unit.started_again)), _returns(unit)
    if start is None or returns is None or unit.bag_ml is None or unit.priming_ml is None:
        return None
    usable_ml = exact(unit.bag_ml) - exact(unit.priming_ml)
    if usable_ml <= 0:
        return None
    whole = usable_ml // returns.fill_ml
    left_ml = usable_ml - whole * returns.fill_ml
    short_ml = float(returns.fill_ml - left_ml)
    short_at = later(start, whole * returns.period_min)
    return BagTimes(
        cycle_count=whole,
        short_min=float(whole * returns.period_min),
        short_at=short_at,
        short_ml=short_ml,
        says=(
            f"{whole} whole {'cycle' if whole == 1 else 'cycles'}; fill {whole + 1}, at {say_time(short_at, start)}, "
            f"is {show_count(short_ml)} mL short"
        ),
        sums=_work_bag(unit.bag_ml, unit.priming_ml, returns, whole, say_time(short_at, start)),
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
class _Returns:
    """The pulses of one unit, exact: a whole fill comes back at ``first_min`` and once a period after."""

    fill_ml: Fraction
    first_min: Fraction
    period_min: Fraction

    def minutes_to(self, target_ml: Fraction, exudate_ml_per_h: float) -> Fraction:
        """Return the first minute at which returns and exudate together reach ``target_ml``."""
        rate = exact(exudate_ml_per_h) / 60
        missing = target_ml - rate * (self.first_min - self.period_min)
        reached_by = max(1, math.ceil(missing / (rate * self.period_min + self.fill_ml)))
        at_return = self.first_min + (reached_by - 1) * self.period_min
        if rate == 0:
            return at_return
        between = (target_ml - (reached_by - 1) * self.fill_ml) / rate
        return min(at_return, between)

    def count_by(self, elapsed_min: Fraction) -> int:
        """Return how many fills have come back."""
        return max(0, (elapsed_min - self.first_min) // self.period_min + 1)


def _returns(unit: TherapyUnit) -> _Returns | None:
    period = period_min(unit)
    if period is None or unit.fill_ml is None or unit.fill_min is None or unit.dwell_min is None:
        return None
    if not (0 < period < math.inf and 0 < unit.fill_ml < math.inf):
        return None
    soak_ends = exact(unit.fill_min) + exact(unit.dwell_min)
    return _Returns(exact(unit.fill_ml), soak_ends, soak_ends + exact(unit.suction_min or 0))


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
    returns: _Returns,
    *,
    canister_ml: float,
    planned_share: float,
    rate_ml_per_h: float,
    elapsed_min: Fraction,
    clock_words: str,
) -> Sum:
    count, fill = returns.count_by(elapsed_min), float(returns.fill_ml)
    collected_ml = count * fill + rate_ml_per_h * float(elapsed_min) / 60
    target_ml = float(exact(canister_ml) * exact(planned_share))
    rate, hours = show_count(rate_ml_per_h), show_count(float(elapsed_min) / 60)
    planned = f"{show_count(planned_share * 100)} % of {show_count(canister_ml)} is {show_count(target_ml)}"
    return Sum(
        f"canister at {clock_words} with {rate} mL/h of exudate",
        f"{count} × {show_count(fill)} + {rate} × {hours} h",
        f"{show_count(collected_ml, 0)} mL ({planned})",
    )


def _work_bag(bag_ml: float, priming_ml: float, returns: _Returns, whole: int, clock_words: str) -> tuple[Sum, ...]:
    fill = float(returns.fill_ml)
    left = bag_ml - priming_ml - whole * fill
    return (
        Sum(
            "whole fills in the bag",
            f"({show_count(bag_ml)} − {show_count(priming_ml)}) ÷ {show_count(fill)}",
            f"{whole}, and {show_count(left)} mL left",
        ),
        Sum(
            f"short at fill {whole + 1}, {clock_words}",
            f"{show_count(fill)} − {show_count(left)}",
            f"{show_count(fill - left)} mL",
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


def _name_missing(
    unit: TherapyUnit, exudate_ml_per_h: float | Range | None, where: str, time_zone: str | None
) -> list[Finding]:
    common = {"start": unit.started_at, "time zone": time_zone, "a whole cycle with its fill": _returns(unit)}
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
