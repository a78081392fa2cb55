"""A trial played out: its moments in words, and its end beside the run that it was read from."""

import numpy as np
import pytest

from soakline.casefile.read import read_case
from soakline.errors import InputRefused
from soakline.fluid.frames import MOIST, SOAKED
from soakline.fluid.posture import Posture
from soakline.fluid.spread import Soak
from soakline.layout.ports import Port
from soakline.settings import Settings
from soakline.workflows.play_out import play_out
from soakline.workflows.try_out import Trial, ground_of

CASE = """
format = "soakline-case/1"
label = "Demo"
purpose = "teaching"

[wound]
face = "front"
part = "trunk"
girth_cm = 104
midline_offset_cm = 0

[wound.opening]
length_cm = 6
width_cm = 6
depth_cm = 2.5

[[wound.undermining]]
from = 12
to = 6
reach_cm = 4
height_cm = 1.5
"""
PORT = Port("I1", "instillation", 3.0, 3.0, "A")
SUCTION = Port("S1", "suction", 5.0, 2.0, "A")


@pytest.fixture(scope="module")
def ground():
    case = read_case(CASE).case
    assert case is not None
    return ground_of(case, Settings.from_environment({"SOAKLINE_DRAWS": "16"}))


def trial(fill_ml, soak=Soak(120.0, 480.0), *more):  # noqa: B008 - frozen
    return Trial((PORT, *more), (("I1", fill_ml),), Posture("supine"), "settled", soak)


def test_a_fill_starts_dry_and_reaches_more_when_it_is_larger(ground):
    small, large = (play_out(ground, trial(ml)) for ml in (15.0, 90.0))
    assert not small.state[0].any()
    assert small.says[0] == "fill, 0 s: floor soaked none, moist none; roof soaked none, moist none"
    assert small.says[-1].startswith("dwell, 8 min: ")
    assert (large.state[-1] == SOAKED).sum() > (small.state[-1] == SOAKED).sum()


def test_what_is_reached_at_all_grows_through_the_fill(ground):
    played = play_out(ground, trial(60.0))
    reached = (played.state[:13, :, 0] >= MOIST).sum(axis=1)
    assert (np.diff(reached) >= 0).all()
    assert reached[-1] > reached[1]


def test_suction_is_played_where_a_suction_port_is_there(ground):
    without, played = (play_out(ground, trial(60.0, Soak(120.0, 480.0), *more)) for more in ((), (SUCTION,)))
    assert len(played.says) == len(without.says) + 8
    assert without.says[-1].startswith("dwell, 8 min: ")
    assert played.says[-8].startswith("suction, little drawn: ")
    assert played.says[-1].startswith("suction, all drawn: ")
    assert np.array_equal(played.state[: len(without.says)], without.state)
    assert (played.state[-1] == SOAKED).sum() < (without.state[-1] == SOAKED).sum()


def test_a_surface_is_soaked_where_it_lies_below_the_head(ground):
    played = play_out(ground, trial(60.0))
    up = Posture("supine").up()
    deep = ground.cavity.floor_cm @ up
    moist, soaked = played.needed_cm
    assert np.array_equal(played.state[-1, :, 0] == SOAKED, played.head_cm[-1] >= deep + soaked)
    assert np.array_equal(played.state[-1, :, 0] >= MOIST, played.head_cm[-1] >= deep + moist)


def test_without_times_nothing_can_be_played(ground):
    with pytest.raises(InputRefused, match="fill and dwell times are not known"):
        play_out(ground, trial(60.0, None))
