"""The next 24 hours as a picture: one lane for each unit with its soaks, turns and changes above the hours."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from soakline.pictures.svg import element, text_lines, words
from soakline.therapy.clock import comes_twice, elapsed_min, later, say_hour
from soakline.therapy.clock_table import Row
from soakline.workflows.answers import NextDay

_WIDTH, _LEFT, _LANE, _TEXT, _SMALL = 960.0, 70.0, 58.0, 14.0, 13.0
_TOP, _MIN = 56.0, 1440.0
# About how wide a letter is for its size, and what is left free between two labels.
_LETTER_SHARE, _GAP = 0.56, 6.0
_INK = "currentColor"
_SIGN = 8.0
_SIGNS = frozenset({"canister", "bag", "hang time"})
_LEVELS = (-16.0, 0.0, 16.0)


@dataclass(frozen=True, slots=True)
class _Day:
    """One day laid along the width: where a moment stands, in the picture's own units."""

    day: NextDay

    def x(self, at: datetime) -> float:
        return _LEFT + float(elapsed_min(self.day.begins, at)) / _MIN * (_WIDTH - _LEFT - 10.0)


def draw_timeline(day: NextDay, unit_names: Sequence[str], prefix: str = "day") -> str:
    """Return the next 24 hours as one SVG; ids begin with ``prefix``."""
    laid = _Day(day)
    height = _TOP + _LANE * (len(unit_names) + 1) + 8.0
    return element(
        "svg",
        element("title", words("The next 24 hours"), id=f"{prefix}-title"),
        element("desc", words(describe_timeline(day)), id=f"{prefix}-desc"),
        *_shifts(laid, height),
        *_hours(laid, height),
        *(part for number, name in enumerate(unit_names) for part in _lane(laid, name, _TOP + _LANE * number)),
        *_turns(laid, _TOP + _LANE * len(unit_names)),
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {_WIDTH:g} {height:g}",
        role="img",
        aria_labelledby=f"{prefix}-title {prefix}-desc",
        font_family="system-ui, sans-serif",
    )


def describe_timeline(day: NextDay) -> str:
    """Write what the picture shows, for whoever cannot see it: how many fills, turns and changes each shift has."""
    return "; ".join(_say_shift(shift.starts, shift.ends, shift.rows) for shift in day.shifts)


def _say_shift(starts: datetime, ends: datetime, rows: Sequence[Row]) -> str:
    counts = [
        f"{count} {word}{'' if count == 1 else 's'}"
        for what, word in (("fill", "fill"), ("turn", "turn"), ("canister", "canister change"), ("bag", "bag change"))
        if (count := sum(row.what == what for row in rows))
    ]
    return f"{starts:%H:%M} to {ends:%H:%M}: {', '.join(counts) or 'nothing'}"


def _shifts(laid: _Day, height: float) -> Iterator[str]:
    for number, shift in enumerate(laid.day.shifts):
        low, high = max(laid.x(shift.starts), _LEFT), min(laid.x(shift.ends), _WIDTH - 10.0)
        if number % 2:
            yield element("rect", x=low, y=20.0, width=high - low, height=height - 24.0, fill=_INK, fill_opacity=0.05)
        name = "night" if shift.is_night else "shift"
        if high - low > 60.0:
            yield text_lines(
                (f"{name} {shift.starts:%H}–{shift.ends:%H}",), ((low + high) / 2.0, 10.0), _TEXT, fill=_INK
            )


def _hours(laid: _Day, height: float) -> Iterator[str]:
    """Give a line at each whole hour of the wall clock, every second with its numeral; a repeated one says so."""
    at = laid.day.begins.replace(minute=0, second=0)
    while elapsed_min(at, laid.day.ends) >= 0:
        if elapsed_min(laid.day.begins, at) >= 0:
            x, is_second = laid.x(at), comes_twice(at) and at.fold == 1
            strong = at.hour % 2 == 0 or is_second
            top = 54.0 if is_second else 38.0
            yield element(
                "path", d=f"M{x:.1f} {top:g}V{height - 4.0:g}", stroke=_INK, stroke_opacity=0.35 if strong else 0.15
            )
            if strong:
                yield text_lines((f"{at:%H}",), (x, 29.0), _TEXT, fill=_INK)
            if is_second:
                yield text_lines(("again",), (x, 45.0), _SMALL, fill=_INK)
        at = later(at, 60)


def _lane(laid: _Day, name: str, top: float) -> Iterator[str]:
    middle = top + _LANE / 2.0
    yield text_lines((f"Unit {name}",), (_LEFT - 10.0, middle), _TEXT, fill=_INK, font_weight="bold", text_anchor="end")
    yield element("path", d=f"M{_LEFT:g} {middle:g}H{_WIDTH - 10.0:g}", stroke=_INK, stroke_width=1.0)
    rows = [row for shift in laid.day.shifts for row in shift.rows if row.unit == name]
    for start, end in _soaks(rows):
        x = laid.x(start)
        yield element("rect", x=x, y=middle - 9.0, width=max(laid.x(end) - x, 3.0), height=18.0, fill=_INK)
    changes = [row for row in rows if row.what in _SIGNS]
    placed = _levels([(laid.x(row.at) - _SIGN, f"__{row.what}") for row in changes], 2)
    for row, level in zip(changes, placed, strict=True):
        if level is not None:
            yield from _change(laid.x(row.at), middle + (-19.0, 19.0)[level], row.what)


def _soaks(rows: Sequence[Row]) -> Iterator[tuple[datetime, datetime]]:
    """Give each soak from its fill to the suction that follows; one that ends after the day has no end here."""
    started: datetime | None = None
    for row in rows:
        if row.what == "fill":
            started = row.at
        elif row.what == "suction" and started is not None:
            yield started, row.at
            started = None
    if started is not None:
        yield started, started + timedelta(minutes=1)


def _change(x: float, y: float, what: str) -> Iterator[str]:
    """Give the sign of a change: a hollow square for the canister, a ring for the bag, each with its word."""
    look = {"fill": "none", "stroke": _INK, "stroke_width": 2.0}
    if what == "canister":
        yield element("rect", x=x - _SIGN / 2.0, y=y - _SIGN / 2.0, width=_SIGN, height=_SIGN, **look)
    else:
        yield element("circle", cx=x, cy=y, r=_SIGN / 2.0, **look)
    yield _label(what, x + _SIGN, y)


def _turns(laid: _Day, top: float) -> Iterator[str]:
    middle = top + _LANE / 2.0
    yield text_lines(("Lying",), (_LEFT - 10.0, middle), _TEXT, fill=_INK, font_weight="bold", text_anchor="end")
    turns = [row for shift in laid.day.shifts for row in shift.rows if row.what == "turn"]
    named = [_beside(laid.x(row.at), row.says.removeprefix("turn: ").split(" (")[0]) for row in turns]
    for row, (x, posture), level in zip(turns, named, _levels(named, len(_LEVELS)), strict=True):
        yield element("path", d=f"M{laid.x(row.at):.1f} {middle - 24.0:g}v48", stroke=_INK, stroke_width=2.0)
        if level is not None:
            yield _label(posture, x, middle + _LEVELS[level])
    if not turns:
        yield text_lines(("no turns told",), (_LEFT + 6.0, middle), _TEXT, fill=_INK, text_anchor="start")


def _beside(x: float, said: str) -> tuple[float, str]:
    """Return a label right of a line, or left of it where it would run out of the picture."""
    wide = _wide(said)
    return (x + 4.0 if x + 4.0 + wide <= _WIDTH else x - 4.0 - wide), said


def _wide(said: str) -> float:
    return len(said) * _SMALL * _LETTER_SHARE


def _levels(labels: Sequence[tuple[float, str]], count: int) -> list[int | None]:
    """Return on which of so many levels each label, from its left edge on, stands free of the others; None: on none."""
    ends = [0.0] * count
    found: list[int | None] = []
    for x, said in labels:
        level = next((k for k, end in enumerate(ends) if end <= x), None)
        if level is not None:
            ends[level] = x + _wide(said) + _GAP
        found.append(level)
    return found


def _label(said: str, x: float, y: float) -> str:
    return text_lines((said,), (x, y), _SMALL, fill=_INK, text_anchor="start")


def say_row(row: Row) -> str:
    """Write one row of the clock table with its time and unit."""
    unit = f"unit {row.unit}: " if row.unit else ""
    return f"{say_hour(row.at)} {unit}{row.says}"
