"""Areas and volumes that a person redoes by hand: ``worked.ring_sectors``, ``worked.shapes``, ``measuring.ellipse``."""

import numpy as np
import pytest

from soakline.wound.measurements import Opening, Pocket, Undermining, Wound
from soakline.wound.sheet import lay_flat
from soakline.wound.volume import areas, void

BY_HOUR = (6, 6, 4, 2, 0, 0, 0, 0, 0, 2, 4, 6)  # 12, 1 … 11 o'clock


def round_wound(*undermining, radius_cm=2.0, depth_cm=2.0):
    return Wound("back", "trunk", Opening(2 * radius_cm, 2 * radius_cm, depth_cm), undermining=undermining)


def pocket_cm2(*undermining):
    return areas(lay_flat(round_wound(*undermining))).pocket_cm2


def hour(clock, reach_cm):
    return Undermining(clock=clock, reach_cm=float(reach_cm))


def test_twelve_hours_add_up_as_ring_sectors():
    # Σ π/12((2 + u)² − 4): 60 + 60 + 32 + 12 + 12 + 32 + 60 = 268; π/12 × 268 = 70.16
    hours = [hour(k or 12, reach) for k, reach in enumerate(BY_HOUR) if reach]
    assert pocket_cm2(*hours) == pytest.approx(70.16, abs=0.005)


def test_four_quarters_see_less():
    # 12, 3 and 9 o'clock each stand for 90°: π/4 × (60 + 12 + 12) = 65.97
    quarters = [
        Undermining(start, end, reach_cm=u) for start, end, u in ((10.5, 1.5, 6), (1.5, 4.5, 2), (7.5, 10.5, 2))
    ]
    assert pocket_cm2(*quarters) == pytest.approx(65.97, abs=0.005)


def test_two_hours_that_four_points_miss():
    # π/12 × 2 × 60 = 31.4
    assert pocket_cm2(hour(1, 6), hour(2, 6)) == pytest.approx(31.416, abs=0.001)


def test_a_planted_hour_as_a_triangle_fails():
    # Straight lines between the ends of the probe: ½ sin 30° · (8·8 − 2·2) for each of two hours.
    triangles = 2 * 0.5 * np.sin(np.radians(30)) * (64 - 4)
    assert pocket_cm2(hour(1, 6), hour(2, 6)) != pytest.approx(triangles, rel=0.01)


def test_an_ellipse_of_ten_by_six_is_not_sixty():
    found = areas(lay_flat(Wound("front", "trunk", Opening(10.0, 6.0, 4.0))))
    assert found.opening_cm2 == pytest.approx(47.12, abs=0.005)  # π/4 × 10 × 6
    assert found.opening_cm2 == pytest.approx(0.785 * 60, rel=0.001)  # ``measuring.kundin``


@pytest.mark.parametrize(("bed", "by_hand"), [("flat", 188.5), ("bowl", 125.66)])
def test_well_is_an_elliptic_cylinder_or_half_an_ellipsoid(bed, by_hand):
    # 47.12 × 4 = 188.5; 4/3·π·5·3·4 / 2 = 125.7
    assert void(lay_flat(Wound("front", "trunk", Opening(10.0, 6.0, 4.0, bed=bed)))).total_ml == pytest.approx(
        by_hand, abs=0.05
    )


def test_a_planted_box_fails():
    found = void(lay_flat(Wound("front", "trunk", Opening(10.0, 6.0, 4.0))))
    assert found.total_ml != pytest.approx(10 * 6 * 4, rel=0.01)


def test_a_taper_is_a_ring_whose_reach_falls_to_nothing():
    # ∫ (r·u + u²/2) dθ over π with u from 0 to 4 and back: π × (3 × 4/2 + 4²/6) = 27.23
    tapered = Undermining(12, 6, reach_cm=4.0, ends="taper")
    found = areas(lay_flat(round_wound(tapered, radius_cm=3.0))).pocket_cm2
    assert found == pytest.approx(np.pi * (6 + 16 / 6), rel=1e-4)


def test_a_square_marked_on_the_skin_is_its_area_less_the_opening():
    square = ((-5.0, -5.0), (5.0, -5.0), (5.0, 5.0), (-5.0, 5.0))
    wound = Wound("front", "trunk", Opening(4.0, 4.0, 2.0), pocket=Pocket(square, 1.0))
    assert areas(lay_flat(wound)).pocket_cm2 == pytest.approx(100 - 4 * np.pi, rel=1e-4)


def test_a_traced_edge_is_summed_corner_by_corner():
    # An L of 4 × 4 less 2 × 2, seen from its own centre of area.
    corners = ((0.0, 0.0), (4.0, 0.0), (4.0, 2.0), (2.0, 2.0), (2.0, 4.0), (0.0, 4.0))
    assert areas(lay_flat(Wound("front", "trunk", Opening(outline_cm=corners)))).opening_cm2 == pytest.approx(12.0)
