"""The pages of questions: gate, order, dressing, patient; what is typed goes into the case file key by key."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from types import MappingProxyType
from typing import Annotated, Any, cast

from fastapi import APIRouter, Query, Request
from fastapi.responses import RedirectResponse, Response
from starlette.exceptions import HTTPException

from soakline.casefile.case import Case
from soakline.casefile.read import read_case
from soakline.casefile.write import Value, write_case
from soakline.errors import Finding, InputRefused, StaleRecord
from soakline.faces.web.asked import Form, answers_of, kept_case, needs, version_read
from soakline.faces.web.described import LED_ON, takes
from soakline.faces.web.entering import take_in
from soakline.faces.web.fields import number_of, time_of
from soakline.faces.web.pages import file_page
from soakline.faces.web.render import page
from soakline.record.acting import Deed
from soakline.record.cases import KeptCase, NewCase, list_versions, save_case
from soakline.settings import Settings
from soakline.units import Range
from soakline.workflows.questions import (
    ENDS,
    Group,
    Part,
    Question,
    Takes,
    ask_dressing,
    ask_gate,
    ask_order,
    ask_patient,
    settle_dressing,
    settle_gate,
)

form_pages = APIRouter()

_CONFIRM = "confirm."
# How a finding about the case file speaks to somebody who sees fields.
_AT_FIELDS = {
    "its unit is in the key": "its unit stands at the field",
    "in the unit that the key names": "in the unit that stands at the field",
    "leave the key out": "leave the field empty",
    "answer under [patient]": "answer below",
}
_Typed = dict[str, str]
_Changes = dict[str, Value]


@dataclass(frozen=True, slots=True)
class Subject:
    """One page of questions: its address, what it is called, who may save it, what it asks, what it does not take."""

    address: str
    title: str
    lead: str
    deed: Deed
    parts: Callable[[Case, Settings], tuple[Part, ...]]
    settle: Callable[[Case, _Changes], _Changes] = lambda _, changes: changes


SUBJECTS = (
    Subject(
        "gate",
        "Gate",
        "Yes is always the concern. Not known says that somebody looked or asked and it is not known, not answered "
        "that nobody did. Neither is a no.",
        "plan",
        lambda case, settings: ask_gate(case, settings.site_asks),
        settle_gate,
    ),
    Subject("order", "Order", "What was ordered and what runs.", "plan", lambda case, _: ask_order(case)),
    Subject(
        "dressing",
        "Dressing laid",
        "The first dressing, in theatre or at the bedside. Later ones are counted in at the change of dressing.",
        "run",
        lambda case, _: ask_dressing(case),
        settle_dressing,
    ),
    Subject(
        "patient",
        "Patient",
        "What the ceiling of a local anaesthetic waits for, and its doses. Never a name.",
        "plan",
        lambda case, _: ask_patient(case),
    ),
)


def _add(subject: Subject) -> None:
    """Add the two ways of one page: show it, and save what was typed."""

    def show(request: Request, case_id: int, saved: Annotated[int, Query(ge=0, le=1)] = 0) -> Response:
        kept = kept_case(request, case_id)
        return _show(request, kept, subject, kept.text, {}, saved=bool(saved))

    def save(request: Request, case_id: int, form: Form) -> Response:
        typed = {key: str(value).strip() for key, value in form.items() if key not in {"token", "version"}}
        return _save(request, kept_case(request, case_id), subject, version_read(form), typed)

    address, name = f"/cases/{{case_id}}/{subject.address}", subject.title.lower()
    form_pages.add_api_route(address, show, methods=["GET"], name=f"{name} page")
    form_pages.add_api_route(
        address,
        save,
        methods=["POST"],
        name=f"save {name}",
        openapi_extra=takes("version", others=True),
        dependencies=[needs(subject.deed)],
        **LED_ON,
    )


for _subject in SUBJECTS:
    _add(_subject)


def _save(request: Request, kept: KeptCase, subject: Subject, version: int, typed: _Typed) -> Response:
    """Write what differs from the version that was read; the same sent twice is saved once."""
    versions = list_versions(request.app.state.record, kept.id)
    if not 0 < version <= len(versions):
        raise HTTPException(400)
    text = versions[version - 1]
    case = read_case(text).case
    if case is None:
        raise HTTPException(409)
    parts = subject.parts(case, request.app.state.settings)
    named: dict[str, str] = {}
    try:
        changes = subject.settle(case, _fill(parts, text, typed, named))
        changes |= _confirmed(case, changes, _ticked(request, text, parts, typed))
        mine = write_case(text, changes)
    except InputRefused as refused:
        return _show(request, kept, subject, text, typed, refused.findings, named, version)
    if not changes or mine in versions[version:]:
        return _saved(kept, subject)
    new = take_in(mine, answers_of(request))
    if not isinstance(new, NewCase):
        against = tuple(found for found in new if found.level == "refuse")
        return _show(request, kept, subject, text, typed, against, named, version)
    try:
        save_case(request.app.state.record, kept.id, new, version, datetime.now(UTC))
    except StaleRecord as stale:
        return file_page(request, kept_case(request, kept.id), mine, stale=str(stale), status=409)
    return _saved(kept, subject)


def _saved(kept: KeptCase, subject: Subject) -> Response:
    return RedirectResponse(f"/cases/{kept.id}/{subject.address}?saved=1", status_code=303)


def _show(
    request: Request,
    kept: KeptCase,
    subject: Subject,
    text: str,
    typed: _Typed,
    findings: Sequence[Finding] = (),
    named: Mapping[str, str] = MappingProxyType({}),
    version: int | None = None,
    *,
    saved: bool = False,
) -> Response:
    said = answers_of(request).at_a_glance(text)
    case = said.case
    if case is None:
        return page(request, "form.html", 409, kept=kept, subject=subject, case=None)
    parts = subject.parts(case, request.app.state.settings)
    filed = _filed(parts, tomllib.loads(text))
    value = filed | typed
    findings = [_at_fields(found, parts) for found in findings]
    wrong = {name: found.says for name, found in _by_field(findings, filed, named)}
    asked = {question.key.split(".")[0] for question in _questions(parts)}
    graver = [one for one in said.findings if one.level in {"ask", "warn"} and one.where.split(".")[0] in asked]
    found = [_at_fields(one, parts) for one in graver]
    beside = dict(_by_field(found, filed, {}))
    return page(
        request,
        "form.html",
        422 if findings else 200,
        kept=kept,
        subject=subject,
        case=case,
        parts=parts,
        value=value,
        findings=findings,
        wrong=wrong,
        beside=beside,
        above=[one for one in found if one not in beside.values()],
        opened={group.name for part in parts for group in part.groups if _is_open(group, value, wrong)},
        read_version=kept.version_id if version is None else version,
        saved=saved,
    )


def _at_fields(found: Finding, parts: Sequence[Part]) -> Finding:
    """Return a finding that names fields by their labels, where it names keys of the case file."""
    says = found.says
    for file_words, words in _AT_FIELDS.items():
        says = says.replace(file_words, words)
    for question in _questions(parts):
        key = question.key.rpartition(".")[2]
        # One word alone may be meant as a word.
        if "_" in key:
            says = re.sub(rf"\b{key}\b", f"“{question.says}”", says)
    return replace(found, says=says)


def _is_open(group: Group, value: _Typed, wrong: Mapping[str, str]) -> bool:
    """Say whether a folded group is needed at once: something stands in it, or a stop is yes and nobody answers."""
    is_begun = any(value[name] or name in wrong for question in group.questions for name in question.names)
    return is_begun or (value.get(f"gate.{group.fixed.get('stop')}") == "yes" and not group.told)


def _filed(parts: Sequence[Part], file: Mapping[str, Any]) -> _Typed:
    """Return what the case file holds of each question, as its fields show it."""
    filed: _Typed = {}
    for question in _questions(parts):
        held = None if question.is_of_another else _held(file, question.key)
        if question.takes == "range":
            ends = cast("dict[str, object]", held) if isinstance(held, dict) else {"likely": held}
            filed |= {f"{question.key}.{end}": _as_typed(ends.get(end)) for end in ENDS}
        else:
            filed[question.key] = _as_typed(held) or (question.among[0] if question.among else "")
    return filed


def _questions(parts: Sequence[Part]) -> Iterator[Question]:
    for part in parts:
        for group in part.groups:
            yield from group.questions


def _held(file: Mapping[str, Any], key: str) -> Any:  # noqa: ANN401 - whatever the file holds there
    held: Any = file
    for part in key.split("."):
        if isinstance(held, list):
            entries = cast("list[Any]", held)
            held = entries[int(part)] if part.isdecimal() and int(part) < len(entries) else None
        else:
            held = cast("dict[str, Any]", held).get(part) if isinstance(held, dict) else None
    return held


def _as_typed(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        return value.strftime("%Y-%m-%dT%H:%M")
    if isinstance(value, list):
        return ", ".join(str(one) for one in cast("list[object]", value))
    return str(value)


def _fill(parts: Sequence[Part], text: str, typed: _Typed, named: dict[str, str]) -> _Changes:
    """Return what is typed other than filed; raises InputRefused for what cannot be read, each at its field.

    ``named`` is given, for each entry that is added to a list, the name that its fields have in the form.
    """
    file = tomllib.loads(text)
    filed = _filed(parts, file)
    typed = filed | {name: words for name, words in typed.items() if name in filed}
    changes: _Changes = {}
    refused: list[Finding] = []
    for group in (group for part in parts for group in part.groups):
        differs = [q for q in group.questions if any(typed[name] != filed[name] for name in q.names)]
        if not differs:
            continue
        place = _next_place(file, group, named)
        if group.adds_to:
            named[place] = group.name
            changes |= {f"{place}.{key}": value for key, value in group.fixed.items()}
        for question in group.questions if group.adds_to else differs:
            try:
                value = _value(question, typed)
            except InputRefused as against:
                refused += against.findings
                continue
            if value is not None or not group.adds_to:
                changes[f"{place}{question.key.removeprefix(group.name)}"] = value
    if refused:
        raise InputRefused(refused)
    return changes


def _next_place(file: Mapping[str, Any], group: Group, named: Mapping[str, str]) -> str:
    """Return where in the file a group's entry goes: behind those that are there, and those of this form before it."""
    if not group.adds_to:
        return ""
    held = _held(file, group.adds_to)
    count = len(cast("list[Any]", held)) if isinstance(held, list) else 0
    return f"{group.adds_to}.{count + sum(place.startswith(f'{group.adds_to}.') for place in named)}"


def _value(question: Question, typed: _Typed) -> Value:
    words = typed[question.names[0]]
    readers: dict[Takes, Callable[[], Value]] = {
        "range": lambda: _range(question, typed),
        "number": lambda: _number(words),
        "time": lambda: time_of(typed, question.key),
        "day": lambda: _day(question.key, words),
        "yes or no": lambda: {"yes": True, "no": False}.get(words, words or None),
        "list": lambda: [one for part in words.split(",") if (one := part.strip())] or None,
    }
    return readers.get(question.takes, lambda: words or None)()


def _range(question: Question, typed: _Typed) -> Value:
    """Return a range, its likely end alone, or what was typed where it is none: the case file then says why."""
    ends = [_number(typed[name]) for name in question.names]
    if ends[0] is None and ends[2] is None:
        return ends[1]
    numbers = [end for end in ends if isinstance(end, int | float)]
    if len(numbers) == len(ends) and numbers == sorted(numbers):
        return Range(*numbers)
    return {end: value for end, value in zip(ENDS, ends, strict=True) if value is not None}


def _number(words: str) -> float | int | str | None:
    value = number_of(words.replace("−", "-"))
    return int(value) if isinstance(value, float) and value.is_integer() else value


def _day(key: str, words: str) -> date | None:
    try:
        return date.fromisoformat(words) if words else None
    except ValueError as error:
        says = f'"{words}" is no day; write it as 2026-11-19'
        raise InputRefused([Finding("refuse", key, says)]) from error


def _ticked(request: Request, text: str, parts: Sequence[Part], typed: _Typed) -> set[str]:
    """Return the keys of questions of this page that are ticked as being so."""
    filed = _filed(parts, {})
    asked = (found.where for found in answers_of(request).at_a_glance(text).findings if found.level == "ask")
    return {where for where in asked if typed.get(f"{_CONFIRM}{where}") == "yes" and _field_of(where, filed, {})}


def _confirmed(case: Case, changes: _Changes, ticked: set[str]) -> _Changes:
    """Return the keys that are confirmed, where a tick adds one; what was answered of a key that changes falls."""

    def stands(key: str) -> bool:
        return not any(f"{key}.".startswith(f"{changed}.") for changed in changes)

    new = {key for key in ticked - case.confirmed if stands(key)}
    return {"confirmed": sorted({key for key in case.confirmed | new if stands(key)})} if new else {}


def _by_field(
    findings: Sequence[Finding], filed: Mapping[str, str], named: Mapping[str, str]
) -> Iterator[tuple[str, Finding]]:
    """Yield what stands at each field, the first of each; what belongs to no field is told above them alone."""
    told: set[str] = set()
    for found in findings:
        name = _field_of(found.where, filed, named)
        if name and name not in told:
            told.add(name)
            yield name, found


def _field_of(where: str, filed: Mapping[str, str], named: Mapping[str, str]) -> str | None:
    for place, name in named.items():
        if where == place or where.startswith(f"{place}."):
            where = name + where.removeprefix(place)
    parts = where.split(".")
    for count in range(len(parts), 1, -1):
        if (above := ".".join(parts[:count])) in filed:
            return above
    return next((name for name in filed if name.startswith(f"{where}.")), None) if len(parts) > 1 else None
