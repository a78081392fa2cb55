"""People sign in at a site: over TLS or behind a proxy, each may what their role says, and nobody else gets in."""

import re
import subprocess
from collections.abc import Iterator
from itertools import count

import httpx
import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect
from tests.faces.site_server import (
    OWN,
    add,
    browser_at,
    certified,
    free_port,
    own_password,
    send,
    serving,
    signed_in,
    site_at,
)

from soakline.errors import InputRefused
from soakline.faces.web.serve import serve
from soakline.settings import Settings

REFUSED = 2
AXE = Axe()
_ROW = count(1)


@pytest.fixture(scope="module")
def of_site(surroundings, tmp_path_factory):
    """Run one command on the site's record; give what it wrote."""
    folder = tmp_path_factory.mktemp("site")
    return surroundings | {"SOAKLINE_DATA_FOLDER": str(folder), "PYTHONUNBUFFERED": "1"}


@pytest.fixture(scope="module")
def site(command, of_site, tmp_path_factory) -> Iterator[str]:
    port = free_port()
    around = (
        of_site | certified(tmp_path_factory.mktemp("tls")) | {"SOAKLINE_SITE_ADDRESS": f"https://127.0.0.1:{port}"}
    )
    with site_at(command, around, port) as address:
        yield address


@pytest.fixture
def chief(site) -> Iterator[httpx.Client]:
    with browser_at(site) as client:
        assert signed_in(client, "chief", OWN).headers["location"] == "/people"
        yield client


@pytest.fixture
def enter(site, chief):
    """Let a new person of a role and some wards in; give the browser and the name."""
    opened = []

    def let_in(role: str, wards: str = "", **more: str) -> tuple[httpx.Client, str]:
        name = f"{role}{next(_ROW)}"
        told = send(chief, "/people", name=name, role=role, wards=wards, **more)
        first = re.search(r"shown this once: <strong><code>([^<]+)", told.text)[1]
        client = httpx.Client(base_url=site, verify=False, timeout=60)  # noqa: S501 - as browser_at
        opened.append(client)
        assert signed_in(client, name, first).status_code == 303
        own_password(client, first)
        return client, name

    yield let_in
    for client in opened:
        client.close()


def case_of(client: httpx.Client, text: str, ward: str) -> str:
    answer = send(client, "/cases", text=text, ward=ward)
    assert answer.status_code == 303, answer.text
    return answer.headers["location"]


@pytest.mark.parametrize(
    ("host", "around", "says"),
    [
        ("0.0.0.0", {}, "nobody signs in; name the site with SOAKLINE_SITE_ADDRESS"),  # noqa: S104
        ("ward-server", {}, "nobody signs in"),
        ("", {"SITE_ADDRESS": "https://soakline.example"}, "would be sent in the clear"),
        ("", {"SITE_ADDRESS": "https://soakline.example", "TLS_KEY": "/key"}, "would be sent in the clear"),
        ("", {"SITE_ADDRESS": "http://soakline.example", "PROXY": "127.0.0.1"}, "allowed is https:// and the host"),
        ("", {"SITE_ADDRESS": "https://soakline.example", "PROXY": "proxy"}, "the address of one computer"),
        (
            "",
            {"SITE_ADDRESS": "https://soakline.example", "PROXY": "127.0.0.1"},
            "people add NAME --role administrator",
        ),
        ("", {"PROXY": "127.0.0.1"}, "given without SOAKLINE_SITE_ADDRESS"),
        (
            "",
            {"SITE_ADDRESS": "https://soakline.example", "TLS_CERTIFICATE": "/none", "TLS_KEY": "/none"},
            "no such file",
        ),
        ("", {"OIDC_ISSUER": "https://id.example"}, "given without SOAKLINE_SITE_ADDRESS"),
    ],
)
def test_nothing_is_served_beyond_this_computer_without_accounts_and_tls(tmp_path, host, around, says):
    given = {f"SOAKLINE_{name}": value for name, value in around.items()}
    with pytest.raises(InputRefused) as refused:
        serve(Settings.from_environment({"SOAKLINE_DATA_FOLDER": str(tmp_path)} | given), host or "127.0.0.1", 0)
    assert says in str(refused.value)


def test_the_command_refuses_it_in_words(soakline):
    done = soakline("serve", "--port", "0", "--host", "0.0.0.0")  # noqa: S104 - refused
    assert done.returncode == REFUSED
    assert "nobody signs in" in " ".join(done.stderr.split())


def test_the_address_that_is_printed_opens_the_pages_once(surroundings, command, tmp_path):
    around = surroundings | {"SOAKLINE_DATA_FOLDER": str(tmp_path), "PYTHONUNBUFFERED": "1"}
    with serving(command, around, 0) as process, httpx.Client(timeout=60) as mine, httpx.Client() as other:
        first = process.stdout.readline().split()[1]
        list_of_cases = httpx.URL(first).copy_with(raw_path=b"/")
        assert mine.get(list_of_cases).status_code == 401
        assert mine.get(first).headers["location"] == "/"
        second = process.stdout.readline().split()[-1]
        assert second != first
        assert mine.get(list_of_cases).status_code == 200
        assert other.get(first).status_code == 401
        assert other.get(list_of_cases).status_code == 401
        assert other.get(second).status_code == 303
        assert other.get(list_of_cases).status_code == 200


def test_nobody_who_has_not_signed_in_sees_a_page_or_changes_anything(site):
    with browser_at(site) as client:
        described = client.get("/about").status_code, client.get("/healthz").json()
        assert described == (200, {"status": "up"})
        led = client.get("/cases/1?row=2")
        assert (led.status_code, led.headers["location"]) == (303, "/sign-in?then=/cases/1%3Frow%3D2")
        for path in (
            "/",
            "/people",
            "/account",
            "/cases/1/card.pdf",
            "/papers/1",
            "/openapi.json",
            "/cases/1/plan.json",
        ):
            answer = client.get(path)
            assert answer.status_code == 303, path
            assert answer.headers["location"].startswith("/sign-in")
        for path in ("/cases", "/people", "/account", "/cases/1/try", "/sign-out"):
            assert send(client, path).status_code == 401, path
        assert client.get("/open", params={"key": "x"}).status_code == 401


def test_cookies_are_sent_over_tls_alone_and_browsers_are_told_to_stay_with_it(site):
    with browser_at(site) as client:
        answer = client.get("/sign-in")
        assert answer.headers["strict-transport-security"].startswith("max-age=31536000")
        cookie = answer.headers["set-cookie"]
        assert cookie.startswith("__Host-soakline_form=")
        for part in ("HttpOnly", "Secure", "SameSite=strict", "Path=/"):
            assert part in cookie
        assert client.get("/sign-in", headers={"host": "elsewhere.example"}).status_code == 400


def test_every_sign_in_gets_a_new_session_and_signing_out_ends_it(site, chief):
    def opens(cookies: str) -> bool:
        told = httpx.get(f"{site}/people", headers={"cookie": cookies}, verify=False)  # noqa: S501 - as browser_at
        return told.status_code == 200

    def held() -> str:
        return f"__Host-soakline_session={chief.cookies['__Host-soakline_session']}"

    first = held()
    assert opens(first)
    signed_in(chief, "chief", OWN)
    second = held()
    assert opens(second)
    assert not opens(first)
    assert send(chief, "/sign-out").headers["location"] == "/sign-in"
    assert not opens(second)


def test_a_person_sees_where_they_are_signed_in_and_signs_out_elsewhere(enter, site):
    here, name = enter("reader", "4 north")
    assert "Sign out everywhere else" not in here.get("/account").text
    with browser_at(site) as there:
        signed_in(there, name, OWN)
        shown = here.get("/account").text
        assert (shown.count(">another<"), shown.count(">this one<")) == (1, 1)
        assert send(here, "/account/others").headers["location"] == "/account"
        assert there.get("/").status_code in {303, 401}
    assert "Sign out everywhere else" not in here.get("/account").text


@pytest.mark.parametrize("then", ["//elsewhere.example", "/\\elsewhere.example", "https://elsewhere.example", "x"])
def test_signing_in_leads_to_no_other_site(enter, then):
    client, name = enter("reader", "4 north")
    assert send(client, "/sign-in", name=name, password=OWN, then=then).headers["location"] == "/"


def test_until_a_password_of_ones_own_is_chosen_nothing_else_opens(site, chief):
    told = send(chief, "/people", name="newcomer", role="reader", wards="4 north")
    first = re.search(r"shown this once: <strong><code>([^<]+)", told.text)[1]
    with browser_at(site) as client:
        signed_in(client, "newcomer", first)
        assert client.get("/").headers["location"] == "/account"
        assert "Choose your own password first" in client.get("/account").text
        weak = send(client, "/account", old=first, new="password1234")
        assert weak.status_code == 422
        assert "guessed first" in weak.text
        own_password(client, first)
        assert client.get("/").status_code == 200
    assert first not in chief.get("/people").text


def test_a_ward_sees_its_own_cases_and_who_moves_a_case_moves_it_out_of_sight(enter, case_text):
    specialist, _ = enter("specialist", every="on")
    north, _ = enter("ward", "4 north")
    south, _ = enter("ward", "5 south, 6 east")
    where = case_of(specialist, case_text.replace("Demo abdomen", "Demo of the north"), "4 north")
    assert "Demo of the north" in north.get("/").text
    assert north.get(where).status_code == 200
    assert "Demo of the north" not in south.get("/").text
    for part in ("", "/file", "/history", "/case.toml", "/plan.json", "/shift", "/layouts", "/trouble", "/measure"):
        assert south.get(f"{where}{part}").status_code == 404, part
    assert send(south, f"{where}/shift", at="2026-11-21T10:00").status_code == 404
    paper = f"/papers/{north.get(f'{where}/card.pdf') and 1}"
    assert north.get(paper).status_code == 200
    assert south.get(paper).status_code == 404
    moved = send(specialist, f"{where}/ward", ward="6 east", expected="4 north")
    assert moved.headers["location"] == where
    assert north.get(where).status_code == 404
    assert south.get(where).status_code == 200
    assert "ward named" in specialist.get(f"{where}/history").text


def test_a_case_is_put_in_a_ward_that_somebody_is_named_for(enter, case_text):
    specialist, _ = enter("specialist", "4 north")
    for ward in ("", "9 west", "5 south"):
        refused = send(specialist, "/cases", text=case_text, ward=ward)
        if ward != "5 south":
            assert refused.status_code == 422
            assert "choose one of" in refused.text
            assert "Demo abdomen" in refused.text


def test_each_role_does_what_it_is_for_and_the_record_tells_who(enter, case_text):
    specialist, author = enter("specialist", "4 north")
    ward, nurse = enter("ward", "4 north")
    reader, _ = enter("reader", "4 north")
    where = case_of(specialist, case_text, "4 north")
    sign = {"at": "2026-11-21T10:00", "sign": "none", "unit.0.canister": "300", "unit.0.colour": "clear"}
    assert send(ward, f"{where}/shift", **sign).status_code == 303
    skin = {"dressing.skin_preparation": "chlorhexidine 2 %"}
    assert send(ward, f"{where}/dressing", version="2", **skin).status_code == 303
    for client, who, path in (
        (reader, "reader", f"{where}/shift"),
        (reader, "reader", f"{where}/file"),
        (ward, "ward", f"{where}/file"),
        (ward, "ward", f"{where}/gate"),
        (ward, "ward", f"{where}/order"),
        (reader, "reader", f"{where}/dressing"),
        (ward, "ward", "/cases"),
    ):
        refused = send(client, path, text=case_text, version="1", **sign)
        assert refused.status_code == 403, path
        assert f"in the role {who}, may not" in refused.text
    history = reader.get(f"{where}/history").text
    assert author in history
    assert nurse in history


TRIED_WITHOUT_KEEPING = {
    "/cases/{case_id}/try",
    "/cases/{case_id}/try/frames",
    "/cases/{case_id}/measure",
    "/cases/{case_id}/measure/solid",
}
OF_ONESELF = {"/sign-in", "/sign-out", "/account", "/account/others"}


def test_a_reader_may_send_no_form_that_keeps_anything(enter):
    client, _ = enter("reader", "4 north")
    described = client.get("/openapi.json").json()["paths"]
    kept = {path for path, ways in described.items() if "post" in ways} - TRIED_WITHOUT_KEEPING - OF_ONESELF
    assert len(kept) > 8
    for path in sorted(kept):
        asked = re.sub(r"\{[a-z_]+\}", "1", path)
        assert send(client, asked).status_code == 403, path


def test_who_looks_after_people_sees_no_case_and_nobody_else_sees_people(chief, enter, case_text):
    specialist, _ = enter("specialist", "4 north")
    where = case_of(specialist, case_text, "4 north")
    assert chief.get(where).status_code == 404
    assert "Demo abdomen" not in chief.get("/").text
    assert specialist.get("/people").status_code == 403
    assert send(specialist, "/people", name="friend", role="administrator").status_code == 403


def test_a_person_is_changed_locked_and_given_a_new_password(site, chief, enter):
    client, name = enter("ward", "4 north")
    changed = send(chief, f"/people/{name}", version="2", role="reader", wards="4 north, 5 south")
    assert changed.status_code == 200
    assert client.get("/").status_code == 303
    assert signed_in(client, name, OWN).status_code == 303
    assert f"{name} (reader)" in client.get("/").text
    stale = send(chief, f"/people/{name}", version="2", role="ward", wards="4 north")
    assert stale.status_code == 409
    assert "Somebody changed this person" in stale.text
    locked = send(chief, f"/people/{name}", version="3", role="reader", wards="4 north", is_locked="on", renew="on")
    assert "shown this once" in locked.text
    refused = signed_in(client, name, OWN)
    assert refused.status_code == 403
    assert "or the account is locked" in refused.text
    for path in ("/people/nobody", "/people/%00"):
        assert chief.get(path).status_code == 404


def test_a_name_waits_after_five_refused_tries(enter):
    client, name = enter("reader", "4 north")
    for _ in range(5):
        assert "do not fit together" in signed_in(client, name, "wrong").text
    assert "Too many sign-ins were refused" in signed_in(client, name, OWN).text


def test_behind_a_proxy_it_alone_is_answered_and_says_for_whom(command, of_site, site):
    del site
    port = free_port()
    around = of_site | {"SOAKLINE_SITE_ADDRESS": "https://soakline.example"}
    said = {"host": "soakline.example", "x-forwarded-proto": "https", "x-forwarded-for": "10.0.0.9"}
    with serving(command, around | {"SOAKLINE_PROXY": "127.0.0.1"}, port) as process:
        process.stdout.readline()
        answer = httpx.get(f"http://127.0.0.1:{port}/sign-in", headers=said)
        assert answer.status_code == 200
        assert "Secure" in answer.headers["set-cookie"]
        assert httpx.get(f"http://127.0.0.1:{port}/sign-in").status_code == 400
    with serving(command, around | {"SOAKLINE_PROXY": "127.0.0.2"}, port) as process:
        process.stdout.readline()
        refused = httpx.get(f"http://127.0.0.1:{port}/sign-in", headers=said)
        assert (refused.status_code, refused.text) == (403, "Requests are taken from 127.0.0.2 alone.\n")


def test_the_people_are_listed_and_given_a_new_password_on_the_command_line(command, of_site, site):
    del site

    def people(*words: str) -> subprocess.CompletedProcess[str]:
        run = [*command, "people", *words]
        return subprocess.run(run, env=of_site, capture_output=True, text=True, timeout=60, check=False)

    assert "chief · administrator · no ward" in people("list").stdout
    first = add(command, of_site, "Typed", "--role", "ward", "--ward", "4 north")
    assert "typed · ward · 4 north" in people("list").stdout
    again = people("password", "typed").stdout
    assert "shown this once" in again
    assert first not in again
    for words, says in (
        (["add", "typed", "--role", "ward", "--ward", "x"], "somebody has it already"),
        (["add", "two", "--role", "ward"], "name them, or say every ward"),
        (["add", "two", "--role", "ward", "--ward", "x", "--every-ward"], "give one of them"),
        (["add", "two", "--role", "boss"], "allowed is one of specialist"),
        (["password", "nobody"], "no such person"),
    ):
        done = people(*words)
        assert done.returncode == REFUSED, words
        assert says in " ".join(done.stderr.split())


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize(("width", "height"), [(820, 1180), (1366, 900)])
def test_the_peoples_pages_can_be_used_by_everybody_with_keys_alone(browser, site, scheme, width, height):
    context = browser.new_context(
        base_url=site, ignore_https_errors=True, viewport={"width": width, "height": height}, color_scheme=scheme
    )
    page = context.new_page()
    page.goto("/people")
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible()
    assert AXE.run(page).response["violations"] == []
    page.get_by_label("Name").focus()
    for keys in ("chief", OWN):
        page.keyboard.type(keys)
        page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="People")).to_be_visible()
    for path in ("/people", "/people/chief", "/account"):
        page.goto(path)
        assert AXE.run(page).response["violations"] == [], path
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), path
    page.goto("/people")
    page.get_by_role("button", name="Sign out").press("Enter")
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible()
    context.close()
