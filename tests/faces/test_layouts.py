"""Searching layouts from the page: started, followed, stopped; with and without scripts."""

from threading import Event

import pytest

from soakline.faces.web import searches
from soakline.faces.web.answers import Answered, Answers
from soakline.layout.search import Standing
from soakline.settings import Settings


def test_a_search_is_started_followed_and_stopped(client, token, kept_case):
    sent = {"token": (None, token)}
    assert "Search layouts" in client.get(kept_case).text
    assert client.post(f"{kept_case}/layouts", files=sent).headers["location"] == f"{kept_case}/layouts"
    followed = client.get(f"{kept_case}/layouts").text
    assert "<progress" in followed
    # Without scripts the page loads itself anew.
    assert '<noscript><meta http-equiv="refresh"' in followed
    assert "Follow the search" in client.get(kept_case).text
    assert client.post(f"{kept_case}/layouts/stop", files=sent).status_code == 303
    assert "<progress" not in client.get(f"{kept_case}/layouts").text


@pytest.mark.parametrize("path", ["layouts", "layouts/stop"])
def test_only_a_form_of_this_application_starts_or_stops(client, kept_case, path):
    assert client.post(f"{kept_case}/{path}", files={"token": (None, "another")}).status_code == 403


def test_a_case_that_is_not_there_has_no_layouts(client):
    assert client.get("/cases/999999/layouts").status_code == 404


@pytest.fixture
def waiting(monkeypatch):
    """A search that has told its first standing and waits to go on."""
    told, go_on = Event(), Event()

    def answer(_text, _settings, asked):
        asked.told(Standing(0.25, 1, 7, (("floor soaked", "at 3"), ("floor wetted", "at 9"))))
        told.set()
        go_on.wait(10)
        asked.told(Standing(0.5, 2, 7, ()))
        return Answered(None, None, ())

    monkeypatch.setattr(searches, "answer_with", answer)
    return told, go_on


def until(said):
    for _ in range(200):
        if said():
            return True
        Event().wait(0.05)
    return False


def test_what_a_search_finds_takes_the_place_of_the_kept_answer(waiting):
    told, go_on = waiting
    answers = Answers(Settings.from_environment())
    running = searches.Searches(Settings.from_environment(), answers)
    running.start("text")
    assert told.wait(10)
    standing = running.running("text")
    assert (standing.percent, "wets most: at 9" in standing.says) == (25, True)
    go_on.set()
    assert until(lambda: running.running("text") is None)
    assert answers.to("text").findings == ()


def test_a_stopped_search_leaves_the_answer_as_it_was(waiting):
    told, go_on = waiting
    answers = Answers(Settings.from_environment())
    answers.keep("text", Answered(None, None, ("kept",)))
    running = searches.Searches(Settings.from_environment(), answers)
    running.start("text")
    assert told.wait(10)
    running.stop("text")
    assert running.running("text") is None
    go_on.set()
    Event().wait(0.2)
    assert answers.to("text").findings == ("kept",)
