"""Places in a case file: a path of keys and list positions, and its dotted name."""

from __future__ import annotations

from typing import Any

Loc = tuple[int | str, ...]


def dotted(loc: Loc) -> str:
    """Write a place in the file as a dotted key; list positions count from 0.

    >>> dotted(("wound", "undermining", 0, "height_cm", "#range", "low"))
    'wound.undermining.0.height_cm.low'
    """
    return ".".join(str(part) for part in path_of(loc))


def path_of(loc: Loc) -> Loc:
    """Return a place without the marks, beginning with "#", that tell a range from a plain number."""
    return tuple(part for part in loc if not str(part).startswith("#"))


def put(data: dict[str, Any], loc: Loc, value: float) -> None:
    """Write a number at a place that exists."""
    *above, last = path_of(loc)
    _holder(data, tuple(above))[last] = value


def leave_out(data: dict[str, Any], loc: Loc) -> None:
    """Take out the key at a place: of a range the whole range, since half of one says nothing; of a list all of it.

    A place that is gone already stays gone.
    """
    marks = [i for i, part in enumerate(loc) if part == "#range"]
    path = list(loc[: marks[0]] if marks else path_of(loc))
    while path and isinstance(path[-1], int):
        path.pop()
    if not path:
        return
    try:
        _holder(data, tuple(path[:-1])).pop(path[-1], None)
    except (KeyError, IndexError, TypeError, AttributeError):
        return


def _holder(data: dict[str, Any], path: Loc) -> Any:  # noqa: ANN401 - a table or a list, as the file has it
    holder: Any = data
    for part in path:
        holder = holder[part]
    return holder
