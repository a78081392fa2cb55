"""What holds for the windows of any unit."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from fractions import Fraction
from math import ceil
from zoneinfo import ZoneInfo

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from soakline.therapy.cycle import Exudate, TherapyUnit, cycles_per_day, period_min
from soakline.therapy.windows import bag_times, canister_times, share_exudate
from soakline.units import Range

ZONES = st.sampled_from(["Europe/Oslo", "America/St_Johns", "Australia/Lord_Howe", "Asia/Kolkata", "UTC"])
SHARES = st.sampled_from([0.5, 0.75, 0.8, 0.9, 1.0])
RATES = st.integers(0, 120).map(lambda tenth: tenth / 2)
UNITS = st.builds(
    TherapyUnit,
    name=st.just("A"),
    fill_ml=st.integers(5, 250),
    fill_min=st.integers(0, 10),
    dwell_min=st.integers(1, 30),
    suction_min=st.integers(20, 300),
    canister_ml=st.sampled_from([300, 500, 1000]),
    bag_ml=st.sampled_from([250, 500, 1000]),
    priming_ml=st.integers(0, 40),
    started_at=st.datetimes(datetime(2026, 1, 1), datetime(2027, 1, 1)).map(
        lambda t: t.replace(second=0, microsecond=0)
    ),
)


def minute_by_minute(unit, rate_ml_per_h, share):
    """Give the first whole minute at which the canister has its share, by walking there: the slow twin."""
    target = unit.canister_ml * Fraction(str(share))
    phase_min = unit.fill_min + unit.dwell_min
    minute, in_cycle, collected = 0, 0, Fraction(0)
    while True:
        if in_cycle == phase_min:
            collected += unit.fill_ml
        if collected >= target:
            return minute
        minute += 1
        in_cycle = (in_cycle + 1) % (phase_min + unit.suction_min)
        collected += Fraction(str(rate_ml_per_h)) / 60


def local(moment, zone):
    """Give the wall-clock time of a moment, as a chart has it; a time that comes twice is left out."""
    there = moment.astimezone(ZoneInfo(zone))
    assume(there.replace(fold=0).utcoffset() == there.replace(fold=1).utcoffset())
    return there.replace(tzinfo=None)


def due(unit, rate, share, zone="UTC"):
    times = canister_times(unit, rate, planned_share=share, time_zone=zone)
    assume(times is not None)
    return times


@given(UNITS, RATES, SHARES)
def test_the_window_is_where_walking_minute_by_minute_arrives(unit, rate, share):
    assert ceil(due(unit, rate, share).due_min) == minute_by_minute(unit, rate, share)


def test_the_slow_twin_catches_the_even_rate():
    unit = TherapyUnit("B", fill_ml=60, fill_min=2, dwell_min=8, suction_min=170, canister_ml=500)
    assert minute_by_minute(unit, 25, 0.9) == 550
    assert minute_by_minute(unit, 25, 0.9) != 450 / (25 + 60 / 3) * 60


@given(UNITS, RATES, RATES, SHARES)
def test_more_exudate_is_never_later(unit, one, other, share):
    less, more = sorted((one, other))
    assert due(unit, more, share).due_min <= due(unit, less, share).due_min


@given(UNITS, RATES, SHARES)
def test_a_larger_canister_is_never_sooner(unit, rate, share):
    larger = replace(unit, canister_ml=unit.canister_ml + 200)
    assert due(larger, rate, share).due_min >= due(unit, rate, share).due_min


@given(UNITS, st.tuples(RATES, RATES, RATES).map(sorted), SHARES, ZONES)
def test_the_early_edge_comes_first_whatever_the_clocks_do(unit, rates, share, zone):
    times = due(unit, Range(*rates), share, zone)
    assert times.earliest_min <= times.due_min <= times.latest_min
    assert times.earliest.astimezone(UTC) <= times.due.astimezone(UTC) <= times.latest.astimezone(UTC)


@given(UNITS, RATES, SHARES, ZONES, st.integers(-500, 500))
def test_a_later_start_shifts_the_window_and_changes_nothing_else(unit, rate, share, zone, shift_h):
    at = unit.started_at.replace(tzinfo=UTC)
    now = due(replace(unit, started_at=local(at, zone)), rate, share, zone)
    then = due(replace(unit, started_at=local(at + timedelta(hours=shift_h), zone)), rate, share, zone)
    assert then.due_min == now.due_min
    assert then.due.astimezone(UTC) - now.due.astimezone(UTC) == timedelta(hours=shift_h)


@given(UNITS, RATES, SHARES, ZONES)
def test_the_local_clock_is_the_elapsed_time_and_never_past_it(unit, rate, share, zone):
    at = unit.started_at.replace(tzinfo=UTC)
    times = due(replace(unit, started_at=local(at, zone)), rate, share, zone)
    behind = times.due_min - (times.due.astimezone(UTC) - at).total_seconds() / 60
    assert 0 <= behind < 1


@given(st.lists(st.one_of(st.none(), st.integers(0, 60)), min_size=1, max_size=4), st.integers(0, 200), st.randoms())
def test_the_order_of_units_changes_no_share(own, whole, random):
    units = [
        TherapyUnit(str(i), exudate=None if ml_per_h is None else Exudate(ml_per_h)) for i, ml_per_h in enumerate(own)
    ]
    mixed = random.sample(units, len(units))
    shares = {u.name: share for u, share in zip(units, share_exudate(units, Exudate(whole)), strict=True)}
    assert {u.name: share for u, share in zip(mixed, share_exudate(mixed, Exudate(whole)), strict=True)} == shares


@given(UNITS)
def test_bag_fills_and_shortfall_add_up(unit):
    bag = bag_times(unit, "UTC")
    assert bag.cycle_count * unit.fill_ml <= unit.bag_ml - unit.priming_ml
    assert (bag.cycle_count + 1) * unit.fill_ml - bag.short_ml == unit.bag_ml - unit.priming_ml
    assert 0 < bag.short_ml <= unit.fill_ml
    assert bag.short_min == bag.cycle_count * period_min(unit)


@given(UNITS)
def test_cycles_fill_the_day(unit):
    assert cycles_per_day(unit) * period_min(unit) == pytest.approx(1440)
