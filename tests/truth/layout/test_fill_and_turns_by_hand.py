"""Fill range and turning against closed forms: ``settling.tilted_slab``, ``worked.half_measured``, ``layout.knee``."""

import math

import numpy as np
import pytest

from soakline.fluid.posture import parse_posture
from soakline.fluid.spread import Foam
from soakline.layout.fill_range import fill_cavity, knee_ml
from soakline.layout.turning import never_reached, smallest_set, what_each_adds
from soakline.settings import Settings
from soakline.workflows.plan import plan_text
from soakline.wound.body import frame_of
from soakline.wound.cavity import build_cavity
from soakline.wound.measurements import Assumptions, Opening, Pocket, Wound
from soakline.wound.sheet import lay_flat

# An empty cavity: nothing holds liquid up.
EMPTY = Foam(3e-9, 0.0, 1.0)
# 10 × 8 × 1.5 cm, closed and empty: 120 mL.
CORNERS = ((-5.0, -4.0), (5.0, -4.0), (5.0, 4.0), (-5.0, 4.0))
SLAB = Wound("front", "trunk", Opening(2.0, 2.0, 2.0), pocket=Pocket(CORNERS, 1.5))
WELL = Wound("front", "trunk", Opening(6.0, 6.0, 4.0))
HALF_MEASURED = """
format = "soakline-case/1"
label = "By phone"
purpose = "teaching"
[wound]
face = "front"
part = "trunk"
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


def filled(wound, fill_ml, postures, spacing_cm=0.2, *, closed=True):
    frame = frame_of(wound, Assumptions(curvature="flat", closed=closed))
    cavity = build_cavity(lay_flat(wound), frame, spacing_cm, closed=closed)
    poured = [(cavity.nearest(1.5, 0.0), fill_ml)]
    return fill_cavity(cavity, poured, [parse_posture(words).up() for words in postures], EMPTY)


def slab_reach(tilt_deg, volume_ml):
    """Give floor and roof together, as a share: the roof's dry end is the mirror image of the floor's wet one."""

    def floor_cm(volume):
        run, mean = 1.5 / (2 * math.tan(math.radians(tilt_deg))), volume / 12
        wedge = math.sqrt(max(volume, 0.0) / 4 / math.tan(math.radians(tilt_deg)))
        return min(wedge if mean < run else mean + run, 10.0)

    return (floor_cm(volume_ml) + 10.0 - floor_cm(120.0 - volume_ml)) / 20.0


@pytest.fixture(scope="module")
def turned():
    return filled(SLAB, 60.0, ["supine", "left 30", "right 30"])


@pytest.mark.parametrize("tilt_deg", [10, 30])
def test_the_curve_of_reach_is_that_of_the_tilted_slab(tilt_deg):
    found = filled(SLAB, 60.0, [f"left {tilt_deg}"])
    by_hand = [slab_reach(tilt_deg, volume_ml) for volume_ml in found.fill_ml]
    assert found.reach_share == pytest.approx(by_hand, abs=0.015)


def test_the_knee_of_the_tilted_slab_is_where_the_formula_has_it():
    found = filled(SLAB, 60.0, ["left 10"])
    fine = np.linspace(0.0, 120.0, 2_401)
    by_hand = knee_ml(fine, np.array([slab_reach(10, volume_ml) for volume_ml in fine]))
    assert knee_ml(found.fill_ml, found.reach_share) == pytest.approx(by_hand, abs=120.0 / 20)
    assert by_hand != pytest.approx(60.0, abs=120.0 / 20)


def test_a_slab_on_its_end_has_no_knee():
    found = filled(SLAB, 60.0, ["left 90"])
    assert knee_ml(found.fill_ml, found.reach_share) is None


def test_turning_to_both_sides_soaks_all_of_the_floor_and_leaves_the_middle_of_the_roof(turned):
    roof = turned.roof.soaked_share([0, 1, 2])
    assert turned.floor.soaked_share([1, 2]) == pytest.approx(1.0, abs=0.005)
    assert roof == pytest.approx(0.740, abs=0.025)
    middle = never_reached(turned.roof)
    assert turned.roof.area_cm2[middle].sum() / 8.0 == pytest.approx(2.6, abs=0.2)


def test_supine_does_not_help_the_roof_and_is_enough_for_the_floor(turned):
    assert smallest_set([[turned.floor]]) == (0,)
    assert smallest_set([[turned.roof]]) == (1, 2)
    assert smallest_set([[turned.floor, turned.roof]]) == (1, 2)
    supine = next(added for added in what_each_adds([turned.roof], [0, 1, 2]) if added.posture_index == 0)
    assert supine.share == 0.0


@pytest.mark.parametrize("tilt_deg", [10, 20])
def test_liquid_stands_above_the_seal_from_the_volume_of_the_tilted_well_on(tilt_deg):
    # π r² (depth − r tan α), while the level does not cut the bed.
    by_hand = math.pi * 9.0 * (4.0 - 3.0 * math.tan(math.radians(tilt_deg)))
    found = filled(WELL, 30.0, [f"left {tilt_deg}", "supine"], closed=False)
    assert found.seal_ml[0] == pytest.approx(by_hand, rel=0.03)
    assert math.isinf(found.seal_ml[1]), "lying flat, liquid stands at the edge when all is full, not above it"


def test_a_planted_seal_that_forgets_the_tilt_fails():
    flat_ml = math.pi * 9.0 * 4.0
    assert filled(WELL, 30.0, ["left 20"], closed=False).seal_ml[0] != pytest.approx(flat_ml, rel=0.03)


def test_a_half_measured_wound_gets_no_fill_volume_and_is_told_what_to_measure():
    plan = plan_text(HALF_MEASURED, Settings.from_environment({}))
    assert (plan.wound.void_ml.low, plan.wound.void_ml.high) == pytest.approx((38.0, 183.0), abs=0.5)
    assert plan.fill_ml is None
    assert plan.turning is None
    refused = [found.says for found in plan.findings if "no fill range" in found.says]
    assert len(refused) == 1
    assert "pocket height from 2 to 5 o'clock" in refused[0]
    assert "reach hour by hour from 2 to 5 o'clock" in refused[0]
