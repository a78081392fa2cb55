"""Columns on a grid of 2 mm against solid geometry and meshes: ``settling.closed_forms``, ``settling.mesh``."""

import math

import numpy as np
import pytest
import trimesh

from soakline.wound.body import frame_of
from soakline.wound.cavity import build_cavity
from soakline.wound.measurements import Assumptions, Opening, Pocket, Tunnel, Undermining, Wound
from soakline.wound.sheet import lay_flat
from soakline.wound.volume import areas

SPACING_CM = 0.2
WITHIN = 0.002
FLAT = Assumptions(curvature="flat")
CLOSED = Assumptions(closed=True)


def cavity_of(wound, assumptions=FLAT):
    return build_cavity(lay_flat(wound), frame_of(wound, assumptions), SPACING_CM, closed=assumptions.closed)


def bowl(length_cm, width_cm, depth_cm):
    return Wound("front", "trunk", Opening(length_cm, width_cm, depth_cm, bed="bowl"))


def slab(arc_cm, long_cm, height_cm, girth_cm=100.0):
    u, v = arc_cm / 2, long_cm / 2
    corners = ((-u, -v), (u, -v), (u, v), (-u, v))
    return Wound("front", "trunk", Opening(1.0, 1.0, 3.0), girth_cm, pocket=Pocket(corners, height_cm))


def shell_ml(arc_cm, long_cm, inner_cm, outer_cm, at_cm):
    """Give the volume of a piece of pipe, as a bent block of triangles: ``arc_cm`` is measured at radius ``at_cm``."""
    block = trimesh.creation.box((arc_cm, long_cm, outer_cm - inner_cm))
    for _ in range(6):
        block = block.subdivide()
    angle, y, radius = (
        block.vertices[:, 0] / at_cm,
        block.vertices[:, 1],
        (inner_cm + outer_cm) / 2 + block.vertices[:, 2],
    )
    block.vertices = np.column_stack([radius * np.sin(angle), y, radius * np.cos(angle)])
    return block.volume


@pytest.mark.parametrize("size", [(10.0, 6.0, 4.0), (8.0, 8.0, 2.0), (20.0, 4.0, 3.0)])
def test_bowl_holds_half_an_ellipsoid(size):
    assert cavity_of(bowl(*size)).void_ml == pytest.approx(2 / 3 * math.pi / 4 * math.prod(size), rel=WITHIN)


@pytest.mark.parametrize("radius_cm", [4.0, 6.0])
def test_bed_of_a_round_bowl_is_half_a_sphere(radius_cm):
    found = cavity_of(bowl(2 * radius_cm, 2 * radius_cm, radius_cm)).floor_cm2.sum()
    assert found == pytest.approx(2 * math.pi * radius_cm**2, rel=0.012)


def test_bed_of_a_long_bowl_is_half_an_ellipsoid_by_its_mesh():
    ball = trimesh.creation.icosphere(subdivisions=5)
    ball.apply_scale((5.0, 3.0, 4.0))
    assert cavity_of(bowl(10.0, 6.0, 4.0)).floor_cm2.sum() == pytest.approx(ball.area / 2, rel=0.012)
    assert areas(lay_flat(bowl(10.0, 6.0, 4.0))).bed_cm2 == pytest.approx(ball.area / 2, rel=0.001)


def test_a_planted_level_bed_for_the_bowl_fails():
    assert cavity_of(bowl(10.0, 6.0, 4.0)).floor_cm2.sum() != pytest.approx(math.pi / 4 * 60, rel=0.012)


def test_flat_well_is_an_elliptic_cylinder():
    assert cavity_of(Wound("front", "trunk", Opening(10.0, 6.0, 4.0))).void_ml == pytest.approx(188.5, rel=WITHIN)


def test_ring_sectors_hold_their_slabs():
    parts = (Undermining(12, 6, reach_cm=4.0, height_cm=1.5), Undermining(7, 9, reach_cm=2.0, height_cm=0.8))
    wound = Wound("front", "trunk", Opening(6.0, 6.0, 2.0), undermining=parts)
    by_hand = 9 * math.pi * 2 + math.pi / 2 * 40 * 1.5 + math.pi / 6 * 16 * 0.8
    assert cavity_of(wound).void_ml == pytest.approx(by_hand, rel=WITHIN)


def test_tunnel_is_a_tube():
    wound = Wound("front", "trunk", Opening(6.0, 6.0, 2.0), tunnel=(Tunnel(5, 6.0, 1.0, 15.0),))
    found = cavity_of(wound)
    assert found.volume_ml[found.grid_count :].sum() == pytest.approx(math.pi / 4 * 6, rel=1e-9)


def test_a_pocket_round_the_body_is_a_piece_of_pipe_about_its_mid_height():
    # Volume is area × height: the arc counts half-way up the pocket.
    radius_cm = 100 / math.tau
    found = cavity_of(slab(16.0, 10.0, 2.0), CLOSED).void_ml
    assert found == pytest.approx(shell_ml(16.0, 10.0, radius_cm - 1, radius_cm + 1, radius_cm), rel=WITHIN)
    assert found == pytest.approx(16 * 10 * 2, rel=WITHIN)


def test_a_wrong_arc_along_the_bed_alone_fails():
    radius_cm = 100 / math.tau
    on_the_bed = shell_ml(16.0, 10.0, radius_cm, radius_cm + 2, radius_cm)
    assert cavity_of(slab(16.0, 10.0, 2.0), CLOSED).void_ml != pytest.approx(on_the_bed, rel=0.03)


def test_ten_centimetres_round_a_trunk_of_22_drop_2_2():
    # 22 × (1 − cos(10/22)) = 2.23
    frame = frame_of(slab(16.0, 10.0, 2.0, girth_cm=22 * math.tau), Assumptions())
    middle, aside = frame.place(np.array([0.0, 10.0]), np.zeros(2), np.zeros(2))
    assert middle[1] - aside[1] == pytest.approx(2.23, abs=0.005)
    assert math.dist(middle, aside) < 10.0
