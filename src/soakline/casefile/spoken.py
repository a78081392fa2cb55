"""Numbers written as words: what they may mean is asked, never guessed."""

from __future__ import annotations

import re
from dataclasses import dataclass

_FRACTIONS = {"½": 0.5, "¼": 0.25, "¾": 0.75}
_PLAIN = re.compile(r"[+-]?\d{1,6}(?:\.\d{1,6})?")
_COMMA = re.compile(r"[+-]?\d{1,6},(?:\d{1,2}|\d{4,6})")
_THOUSANDS = re.compile(r"[+-]?\d{1,3},\d{3}")
_WITH_FRACTION = re.compile(r"(\d{0,3})\s*([½¼¾])")
_SLASH = re.compile(r"(?:(\d{1,3})\s+)?(\d)/(\d)")
_RANGE = re.compile(r"[\d.,½¼¾]+\s*(?:-|–|—|to)\s*[\d.,½¼¾]+")


@dataclass(frozen=True, slots=True)
class Spoken:
    """A text that stands where a number belongs: ``may_be`` is its one plain reading, None where nobody can tell.

    ``says`` tells what to do, with ``{key}`` for the dotted key.
    """

    may_be: float | None
    says: str


def listen(text: str) -> Spoken | None:
    """Return what a text may mean as a number, or None when it is no number at all.

    >>> listen("2,5").may_be, listen("2½").may_be, listen("1.5-2").may_be, listen("deep")
    (2.5, 2.5, None, None)
    """
    words = text.strip().replace("−", "-")
    if _RANGE.fullmatch(words):
        return Spoken(
            None, f"{text} is a range; write {{ low = …, likely = …, high = … }}: the likely value is asked for"
        )
    if _THOUSANDS.fullmatch(words):
        return Spoken(
            None, f"{text} can be read in two ways, as a decimal comma or as thousands; write it without a comma"
        )
    number = _one_number(words)
    if number is None:
        return None
    return Spoken(
        number, f'{text} may be read as {number:g}; confirm by adding "{{key}}" to confirmed, or write {number:g}'
    )


def _one_number(words: str) -> float | None:
    if _PLAIN.fullmatch(words) or _COMMA.fullmatch(words):
        return float(words.replace(",", "."))
    if match := _WITH_FRACTION.fullmatch(words):
        return float(match[1] or 0) + _FRACTIONS[match[2]]
    if (match := _SLASH.fullmatch(words)) and int(match[3]):
        return float(match[1] or 0) + int(match[2]) / int(match[3])
    return None
