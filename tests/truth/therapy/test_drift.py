"""Two units in one cavity drift apart, redone by hand (``worked.drift``)."""

from dataclasses import replace
from datetime import datetime
from math import lcm

import pytest

from soakline.therapy.cycle import TherapyUnit
from soakline.therapy.in_step import in_step
from soakline.therapy.logbook import LogEntry, read_log
from soakline.therapy.rhythm import rhythm_of

A = TherapyUnit("A", fill_min=2, dwell_min=8, suction_min=170, started_at=datetime(2026, 11, 20, 8))
B = TherapyUnit("B", fill_min=2, dwell_min=10, suction_min=178, started_at=datetime(2026, 11, 20, 8))


def met(*units, log=()):
    book = read_log(log, units, "Europe/Oslo")
    return in_step([rhythm_of(unit, "Europe/Oslo", book) for unit in units])


def minute_by_minute(units, begin, most):
    """Give the minutes from ``begin`` on in which every unit is without suction, by looking at each: the slow twin."""
    quiet = [(u.fill_min + u.dwell_min, u.fill_min + u.dwell_min + u.suction_min) for u in units]
    return [minute for minute in range(begin, most) if all(minute % period < soak for soak, period in quiet)]


def test_on_the_first_day_they_meet_at_the_start_alone_for_10_min_8_of_them_dwell():
    assert (met(A, B).first_day_overlap_min, met(A, B).first_day_dwell_min) == (10, 8)
    assert minute_by_minute([A, B], 0, 1440) == list(range(10))


def test_the_next_overlap_is_2_min_from_54_h():
    # A fills at 18 × 180 = 3240; B filled at 17 × 190 = 3230 and soaks to 3242.
    found = met(A, B)
    assert (found.next_overlap_min, found.next_overlap_lasts_min) == (54 * 60, 2)
    assert (found.next_overlap_at.day, found.next_overlap_at.hour, found.next_overlap_at.minute) == (22, 14, 0)
    assert minute_by_minute([A, B], 1440, 3400) == [3240, 3241]


def test_they_start_together_every_57_h_and_the_dwells_do_not_meet_before():
    found = met(A, B)
    assert found.coincide_every_min == 57 * 60 == lcm(180, 190)
    assert found.next_dwell_min == 3420 + 2


def test_equal_periods_slip_after_a_pause_of_25_min_and_never_meet_again():
    same = replace(A, name="B")
    scan = LogEntry(datetime(2026, 11, 20, 15), "pause", "A", until=datetime(2026, 11, 20, 15, 25))
    found = met(A, same, log=[scan])
    assert found.next_overlap_min is None
    assert found.coincide_every_min is None
    assert "never start together again until they are restarted together" in found.says[-1]
    # Fills at 08:00, 11:00 and 14:00 were together before it: 3 × 10 min.
    assert found.first_day_overlap_min == 30


def test_restarted_together_they_are_in_step_again():
    same = replace(A, name="B")
    log = [
        LogEntry(datetime(2026, 11, 20, 15), "pause", "A", until=datetime(2026, 11, 20, 15, 25)),
        LogEntry(datetime(2026, 11, 20, 17), "restart", "A"),
        LogEntry(datetime(2026, 11, 20, 17), "restart", "B"),
    ]
    found = met(A, same, log=log)
    assert (found.coincide_every_min, found.next_overlap_min, found.first_day_overlap_min) == (180, 1440, 80)


@pytest.mark.parametrize(
    ("wrong", "why"),
    [(190 - 180, "the drift of one cycle"), (180 * 190, "the product instead of the least common multiple")],
)
def test_a_planted_wrong_period_of_coincidence_fails(wrong, why):
    assert met(A, B).coincide_every_min != wrong, why


def test_a_planted_overlap_of_dwells_and_fills_taken_for_one_fails():
    assert met(A, B).next_dwell_min != met(A, B).next_overlap_min
