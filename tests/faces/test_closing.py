"""A case is closed at its page with the reason, never over what is not resolved unsaid, and opened again."""

import re

import pytest
from playwright.sync_api import expect
from tests.faces.test_pages import saved, sent

from soakline.workflows.closing import left_open

PIECE = """
[[foam]]
name = "A1"
kind = "foam"
place = "left pocket"
placed_at = 2026-11-20T13:30:00
state = "{state}"
"""
OUT = PIECE.format(state="out whole") + "out_at = 2026-11-23T09:00:00\n"


def closed(client, address: str, token: str, version: int = 1, **typed: str):
    fields = {"kind": "wound closed", "says": "sutured in theatre", "by_role": "wound nurse", "standing": "", **typed}
    files = {name: (None, value) for name, value in {"token": token, "version": str(version), **fields}.items()}
    return client.post(f"{address}/close", files=files)


@pytest.fixture
def resolved(client, token, case_text) -> str:
    """The address of a case whose foam is out and counted, its gate open, under a label of its own."""
    answer = client.post("/cases", files=sent(token, case_text.replace("Demo abdomen", "Demo to be closed") + OUT))
    assert answer.status_code == 303
    return answer.headers["location"]


def test_a_case_is_closed_and_reopened_at_its_page(page, client, token, case_text):
    text = case_text.replace("Demo abdomen", "Demo closed by hand") + OUT
    address = client.post("/cases", files=sent(token, text)).headers["location"]
    page.set_default_timeout(60_000)
    page.goto(address)
    page.get_by_role("link", name="Close the case").click()
    expect(page.get_by_text("Not resolved in this case")).to_have_count(0)
    page.get_by_label("Reason").select_option("other dressing")
    page.get_by_label("In words").fill("gauze from today; the district nurse goes on")
    page.get_by_label("By (role").fill("wound nurse")
    page.get_by_role("button", name="Close the case").click()
    banner = page.get_by_role("region", name="This case is closed")
    expect(banner).to_contain_text("Other dressing: gauze from today; the district nurse goes on. By: wound nurse.")
    expect(page.get_by_role("link", name="Bedside card")).to_have_count(0)
    page.goto("/")
    expect(page.get_by_role("link", name="Demo closed by hand")).to_have_count(0)
    page.get_by_role("link", name=re.compile(r"^\d+ closed$")).click()
    expect(page.get_by_role("row").filter(has_text="Demo closed by hand")).to_contain_text("gauze from today")
    page.goto("/?sought=closed+by+hand")
    expect(page.get_by_role("row").filter(has_text="Demo closed by hand")).to_contain_text("closed: Other dressing")
    page.get_by_role("link", name="Demo closed by hand").click()
    page.get_by_role("link", name="Reopen", exact=True).click()
    page.get_by_label("Why it is opened again").fill("the edge came apart")
    page.get_by_label("By (role").fill("surgeon")
    page.get_by_role("button", name="Reopen the case").click()
    expect(page.get_by_role("link", name="Bedside card")).to_be_visible()
    page.goto(f"{address}/history")
    log = page.get_by_role("region", name="Entries of the log", exact=True)
    expect(log).to_contain_text("case reopened at version 1: the edge came apart; by: surgeon")
    expect(log).to_contain_text("case closed at version 1: other dressing: gauze from today")


@pytest.mark.parametrize(
    ("more", "without", "says"),
    [
        (PIECE.format(state="not found"), "", "foam count unresolved: "),
        (PIECE.format(state="in"), "", "foam still written as inside: A1"),
        ("", "", "no piece of foam was ever entered: it is not known what lies inside"),
        (OUT, 'malignancy = "no"', "not answered, not answered for"),
    ],
)
def test_what_is_not_resolved_is_said_and_never_closed_over_silently(client, token, case_text, more, without, says):
    text = case_text.replace(without, "") if without else case_text
    address = client.post("/cases", files=sent(token, text + more)).headers["location"]
    assert says in client.get(f"{address}/close").text
    refused = closed(client, address, token)
    assert refused.status_code == 422
    assert "tick that it is known" in refused.text
    assert closed(client, address, token, known="yes", says="").status_code == 422
    assert "This case is closed" not in client.get(address).text
    assert closed(client, address, token, known="yes").status_code == 303
    assert says in client.get(address).text
    assert says in client.get(f"{address}/history").text


def test_a_file_that_is_refused_is_said_to_hide_foam_and_gate():
    assert left_open(None, None) == ("the case file is refused: neither foam nor gate could be looked at",)


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ({"kind": ""}, "no reason chosen"),
        ({"kind": "other", "says": ""}, "no words"),
        ({"by_role": ""}, "nobody named"),
    ],
)
def test_a_case_is_not_closed_without_its_reason(client, token, resolved, typed, says):
    refused = closed(client, resolved, token, **typed)
    assert refused.status_code == 422
    assert says in refused.text
    assert "This case is closed" not in client.get(resolved).text


def test_a_case_that_somebody_saved_or_closed_meanwhile_is_not_closed(client, token, resolved, case_text):
    assert saved(client, resolved, token, case_text.replace("Demo abdomen", "Demo to be closed"), 1).status_code == 303
    stale = closed(client, resolved, token, version=1, known="yes")
    assert stale.status_code == 409
    assert "sutured in theatre" in stale.text
    assert closed(client, resolved, token, version=2, known="yes").status_code == 303
    assert closed(client, resolved, token, version=2, known="yes").status_code == 409


def test_nothing_is_saved_into_a_closed_case_and_no_card_is_printed(client, token, resolved, case_text):
    assert client.get(f"{resolved}/card.pdf").status_code == 200
    assert closed(client, resolved, token).status_code == 303
    mine = saved(client, resolved, token, case_text + "# typed meanwhile\n", 1)
    assert mine.status_code == 409
    assert "# typed meanwhile" in mine.text
    assert "Not saved: the case is closed" in mine.text
    look = {
        "token": token,
        "at": "2026-11-21T07:00",
        "unit.0.canister": "430",
        "unit.0.colour": "clear",
        "sign": "none",
    }
    written = client.post(f"{resolved}/shift", files={name: (None, value) for name, value in look.items()})
    assert written.status_code == 409
    assert 'value="430"' in written.text
    assert client.get(f"{resolved}/card.pdf").status_code == 409
    answer = {"token": token, "version": "1", "gate.allergies": "yes"}
    answered = client.post(f"{resolved}/gate", files={name: (None, value) for name, value in answer.items()})
    assert answered.status_code == 409
    assert "allergies = &#34;yes&#34;" in answered.text
    questions = ("/gate", "/order", "/dressing", "/patient")
    for way in (*questions, "", "/file", "/shift", "/change", "/trouble", "/history", "/case.toml", "/plan.json"):
        opened = client.get(f"{resolved}{way}")
        assert opened.status_code == 200
        assert "This case is closed" in opened.text or way in {"/case.toml", "/plan.json"}
