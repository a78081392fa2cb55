"""The mesh that is shown in three dimensions holds what the cavity holds: areas, volume, closed skin."""

from dataclasses import replace

import numpy as np
import pytest
import trimesh

from soakline.pictures.mesh import mesh_of
from soakline.wound.body import frame_of
from soakline.wound.cavity import build_cavity
from soakline.wound.measurements import Assumptions, Opening, Tunnel, Undermining, Wound
from soakline.wound.sheet import lay_flat

FLAT = Assumptions(curvature="flat")
POCKET = Undermining(from_clock=12, to_clock=6, reach_cm=4.0, height_cm=1.5)
LOW = Undermining(from_clock=2, to_clock=4, reach_cm=7.0, height_cm=0.8)
WOUNDS = {
    "one pocket": Wound("front", "trunk", Opening(6.0, 6.0, 2.5), girth_cm=104, undermining=(POCKET,)),
    "a low pocket beyond a high one": Wound(
        "back", "trunk", Opening(9.0, 5.0, 3.0), girth_cm=90, undermining=(POCKET, LOW)
    ),
    "no pocket": Wound("left", "thigh", Opening(8.0, 4.0, 2.0), girth_cm=55),
    "a bowl": Wound("front", "trunk", Opening(8.0, 6.0, 2.0, bed="bowl"), girth_cm=104),
    "a tunnel": Wound(
        "front",
        "trunk",
        Opening(6.0, 6.0, 2.5),
        girth_cm=104,
        undermining=(POCKET,),
        tunnel=(Tunnel(clock=9, length_cm=5.0, diameter_cm=1.2), Tunnel(clock=3, length_cm=4.0, diameter_cm=0.8)),
    ),
}


def meshed(wound, assumptions):
    sheet, frame = lay_flat(wound), frame_of(wound, assumptions)
    cavity = build_cavity(sheet, frame, 0.2)
    return cavity, mesh_of(sheet, frame, cavity)


def solid(net):
    points = net.point_cm.reshape(-1, 3)
    return trimesh.Trimesh(points, net.triangles(), process=True)


def area_cm2(net, *parts):
    corners = net.point_cm.reshape(-1, 3)[net.triangles(*parts)]
    return (
        float(np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1).sum()) / 2
    )


@pytest.mark.parametrize("name", WOUNDS)
def test_the_closed_skin_holds_the_void(name):
    cavity, nets = meshed(WOUNDS[name], FLAT)
    held_ml = sum(abs(solid(net).volume) for net in nets)
    assert held_ml == pytest.approx(cavity.void_ml, rel=0.02)


@pytest.mark.parametrize("name", WOUNDS)
def test_on_a_curved_part_the_skin_holds_what_columns_on_a_cylinder_hold(name):
    wound = WOUNDS[name]
    cavity, nets = meshed(wound, Assumptions())
    # A slab of height h whose middle lies m above a cylinder of radius R holds 1 + m/R of what it holds laid flat.
    radius_cm = wound.girth_cm / (2.0 * np.pi)
    grid = slice(cavity.grid_count)
    flat_cavity, _ = meshed(wound, FLAT)
    middle_cm = flat_cavity.centre_cm[grid] @ frame_of(wound, FLAT).normal
    expected = float((cavity.volume_ml[grid] * (1.0 + middle_cm / radius_cm)).sum())
    assert abs(solid(nets[0]).volume) == pytest.approx(expected, rel=0.02)


@pytest.mark.parametrize("name", WOUNDS)
def test_the_floor_has_the_area_of_the_floor(name):
    cavity, nets = meshed(WOUNDS[name], FLAT)
    assert area_cm2(nets[0], "floor") == pytest.approx(float(cavity.floor_cm2.sum()), rel=0.01)


@pytest.mark.parametrize("name", WOUNDS)
def test_the_skin_is_closed_and_all_its_triangles_face_one_way(name):
    for net in meshed(WOUNDS[name], FLAT)[1]:
        skin = solid(net)
        skin.merge_vertices()
        skin.update_faces(skin.nondegenerate_faces())
        assert skin.is_winding_consistent
        assert skin.is_watertight


def test_a_pocket_left_out_is_seen_by_the_volume():
    wound = WOUNDS["one pocket"]
    cavity, _ = meshed(wound, FLAT)
    _, nets = meshed(replace(wound, undermining=()), FLAT)
    assert abs(solid(nets[0]).volume) != pytest.approx(cavity.void_ml, rel=0.02)


def test_each_point_stands_at_a_column_of_its_own_side():
    cavity, nets = meshed(WOUNDS["one pocket"], FLAT)
    net = nets[0]
    middle = cavity.in_opening[net.column[0]]
    assert middle.all()
    outer = net.part.index("wall")
    # The pocket runs from 12 to 6: half of the rays.
    assert cavity.in_opening[net.column[outer]].mean() == pytest.approx(0.5)
