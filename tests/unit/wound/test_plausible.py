"""What is drawn of a wound, and what stays as it was measured."""

from dataclasses import replace

import numpy as np
import pytest

from soakline.units import Range
from soakline.wound.measurements import Assumptions, Opening, Pocket, Tunnel, Undermining, Wound
from soakline.wound.plausible import (
    Measures,
    at_quantile,
    draw_measures,
    drivers,
    percentiles,
    varies,
    wound_at,
)

FLAT = Assumptions(curvature="flat", foam_share=0.8, capillary_height_cm=0.0, permeability_m2=3e-9)
POCKET = Undermining(12, 6, reach_cm=4.0, height_cm=Range(1.0, 1.5, 2.0))
WOUND = Wound("front", "trunk", Opening(6.0, 5.0, 2.0), undermining=(POCKET,))


@pytest.mark.parametrize(("quantile", "number"), [(0.0, 1.0), (0.25, 1.25), (0.5, 1.5), (0.75, 2.25), (1.0, 3.0)])
def test_half_the_weight_lies_on_each_side_of_the_likely_value(quantile, number):
    assert at_quantile(Range(1.0, 1.5, 3.0), quantile) == pytest.approx(number)


def test_a_plain_number_is_off_by_its_error_either_way():
    assert [at_quantile(4.0, q, 0.5) for q in (0.0, 0.5, 1.0)] == [3.5, 4.0, 4.5]
    assert at_quantile(None, 0.3) is None


def test_the_middle_of_all_measures_is_the_wound_itself():
    assert wound_at(WOUND, Measures()).opening == Opening(6.0, 5.0, 2.0)
    assert wound_at(WOUND, Measures()).undermining[0].height_cm == 1.5


def test_length_and_width_err_together():
    drawn = wound_at(WOUND, Measures(size_quantile=1.0)).opening
    assert (drawn.length_cm, drawn.width_cm) == (6.5, 5.5)


def test_a_conflict_of_height_and_depth_is_shared_in_halves():
    # Depth 2 × 0.85 = 1.7, height 2.0, skin 0.2: 0.5 is missing, a quarter from each.
    drawn = wound_at(WOUND, Measures(depth_quantile=0.0, height_quantile=1.0))
    assert drawn.opening.depth_cm == pytest.approx(1.95)
    assert drawn.undermining[0].height_cm == pytest.approx(1.75)


def test_a_lower_pocket_beside_the_one_in_conflict_keeps_its_height():
    low = replace(POCKET, from_clock=7.0, to_clock=9.0, height_cm=0.5)
    drawn = wound_at(replace(WOUND, undermining=(POCKET, low)), Measures(depth_quantile=0.0, height_quantile=1.0))
    assert drawn.undermining[1].height_cm == 0.5


def test_a_pocket_marked_on_the_skin_shares_its_conflict_too():
    square = ((-5.0, -5.0), (5.0, -5.0), (5.0, 5.0), (-5.0, 5.0))
    wound = replace(WOUND, undermining=(), pocket=Pocket(square, Range(1.0, 1.5, 2.0)))
    drawn = wound_at(wound, Measures(depth_quantile=0.0, height_quantile=1.0))
    assert drawn.pocket.height_cm == pytest.approx(1.75)


def test_hours_are_in_doubt_only_where_they_were_not_measured():
    late = Measures(from_quantile=1.0, to_quantile=0.0)
    assert wound_at(WOUND, late).undermining[0].from_clock == 12
    estimated = replace(WOUND, undermining=(replace(POCKET, basis="estimated"),))
    moved = wound_at(estimated, late).undermining[0]
    assert (moved.from_clock, moved.to_clock) == (1.0, 5.0)


def test_a_short_range_of_hours_never_turns_over():
    short = replace(POCKET, from_clock=3.0, to_clock=4.0, basis="assumed")
    moved = wound_at(replace(WOUND, undermining=(short,)), Measures(from_quantile=1.0, to_quantile=0.0)).undermining[0]
    assert (moved.from_clock, moved.to_clock) == (4.0, 4.5)


def test_undermining_all_round_stays_all_round():
    ring = replace(POCKET, from_clock=4.0, to_clock=4.0, basis="estimated")
    moved = wound_at(replace(WOUND, undermining=(ring,)), Measures(from_quantile=1.0)).undermining[0]
    assert moved.from_clock == moved.to_clock


def test_a_reach_is_never_drawn_below_nothing():
    small = replace(POCKET, reach_cm=0.3)
    assert wound_at(replace(WOUND, undermining=(small,)), Measures(reach_quantile=0.0)).undermining[0].reach_cm == 0.0


def test_only_what_is_in_doubt_is_drawn():
    assert varies(WOUND, FLAT) == ["size_quantile", "depth_quantile", "reach_quantile", "height_quantile"]
    with_tunnel = replace(WOUND, tunnel=(Tunnel(5, 6.0, 1.0),))
    assert "tunnel_quantile" in varies(with_tunnel, FLAT)
    assert all(m.tunnel_quantile == 0.5 for m in draw_measures(WOUND, FLAT, 16, 1))


def test_draws_follow_the_seed_and_fill_the_whole_range():
    one, same, other = (draw_measures(WOUND, FLAT, 64, seed) for seed in (1, 1, 2))
    assert one == same != other
    drawn = np.array([m.height_quantile for m in one])
    # Sobol: each 16th of the range holds the same number of draws.
    assert np.histogram(drawn, bins=16, range=(0, 1))[0].tolist() == [4] * 16


def test_a_wound_without_doubt_is_drawn_as_it_is():
    sure = Wound("front", "trunk", Opening(Range(6, 6, 6), Range(6, 6, 6), Range(2, 2, 2)))
    assert draw_measures(sure, FLAT, 16, 1) == [Measures()] * 16


def test_what_follows_one_measure_alone_is_driven_by_it():
    measures = draw_measures(WOUND, FLAT, 256, 3)
    found = drivers(measures, np.array([m.height_quantile for m in measures]))
    assert found[0].share == pytest.approx(1.0, abs=0.02)
    assert all(driver.share < 0.1 for driver in found[1:])


def test_the_likely_value_lies_inside_its_own_range():
    assert percentiles(np.linspace(10, 20, 101), 25.0) == Range(10.5, 25.0, 25.0)
