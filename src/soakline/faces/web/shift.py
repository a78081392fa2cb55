"""The page of a shift: what was seen at the units, written down in half a minute, and what it adds up to at once."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from types import MappingProxyType
from typing import Annotated
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Query, Request
from fastapi.responses import RedirectResponse, Response
from starlette.exceptions import HTTPException

from soakline.casefile.case import Case
from soakline.casefile.write import Value, write_case
from soakline.errors import CaseClosed, Finding, InputRefused, StaleRecord
from soakline.faces.web.asked import Form, answers_of, kept_case, needs
from soakline.faces.web.described import LED_ON, takes
from soakline.faces.web.entering import take_in
from soakline.faces.web.fields import number_of, time_of
from soakline.faces.web.render import page
from soakline.record.cases import KeptCase, NewCase, save_case
from soakline.therapy.clock import comes_twice
from soakline.workflows.in_words import in_order
from soakline.workflows.shift_entry import SIGNS, Look, OfUnit, appended, corrected, log_entries

shift_pages = APIRouter()

_DAY_AND_TIME = "%Y-%m-%dT%H:%M"
_LAST_SHOWN = 12
# Somebody else may save between reading and saving; entries are only added, so they are added again.
_TRIES = 5
_COLOURS = ("clear", "clear pink", "pink", "yellow", "cloudy", "dark red", "not looked at")

# Where a key of an entry was typed, by the entry's kind.
_TYPED_AS = {
    ("instilled", "ml"): "instilled",
    ("canister", "ml"): "canister",
    ("canister changed", "ml"): "canister",
    ("pause", "at"): "paused_at",
    ("pause", "until"): "resumed_at",
    ("pause", "says"): "says",
    ("leak", "says"): "says",
}

# Typed once for all units.
_ONCE = frozenset({"at", "by_role"})

_Typed = dict[str, str]
_Changes = Callable[[Case], dict[str, Value]]


@dataclass(frozen=True, slots=True)
class Correction:
    """What was typed to correct one entry of the log, by its number."""

    number_index: int
    typed: _Typed


@shift_pages.get("/cases/{case_id}/shift")
def shift_page(request: Request, case_id: int, saved: Annotated[int, Query(ge=0, le=1)] = 0) -> Response:
    """Show what to write down, what was written last, and what it adds up to."""
    return _show(request, kept_case(request, case_id), {}, saved=bool(saved))


@shift_pages.post("/cases/{case_id}/shift", openapi_extra=takes(others=True), dependencies=[needs("run")], **LED_ON)
def save_look(request: Request, case_id: int, form: Form) -> Response:
    """Add what was seen to the log, once however often it is sent; refused entries stand as they were typed."""
    typed = {key: str(value).strip() for key, value in form.items() if key != "token"}
    return _save(request, case_id, typed, lambda case: appended(case, log_entries(case, _look(case, typed))))


@shift_pages.post(
    "/cases/{case_id}/shift/{number_index}",
    openapi_extra=takes("at", "ml", "colour", "why"),
    dependencies=[needs("run")],
    **LED_ON,
)
def correct(request: Request, case_id: int, number_index: int, form: Form) -> Response:
    """Correct one entry of the log, with the reason; the record keeps what it was."""
    typed = {key: str(value).strip() for key, value in form.items() if key != "token"}

    def changes(case: Case) -> dict[str, Value]:
        if not 0 <= number_index < len(case.log):
            raise HTTPException(404)
        ml = number_of(typed.get("ml", ""))
        keys: dict[str, Value] = {
            "at": time_of(typed, "at"),
            "ml": float(ml) if isinstance(ml, int) else ml,
            "colour": typed.get("colour") or None,
        }
        if keys["at"] is None:
            raise InputRefused([Finding("refuse", "at", "no time: write day and time of the entry")])
        return corrected(case, number_index, keys, typed.get("why", ""), _now(case))

    return _save(request, case_id, {}, changes, Correction(number_index, typed))


def _save(
    request: Request, case_id: int, typed: _Typed, changes_of: _Changes, correction: Correction | None = None
) -> Response:
    for _ in range(_TRIES):
        kept = kept_case(request, case_id)
        case = answers_of(request).at_a_glance(kept.text).case
        if case is None:
            raise HTTPException(409)
        try:
            changes = changes_of(case)
            new = take_in(write_case(kept.text, changes), answers_of(request))
        except InputRefused as refused:
            wrong = _by_field(case, {}, refused.findings)
            return _show(request, kept, typed, wrong, findings=refused.findings, status=422, correction=correction)
        if not isinstance(new, NewCase):
            against = tuple(found for found in new if found.level == "refuse")
            wrong = _by_field(case, changes, against)
            return _show(request, kept, typed, wrong, findings=against, status=422, correction=correction)
        try:
            if changes:
                save_case(request.app.state.record, kept.id, new, kept.version_id, datetime.now(UTC))
        except CaseClosed as closed:
            now_closed, against = kept_case(request, kept.id), (Finding("refuse", "", str(closed)),)
            return _show(request, now_closed, typed, findings=against, status=409, correction=correction)
        except StaleRecord:
            continue
        return RedirectResponse(f"/cases/{kept.id}/shift?saved=1", status_code=303)
    raise HTTPException(503)


def _show(
    request: Request,
    kept: KeptCase,
    typed: _Typed,
    wrong: Mapping[str, str] = MappingProxyType({}),
    *,
    findings: tuple[Finding, ...] = (),
    status: int = 200,
    saved: bool = False,
    correction: Correction | None = None,
) -> Response:
    said = answers_of(request).at_a_glance(kept.text)
    case = said.case
    if case is None:
        return page(request, "shift_entry.html", 409, kept=kept, case=None)
    now = _now(case).strftime(_DAY_AND_TIME)
    value = {"at": now} | typed
    return page(
        request,
        "shift_entry.html",
        status,
        kept=kept,
        case=case,
        plan=said.plan,
        value=value,
        wrong=wrong,
        findings=findings,
        saved=saved,
        correction=correction,
        signs=SIGNS,
        colours=_COLOURS,
        asks_which="comes twice" in " ".join(found.says for found in findings) or _comes_twice(case, value["at"]),
        questions=in_order([f for f in said.findings if f.where.startswith("log") and f.level in {"ask", "warn"}]),
        last=list(enumerate(case.log))[-_LAST_SHOWN:][::-1],
    )


def _by_field(case: Case, changes: Mapping[str, Value], findings: Sequence[Finding]) -> dict[str, str]:
    """Return what stands against each field, by its name; what belongs to no field is told above them alone."""
    wrong: dict[str, str] = {}
    for found in findings:
        place, _, key = found.where.rpartition(".")
        if place.startswith("log."):
            named, kind = changes.get(f"{place}.unit"), str(changes.get(f"{place}.kind"))
            key = _TYPED_AS.get((kind, key), key)
        else:
            named = place.removeprefix("unit.")
        numbers = [n for n, unit in enumerate(case.unit) if unit.name == named]
        wrong.setdefault(f"unit.{numbers[0]}.{key}" if numbers and key not in _ONCE else key, found.says)
    return wrong


def _comes_twice(case: Case, text: str) -> bool:
    try:
        at = datetime.fromisoformat(text)
    except ValueError:
        return False
    return case.time_zone is not None and comes_twice(at.replace(tzinfo=ZoneInfo(case.time_zone)))


def _now(case: Case) -> datetime:
    zone = ZoneInfo(case.time_zone) if case.time_zone else None
    return datetime.now(zone).replace(tzinfo=None, second=0, microsecond=0)


def _look(case: Case, typed: Mapping[str, str]) -> Look:
    sign = typed.get("sign", "")
    again = {"yes": True, "no": False}.get(typed.get("again", ""))
    return Look(
        at=time_of(typed, "at"),
        sign=sign if sign in SIGNS else None,
        units=tuple(_of_unit(unit.name, number, typed) for number, unit in enumerate(case.unit)),
        again=again,
        says=typed.get("says", ""),
        by_role=typed.get("by_role", ""),
    )


def _of_unit(name: str, number: int, typed: Mapping[str, str]) -> OfUnit:
    def of(key: str) -> str:
        return typed.get(f"unit.{number}.{key}", "")

    return OfUnit(
        name=name,
        instilled=number_of(of("instilled")),
        canister=number_of(of("canister")),
        is_changed=of("is_changed") == "yes",
        colour=of("colour"),
        is_bag_changed=of("is_bag_changed") == "yes",
        has_leak=of("has_leak") == "yes",
        paused_at=time_of(typed, f"unit.{number}.paused_at"),
        resumed_at=time_of(typed, f"unit.{number}.resumed_at"),
        says=of("says"),
    )
