"""How fast volumes and levels close in with the grid (``settling.closed_forms``), and that no drop is lost.

Seen: bowls hold their half ellipsoid within 0.07 % at 1 cm and 0.0006 % at 1.25 mm, order 2.1 to 2.7; the level of a
sphere cap, order 2.1. Mass after a soak of 12 minutes: 3e-16 of what was poured.
"""

import math

import numpy as np
import pytest
from scipy.optimize import brentq
from tests.truth.fluid.twins.beds import flank

from soakline.fluid.basins import basins_of
from soakline.fluid.posture import parse_posture
from soakline.fluid.settle import levels, pour
from soakline.fluid.spread import Foam, Soak, lay_foam, spread
from soakline.wound.body import frame_of
from soakline.wound.cavity import build_cavity
from soakline.wound.measurements import Assumptions, Opening, Wound
from soakline.wound.sheet import lay_flat

FLAT = Assumptions(curvature="flat")
BOWLS = [(10.0, 6.0, 4.0), (8.0, 8.0, 2.0), (20.0, 4.0, 3.0)]
WIDE_CM, NARROW_CM = 1.0, 0.125


def bowl(length_cm, width_cm, depth_cm, spacing_cm):
    wound = Wound("front", "trunk", Opening(length_cm, width_cm, depth_cm, bed="bowl"))
    return build_cavity(lay_flat(wound), frame_of(wound, FLAT), spacing_cm)


def order_of(wide_error, narrow_error, times_narrower):
    return math.log(abs(wide_error / narrow_error), times_narrower)


def void_error_ml(size, spacing_cm, held_ml=lambda cavity: cavity.void_ml):
    return held_ml(bowl(*size, spacing_cm)) - 2 / 3 * math.pi / 4 * math.prod(size)


@pytest.mark.parametrize("size", BOWLS)
def test_what_a_bowl_holds_closes_in_with_the_square_of_the_grid(size):
    wide, narrow = (void_error_ml(size, spacing_cm) for spacing_cm in (WIDE_CM, NARROW_CM))
    assert abs(wide) < 0.001 * 2 / 3 * math.pi / 4 * math.prod(size)
    assert order_of(wide, narrow, WIDE_CM / NARROW_CM) > 1.8


def test_planted_cubes_that_lie_wholly_inside_are_caught():
    def in_cubes_ml(cavity):
        cubes = np.floor(cavity.height_cm / cavity.spacing_cm)
        return float(cavity.spacing_cm**3 * cubes.sum())

    wide, narrow = (void_error_ml(BOWLS[0], spacing_cm, in_cubes_ml) for spacing_cm in (WIDE_CM, NARROW_CM))
    assert order_of(wide, narrow, WIDE_CM / NARROW_CM) < 1.2


@pytest.mark.parametrize("volume_ml", [20.0, 60.0])
def test_the_level_of_a_sphere_cap_closes_in_with_the_square_of_the_grid(volume_ml):
    by_hand = brentq(lambda h: math.pi * h**2 * (12 - h) / 3 - volume_ml, 0.0, 4.0)

    def error_cm(spacing_cm):
        basins = basins_of(bowl(8.0, 8.0, 4.0, spacing_cm), parse_posture("supine").up())
        return levels(pour(basins, [(0, volume_ml)])).max() - by_hand

    assert order_of(error_cm(0.8), error_cm(0.2), 4.0) > 1.8


def soaked(posture, foam):
    cavity = flank(0.75)
    sheet = lay_foam(cavity, parse_posture(posture).up(), foam)
    return spread(sheet, [(cavity.nearest(8.0, 0.0), 80.0)], Soak(120.0, 600.0))


@pytest.mark.parametrize(
    ("posture", "foam"),
    [
        ("supine", Foam(3e-9, 1.0, 0.776)),
        ("right 90", Foam(1e-8, 0.3, 0.776)),
        ("left 30", Foam(1e-8, 0.0, 0.776)),
    ],
)
def test_what_was_poured_is_what_stands_there(posture, foam):
    run = soaked(posture, foam)
    assert run.left_over_ml == 0.0
    assert run.filling_share @ run.sheet.full_ml == pytest.approx(80.0, rel=1e-13)


def test_a_planted_rounding_to_seven_figures_is_caught():
    run = soaked("supine", Foam(3e-9, 1.0, 0.776))
    rounded = run.filling_share.astype(np.float32).astype(float)
    assert rounded @ run.sheet.full_ml != pytest.approx(80.0, rel=1e-10)
