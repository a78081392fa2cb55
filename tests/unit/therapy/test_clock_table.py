"""The clock table: shifts by the local clock, rows in their order, hours that wander."""

from datetime import datetime, time, timedelta
from fractions import Fraction
from zoneinfo import ZoneInfo

import pytest

from soakline.therapy.clock_table import Row, in_shifts, on_the_clock, pain_rows, rows_of_unit, shifts_between
from soakline.therapy.cycle import TherapyUnit
from soakline.therapy.rhythm import rhythm_of

OSLO = ZoneInfo("Europe/Oslo")
STARTS = (time(7), time(15), time(23))
UNIT = TherapyUnit("A", fill_ml=60, fill_min=2, dwell_min=8, suction_min=170, started_at=datetime(2026, 10, 24, 19))


def lasts_h(shift):
    return (shift[1].timestamp() - shift[0].timestamp()) / 3600


@pytest.mark.parametrize(("day", "night_h"), [((2026, 10, 24), 9), ((2026, 3, 28), 7), ((2026, 11, 20), 8)])
def test_the_night_on_which_the_clocks_change_is_longer_or_shorter_by_the_hour(day, night_h):
    begin = datetime(*day, 23, tzinfo=OSLO)
    assert lasts_h(shifts_between(begin, begin + timedelta(hours=4), STARTS)[0]) == night_h


def test_a_shift_that_begins_in_an_hour_that_does_not_exist_begins_where_the_clocks_land():
    begin = datetime(2026, 3, 28, 22, tzinfo=OSLO)
    shifts = shifts_between(begin, begin + timedelta(hours=8), (time(2, 30), time(14, 30)))
    assert [f"{a:%H:%M}" for a, _ in shifts] == ["14:30", "03:30"]


def test_fills_are_numbered_from_the_start_with_the_elapsed_minutes_underneath():
    rhythm = rhythm_of(UNIT, "Europe/Oslo")
    begin = datetime(2026, 10, 25, 0, tzinfo=OSLO)
    rows = [row for row in rows_of_unit(UNIT, rhythm, begin, rhythm.at(Fraction(800))) if row.what == "fill"]
    assert [(f"{r.at:%H:%M}", r.elapsed_min, r.says) for r in rows] == [
        ("01:00", 360, "fill 3, 60 mL"),
        ("03:00", 540, "fill 4, 60 mL"),
        ("06:00", 720, "fill 5, 60 mL"),
    ]


@pytest.mark.parametrize("suction", [170, 178, 180, 190, 200, 350])
def test_how_far_fills_wander_each_day_is_found_by_walking_there(suction):
    unit = TherapyUnit("A", fill_min=2, dwell_min=8, suction_min=suction)
    period = 10 + suction
    found = on_the_clock(unit)
    # Walked there: the fill of the next day that lies nearest to the same hour.
    walked = min((k * period - 1440 for k in range(1, 40)), key=lambda off: (abs(off), -off))
    assert found.later_each_day_min == walked
    assert 1440 % found.nearest_period_min == 0


def test_pain_checks_fall_on_a_fill_once_the_time_is_over():
    begin = datetime(2026, 11, 20, 19, tzinfo=OSLO)
    fills = [Row(begin + timedelta(hours=3 * k), 180.0 * k, "A", "fill", "fill") for k in range(5)]
    assert [f"{row.at:%H}" for row in pain_rows(fills, 240)] == ["19", "01", "07"]


def test_rows_of_one_moment_stand_changes_first_and_none_is_lost():
    at = datetime(2026, 11, 20, 23, tzinfo=OSLO)
    rows = [Row(at, None, "A", what, "") for what in ("pain check", "fill", "turn", "bag", "canister")]
    shifts = in_shifts(rows, at - timedelta(hours=4), at + timedelta(hours=20), STARTS)
    assert [r.what for s in shifts for r in s.rows] == ["canister", "bag", "turn", "fill", "pain check"]
    assert [s.is_night for s in shifts] == [False, True, False, False]
