"""A run moment by moment says what the run itself says."""

import numpy as np
import pytest

from soakline.fluid.frames import DRY, SOAKED, frames_of
from soakline.fluid.posture import parse_posture
from soakline.fluid.spread import Foam, Soak, lay_foam, spread, wetness
from soakline.wound.body import frame_of
from soakline.wound.cavity import build_cavity
from soakline.wound.measurements import Assumptions, Opening, Undermining, Wound
from soakline.wound.sheet import lay_flat


@pytest.fixture(scope="module")
def run():
    wound = Wound("front", "trunk", Opening(5.0, 5.0, 2.0), 100.0, undermining=(Undermining(12, 6, None, 4.0, 1.2),))
    cavity = build_cavity(lay_flat(wound), frame_of(wound, Assumptions()), 0.75)
    laid = lay_foam(cavity, parse_posture("left 30").up(), Foam(3e-9, 1.0, 0.776))
    return spread(laid, [(cavity.nearest(4.0, 0.0), 40.0)], Soak(120.0, 600.0))


def test_the_fill_ends_where_it_was_said_to(run):
    frames = frames_of(run)
    assert frames.filled_s == pytest.approx(120.0)
    assert frames.moment_s[-1] == pytest.approx(720.0)
    assert frames.floor_index.shape == frames.roof_index.shape == (len(frames.moment_s), len(run.filling_share))


def test_what_is_soaked_for_half_of_the_dwell_is_what_the_run_calls_soaked(run):
    frames = frames_of(run)
    floor, roof = wetness(run)
    in_dwell = frames.moment_s > frames.filled_s
    for index, share in ((frames.floor_index, floor), (frames.roof_index, roof)):
        for_half = (index[in_dwell] == SOAKED).mean(axis=0) >= 0.5
        assert np.array_equal(for_half, share[:, 0] >= 0.5)


def test_no_floor_is_moist_before_liquid_first_came(run):
    frames = frames_of(run)
    wet = frames.floor_index != DRY
    first = np.where(wet.any(axis=0), frames.moment_s[wet.argmax(axis=0)], np.inf)
    # What is tossed up for a single step counts as no arrival: one moment may be told earlier.
    assert (frames.arrival_s <= first + 30.0).mean() > 0.99
    assert np.isinf(first[np.isinf(frames.arrival_s)]).all()
