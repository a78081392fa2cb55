"""How long a unit was off: every time without suction that was not programmed, added up over any 24 h."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from fractions import Fraction

from soakline.therapy.clock import elapsed_min, later, say_day, say_hour, say_hours
from soakline.therapy.cycle import MIN_PER_DAY, TherapyUnit
from soakline.therapy.logbook import Logbook


@dataclass(frozen=True, slots=True)
class OffTime:
    """One unit's minutes off in the worst 24 h and in the last 24 h of the log; programmed dwell is not counted.

    ``limit_min`` is the site's own; None is "not set". ``is_open`` says that the last pause has no end and is counted
    up to the last entry.
    """

    name: str
    most_min: float
    most_until: datetime
    last_day_min: float
    until_time: datetime
    limit_min: float | None
    is_open: bool
    says: str


def off_time(book: Logbook, unit: TherapyUnit, limit_min: float | None) -> OffTime | None:
    """Return how long a unit was off; None where no pause is written, which is not the same as none.

    The most in any 24 h is found at the end of a pause: a window that ends there holds as much as any other.
    """
    pauses = book.pauses(unit.name)
    if not pauses:
        return None
    first, last = (
        pauses[0].start,
        max((event.at for event in book.events), key=lambda at: elapsed_min(pauses[0].start, at)),
    )
    now = elapsed_min(first, last)
    spans = [(elapsed_min(first, p.start), now if p.end is None else elapsed_min(first, p.end)) for p in pauses]
    now = max(now, *(end for _, end in spans))
    sums = [(_in_day_before(spans, end), end) for _, end in spans]
    most, until = max(sums, key=lambda found: (found[0], -found[1]))
    found = OffTime(
        name=unit.name,
        most_min=float(most),
        most_until=later(first, until),
        last_day_min=float(_in_day_before(spans, now)),
        until_time=later(first, now),
        limit_min=limit_min,
        is_open=pauses[-1].end is None,
        says="",
    )
    return replace(found, says=_say(found))


def _in_day_before(spans: Sequence[tuple[Fraction, Fraction]], end: Fraction) -> Fraction:
    begin = end - MIN_PER_DAY
    inside = (min(high, end) - max(low, begin) for low, high in spans if high > begin and low < end)
    return sum(inside, Fraction(0))


def _say(found: OffTime) -> str:
    least = "at least " if found.is_open else ""
    says = (
        f"unit {found.name}: off {least}{say_hours(found.last_day_min)} in the 24 h to {_moment(found.until_time)}; "
        f"most in any 24 h {least}{say_hours(found.most_min)}, to {_moment(found.most_until)}"
    )
    if found.limit_min is None:
        return f"{says}; no limit is set for this site"
    if found.most_min > found.limit_min:
        return (
            f"{says}: past the site's limit of {say_hours(found.limit_min)}: call; dressing off, moist gauze, by policy"
        )
    return f"{says}; the site's limit is {say_hours(found.limit_min)}"


def _moment(moment: datetime) -> str:
    return f"{say_hour(moment)} on {say_day(moment)}"
