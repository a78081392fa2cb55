"""Places on the hidden surface, as people name them."""

import numpy as np
import pytest

from soakline.layout.zones import pocket_of_column, pockets_of, say_zones
from soakline.wound.body import frame_of
from soakline.wound.cavity import build_cavity
from soakline.wound.measurements import Assumptions, Opening, Tunnel, Undermining, Wound
from soakline.wound.sheet import lay_flat


def laid(*undermining, tunnel=()):
    wound = Wound("front", "trunk", Opening(6.0, 6.0, 3.0), undermining=undermining, tunnel=tunnel)
    sheet = lay_flat(wound)
    return sheet, build_cavity(sheet, frame_of(wound, Assumptions(curvature="flat")), 0.25)


def hours(start, end, reach=6.0):
    return Undermining(start, end, reach_cm=reach, height_cm=1.5)


@pytest.mark.parametrize(
    ("undermining", "said"),
    [
        ((hours(2, 5),), ["the pocket from 2 to 5 o'clock"]),
        ((hours(2, 4), hours(8, 10)), ["the pocket from 2 to 4 o'clock", "the pocket from 8 to 10 o'clock"]),
        ((hours(2, 4), hours(4, 6)), ["the pocket from 2 to 6 o'clock"]),
        ((hours(10, 2),), ["the pocket from 10 to 2 o'clock"]),
        ((hours(12, 12),), ["the pocket all round"]),
        ((Undermining(clock=9, reach_cm=4.0, height_cm=1.0),), ["the pocket from half past 8 to half past 9"]),
        ((), []),
    ],
)
def test_pockets_are_told_by_their_hours_and_those_that_touch_are_one(undermining, said):
    sheet, _ = laid(*undermining)
    assert [pocket.says for pocket in pockets_of(sheet)] == said


def test_every_column_under_kept_skin_belongs_to_one_pocket_and_a_tunnel_to_its_own():
    sheet, cavity = laid(hours(2, 4), hours(8, 10), tunnel=(Tunnel(3, 4.0, 1.0),))
    pocket = pocket_of_column(sheet, cavity)
    grid = np.arange(len(pocket)) < cavity.grid_count
    assert ((pocket == -1) == cavity.in_opening)[grid].all()
    assert (pocket[~grid] == 0).all()
    assert (cavity.u_cm[(pocket == 0) & grid] > 0.0).all()
    assert (cavity.u_cm[(pocket == 1) & grid] < 0.0).all()


def test_a_place_is_an_hour_and_a_third_and_neighbours_are_told_together():
    sheet, cavity = laid(hours(2, 5))
    beyond = np.hypot(cavity.u_cm, cavity.v_cm) - 3.0
    area = cavity.floor_cm2
    assert say_zones(sheet, cavity, beyond > 4.0, area) == ("2 to 5 o'clock, deepest third",)
    assert say_zones(sheet, cavity, cavity.in_opening, area) == ("under the opening",)
    assert say_zones(sheet, cavity, ~cavity.in_opening, area) == ("2 to 5 o'clock, its whole depth",)
    assert say_zones(sheet, cavity, np.zeros(len(area), dtype=bool), area) == ()


def test_a_run_of_hours_may_pass_12():
    sheet, cavity = laid(hours(11, 1))
    assert say_zones(sheet, cavity, ~cavity.in_opening, cavity.floor_cm2) == ("11 to 1 o'clock, its whole depth",)


def test_all_round_is_at_every_hour():
    sheet, cavity = laid(hours(12, 12))
    assert say_zones(sheet, cavity, ~cavity.in_opening, cavity.floor_cm2) == ("at every hour, its whole depth",)
