"""Units in step: when none of them draws, when they drift apart, and when they meet again."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from fractions import Fraction
from functools import reduce
from itertools import combinations

from soakline.therapy._figures import show_count
from soakline.therapy.clock import later, say_hours, say_time
from soakline.therapy.cycle import MIN_PER_DAY
from soakline.therapy.rhythm import Rhythm, Span, overlaps

LOOKED_AHEAD_DAYS = 60
"""Longer than any stay in the published series (source key ``therapy.series``)."""
_MOST_CYCLES = 20_000


@dataclass(frozen=True, slots=True)
class InStep:
    """How the no-suction times (fill and dwell) of units lie over each other.

    Minutes count from ``since``, when the last of them was begun, or begun anew. ``first_day_overlap_min`` is the sum
    over the first 24 h, ``first_day_dwell_min`` that of the dwells alone. ``next_overlap_min`` is when the first
    overlap after that day begins, ``next_overlap_lasts_min`` how long it lasts; ``next_dwell_min`` when dwells overlap
    again; ``coincide_every_min`` how often all start a fill at one moment. None is never, as far as was looked. In
    ``soaks_drawn_count`` of each unit's ``soaks_count`` dwells of the first day another unit draws.
    """

    names: tuple[str, ...]
    since: datetime
    first_day_overlap_min: float
    first_day_dwell_min: float
    next_overlap_min: float | None
    next_overlap_lasts_min: float | None
    next_overlap_at: datetime | None
    next_dwell_min: float | None
    coincide_every_min: float | None
    soaks_drawn_count: tuple[int, ...]
    soaks_count: tuple[int, ...]
    says: tuple[str, ...]


def in_step(rhythms: Sequence[Rhythm]) -> InStep | None:
    """Return how two or more units lie over each other from when the last was begun; None for fewer.

    Checked against ``worked.drift``.

    >>> from soakline.therapy.cycle import TherapyUnit
    >>> from soakline.therapy.rhythm import rhythm_of
    >>> start = datetime(2026, 11, 20, 8)
    >>> a = TherapyUnit("A", fill_min=2, dwell_min=8, suction_min=170, started_at=start)
    >>> b = TherapyUnit("B", fill_min=2, dwell_min=10, suction_min=178, started_at=start)
    >>> met = in_step([r for unit in (a, b) if (r := rhythm_of(unit, "Europe/Oslo"))])
    >>> met.first_day_overlap_min, met.next_overlap_min, met.next_overlap_lasts_min, met.coincide_every_min
    (10.0, 3240.0, 2.0, 3420.0)
    """
    if len(rhythms) < 2:
        return None
    since = max((r.begun for r in rhythms), key=lambda begun: begun.astimezone(UTC))
    day = Fraction(MIN_PER_DAY)
    horizon = _horizon_min(rhythms)
    following, dwell_following = (_next_after(rhythms, since, horizon, dwell_only=only) for only in (False, True))
    soaks = _together([_since(r, since, day, dwell_only=False) for r in rhythms])
    dwells = _together([_since(r, since, day, dwell_only=True) for r in rhythms])
    drawn = [_soaks_drawn(r, [o for o in rhythms if o is not r], since) for r in rhythms]
    every = _coincide_every_min(rhythms)
    found = InStep(
        names=tuple(r.name for r in rhythms),
        since=since,
        first_day_overlap_min=float(_within(soaks, day)),
        first_day_dwell_min=float(_within(dwells, day)),
        next_overlap_min=float(following[0]) if following else None,
        next_overlap_lasts_min=float(following[1] - following[0]) if following else None,
        next_overlap_at=later(since, following[0]) if following else None,
        next_dwell_min=float(dwell_following[0]) if dwell_following else None,
        coincide_every_min=None if every is None else float(every),
        soaks_drawn_count=tuple(count for count, _ in drawn),
        soaks_count=tuple(count for _, count in drawn),
        says=(),
    )
    return _with_words(found, horizon, stopped=[r.name for r in rhythms if r.is_stopped])


def pairs_in_step(rhythms: Sequence[Rhythm]) -> tuple[InStep, ...]:
    """Return the same for each two of the units."""
    return tuple(met for pair in combinations(rhythms, 2) if (met := in_step(pair)) is not None)


def _with_words(met: InStep, horizon: Fraction, *, stopped: Sequence[str]) -> InStep:
    return replace(met, says=tuple(_say(met, horizon, stopped)))


def _say(met: InStep, horizon: Fraction, stopped: Sequence[str]) -> list[str]:
    both = "both" if len(met.names) == 2 else "all"
    together, dwell = show_count(met.first_day_overlap_min), show_count(met.first_day_dwell_min)
    lines = [f"in the first 24 h {both} are without suction together for {together} min, {dwell} of them dwell"]
    if stopped:
        lines.append(f"unit {', '.join(stopped)} is paused without an end: nothing later can be told")
    elif met.next_overlap_min is None or met.next_overlap_at is None:
        lines.append(f"after that they do not meet again within {say_hours(horizon)}")
    else:
        lines.append(
            f"next overlap {show_count(met.next_overlap_lasts_min or 0)} min from {say_hours(met.next_overlap_min)}, "
            f"{say_time(met.next_overlap_at, met.since)}"
        )
    if met.coincide_every_min is not None:
        lines.append(f"their fills start together every {say_hours(met.coincide_every_min)}")
    elif not stopped:
        lines.append("their fills never start together again until they are restarted together")
    return lines


def _next_after(rhythms: Sequence[Rhythm], since: datetime, horizon: Fraction, *, dwell_only: bool) -> Span | None:
    """Return the first overlap of all that begins after the first day; near ones first, for most are near."""
    day = Fraction(MIN_PER_DAY)
    looked = 4 * day
    while True:
        upto = min(looked, horizon)
        met = _together([_since(r, since, upto, dwell_only=dwell_only) for r in rhythms])
        found = next((span for span in met if span[0] >= day), None)
        # One that touches the end of what was looked at may be cut short there.
        if upto == horizon or (found is not None and found[1] < upto):
            return found
        looked *= 4


def _since(rhythm: Rhythm, since: datetime, horizon: Fraction, *, dwell_only: bool) -> list[Span]:
    shift = rhythm.minute_of(since)
    spans = (rhythm.dwells if dwell_only else rhythm.soaks)(shift + horizon)
    return [(max(low - shift, Fraction(0)), high - shift) for low, high in spans if high > shift]


def _together(lists: Sequence[list[Span]]) -> list[Span]:
    return reduce(overlaps, lists[1:], lists[0])


def _within(spans: Sequence[Span], day: Fraction) -> Fraction:
    return sum((min(high, day) - low for low, high in spans if low < day), Fraction(0))


def _soaks_drawn(rhythm: Rhythm, others: Sequence[Rhythm], since: datetime) -> tuple[int, int]:
    """Return in how many dwells of the first day some other unit draws, and how many dwells there are."""
    day = Fraction(MIN_PER_DAY)
    dwells = _since(rhythm, since, day, dwell_only=True)
    quiet = [_since(other, since, day, dwell_only=False) for other in others]
    drawn = [span for span in dwells if any(_within(overlaps([span], o), day) < span[1] - span[0] for o in quiet)]
    return len(drawn), len(dwells)


def _horizon_min(rhythms: Sequence[Rhythm]) -> Fraction:
    shortest = min(r.period_min for r in rhythms)
    return min(Fraction(LOOKED_AHEAD_DAYS * MIN_PER_DAY), max(_MOST_CYCLES * shortest, Fraction(2 * MIN_PER_DAY)))


def _coincide_every_min(rhythms: Sequence[Rhythm]) -> Fraction | None:
    """Return how often all fills start at one moment, from the phases after the last pause; None is never."""
    if any(r.is_stopped for r in rhythms):
        return None
    reference = rhythms[0].start
    every, phase = Fraction(0), Fraction(0)
    for rhythm in rhythms:
        last = rhythm.stretches[-1]
        begins = last.begin_min - last.into_min - rhythm.minute_of(reference)
        joined = _join(every, phase, rhythm.period_min, begins % rhythm.period_min)
        if joined is None:
            return None
        every, phase = joined
    return every


def _join(every: Fraction, phase: Fraction, period: Fraction, begins: Fraction) -> tuple[Fraction, Fraction] | None:
    """Return period and phase of the moments that two trains of moments share (Chinese remainder), or None."""
    if every == 0:
        return period, begins
    scale = math.lcm(every.denominator, phase.denominator, period.denominator, begins.denominator)
    m, a, n, b = (int(value * scale) for value in (every, phase, period, begins))
    common = math.gcd(m, n)
    if (b - a) % common:
        return None
    steps = (b - a) // common * pow(m // common, -1, n // common) % (n // common)
    both = m // common * n
    return Fraction(both, scale), Fraction((a + m * steps) % both, scale)
