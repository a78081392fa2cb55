"""What was typed into fields, read: numbers and times."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from soakline.errors import Finding, InputRefused


def number_of(text: str) -> float | int | str | None:
    """Return a number, or the text as it is where it is none: the case file then says what is allowed.

    >>> number_of("430"), number_of("4.5"), number_of("4,5 mL"), number_of("")
    (430, 4.5, '4,5 mL', None)
    """
    if not text:
        return None
    try:
        return int(text) if text.isascii() and text.isdigit() else float(text)
    except ValueError:
        return text


def time_of(typed: Mapping[str, str], key: str) -> datetime | None:
    """Return the day and time of a field, None where it is empty; raises InputRefused for anything else."""
    text = typed.get(key, "")
    if not text:
        return None
    try:
        return datetime.fromisoformat(text).replace(tzinfo=None)
    except ValueError as error:
        says = f'"{text}" is no day and time; write it as 2026-11-23T09:05'
        raise InputRefused([Finding("refuse", key, says)]) from error
