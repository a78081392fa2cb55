"""Who is let in: at this computer by the address that the command printed, at a site by signing in."""

from __future__ import annotations

from datetime import UTC, datetime
from urllib.parse import quote

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.types import ASGIApp, Receive, Scope, Send

from soakline.errors import RecordUnavailable
from soakline.faces.web.doors import site_of
from soakline.faces.web.errors import ERROR_PAGES, error_page
from soakline.faces.web.key import OPEN
from soakline.faces.web.provider import BACK, TO_PROVIDER
from soakline.record.acting import NOBODY, acting_as
from soakline.record.sessions import Admitted, admit

SIGN_IN, ACCOUNT = "/sign-in", "/account"
_OPEN_TO_ALL = (SIGN_IN, TO_PROVIDER, BACK, OPEN, "/about", "/healthz")
# Until somebody has chosen a password of their own.
_BEFORE_ALL_ELSE = (ACCOUNT, "/sign-out")


class Admission:
    """Let a request in as whoever its cookie stands for; lead everybody else to where they are let in."""

    def __init__(self, app: ASGIApp) -> None:
        """Stand before ``app``."""
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on as somebody, or answer that nobody is known."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        request = Request(scope, receive)
        try:
            admitted = await run_in_threadpool(_admitted, request)
        except RecordUnavailable as error:
            with acting_as(NOBODY):
                response = await ERROR_PAGES[RecordUnavailable](request, error)
            await response(scope, receive, send)
            return
        with acting_as(admitted.actor if admitted else NOBODY):
            await (_led_elsewhere(request, admitted) or self.app)(scope, receive, send)


def _led_elsewhere(request: Request, admitted: Admitted | None) -> Response | None:
    path = request.url.path
    if path.startswith("/static/"):
        return None
    if admitted is None:
        return None if path in _OPEN_TO_ALL else _nobody(request)
    return RedirectResponse(ACCOUNT, 303) if admitted.has_first_password and path not in _BEFORE_ALL_ELSE else None


def _admitted(request: Request) -> Admitted | None:
    site = site_of(request)
    token = request.cookies.get(site.cookie("session"))
    return admit(request.app.state.record, token, datetime.now(UTC), site.lasting) if token else None


def _nobody(request: Request) -> Response:
    if site_of(request).address is None or request.method != "GET":
        return error_page(request, 401)
    asked = request.url.path + (f"?{request.url.query}" if request.url.query else "")
    return RedirectResponse(f"{SIGN_IN}?then={quote(asked, safe='/')}", 303)
