"""Turning inside one soak of a day, on the slab that is summed by hand: ``settling.tilted_slab``."""

from functools import cache

import numpy as np
import pytest

from soakline.fluid.day import Left, Stretch, TurnInside, soak_day
from soakline.fluid.posture import Posture
from soakline.fluid.spread import Foam, Soak
from soakline.wound.body import frame_of
from soakline.wound.cavity import build_cavity
from soakline.wound.measurements import Assumptions, Opening, Pocket, Wound
from soakline.wound.sheet import lay_flat

EMPTY = Assumptions(curvature="flat", closed=True)
CORNERS = ((-5.0, -4.0), (5.0, -4.0), (5.0, 4.0), (-5.0, 4.0))
SLAB = Wound("front", "trunk", Opening(2.0, 2.0, 2.0), pocket=Pocket(CORNERS, 1.5))
HOLDS_NOTHING = Foam(1e-8, 0.0, 1.0)
# Two minutes of fill, then four hours, turned every hour: long enough to come to rest each time.
SOAK, EACH_S = Soak(120.0, 4 * 3_600.0), 3_600.0
# Less than a few minutes of an hour is liquid on its way.
PASSING_MIN = 6.0
POINT = 0.015


@cache
def slab():
    return build_cavity(lay_flat(SLAB), frame_of(SLAB, EMPTY), 0.25, closed=True)


def lain(roll_deg):
    return Posture(f"roll {roll_deg}", roll_deg=roll_deg)


@cache
def soaked(rolls_deg, fill_ml):
    """Give the shares of floor and roof that one fill soaks in any of the postures, and the day."""
    cavity, postures = slab(), [lain(roll_deg) for roll_deg in rolls_deg]
    turns = tuple(TurnInside(120.0 + number * EACH_S, one) for number, one in enumerate(postures[1:], start=1))
    nothing_left = Left(0.0, np.zeros(len(cavity.u_cm), dtype=bool))
    day = soak_day(
        cavity,
        [Stretch(postures[0], 1, turns)],
        HOLDS_NOTHING,
        [(cavity.nearest(3.0, 0.0), fill_ml)],
        SOAK,
        {postures[-1].name: nothing_left},
    )
    floor, roof = day.floor_soaked_min > PASSING_MIN, day.roof_soaked_min > PASSING_MIN
    return floor @ cavity.floor_cm2 / 80.0, roof @ cavity.roof_cm2 / 80.0, day


def test_30_degrees_each_way_soaks_all_of_the_floor_and_7_40_of_10_cm_of_the_roof():
    floor, roof, day = soaked((30, -30), 60.0)
    assert (floor, roof) == (pytest.approx(1.0, abs=POINT), pytest.approx(0.740, abs=2 * POINT))
    # The middle 2.6 cm of the roof, 1.3 to either side, never: to half a column.
    dry = slab().u_cm[day.roof_soaked_min <= PASSING_MIN]
    assert (dry.min(), dry.max()) == (pytest.approx(-1.30, abs=0.2), pytest.approx(1.30, abs=0.2))


def test_without_the_turn_a_side_stays_dry():
    floor, roof, _ = soaked((30,), 60.0)
    assert (floor, roof) == (pytest.approx(0.630, abs=2 * POINT), pytest.approx(0.370, abs=2 * POINT))


def test_lying_level_between_does_not_help_the_roof():
    assert soaked((30, 0, -30), 60.0)[1] == pytest.approx(0.740, abs=2 * POINT)


def test_a_turn_keeps_what_was_filled():
    _, _, day = soaked((30, -30), 60.0)
    assert day.held_ml == pytest.approx(60.0)


def test_a_planted_turn_that_loses_a_tenth_of_the_liquid_fails():
    assert soaked((30, -30), 54.0)[1] != pytest.approx(0.740, abs=2 * POINT)
