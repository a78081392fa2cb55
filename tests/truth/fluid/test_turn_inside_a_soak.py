"""Turning inside one soak, on the slab that is summed by hand: ``settling.tilted_slab``."""

import pytest

from soakline.fluid.posture import Posture
from soakline.fluid.rest import room_of
from soakline.fluid.settle import basins_of
from soakline.fluid.spread import Foam
from soakline.fluid.turn import soak_turning, union_wetness
from soakline.wound.body import frame_of
from soakline.wound.cavity import build_cavity
from soakline.wound.measurements import Assumptions, Opening, Pocket, Wound
from soakline.wound.sheet import lay_flat

EMPTY = Assumptions(curvature="flat", closed=True)
CORNERS = ((-5.0, -4.0), (5.0, -4.0), (5.0, 4.0), (-5.0, 4.0))
SLAB = Wound("front", "trunk", Opening(2.0, 2.0, 2.0), pocket=Pocket(CORNERS, 1.5))
HOLDS_NOTHING = Foam(1e-8, 0.0, 1.0)
POINT = 0.01


@pytest.fixture(scope="module")
def slab():
    return build_cavity(lay_flat(SLAB), frame_of(SLAB, EMPTY), 0.1, closed=True)


def turned(slab, rolls_deg, volume_ml):
    rooms = [room_of(basins_of(slab, Posture("turned", roll_deg=roll).up()), HOLDS_NOTHING) for roll in rolls_deg]
    return soak_turning(rooms, [(slab.nearest(3.0, 0.0), volume_ml)])


def shares(slab, found):
    floor, roof = union_wetness(found)
    return floor[:, 0] @ slab.floor_cm2 / 80.0, roof[:, 0] @ slab.roof_cm2 / 80.0


def test_30_degrees_each_way_soaks_all_of_the_floor_and_7_40_of_10_cm_of_the_roof(slab):
    found = turned(slab, (30, -30), 60.0)
    assert shares(slab, found) == pytest.approx((1.0, 0.740), abs=POINT)
    _, roof = union_wetness(found)
    # The middle 2.6 cm, 1.3 to either side, never.
    dry = roof[:, 0] < 0.5
    assert slab.u_cm[dry].min() == pytest.approx(-1.30, abs=0.1)
    assert slab.u_cm[dry].max() == pytest.approx(1.30, abs=0.1)


def test_lying_level_between_does_not_help_the_roof(slab):
    assert shares(slab, turned(slab, (30, 0, -30), 60.0)) == pytest.approx((1.0, 0.740), abs=POINT)


def test_closing_the_gap_needs_63_per_cent(slab):
    assert shares(slab, turned(slab, (30, -30), 0.63 * 120.0))[1] == pytest.approx(1.0, abs=POINT)
    assert shares(slab, turned(slab, (30, -30), 0.60 * 120.0))[1] < 1.0 - 2.0 * POINT


def test_each_turn_stands_as_a_fresh_fill_would_on_a_slab_without_sills(slab):
    rolls_deg = (30, -30, 60, 0)
    for roll_deg, found in zip(rolls_deg, turned(slab, rolls_deg, 40.0), strict=True):
        (fresh,) = turned(slab, (roll_deg,), 40.0)
        assert found.held_ml == pytest.approx(fresh.held_ml, abs=1e-6)


def test_a_planted_turn_that_loses_a_tenth_of_the_liquid_fails(slab):
    assert shares(slab, turned(slab, (30, -30), 54.0))[1] != pytest.approx(0.740, abs=POINT)


def test_a_planted_sum_of_both_ends_of_a_column_fails(slab):
    # Adding what two postures soak, instead of the larger, would call the floor's overlap twice soaked.
    found = turned(slab, (30, -30), 60.0)
    added = sum(union_wetness([at_rest])[0][:, 0] @ slab.floor_cm2 / 80.0 for at_rest in found)
    assert added != pytest.approx(1.0, abs=POINT)
