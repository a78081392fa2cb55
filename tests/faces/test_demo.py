"""The demo story: one invented case from the first call to the closed wound, each text readable, its log whole."""

import re
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from playwright.sync_api import expect

from soakline.casefile.differences import differences
from soakline.casefile.read import read_case
from soakline.faces.web.answers import Answers
from soakline.faces.web.attention import needs_of
from soakline.faces.web.demo import WRITTEN_H_AGO, demo_cases, demo_stories, moved_to
from soakline.guard.foam import reconcile
from soakline.record.cases import find_case, import_demo, list_cases, list_versions
from soakline.record.log import list_entries
from soakline.record.opening import open_record
from soakline.record.verify import verify_record
from soakline.settings import Settings
from soakline.workflows.closing import left_open

EXAMPLES = Path(__file__).parents[2] / "examples"
NOW = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
(STORY,) = demo_stories(EXAMPLES)
TEXTS = [version.new.text for version in STORY.versions]
CASES = [read_case(text).case for text in TEXTS]


@pytest.fixture(scope="module")
def answers():
    return Answers(Settings.from_environment({"SOAKLINE_DRAWS": "16"}))


@pytest.fixture
def record(tmp_path):
    opened = open_record(f"sqlite:///{tmp_path / 'demo.db'}")
    import_demo(opened, demo_cases(EXAMPLES, NOW), NOW, [STORY])
    yield opened
    opened.dispose()


@pytest.mark.parametrize("number", range(len(TEXTS)))
def test_each_text_of_the_story_is_answered_without_an_error(answers, number):
    said = answers.at_a_glance(TEXTS[number])
    assert said.plan is not None
    assert [found for found in said.findings if found.level == "refuse"] == []
    # What is asked belongs to the story: from the end of therapy on, whether the unit is still off.
    asked = [found.where for found in said.findings if found.level == "ask"]
    assert asked == (["log.21.until"] if number >= 12 else [])


def test_the_story_goes_from_a_shut_gate_over_therapy_to_a_wound_that_leaves_nothing_open(answers):
    plans = [answers.at_a_glance(text).plan for text in TEXTS]
    assert [plan.gate.state for plan in plans] == ["shut", *["open"] * (len(plans) - 1)]
    assert left_open(CASES[-1], plans[-1]) == ()
    assert STORY.closing.left_open == ()
    units = [bool(case.unit) for case in CASES]
    assert units == [False, False, *[True] * (len(units) - 2)]
    assert max(len(case.change) for case in CASES) == 3
    assert {entry.kind for entry in CASES[-1].log} >= {"instilled", "canister", "alarm", "pause", "restart"}


def test_the_pocket_shrinks_from_measure_to_measure_and_the_fill_with_it():
    reaches = [max((entry.reach_cm for entry in case.wound.undermining), default=0.0) for case in CASES]
    assert reaches == sorted(reaches, reverse=True)
    assert (reaches[0], reaches[-1]) == (6.0, 0.0)
    assert [fill for fill, _ in _runs(case.unit[0].fill_ml for case in CASES if case.unit)] == [50, 40, 20, None]


def test_foam_is_counted_out_at_each_change_and_nothing_is_ever_lost():
    assert all(reconcile(case.foam, case.foam_count).state == "matched" for case in CASES)
    inside = [[piece.name for piece in reconcile(case.foam, case.foam_count).inside] for case in CASES]
    assert [names for names, _ in _runs(inside)] == [
        [],
        ["A1", "A2", "C1"],
        ["B1", "B2", "C2"],
        ["D1", "D2", "C3"],
        [],
    ]


def test_each_text_says_something_new_and_was_saved_after_what_it_tells():
    for before, after in pairwise(TEXTS):
        assert differences(before, after)
    moments = [*(version.at for version in STORY.versions), STORY.closed_at]
    assert moments == sorted(set(moments))
    assert timedelta(days=13) < moments[-1] - moments[0] < timedelta(days=15)
    for version, case in zip(STORY.versions, CASES, strict=True):
        told = [case.recorded_at, *(entry.at for entry in case.log), *(change.at for change in case.change)]
        assert max(told) <= version.at.replace(tzinfo=None)


def test_the_record_holds_the_story_as_a_chain_that_verifies_and_no_clock_goes_back(record):
    story = next(kept for kept in list_cases(record) if kept.closing)
    assert list_versions(record, story.id) == tuple(TEXTS)
    entries = list_entries(record, story.id)
    assert [entry.at for entry in entries] == [*(version.at for version in STORY.versions), STORY.closed_at]
    assert all(entry.who.startswith("invented: ") for entry in entries)
    assert (story.origin, story.closing.kind) == ("demo", "wound closed")
    found = verify_record(record)
    assert (found.broken, found.backward) == ((), 0)
    assert {entry.who for kept in list_cases(record)[1:] for entry in list_entries(record, kept.id)} == {
        "this computer"
    }


def test_a_story_with_a_text_that_cannot_be_read_is_left_out(tmp_path):
    folder = tmp_path / "story"
    folder.mkdir()
    (folder / "one.toml").write_text("not = a case")
    step = '[[version]]\nfile = "one.toml"\nat = 2026-10-02T20:25:00+02:00\nwho = "invented: nobody"\n'
    (folder / "story.toml").write_text(step + "[closed]\nat = 2026-10-03T20:25:00+02:00\n")
    assert demo_stories(tmp_path) == []


def test_a_second_start_tells_the_story_only_once(record):
    assert import_demo(record, demo_cases(EXAMPLES, NOW), NOW, [STORY]) == 0
    assert find_case(record, 1).version_id == len(TEXTS)


def test_the_newest_entry_of_a_moved_case_is_as_many_hours_old_as_it_should_be_on_any_day():
    files = {file: file.read_text("utf-8") for file in map(EXAMPLES.joinpath, WRITTEN_H_AGO)}
    for day in range(0, 365, 30):
        now = NOW + timedelta(days=day)
        texts = {new.label: new.text for new in demo_cases(EXAMPLES, now)}
        for file, written in files.items():
            case = read_case(written).case
            newest = max(re.findall(r"= (2\d{3}-\S+T\S+)", texts[case.label]))
            old = now - datetime.fromisoformat(newest).replace(tzinfo=ZoneInfo(case.time_zone))
            assert timedelta(0) <= old - timedelta(hours=WRITTEN_H_AGO[file.name]) < timedelta(hours=1)


def test_moving_a_case_changes_its_times_alone_and_none_against_another():
    text = (EXAMPLES / "back.toml").read_text("utf-8")
    moved = moved_to(text, datetime(2031, 3, 4, 5, 6))
    changed = differences(text, moved)
    times = [datetime.fromisoformat(value) for one in changed for value in (one.before, one.after)]
    apart = {after - before for before, after in zip(times[::2], times[1::2], strict=True)}
    assert len(changed) == len(re.findall(r"= 2026-", text))
    assert len(apart) == 2, "moments by whole hours, days by whole days"
    assert max(time for time in times if time.hour) <= datetime(2031, 3, 4, 5, 6)
    assert moved_to(moved, datetime(2026, 11, 12, 11)) == text


def test_a_caseload_just_brought_in_shows_overdue_due_and_neither(answers):
    told = [[need.sign for need in needs_of(answers.at_a_glance(new.text), NOW)] for new in demo_cases(EXAMPLES, NOW)]
    assert sum("overdue" in signs for signs in told) >= 2
    assert sum("due" in signs for signs in told) >= 2
    assert sum(not {"due", "overdue"} & set(signs) for signs in told) >= 2


def test_a_case_that_tells_of_one_night_keeps_its_days():
    night = (EXAMPLES / "night-the-clocks-go-back.toml").read_text("utf-8")
    assert night in [new.text for new in demo_cases(EXAMPLES, NOW + timedelta(days=200))]


def test_the_history_page_shows_the_story(page):
    page.set_default_timeout(60_000)
    page.goto("/cases/closed")
    page.get_by_role("link", name="Demo from first call to closed wound").click()
    expect(page.get_by_role("region", name="This case is closed")).to_contain_text("closed by suture in theatre")
    page.get_by_role("link", name="History").click()
    log = page.get_by_role("region", name="Entries of the log", exact=True)
    expect(log.get_by_role("row").filter(has_text="case added, version 1")).to_contain_text("02 Oct 2026, 18:25 UTC")
    expect(log.get_by_role("row").filter(has_text="version 6")).to_contain_text("leak alarm at a turn to the left")
    expect(log.get_by_role("row").filter(has_text="version 9")).to_contain_text("unit.0.fill_ml: 50 → 40")
    expect(log.get_by_role("row").filter(has_text="case closed")).to_contain_text("invented: wound nurse")


def test_the_history_shows_how_the_size_went_with_its_table(page):
    page.set_default_timeout(60_000)
    page.goto("/cases/1/history")
    expect(page.get_by_role("img", name="The size from one measuring to the next")).to_be_visible()
    rows = page.get_by_role("region", name="The size at each measuring").get_by_role("row")
    # Heading, the call with its gate shut, and five measurings.
    expect(rows).to_have_count(7)
    expect(rows.nth(1)).to_contain_text("not told")
    expect(rows.nth(2)).to_contain_text(re.compile(r"about \d+ mL, \d+–\d+"))
    expect(rows.nth(6)).to_contain_text("9 cm²")


def _runs(values):
    """Give each value that differs from the one before, with how often it stands."""
    runs = []
    for value in values:
        if runs and runs[-1][0] == value:
            runs[-1][1] += 1
        else:
            runs.append([value, 1])
    return runs
