"""A closed slab and a closed disc, tilted: ``settling.tilted_slab``, ``settling.tilted_disc``."""

import math

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq
from tests.truth.fluid.twins.beds import under_liquid

from soakline.fluid.basins import basins_of
from soakline.fluid.posture import Posture
from soakline.fluid.settle import curve_from, pour
from soakline.wound.body import frame_of
from soakline.wound.cavity import build_cavity
from soakline.wound.measurements import Assumptions, Opening, Pocket, Undermining, Wound
from soakline.wound.sheet import lay_flat

EMPTY = Assumptions(curvature="flat", closed=True)
CORNERS = ((-5.0, -4.0), (5.0, -4.0), (5.0, 4.0), (-5.0, 4.0))
SLAB = Wound("front", "trunk", Opening(2.0, 2.0, 2.0), pocket=Pocket(CORNERS, 1.5))
DISC = Wound("front", "trunk", Opening(4.0, 4.0, 2.0), undermining=(Undermining(12, 12, reach_cm=6.0, height_cm=1.0),))
POINT = 0.01

# Floor and roof, per cent; the slab's are cm of 10 in the source, far end low.
SLAB_TABLE = {
    (0, 60): (100, 0), (0, 40): (100, 0), (0, 20): (100, 0),
    (10, 60): (92.5, 7.5), (10, 40): (75.3, 0), (10, 20): (53.3, 0),
    (30, 60): (63.0, 37.0), (30, 40): (46.3, 20.3), (30, 20): (29.7, 3.7),
    (90, 60): (50, 50), (90, 40): (33.3, 33.3), (90, 20): (16.7, 16.7),
}  # fmt: skip
DISC_TABLE = {
    (0, 60): (100, 0), (0, 100): (100, 0), (0, 150): (100, 0),
    (5, 60): (71.9, 0), (5, 100): (91.0, 8.6), (5, 150): (100, 33.7),
    (10, 60): (51.5, 10.2), (10, 100): (71.9, 27.7), (10, 150): (93.3, 53.4),
    (30, 60): (36.5, 23.4), (30, 100): (56.6, 42.9), (30, 150): (80.8, 68.1),
    (60, 60): (32.0, 27.7), (60, 100): (52.0, 47.4), (60, 150): (76.7, 72.5),
    (90, 60): (29.9, 29.9), (90, 100): (49.8, 49.8), (90, 150): (74.7, 74.7),
}  # fmt: skip


@pytest.fixture(scope="module")
def cavities():
    return {wound: build_cavity(lay_flat(wound), frame_of(wound, EMPTY), 0.2, closed=True) for wound in (SLAB, DISC)}


def soaked(cavity, tilt_deg, volume_ml):
    basins = basins_of(cavity, Posture("tilted", roll_deg=tilt_deg).up())
    floor, roof = under_liquid(pour(basins, [(cavity.nearest(3.0, 0.0), volume_ml)]))
    return floor @ cavity.floor_cm2 / cavity.floor_cm2.sum(), roof @ cavity.roof_cm2 / cavity.roof_cm2.sum()


def slab_by_formula(tilt_deg, volume_ml, height_cm=1.5):
    """Give the shares of 10 cm: mean wet length m, half a height's run more at the floor and less at the roof."""
    if tilt_deg == 0:
        return 1.0, 0.0
    run = height_cm / (2 * math.tan(math.radians(tilt_deg))) if tilt_deg < 90 else 0.0
    mean = volume_ml / (8 * height_cm)
    floor, roof = mean + run, mean - run
    if roof < 0:
        floor, roof = math.sqrt(2 * volume_ml / 8 / math.tan(math.radians(tilt_deg))), 0.0
    return floor / 10, roof / 10


def disc_by_quadrature(tilt_deg, volume_ml, radius_cm=8.0, height_cm=1.0):
    """Give the shares of a disc, summed strip by strip along the slope; x runs downhill."""
    if tilt_deg == 0:
        return 1.0, 0.0
    sine, cosine = math.sin(math.radians(tilt_deg)), math.cos(math.radians(tilt_deg))

    def chord(x):
        return 2 * math.sqrt(max(radius_cm**2 - x**2, 0.0))

    def shore(level, above_floor_cm):
        return min(max((above_floor_cm * cosine - level) / sine, -radius_cm), radius_cm)

    def held(level):
        # Full height below the roof's shore, a wedge between both shores.
        floor, roof = shore(level, 0.0), shore(level, height_cm)
        wedge = quad(lambda x: chord(x) * (level + x * sine) / cosine, floor, roof)[0] if cosine > 1e-9 else 0.0
        return wedge + height_cm * quad(chord, roof, radius_cm)[0] - volume_ml

    level = brentq(held, -radius_cm, radius_cm + height_cm, xtol=1e-9)
    area = math.pi * radius_cm**2
    return tuple(quad(chord, shore(level, z), radius_cm)[0] / area for z in (0.0, height_cm))


@pytest.mark.parametrize(("tilt_deg", "volume_ml"), SLAB_TABLE)
def test_slab_soaks_as_tabled_and_as_the_formula_says(cavities, tilt_deg, volume_ml):
    found = soaked(cavities[SLAB], tilt_deg, volume_ml)
    assert found == pytest.approx(np.array(SLAB_TABLE[tilt_deg, volume_ml]) / 100, abs=POINT)
    assert found == pytest.approx(slab_by_formula(tilt_deg, volume_ml), abs=POINT)


@pytest.mark.parametrize(("tilt_deg", "volume_ml"), DISC_TABLE)
def test_disc_soaks_as_tabled_and_as_summed_by_strips(cavities, tilt_deg, volume_ml):
    found = soaked(cavities[DISC], tilt_deg, volume_ml)
    assert found == pytest.approx(np.array(DISC_TABLE[tilt_deg, volume_ml]) / 100, abs=POINT)
    assert found == pytest.approx(disc_by_quadrature(tilt_deg, volume_ml), abs=POINT)


def test_turning_to_both_sides_leaves_the_middle_of_the_roof(cavities):
    # 60 mL, 30° each way: the roof under liquid is 3.70 cm from either end, 2.6 of 10 cm never.
    cavity, wet = cavities[SLAB], []
    for tilt_deg in (30, -30):
        basins = basins_of(cavity, Posture("tilted", roll_deg=tilt_deg).up())
        wet.append(under_liquid(pour(basins, [(cavity.nearest(3.0, 0.0), 60.0)])))
    floor, roof = (np.maximum(*pair) for pair in zip(*wet, strict=True))
    assert floor @ cavity.floor_cm2 / cavity.floor_cm2.sum() == pytest.approx(1.0, abs=POINT)
    assert roof @ cavity.roof_cm2 / cavity.roof_cm2.sum() == pytest.approx(0.740, abs=POINT)


def test_closing_the_gap_needs_63_per_cent_of_the_slab(cavities):
    # Roof 5.0 = m − 1.30: m = 6.30 of 10 cm.
    cavity = cavities[SLAB]
    curve = curve_from(basins_of(cavity, Posture("left 30", roll_deg=30).up()), cavity.nearest(3.0, 0.0))
    half = np.interp(0.5 * cavity.roof_cm2.sum(), curve.roof_cm2, curve.void_ml)
    assert half / cavity.void_ml == pytest.approx(0.63, abs=POINT)


def test_a_planted_wrong_side_of_gravity_fails(cavities):
    floor, roof = soaked(cavities[DISC], 30, 60)
    assert (roof, floor) != pytest.approx(np.array(DISC_TABLE[30, 60]) / 100, abs=POINT)


def test_a_planted_even_depth_that_ignores_the_tilt_fails(cavities):
    assert soaked(cavities[SLAB], 30, 60) != pytest.approx((1.0, 0.0), abs=POINT)


def test_a_planted_count_of_half_the_head_fails():
    wrong = slab_by_formula(30, 60, height_cm=0.75)
    assert wrong != pytest.approx(np.array(SLAB_TABLE[30, 60]) / 100, abs=POINT)
