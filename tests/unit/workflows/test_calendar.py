"""The calendar file, read back by the library that others read it with."""

import itertools
from datetime import UTC, datetime

import pytest
from icalendar import Calendar

from soakline.papers.calendar import make_calendar
from soakline.settings import Settings
from soakline.workflows.plan import Asked, plan_text

CASE = """
format = "soakline-case/1"
label = "Demo; night, with commas"
purpose = "teaching"
time_zone = "Europe/Oslo"
[posture]
allowed = ["supine", "left 30"]
turn_every_min = 120
[[unit]]
name = "A"
fill_ml = 60
fill_min = 2
dwell_min = 8
suction_min = 170
canister_ml = 500
bag_ml = 500
priming_ml = 15
started_at = 2026-10-24T19:00:00
[exudate]
ml_per_h = { low = 15, likely = 25, high = 40 }
"""
PRINTED = datetime(2026, 10, 24, 18, tzinfo=UTC)


@pytest.fixture(scope="module")
def plan():
    return plan_text(CASE, Settings.from_environment({"SOAKLINE_PAIN_CHECK_H": "8"}), Asked(models=()))


@pytest.fixture(scope="module")
def events(plan):
    return Calendar.from_ical(make_calendar(plan.label, plan.therapy.next_day, PRINTED)).walk("VEVENT")


def test_each_turn_change_and_pain_check_is_one_event_and_no_fill_is(plan, events):
    rows = [r for s in plan.therapy.next_day.shifts for r in s.rows if r.what not in {"fill", "suction"}]
    assert {"turn", "canister", "pain check"} <= {row.what for row in rows}
    assert sorted(e.decoded("dtstart").timestamp() for e in events) == sorted(row.at.timestamp() for row in rows)
    assert not any("fill" in str(e["summary"]) and "comes back" in str(e["summary"]) for e in events)


def test_the_label_comes_back_as_written(events):
    assert all(str(event["summary"]).startswith("Demo; night, with commas: ") for event in events)


def test_no_two_events_have_one_name_and_each_is_marked_a_draft(events):
    assert len({str(event["uid"]) for event in events}) == len(events)
    assert all("Not an order until signed" in str(event["description"]) for event in events)


def test_no_two_moments_of_the_hour_that_comes_twice_fall_together(plan, events):
    # Turns every 120 min from 19:00 pass through both readings of 02:30 in elapsed time: 120 min apart each.
    turns = sorted(e.decoded("dtstart").timestamp() for e in events if "turn" in str(e["summary"]))
    gaps = [(b - a) / 60 for a, b in itertools.pairwise(turns)]
    assert max(gaps) <= 120
    assert min(gaps) > 0
