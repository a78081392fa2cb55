"""How high liquid stands against the seal of slabs and bowls: ``settling.tilted_slab``, ``settling.closed_forms``."""

import math

import numpy as np
import pytest

from soakline.fluid.basins import basins_of
from soakline.fluid.posture import Posture, parse_posture
from soakline.fluid.seal import seal_of
from soakline.fluid.settle import levels, pour
from soakline.wound.body import frame_of
from soakline.wound.cavity import build_cavity
from soakline.wound.measurements import Assumptions, Opening, Wound
from soakline.wound.sheet import lay_flat

FLAT = Assumptions(curvature="flat")
CORNERS = ((-5.0, -4.0), (5.0, -4.0), (5.0, 4.0), (-5.0, 4.0))
# An open slab 10 x 8 x 1.5 cm, a well 6 cm wide and 2 cm deep, half a ball of 3 cm.
SLAB = Wound("front", "trunk", Opening(depth_cm=1.5, outline_cm=CORNERS))
WELL = Wound("front", "trunk", Opening(6.0, 6.0, 2.0))
BALL = Wound("front", "trunk", Opening(6.0, 6.0, 3.0, bed="bowl"))
CLOSE_CM = 0.02


@pytest.fixture(scope="module")
def cavities():
    return {wound: build_cavity(lay_flat(wound), frame_of(wound, FLAT), 0.2) for wound in (SLAB, WELL, BALL)}


def seal(cavity, posture, volume_ml, at=(0.0, 0.0)):
    basins = basins_of(cavity, posture.up())
    return seal_of(basins, levels(pour(basins, [(cavity.nearest(*at), volume_ml)])))


def rolled(roll_deg):
    return Posture("rolled", roll_deg=roll_deg)


def slab_over_cm(tilt_deg, volume_ml):
    """Give how high liquid stands over the low edge: the skin under liquid, or the level in the corner."""
    tilt, run = math.radians(tilt_deg), 1.5 / (2 * math.tan(math.radians(tilt_deg)))
    skin = volume_ml / (8 * 1.5) - run
    if skin >= 0:
        return skin * math.sin(tilt)
    return math.sqrt(2 * volume_ml / 8 / math.tan(tilt)) * math.sin(tilt) - 1.5 * math.cos(tilt)


@pytest.mark.parametrize(("tilt_deg", "volume_ml"), [(10, 20), (10, 40), (10, 60), (30, 20), (30, 60), (60, 40)])
def test_a_tilted_slab_stands_against_its_low_edge_as_the_formula_says(cavities, tilt_deg, volume_ml):
    found = seal(cavities[SLAB], rolled(tilt_deg), volume_ml)
    assert found.over_cm == pytest.approx(slab_over_cm(tilt_deg, volume_ml), abs=CLOSE_CM)
    # The low edge runs from corner to corner: 1.7 to 4.3 o'clock.
    assert 1.6 < found.clock < 4.4


def test_thirty_degrees_and_60_ml_in_the_slab_by_hand(cavities):
    # The roof is under liquid for 3.70 cm from the low end: 3.70 x sin 30 = 1.85 cm.
    assert seal(cavities[SLAB], rolled(30), 60).over_cm == pytest.approx(1.85, abs=CLOSE_CM)
    assert seal(cavities[SLAB], rolled(30), 60).margin_cm == pytest.approx(-1.85, abs=CLOSE_CM)


@pytest.mark.parametrize(
    ("roll_deg", "tilt_deg", "clock"),
    [(12, 0, 3.0), (-12, 0, 9.0), (0, 12, 6.0), (0, -12, 12.0), (10, 10, 4.5), (-10, -10, 10.5)],
)
def test_a_leaning_well_stands_against_its_lowest_hour(cavities, roll_deg, tilt_deg, clock):
    # Its bed is covered and its brim not reached: 1.1 cm deep in the middle, whichever way it leans.
    leaning = Posture("leaning", roll_deg=roll_deg, tilt_deg=tilt_deg)
    to_left, outward, to_head = leaning.up()
    found = seal(cavities[WELL], leaning, 9.0 * math.pi * 1.1)
    lowest = 2.0 * outward - 3.0 * math.hypot(to_left, to_head)
    assert found.over_cm == pytest.approx(1.1 * outward - lowest, abs=CLOSE_CM)
    # On the front it leans to the patient's left (3) when that side is down, to the feet (6) when the head is up.
    assert found.clock == pytest.approx(clock, abs=0.1)


@pytest.mark.parametrize("high_cm", [1.0, 2.0, 2.5])
@pytest.mark.parametrize("roll_deg", [0.0, 5.0, 9.0])
def test_a_leaning_half_ball_stands_against_its_edge_as_the_cap_says(cavities, high_cm, roll_deg):
    # Its level stays where it was; the edge comes down to it by 3 cm x the sine.
    volume_ml = math.pi * high_cm**2 * (9.0 - high_cm) / 3.0
    found = seal(cavities[BALL], rolled(roll_deg), volume_ml)
    assert found.over_cm == pytest.approx(high_cm - 3.0 + 3.0 * math.sin(math.radians(roll_deg)), abs=0.03)


def test_an_edge_that_is_level_names_no_hour(cavities):
    found = seal(cavities[WELL], rolled(0), 30.0)
    assert found.clock is None
    assert found.over_cm == pytest.approx(30.0 / (9.0 * math.pi) - 2.0, abs=CLOSE_CM)


def test_each_side_of_the_edge_is_set_against_its_own_pool():
    # Across the belly, lying on the back: the bed is highest in the middle, a pool at 3 and a lower one at 9.
    wound = Wound("front", "trunk", Opening(3.0, 12.0, 2.0), 80.0)
    cavity = build_cavity(lay_flat(wound), frame_of(wound, Assumptions()), 0.2)
    basins = basins_of(cavity, parse_posture("supine").up())
    pools = pour(basins, [(cavity.nearest(5.0, 0.0), 3.0), (cavity.nearest(-5.0, 0.0), 1.0)])
    level = levels(pools)
    high, low = (level[cavity.nearest(u, 0.0)] for u in (5.5, -5.5))
    found = seal_of(basins, level)
    edge = (cavity.rim_cm @ basins.up)[90]
    assert high > low + 0.1
    assert found.clock == pytest.approx(3.0, abs=0.6)
    assert found.over_edge_cm[90] == pytest.approx(high - edge)
    assert found.over_edge_cm[270] == pytest.approx(low - edge)


def test_no_liquid_under_the_opening_is_no_answer(cavities):
    basins = basins_of(cavities[WELL], rolled(0).up())
    assert seal_of(basins, np.full(len(basins.first), -np.inf)) is None


def test_a_planted_edge_at_bed_height_fails(cavities):
    wrong = seal(cavities[SLAB], rolled(30), 60).over_cm + 1.5 * math.cos(math.radians(30))
    assert wrong != pytest.approx(slab_over_cm(30, 60), abs=CLOSE_CM)


def test_a_planted_lean_to_the_other_side_fails(cavities):
    assert seal(cavities[SLAB], rolled(-30), 60).clock != pytest.approx(3.0, abs=1.4)
