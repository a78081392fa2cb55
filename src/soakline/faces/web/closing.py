"""The pages of the archive: close a case with the reason and what is left open, open it again, list the closed ones."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime
from typing import cast, get_args

from fastapi import APIRouter, Request
from fastapi.responses import Response
from starlette.datastructures import FormData

from soakline.errors import Finding, StaleRecord
from soakline.faces.web.asked import Form, answers_of, kept_case, needs, version_read
from soakline.faces.web.attention import kind_of
from soakline.faces.web.described import LED_ON, takes
from soakline.faces.web.pages import see
from soakline.faces.web.render import page
from soakline.record.cases import ClosedKind, KeptCase, NewClosing, close_case, list_cases, reopen_case
from soakline.workflows.closing import against_closing, against_reopening, left_open

closing_pages = APIRouter()

_Typed = Mapping[str, str]


@closing_pages.get("/cases/closed")
def closed_page(request: Request) -> Response:
    """List the closed cases with the reason, the last closed first."""
    closed = [(kept.closing.at, kept) for kept in list_cases(request.app.state.record) if kept.closing]
    closed.sort(key=lambda row: row[0], reverse=True)
    rows = [(kept, kind_of(answers_of(request).unplanned(kept.text))) for _, kept in closed]
    return page(request, "closed.html", rows=rows)


@closing_pages.get("/cases/{case_id}/close")
def close_page(request: Request, case_id: int) -> Response:
    """Ask why a case is to be closed, or opened again, and say what it leaves open."""
    return _show(request, kept_case(request, case_id), {})


@closing_pages.post(
    "/cases/{case_id}/close",
    openapi_extra=takes("version", "standing", "kind", "says", "by_role", "known"),
    dependencies=[needs("plan")],
    **LED_ON,
)
def close(request: Request, case_id: int, form: Form) -> Response:
    """Close a case; refused where the reason or its author is missing, or what is left open was not confirmed."""
    kept, typed = kept_case(request, case_id), _typed(form)
    still = _left_open(request, kept)
    against = against_closing(typed["kind"], typed["says"], typed["by_role"], still, is_known=bool(typed["known"]))
    if against:
        return _show(request, kept, typed, findings=against, status=422)
    new = NewClosing(cast("ClosedKind", typed["kind"]), typed["says"], typed["by_role"], still)
    try:
        close_case(request.app.state.record, _as_read(kept, form), new, datetime.now(UTC))
    except StaleRecord as stale:
        return _show(request, kept_case(request, kept.id), typed, stale=str(stale), status=409)
    return see(kept)


@closing_pages.post(
    "/cases/{case_id}/reopen",
    openapi_extra=takes("version", "standing", "says", "by_role"),
    dependencies=[needs("plan")],
    **LED_ON,
)
def reopen(request: Request, case_id: int, form: Form) -> Response:
    """Open a closed case again; refused where the reason or its author is missing."""
    kept, typed = kept_case(request, case_id), _typed(form)
    against = against_reopening(typed["says"], typed["by_role"])
    if against:
        return _show(request, kept, typed, findings=against, status=422)
    try:
        read = _as_read(kept, form)
        reopen_case(request.app.state.record, read, typed["says"], typed["by_role"], datetime.now(UTC))
    except StaleRecord as stale:
        return _show(request, kept_case(request, kept.id), typed, stale=str(stale), status=409)
    return see(kept)


def _show(
    request: Request,
    kept: KeptCase,
    typed: _Typed,
    *,
    findings: tuple[Finding, ...] = (),
    stale: str = "",
    status: int = 200,
) -> Response:
    return page(
        request,
        "close.html",
        status,
        kept=kept,
        value=typed,
        findings=findings,
        stale=stale,
        kinds=get_args(ClosedKind),
        left_open=() if kept.closing else _left_open(request, kept),
    )


def _left_open(request: Request, kept: KeptCase) -> tuple[str, ...]:
    said = answers_of(request).at_a_glance(kept.text)
    return left_open(said.case, said.plan)


def _as_read(kept: KeptCase, form: FormData) -> KeptCase:
    """Return the case as the form was filled in from it, for the record to hold against how it stands."""
    standing = str(form.get("standing", ""))
    standing_id = int(standing) if standing.isascii() and standing.isdigit() and len(standing) < 10 else None
    return replace(kept, version_id=version_read(form), standing_id=standing_id)


def _typed(form: FormData) -> dict[str, str]:
    return {key: str(form.get(key, "")).strip() for key in ("kind", "says", "by_role", "known")}
