"""Is it healing, redone by hand: ``worked.healing``, ``measuring.rogers_2010``, ``measuring.error_model``."""

import math
from datetime import datetime

import pytest

from soakline.progress.trend import Change, Earlier, Reading, compare
from soakline.settings import Settings
from soakline.units import Range
from soakline.workflows.plan import Asked, plan_text
from soakline.workflows.progress import progress_of, step_between
from soakline.wound.measurements import Opening, Wound

SIZES = Asked(models=())
SETTINGS = Settings.from_environment({"SOAKLINE_DRAWS": "16"})
CASE = """
format = "soakline-case/1"
label = "Demo"
purpose = "teaching"
[wound]
face = "front"
part = "trunk"
girth_cm = 96
[wound.opening]
length_cm = 6
width_cm = 6
depth_cm = 2
[[measured]]
at = 2026-11-17T10:00:00
method = "{method}"
area_cm2 = {area}
"""


def void(ml, error_share=0.2):
    return Reading("void", "by this case file", ml, "mL", error_share)


def today(method, area, opening=""):
    text = CASE.format(method=method, area=area)
    (found,) = plan_text(
        text.replace("length_cm = 6\nwidth_cm = 6", opening) if opening else text, SETTINGS, SIZES
    ).progress
    return found


def test_two_errors_of_twenty_per_cent_hide_fifteen():
    found = compare(void(151.0), void(128.0))
    assert found.change == pytest.approx(-0.152, abs=0.001)
    assert found.noise == pytest.approx(0.283, abs=0.001)
    assert found.says.endswith(": cannot tell")


def test_a_planted_single_error_would_not_hide_a_fifth_and_two_do():
    # 151 to 117 mL is −22.5 %: more than one error of 20 %, less than two together.
    assert compare(void(151.0), void(117.0)).says.endswith(": cannot tell")
    assert compare(void(151.0), void(117.0, 0.0)).says.endswith(": smaller")


@pytest.mark.parametrize(("ml", "verdict"), [(100.0, "smaller"), (200.0, "larger")])
def test_more_than_the_errors_make_is_told(ml, verdict):
    assert compare(void(151.0), void(ml)).says.endswith(f": {verdict}")


def test_length_times_width_and_an_ellipse_of_it_are_the_same_wound():
    # 36 cm² by length × width, today 6 × 6 cm: nothing changed, whatever the ellipse of 28.3 cm² says.
    found = today("length x width", 36)
    assert found.change == pytest.approx(0.0)
    assert "cannot tell" in found.says


def test_an_ellipse_is_held_against_the_ellipse():
    # π/4 × 6 × 6 = 28.3; 60 cm² before: −52.9 %; errors 1/√60 and 1/√28.3 make √(1/60 + 1/28.3) = 22.8 %
    found = today("ellipse", 60)
    assert found.change == pytest.approx(math.pi * 9 / 60 - 1)
    assert found.noise == pytest.approx(math.sqrt(1 / 60 + 1 / (math.pi * 9)))
    assert found.says.endswith(": smaller")


@pytest.mark.parametrize("method", ["length x width", "ellipse"])
def test_a_traced_edge_is_not_joined_to_a_ruler(method):
    ring = ", ".join(f"[{3 * math.cos(k * math.pi / 12):.4f}, {3 * math.sin(k * math.pi / 12):.4f}]" for k in range(24))
    found = today(method, 36, f"outline_cm = [{ring}]")
    assert (found.change, found.noise) == (None, None)
    assert (
        "cm² (traced): not compared, the method alone can make such a difference; measure it again as before"
        in found.says
    )


def test_a_traced_area_is_not_joined_to_todays_ruler():
    assert today("traced", 28.3).change is None


def test_an_area_that_was_not_written_is_not_made_up():
    wound = Wound("front", "trunk", Opening(6, 6, 2), girth_cm=96)
    size = plan_text(CASE.format(method="ellipse", area=30), SETTINGS, SIZES).wound
    assert progress_of((Earlier(datetime(2026, 11, 17), "ellipse", None),), wound, size) == ()


def test_from_one_measuring_to_the_next_the_range_is_the_error():
    first = plan_text(CASE.format(method="ellipse", area=30), SETTINGS, SIZES).wound
    steps = {one.measure: one for one in step_between(first, first)}
    # Without a pocket the bed is the opening: it is told once.
    assert set(steps) == {"opening", "void"}
    assert isinstance(first.void_ml, Range)
    half = (first.void_ml.high - first.void_ml.low) / 2 / first.void_ml.likely
    assert steps["void"] == Change("void", 0.0, pytest.approx(math.hypot(half, half)), steps["void"].says)
