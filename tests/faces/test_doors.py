"""What a request passes on its way: who may ask, what may be sent, and what a browser may do with the answer."""

import re

import pytest

PAGES = ["/", "/cases/new", "/about", "/cases/1", "/cases/1/file"]


def sent(token: str, text: str, **more: str) -> dict[str, tuple[None, str]]:
    return {name: (None, value) for name, value in {"token": token, "text": text, **more}.items()}


@pytest.mark.parametrize("path", [*PAGES, "/nothing-here", "/static/style.css", "/cases/1/plan.json"])
def test_every_answer_tells_the_browser_to_fetch_nothing_from_outside(client, path):
    headers = client.get(path).headers
    policy = headers["content-security-policy"]
    assert policy.startswith("default-src 'none'")
    assert "unsafe" not in policy
    assert "frame-ancestors 'none'" in policy
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "no-referrer"
    assert headers["cross-origin-opener-policy"] == "same-origin"


def test_words_of_a_case_are_shown_as_words_and_never_as_a_part_of_the_page(client, token, case_text):
    planted = "<script>alert(1)</script>"
    text = re.sub(r'^label = ".*"', f'label = "{planted}"', case_text, count=1, flags=re.MULTILINE)
    kept = client.post("/cases", files=sent(token, text))
    assert kept.status_code == 303
    for path in ("/", kept.headers["location"], f"{kept.headers['location']}/file"):
        shown = client.get(path).text
        assert planted not in shown
        assert "&lt;script&gt;" in shown


def test_a_page_is_not_left_in_the_browsers_store(client):
    assert client.get("/cases/1").headers["cache-control"] == "no-store"


def test_the_server_listens_on_this_computer_alone_and_to_its_own_name(client, server):
    assert server.startswith("http://127.0.0.1:")
    assert client.get("/", headers={"host": "elsewhere.example"}).status_code == 400


def test_every_address_is_described_with_its_answers_and_no_page_fetches_the_description_from_outside(client):
    described = client.get("/openapi.json").json()["paths"]
    assert described["/cases"]["post"]["requestBody"]["content"]["multipart/form-data"]["schema"]["required"] == [
        "token"
    ]
    assert list(described["/cases/{case_id}/card.pdf"]["get"]["responses"]["200"]["content"]) == ["application/pdf"]
    assert {"303", "403", "409", "422"} <= set(described["/cases/{case_id}/file"]["post"]["responses"])
    told = {(path, way): says for path, ways in described.items() for way, says in ways.items()}
    assert [which for which, says in told.items() if "500" in says["responses"]] == []
    assert [which for which, says in told.items() if which[1] == "post" and "requestBody" not in says] == []
    for path in ("/docs", "/redoc"):
        assert client.get(path).status_code == 404


def test_an_address_used_in_a_wrong_way_names_the_ways_it_can_be_used_in(client):
    answer = client.request("DELETE", "/healthz")
    assert (answer.status_code, answer.headers["allow"]) == (405, "GET")


def test_healthz_counts_the_cases(client):
    assert client.get("/healthz").json()["cases"] >= 1


def test_a_form_of_this_browser_is_taken(client, token, case_text):
    assert client.post("/cases", files=sent(token, case_text)).status_code == 303


@pytest.mark.parametrize(
    "headers",
    [
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
        {"origin": "https://elsewhere.example"},
        {"origin": "null"},
    ],
)
def test_a_form_from_another_site_is_refused_and_keeps_nothing(client, token, case_text, headers):
    before = client.get("/healthz").json()["cases"]
    answer = client.post("/cases", files=sent(token, case_text), headers=headers)
    assert answer.status_code == 403
    assert "nothing was changed" in answer.text
    assert client.get("/healthz").json()["cases"] == before


def test_a_form_without_this_browsers_token_is_refused(client, token, case_text):
    assert client.post("/cases", files=sent("guessed", case_text)).status_code == 403
    client.cookies.delete("soakline_form")
    assert client.post("/cases", files=sent(token, case_text)).status_code == 403
    assert client.post("/cases", files=sent("", case_text)).status_code == 403


def test_the_cookie_stays_with_this_site_and_out_of_scripts(client):
    cookie = client.get("/").headers["set-cookie"]
    assert "SameSite=strict" in cookie
    assert "HttpOnly" in cookie


def test_more_than_a_case_file_can_hold_is_refused_before_it_is_read(client, token):
    answer = client.post("/cases", files=sent(token, "# " + "x" * 1_100_000))
    assert answer.status_code == 413
    assert "Too large" in answer.text


def test_the_same_sent_in_pieces_without_its_length_is_refused_too(client, token):
    def pieces():
        yield b'--cut\r\ncontent-disposition: form-data; name="text"\r\n\r\n'
        for _ in range(40):
            yield b"x" * 50_000
        yield b"\r\n--cut--\r\n"

    headers = {"content-type": "multipart/form-data; boundary=cut"}
    assert client.post("/cases", content=pieces(), headers=headers).status_code == 413


@pytest.mark.parametrize(
    ("path", "status", "says"),
    [
        ("/nothing-here", 404, "There is nothing at this address"),
        ("/static/nothing.css", 404, "There is nothing at this address"),
        ("/cases/99999", 404, "There is nothing at this address"),
        ("/cases/99999999999999999999999", 404, "There is nothing at this address"),
        ("/cases/-1", 404, "There is nothing at this address"),
        ("/cases/first", 422, "a word where a number belongs"),
        ("/cases/1?row=first", 422, "a word where a number belongs"),
        ("/cases/1?surface=wall", 422, "a word where a number belongs"),
        ("/cases/1/reach.svg?row=999", 404, "There is nothing at this address"),
    ],
)
def test_an_address_that_leads_nowhere_is_a_page_in_words(client, path, status, says):
    answer = client.get(path)
    assert answer.status_code == status
    assert says in answer.text
    assert "List of cases" in answer.text


def test_a_way_of_asking_that_is_not_offered_is_a_page_in_words(client):
    answer = client.delete("/cases/1")
    assert answer.status_code == 405
    assert "cannot be used in that way" in answer.text


@pytest.mark.parametrize("body", [b"", b"--cut", b'--cut\r\ncontent-disposition: form-data; name="te', b"\xff" * 100])
def test_a_form_that_cannot_be_read_is_refused_in_words(client, body):
    headers = {"content-type": "multipart/form-data; boundary=cut"}
    answer = client.post("/cases", content=body, headers=headers)
    assert answer.status_code in {400, 403}
    assert "Traceback" not in answer.text
    assert "List of cases" in answer.text
