"""Measures taken at the bedside, written over a case: only what changed, entry by entry, and nothing else."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

from soakline.casefile.case import Case
from soakline.casefile.write import Value
from soakline.units import Measured
from soakline.wound.dial import DialHour, is_same, none_found_of, ranges_of, read_dial
from soakline.wound.measurements import KeepClear, Tunnel, Undermining, Wound

_Keys = dict[str, Value]
_Entry = TypeVar("_Entry", Undermining, Tunnel, KeepClear)


@dataclass(frozen=True, slots=True)
class BedsideMeasures:
    """What is measured at the bedside, in cm: girth, opening, twelve hours (1 o'clock first), tunnels, structures."""

    girth_cm: float | None
    length_cm: Measured
    width_cm: Measured
    depth_cm: Measured
    hours: tuple[DialHour, ...]
    tunnel: tuple[Tunnel, ...]
    keep_clear: tuple[KeepClear, ...]


def measures_of(wound: Wound) -> BedsideMeasures:
    """Return the bedside measures that a wound holds."""
    opening = wound.opening
    return BedsideMeasures(
        wound.girth_cm,
        opening.length_cm,
        opening.width_cm,
        opening.depth_cm,
        read_dial(wound).hours,
        wound.tunnel,
        wound.keep_clear,
    )


def say_held(wound: Wound) -> tuple[str, ...]:
    """Say in words what the case file holds that the dial cannot show, and that stays as it is written."""
    return tuple(_held(wound))


def changes_of(case: Case, wound: Wound, new: BedsideMeasures) -> dict[str, Value]:
    """Return the dotted keys of a case file that new measures change, each with its new value.

    What a person confirmed of an entry that goes, or that moves up because another goes, is taken back.
    """
    dial = read_dial(wound)
    new = replace(new, hours=tuple(map(_unless_kept, dial.hours, new.hours)))
    changes = dict(_size_changes(wound, new))
    held = {one.index for one in dial.held}
    shown = [(i, entry) for i, entry in enumerate(wound.undermining) if i not in held]
    rows = [
        *_list_changes("wound.undermining", len(wound.undermining), shown, _ranges(wound, new), is_same, _undermining),
        *_list_changes("wound.tunnel", len(wound.tunnel), [*enumerate(wound.tunnel)], new.tunnel, _equal, _tunnel),
        *_list_changes(
            "wound.keep_clear",
            len(wound.keep_clear),
            [*enumerate(wound.keep_clear)],
            new.keep_clear,
            _equal,
            _structure,
        ),
    ]
    none_found = none_found_of(new.hours, dial, wound.none_found)
    if sorted(none_found) != sorted(wound.none_found):
        changes["wound.probed.none_found"] = [_neat(hour) for hour in sorted(none_found)]
    # Entries go last, the last of a list first, so that the others keep their places until then.
    gone = sorted((key for key, value in rows if value is None and key.rpartition(".")[2].isdecimal()), key=_place)
    changes |= {key: value for key, value in rows if key not in gone}
    changes |= dict.fromkeys(reversed(gone))
    return changes | _confirmed(case, changes, gone)


def _unless_kept(was: DialHour, now: DialHour) -> DialHour:
    return was if was.found == "kept as written" else now


def _ranges(wound: Wound, new: BedsideMeasures) -> Sequence[Undermining]:
    return () if wound.pocket is not None else ranges_of(new.hours)


def _size_changes(wound: Wound, new: BedsideMeasures) -> Iterator[tuple[str, Value]]:
    if new.girth_cm != wound.girth_cm:
        yield "wound.girth_cm", _neat(new.girth_cm)
    opening = wound.opening
    sizes = (("depth_cm", opening.depth_cm, new.depth_cm),)
    if opening.outline_cm is None:
        sizes = (
            ("length_cm", opening.length_cm, new.length_cm),
            ("width_cm", opening.width_cm, new.width_cm),
            *sizes,
        )
    for key, old, now in sizes:
        if old != now:
            yield f"wound.opening.{key}", _neat(now)


def _list_changes(
    key: str,
    count: int,
    old: Sequence[tuple[int, _Entry]],
    new: Sequence[_Entry],
    same: Callable[[_Entry, _Entry], bool],
    keys_of: Callable[[_Entry], _Keys],
) -> Iterator[tuple[str, Value]]:
    left = list(old)
    fresh: list[_Entry] = []
    for entry in new:
        match = next((one for one in left if same(one[1], entry)), None)
        if match is None:
            fresh.append(entry)
        else:
            left.remove(match)
    for (index, before), entry in zip(left, fresh, strict=False):
        was, now = keys_of(before), keys_of(entry)
        names = [name for name in {**was, **now} if was.get(name) != now.get(name)]
        yield from ((f"{key}.{index}.{name}", now.get(name)) for name in names)
    for place, entry in enumerate(fresh[len(left) :], start=count):
        yield from ((f"{key}.{place}.{name}", value) for name, value in keys_of(entry).items())
    yield from ((f"{key}.{index}", None) for index, _ in left[len(fresh) :])


def _confirmed(case: Case, changes: Mapping[str, Value], gone: Sequence[str]) -> _Keys:
    if not gone or not case.confirmed:
        return {}
    firsts: dict[str, int] = {}
    for key in gone:
        firsts.setdefault(key.rpartition(".")[0], int(key.rpartition(".")[2]))
    stay = [
        key
        for key in sorted(case.confirmed)
        if not any(f"{key}.".startswith(f"{changed}.") for changed in changes)
        and not any(_moves(key, holder, first) for holder, first in firsts.items())
    ]
    return {"confirmed": stay}


def _moves(key: str, holder: str, first: int) -> bool:
    if not key.startswith(f"{holder}."):
        return False
    place = key.removeprefix(f"{holder}.").split(".")[0]
    return place.isdecimal() and int(place) >= first


def _place(key: str) -> tuple[str, int]:
    holder, _, place = key.rpartition(".")
    return holder, int(place)


def _held(wound: Wound) -> Iterator[str]:
    if wound.opening.outline_cm is not None:
        yield "the opening's traced edge: length and width are not asked"
    if wound.pocket is not None:
        yield "a pocket marked on the skin: its edge stands for every hour"
    for held in read_dial(wound).held:
        yield f"undermining {held.says}"
    halves = [hour for hour in wound.none_found if hour != int(hour)]
    if halves:
        yield f"none found at half hours: {', '.join(f'{hour:g}' for hour in halves)}"
    if wound.opening.bed == "bowl":
        yield "the bed as a bowl"


def _undermining(entry: Undermining) -> _Keys:
    hours = {"from": entry.from_clock, "to": entry.to_clock} if entry.clock is None else {"clock": entry.clock}
    ends = None if entry.ends == "full" else entry.ends
    basis = None if entry.basis == "measured" else entry.basis
    return _given({**hours, "reach_cm": entry.reach_cm, "height_cm": entry.height_cm, "ends": ends, "basis": basis})


def _tunnel(tunnel: Tunnel) -> _Keys:
    return _given(
        {
            "clock": tunnel.clock,
            "length_cm": tunnel.length_cm,
            "diameter_cm": tunnel.diameter_cm,
            "down_deg": tunnel.down_deg,
            "end_felt": tunnel.end_felt,
        }
    )


def _structure(thing: KeepClear) -> _Keys:
    keys: _Keys = {"what": thing.what, "clock": thing.clock, "from_edge_cm": thing.from_edge_cm}
    return _given({**keys, "radius_cm": thing.radius_cm})


def _given(keys: Mapping[str, Value]) -> _Keys:
    return {name: _neat(value) for name, value in keys.items() if value is not None}


def _neat(value: Value) -> Value:
    return int(value) if isinstance(value, float) and value.is_integer() else value


def _equal(one: object, other: object) -> bool:
    return one == other
