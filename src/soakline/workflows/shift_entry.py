"""A look at the units as it was written down: which entries it adds to the log, and what it may not leave out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import combinations
from typing import Literal

from soakline.casefile.case import Case
from soakline.casefile.write import Value
from soakline.errors import Finding, InputRefused
from soakline.therapy.clock import doubt_of

Sign = Literal["none", "blood", "bowel", "gas"]
SIGNS: dict[Sign, str] = {
    "none": "none of these",
    "blood": "bright red blood",
    "bowel": "green, brown or stool-like",
    "gas": "new gas",
}
"""What is asked before any number, and how it is said."""

Entry = dict[str, Value]
# What a correction may change of an entry, in the order in which it is told.
_CORRECTED = ("at", "ml", "colour")


@dataclass(frozen=True, slots=True)
class OfUnit:
    """What was seen of one unit: numbers as they were typed, so that the case file says what is allowed of them.

    ``canister`` is the mark, ``is_changed`` that the canister was changed at that mark; ``paused_at`` and
    ``resumed_at`` are a time without suction that was not programmed.
    """

    name: str
    instilled: Value = None
    canister: Value = None
    is_changed: bool = False
    colour: str = ""
    is_bag_changed: bool = False
    has_leak: bool = False
    paused_at: datetime | None = None
    resumed_at: datetime | None = None
    says: str = ""


@dataclass(frozen=True, slots=True)
class Look:
    """One look: when (``again`` where the clocks give that time twice), the signs, each unit, anything else, who."""

    at: datetime | None
    sign: Sign | None
    units: tuple[OfUnit, ...]
    again: bool | None = None
    says: str = ""
    by_role: str = ""


def log_entries(case: Case, look: Look) -> list[Entry]:
    """Return what a look adds to the log.

    Raises InputRefused with all that is missing at once: the time, the signs, a colour beside a canister's mark.
    """
    refused = list(_missing(case, look))
    if refused or look.at is None:
        raise InputRefused(refused)
    entries = [_at(look, one) for one in (*_signs(look), *(e for unit in look.units for e in _of_unit(unit)))]
    if look.says:
        entries.append(_at(look, {"kind": "note", "says": look.says}))
    if not entries:
        says = "nothing was written: give a reading, a colour or a note; what was seen as usual is a note too"
        raise InputRefused([Finding("refuse", "log", says)])
    return entries


def appended(case: Case, entries: Sequence[Entry]) -> dict[str, Value]:
    """Return the entries as changes to the case file, behind what the log holds; those it holds already are left out.

    A look that is sent twice, because the first answer was lost, is so written once, also where it was corrected since.
    """
    new = [entry for entry in entries if not _is_held(case, entry)]
    return {
        f"log.{len(case.log) + number}.{key}": value for number, entry in enumerate(new) for key, value in entry.items()
    }


def corrected(case: Case, number_index: int, keys: Mapping[str, Value], why: str, at: datetime) -> dict[str, Value]:
    """Return what corrects one entry: its new values, and a note that says what it was; the record keeps both.

    ``at`` is the local time of the correction. Raises InputRefused without a reason or where nothing changes.
    """
    entry = case.log[number_index]
    changed = {key: keys[key] for key in _CORRECTED if key in keys and keys[key] != getattr(entry, key)}
    if not why.strip():
        raise InputRefused([Finding("refuse", "why", "a correction has a reason: write why the entry was wrong")])
    if not changed:
        says = "nothing differs from what stands: there is nothing to keep"
        raise InputRefused([Finding("refuse", f"log.{number_index}", says)])
    note: Entry = {
        "at": at,
        "unit": entry.unit,
        "kind": "note",
        "says": f"{_say_was(entry.kind, entry.at, {key: getattr(entry, key) for key in changed})}{why.strip()}",
    }
    last = len(case.log)
    return {
        **{f"log.{number_index}.{key}": value for key, value in changed.items()},
        **{f"log.{last}.{key}": value for key, value in note.items() if value is not None},
    }


def _missing(case: Case, look: Look) -> Iterator[Finding]:
    if case.time_zone is None:
        says = "the case has no time zone, so no time of an entry is known: write time_zone in the case file first"
        yield Finding("refuse", "time_zone", says)
    if look.at is None:
        yield Finding("refuse", "at", "no time: write day and time of this look")
    elif case.time_zone and (doubt := doubt_of(look.at, case.time_zone, again=look.again)):
        yield Finding("refuse", "at", doubt)
    if look.sign is None:
        says = f"not answered: {', '.join(list(SIGNS.values())[1:])}, or none of these; look before any number"
        yield Finding("refuse", "sign", says)
    for unit in look.units:
        if unit.canister is not None and not unit.colour:
            says = 'a mark without a colour: write what the liquid looks like, or "not looked at"'
            yield Finding("refuse", f"unit.{unit.name}.colour", says)
        if unit.is_changed and unit.canister is None:
            says = "the canister was changed and its last mark is not written: read the old one"
            yield Finding("refuse", f"unit.{unit.name}.canister", says)
        if unit.resumed_at is not None and unit.paused_at is None:
            says = f"on again at {unit.resumed_at:%H:%M} and no time at which it went off: since when?"
            yield Finding("refuse", f"unit.{unit.name}.paused_at", says)


def _signs(look: Look) -> Iterator[Entry]:
    if look.sign == "blood":
        yield {"kind": "blood", "colour": SIGNS["blood"]}
    elif look.sign == "bowel":
        yield {"kind": "colour", "colour": SIGNS["bowel"]}
    elif look.sign == "gas":
        yield {"kind": "gas"}


def _of_unit(unit: OfUnit) -> Iterator[Entry]:
    of = {"unit": unit.name}
    if unit.instilled is not None:
        yield {**of, "kind": "instilled", "ml": unit.instilled}
    if unit.canister is not None:
        kind = "canister changed" if unit.is_changed else "canister"
        yield {**of, "kind": kind, "ml": unit.canister, "colour": unit.colour}
    elif unit.colour:
        yield {**of, "kind": "colour", "colour": unit.colour}
    if unit.is_bag_changed:
        yield {**of, "kind": "bag changed"}
    if unit.has_leak:
        yield {**of, "kind": "leak", "says": unit.says or None}
    if unit.paused_at is not None:
        yield {**of, "at": unit.paused_at, "kind": "pause", "until": unit.resumed_at, "says": unit.says or None}


def _at(look: Look, entry: Entry) -> Entry:
    whole: Entry = {"at": look.at, "again": look.again, **entry, "by_role": look.by_role or None}
    return {key: value for key, value in whole.items() if value is not None}


def _is_held(case: Case, entry: Entry) -> bool:
    """Say whether the log holds an entry, or a note that it was corrected."""
    keys = ("at", "unit", "kind", "ml", "colour", "until", "again", "says", "by_role")
    if any(all(getattr(held, key) == entry.get(key) for key in keys) for held in case.log):
        return True
    at = entry["at"]
    if not isinstance(at, datetime):
        return False
    # The note tells only what was changed: any of the keys that a correction takes.
    told = tuple(
        _say_was(str(entry["kind"]), at, {key: entry.get(key) for key in chosen})
        for count in range(1, len(_CORRECTED) + 1)
        for chosen in combinations(_CORRECTED, count)
    )
    return any(
        held.kind == "note" and held.unit == entry.get("unit") and (held.says or "").startswith(told)
        for held in case.log
    )


def _say_was(kind: str, at: datetime, was: Mapping[str, object]) -> str:
    values = ", ".join(f"{key} {_say(value)}" for key, value in was.items())
    return f"corrects {kind} of {at:%Y-%m-%d %H:%M}, which was {values}: "


def _say(value: object) -> str:
    if isinstance(value, datetime):
        return f"{value:%Y-%m-%d %H:%M}"
    return "not given" if value is None else f"{value:g}" if isinstance(value, float) else str(value)
