"""Text to tables: what is no case file at all is refused here, with line and column in plain words."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable
from typing import Any

from soakline.errors import Finding

BYTES_MOST = 1_000_000
_KEY_PARTS_MOST = 20
_LEVELS_MOST = 12
_TOO_DEEP = Finding("refuse", "", "sections or brackets stand inside each other too many times; no key needs that")
# What is no key: comments and quoted words. One without its closing quote counts to its end, so that each character is
# looked at once.
_QUOTED = re.compile(
    r"""\#[^\n]*
    | \"{3}(?:[^"\\]|\\[\s\S]|"(?!""))*+(?:"{3})?
    | '{3}(?:[^']|'(?!''))*+(?:'{3})?
    | "(?:[^"\\\n]|\\.)*+"?
    | '[^'\n]*+'?""",
    re.VERBOSE,
)
# The reader of the standard library takes time that grows with the square of a key's parts.
_LONG_KEY = re.compile(rf"(?<![A-Za-z0-9_-])(?:[A-Za-z0-9_-]+[ \t]*\.[ \t]*){{{_KEY_PARTS_MOST},}}")
_PLACE = re.compile(r"\(at line (\d+), column (\d+)\)")
_DECIMAL_COMMA = re.compile(r"[=\[,{]\s*[+-]?\d+,\d+\s*(?:#.*|[,}\]].*)?$")
_BARE_WORD = re.compile(r"=\s*(?!true|false|inf|nan)[A-Za-z]")


def decoded(given: str | bytes) -> str | Finding:
    """Return the text, or the finding that refuses a file too large or not written as UTF-8."""
    size = len(given) if isinstance(given, bytes) else len(given.encode("utf-8", "surrogatepass"))
    if size > BYTES_MOST:
        return Finding(
            "refuse", "", f"the file holds {size:,} bytes; at most {BYTES_MOST:,} are read: is it a case file?"
        )
    try:
        return given.decode("utf-8") if isinstance(given, bytes) else given.encode("utf-8").decode("utf-8")
    except UnicodeError as error:
        return Finding("refuse", "", _not_utf8(given, error))


def tables(text: str) -> dict[str, Any] | Finding:
    """Return the file's tables, or the finding that refuses text that is not TOML."""
    # A mark that some editors put before the first character.
    text = text.removeprefix("\ufeff")
    unquoted = _QUOTED.sub(_as_one_letter, text)
    if match := _LONG_KEY.search(unquoted):
        line = unquoted.count("\n", 0, match.start()) + 1
        return Finding("refuse", "", f"line {line}: a key of more than {_KEY_PARTS_MOST} parts; no key has that many")
    try:
        data = tomllib.loads(text)
    except RecursionError:
        return _TOO_DEEP
    except ValueError as error:
        return Finding("refuse", "", _not_toml(text, str(error)))
    return _TOO_DEEP if _is_deep(data) else data


def _is_deep(data: dict[str, Any]) -> bool:
    level: list[Any] = [data]
    for _ in range(_LEVELS_MOST):
        level = [part for held in level for part in _parts(held) if isinstance(part, (dict, list))]
    return bool(level)


def _parts(held: dict[str, Any] | list[Any]) -> Iterable[Any]:
    return held.values() if isinstance(held, dict) else held


def _as_one_letter(quoted: re.Match[str]) -> str:
    return "q" + "\n" * quoted[0].count("\n")


def _not_utf8(given: str | bytes, error: UnicodeError) -> str:
    before = given[: getattr(error, "start", 0)]
    line = (before.count(b"\n") if isinstance(before, bytes) else before.count("\n")) + 1
    return f"line {line}: a character that is not UTF-8; save the file as UTF-8 text"


def _not_toml(text: str, reason: str) -> str:
    lines = text.split("\n")
    if match := _PLACE.search(reason):
        line, column = int(match[1]), int(match[2])
    else:
        line, column = len(lines), len(lines[-1]) + 1
    written = lines[line - 1].strip() if line <= len(lines) else ""
    shown = f": {written[:80]}" if written else ""
    return f"line {line}, column {column}: cannot be read{shown} — {_likely_cause(written, reason)}"


def _likely_cause(written: str, reason: str) -> str:
    if _DECIMAL_COMMA.search(written):
        return "a decimal comma? Write the number with a point, such as 2.5"
    if "Cannot overwrite" in reason or "Cannot declare" in reason or "twice" in reason:
        return "the same key or section stands twice; keep one"
    if "digits" in reason:
        return "a number with too many digits"
    if _BARE_WORD.search(written):
        return "words need quotes around them"
    return "write key = value, words in quotes, sections in [ ], one to a line"
