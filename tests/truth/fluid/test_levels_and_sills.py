"""Levels, volumes and sills of shapes with a closed form: ``settling.closed_forms``."""

import math

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq
from tests.truth.fluid.twins.beds import under_liquid

from soakline.fluid.basins import basins_of
from soakline.fluid.posture import parse_posture
from soakline.fluid.settle import levels, pour
from soakline.wound.body import frame_of
from soakline.wound.cavity import build_cavity
from soakline.wound.measurements import Assumptions, Opening, Pocket, Tunnel, Wound
from soakline.wound.sheet import lay_flat

SPACING_CM = 0.2
ROUND = Assumptions(closed=True)
FLAT = Assumptions(curvature="flat")
RADIUS_CM, LONG_CM, HEIGHT_CM = 16.0, 8.0, 1.0
GIRTH_CM = RADIUS_CM * math.tau


def cavity_of(wound, assumptions):
    return build_cavity(lay_flat(wound), frame_of(wound, assumptions), SPACING_CM, closed=assumptions.closed)


def round_the_body(towards_9_cm, towards_3_cm):
    v = LONG_CM / 2
    corners = ((-towards_9_cm, -v), (towards_3_cm, -v), (towards_3_cm, v), (-towards_9_cm, v))
    wound = Wound("front", "trunk", Opening(1.0, 1.0, 2.0), GIRTH_CM, pocket=Pocket(corners, HEIGHT_CM))
    return cavity_of(wound, ROUND)


def arm_below_the_ridge_ml(arm_cm, ridge_cm=RADIUS_CM):
    """Sum the liquid on one side, below a level: across the pocket's height along the circle, area × height."""

    def depth(angle):
        return min(max(ridge_cm / math.cos(angle) - RADIUS_CM, 0.0), HEIGHT_CM)

    full_at = math.acos(ridge_cm / (RADIUS_CM + HEIGHT_CM))
    places = [full_at] if full_at < arm_cm / RADIUS_CM else None
    return LONG_CM * RADIUS_CM * quad(depth, 0.0, arm_cm / RADIUS_CM, points=places)[0]


def trough_ml(level_cm, half_arc_cm):
    """Sum the liquid in a pocket that hangs below the body, up to a level measured from the cylinder's axis, down."""

    def depth(angle):
        return min(max(RADIUS_CM + HEIGHT_CM - max(level_cm / math.cos(angle), RADIUS_CM), 0.0), HEIGHT_CM)

    return 2 * LONG_CM * RADIUS_CM * quad(depth, 0.0, half_arc_cm / RADIUS_CM, limit=400)[0]


@pytest.mark.parametrize("volume_ml", [5.0, 20.0, 60.0, 120.0])
def test_sphere_cap_stands_as_deep_as_its_formula(volume_ml):
    # A bowl of 4 cm radius and depth: V = πh²(3·4 − h)/3, and its wet bed 2π·4·h.
    cavity = cavity_of(Wound("front", "trunk", Opening(8.0, 8.0, 4.0, bed="bowl")), FLAT)
    by_hand = brentq(lambda h: math.pi * h**2 * (12 - h) / 3 - volume_ml, 0.0, 4.0)
    pools = pour(basins_of(cavity, parse_posture("supine").up()), [(0, volume_ml)])
    assert levels(pools).max() == pytest.approx(by_hand, abs=0.02)
    # The bed stands upright at the rim: there a column of 2 mm is coarse.
    assert under_liquid(pools)[0] @ cavity.floor_cm2 == pytest.approx(8 * math.pi * by_hand, abs=0.025 * 32 * math.pi)


@pytest.mark.parametrize("tilt_deg", [15, 45, 75])
def test_tilted_box_stands_as_high_as_its_wedge(tilt_deg):
    # A box of 10 × 8 × 1.5 cm: 2 mL make a wedge at the low edge, ½·8·h²/(sin · cos), h above the edge.
    corners = ((-5.0, -4.0), (5.0, -4.0), (5.0, 4.0), (-5.0, 4.0))
    cavity = cavity_of(
        Wound("front", "trunk", Opening(1.0, 1.0, 2.0), pocket=Pocket(corners, 1.5)),
        Assumptions(curvature="flat", closed=True),
    )
    slope = math.radians(tilt_deg)
    edge_cm = -5.0 * math.sin(slope)
    by_hand = edge_cm + math.sqrt(2 * 2.0 / 8 * math.sin(slope) * math.cos(slope))
    pools = pour(basins_of(cavity, parse_posture(f"left {tilt_deg}").up()), [(0, 2.0)])
    assert levels(pools).max() == pytest.approx(by_hand, abs=0.03)


@pytest.mark.parametrize("volume_ml", [10.0, 40.0, 90.0])
def test_trough_under_a_prone_body_stands_as_its_circle_says(volume_ml):
    cavity = round_the_body(8.0, 8.0)
    pools = pour(basins_of(cavity, parse_posture("prone").up()), [(0, volume_ml)])
    by_hand = brentq(lambda z: trough_ml(z, 8.0) - volume_ml, RADIUS_CM * math.cos(0.5), RADIUS_CM + HEIGHT_CM)
    # Heights count from the bed under the opening, 16 cm from the axis.
    assert levels(pools).max() == pytest.approx(RADIUS_CM - by_hand, abs=0.02)


@pytest.mark.parametrize(("towards_9_cm", "towards_3_cm"), [(8.0, 12.0), (10.0, 10.0), (6.0, 14.0)])
def test_two_arms_over_a_ridge_hold_up_to_the_sill_what_their_circle_says(towards_9_cm, towards_3_cm):
    cavity = round_the_body(towards_9_cm, towards_3_cm)
    basins = basins_of(cavity, parse_posture("supine").up())
    assert basins.parent.tolist() == [2, 2, -1]
    by_hand = sorted(arm_below_the_ridge_ml(arm) for arm in (towards_9_cm, towards_3_cm))
    assert sorted(basins.own_ml[:2]) == pytest.approx(by_hand, rel=0.001)


def test_a_planted_sill_a_tenth_of_a_millimetre_low_fails():
    basins = basins_of(round_the_body(8.0, 12.0), parse_posture("supine").up())
    assert min(basins.own_ml[:2]) != pytest.approx(arm_below_the_ridge_ml(8.0, ridge_cm=RADIUS_CM - 0.01), rel=0.001)


def test_liquid_crosses_the_ridge_only_when_its_own_arm_is_full():
    cavity = round_the_body(8.0, 12.0)
    basins = basins_of(cavity, parse_posture("supine").up())
    arm_ml = arm_below_the_ridge_ml(8.0)
    source, other = cavity.nearest(-7.0, 0.0), cavity.nearest(11.0, 0.0)
    assert levels(pour(basins, [(source, 0.99 * arm_ml)]))[other] == -np.inf
    over = pour(basins, [(source, arm_ml + 5.0)])
    # The source's arm is full to the ridge, the rest stands at the other arm's end.
    assert over.filled_ml.sum() == pytest.approx(arm_ml + 5.0)
    assert levels(over)[other] > -np.inf
    assert levels(over)[other] < levels(over)[source]


def test_a_tunnel_that_points_down_fills_before_the_pocket():
    tunnel = Tunnel(3, length_cm=5.0, diameter_cm=1.2, down_deg=20.0)
    corners = ((-5.0, -4.0), (5.0, -4.0), (5.0, 4.0), (-5.0, 4.0))
    wound = Wound("front", "trunk", Opening(2.0, 2.0, 2.0), pocket=Pocket(corners, 1.0), tunnel=(tunnel,))
    cavity = cavity_of(wound, Assumptions(curvature="flat", closed=True))
    tube_ml = math.pi / 4 * 1.2**2 * 5
    source = cavity.nearest(-3.0, 0.0)
    low = pour(basins_of(cavity, parse_posture("left 45").up()), [(source, tube_ml)])
    high = pour(basins_of(cavity, parse_posture("right 60").up()), [(source, tube_ml)])
    in_tunnel = np.arange(len(cavity.u_cm)) >= cavity.grid_count
    assert (levels(low) > low.basins.low_cm)[in_tunnel].mean() > 0.8
    assert under_liquid(low)[0] @ cavity.floor_cm2 / cavity.floor_cm2.sum() < 0.05
    assert not (levels(high) > high.basins.low_cm)[in_tunnel].any()
