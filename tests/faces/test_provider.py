"""People sign in at a provider of identities that this run serves; a word of it that does not hold lets nobody in."""

import time
from collections.abc import Iterator
from hashlib import sha256
from threading import Thread
from urllib.parse import parse_qs, urlsplit

import httpx
import pytest
import uvicorn
from authlib.common.encoding import urlsafe_b64encode
from fastapi import FastAPI, Request
from joserfc import jwt
from joserfc.jwk import ECKey, KeySet
from playwright.sync_api import expect
from starlette.responses import JSONResponse, RedirectResponse
from tests.faces.site_server import OWN, browser_at, certified, free_port, send, signed_in, site_at

from soakline.errors import InputRefused
from soakline.faces.web.provider import provider_of
from soakline.settings import Settings

SECRET = "the provider's word for this program"  # noqa: S105 - of this run's own provider


class Provider:
    """An OpenID provider (OpenID Connect Core 1.0, section 3.1) that signs in whoever ``subject`` is, unasked.

    ``wrong`` are claims of the identity token to be told otherwise than they are.
    """

    def __init__(self) -> None:
        """Listen on a port of its own."""
        self.port = free_port()
        self.issuer = f"http://127.0.0.1:{self.port}"
        self.key = ECKey.generate_key("P-256", {"kid": "one"})
        self.signs = self.key
        self.subject = "0-17"
        self.wrong: dict[str, object] = {}
        self.asked: dict[str, str] = {}
        self.app = FastAPI()
        self.app.get("/.well-known/openid-configuration")(self.described)
        self.app.get("/authorize")(self.authorize)
        self.app.post("/token")(self.token)
        self.app.get("/keys")(self.keys)

    def described(self) -> JSONResponse:
        """Tell where what is."""
        ends = {"authorization_endpoint": "/authorize", "token_endpoint": "/token", "jwks_uri": "/keys"}
        return JSONResponse({"issuer": self.issuer, **{name: f"{self.issuer}{path}" for name, path in ends.items()}})

    def authorize(self, request: Request) -> RedirectResponse:
        """Sign in and lead back."""
        self.asked = dict(request.query_params)
        assert self.asked["response_type"] == "code"
        assert self.asked["scope"] == "openid"
        assert self.asked["code_challenge_method"] == "S256"
        return RedirectResponse(f"{self.asked['redirect_uri']}?code=once&state={self.asked['state']}", 302)

    async def token(self, request: Request) -> JSONResponse:
        """Give the identity token for the code, to who holds the verifier (RFC 7636) and the secret."""
        form = await request.form()
        proof = urlsafe_b64encode(sha256(str(form["code_verifier"]).encode()).digest()).decode().rstrip("=")
        credentials = httpx.BasicAuth(self.asked["client_id"], SECRET)
        if request.headers["authorization"] != credentials._auth_header or proof != self.asked["code_challenge"]:
            return JSONResponse({"error": "invalid_grant"}, 400)
        now = int(time.time())
        claims = {
            "iss": self.issuer,
            "aud": self.asked["client_id"],
            "sub": self.subject,
            "nonce": self.asked["nonce"],
            "iat": now,
            "exp": now + 300,
        }
        header = {"alg": "ES256", "kid": "one"}
        token = jwt.encode(header, {k: v for k, v in (claims | self.wrong).items() if v is not None}, self.signs)
        return JSONResponse({"access_token": "x", "token_type": "Bearer", "id_token": token})

    def keys(self) -> JSONResponse:
        """Tell the key that tokens are signed with."""
        return JSONResponse(KeySet([self.key]).as_dict(private=False))


@pytest.fixture(scope="module")
def provider() -> Iterator[Provider]:
    made = Provider()
    server = uvicorn.Server(uvicorn.Config(made.app, port=made.port, log_level="warning"))
    thread = Thread(target=server.run)
    thread.start()
    while not server.started:
        time.sleep(0.02)
    yield made
    server.should_exit = True
    thread.join(10)


@pytest.fixture(scope="module")
def site(command, surroundings, provider, tmp_path_factory) -> Iterator[str]:
    folder = tmp_path_factory.mktemp("site")
    (folder / "secret").write_text(f"{SECRET}\n")
    port = free_port()
    around = (
        surroundings
        | certified(folder)
        | {
            "SOAKLINE_DATA_FOLDER": str(folder),
            "PYTHONUNBUFFERED": "1",
            "SOAKLINE_SITE_ADDRESS": f"https://127.0.0.1:{port}",
            "SOAKLINE_OIDC_ISSUER": provider.issuer,
            "SOAKLINE_OIDC_CLIENT_ID": "soakline",
            "SOAKLINE_OIDC_SECRET_FILE": str(folder / "secret"),
        }
    )
    with site_at(command, around, port) as address:
        with browser_at(address) as chief:
            signed_in(chief, "chief", OWN)
            told = send(chief, "/people", name="kari", role="specialist", every="on", subject="0-17")
            assert "kari is kept" in told.text
            assert "first password" not in told.text.partition("<table>")[0]
        yield address


@pytest.fixture(autouse=True)
def _right_again(provider):
    provider.subject, provider.wrong, provider.signs = "0-17", {}, provider.key


def back_from(client: httpx.Client, site: str) -> httpx.Response:
    """Go to the provider and come back."""
    out = client.get("/sign-in/provider")
    assert out.status_code == 303
    home = httpx.get(out.headers["location"]).headers["location"]
    assert home.startswith(f"{site}/sign-in/back?")
    return client.get(home)


def test_whom_the_provider_names_is_let_in_as_who_they_are_here(site):
    with browser_at(site) as client:
        answer = back_from(client, site)
        assert "Signed in as kari" in answer.text
        assert "kari (specialist)" in client.get("/").text
        assert "the password is changed there" in client.get("/account").text
        assert signed_in(client, "kari", "anything at all here").status_code == 403


def test_in_a_real_browser_it_is_one_press(browser, site):
    context = browser.new_context(base_url=site, ignore_https_errors=True)
    page = context.new_page()
    page.goto("/cases/new")
    page.get_by_role("link", name="Sign in at your site's provider").press("Enter")
    expect(page.get_by_role("heading", name="Cases")).to_be_visible()
    assert {"Lax"} & {cookie["sameSite"] for cookie in context.cookies()} == set()
    context.close()


def test_nobody_is_let_in_whom_nobody_here_is_known_as(site, provider):
    provider.subject = "0-99"
    with browser_at(site) as client:
        answer = back_from(client, site)
        assert answer.status_code == 403
        assert "0-99" in answer.text
        assert client.get("/").status_code == 303


@pytest.mark.parametrize(
    "wrong",
    [
        {"nonce": "of somebody else"},
        {"nonce": None},
        {"aud": "another program"},
        {"iss": "http://127.0.0.1:1"},
        {"exp": 1_700_000_000},
        {"exp": None},
        {"sub": None},
    ],
)
def test_a_word_that_does_not_hold_lets_nobody_in(site, provider, wrong):
    provider.wrong = wrong
    with browser_at(site) as client:
        answer = back_from(client, site)
        assert answer.status_code == 403
        assert "does not hold" in answer.text
        assert client.get("/").status_code == 303


def test_a_word_signed_by_another_lets_nobody_in(site, provider):
    provider.signs = ECKey.generate_key("P-256", {"kid": "one"})
    with browser_at(site) as client:
        assert "does not hold" in back_from(client, site).text


def test_the_way_back_of_one_browser_lets_no_other_in(site):
    with browser_at(site) as mine, browser_at(site) as other:
        home = httpx.get(mine.get("/sign-in/provider").headers["location"]).headers["location"]
        assert "does not belong to this browser" in other.get(home).text
        other.get("/sign-in/provider")
        assert "does not belong to this browser" in other.get(home).text
        assert parse_qs(urlsplit(home).query)["code"] == ["once"]


@pytest.mark.parametrize(
    ("around", "says"),
    [
        ({"OIDC_ISSUER": "https://id.example"}, "name all, or none"),
        (
            {"OIDC_ISSUER": "https://id.example", "OIDC_CLIENT_ID": "x", "OIDC_SECRET_FILE": "/none"},
            "no secret can be read",
        ),
        ({"OIDC_ISSUER": "http://id.example"}, "the https address by which the provider names itself"),
    ],
)
def test_a_provider_named_by_half_is_refused_in_words(around, says):
    given = {f"SOAKLINE_{name}": value for name, value in around.items()}
    with pytest.raises(InputRefused) as refused:
        provider_of(Settings.from_environment({"SOAKLINE_SITE_ADDRESS": "https://soakline.example"} | given))
    assert says in str(refused.value)
