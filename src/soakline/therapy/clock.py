"""Local clock and elapsed time: moments are kept in elapsed time and read off the clock on the wall."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta
from fractions import Fraction
from zoneinfo import ZoneInfo

_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def moment_of(local: datetime | None, time_zone: str | None, *, again: bool = False) -> datetime | None:
    """Return a time as charted as an aware moment; None where it or the zone is missing, or the clocks jump past it.

    ``again`` takes the second of two equal readings on the night the clocks go back; else the first is taken.

    >>> moment_of(datetime(2026, 10, 25, 2, 30), "Europe/Oslo", again=True).isoformat()
    '2026-10-25T02:30:00+01:00'
    """
    if local is None or time_zone is None:
        return None
    moment = local.replace(tzinfo=ZoneInfo(time_zone), fold=1 if again else 0)
    return moment if _is_on_the_clock(moment) else None


def doubt_of(local: datetime, time_zone: str, *, again: bool | None = None) -> str | None:
    """Return what to ask about a time as charted, on a night on which the clocks change; None where it is plain.

    ``again`` is the answer to which of two equal readings it was; None is "not answered".

    >>> doubt_of(datetime(2026, 3, 29, 2, 30), "Europe/Oslo")
    '02:30 does not exist on that night, the clocks go forward past it: what time was it?'
    """
    moment, words = local.replace(tzinfo=ZoneInfo(time_zone)), f"{local:%H:%M}"
    if not _is_on_the_clock(moment):
        return f"{words} does not exist on that night, the clocks go forward past it: what time was it?"
    if comes_twice(moment) and again is None:
        return f"{words} comes twice on that night, the clocks go back: reckoned from the first; was it the second?"
    if again and not comes_twice(moment):
        return f"{words} comes once on that day, but is written as the second of two: which day was it?"
    return None


def later(start: datetime, elapsed_min: Fraction | float) -> datetime:
    """Return the local time that many minutes of elapsed time after an aware ``start``, down to the whole minute.

    >>> later(datetime(2026, 10, 24, 19, tzinfo=ZoneInfo("Europe/Oslo")), 600).hour
    4
    """
    # Rounded down: a time on paper must never be later than the true one.
    elapsed = timedelta(minutes=math.floor(elapsed_min))
    return (start.astimezone(UTC) + elapsed).astimezone(start.tzinfo)


def elapsed_min(start: datetime, end: datetime) -> Fraction:
    """Return the elapsed minutes between two aware moments, exact, whatever the clocks did between them.

    >>> oslo = ZoneInfo("Europe/Oslo")
    >>> elapsed_min(datetime(2026, 10, 24, 19, tzinfo=oslo), datetime(2026, 10, 25, 4, tzinfo=oslo))
    Fraction(600, 1)
    """
    gone = end.astimezone(UTC) - start.astimezone(UTC)
    return Fraction(gone // timedelta(microseconds=1), 60_000_000)


def comes_twice(local: datetime) -> bool:
    """Say whether a local time is read twice on its night."""
    return local.replace(fold=0).utcoffset() != local.replace(fold=1).utcoffset() and _is_on_the_clock(local)


def say_time(moment: datetime, start: datetime) -> str:
    """Write a local time, with its date once a day has passed since ``start``; both are aware times of one zone.

    >>> oslo = ZoneInfo("Europe/Oslo")
    >>> say_time(datetime(2026, 11, 21, 1, 45, tzinfo=oslo), datetime(2026, 11, 20, 19, tzinfo=oslo))
    '01:45'
    """
    a_day_on = moment.replace(tzinfo=None) - start.replace(tzinfo=None) >= timedelta(days=1)
    return f"{say_hour(moment)} on {say_day(moment)}" if a_day_on else say_hour(moment)


def say_hour(moment: datetime) -> str:
    """Write a local time alone; one that is read twice on its night says which.

    >>> say_hour(datetime(2026, 10, 25, 2, 30, tzinfo=ZoneInfo("Europe/Oslo"), fold=1))
    '02:30 (the second of that night)'
    """
    words = f"{moment:%H:%M}"
    if comes_twice(moment):
        words += " (the second of that night)" if moment.fold else " (the first of that night)"
    return words


def say_day(moment: datetime) -> str:
    """Write a local day.

    >>> say_day(datetime(2026, 11, 21, 4, 10))
    '21 Nov'
    """
    return f"{moment.day} {_MONTHS[moment.month - 1]}"


def say_hours(lasts_min: Fraction | float) -> str:
    """Write a length of time in hours and minutes.

    >>> say_hours(3240), say_hours(25), say_hours(135)
    ('54 h', '25 min', '2 h 15 min')
    """
    hours, minutes = divmod(round(lasts_min), 60)
    parts = [f"{hours:,} h" if hours else "", f"{minutes} min" if minutes or not hours else ""]
    return " ".join(filter(None, parts))


def _is_on_the_clock(local: datetime) -> bool:
    there_and_back = local.astimezone(UTC).astimezone(local.tzinfo)
    return there_and_back.replace(tzinfo=None) == local.replace(tzinfo=None)
