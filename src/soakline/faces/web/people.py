"""The people's pages: be let in, sign in and out, choose a password, look after who may do what."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from fastapi.responses import RedirectResponse, Response
from starlette.datastructures import FormData
from starlette.exceptions import HTTPException

from soakline.errors import Finding, InputRefused, NotAllowed, StaleRecord
from soakline.faces.web.admission import ACCOUNT, SIGN_IN
from soakline.faces.web.asked import Form, kept_case, needs, version_read
from soakline.faces.web.described import LED_ON, takes
from soakline.faces.web.doors import site_of
from soakline.faces.web.key import OPEN
from soakline.faces.web.provider import sign_in_form
from soakline.faces.web.render import page
from soakline.record.acting import MAY, ROLES, acting
from soakline.record.cases import move_case
from soakline.record.passwords import LONGEST, SHORTEST
from soakline.record.people import (
    NewPerson,
    Person,
    add_person,
    change_person,
    find_person,
    known_wards,
    list_people,
    set_password,
)
from soakline.record.sessions import end_others, end_session, list_sessions, open_session, sign_in

people_pages = APIRouter()

_LONGEST_TYPED = 300


@people_pages.get(OPEN, **LED_ON)
def open_here(request: Request, key: Annotated[str, Query(max_length=100)] = "") -> Response:
    """Let the browser at this computer in, once for each key that the command prints."""
    if site_of(request).address is not None or not request.app.state.key.take(key):
        raise HTTPException(401)
    token = open_session(request.app.state.record, None, datetime.now(UTC))
    response = RedirectResponse("/", 303)
    site_of(request).keep(response, "session", token)
    return response


@people_pages.get(SIGN_IN)
def sign_in_page(request: Request, then: Annotated[str, Query(max_length=500)] = "/") -> Response:
    """Ask for name and password."""
    _only_at_a_site(request)
    return sign_in_form(request, then=_own_path(then))


@people_pages.post(SIGN_IN, openapi_extra=takes("name", "password", "then"), **LED_ON)
def let_in(request: Request, form: Form) -> Response:
    """Let a person in who gives name and password, and lead them on to what they asked for."""
    _only_at_a_site(request)
    name, then = _typed(form, "name").lower(), _own_path(_typed(form, "then"))
    address = request.client.host if request.client else ""
    record = request.app.state.record
    try:
        person, token = sign_in(record, name, str(form.get("password", "")), address, datetime.now(UTC))
    except NotAllowed as refused:
        return sign_in_form(request, name=name, then=then, says=str(refused), status=403)
    # Who signs in anew at one browser leaves nothing open behind them.
    end_session(record, _token(request), datetime.now(UTC))
    return _led_in(request, token, then if "read" in MAY[person.role] else "/people")


@people_pages.post("/sign-out", openapi_extra=takes(), **LED_ON)
def let_out(request: Request, form: Form) -> Response:
    """Let this browser out."""
    del form
    site = site_of(request)
    end_session(request.app.state.record, _token(request), datetime.now(UTC))
    response = RedirectResponse("/" if site.address is None else SIGN_IN, 303)
    site.drop(response, "session")
    return response


@people_pages.get(ACCOUNT)
def account_page(request: Request) -> Response:
    """Show who is signed in, and ask for a new password."""
    return _account(request, _myself(request))


@people_pages.post(ACCOUNT, openapi_extra=takes("old", "new"), **LED_ON)
def change_password(request: Request, form: Form) -> Response:
    """Put a new password in place of the old; whoever else uses the account is signed out."""
    record, me, now = request.app.state.record, _myself(request), datetime.now(UTC)
    try:
        person = set_password(record, me, str(form.get("old", "")), str(form.get("new", "")), now)
    except InputRefused as refused:
        return _account(request, me, refused.findings)
    return _led_in(request, open_session(record, person, now), "/" if "read" in MAY[person.role] else "/people")


@people_pages.post(f"{ACCOUNT}/others", openapi_extra=takes(), **LED_ON)
def let_others_out(request: Request, form: Form) -> Response:
    """Sign this person out in every other browser."""
    del form
    end_others(request.app.state.record, _myself(request), _token(request), datetime.now(UTC))
    return RedirectResponse(ACCOUNT, 303)


@people_pages.get("/people", dependencies=[needs("people")])
def people_page(request: Request) -> Response:
    """List who may sign in, and what each may do."""
    return _people(request)


@people_pages.post("/people", openapi_extra=takes("name", "role", "wards", "subject"), dependencies=[needs("people")])
def add(request: Request, form: Form) -> Response:
    """Keep a new person and show, once, the first password to hand over."""
    try:
        person, password = add_person(request.app.state.record, _new(form), datetime.now(UTC))
    except InputRefused as refused:
        return _people(request, typed=form, findings=refused.findings, status=422)
    return _people(request, told=person, password=password)


@people_pages.get("/people/{name}", dependencies=[needs("people")])
def person_page(request: Request, name: str) -> Response:
    """Show one person, to be changed."""
    return _person(request, _named(request, name))


@people_pages.post(
    "/people/{name}",
    openapi_extra=takes("version", "role", "wards", "subject", "is_locked", "renew"),
    dependencies=[needs("people")],
)
def change(request: Request, name: str, form: Form) -> Response:
    """Change what a person may do, lock them out, or show a new first password once; their sessions end."""
    before = _named(request, name)
    record, now = request.app.state.record, datetime.now(UTC)
    try:
        person, password = change_person(
            record, before.id, _new(form, before.name), version_read(form), now, renew="renew" in form
        )
    except InputRefused as refused:
        return _person(request, before, typed=form, findings=refused.findings, status=422)
    except StaleRecord as stale:
        against = (Finding("refuse", "", str(stale)),)
        return _person(request, before, typed=form, findings=against, status=409)
    return _people(request, told=person, password=password)


@people_pages.post(
    "/cases/{case_id}/ward", openapi_extra=takes("ward", "expected"), dependencies=[needs("plan")], **LED_ON
)
def name_ward(request: Request, case_id: int, form: Form) -> Response:
    """Name the ward whose people see a case."""
    kept, ward = kept_case(request, case_id), _typed(form, "ward")
    against = ward_refused(request, ward)
    if against:
        raise InputRefused(against)
    move_case(request.app.state.record, kept.id, ward, _typed(form, "expected"), datetime.now(UTC))
    return RedirectResponse(f"/cases/{kept.id}" if acting().sees(ward) else "/", 303)


def wards_to_choose(request: Request) -> tuple[str, ...]:
    """Return the wards that a case may be put in: at a site each that a person is named for."""
    return () if site_of(request).address is None else known_wards(request.app.state.record)


def ward_refused(request: Request, ward: str) -> tuple[Finding, ...]:
    """Return what stands against putting a case in a ward: at a site, that no person is named for it."""
    wards = wards_to_choose(request)
    if ward in wards:
        return ()
    says = f'"{ward[:100]}": no person is named for such a ward; choose one of {", ".join(wards) or "none yet"}'
    return (Finding("refuse", "ward", says),)


def _only_at_a_site(request: Request) -> None:
    if site_of(request).address is None:
        raise HTTPException(404)


def _own_path(then: str) -> str:
    # Two slashes, or one and a backslash, would lead to another host.
    return then if then.startswith("/") and not then.startswith(("//", "/\\")) and then.isprintable() else "/"


def _typed(form: FormData, key: str) -> str:
    return str(form.get(key, "")).strip()[:_LONGEST_TYPED]


def _led_in(request: Request, token: str, then: str) -> Response:
    response = RedirectResponse(then, 303)
    site_of(request).keep(response, "session", token)
    return response


def _myself(request: Request) -> Person:
    person = find_person(request.app.state.record, acting().name) if acting().person_id else None
    if person is None:
        raise HTTPException(404)
    return person


def _named(request: Request, name: str) -> Person:
    person = find_person(request.app.state.record, name)
    if person is None:
        raise HTTPException(404)
    return person


def _new(form: FormData, name: str | None = None) -> NewPerson:
    wards = frozenset(part.strip() for part in _typed(form, "wards").split(",") if part.strip())
    return NewPerson(
        name=_typed(form, "name").lower() if name is None else name,
        role=_typed(form, "role"),
        wards=None if "every" in form else wards,
        subject=_typed(form, "subject") or None,
        is_locked="is_locked" in form,
    )


def _account(request: Request, me: Person, findings: tuple[Finding, ...] = ()) -> Response:
    shown: dict[str, Any] = {"shortest": SHORTEST, "longest": LONGEST, "may": MAY}
    shown["opened"] = list_sessions(
        request.app.state.record, me, _token(request), datetime.now(UTC), site_of(request).lasting
    )
    return page(request, "account.html", 422 if findings else 200, me=me, findings=findings, **shown)


def _token(request: Request) -> str:
    return request.cookies.get(site_of(request).cookie("session"), "")


def _people(
    request: Request,
    *,
    typed: FormData | None = None,
    findings: tuple[Finding, ...] = (),
    status: int = 200,
    told: Person | None = None,
    password: str | None = None,
) -> Response:
    shown: dict[str, Any] = {"people": list_people(request.app.state.record), "roles": ROLES, "may": MAY}
    return page(
        request, "people.html", status, **shown, value=typed or {}, findings=findings, told=told, password=password
    )


def _person(
    request: Request,
    person: Person,
    *,
    typed: FormData | None = None,
    findings: tuple[Finding, ...] = (),
    status: int = 200,
) -> Response:
    return page(request, "person.html", status, person=person, roles=ROLES, may=MAY, value=typed, findings=findings)
