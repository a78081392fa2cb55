"""Twelve hours and the ranges of the case file say the same, whichever way they are turned."""

import math

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from soakline.units import Range
from soakline.wound.dial import Dial, DialHour, none_found_of, ranges_of, read_dial
from soakline.wound.measurements import Opening, Undermining, Wound
from soakline.wound.sheet import lay_flat
from soakline.wound.volume import areas

REACHES = st.sampled_from([None, 2.0, 4.0, Range(3.0, 4.0, 5.0)])
HEIGHTS = st.sampled_from([None, 1.5, Range(1.0, 1.5, 2.0)])
UNDERMINED = st.builds(
    DialHour,
    st.just("undermined"),
    REACHES,
    HEIGHTS,
    st.sampled_from(["measured", "estimated"]),
    st.sampled_from(["whole", "from here", "up to here"]),
)
HOURS = st.lists(st.one_of(UNDERMINED, st.sampled_from([DialHour("none found"), DialHour()])), min_size=12, max_size=12)
ROUND = Opening(4.0, 4.0, 3.0)


def wound_of(hours):
    none_found = none_found_of(hours, Dial((DialHour(),) * 12, ()), ())
    return Wound("front", "trunk", ROUND, undermining=ranges_of(hours), none_found=none_found)


def by_hand_cm2(radius_cm, reaches_cm):
    """Each hour is a twelfth of a ring: π / 12 × (reach² + 2 r × reach)."""
    return math.pi / 12 * sum(reach**2 + 2 * radius_cm * reach for reach in reaches_cm)


@given(HOURS)
def test_hours_written_as_ranges_read_back_as_the_same_hours(hours):
    assert read_dial(wound_of(hours)).hours == tuple(hours)
    assert read_dial(wound_of(hours)).held == ()


@given(HOURS)
def test_no_two_neighbouring_ranges_say_the_same(hours):
    ranges = ranges_of(hours)
    ends = {(entry.to_clock, entry.reach_cm, entry.height_cm, entry.basis) for entry in ranges if entry.clock is None}
    starts = {(entry.from_clock, entry.reach_cm, entry.height_cm, entry.basis) for entry in ranges if not entry.clock}
    assert len(ranges) == 1 or not ends & starts


@given(st.lists(st.sampled_from([0.0, 1.5, 2.0, 4.0, 6.0]), min_size=12, max_size=12))
def test_the_sheet_of_the_ranges_has_the_area_of_the_hours_summed_by_hand(reaches_cm):
    hours = [DialHour("undermined", reach) if reach else DialHour("none found") for reach in reaches_cm]
    found = areas(lay_flat(wound_of(hours)))
    np.testing.assert_allclose(found.pocket_cm2, by_hand_cm2(2.0, reaches_cm), rtol=1e-9, atol=1e-9)


def test_the_published_sum_by_hand_comes_out_and_one_hour_less_does_not():
    # The formula checked by hand: round opening r = 2, reach at 12, 1, 2 … 11 o'clock.
    from_12 = [6, 6, 4, 2, 0, 0, 0, 0, 0, 2, 4, 6]
    reaches = [float(reach) for reach in [*from_12[1:], from_12[0]]]
    hours = [DialHour("undermined", reach, 1.0) if reach else DialHour("none found") for reach in reaches]
    assert round(areas(lay_flat(wound_of(hours))).pocket_cm2, 2) == 70.16
    assert len(ranges_of(hours)) == 5
    hours[2] = DialHour("none found")
    assert round(areas(lay_flat(wound_of(hours))).pocket_cm2, 2) != 70.16


def test_twelve_equal_hours_are_one_range_all_round():
    assert ranges_of([DialHour("undermined", 3.0)] * 12) == (Undermining(12.0, 12.0, reach_cm=3.0),)
