"""What holds for every wound: areas add up, more is more, the same seed draws the same wounds."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from soakline.units import Range, likely
from soakline.wound.body import frame_of
from soakline.wound.cavity import build_cavity
from soakline.wound.clock import angle_deg, clock_of, span_deg
from soakline.wound.measurements import Assumptions, Opening, Undermining, Wound
from soakline.wound.plausible import THINNEST_SKIN_CM, at_quantile, draw_measures, wound_at
from soakline.wound.sheet import lay_flat, reach_at
from soakline.wound.volume import areas, void

FLAT = Assumptions(curvature="flat")
FEW = settings(max_examples=40)

half_hours = st.integers(1, 24).map(lambda half: half / 2 + 0.5 if half < 24 else 12.0)
ranges = st.tuples(*[st.floats(0.3, 2.5)] * 3).map(lambda three: Range(*sorted(three)))
sectors = st.builds(
    Undermining,
    from_clock=half_hours,
    to_clock=half_hours,
    reach_cm=st.floats(0.5, 8),
    height_cm=ranges,
    ends=st.sampled_from(["full", "taper"]),
    basis=st.sampled_from(["measured", "estimated"]),
)
wounds = st.builds(
    Wound,
    face=st.just("front"),
    part=st.just("trunk"),
    opening=st.builds(Opening, length_cm=st.floats(1, 20), width_cm=st.floats(1, 20), depth_cm=st.floats(1.5, 6)),
    undermining=st.lists(sectors, min_size=1, max_size=3).map(tuple),
)


def likely_sheet(wound):
    plain = tuple(replace(u, height_cm=likely(u.height_cm)) for u in wound.undermining)
    return lay_flat(replace(wound, undermining=plain))


@FEW
@given(wounds)
def test_the_bed_is_opening_and_pocket(wound):
    found = areas(likely_sheet(wound))
    assert found.bed_cm2 == pytest.approx(found.opening_cm2 + found.pocket_cm2)


@FEW
@given(wounds)
def test_the_columns_hold_the_void_of_the_sheet(wound):
    sheet = likely_sheet(wound)
    cavity = build_cavity(sheet, frame_of(wound, FLAT), 0.4)
    assert cavity.void_ml == pytest.approx(void(sheet).total_ml, rel=0.01)
    assert cavity.floor_cm2.sum() == pytest.approx(areas(sheet).bed_cm2, rel=0.01)
    assert cavity.roof_cm2.sum() == pytest.approx(areas(sheet).pocket_cm2, rel=0.02, abs=0.2)


@FEW
@given(wounds, st.floats(0.1, 3))
def test_more_reach_is_never_less_pocket(wound, more_cm):
    wider = replace(wound, undermining=tuple(replace(u, reach_cm=u.reach_cm + more_cm) for u in wound.undermining))
    assert areas(likely_sheet(wider)).pocket_cm2 >= areas(likely_sheet(wound)).pocket_cm2


@FEW
@given(wounds)
def test_saying_the_same_undermining_twice_changes_nothing(wound):
    twice = replace(wound, undermining=wound.undermining * 2)
    assert areas(likely_sheet(twice)).pocket_cm2 == pytest.approx(areas(likely_sheet(wound)).pocket_cm2)
    assert void(likely_sheet(twice)).total_ml == pytest.approx(void(likely_sheet(wound)).total_ml)


@FEW
@given(wounds, st.integers(0, 2**32 - 1))
def test_the_same_seed_draws_the_same_wounds(wound, seed):
    assert draw_measures(wound, FLAT, 16, seed) == draw_measures(wound, FLAT, 16, seed)


@FEW
@given(wounds, st.integers(0, 100))
def test_no_plausible_pocket_reaches_through_the_skin(wound, seed):
    for measures in draw_measures(wound, FLAT, 32, seed):
        drawn = wound_at(wound, measures)
        assert max(u.height_cm for u in drawn.undermining) <= drawn.opening.depth_cm - THINNEST_SKIN_CM + 1e-9


@FEW
@given(ranges, st.floats(0, 1), st.floats(0, 1))
def test_a_higher_quantile_is_never_a_smaller_number(known, one, other):
    low, high = (at_quantile(known, q) for q in sorted((one, other)))
    assert known.low - 1e-12 <= low <= high <= known.high + 1e-12


@given(half_hours, half_hours)
def test_a_range_and_the_way_back_are_once_round(first, last):
    there, back = span_deg(first, last), span_deg(last, first)
    assert there + back == (720.0 if first == last else 360.0)


@given(half_hours)
def test_an_hour_comes_back_from_its_direction(clock):
    assert clock_of(angle_deg(clock)) == clock


@given(half_hours, st.sampled_from([1.0, 2.5, 6.0, 11.0]))
def test_a_pocket_reaches_its_first_and_its_last_hour_alike(first, hours):
    last = (first + hours) % 12 or 12.0
    sheet = lay_flat(Wound("front", "trunk", Opening(4.0, 4.0), undermining=(Undermining(first, last, reach_cm=3.0),)))
    assert [reach_at(sheet, angle_deg(c)) for c in (first, last)] == [3.0, 3.0]
    outside = angle_deg(first) - 10.0
    assert reach_at(sheet, outside) == 0.0


@FEW
@given(st.floats(1, 10), st.floats(1, 10), st.floats(0.5, 6))
def test_a_bowl_is_two_thirds_of_its_cylinder_on_any_grid(length_cm, width_cm, depth_cm):
    wound = Wound("front", "trunk", Opening(length_cm, width_cm, depth_cm, bed="bowl"))
    cavity = build_cavity(lay_flat(wound), frame_of(wound, FLAT), 0.3)
    assert cavity.void_ml == pytest.approx(np.pi / 6 * length_cm * width_cm * depth_cm, rel=0.02)
    assert (cavity.volume_ml > 0.0).all()
