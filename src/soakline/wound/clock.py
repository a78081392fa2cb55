"""The clock on the wound: 12 is the head (trunk) or proximal (limb), hours run clockwise as the examiner sees them."""

from __future__ import annotations

import math

from soakline.units import DEG_PER_HOUR

HOURS = tuple(range(1, 13))


def angle_deg(clock: float) -> float:
    """Return the direction of an hour in degrees clockwise from 12 o'clock, in [0, 360).

    >>> angle_deg(12), angle_deg(3), angle_deg(10.5)
    (0.0, 90.0, 315.0)
    """
    return (clock * DEG_PER_HOUR) % 360.0


def clock_of(direction_deg: float) -> float:
    """Return the hour, in (0, 12], of a direction in degrees clockwise from 12 o'clock.

    >>> clock_of(0.0), clock_of(90.0)
    (12.0, 3.0)
    """
    hour_count = (direction_deg % 360.0) / DEG_PER_HOUR
    return hour_count or 12.0


def span_deg(from_clock: float, to_clock: float) -> float:
    """Return how many degrees a range of hours covers, clockwise; the same hour twice is all round.

    Source key ``measuring.undermining``: ranges are written from–to, clockwise.

    >>> span_deg(12, 6), span_deg(10, 2), span_deg(2, 10), span_deg(4, 4)
    (180.0, 120.0, 240.0, 360.0)
    """
    return ((to_clock - from_clock) * DEG_PER_HOUR) % 360.0 or 360.0


def unit_vector(direction_deg: float) -> tuple[float, float]:
    """Return (u towards 3 o'clock, v towards 12 o'clock), without unit, of a direction in degrees clockwise from 12.

    >>> unit_vector(90.0)[0]
    1.0
    """
    angle = math.radians(direction_deg)
    return math.sin(angle), math.cos(angle)


def say_clock(clock: float) -> str:
    """Write an hour as a place on the wound.

    >>> say_clock(3), say_clock(4.5)
    ("3 o'clock", 'half past 4')
    """
    whole = math.floor(clock)
    if clock == whole:
        return f"{whole} o'clock"
    return f"half past {whole}" if clock - whole == 0.5 else f"{clock:.1f} o'clock"
