"""What each request passes on its way in and out: size, where it was sent from, and what the browser may do with it."""

from __future__ import annotations

import hmac
import secrets

from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

HOSTS = ("127.0.0.1", "localhost")
FORM_COOKIE = "soakline_form"
POLICY = (
    "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self'; font-src 'self'; connect-src 'self'; "
    "object-src 'none'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'"
)
SAID = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "x-frame-options": "DENY",
    "permissions-policy": "camera=(), microphone=(), geolocation=()",
}


class SaidToBrowsers:
    """Write on each response what the browser may do with it; a page is not stored unless it says otherwise."""

    def __init__(self, app: ASGIApp) -> None:
        """Stand before ``app``."""
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on and the headers back."""

        async def say(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in SAID.items():
                    headers[name] = value
                headers.setdefault("cache-control", "no-store")
            await send(message)

        await self.app(scope, receive, say if scope["type"] == "http" else send)


class SizeLimit:
    """Refuse a body of more than ``most_bytes`` bytes, before it is read where its length is said."""

    def __init__(self, app: ASGIApp, most_bytes: int) -> None:
        """Stand before ``app``."""
        self.app = app
        self.most_bytes = most_bytes

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on while its body keeps within the limit."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        said = Headers(scope=scope).get("content-length", "0")
        said_bytes = int(said) if said.isascii() and said.isdigit() else 0
        read_bytes = 0

        async def measured() -> Message:
            nonlocal read_bytes
            if said_bytes > self.most_bytes:
                raise HTTPException(413)
            message = await receive()
            read_bytes += len(message.get("body", b""))
            if read_bytes > self.most_bytes:
                raise HTTPException(413)
            return message

        await self.app(scope, measured, send)


def refuse_other_sites(request: Request) -> None:
    """Refuse a change that was not sent from a page of this application; raises HTTPException 403.

    Without a referrer browsers write the origin of a form as "null", so the site they name beside it goes first.
    """
    site = request.headers.get("sec-fetch-site")
    origin = request.headers.get("origin")
    own = f"{request.url.scheme}://{request.headers.get('host', '')}"
    if site not in {None, "same-origin", "none"} or (site is None and origin not in {None, own}):
        raise HTTPException(403)


def form_token(request: Request) -> str:
    """Return the token that a form carries: the one in this browser's cookie, or a new one."""
    return request.cookies.get(FORM_COOKIE) or secrets.token_urlsafe(24)


def keep_token(response: Response, token: str) -> None:
    """Give the browser the token as a cookie that no other site's page can send along."""
    response.set_cookie(FORM_COOKIE, token, httponly=True, samesite="strict", path="/")


def is_own_form(request: Request, token: str) -> bool:
    """Say whether a form carries the token of this browser's cookie."""
    kept = request.cookies.get(FORM_COOKIE, "")
    return bool(kept) and hmac.compare_digest(kept.encode(), token.encode())
