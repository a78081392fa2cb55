"""Where spreading liquid comes to rest: at its level without capillarity, at one head with it.

Sources: ``settling.barnes_2021`` for the basins it settles in, ``settling.tilted_slab`` for the shape of the slab,
``foam.van_genuchten`` for what foam holds at a head.
"""

from functools import cache

import numpy as np
import pytest
from scipy.optimize import brentq
from tests.truth.fluid.twins.beds import reached_points, rectangle, tilted, under_liquid

from soakline.fluid.basins import basins_of
from soakline.fluid.capillary import MOIST_HEAD_SHARE, SOAKED_HEAD_SHARE
from soakline.fluid.posture import parse_posture
from soakline.fluid.settle import pour
from soakline.fluid.spread import FILM_CM, Foam, Soak, lay_foam, spread
from soakline.wound.body import frame_of
from soakline.wound.cavity import build_cavity
from soakline.wound.measurements import Assumptions, Opening, Undermining, Wound
from soakline.wound.sheet import lay_flat

POSTURES = (
    "supine", "left 30", "right 30", "left 90", "head up 20", "prone", "right 60 head up 20", "head down 15",
    "left 30 head up 30", "right 90",
)  # fmt: skip
FOUR_HOURS = Soak(300.0, 14_400.0)


def drawn(number):
    """Give a wound with two pockets of their own hours, reach and height, a posture, a port and a fill."""
    rng = np.random.default_rng(1_000 + number)
    hours = rng.choice(np.arange(1, 13), 2, replace=False)
    pockets = tuple(
        Undermining(float(h), float((h + rng.integers(1, 4)) % 12 + 1), None, rng.uniform(3, 9), rng.uniform(0.6, 1.8))
        for h in hours
    )
    opening = Opening(rng.uniform(4, 8), rng.uniform(3, 6), 2.0)
    face = ("front", "back", "left", "right")[number % 4]
    wound = Wound(face, "trunk", opening, rng.uniform(80, 120), undermining=pockets)
    cavity = build_cavity(lay_flat(wound), frame_of(wound, Assumptions()), 0.75)
    up = parse_posture(POSTURES[number % len(POSTURES)]).up()
    port = cavity.nearest(*rng.uniform(-6, 6, 2))
    return cavity, up, port, rng.uniform(0.15, 0.6) * cavity.void_ml


def under_points(floor, roof, cavity):
    """Give the floor and the roof under liquid in %, from the share of each column's."""
    return [
        100.0 * share @ area / area.sum() for share, area in ((floor, cavity.floor_cm2), (roof, cavity.roof_cm2))
    ]  # fmt: skip


def spread_less_settled(number, *, soak=FOUR_HOURS, permeability_m2=1e-8):
    """Give how far floor and roof under liquid lie apart, in points: the bare level, and with the film taken off."""
    cavity, up, port, void_ml = drawn(number)
    sheet = lay_foam(cavity, up, Foam(permeability_m2, 0.0, 0.8))
    run = spread(sheet, [(port, 0.8 * void_ml)], soak)
    level = np.where(run.filling_share > 1e-3, run.head_cm[-1], -np.inf)
    bare = under_points(
        np.clip((level - sheet.floor_low_cm) / sheet.floor_width_cm, 0.0, 1.0),
        np.clip((level - sheet.roof_low_cm) / sheet.roof_width_cm, 0.0, 1.0),
        cavity,
    )
    settled = under_points(*under_liquid(pour(basins_of(cavity, up), [(port, void_ml)])), cavity)
    return np.subtract(bare, settled), reached_points(run)[[0, 3]] - settled


@cache
def all_less_settled():
    bare, told = zip(*(spread_less_settled(number) for number in range(20)), strict=True)
    return np.array(bare), np.array(told)


def test_after_hours_the_level_is_the_settled_one():
    bare, _ = all_less_settled()
    assert np.abs(bare).mean() < 0.5
    assert np.abs(bare).max() < 1.5


def test_what_counts_as_soaked_after_hours_is_less_by_a_film():
    # The settled model counts a film of no thickness as soaked; at the rim of a pool on a level bed that is points.
    bare, told = all_less_settled()
    assert (told <= bare + 0.5).all()
    assert np.abs(np.median(told, axis=0)).max() < 1.0
    assert np.abs(told).max() < 8.0


def test_a_planted_stop_after_a_minute_in_tight_foam_is_caught():
    apart = [np.abs(spread_less_settled(n, soak=Soak(30.0, 30.0), permeability_m2=1e-10)[0]).max() for n in range(4)]
    assert max(apart) > 5.0


LONG_CM, WIDE_CM, HIGH_CM, HELD_CM, POROSITY = 16.0, 4.0, 1.5, 1.0, 0.8


def held_at(head_cm):
    return (1.0 + (np.maximum(-head_cm, 0.0) / HELD_CM) ** 4) ** -0.75


def slab_in_equilibrium(tilt_deg, volume_ml, held=held_at):
    """Give the head over the upper floor edge in cm, and soaked and at least moist of floor and roof in %."""
    tilt = np.radians(tilt_deg)
    down, up = ((np.arange(n) + 0.5) / n for n in (2_000, 300))
    floor, roof = -down * LONG_CM * np.sin(tilt), -down * LONG_CM * np.sin(tilt) + HIGH_CM * np.cos(tilt)
    height = floor[:, None] + up * HIGH_CM * np.cos(tilt)
    room_ml = POROSITY * LONG_CM * WIDE_CM * HIGH_CM
    head = brentq(lambda h: room_ml * held(h - height).mean() - volume_ml, -40.0, 20.0)
    marks = SOAKED_HEAD_SHARE * HELD_CM + FILM_CM, MOIST_HEAD_SHARE * HELD_CM + FILM_CM
    return head, [100.0 * (head - face >= mark).mean() for face in (floor, roof) for mark in marks]


def slab_by_spread(tilt_deg, volume_ml, port_cm):
    """Give heads over the upper floor edge of all wet columns, and soaked and at least moist of floor and roof in %."""
    cavity, up = rectangle(32, 8, 0.5, HIGH_CM), tilted(tilt_deg)
    sheet = lay_foam(cavity, up, Foam(1e-8, HELD_CM, POROSITY))
    run = spread(sheet, [(cavity.nearest(port_cm, 2.0), volume_ml)], Soak(120.0, 72_000.0))
    edge = cavity.floor_cm[0] @ up + cavity.u_cm[0] * np.sin(np.radians(tilt_deg))
    return run.head_cm[-1][run.filling_share > 0.02] - edge, reached_points(run)[[0, 1, 3, 4]]


SLABS = [(0, 60, 4.0), (5, 30, 14.0), (10, 60, 14.0), (30, 60, 2.0), (30, 60, 14.0), (60, 40, 14.0)]


@pytest.mark.parametrize(("tilt_deg", "volume_ml", "port_cm"), SLABS)
def test_foam_that_holds_comes_to_rest_at_one_head(tilt_deg, volume_ml, port_cm):
    heads, shares = slab_by_spread(tilt_deg, volume_ml, port_cm)
    head, right = slab_in_equilibrium(tilt_deg, volume_ml)
    assert np.ptp(heads) < 1e-6
    assert heads.mean() == pytest.approx(head, abs=0.06)
    assert shares == pytest.approx(right, abs=0.6)


def test_a_planted_foam_that_holds_twice_as_high_is_caught():
    _, shares = slab_by_spread(30, 60, 2.0)
    _, wrong = slab_in_equilibrium(30, 60, held=lambda head: held_at(head / 2.0))
    assert np.abs(shares - wrong).max() > 2.0


def test_a_planted_sharp_level_is_caught():
    _, shares = slab_by_spread(10, 60, 14.0)
    _, wrong = slab_in_equilibrium(10, 60, held=lambda head: (head >= 0.0).astype(float))
    assert np.abs(shares - wrong).max() > 2.0
