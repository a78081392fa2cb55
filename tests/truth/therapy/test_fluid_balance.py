"""The fluid balance, redone by hand (``worked.balance``; the void is that of ``worked.small_opening``)."""

from datetime import datetime, timedelta

import pytest

from soakline.therapy.balance import Bounds, balances
from soakline.therapy.cycle import TherapyUnit
from soakline.therapy.logbook import LogEntry, read_log

UNIT = TherapyUnit("A", fill_ml=60, fill_min=2, dwell_min=8, suction_min=170, started_at=datetime(2026, 11, 20, 7))
BOUNDS = Bounds(reading_error_ml=50, void_high_ml=232)


def day(number, back_ml, colour=None, kind="returned"):
    at = datetime(2026, 11, 20, 7) + timedelta(days=number)
    return [LogEntry(at, "instilled", "A", 480), LogEntry(at, kind, "A", back_ml, colour)]


def third_day(back_ml, colour=None):
    # net 560 and 640 on the two days before: 480 + 560 = 1040 and 480 + 640 = 1120 came back
    log = [*day(1, 1040), *day(2, 1120), *day(3, back_ml, colour)]
    rows, asked = balances(read_log(log, [UNIT], "Europe/Oslo"), [UNIT], "Europe/Oslo", BOUNDS, frozenset())
    assert asked == ()
    assert [row.net_ml for row in rows[:2]] == [560, 640]
    return rows[2]


def test_1080_ml_are_expected_out():
    # what went in, and the mean net of the two days before: 480 + 600
    assert third_day(1650).expected_ml == 1080


def test_1650_ml_of_brown_green_leaves_570_unexplained_and_colour_alone_means_call():
    row = third_day(1650, "brown-green")
    assert (row.net_ml, row.unexplained_ml) == (1170, 570)
    assert row.says.startswith("Green, brown or stool-like: colour alone means stop and call the surgeon")
    assert {"blood", "bowel content (effluent) or another fluid"} <= set(row.causes)


def test_610_ml_leaves_470_missing_of_which_235_cannot_be_inside():
    # 470 − 232 = 238, rounded down
    row = third_day(610)
    assert (row.unexplained_ml, row.cannot_be_inside_ml) == (-470, 235)
    assert "At least 235 mL cannot be inside" in row.says
    named = " ".join(row.causes)
    assert all(cause in named for cause in ("leak", "blocked branch", "soak not given", "canister not charted"))
    assert "all of it still inside" in row.ruled_out


def test_1130_ml_is_50_over_inside_the_reading_error_and_nothing_stands_out():
    row = third_day(1130)
    assert (row.unexplained_ml, row.causes, row.stop) == (50, (), ())
    assert "Inside the reading error of ±50 mL: nothing stands out" in row.says


def test_colour_outranks_a_balance_that_adds_up():
    row = third_day(1080, "green")
    assert row.unexplained_ml == 0
    assert row.says.startswith("Green, brown or stool-like")


@pytest.mark.parametrize("wrong", [230, 238, 240, 470])
def test_a_planted_bound_fails(wrong):
    # 238 is not rounded down, 240 is rounded up, 470 forgets the void, 230 takes the step for 10 mL.
    assert third_day(610).cannot_be_inside_ml != wrong


def test_a_planted_expectation_without_the_exudate_fails():
    assert third_day(1650).expected_ml != 480


def test_marks_of_canisters_changed_give_the_same_as_amounts():
    # 1040 = 600 in one canister and 440 in the next; 1120 and 1650 alike
    start = datetime(2026, 11, 20, 7)
    log = []
    for number, marks in enumerate([(600, 440), (700, 420), (800, 850)]):
        at = start + timedelta(days=number)
        log += [
            LogEntry(at + timedelta(hours=12), "canister changed", "A", marks[0]),
            LogEntry(at + timedelta(hours=24), "instilled", "A", 480),
            LogEntry(at + timedelta(hours=24), "canister changed", "A", marks[1]),
        ]
    rows, _ = balances(read_log(log, [UNIT], "Europe/Oslo"), [UNIT], "Europe/Oslo", BOUNDS, frozenset())
    assert [row.net_ml for row in rows] == [560, 640, 1170]
    assert rows[2].unexplained_ml == 570
