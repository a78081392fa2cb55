"""The night, redone by hand (``worked.night``): two units, canisters of 1000 and 500 mL, a bag of 500 mL."""

from dataclasses import replace
from datetime import datetime
from zoneinfo import ZoneInfo

import pytest

from soakline.therapy.cycle import Exudate, TherapyUnit, cycles_per_day, period_min, solution_ml_per_day
from soakline.therapy.windows import bag_times, canister_times, share_exudate
from soakline.units import Range

OSLO = ZoneInfo("Europe/Oslo")
A = TherapyUnit(
    "A",
    fill_ml=60,
    fill_min=2,
    dwell_min=8,
    suction_min=170,
    canister_ml=1000,
    bag_ml=500,
    priming_ml=15,
    started_at=datetime(2026, 11, 20, 19),
)
B = replace(A, name="B", canister_ml=500)
EACH_ML_PER_H = Range(15, 25, 40)

# Suction starts 10 min after the start and every 180 min from there: a whole fill of 60 mL counts then.
# B, 450 mL: at 550 min 4 fills are back, 240 + 25·550/60 = 469; just before, 3 fills: 180 + 229 = 409. So 550 min.
#    40 mL/h: (450 − 180)/40 = 6.75 h = 405 min, between the third return (370) and the fourth (550).
#    15 mL/h: at 730 min the fifth return: 300 + 182.5 = 482.5; just before, 422.5.
# A, 900 mL: (900 − 7·60)/25 = 19.2 h = 1152 min, between return 7 (1090) and 8 (1270).
#    40 mL/h: (900 − 5·60)/40 = 15 h = 900 min.   15 mL/h: at 1450 min return 9: 540 + 362.5 = 902.5; before, 842.5.
BY_HAND_MIN = {"A": (900, 1152, 1450), "B": (405, 550, 730)}


def night(unit):
    return canister_times(unit, EACH_ML_PER_H, planned_share=0.9, time_zone="Europe/Oslo")


def local(day, hour, minute=0):
    return datetime(2026, 11, day, hour, minute, tzinfo=OSLO)


def agrees_with_the_hand(name, earliest_min, due_min, latest_min):
    return (earliest_min, due_min, latest_min) == pytest.approx(BY_HAND_MIN[name], abs=0.5)


@pytest.mark.parametrize("unit", [A, B], ids=["A", "B"])
def test_eight_cycles_and_480_ml_a_day(unit):
    # 2 + 8 + 170 = 180 min; 1440 / 180 = 8; 8 × 60 = 480
    assert (period_min(unit), cycles_per_day(unit), solution_ml_per_day(unit)) == (180, 8, 480)


@pytest.mark.parametrize("unit", [A, B], ids=["A", "B"])
def test_canister_windows_agree_with_the_sum_by_hand(unit):
    times = night(unit)
    assert agrees_with_the_hand(unit.name, times.earliest_min, times.due_min, times.latest_min)


def test_the_clock_on_the_wall_reads_as_worked_by_hand():
    small, large = night(B), night(A)
    assert (small.earliest, small.due, small.latest) == (local(21, 1, 45), local(21, 4, 10), local(21, 7, 10))
    assert (large.earliest, large.due, large.latest) == (local(21, 10), local(21, 14, 12), local(21, 19, 10))


def test_the_early_edge_is_the_one_to_plan_on():
    assert night(B).says.startswith("plan on 01:45")


def test_a_planted_even_rate_fails():
    # 25 mL/h and 60 mL in 3 h make an even 45 mL/h: 450/45 = 10 h, 05:00, fifty minutes late.
    even = [450 / (rate + 60 / 3) * 60 for rate in (40, 25, 15)]
    assert even[1] == 600
    assert not agrees_with_the_hand("B", *even)


def test_a_planted_count_of_the_fill_as_it_runs_in_fails():
    assert not agrees_with_the_hand("B", *(t - 10 for t in BY_HAND_MIN["B"]))


def test_the_bag_gives_eight_whole_cycles_and_is_55_ml_short_at_the_ninth():
    # 500 − 15 = 485; 485 / 60 = 8 whole, 5 left; 60 − 5 = 55; the ninth fill starts at 8 × 180 min = 24 h
    bag = bag_times(A, "Europe/Oslo")
    assert (bag.cycle_count, bag.short_min, bag.short_ml, bag.short_at) == (8, 1440, 55, local(21, 19))


def test_a_planted_bag_without_priming_fails():
    unprimed = bag_times(replace(A, priming_ml=0), "Europe/Oslo")
    assert (unprimed.cycle_count, unprimed.short_ml) == (8, 40)


def test_exudate_of_the_whole_wound_is_shared_equally():
    whole = Exudate(Range(30, 50, 80))
    assert share_exudate([A, B], whole) == (EACH_ML_PER_H, EACH_ML_PER_H)


@pytest.mark.parametrize(
    ("start", "hour", "offset_h"),
    [
        (datetime(2026, 10, 24, 19), 4, 1),  # the clocks go back: 10 h after 19:00 reads 04:00
        (datetime(2026, 3, 28, 19), 6, 2),  # they go forward: 06:00
        (datetime(2026, 11, 20, 19), 5, 1),  # an ordinary night: 05:00
    ],
    ids=["autumn", "spring", "ordinary"],
)
def test_ten_hours_after_19_00_on_the_nights_the_clocks_change(start, hour, offset_h):
    # Without returns before it, exudate alone fills 450 mL at 45 mL/h in 10 h.
    unit = replace(B, fill_min=60, dwell_min=600, started_at=start)
    due = canister_times(unit, 45, planned_share=0.9, time_zone="Europe/Oslo").due
    assert (due.hour, due.minute, due.utcoffset().total_seconds() / 3600) == (hour, 0, offset_h)


def test_the_wrong_answer_of_adding_to_the_wall_clock_fails_in_autumn():
    wrong = datetime(2026, 10, 25, 5, tzinfo=OSLO)
    unit = replace(B, fill_min=60, dwell_min=600, started_at=datetime(2026, 10, 24, 19))
    assert canister_times(unit, 45, planned_share=0.9, time_zone="Europe/Oslo").due != wrong


def test_no_fill_time_gives_the_published_cycles_by_hand():
    # ``worked.cycle``: 10 + 210 = 220; 1440 / 220 = 6.545; 6.545 × 50 = 327
    unit = TherapyUnit("A", fill_ml=50, fill_min=0, dwell_min=10, suction_min=210)
    assert cycles_per_day(unit) == pytest.approx(6.545, abs=5e-4)
    assert solution_ml_per_day(unit) == pytest.approx(327, abs=0.5)


def test_a_planted_period_without_the_dwell_fails():
    assert pytest.approx(6.545, abs=5e-4) != 1440 / 210
