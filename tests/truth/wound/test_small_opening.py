"""A small opening over a large pocket, redone by hand: ``worked.small_opening`` and ``measuring.error_model``."""

import numpy as np
import pytest

from soakline.units import Range
from soakline.wound.measurements import Assumptions, Opening, Undermining, Wound
from soakline.wound.plausible import Measures, draw_measures, percentiles, wound_at
from soakline.wound.sheet import lay_flat
from soakline.wound.volume import areas, void

WOUND = Wound(
    "front",
    "trunk",
    Opening(6.0, 6.0, 2.0),
    undermining=(Undermining(12, 6, reach_cm=4.0, height_cm=Range(1.0, 1.5, 2.0)),),
    none_found=(7, 8, 9, 10, 11),
)
FLAT = Assumptions(curvature="flat")
PLAIN_DRAWS = 200_000


def void_ml(wound):
    return void(lay_flat(wound)).total_ml


def drawn_range(draws, seed):
    voids = np.array([void_ml(wound_at(WOUND, m)) for m in draw_measures(WOUND, FLAT, draws, seed)])
    return percentiles(voids, void_ml(wound_at(WOUND, Measures())))


def plain_monte_carlo(*, shared_conflict=True):
    """Draw the same errors with none of the program: ring sums, even errors, a conflict of height and depth shared."""
    rng = np.random.default_rng(1)
    size, reach = rng.uniform(-0.5, 0.5, PLAIN_DRAWS), rng.uniform(-0.5, 0.5, PLAIN_DRAWS)
    depth, height = rng.uniform(1.7, 2.3, PLAIN_DRAWS), rng.uniform(1.0, 2.0, PLAIN_DRAWS)
    lacking = np.maximum(height + 0.2 - depth, 0.0) if shared_conflict else np.zeros(PLAIN_DRAWS)
    depth, height = depth + lacking / 2.0, height - lacking / 2.0
    radius = 3.0 + size / 2.0
    volume = np.pi * radius**2 * depth + np.pi / 2.0 * ((radius + 4.0 + reach) ** 2 - radius**2) * height
    return np.percentile(volume, [5.0, 95.0])


def test_areas_agree_with_the_sum_by_hand():
    # π·3² = 28.27; ½·π(7² − 3²) = 62.83; together 91.11
    found = areas(lay_flat(wound_at(WOUND, Measures())))
    by_hand = np.pi * 9, np.pi * 20, np.pi * 29
    assert (found.opening_cm2, found.pocket_cm2, found.bed_cm2) == pytest.approx(by_hand, rel=1e-9)
    assert (found.opening_cm2, found.pocket_cm2, found.bed_cm2) == pytest.approx((28.3, 62.8, 91.1), abs=0.05)


def test_void_agrees_with_the_sum_by_hand():
    # 28.27 × 2 = 56.55; 62.83 × 1.5 = 94.25; together 150.8
    found = void(lay_flat(wound_at(WOUND, Measures())))
    assert (found.well_ml, found.pocket_ml, found.total_ml) == pytest.approx((56.55, 94.25, 150.80), abs=0.005)


def test_a_planted_reach_from_the_centre_fails():
    from_centre = np.pi / 2 * (4**2 - 3**2)
    assert areas(lay_flat(wound_at(WOUND, Measures()))).pocket_cm2 != pytest.approx(from_centre, rel=0.01)


@pytest.mark.parametrize("seed", [1, 2, 7, 20_261_120])
def test_the_range_agrees_with_a_plain_monte_carlo(seed):
    found = drawn_range(256, seed)
    assert (found.low, found.high) == pytest.approx(plain_monte_carlo(), rel=0.015)
    assert found.likely == pytest.approx(150.8, abs=0.05)
    assert 112 <= found.low <= 120
    assert 184 <= found.high <= 194


def test_a_planted_range_without_the_error_of_size_fails():
    rng = np.random.default_rng(1)
    wrong = np.percentile(np.pi * 9 * 2 + np.pi * 20 * rng.uniform(1, 2, PLAIN_DRAWS), [5, 95])
    found = drawn_range(256, 1)
    assert (found.low, found.high) != pytest.approx(wrong, rel=0.015)
