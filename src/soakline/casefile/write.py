"""A case file written back: chosen keys change, every comment and the order stay."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime
from itertools import pairwise
from typing import Any, cast

import tomlkit

from soakline.casefile.toml import tables
from soakline.errors import Finding, InputRefused
from soakline.units import Range

Value = str | bool | float | date | datetime | Range | Sequence["Value"] | Mapping[str, "Value"] | None
"""What a key may be given; None takes it out."""


def write_case(text: str, changes: Mapping[str, Value]) -> str:
    r"""Return the case file with each dotted key set to its new value; list positions count from 0, the next appends.

    A key that changes loses its place in ``confirmed``: what a person answered was about the old value. Raises
    InputRefused when the text is not TOML, or a dotted key leads nowhere. The result is not checked: read it.

    >>> write_case("[wound]\ngirth_cm = 96  # at the navel", {"wound.girth_cm": 104})
    '[wound]\ngirth_cm = 104  # at the navel'
    """
    read = tables(text)
    if isinstance(read, Finding):
        raise InputRefused([read])
    file = tomlkit.parse(text)
    for key, value in changes.items():
        _set(file, key, value)
    if "confirmed" not in changes:
        _take_back(file, changes)
    return tomlkit.dumps(file)


def _set(file: tomlkit.TOMLDocument, key: str, value: Value) -> None:
    path = key.split(".")
    last, holder = path[-1], cast("Any", file)
    for part, following in pairwise(path):
        holder = _step(holder, part, following, key)
    if isinstance(holder, list):
        _set_in_list(cast("list[Any]", holder), last, value, key)
    elif not isinstance(holder, dict):
        raise _nowhere(key)
    elif value is None:
        cast("dict[str, Any]", holder).pop(last, None)
    else:
        holder[last] = _plain(value)


def _step(holder: Any, part: str, following: str, key: str) -> Any:  # noqa: ANN401 - a table or a list
    if isinstance(holder, list):
        entries = cast("list[Any]", holder)
        if part == str(len(entries)):
            entries.append(tomlkit.table())
        if not part.isdecimal() or int(part) >= len(entries):
            raise _nowhere(key)
        return entries[int(part)]
    if not isinstance(holder, dict):
        raise _nowhere(key)
    if part not in holder:
        holder[part] = tomlkit.aot() if following.isdecimal() else tomlkit.table()
    return cast("dict[str, Any]", holder)[part]


def _set_in_list(entries: list[Any], last: str, value: Value, key: str) -> None:
    if not last.isdecimal() or int(last) > len(entries):
        raise _nowhere(key)
    place = int(last)
    if value is None:
        del entries[place : place + 1]
    elif place == len(entries):
        entries.append(_plain(value))
    else:
        entries[place] = _plain(value)


def _plain(value: Value) -> Any:  # noqa: ANN401 - whatever TOML writes it as
    if isinstance(value, Range):
        table = tomlkit.inline_table()
        table.update({"low": value.low, "likely": value.likely, "high": value.high})
        return table
    return value


def _take_back(file: tomlkit.TOMLDocument, changed: Iterable[str]) -> None:
    given: object = cast("dict[str, object]", file).get("confirmed")
    if not isinstance(given, list):
        return
    confirmed = cast("list[object]", given)
    for i in reversed(range(len(confirmed))):
        if any(f"{confirmed[i]}.".startswith(f"{key}.") for key in changed):
            del confirmed[i]


def _nowhere(key: str) -> InputRefused:
    return InputRefused(
        [Finding("refuse", key, "leads nowhere in this file; a list takes positions from 0 to its length")]
    )
