"""A run moment by moment says what the run itself says; suction only ever takes away."""

import numpy as np
import pytest

from soakline.fluid.draw import draw, hold
from soakline.fluid.frames import DRY, SOAKED, SUCTION_FRAMES, in_suction, states_of
from soakline.fluid.posture import parse_posture
from soakline.fluid.spread import Foam, Soak, lay_foam, spread, wetness
from soakline.fluid.suction_sheet import lay_suction
from soakline.wound.body import frame_of
from soakline.wound.cavity import build_cavity
from soakline.wound.measurements import Assumptions, Opening, Undermining, Wound
from soakline.wound.sheet import lay_flat

UP = parse_posture("left 30").up()


@pytest.fixture(scope="module")
def run():
    wound = Wound("front", "trunk", Opening(5.0, 5.0, 2.0), 100.0, undermining=(Undermining(12, 6, None, 4.0, 1.2),))
    cavity = build_cavity(lay_flat(wound), frame_of(wound, Assumptions()), 0.75)
    laid = lay_foam(cavity, UP, Foam(3e-9, 1.0, 0.776))
    return spread(laid, [(cavity.nearest(4.0, 0.0), 40.0)], Soak(120.0, 600.0))


def suction_at(run, at):
    cavity = run.sheet.cavity
    port = cavity.nearest(*at)
    return draw(hold(lay_suction(cavity, [port]), run.filling_share * run.sheet.full_ml), [port])


def test_what_is_soaked_for_half_of_the_dwell_is_what_the_run_calls_soaked(run):
    in_dwell = run.frame_s > 120.0 + 1e-6
    for states, share in zip(states_of(run.sheet, run.head_cm), wetness(run), strict=True):
        for_half = (states[in_dwell] == SOAKED).mean(axis=0) >= 0.5
        assert np.array_equal(for_half, share[:, 0] >= 0.5)


def test_no_floor_is_moist_before_liquid_first_came(run):
    wet = states_of(run.sheet, run.head_cm)[0] != DRY
    first = np.where(wet.any(axis=0), run.frame_s[wet.argmax(axis=0)], np.inf)
    # What is tossed up for a single step counts as no arrival: one moment may be told earlier.
    assert (run.arrival_s <= first + 30.0).mean() > 0.99
    assert np.isinf(first[np.isinf(run.arrival_s)]).all()


def test_suction_begins_at_what_the_dwell_left_and_only_takes_away(run):
    heads, gone = in_suction(run, suction_at(run, (4.0, 0.0)), UP)
    assert len(heads) == SUCTION_FRAMES
    through = np.concatenate([run.head_cm[-1:], heads])
    assert (through[1:] <= through[:-1]).all()
    held_ml = run.filling_share * run.sheet.full_ml
    gone_share = gone @ held_ml / held_ml.sum()
    assert gone_share == pytest.approx(np.arange(1, SUCTION_FRAMES + 1) / SUCTION_FRAMES, abs=0.05)


def test_liquid_at_the_port_goes_before_liquid_far_from_it(run):
    near, far = (run.sheet.cavity.nearest(*at) for at in ((4.0, 0.0), (1.5, 4.0)))
    for port, other in ((near, far), (far, near)):
        _, gone = in_suction(run, suction_at(run, (run.sheet.cavity.u_cm[port], run.sheet.cavity.v_cm[port])), UP)
        assert gone[:, port].argmax() < gone[:, other].argmax()


def test_what_no_port_draws_stays_as_it_was(run):
    cavity = run.sheet.cavity
    port = cavity.nearest(0.0, 0.0)
    # A wall of foam that lets nothing pass, through all of the pocket.
    sheet = lay_suction(cavity, [port], blocked=(cavity.u_cm > 3.5) & (cavity.u_cm < 4.5))
    drawn = draw(hold(sheet, run.filling_share * run.sheet.full_ml), [port])
    assert drawn.undrawn.any()
    heads, gone = in_suction(run, drawn, UP)
    assert not gone[:, drawn.undrawn].any()
    assert (heads[:, drawn.undrawn] == run.head_cm[-1, drawn.undrawn]).all()
