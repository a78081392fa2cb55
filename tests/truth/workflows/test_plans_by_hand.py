"""Plans against sums by hand: ``worked.small_opening``, ``worked.half_measured``, ``measuring.height_unknown``."""

import math

import pytest

from soakline.settings import Settings
from soakline.units import Extremes, show_ml
from soakline.workflows.plan import Asked, plan_text

SETTLED = Asked(models=("settled",))
HEAD = """
format = "soakline-case/1"
label = "Worked by hand"
purpose = "teaching"
[wound]
face = "front"
part = "trunk"
"""
SMALL_OPENING = (
    HEAD
    + """
girth_cm = 100
[wound.opening]
length_cm = 6
width_cm = 6
depth_cm = 2
[[wound.undermining]]
from = 12
to = 6
reach_cm = 4
height_cm = { low = 1.0, likely = 1.5, high = 2.0 }
[wound.probed]
none_found = [7, 8, 9, 10, 11]
[[unit]]
name = "A"
fill_ml = FILL
ordered_fill_ml = 60
[model]
curvature = "flat"
"""
)
HALF_MEASURED = (
    HEAD
    + """
[wound.opening]
length_cm = 5
width_cm = 2
depth_cm = 3
[[wound.undermining]]
from = 2
to = 5
reach_cm = 9
basis = "estimated"
"""
)


def settings_of(seed=20_261_120):
    return Settings.from_environment({"SOAKLINE_SEED": str(seed), "SOAKLINE_SPACING_CM": "0.5"})


def small_opening(fill_ml=60, seed=20_261_120):
    return plan_text(SMALL_OPENING.replace("FILL", str(fill_ml)), settings_of(seed), SETTLED)


def agrees_with_the_hand(low_ml, high_ml):
    return (low_ml, high_ml) == pytest.approx((38.0, 183.0), abs=0.5)


def about(plan, where):
    return [found.says for found in plan.findings if found.where == where]


@pytest.fixture(scope="module")
def half_measured():
    return plan_text(HALF_MEASURED, settings_of(), SETTLED)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_small_opening_is_planned_as_summed_by_hand(seed):
    wound = small_opening(seed=seed).wound
    found = wound.opening_cm2, wound.length_x_width_cm2, wound.pocket_cm2, wound.bed_cm2
    assert found == pytest.approx((28.3, 36, 62.8, 91.1), abs=0.05)
    assert wound.bed_to_opening == pytest.approx(3.2, abs=0.03)
    assert wound.void_ml.likely == pytest.approx(150.8, abs=0.05)
    assert show_ml(wound.void_ml).startswith("about 150 mL, ")
    assert 112 <= wound.void_ml.low <= 120
    assert 184 <= wound.void_ml.high <= 194
    assert wound.pocket_side == "PATIENT'S LEFT"
    assert wound.driven_by[0].what == "pocket height"


def test_length_times_width_overstates_by_four_over_pi():
    # ``measuring.rogers_2010``: an ellipse explains +27 %.
    wound = small_opening().wound
    assert wound.length_x_width_cm2 / wound.opening_cm2 == pytest.approx(4 / math.pi)


@pytest.mark.parametrize(("fill_ml", "share"), [(60, "40 %"), (20, "13 %")])
def test_a_fill_is_told_as_its_share_of_the_void(fill_ml, share):
    assert any(share in says for says in about(small_opening(fill_ml), "unit.0.fill_ml"))


def test_a_third_of_the_ordered_fill_is_asked_about():
    assert any("one third" in says and "who agreed?" in says for says in about(small_opening(20), "unit.0.fill_ml"))


@pytest.mark.parametrize(("fill_ml", "words"), [(130, "above the low estimate"), (200, "above the high estimate")])
def test_a_fill_past_an_end_of_the_range_is_told(fill_ml, words):
    assert any(words in says for says in about(small_opening(fill_ml), "unit.0.fill_ml"))


def test_the_half_measured_wound_answers_with_extremes_worked_by_hand(half_measured):
    # Well π/4·5·2·3 = 23.6; pocket 28.9 cm² tapering × 0.5 cm, or 79.7 uniform × 2.0: 38 to 183 mL
    found = half_measured.wound.void_ml
    assert isinstance(found, Extremes)
    assert agrees_with_the_hand(found.low, found.high)
    assert found.likely is None
    assert half_measured.wound.void_basis == "extremes"


def test_its_areas_are_those_of_an_ellipse_seen_along_each_direction(half_measured):
    # ∫ (r·9 + 81/2) dθ from 60° to 150°, r = 1/√((sin/1)² + (cos/2.5)²): 79.7 cm²
    steps = 100_000
    uniform = taper = 0.0
    for k in range(steps):
        along = (k + 0.5) / steps
        angle = math.radians(60 + 90 * along)
        radius = 1 / math.hypot(math.sin(angle), math.cos(angle) / 2.5)
        reach = 9 * (1 - abs(2 * along - 1))
        uniform += (9 * radius + 81 / 2) * math.radians(90) / steps
        taper += (reach * radius + reach**2 / 2) * math.radians(90) / steps
    assert (uniform, taper) == pytest.approx((79.7, 28.9), abs=0.05)
    assert half_measured.wound.pocket_cm2 == pytest.approx(uniform, abs=0.05)
    low = math.pi / 4 * 10 * 3 + taper * 0.5
    assert half_measured.wound.void_ml.low == pytest.approx(low, abs=0.05)


def test_no_fill_no_reach_and_what_to_measure(half_measured):
    assert (half_measured.fill_ml, half_measured.reach, half_measured.wound.capacity_ml) == (None, (), None)
    wanted = [step.what for step in half_measured.next_measurement]
    assert "pocket height from 2 to 5 o'clock" in wanted
    assert "reach hour by hour from 2 to 5 o'clock" in wanted


def test_a_planted_average_of_the_extremes_is_caught(half_measured):
    found = half_measured.wound.void_ml
    average = (found.low + found.high) / 2
    assert not agrees_with_the_hand(average, average)


def test_a_planted_taper_that_is_taken_for_uniform_is_caught():
    found = plan_text(HALF_MEASURED.replace("estimated", "measured"), settings_of(), SETTLED).wound.void_ml
    assert not agrees_with_the_hand(found.low, found.high)
