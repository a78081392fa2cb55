"""What colour, gas and blood say: before any arithmetic."""

from __future__ import annotations

import re
from collections.abc import Sequence

from soakline.therapy.clock import say_day, say_hour
from soakline.therapy.logbook import Event

BLOOD = "bright red blood: stop the unit, press, do not pull out the foam, call"
BOWEL = "green, brown or stool-like: colour alone means stop and call the surgeon"
GAS = "new gas: stop and call the surgeon"

_SIGNS = (
    (re.compile(r"\b(bright|fresh|arterial)[ -]*(red|blood)|\bspurting\b", re.IGNORECASE), BLOOD),
    (re.compile(r"brown|green|stool|fa?ec|bile|bilious|bowel|effluent|enteric", re.IGNORECASE), BOWEL),
    (re.compile(r"\b(gas|bubbl\w*)\b", re.IGNORECASE), GAS),
)
_MAY_BE_BLOOD = re.compile(r"blood|\bred\b|haemorrhag|hemorrhag", re.IGNORECASE)
_UNSURE = "is it bright red, fresh blood? If it is: stop the unit, press, do not pull out the foam, call"


def signs_of(event: Event) -> tuple[str, ...]:
    """Return what an entry's colour, or an entry of gas or blood, means by itself; a "no" before the word is not read.

    >>> from datetime import datetime
    >>> from soakline.therapy.logbook import LogEntry
    >>> entry = LogEntry(datetime(2026, 11, 23, 7), "canister", "A", 650, "brown-green")
    >>> signs_of(Event(0, entry.at, "canister", "A", entry))
    ('green, brown or stool-like: colour alone means stop and call the surgeon',)
    """
    words = " ".join(filter(None, (event.entry.colour, event.entry.says if event.kind == "colour" else None)))
    found = [says for pattern, says in _SIGNS if pattern.search(words)]
    if event.kind == "gas":
        found.append(GAS)
    if event.kind == "blood" and BLOOD not in found:
        found.append(BLOOD)
    return tuple(dict.fromkeys(found))


def asks_about(event: Event) -> str | None:
    """Return what has to be asked about a colour that may be blood, or None."""
    words = event.entry.colour or ""
    if event.kind == "blood" or signs_of(event) or not _MAY_BE_BLOOD.search(words):
        return None
    return f'"{words}": {_UNSURE}'


def say_signs(events: Sequence[Event]) -> tuple[str, ...]:
    """Return each sign once, gravest first, with the entry that showed it first."""
    shown: dict[str, Event] = {}
    for event in events:
        for says in signs_of(event):
            shown.setdefault(says, event)
    grave = [BLOOD, BOWEL, GAS]
    return tuple(f"{says} ({_seen(shown[says])})" for says in sorted(shown, key=grave.index))


def _seen(event: Event) -> str:
    words = f'"{event.entry.colour}", ' if event.entry.colour else ""
    unit = f", unit {event.unit}" if event.unit else ""
    return f"{words}{say_hour(event.at)} on {say_day(event.at)}{unit}"
