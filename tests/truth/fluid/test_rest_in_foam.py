"""Liquid at rest in foam that holds it: one head over a tilted slab, and where the spread model ends after hours.

Sources: ``foam.van_genuchten`` for what foam holds at a head, ``settling.tilted_slab`` for the slab,
``settling.barnes_2021`` for basins. The invented cavities are those of ``benchmarks.invented_wounds``.
"""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from benchmarks.invented_wounds import invented
from scipy.integrate import quad
from scipy.optimize import brentq
from tests.truth.fluid.twins.beds import rectangle, tilted

from soakline.fluid.basins import basins_of
from soakline.fluid.capillary import MOIST_HEAD_SHARE, SOAKED_HEAD_SHARE, saturation_share
from soakline.fluid.posture import parse_posture
from soakline.fluid.rest import held_share, rest, rest_wetness, room_of
from soakline.fluid.spread import FILM_CM, Foam, Soak, lay_foam, spread, wetness
from soakline.wound.body import frame_of
from soakline.wound.cavity import build_cavity
from soakline.wound.measurements import Assumptions, Opening, Undermining, Wound
from soakline.wound.sheet import lay_flat

LONG_CM, WIDE_CM, HIGH_CM, POROSITY = 16.0, 4.0, 1.5, 0.8
SLABS = [(tilt, ml, hc) for hc in (0.3, 1.0, 3.0) for tilt, ml in ((0, 40), (5, 30), (10, 60), (30, 60), (90, 40))]
FOUR_HOURS, TEN_MINUTES = Soak(120.0, 14_400.0), Soak(120.0, 600.0)


def held_by_curve(head_cm, capillary_height_cm):
    """Give the retention curve with what the driest foam still holds taken off, from its published form."""

    def saturation(head):
        return (1.0 + np.maximum(-head / capillary_height_cm, 0.0) ** 4) ** -0.75

    driest = saturation(np.float64(-6.0 * capillary_height_cm))
    return np.maximum(saturation(head_cm) - driest, 0.0) / (1.0 - driest)


def slab_by_curve(tilt_deg, volume_ml, capillary_height_cm, held=held_by_curve):
    """Give soaked and at least moist floor and roof in %, where the slab summed point by point holds the volume."""
    tilt = np.radians(tilt_deg)
    down, up = ((np.arange(n) + 0.5) / n for n in (2_000, 300))
    floor = -down * LONG_CM * np.sin(tilt)
    roof = floor + HIGH_CM * np.cos(tilt)
    height = floor[:, None] + up * HIGH_CM * np.cos(tilt)
    room_ml = POROSITY * LONG_CM * WIDE_CM * HIGH_CM
    head = brentq(lambda h: room_ml * held(h - height, capillary_height_cm).mean() - volume_ml, -60.0, 20.0)
    marks = [share * capillary_height_cm + FILM_CM for share in (SOAKED_HEAD_SHARE, MOIST_HEAD_SHARE)]
    return [100.0 * (head - face >= mark).mean() for face in (floor, roof) for mark in marks]


def in_points(found, cavity):
    """Give soaked and at least moist floor and roof in %."""
    pairs = zip(found, (cavity.floor_cm2, cavity.roof_cm2), strict=True)
    return np.concatenate([100.0 * np.cumsum(area @ state / area.sum())[:2] for state, area in pairs])


def slab_at_rest(tilt_deg, volume_ml, capillary_height_cm):
    cavity = rectangle(64, 16, 0.25, HIGH_CM)
    room = room_of(basins_of(cavity, tilted(tilt_deg)), Foam(1e-8, capillary_height_cm, POROSITY))
    return in_points(rest_wetness(rest(room, [(cavity.nearest(4.0, 2.0), volume_ml)])), cavity)


@pytest.mark.parametrize(("tilt_deg", "volume_ml", "capillary_height_cm"), SLABS)
def test_a_slab_is_at_one_head_as_summed_point_by_point(tilt_deg, volume_ml, capillary_height_cm):
    found = slab_at_rest(tilt_deg, volume_ml, capillary_height_cm)
    assert found == pytest.approx(slab_by_curve(tilt_deg, volume_ml, capillary_height_cm), abs=0.5)


def test_a_planted_foam_that_holds_twice_as_high_is_caught():
    wrong = slab_by_curve(5, 30, 1.0, held=lambda head, hc: held_by_curve(head, 2.0 * hc))
    assert np.abs(slab_at_rest(5, 30, 1.0) - wrong).max() > 5.0


def test_a_planted_level_without_a_fringe_is_caught():
    def level_only(head, capillary_height_cm):
        return (head >= 0.0).astype(float)

    assert np.abs(slab_at_rest(10, 60, 1.0) - slab_by_curve(10, 60, 1.0, held=level_only)).max() > 5.0


@pytest.mark.parametrize("ratio", [0.05, 0.5, 2.0, 20.0])
def test_a_column_holds_what_the_curve_summed_over_it_holds(ratio):
    capillary_height_cm = 1.5 / ratio
    for head_cm in np.linspace(-6.5 * capillary_height_cm, 2.0, 15):
        whole, _ = quad(
            lambda z, head=head_cm: float(held_by_curve(np.float64(head - z), capillary_height_cm)), 0.0, 1.5, limit=200
        )
        found = held_share(np.array([head_cm]), np.array([1.5]), capillary_height_cm)[0]
        # Taken off is the driest column here, the driest point there.
        driest = float(saturation_share(np.array([-6.0]), 1.0)[0])
        assert found == pytest.approx(whole / 1.5, abs=driest)


@cache
def rest_less_spread(soak, permeability_m2, *, wicks=True):
    """Give for 40 invented cavities, a posture each, rest less the spread model's end, in points (40, 4)."""
    apart = []
    for number, drawn in enumerate(invented(40, seed=3)):
        draw = np.random.default_rng(number)
        cavity = build_cavity(lay_flat(drawn.wound), frame_of(drawn.wound, Assumptions()), 0.75)
        up = drawn.postures[number % 3].up()
        foam = Foam(permeability_m2, (0.3, 0.6, 1.0, 2.0)[number % 4], 0.8)
        poured = [(int(draw.integers(cavity.grid_count)), 0.8 * cavity.void_ml * draw.uniform(0.1, 0.6))]
        run = spread(lay_foam(cavity, up, foam), poured, soak)
        held = foam if wicks else replace(foam, capillary_height_cm=0.0)
        at_rest = rest_wetness(rest(room_of(basins_of(cavity, up), held), poured))
        apart.append(in_points(at_rest, cavity) - in_points(wetness(run), cavity))
    return np.array(apart)


def test_what_is_soaked_is_where_the_spread_model_ends_after_hours():
    off = np.abs(rest_less_spread(FOUR_HOURS, 1e-8))
    assert off[:, [0, 2]].mean(axis=0).max() < 1.0
    assert off[:, [0, 2]].max() < 5.0
    assert off.mean() < 1.0


def test_what_is_soaked_after_ten_minutes_in_open_foam_is_nearly_that_too():
    off = np.abs(rest_less_spread(TEN_MINUTES, 3e-9))
    assert off[:, [0, 2]].mean(axis=0).max() < 1.5
    assert off[:, [0, 2]].max() < 5.0


def test_a_planted_level_in_foam_that_wicks_is_caught():
    off = np.abs(rest_less_spread(FOUR_HOURS, 1e-8, wicks=False))
    assert off[:, [0, 2]].mean(axis=0).max() > 2.4
    assert off[:, [0, 2]].max() > 10.0


def test_moist_foam_on_a_sill_joins_what_lies_on_both_sides():
    # A pocket from 3 to 9 over the belly, supine: its ends are low, its middle is the sill.
    pocket = (Undermining(1, 5, None, 8.0, 1.0), Undermining(7, 11, None, 8.0, 1.0))
    wound = Wound("front", "trunk", Opening(4.0, 4.0, 2.0), 100.0, undermining=pocket)
    cavity = build_cavity(lay_flat(wound), frame_of(wound, Assumptions()), 0.5)
    basins = basins_of(cavity, parse_posture("supine").up())
    sill_cm = basins.top_cm[int(basins.leaf[cavity.nearest(8.0, 0.0)])]
    port, beyond = cavity.nearest(8.0, 0.0), cavity.nearest(-8.0, 0.0)
    room = room_of(basins, Foam(3e-9, 0.5, 0.8))
    heads = np.array([rest(room, [(port, ml)]).head_cm[[port, beyond]] for ml in np.arange(2.0, 140.0, 1.0)])
    full_cm = sill_cm + MOIST_HEAD_SHARE * 0.5
    alone, joined = np.isinf(heads[:, 1]), heads[:, 0] > full_cm + 1e-6
    spilling = ~alone & ~joined
    # First the near side fills until the foam on the sill is moist, then it gives on, then both rise together.
    assert np.flatnonzero(alone).max() < np.flatnonzero(spilling).min() < np.flatnonzero(joined).min()
    assert heads[spilling, 0] == pytest.approx(full_cm, abs=1e-6)
    assert (heads[spilling, 1] < full_cm).all()
    assert heads[joined, 1] == pytest.approx(heads[joined, 0], abs=1e-9)
