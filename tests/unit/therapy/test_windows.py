"""What the windows say when a piece is missing, and when the clock itself is in doubt."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from soakline.therapy.cycle import Exudate, TherapyUnit
from soakline.therapy.windows import bag_times, canister_times, check_windows, say_time
from soakline.units import Range

OSLO = ZoneInfo("Europe/Oslo")
FULL = TherapyUnit(
    "B",
    fill_ml=60,
    fill_min=2,
    dwell_min=8,
    suction_min=170,
    canister_ml=500,
    bag_ml=500,
    priming_ml=15,
    started_at=datetime(2026, 11, 20, 19),
)
RATE = Range(15, 25, 40)
EXUDATE = Exudate(RATE)


def canister(unit, rate=RATE, zone="Europe/Oslo"):
    return canister_times(unit, rate, planned_share=0.9, time_zone=zone)


def said(unit, exudate=EXUDATE, zone="Europe/Oslo"):
    return [(f.level, f.where, f.says) for f in check_windows([unit], exudate, zone)]


def test_nothing_is_missing_from_a_whole_unit():
    assert said(FULL) == []


@pytest.mark.parametrize(
    ("entry", "word"),
    [
        ("started_at", "start"),
        ("canister_ml", "canister"),
        ("fill_ml", "a whole cycle with its fill"),
        ("fill_min", "a whole cycle with its fill"),
        ("dwell_min", "a whole cycle with its fill"),
        ("suction_min", "a whole cycle with its fill"),
    ],
)
def test_a_missing_piece_gives_no_canister_window_and_is_named(entry, word):
    unit = replace(FULL, **{entry: None})
    assert canister(unit) is None
    assert ("note", "unit.0", f"unit B: no canister window; missing: {word}") in said(unit)


def test_missing_exudate_gives_no_canister_window_and_is_named():
    assert canister(FULL, rate=None) is None
    assert said(FULL, Exudate()) == [("note", "unit.0", "unit B: no canister window; missing: exudate")]


@pytest.mark.parametrize(("entry", "word"), [("bag_ml", "solution bag"), ("priming_ml", "priming volume")])
def test_a_missing_piece_gives_no_bag_window_and_is_named(entry, word):
    unit = replace(FULL, **{entry: None})
    assert bag_times(unit, "Europe/Oslo") is None
    assert said(unit) == [("note", "unit.0", f"unit B: no bag window; missing: {word}")]


def test_no_time_zone_gives_no_clock_times_and_is_named():
    assert canister(FULL, zone=None) is None
    assert said(FULL, zone=None) == [
        ("note", "unit.0", "unit B: no canister window; missing: time zone"),
        ("note", "unit.0", "unit B: no bag window; missing: time zone"),
    ]


def test_a_start_that_the_clocks_jump_over_is_asked_about():
    unit = replace(FULL, started_at=datetime(2026, 3, 29, 2, 30))
    assert canister(unit) is None
    ((level, where, says),) = said(unit)
    assert (level, where) == ("ask", "unit.0.started_at")
    assert says.startswith("02:30 does not exist on that night")


def test_a_start_that_comes_twice_is_asked_about_and_reckoned_from_the_first():
    unit = replace(FULL, started_at=datetime(2026, 10, 25, 2, 30))
    ((level, where, says),) = said(unit)
    assert (level, where) == ("ask", "unit.0.started_at")
    assert "comes twice" in says
    first = datetime(2026, 10, 25, 0, 30, tzinfo=UTC)
    assert canister(unit).due.astimezone(UTC) == first + timedelta(minutes=550)


def test_exudate_without_a_range_is_said_to_give_no_width():
    times = canister(FULL, rate=25)
    assert times.earliest == times.due == times.latest
    assert "no width" in times.says
    assert [(level, where) for level, where, _ in said(FULL, Exudate(25))] == [("note", "exudate.ml_per_h")]


def test_units_that_do_not_add_up_to_the_whole_wound_are_asked_about():
    units = [replace(FULL, exudate=Exudate(Range(5, 10, 15))), replace(FULL, name="C")]
    findings = check_windows(units, Exudate(Range(30, 50, 80)), "Europe/Oslo")
    assert [(f.level, f.where) for f in findings] == [("ask", "exudate.ml_per_h")]
    assert "35 mL/h between them, the whole wound gives 50" in findings[0].says


def test_units_that_add_up_are_not_asked_about():
    units = [replace(FULL, exudate=Exudate(Range(15, 25, 40))), replace(FULL, name="C")]
    assert check_windows(units, Exudate(Range(30, 50, 80)), "Europe/Oslo") == ()


def test_a_dry_wound_is_due_by_returns_alone():
    # 450 / 60 = 7.5: the eighth return, 10 + 7 × 180 = 1270 min
    assert canister(FULL, rate=0).due_min == 1270


def test_a_sum_typed_in_tenths_is_not_a_cycle_late():
    # 0.9 × 300 = 270 = 9 returns of 30 exactly; binary rounding must not make it ten
    unit = replace(FULL, canister_ml=300, fill_ml=30)
    assert canister(unit, rate=0).due_min == 10 + 8 * 180


def test_a_bag_smaller_than_one_fill_gives_no_cycle():
    bag = bag_times(replace(FULL, bag_ml=70), "Europe/Oslo")
    assert (bag.cycle_count, bag.short_ml, bag.short_min) == (0, 5, 0)
    assert bag.says == "0 whole cycles; fill 1, at 19:00, is 5 mL short"


def test_a_bag_used_to_the_last_drop_falls_a_whole_fill_short():
    bag = bag_times(replace(FULL, bag_ml=495), "Europe/Oslo")
    assert (bag.cycle_count, bag.short_ml) == (8, 60)


def test_priming_beyond_the_bag_gives_no_window():
    assert bag_times(replace(FULL, bag_ml=10), "Europe/Oslo") is None


def test_the_sums_read_as_on_paper():
    rows = [*canister(FULL).sums, *bag_times(FULL, "Europe/Oslo").sums]
    assert [f"{row.what}: {row.working} = {row.result}" for row in rows] == [
        "canister at 01:45 with 40 mL/h of exudate: 3 × 60 + 40 × 6.75 h = 450 mL (90 % of 500 is 450)",
        "canister at 04:10 with 25 mL/h of exudate: 4 × 60 + 25 × 9.17 h = 469 mL (90 % of 500 is 450)",
        "canister at 07:10 with 15 mL/h of exudate: 5 × 60 + 15 × 12.17 h = 482 mL (90 % of 500 is 450)",
        "whole fills in the bag: (500 − 15) ÷ 60 = 8, and 5 mL left",
        "short at fill 9, 19:00 on 21 Nov: 60 − 5 = 55 mL",
    ]


def test_a_time_that_comes_twice_says_which():
    start = datetime(2026, 10, 24, 19, tzinfo=OSLO)
    first, second = (datetime(2026, 10, 25, 2, 30, tzinfo=OSLO, fold=fold) for fold in (0, 1))
    assert say_time(first, start) == "02:30 (the first of that night)"
    assert say_time(second, start) == "02:30 (the second of that night)"


def test_a_time_a_day_on_carries_its_date():
    start = datetime(2026, 11, 20, 19, tzinfo=OSLO)
    assert say_time(datetime(2026, 11, 21, 18, 59, tzinfo=OSLO), start) == "18:59"
    assert say_time(datetime(2026, 11, 21, 19, 0, tzinfo=OSLO), start) == "19:00 on 21 Nov"
