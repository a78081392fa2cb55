import re
from xml.etree import ElementTree as ET

import numpy as np
import pytest

from soakline.fluid.reach import ReachCurve
from soakline.pictures.charts import DARK, LIGHT, draw_curve


@pytest.fixture
def curve() -> ReachCurve:
    fill = np.linspace(0.0, 150.0, 200)
    return ReachCurve("left 30", "$I_1$ <b>", fill, np.minimum(1.0, fill / 110.0), np.clip((fill - 20) / 130, 0, 1))


def test_the_same_curve_gives_the_same_file_without_a_date(curve):
    first = draw_curve(curve, proposed_ml=60.0, void_low_ml=116.2)
    assert first == draw_curve(curve, proposed_ml=60.0, void_low_ml=116.2)
    assert "<dc:date>" not in first


def test_the_proposed_fill_and_the_low_void_are_marked_where_they_lie(curve):
    root = ET.fromstring(draw_curve(curve, proposed_ml=50.0, void_low_ml=100.0))  # noqa: S314  # our own drawing
    said = " ".join("".join(text.itertext()) for text in root.iter("{http://www.w3.org/2000/svg}text"))
    assert "proposed fill, 50 mL" in said
    assert "low estimate of the void, 100 mL" in said
    assert "$I_1$ <b>" in said
    paths = [path.get("d", "") for path in root.iter("{http://www.w3.org/2000/svg}path")]
    pairs = [[float(n) for n in re.findall(r"[\d.]+", path)] for path in paths]
    uprights = {line[0] for line in pairs if len(line) == 4 and line[0] == line[2] and line[1] > line[3]}
    longest = max(pairs, key=len)
    left, right = min(longest[::2]), max(longest[::2])
    for volume_ml in (50.0, 100.0):
        assert any(abs(x - (left + (right - left) * volume_ml / 150.0)) < 0.5 for x in uprights)


def test_what_nobody_gave_is_not_marked(curve):
    said = draw_curve(curve, proposed_ml=None, void_low_ml=None)
    assert "proposed" not in said
    assert "low estimate" not in said


def test_dark_differs_from_light_in_ground_and_ink(curve):
    light, dark = (draw_curve(curve, proposed_ml=None, void_low_ml=None, colours=c) for c in (LIGHT, DARK))
    assert DARK.ground in dark
    assert DARK.ground not in light
