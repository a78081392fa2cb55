"""What each request passes on its way in and out: size, where it was sent from, and what the browser may do with it."""

from __future__ import annotations

import hmac
import secrets
from dataclasses import dataclass
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from soakline.record.sessions import Lasting

HERE = ("127.0.0.1", "localhost")
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


_HSTS = "max-age=31536000"


@dataclass(frozen=True, slots=True)
class Site:
    """Where the pages are: at an https ``address`` where people sign in, or, None, at this computer alone."""

    address: str | None
    lasting: Lasting

    @property
    def hosts(self) -> tuple[str, ...]:
        """The names that a request may call the host by."""
        return HERE if self.address is None else (str(urlsplit(self.address).hostname),)

    def cookie(self, name: str) -> str:
        """Return the name of a cookie; at an https address browsers take it from that host alone."""
        return f"soakline_{name}" if self.address is None else f"__Host-soakline_{name}"

    def keep(
        self,
        response: Response,
        name: str,
        value: str,
        *,
        lasting_s: int | None = None,
        comes_from_elsewhere: bool = False,
    ) -> None:
        """Give the browser a cookie that scripts do not see and other sites' forms cannot send along.

        It ends with the browser or after ``lasting_s``; with ``comes_from_elsewhere`` a link of another site sends it.
        """
        response.set_cookie(
            self.cookie(name),
            value,
            max_age=lasting_s,
            httponly=True,
            samesite="lax" if comes_from_elsewhere else "strict",
            path="/",
            secure=self.address is not None,
        )

    def drop(self, response: Response, name: str) -> None:
        """Take a cookie back."""
        response.delete_cookie(self.cookie(name), path="/", secure=self.address is not None, httponly=True)


def site_of(request: Request) -> Site:
    """Return where the pages of a request are."""
    return request.app.state.site


class SaidToBrowsers:
    """Write on each response what the browser may do with it; a page is not stored unless it says otherwise."""

    def __init__(self, app: ASGIApp, site: Site) -> None:
        """Stand before ``app``."""
        self.app = app
        self.said = SAID if site.address is None else {**SAID, "strict-transport-security": _HSTS}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on and the headers back."""

        async def say(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in self.said.items():
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


class OnlyFrom:
    """Refuse every request that does not come from the one computer that stands before this one."""

    def __init__(self, app: ASGIApp, proxy: str) -> None:
        """Stand before ``app``."""
        self.app = app
        self.proxy = proxy

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on where it comes from ``proxy``."""
        if scope["type"] == "http" and (scope.get("client") or ("",))[0] != self.proxy:
            says = f"Requests are taken from {self.proxy} alone.\n"
            await PlainTextResponse(says, 403)(scope, receive, send)
            return
        await self.app(scope, receive, send)


def refuse_other_sites(request: Request) -> None:
    """Refuse a change that was not sent from a page of this application; raises HTTPException 403.

    Without a referrer browsers write the origin of a form as "null", so the site they name beside it goes first.
    """
    site = request.headers.get("sec-fetch-site")
    origin = request.headers.get("origin")
    own = site_of(request).address or f"{request.url.scheme}://{request.headers.get('host', '')}"
    if site not in {None, "same-origin", "none"} or (site is None and origin not in {None, own}):
        raise HTTPException(403)


def form_token(request: Request) -> str:
    """Return the token that a form carries: the one in this browser's cookie, or a new one."""
    return request.cookies.get(site_of(request).cookie("form")) or secrets.token_urlsafe(24)


def is_own_form(request: Request, token: str) -> bool:
    """Say whether a form carries the token of this browser's cookie."""
    kept = request.cookies.get(site_of(request).cookie("form"), "")
    return bool(kept) and hmac.compare_digest(kept.encode(), token.encode())
