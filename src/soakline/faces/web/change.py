"""The change of the dressing at the bedside: count out, wait, look and probe, count in; saved step by step."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import UTC, datetime
from typing import Annotated, cast, get_args
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Query, Request
from fastapi.responses import RedirectResponse, Response
from starlette.exceptions import HTTPException

from soakline.casefile.case import Case
from soakline.casefile.write import Value, write_case
from soakline.errors import Finding, InputRefused, StaleRecord
from soakline.faces.web.answers import Answered
from soakline.faces.web.asked import Form, answers_of, kept_case, needs, version_read
from soakline.faces.web.choice import map_scale
from soakline.faces.web.described import LED_ON, takes
from soakline.faces.web.entering import take_in
from soakline.faces.web.fields import number_of, time_of
from soakline.faces.web.pages import file_page
from soakline.faces.web.render import page
from soakline.guard.anaesthetic import parse_strength, say_strength
from soakline.guard.change import Looks, not_done, wait_ends
from soakline.guard.foam import PieceKind, history, label_text, reconcile
from soakline.pictures.wound_map import draw_map
from soakline.record.cases import KeptCase, NewCase, save_case
from soakline.workflows.change import (
    CountedIn,
    CountedOut,
    HowOut,
    Sheet,
    count_of_dressing,
    note_change,
    open_change,
    say_looks,
    to_count_out,
)

change_pages = APIRouter()

_NUMBERS = ("pain_before", "pain_during", "pain_after", "objects_count", "length_cm", "width_cm", "depth_cm")
_WORDS = ("looked", "probed")
# Of the dressing that comes off: what its label and the note say, and who settled a difference.
_COUNTS = ("label_count", "note_count", "resolved_by_role")
_HOURS = range(1, 13)
# As many lines for new pieces as one save takes; saving brings empty ones.
_ROWS = range(6)
_DAY_AND_TIME = "%Y-%m-%dT%H:%M"

_Typed = dict[str, str]


@change_pages.get("/cases/{case_id}/change")
def change_page(request: Request, case_id: int, saved: Annotated[int, Query(ge=0, le=1)] = 0) -> Response:
    """Show the change that is being written, or a new one."""
    kept = kept_case(request, case_id)
    return _show(request, kept, {}, saved=bool(saved))


@change_pages.post(
    "/cases/{case_id}/change",
    openapi_extra=takes("version", "number", others=True),
    dependencies=[needs("run")],
    **LED_ON,
)
def save_change(request: Request, case_id: int, form: Form) -> Response:
    """Save what was written; new pieces wait while foam is unresolved, and a save by somebody else shows both texts."""
    kept = kept_case(request, case_id)
    typed = {key: str(value).strip() for key, value in form.items() if key not in {"token", "version"}}
    case = answers_of(request).at_a_glance(kept.text).case
    if case is None:
        raise HTTPException(409)
    try:
        noted = note_change(case, _sheet(case, typed))
        text = write_case(kept.text, noted.changes)
    except InputRefused as refused:
        return _show(request, kept, typed, findings=refused.findings, status=422, version=version_read(form))
    new = take_in(text, answers_of(request))
    if not isinstance(new, NewCase):
        against = tuple(found for found in new if found.level == "refuse")
        return _show(request, kept, typed, findings=against, status=422, version=version_read(form))
    try:
        saved = save_case(request.app.state.record, kept.id, new, version_read(form), datetime.now(UTC))
    except StaleRecord as stale:
        return file_page(request, kept_case(request, kept.id), text, stale=str(stale), status=409)
    if noted.held_back:
        waiting = {key: value for key, value in typed.items() if key.startswith("in.")}
        return _show(request, saved, waiting, held_back=noted.held_back, status=409, saved=True)
    return RedirectResponse(f"/cases/{kept.id}/change?saved=1", status_code=303)


def _show(
    request: Request,
    kept: KeptCase,
    typed: _Typed,
    *,
    findings: tuple[Finding, ...] = (),
    held_back: str = "",
    status: int = 200,
    version: int | None = None,
    saved: bool = False,
) -> Response:
    said = answers_of(request).at_a_glance(kept.text)
    case = said.case
    if case is None:
        return page(request, "change.html", 409, kept=kept, case=None)
    number = _number(typed) if typed.get("number") else open_change(case)
    foam = reconcile(case.foam, case.foam_count)
    value = _filed(case, number) | typed
    return page(
        request,
        "change.html",
        status,
        kept=kept,
        case=case,
        plan=said.plan,
        number=number,
        value=value,
        findings=findings,
        held_back=held_back,
        read_version=kept.version_id if version is None else version,
        saved=saved,
        to_count=to_count_out(case, number),
        came_in=_came_in(case, number),
        foam=foam,
        label=label_text(case.foam) if case.foam else "",
        history=history(case.foam),
        missing=not_done(case.change[number]) if number < len(case.change) else (),
        wait_ends=wait_ends(case.anaesthetic),
        hours=_HOURS,
        looks=get_args(Looks),
        painted=_painted(said, value),
        before=_looks_before(case, number),
        rows=_ROWS,
        kinds=get_args(PieceKind),
        say_strength=say_strength,
    )


def _painted(said: Answered, value: _Typed) -> str:
    """Return the map with each hour as it looked, empty where the opening was not measured."""
    if said.plan is None or said.plan.picture is None or said.case is None or said.case.wound is None:
        return ""
    picture, wound = said.plan.picture, said.case.wound
    looks: dict[int, Looks] = {}
    for hour in _HOURS:
        how = value.get(f"probe.{hour}.looks")
        if how in get_args(Looks):
            looks[hour] = cast("Looks", how)
    return draw_map(picture, wound, None, one_to=map_scale(picture, wound), prefix="looks", looks=looks)


def _looks_before(case: Case, number: int) -> tuple[datetime, str] | None:
    """Return when hours were last looked at before this change, and how they looked, in words."""
    for change in reversed(case.change[:number]):
        if says := say_looks(change):
            return change.at, says
    return None


def _came_in(case: Case, number: int) -> list[str]:
    closed_at = case.change[number].closed_at if number < len(case.change) else None
    return [piece.name for piece in case.foam if closed_at and piece.placed_at == closed_at]


def _filed(case: Case, number: int) -> _Typed:
    """Return what the case file holds of this change, as its fields show it."""
    filed = dict(_of_doses(case))
    counted = count_of_dressing(case, case.change[number].at if number < len(case.change) else None)
    filed |= {key: _as_typed(getattr(counted, key)) for key in _COUNTS}
    if number >= len(case.change):
        zone = ZoneInfo(case.time_zone) if case.time_zone else None
        return filed | ({"at": datetime.now(zone).strftime(_DAY_AND_TIME)} if zone else {})
    change = case.change[number]
    for key in ("at", "closed_at", "by_role", *_NUMBERS, *_WORDS):
        filed[key] = _as_typed(getattr(change, key))
    for one in change.probe:
        filed[f"probe.{one.clock:g}.reach_cm"] = _as_typed(one.reach_cm)
        filed[f"probe.{one.clock:g}.height_cm"] = _as_typed(one.height_cm)
        filed[f"probe.{one.clock:g}.looks"] = one.looks or ""
    return filed


def _of_doses(case: Case) -> Iterator[tuple[str, str]]:
    for i, dose in enumerate(case.anaesthetic):
        yield f"dose.{i}.at", _as_typed(dose.at)
        yield f"dose.{i}.wait_min", _as_typed(dose.wait_min)
        yield f"dose.{i}.state", dose.state or ""


def _as_typed(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, datetime):
        return value.strftime(_DAY_AND_TIME)
    return f"{value:g}" if isinstance(value, float) else str(value)


def _sheet(case: Case, typed: _Typed) -> Sheet:
    number = _number(typed)
    if number > len(case.change):
        raise HTTPException(400)
    keys: dict[str, Value] = {key: number_of(typed.get(key, "")) for key in _NUMBERS}
    keys |= {key: typed.get(key) or None for key in _WORDS}
    return Sheet(
        number=number,
        at=time_of(typed, "at"),
        closed_at=time_of(typed, "closed_at"),
        by_role=typed.get("by_role", ""),
        keys=keys | {"probe": _probe(typed) or None},
        out=tuple(_out(case, typed)),
        put_in=tuple(_put_in(typed)),
        doses=dict(_doses(case, typed)),
        counts=_counts(typed),
    )


def _counts(typed: _Typed) -> dict[str, Value] | None:
    if any(key not in typed for key in _COUNTS):
        return None
    counts: dict[str, Value] = {key: number_of(typed[key]) for key in ("label_count", "note_count")}
    return counts | {"resolved_by_role": typed["resolved_by_role"] or None}


def _number(typed: Mapping[str, str]) -> int:
    written = typed.get("number", "")
    if not (written.isascii() and written.isdigit() and len(written) < 4):
        raise HTTPException(400)
    return int(written)


def _probe(typed: _Typed) -> list[Value]:
    found: list[Value] = []
    for hour in _HOURS:
        read = {key: number_of(typed.get(f"probe.{hour}.{key}", "")) for key in ("reach_cm", "height_cm")}
        given: dict[str, Value] = {key: value for key, value in read.items() if value is not None}
        if looks := typed.get(f"probe.{hour}.looks"):
            given["looks"] = looks
        if given:
            found.append({"clock": hour, **given})
    return found


def _out(case: Case, typed: _Typed) -> Iterator[CountedOut]:
    for i, piece in enumerate(case.foam):
        how = typed.get(f"out.{i}", "")
        if how in get_args(HowOut):
            yield CountedOut(piece.name, cast("HowOut", how), typed.get(f"why.{i}", ""))


def _put_in(typed: _Typed) -> Iterator[CountedIn]:
    for row in _ROWS:
        name, place = typed.get(f"in.{row}.name", ""), typed.get(f"in.{row}.place", "")
        kind = typed.get(f"in.{row}.kind", "")
        if (name or place) and kind in get_args(PieceKind):
            yield CountedIn(name, cast("PieceKind", kind), place, typed.get(f"in.{row}.trimmed", ""))


def _doses(case: Case, typed: _Typed) -> Iterator[tuple[int, dict[str, Value]]]:
    for i, dose in enumerate(case.anaesthetic):
        written: dict[str, Value] = {
            "at": time_of(typed, f"dose.{i}.at"),
            "wait_min": number_of(typed.get(f"dose.{i}.wait_min", "")),
            "state": typed.get(f"dose.{i}.state") or None,
        }
        if any(_as_typed(getattr(dose, key)) != typed.get(f"dose.{i}.{key}", "") for key in written):
            yield i, written
    new = {key: typed.get(f"dose.new.{key}", "") for key in ("strength", "volume_ml", "at", "wait_min", "route")}
    if any(new.values()):
        yield len(case.anaesthetic), _new_dose(typed, new)


def _new_dose(typed: _Typed, new: Mapping[str, str]) -> dict[str, Value]:
    strength = parse_strength(new["strength"]) if new["strength"] else None
    if isinstance(strength, str):
        raise InputRefused([Finding("refuse", "anaesthetic.percent", strength)])
    written: dict[str, Value] = {
        "drug": typed.get("dose.new.drug") or "lidocaine",
        "percent": None if strength is None else strength / 10.0,
        "volume_ml": number_of(new["volume_ml"]),
        "epinephrine": {"yes": True, "no": False}.get(typed.get("dose.new.epinephrine", "")),
        "route": new["route"] or None,
        "at": time_of(typed, "dose.new.at"),
        "wait_min": number_of(new["wait_min"]),
        "state": "given",
    }
    return {key: value for key, value in written.items() if value is not None}
