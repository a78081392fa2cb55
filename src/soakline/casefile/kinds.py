"""The kinds of value a case file holds; each says in the trade's words what it takes when something else is given."""

from __future__ import annotations

import difflib
import math
import zoneinfo
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Annotated, Any, Literal, NoReturn, TypeVar, get_args

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Discriminator, Field, PlainValidator, Tag
from pydantic_core import PydanticCustomError

from soakline.casefile.spoken import listen
from soakline.errors import Level
from soakline.fluid.posture import parse_posture
from soakline.wound.entry import clock_refusal

WORDS_MOST = 400
YEARS = (2000, 2100)
_DIRECTION_MARKS = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
_Value = TypeVar("_Value", float, int)


@dataclass(frozen=True, slots=True)
class Kind:
    """What a key takes, in words, for the table of keys."""

    says: str


class Section(BaseModel):
    """A part of the case file: its keys are checked by name and nothing is converted silently."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


def show(value: object) -> str:
    """Write what was given, short enough to stand in a sentence.

    >>> show(True), show("frnt"), show([1, 2]), show(2.50)
    ('true', '"frnt"', 'a list', '2.5')
    """
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int):
        return str(value) if abs(value) < 10**12 else "a number of more than 12 digits"
    if isinstance(value, float):
        return f"{value:g}"
    if isinstance(value, str):
        return f'"{value}"' if len(value) <= 60 else f'"{value[:60]}…"'
    if isinstance(value, dict):
        return "a section"
    return "a list" if isinstance(value, list) else str(value)


def refuse(says: str) -> NoReturn:
    """Raise the error that becomes a finding of level "refuse" with these words."""
    error = "refused"
    raise PydanticCustomError(error, "{says}", {"says": says})


def ask(says: str, may_be: float | None, level: Level = "ask") -> NoReturn:
    """Raise the error that becomes a question; ``may_be`` is what a confirmed text is read as, without unit."""
    error = "asked"
    raise PydanticCustomError(error, "{says}", {"says": says, "may_be": may_be, "level": level})


def within(low: float, high: float, unit: str) -> Callable[[_Value], _Value]:
    """Return a check that a number lies in bounds of entry, given in ``unit``."""

    def check(value: _Value) -> _Value:
        if low <= value <= high:
            return value
        refuse(f"{show(value)} {unit} is outside {low:g} to {high:g} {unit}, a bound of entry, not a clinical limit")

    return check


def _number(value: object) -> float:
    if isinstance(value, str):
        _not_yet_a_number(value)
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        refuse(f"{show(value)} is not a number; write the number alone, its unit is in the key")
    if isinstance(value, int) and abs(value) > 10**12:
        refuse(f"{show(value)} cannot be measured; write the number in the unit that the key names")
    if not math.isfinite(value):
        refuse(f"{show(value)} is not a number that can be measured; leave the key out when it was not measured")
    return float(value)


def _not_yet_a_number(text: str) -> NoReturn:
    if not text.strip():
        ask("blank: not measured, which is not the same as 0; leave the key out or write the number", None, "warn")
    spoken = listen(text)
    if spoken is None:
        refuse(f"{show(text)} is not a number; write the number alone, its unit is in the key")
    ask(spoken.says, spoken.may_be)


def _count(value: object) -> int:
    if isinstance(value, bool) or not isinstance(value, int):
        refuse(f"{show(value)} is not a whole number; write a count such as 2")
    return within(0, 10_000, "pieces")(value)


def _clock(value: object) -> float:
    clock = _number(value)
    if says := clock_refusal(clock):
        refuse(says)
    return clock


def _yes_no(value: object) -> bool:
    if isinstance(value, bool):
        return value
    refuse(f"{show(value)} given; write true or false, without quotes")


def _words(value: object) -> str:
    if not isinstance(value, str):
        refuse(f"{show(value)} is not words; write words in quotes")
    if not value.strip():
        refuse("blank; write words in quotes, or leave the key out")
    if len(value) > WORDS_MOST:
        refuse(f"{len(value)} characters given; at most {WORDS_MOST} are kept: shorten it")
    if any(not c.isprintable() for c in value) or _DIRECTION_MARKS & set(value):
        refuse("holds characters that cannot be printed; write it on one line with plain letters")
    return value


def _when(value: object) -> datetime:
    if not isinstance(value, datetime):
        refuse(f"{show(value)} is not a date with a time; write 2026-11-20T14:10:00, without quotes")
    if value.tzinfo is not None:
        refuse("holds a time zone of its own; write local time without Z or offset, the zone stands in time_zone")
    _in_our_time(value)
    return value


def _day(value: object) -> date:
    if isinstance(value, datetime) or not isinstance(value, date):
        refuse(f"{show(value)} is not a date; write 2026-11-19, without quotes and without a time")
    _in_our_time(value)
    return value


def _in_our_time(value: date) -> None:
    if not YEARS[0] <= value.year <= YEARS[1]:
        refuse(f"the year {value.year} is outside {YEARS[0]} to {YEARS[1]}; write the date as year-month-day")


def _posture(value: object) -> str:
    words = _words(value)
    try:
        parse_posture(words)
    except ValueError as error:
        refuse(str(error))
    return words


def _zone(value: object) -> str:
    name = _words(value)
    try:
        zoneinfo.ZoneInfo(name)
    except (ValueError, OSError, zoneinfo.ZoneInfoNotFoundError):
        near = difflib.get_close_matches(name[:60], sorted(zoneinfo.available_timezones()), n=1)
        hint = f"did you mean {near[0]}?" if near else "write it as Area/City, such as Europe/Oslo"
        refuse(f"{show(name)} is not an IANA time zone; {hint}")
    return name


def one_of(*allowed: str) -> Callable[[object], str]:
    """Return a check that a word is one of those allowed, which names them all when it is not."""

    def check(value: object) -> str:
        if isinstance(value, str) and value in allowed:
            return value
        refuse(f"{show(value)} given; allowed: {', '.join(allowed)}")

    return check


def choice(literal: Any) -> tuple[BeforeValidator, Kind]:  # noqa: ANN401 - a Literal has no type of its own
    """Return the check and the words of a key that takes one of the words of a Literal."""
    allowed = get_args(literal)
    return BeforeValidator(one_of(*allowed)), Kind("one of " + ", ".join(f'"{word}"' for word in allowed))


Number = Annotated[float, PlainValidator(_number), Kind("number")]
Count = Annotated[int, PlainValidator(_count), Kind("whole number")]
Clock = Annotated[float, PlainValidator(_clock), Kind("hour")]
YesNo = Annotated[bool, PlainValidator(_yes_no), Kind("true or false")]
Words = Annotated[str, PlainValidator(_words), Kind("words")]
When = Annotated[datetime, PlainValidator(_when), Kind("local date and time")]
Day = Annotated[date, PlainValidator(_day), Kind("date")]
Lying = Annotated[str, PlainValidator(_posture), Kind("posture")]
Zone = Annotated[str, PlainValidator(_zone), Kind("IANA time zone")]
Point = Annotated[list[Number], Field(min_length=2, max_length=2)]
Outline = Annotated[list[Point], Field(max_length=500), Kind("list of [x, y]")]
Answered = Literal["yes", "no", "unknown"]


class RangeIn(Section):
    """A number in doubt: lowest, likely and highest."""

    low: Number
    likely: Number
    high: Number


def _in_order(value: RangeIn) -> RangeIn:
    if value.low <= value.likely <= value.high:
        return value
    given = f"low {value.low:g}, likely {value.likely:g}, high {value.high:g}"
    refuse(f"{given}: must rise from low to high")


def _number_or_range(value: object) -> str:
    return "#range" if isinstance(value, (dict, RangeIn)) else "#number"


Measured = Annotated[
    Annotated[Number, Tag("#number")] | Annotated[RangeIn, AfterValidator(_in_order), Tag("#range")],
    Discriminator(_number_or_range),
    Kind("number or range"),
]
"""A tag begins with "#" so that it can be told from a key when an error is named."""
