"""What was found at which hour of the clock: where an entry of undermining lies, and which hours nobody probed."""

from __future__ import annotations

from typing import Literal

from soakline.wound.clock import HOURS, say_clock, span_deg
from soakline.wound.measurements import Undermining, Wound


def hours_not_probed(wound: Wound) -> tuple[int, ...]:
    """Return the whole hours, 1 to 12, of which nothing is written; a pocket marked on the skin speaks for all.

    >>> from soakline.wound.measurements import Opening
    >>> wound = Wound("front", "trunk", Opening(6, 6, 2), undermining=(Undermining(12, 6, reach_cm=4),))
    >>> hours_not_probed(wound)
    (7, 8, 9, 10, 11)
    """
    if wound.pocket is not None:
        return ()
    return tuple(hour for hour in HOURS if hour not in wound.none_found and not _found_at(wound, hour))


def start_and_hours(undermining: Undermining) -> tuple[float, float]:
    """Return the hour at which an entry starts and how many hours it covers, clockwise; one hour alone covers one."""
    if undermining.clock is not None:
        return undermining.clock - 0.5, 1.0
    if undermining.from_clock is None or undermining.to_clock is None:
        return 12.0, 0.0
    return undermining.from_clock, span_deg(undermining.from_clock, undermining.to_clock) / 30


def place_of(undermining: Undermining, clock: float) -> Literal["inside", "end"] | None:
    """Return whether an hour lies inside an entry of undermining or at its end; None where it lies outside."""
    first, hours = start_and_hours(undermining)
    along = (clock - first) % 12
    if hours == 12 and undermining.ends == "full":
        return "inside"
    if along in (0.0, hours):
        return "end"
    return "inside" if along < hours else None


def say_hours(undermining: Undermining) -> str:
    """Write the hours of an entry, whatever of them is written down.

    >>> say_hours(Undermining(10, 2)), say_hours(Undermining(clock=4.5)), say_hours(Undermining(4, 4))
    ("10 to 2 o'clock", 'half past 4', 'every hour')
    """
    if undermining.clock is not None:
        return say_clock(undermining.clock)
    first, last = undermining.from_clock, undermining.to_clock
    if first is None or last is None:
        return "its hours"
    return "every hour" if first == last else f"{first:g} to {last:g} o'clock"


def _found_at(wound: Wound, clock: float) -> bool:
    return any(place_of(undermining, clock) for undermining in wound.undermining)
