"""What the schema found, said as findings: dotted key, what was given, what is allowed, what to do."""

from __future__ import annotations

import difflib
from collections.abc import Iterator
from typing import Annotated, Any, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails

from soakline.casefile.kinds import show
from soakline.casefile.places import Loc, dotted, path_of
from soakline.casefile.schema import FORMAT, CaseIn
from soakline.errors import Finding

_HOMES_MOST = 5
_A_POINT = "a point is [x, y] in cm"


def complaint(error: ErrorDetails) -> Finding:
    """Return one schema error as a finding that refuses."""
    loc = error["loc"]
    context = error.get("ctx", {})
    says = {
        "extra_forbidden": lambda: _unknown_key(loc),
        "missing": lambda: _missing(loc),
        "too_long": lambda: f"{_count(context)} given; {_most(context['max_length'])}",
        "too_short": lambda: f"{_count(context)} given; {_A_POINT}",
        "list_type": lambda: _not_a_list(loc, error["input"]),
        "model_type": lambda: _not_a_section(loc, error["input"]),
        "dict_type": lambda: _not_a_section(loc, error["input"]),
        "literal_error": lambda: f'{show(error["input"])} given; this version reads "{FORMAT}"',
    }.get(error["type"], lambda: f"{error['msg']}{_strayed(loc)}")
    return Finding("refuse", dotted(loc), says())


def nearest(word: str, known: list[str]) -> str | None:
    """Return the known word most like the one given, or None when none is alike.

    >>> nearest("depht_cm", ["depth_cm", "width_cm"])
    'depth_cm'
    """
    return next(iter(difflib.get_close_matches(word[:60], known, n=1)), None)


def keys_of(section: type[BaseModel]) -> dict[str, FieldInfo]:
    """Return the keys of a section as they are written in the file."""
    return {field.alias or name: field for name, field in section.model_fields.items()}


def section_in(annotation: Any) -> type[BaseModel] | None:  # noqa: ANN401 - annotations have no common type
    """Return the section that a key holds, alone, in a list or beside a plain number; None for a plain value."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    inner = get_args(annotation)[:1] if get_origin(annotation) is Annotated else get_args(annotation)
    return next((found for part in inner if (found := section_in(part))), None)


def _unknown_key(loc: Loc) -> str:
    key, above = str(loc[-1]), loc[:-1]
    section = _section_at(above)
    where = dotted(above) or "the file's top"
    known = list(keys_of(section)) if section else []
    start = f"{key[:60]} is not a key of {where}"
    if homes := _homes(key):
        return f"{start}; it belongs in {' or '.join(homes[:_HOMES_MOST])}{_read_in(above)}"
    # A key whose unit was left out may stand for several: only who typed it knows which.
    units = [name for name in known if name.startswith(f"{key}_")]
    if len(units) > 1:
        return f"{start}; did you mean {' or '.join(units)}?"
    if near := nearest(key, known):
        return f"{start}; did you mean {near}?"
    return f"{start}; its keys are {', '.join(known)}"


def _read_in(above: Loc) -> str:
    return f". It was read in {_heading(above)}: a key belongs to the heading above it" if above else ""


def _strayed(loc: Loc) -> str:
    """Say where a key may have been meant that stands in a section which takes any key, such as the gate."""
    homes = [] if _field_at(loc) or not isinstance(loc[-1], str) else _homes(loc[-1])
    return f"; as a key it belongs in {' or '.join(homes[:_HOMES_MOST])}{_read_in(loc[:-1])}" if homes else ""


def _section_at(loc: Loc) -> type[BaseModel] | None:
    if not _names(loc):
        return CaseIn
    field = _field_at(loc)
    return section_in(field.annotation) if field else None


def _field_at(loc: Loc) -> FieldInfo | None:
    """Return the key at a place, whichever of a list; None for the file's top and what no section knows."""
    section: type[BaseModel] | None = CaseIn
    field = None
    for name in _names(loc):
        field = keys_of(section).get(name) if section else None
        section = section_in(field.annotation) if field else None
    return field


def _names(loc: Loc) -> list[str]:
    return [part for part in path_of(loc) if isinstance(part, str)]


def _homes(key: str) -> list[str]:
    """Say where a key belongs: under its own heading where it is a section, else in each section that knows it."""
    found: list[str] = []
    for name, section in sections():
        field = keys_of(section).get(key)
        if field is not None:
            inner = section_in(field.annotation)
            own = (key,) if inner and not _is_range(inner) else ()
            place = (*name.split("."), *own) if name else own
            found.append(_heading(place) or "the file's top, above the first heading")
    return found


def _heading(loc: Loc) -> str:
    """Write a section as its heading stands in the file, [[port]] where there may be several; "" is the file's top."""
    name, field = ".".join(_names(loc)), _field_at(loc)
    if field is not None and get_origin(field.annotation) is list:
        return f"[[{name}]]"
    return f"[{name}]" if name else ""


def sections() -> Iterator[tuple[str, type[BaseModel]]]:
    """Yield every section with its dotted name, the file itself first under an empty name."""
    yield from _below("", CaseIn)


def _below(name: str, section: type[BaseModel]) -> Iterator[tuple[str, type[BaseModel]]]:
    yield name, section
    for key, field in keys_of(section).items():
        inner = section_in(field.annotation)
        if inner and not _is_range(inner):
            yield from _below(f"{name}.{key}".lstrip("."), inner)


def _is_range(section: type[BaseModel]) -> bool:
    return "likely" in section.model_fields


def _missing(loc: Loc) -> str:
    section = _section_at(loc[:-1])
    field = keys_of(section).get(str(loc[-1])) if section else None
    if section and _is_range(section):
        return "missing; a range needs all three: { low = …, likely = …, high = … }"
    return f"missing; write it: {field.description}" if field and field.description else "missing; write it"


def _not_a_list(loc: Loc, given: object) -> str:
    if isinstance(given, dict):
        name = dotted(loc)
        return f"written as [{name}]; write [[{name}]], also when there is only one"
    if section := _section_at(loc):
        keys = keys_of(section)
        needed = [key for key, field in keys.items() if field.is_required()] or keys
        return f"{show(given)} given; write each one under its own heading {_heading(loc)}, with {', '.join(needed)}"
    return f"{show(given)} given; a list in [ ] belongs here"


def _not_a_section(loc: Loc, given: object) -> str:
    return f"{show(given)} given; a section with keys belongs here, under its heading {_heading(loc)}"


def _most(most_count: int) -> str:
    return _A_POINT if most_count == 2 else f"at most {most_count} are taken: split the file"


def _count(context: dict[str, Any]) -> str:
    return str(context.get("actual_length") or "more")
