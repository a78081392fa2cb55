"""What changed between two case files: each key with what it said before and what it says now."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from typing import cast


@dataclass(frozen=True, slots=True)
class Difference:
    """One dotted key that changed; None is a key that was not there, or is not there any more."""

    key: str
    before: str | None
    after: str | None


def differences(before: str, after: str) -> tuple[Difference, ...]:
    r"""Return every key whose value changed, in the order of the newer file; comments and order do not count.

    >>> differences("[wound]\ngirth_cm = 96", "[wound]\ngirth_cm = 104")
    (Difference(key='wound.girth_cm', before='96', after='104'),)
    """
    old, new = dict(_leaves(_tables(before))), dict(_leaves(_tables(after)))
    keys = [*new, *(key for key in old if key not in new)]
    return tuple(Difference(key, old.get(key), new.get(key)) for key in keys if old.get(key) != new.get(key))


def _tables(text: str) -> dict[str, object]:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return {"text": text}


def _leaves(value: object, key: str = "") -> Iterator[tuple[str, str]]:
    if isinstance(value, dict):
        for name, inner in cast("dict[str, object]", value).items():
            yield from _leaves(inner, f"{key}.{name}" if key else name)
    elif isinstance(value, list) and _holds_tables(cast("list[object]", value)):
        for place, inner in enumerate(cast("list[object]", value)):
            yield from _leaves(inner, f"{key}.{place}")
    else:
        yield key, str(cast("object", value))


def _holds_tables(entries: list[object]) -> bool:
    return any(isinstance(entry, dict) for entry in entries)
