"""A whole day from a case: what it needs, what it tells, and one row of the reach looked at again."""

import json

import numpy as np
import pytest

from soakline.casefile.read import read_case
from soakline.settings import Settings
from soakline.workflows.as_json import as_json
from soakline.workflows.one_row import curve_of_row
from soakline.workflows.plan import plan_case
from soakline.workflows.whole_day import whole_day

CASE = """
format = "soakline-case/1"
label = "A day"
purpose = "teaching"
[wound]
face = "front"
part = "trunk"
girth_cm = 100
[wound.opening]
length_cm = 6
width_cm = 6
depth_cm = 2
[[wound.undermining]]
from = 2
to = 4
reach_cm = 5
height_cm = 1.2
[[wound.undermining]]
from = 8
to = 10
reach_cm = 5
height_cm = 1.2
[[port]]
name = "I1"
kind = "instillation"
clock = 3
from_edge_cm = 4
unit = "A"
[[port]]
name = "S1"
kind = "suction"
clock = 3
from_edge_cm = 1
unit = "A"
[[unit]]
name = "A"
fill_ml = 25
fill_min = 2
dwell_min = 8
suction_min = 230
[posture]
allowed = ["left 30", "left 60"]
"""


def planned(text):
    settings = Settings.from_environment({"SOAKLINE_DRAWS": "16", "SOAKLINE_SPACING_CM": "0.5"})
    reading = read_case(text)
    assert reading.case is not None
    return reading.case, plan_case(reading.case, reading.findings, settings)


@pytest.fixture(scope="module")
def case_and_plan():
    return planned(CASE)


@pytest.fixture(scope="module")
def day(case_and_plan):
    case, plan = case_and_plan
    return whole_day(case, plan.picture)


def test_a_day_has_the_fills_that_fit_in_it_in_the_postures_in_turn(day):
    # 2 + 8 + 230 min: 6 fills in 1,440 min.
    assert [(one.posture, one.fills) for one in day.stretches] == [("left 30", 3), ("left 60", 3)]


def test_without_how_often_to_turn_the_day_says_that_it_is_not_the_shifts_order(day):
    assert any("posture.turn_every_min" in line for line in day.says)


def lain_in(day):
    return [(one.posture, one.fills, [(turn.after_min, turn.posture) for turn in one.turns]) for one in day.stretches]


def test_a_day_is_turned_as_the_shift_is():
    case, plan = planned(CASE + "turn_every_min = 240\n")
    day = whole_day(case, plan.picture)
    # A fill every 240 min, and no posture longer: turned with each fill.
    assert lain_in(day) == [(posture, 1, []) for posture in ("left 30", "left 60") * 3]
    assert any("shift's order" in line and "4 h" in line for line in day.says)
    assert "left 30 3, left 60 3" in day.says[0]


def test_a_turn_that_falls_due_in_a_soak_is_run_and_told():
    # 2 + 298 + 180 min: 3 fills; a posture lasts 200 min at most, so each soak of 300 min is turned inside.
    text = CASE.replace("dwell_min = 8", "dwell_min = 298").replace("suction_min = 230", "suction_min = 180")
    case, plan = planned(text + "turn_every_min = 200\n")
    day = whole_day(case, plan.picture)
    assert lain_in(day)[0] == ("left 30", 1, [(200.0, "left 60")])
    assert sum(one.fills for one in day.stretches) == 3
    assert any(
        line == "3 of the soaks are turned inside; the first: left 30, then left 60 after 3 h 20 min"
        for line in day.says
    )
    told = json.loads(json.dumps(as_json(day)))
    assert told["stretches"][0]["turns"] == [{"after_min": 200.0, "posture": "left 60"}]


def test_one_posture_alone_is_never_turned_inside_a_soak():
    text = CASE.replace("dwell_min = 8", "dwell_min = 298").replace(', "left 60"', "")
    case, plan = planned(text + "turn_every_min = 200\n")
    assert all(turns == [] for _, _, turns in lain_in(whole_day(case, plan.picture)))


def test_the_pocket_that_always_lies_high_is_told_as_none_today(day):
    high = next(line for line in day.says if line.startswith("floor soaked") and line.endswith("none today"))
    assert "8 to 10 o'clock" in high
    zone = next(zone for zone in day.zones if zone.zone == "9 o'clock, deepest third")
    assert zone.floor_soaked_min.high < 1.0
    low = next(zone for zone in day.zones if zone.zone == "3 o'clock, deepest third")
    assert 10.0 < low.floor_soaked_min.low <= low.floor_soaked_min.high <= 60.0


def test_every_figure_is_a_range_and_the_whole_is_labelled_exploratory(day):
    assert day.exploratory.startswith("exploratory")
    assert 0.0 <= day.stays_ml.low < day.stays_ml.high
    assert all(0.0 <= zone.new_share.low <= zone.new_share.high <= 1.0 for zone in day.zones)
    assert all(zone.floor_soaked_min.low <= zone.floor_moist_min.high for zone in day.zones)


def test_the_json_of_a_day_holds_no_map(day):
    told = json.loads(json.dumps(as_json(day)))
    assert "map" not in told
    assert set(told["zones"][0]["floor_soaked_min"]) == {"low", "high", "likely"}


def test_a_plan_that_was_not_asked_for_a_day_holds_none(case_and_plan):
    assert case_and_plan[1].day is None


@pytest.mark.parametrize(
    ("gone", "says"),
    [
        ('[[port]]\nname = "S1"\nkind = "suction"\nclock = 3\nfrom_edge_cm = 1\nunit = "A"\n', "no suction port"),
        ("suction_min = 230\n", "suction_min"),
        ("fill_min = 2\n", "too little known"),
        ("fill_ml = 25\n", "too little known"),
    ],
)
def test_without_what_it_needs_no_day_is_told_and_why(gone, says):
    case, plan = planned(CASE.replace(gone, ""))
    assert says in whole_day(case, plan.picture)


def test_the_curve_of_a_row_goes_through_its_shares(case_and_plan):
    _, plan = case_and_plan
    curve = curve_of_row(plan.picture, 0)
    assert np.interp(25.0, curve.fill_ml, curve.floor_share) == pytest.approx(plan.reach[0].floor.soaked, abs=0.02)


@pytest.mark.parametrize("row", [-1, 99])
def test_a_row_that_is_not_there_has_no_curve(case_and_plan, row):
    assert curve_of_row(case_and_plan[1].picture, row) is None
