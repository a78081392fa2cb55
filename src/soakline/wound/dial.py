"""The dial: what the probe found hour by hour, as the fewest ranges of undermining, and those ranges as hours again."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from soakline.units import Measured
from soakline.wound.clock import HOURS, say_clock
from soakline.wound.measurements import Basis, Undermining, Wound
from soakline.wound.sheet import hours_of, hours_words

Found = Literal["not probed", "none found", "undermined", "kept as written"]
Covers = Literal["whole", "from here", "up to here"]

# An hour has a half before it and a half after it, 15° each; half 0 begins at 12 o'clock.
_HALVES = 24
_HALF_DEG = 15.0
_Value = tuple[Measured, Measured, Basis]


@dataclass(frozen=True, slots=True)
class DialHour:
    """What was found at one hour: reach along the probe and pocket height in cm, None is "not measured".

    An hour stands for ±15°; ``covers`` tells where undermining begins or ends at the hour itself. "kept as written"
    is an hour whose entry in the case file the dial cannot show. Raises ValueError for measures without undermining.
    """

    found: Found = "not probed"
    reach_cm: Measured = None
    height_cm: Measured = None
    basis: Basis = "measured"
    covers: Covers = "whole"

    def __post_init__(self) -> None:
        """Refuse measures of what was not found."""
        told = (self.reach_cm, self.height_cm, self.basis, self.covers)
        if self.found != "undermined" and told != (None, None, "measured", "whole"):
            msg = f"{self.found}: such an hour has no reach, height, basis or part"
            raise ValueError(msg)


@dataclass(frozen=True, slots=True)
class Held:
    """An entry of ``wound.undermining`` that the dial cannot show: its place in the list from 0, and why."""

    index: int
    says: str


@dataclass(frozen=True, slots=True)
class Dial:
    """Twelve hours, 1 o'clock first, and the entries that stay as they are written."""

    hours: tuple[DialHour, ...]
    held: tuple[Held, ...]


def read_dial(wound: Wound) -> Dial:
    """Return a wound's undermining hour by hour; what no hour can show is held, with all hours that it touches.

    >>> from soakline.wound.measurements import Opening
    >>> wound = Wound("front", "trunk", Opening(6, 6, 2), undermining=(Undermining(12, 2, reach_cm=4),))
    >>> [hour.covers for hour in read_dial(wound).hours if hour.found == "undermined"]
    ['whole', 'up to here', 'from here']
    """
    if wound.pocket is not None:
        return Dial((DialHour("kept as written"),) * 12, ())
    held = _held(wound.undermining)
    shown = [entry for i, entry in enumerate(wound.undermining) if i not in held]
    kept = {hour for i in held for hour in _hours_touched(wound.undermining[i])}
    halves: dict[int, _Value] = {half: _value(entry) for entry in shown for half in halves_of(entry)}
    hours = (_hour(hour, halves, kept, wound.none_found) for hour in HOURS)
    return Dial(tuple(hours), tuple(Held(i, says) for i, says in sorted(held.items())))


def ranges_of(hours: Sequence[DialHour]) -> tuple[Undermining, ...]:
    """Return the fewest entries that say what twelve hours say (1 o'clock first); equal neighbours join.

    Source key ``measuring.undermining``: an hour stands for ±15°, a range for its whole span.

    >>> hours = [DialHour("undermined", 4.0)] * 2 + [DialHour("none found")] * 10
    >>> [(entry.from_clock, entry.to_clock) for entry in ranges_of(hours)]
    [(12.5, 2.5)]
    """
    value: list[_Value | None] = [None] * _HALVES
    for hour, found in zip(HOURS, hours, strict=True):
        for half in _own_halves(hour, found.covers) if found.found == "undermined" else ():
            value[half] = (found.reach_cm, found.height_cm, found.basis)
    if value[0] is not None and all(one == value[0] for one in value):
        return (_entry(0, _HALVES, value[0]),)
    return tuple(_runs(value))


def none_found_of(hours: Sequence[DialHour], before: Dial, none_found: Sequence[float]) -> tuple[float, ...]:
    """Return the hours probed without undermining; ``none_found`` as written, ``before`` what was read with it.

    Half hours, and hours at which undermining was told beside it, stay until their hour changes.
    """
    now, was = ({hour: one.found for hour, one in zip(HOURS, some, strict=True)} for some in (hours, before.hours))
    stay = [at for at in none_found if at != int(at) or now[int(at)] in {"none found", was[int(at)]}]
    return (*stay, *(float(hour) for hour in HOURS if now[hour] == "none found" and hour not in none_found))


def halves_of(entry: Undermining) -> frozenset[int]:
    """Return the halves of hours (0–23, 15° each, from 12 o'clock) that an entry covers."""
    start_deg, wide_deg = hours_of(entry)
    first, count = round(start_deg / _HALF_DEG), round(wide_deg / _HALF_DEG)
    return frozenset((first + i) % _HALVES for i in range(count))


def is_same(one: Undermining, other: Undermining) -> bool:
    """Say whether two entries say the same, however their hours are written."""
    alike = replace(one, from_clock=None, to_clock=None, clock=None)
    return alike == replace(other, from_clock=None, to_clock=None, clock=None) and halves_of(one) == halves_of(other)


def _held(entries: Sequence[Undermining]) -> dict[int, str]:
    held = {i: f"{hours_words(entry)}: it tapers" for i, entry in enumerate(entries) if entry.ends == "taper"}
    held |= {i: says for i, entry in enumerate(entries) if i not in held and (says := _clash(i, entry, entries))}
    # What shares an hour with a held entry cannot be changed without it.
    while more := _beside(held, entries):
        held |= more
    return held


def _clash(index: int, entry: Undermining, entries: Sequence[Undermining]) -> str | None:
    for i, other in enumerate(entries):
        if i == index:
            continue
        if halves_of(entry) & halves_of(other):
            return f"{hours_words(entry)}: it lies over the entry {hours_words(other)}"
        met = sorted(_hours_touched(entry) & _hours_touched(other))
        if met and _value(entry) != _value(other):
            return f"{hours_words(entry)}: at {say_clock(met[0])} it meets an entry of another reach or height"
    return None


def _beside(held: Iterable[int], entries: Sequence[Undermining]) -> dict[int, str]:
    kept = {hour for i in held for hour in _hours_touched(entries[i])}
    return {
        i: f"{hours_words(entry)}: it shares an hour with an entry that the dial cannot show"
        for i, entry in enumerate(entries)
        if i not in held and _hours_touched(entry) & kept
    }


def _hour(hour: int, halves: dict[int, _Value], kept: set[int], none_found: Sequence[float]) -> DialHour:
    if hour in kept:
        return DialHour("kept as written")
    before, after = (halves.get(half) for half in _own_halves(hour, "whole"))
    value = before or after
    if value is None:
        return DialHour("none found" if hour in none_found else "not probed")
    covers: Covers = "whole" if before and after else "from here" if after else "up to here"
    return DialHour("undermined", *value, covers)


def _own_halves(hour: int, covers: Covers) -> tuple[int, ...]:
    before, after = (2 * hour - 1) % _HALVES, 2 * hour % _HALVES
    return {"whole": (before, after), "from here": (after,), "up to here": (before,)}[covers]


def _hours_touched(entry: Undermining) -> frozenset[int]:
    halves = halves_of(entry)
    return frozenset(hour for hour in HOURS if halves.intersection(_own_halves(hour, "whole")))


def _value(entry: Undermining) -> _Value:
    return entry.reach_cm, entry.height_cm, entry.basis


def _runs(value: Sequence[_Value | None]) -> Iterator[Undermining]:
    for first in range(_HALVES):
        here = value[first]
        if here is None or value[first - 1] == here:
            continue
        count = next(n for n in range(1, _HALVES + 1) if value[(first + n) % _HALVES] != here)
        yield _entry(first, count, here)


def _entry(first: int, count: int, value: _Value) -> Undermining:
    reach_cm, height_cm, basis = value
    measured = Undermining(reach_cm=reach_cm, height_cm=height_cm, basis=basis)
    if count == 2 and first % 2:
        return replace(measured, clock=_clock((first + 1) / 2))
    return replace(measured, from_clock=_clock(first / 2), to_clock=_clock((first + count) / 2))


def _clock(hours_after_12: float) -> float:
    hour = hours_after_12 % 12
    return hour + 12 if hour < 1 else hour
