"""Sign in at the site's own provider of identities (OpenID Connect Core 1.0, code flow with PKCE), an extra."""

from __future__ import annotations

import hmac
from dataclasses import dataclass
from datetime import UTC, datetime
from importlib.util import find_spec
from pathlib import Path
from secrets import token_urlsafe
from typing import Annotated, Any, cast

from fastapi import APIRouter, Query, Request
from fastapi.responses import RedirectResponse, Response
from starlette.exceptions import HTTPException

from soakline.errors import Finding, InputRefused, NotAllowed
from soakline.faces.web.described import LED_ON
from soakline.faces.web.doors import site_of
from soakline.faces.web.render import page
from soakline.record.acting import MAY
from soakline.record.people import find_subject
from soakline.record.sessions import open_session, refuse_sign_in
from soakline.settings import PREFIX, Settings

TO_PROVIDER, BACK = "/sign-in/provider", "/sign-in/back"
provider_pages = APIRouter()

# Keys of the provider's alone: neither unsigned nor signed with a secret that is shared.
_SIGNED_WITH = ("RS256", "RS384", "RS512", "PS256", "PS384", "PS512", "ES256", "ES384", "ES512", "EdDSA")
_MOST_S = 10
_BY_MINUTES = 10
_CLOCKS_APART_S = 60


@dataclass(frozen=True, slots=True)
class Provider:
    """The provider as its own description tells, and how it knows this program; keys are fetched at each sign-in."""

    issuer: str
    client_id: str
    secret: str
    back: str

    def leave(self) -> tuple[str, str]:
        """Return the address to send a browser to, and what its cookie holds until it is back."""
        described, state, nonce, verifier = self._described(), token_urlsafe(24), token_urlsafe(24), token_urlsafe(48)
        with self._client() as client:
            address, _ = client.create_authorization_url(
                described["authorization_endpoint"], state=state, nonce=nonce, code_verifier=verifier
            )
        return str(address), f"{state}.{nonce}.{verifier}"

    def subject_of(self, code: str, state: str, held: str) -> str:
        """Return whom the provider says has signed in; raises NotAllowed where it does not hold in every part."""
        from authlib.common.errors import AuthlibBaseError  # noqa: PLC0415  # an extra
        from joserfc import jwt  # noqa: PLC0415
        from joserfc.errors import JoseError  # noqa: PLC0415
        from joserfc.jwk import KeySet  # noqa: PLC0415

        parts = held.split(".")
        if len(parts) != 3 or not hmac.compare_digest(parts[0].encode(), state.encode()):
            msg = "the way back does not belong to this browser's way out; begin again"
            raise _refused(msg)
        _, nonce, verifier = parts
        described = self._described()
        try:
            with self._client() as client:
                token = client.fetch_token(described["token_endpoint"], code=code, code_verifier=verifier)
            keys = KeySet.import_key_set(cast("Any", self._fetched(described["jwks_uri"])))
            said = jwt.decode(token["id_token"], keys, algorithms=list(_SIGNED_WITH)).claims
            jwt.JWTClaimsRegistry(
                leeway=_CLOCKS_APART_S,
                iss={"essential": True, "value": self.issuer},
                aud={"essential": True, "value": self.client_id},
                nonce={"essential": True, "value": nonce},
                exp={"essential": True},
                iat={"essential": True},
                sub={"essential": True},
            ).validate(said)
        except (AuthlibBaseError, JoseError, OSError, KeyError, ValueError, TypeError) as fault:
            msg = f"the provider's word does not hold ({type(fault).__name__}); begin again"
            raise _refused(msg) from fault
        return str(said["sub"])

    def _client(self) -> Any:  # noqa: ANN401 - the extra's own type
        from authlib.integrations.requests_client import OAuth2Session  # noqa: PLC0415  # an extra

        return OAuth2Session(
            self.client_id,
            self.secret,
            scope="openid",
            redirect_uri=self.back,
            code_challenge_method="S256",
            default_timeout=_MOST_S,
        )

    def _described(self) -> dict[str, str]:
        told = self._fetched(f"{self.issuer.rstrip('/')}/.well-known/openid-configuration")
        if told.get("issuer") != self.issuer:
            msg = "the provider names itself otherwise than the setting does; tell who looks after the server"
            raise _refused(msg)
        return cast("dict[str, str]", told)

    @staticmethod
    def _fetched(address: str) -> dict[str, Any]:
        import requests  # noqa: PLC0415  # an extra

        try:
            answer = requests.get(address, timeout=_MOST_S)
            answer.raise_for_status()
            return answer.json()
        except (OSError, ValueError) as fault:
            msg = "the provider cannot be reached now; try again, or sign in with a password"
            raise _refused(msg) from fault


def provider_of(settings: Settings) -> Provider | None:
    """Return the provider that the settings name, None where they name none; raises InputRefused where by half."""
    named = (settings.oidc_issuer, settings.oidc_client_id, settings.oidc_secret_file)
    if named == (None, None, None):
        return None
    if settings.site_address is None or None in named:
        says = (
            f"a provider is named by {PREFIX}OIDC_ISSUER, {PREFIX}OIDC_CLIENT_ID and {PREFIX}OIDC_SECRET_FILE "
            f"together, at a site with {PREFIX}SITE_ADDRESS; name all, or none"
        )
        raise InputRefused([Finding("refuse", f"{PREFIX}OIDC_ISSUER", says)])
    if find_spec("authlib") is None or find_spec("requests") is None:
        says = "a provider needs what is not installed; set up with: pip install 'soakline[oidc]'"
        raise InputRefused([Finding("refuse", f"{PREFIX}OIDC_ISSUER", says)])
    secret = _secret(cast("Path", settings.oidc_secret_file))
    return Provider(str(settings.oidc_issuer), str(settings.oidc_client_id), secret, f"{settings.site_address}{BACK}")


@provider_pages.get(TO_PROVIDER, **LED_ON)
def to_provider(request: Request) -> Response:
    """Lead the browser to the site's provider."""
    site = site_of(request)
    try:
        address, held = _provider(request).leave()
    except NotAllowed as refused:
        return sign_in_form(request, says=str(refused), status=403)
    response = RedirectResponse(address, 303)
    site.keep(response, "away", held, lasting_s=60 * _BY_MINUTES, comes_from_elsewhere=True)
    return response


@provider_pages.get(BACK)
def back(
    request: Request,
    code: Annotated[str, Query(max_length=4000)] = "",
    state: Annotated[str, Query(max_length=200)] = "",
) -> Response:
    """Let in whom the provider names; the page leads on, because browsers hold the new cookie back until then."""
    provider, site, record, now = _provider(request), site_of(request), request.app.state.record, datetime.now(UTC)
    held = request.cookies.get(site.cookie("away"), "")
    try:
        subject = provider.subject_of(code, state, held)
        person = find_subject(record, subject)
        if person is None or person.is_locked:
            address = request.client.host if request.client else ""
            says = (
                f'The provider knows you as "{subject}", and nobody who may sign in here is known by that. Tell it to '
                "who looks after the people here"
            )
            refuse_sign_in(record, subject, address, now, person, says)
    except NotAllowed as refused:
        return sign_in_form(request, says=str(refused), status=403)
    response = page(request, "signed_in.html", name=person.name, then="/" if "read" in MAY[person.role] else "/people")
    site.drop(response, "away")
    site.keep(response, "session", open_session(record, person, now))
    return response


def sign_in_form(request: Request, *, name: str = "", then: str = "/", says: str = "", status: int = 200) -> Response:
    """Return the page that asks for name and password, and beside them for the provider where there is one."""
    provided = request.app.state.provider is not None
    return page(request, "sign_in.html", status, name=name, then=then, says=says, provided=provided)


def _provider(request: Request) -> Provider:
    provider: Provider | None = request.app.state.provider
    if provider is None:
        raise HTTPException(404)
    return provider


def _refused(why: str) -> NotAllowed:
    return NotAllowed(f"You were not signed in: {why}")


def _secret(file: Path) -> str:
    try:
        first_line = file.read_text("utf-8").partition("\n")[0].strip()
    except (OSError, UnicodeDecodeError):
        first_line = ""
    if not first_line:
        says = f"{file}: no secret can be read in its first line; write there what the provider gave for this program"
        raise InputRefused([Finding("refuse", f"{PREFIX}OIDC_SECRET_FILE", says)])
    return first_line
