"""A case file read: the case, or why it cannot be used, with everything there is to say about it at once."""

from __future__ import annotations

import copy
import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, cast

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from soakline.casefile.build import build
from soakline.casefile.case import Case
from soakline.casefile.complaints import complaint
from soakline.casefile.gaps import gaps
from soakline.casefile.kinds import show
from soakline.casefile.places import dotted, leave_out, put
from soakline.casefile.remainder import remainder
from soakline.casefile.schema import FORMAT, CaseIn
from soakline.casefile.toml import decoded, tables
from soakline.errors import Finding
from soakline.wound.entry import with_answers

FINDINGS_MOST = 100
_NONE: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Reading:
    """What a case file gave; ``case`` is None when at least one finding refuses.

    ``rest`` is then what is left when all that was refused, ``refused_keys``, is taken out: to be checked, not planned.
    """

    case: Case | None
    findings: tuple[Finding, ...]
    rest: Case | None = None
    refused_keys: tuple[str, ...] = ()


def read_case(given: str | bytes) -> Reading:
    r"""Read a case file of at most 1 MB; never raises for what it holds, and never stops at the first finding.

    Measures against body and each other are ``wound.entry.check_wound``'s.

    >>> read_case('format = "soakline-case/1"\nlable = "Demo"').findings[0].says
    "lable is not a key of the file's top; did you mean label?"
    """
    text = decoded(given)
    if isinstance(text, Finding):
        return Reading(None, (text,))
    data = tables(text)
    if isinstance(data, Finding):
        return Reading(None, (data,))
    if isinstance(data.get("format"), str) and data["format"] != FORMAT:
        return Reading(
            None, (Finding("refuse", "format", f'"{data["format"][:40]}" given; this version reads "{FORMAT}"'),)
        )
    return _read_tables(data, hashlib.sha256(text.encode()).hexdigest())


def _read_tables(data: dict[str, Any], content_hash: str) -> Reading:
    confirmed = _confirmed(data)
    settled, errors, findings = _checked(data, confirmed)
    same_names = [*_same_names(data)]
    if errors:
        refused_keys = tuple(dotted(error["loc"]) for error in errors)
        return Reading(None, (*findings, *same_names), remainder(settled, errors), refused_keys)
    file = CaseIn.model_validate(settled)
    findings += [*same_names, *with_answers(gaps(file), confirmed)]
    case = build(file, content_hash)
    return Reading(None, tuple(findings), case) if same_names else Reading(case, tuple(findings))


def _checked(
    data: dict[str, Any], confirmed: frozenset[str]
) -> tuple[dict[str, Any], list[ErrorDetails], list[Finding]]:
    """Check keys and kinds; numbers written as words are asked about, settled in a copy, and the copy checked again."""
    errors = _errors(data)
    questions = [e for e in errors if e["type"] == "asked"]
    if questions:
        data = copy.deepcopy(data)
        findings = [_settle(data, question, confirmed) for question in questions]
        # A range taken out hides what else is wrong inside it: the first errors stand, the second add what misses now.
        first = [e for e in errors if e["type"] != "asked"]
        seen = {dotted(e["loc"]) for e in first}
        errors = first + [e for e in _errors(data) if dotted(e["loc"]) not in seen]
    else:
        findings = []
    open_keys = {dotted(q["loc"]) for q in questions}
    findings += [_refusal(e, open_keys) for e in errors[:FINDINGS_MOST]]
    if len(errors) > FINDINGS_MOST:
        findings.append(Finding("refuse", "", f"and {len(errors) - FINDINGS_MOST:,} more refusals; is it a case file?"))
    return data, errors, findings


def _errors(data: dict[str, Any]) -> list[ErrorDetails]:
    try:
        CaseIn.model_validate(data)
    except ValidationError as error:
        return error.errors(include_url=False)
    return []


def _settle(data: dict[str, Any], question: ErrorDetails, confirmed: frozenset[str]) -> Finding:
    """Put the number in place of its words when a person has confirmed it, else leave the key out; say which.

    A place in a list cannot be left out without moving the others: it stays as written, and is refused.
    """
    loc, key = question["loc"], dotted(question["loc"])
    context = question.get("ctx", {})
    may_be, says = context["may_be"], str(context["says"]).replace("{key}", key)
    if may_be is not None and key in confirmed:
        put(data, loc, may_be)
        return Finding("note", key, f"confirmed: {question['input']} is read as {may_be:g}")
    if not isinstance(loc[-1], int):
        leave_out(data, loc)
    if may_be is None and key in confirmed:
        says = f"confirming does not settle it: {says}"
    return Finding(context["level"], key, says)


def _refusal(error: ErrorDetails, open_keys: set[str]) -> Finding:
    key = dotted(error["loc"])
    if key in open_keys and error["type"] in {"asked", "missing"}:
        return Finding("refuse", key, "nothing can be shown without this number; confirm it, or write it with a point")
    return complaint(error)


def _confirmed(data: dict[str, Any]) -> frozenset[str]:
    given: object = data.get("confirmed")
    return frozenset(k for k in cast("list[object]", given) if isinstance(k, str)) if isinstance(given, list) else _NONE


def _same_names(data: dict[str, Any]) -> Iterator[Finding]:
    for section in ("port", "unit", "foam"):
        given: object = data.get(section)
        first: dict[str, int] = {}
        for i, item in enumerate(cast("list[object]", given) if isinstance(given, list) else []):
            name = cast("dict[str, object]", item).get("name") if isinstance(item, dict) else None
            if not isinstance(name, str):
                continue
            if name in first:
                says = f"{show(name)} is already the name of {section}.{first[name]}; give each its own name"
                yield Finding("refuse", f"{section}.{i}.name", says)
            first.setdefault(name, i)
