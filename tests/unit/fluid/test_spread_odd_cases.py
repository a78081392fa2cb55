"""What the spread model answers to wounds, foams and fills that are odd: a finding or a right answer."""

import math

import numpy as np
import pytest

from soakline.errors import GridRefused
from soakline.fluid.posture import parse_posture
from soakline.fluid.reach import spread_map
from soakline.fluid.spread import Foam, Soak, lay_foam, spread, wetness
from soakline.fluid.validity import judge_models, space_of
from soakline.wound.body import frame_of
from soakline.wound.cavity import build_cavity
from soakline.wound.measurements import Assumptions, Opening, Pocket, Tunnel, Undermining, Wound
from soakline.wound.sheet import lay_flat

OPEN_FOAM, SOAK = Foam(3e-9, 1.0, 0.776), Soak(120.0, 600.0)
POSTURES = ("supine", "left 90", "right 90", "prone", "head down 90", "head up 90")


def cavity_of(spacing_cm=0.75, **given):
    wound = Wound(**{"face": "left", "part": "trunk", "opening": Opening(6.0, 5.0, 2.0), "girth_cm": 104.0, **given})
    return build_cavity(lay_flat(wound), frame_of(wound, Assumptions()), spacing_cm)


ODD = {
    "half a mm high": {"undermining": (Undermining(1, 1, None, 8.0, 0.05),)},
    "a tenth of a mm high": {"undermining": (Undermining(1, 1, None, 8.0, 0.01),)},
    "two pockets apart": {"undermining": (Undermining(2, 4, None, 8.0, 1.5), Undermining(8, 10, None, 8.0, 1.5))},
    "a tunnel of 2 mm": {"tunnel": (Tunnel(3, 6.0, 0.2),)},
    "a pocket behind a neck of 3 mm": {
        "opening": Opening(2.0, 2.0, 1.0),
        "pocket": Pocket(((0, -0.15), (4, -0.15), (4, -3), (9, -3), (9, 3), (4, 3), (4, 0.15), (0, 0.15)), 1.0),
    },
}
FOAMS = (Foam(0.0, 1.0, 0.776), OPEN_FOAM, Foam(1e-7, 0.0, 0.776), Foam(1e-14, 5.0, 0.776))


def refuses_nothing_silently(run, poured_ml):
    stands_ml = run.filling_share @ run.sheet.full_ml
    assert stands_ml + run.left_over_ml == pytest.approx(poured_ml, rel=1e-9, abs=1e-9)
    assert run.filling_share.min() >= -1e-12
    assert not np.isnan(run.head_cm).any()
    for states in wetness(run):
        assert np.isfinite(states).all()
        assert states.min() >= 0.0
        assert states.sum(axis=1).max() <= 1.0 + 1e-12


@pytest.mark.parametrize("odd", ODD)
def test_odd_pockets_in_all_postures_answer_with_every_drop(odd):
    cavity = cavity_of(**ODD[odd])
    for posture in POSTURES:
        for foam in FOAMS:
            for fill_ml in (0.0, 5.0, 1_000.0):
                sheet = lay_foam(cavity, parse_posture(posture).up(), foam)
                run = spread(sheet, [(cavity.nearest(5.0, 0.0), fill_ml)], SOAK)
                refuses_nothing_silently(run, fill_ml)
                # Steps stay long enough: nothing hangs.
                assert run.step_count < 8_000


def test_what_a_wound_cannot_hold_is_told_as_left_over():
    cavity = cavity_of(undermining=(Undermining(1, 1, None, 6.0, 1.0),))
    sheet = lay_foam(cavity, parse_posture("supine").up(), OPEN_FOAM)
    holds_ml = float(sheet.full_ml.sum())
    run = spread(sheet, [(cavity.nearest(5.0, 0.0), holds_ml + 40.0)], SOAK)
    assert run.left_over_ml == pytest.approx(40.0)
    assert spread_map(run, "supine", "I1", holds_ml + 40.0).left_over_ml == pytest.approx(40.0)
    again = spread(sheet, [(0, 25.0)], SOAK, filling_share=run.filling_share)
    assert again.left_over_ml == pytest.approx(25.0)
    assert spread(sheet, [(0, 25.0)], SOAK).left_over_ml == 0.0


def test_foam_that_lets_nothing_pass_takes_what_its_port_can_hold():
    cavity = cavity_of(undermining=(Undermining(1, 1, None, 8.0, 1.5),))
    sheet = lay_foam(cavity, parse_posture("supine").up(), Foam(0.0, 1.0, 0.776))
    run = spread(sheet, [(cavity.nearest(7.0, 0.0), 60.0)], SOAK)
    # A disc of 1 cm radius, 1.5 cm high, 0.776 of it: by hand 3.7 mL, by whole cells a little more or less.
    assert 60.0 - run.left_over_ml == pytest.approx(math.pi * 1.5 * 0.776, rel=0.35)
    assert run.filling_share.max() == pytest.approx(1.0)
    assert (run.filling_share > 0.0).sum() < 12
    judged = judge_models(sheet.cavity, space_of(sheet.cavity), [sheet.cavity.nearest(7.0, 0.0)], sheet.foam, 720.0)
    assert not judged.settled
    assert "lets no liquid pass" in judged.says[0]


def test_a_part_that_stands_apart_takes_no_more_than_its_own_room():
    cavity = cavity_of(**ODD["a pocket behind a neck of 3 mm"])
    sheet = lay_foam(cavity, parse_posture("supine").up(), OPEN_FOAM)
    parts = sheet.lines.part
    at = cavity.nearest(7.0, 0.0)
    room_ml = float(sheet.full_ml[parts == parts[at]].sum())
    run = spread(sheet, [(at, 200.0)], SOAK)
    assert run.left_over_ml == pytest.approx(200.0 - room_ml)


@pytest.mark.parametrize("column", [-1, 10**6])
def test_a_port_outside_the_cavity_is_refused_with_what_is_allowed(column):
    sheet = lay_foam(cavity_of(), parse_posture("supine").up(), OPEN_FOAM)
    with pytest.raises(ValueError, match=r"a port stands in column .* the cavity has columns 0 to"):
        spread(sheet, [(column, 10.0)], SOAK)


@pytest.mark.parametrize(
    ("foam", "soak", "fill_ml"),
    [
        (Foam(-1e-9, 1.0, 0.8), SOAK, 10.0),
        (Foam(math.nan, 1.0, 0.8), SOAK, 10.0),
        (Foam(1e-9, -1.0, 0.8), SOAK, 10.0),
        (OPEN_FOAM, Soak(0.0, 10.0), 10.0),
        (OPEN_FOAM, Soak(10.0, math.inf), 10.0),
        (OPEN_FOAM, SOAK, -5.0),
        (OPEN_FOAM, SOAK, math.nan),
    ],
)
def test_foam_times_and_fills_that_are_none_are_refused(foam, soak, fill_ml):
    sheet = lay_foam(cavity_of(), parse_posture("supine").up(), foam)
    with pytest.raises(ValueError, match="it must be a number"):
        spread(sheet, [(0, fill_ml)], soak)


def test_a_grid_that_memory_cannot_hold_is_refused_in_words():
    with pytest.raises(GridRefused, match="take a wider grid"):
        cavity_of(0.02, undermining=(Undermining(1, 1, None, 12.0, 1.5),))


def test_a_wound_of_30_by_40_cm_at_1_mm_answers():
    # A drop and a minute: what is held here is that the grid is laid, led and told, not how long a soak takes.
    cavity = cavity_of(
        0.1, face="front", opening=Opening(12.0, 10.0, 2.0), undermining=(Undermining(1, 1, None, 12.0, 1.5),)
    )
    assert len(cavity.u_cm) > 70_000
    sheet = lay_foam(cavity, parse_posture("supine").up(), OPEN_FOAM)
    run = spread(sheet, [(cavity.nearest(9.0, 0.0), 20.0)], Soak(20.0, 20.0))
    refuses_nothing_silently(run, 20.0)
