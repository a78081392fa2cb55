"""The kernels do the same compiled and uncompiled: small enough for a pass without the compiler."""

import numpy as np
import pytest
from tests.truth.fluid.twins.beds import under_liquid

from soakline.fluid.basins import basins_of
from soakline.fluid.posture import parse_posture
from soakline.fluid.settle import curve_from, levels, pour
from soakline.wound.body import frame_of
from soakline.wound.cavity import Cavity, build_cavity
from soakline.wound.measurements import Assumptions, Opening, Tunnel, Undermining, Wound
from soakline.wound.sheet import lay_flat

pytestmark = pytest.mark.kernel

SPACING_CM = 0.5


def cavity_of(tunnel: tuple[Tunnel, ...] = ()) -> Cavity:
    """Give a roofed round pocket, 8 cm across and 1 cm high, 50.3 mL: an opening of 4 cm with 2 cm all round."""
    wound = Wound(
        face="front",
        part="trunk",
        opening=Opening(length_cm=4.0, width_cm=4.0, depth_cm=2.0),
        undermining=(Undermining(from_clock=12, to_clock=12, reach_cm=2.0, height_cm=1.0),),
        tunnel=tunnel,
    )
    assumptions = Assumptions(curvature="flat", closed=True)
    return build_cavity(lay_flat(wound), frame_of(wound, assumptions), SPACING_CM, closed=True)


@pytest.fixture(scope="module")
def disc() -> Cavity:
    return cavity_of()


def test_the_columns_hold_the_disc(disc):
    assert disc.void_ml == pytest.approx(np.pi * 4.0**2, rel=0.005)


def test_on_a_level_bed_half_a_disc_stands_half_a_centimetre_deep(disc):
    pools = pour(basins_of(disc, parse_posture("supine").up()), [(0, disc.void_ml / 2)])
    bottom_cm = disc.floor_cm[:, 1]
    assert levels(pools) - bottom_cm == pytest.approx(0.5, abs=0.02)
    floor, roof = under_liquid(pools)
    assert (floor.min(), roof.max()) == (1.0, 0.0)


def test_on_its_side_half_a_disc_soaks_half_of_floor_and_of_roof(disc):
    pools = pour(basins_of(disc, parse_posture("left 90").up()), [(0, disc.void_ml / 2)])
    floor, roof = under_liquid(pools)
    assert float(floor @ disc.floor_cm2 / disc.floor_cm2.sum()) == pytest.approx(0.5, abs=0.02)
    assert float(roof @ disc.roof_cm2 / disc.roof_cm2.sum()) == pytest.approx(0.5, abs=0.02)


def test_what_finds_no_room_is_left_over(disc):
    pools = pour(basins_of(disc, parse_posture("left 30").up()), [(0, disc.void_ml + 7.0)])
    assert pools.left_over_ml == pytest.approx(7.0, abs=0.01)


def test_the_curve_ends_with_everything_soaked():
    cavity = cavity_of((Tunnel(clock=3, length_cm=3.0, diameter_cm=1.0),))
    curve = curve_from(basins_of(cavity, parse_posture("left 30").up()), 0)
    assert curve.void_ml[-1] == pytest.approx(cavity.void_ml, rel=1e-6)
    assert curve.floor_cm2[-1] == pytest.approx(cavity.floor_cm2.sum(), rel=1e-6)
    assert (np.diff(curve.floor_cm2) >= -1e-9).all()
