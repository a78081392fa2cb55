"""Soaks one after another: what must hold whatever the wound, the foam and the day."""

import numpy as np
import pytest

from soakline.fluid.day import Left, Stretch, TurnInside, after_suction, minutes_of, repeat_cycle, soak_day
from soakline.fluid.posture import parse_posture
from soakline.fluid.spread import Foam, Soak, lay_foam, spread
from soakline.wound.body import frame_of
from soakline.wound.cavity import build_cavity
from soakline.wound.measurements import Assumptions, Opening, Undermining, Wound
from soakline.wound.sheet import lay_flat

FOAM, SOAK = Foam(3e-9, 1.0, 0.776), Soak(120.0, 600.0)
SUPINE, LEFT = parse_posture("supine"), parse_posture("left 30")
# A day of soaks of this case, fill and dwell.
SOAK_MIN = 12.0


@pytest.fixture(scope="module")
def pocket():
    wound = Wound("front", "trunk", Opening(5.0, 5.0, 2.0), 100.0, undermining=(Undermining(12, 6, None, 4.0, 1.2),))
    return build_cavity(lay_flat(wound), frame_of(wound, Assumptions()), 0.75)


def left(cavity, kept_share, *, undrawn=False):
    return Left(kept_share, np.full(len(cavity.u_cm), undrawn))


def day(cavity, stretches, kept_share, poured_ml=40.0, **more):
    left_in = {posture.name: left(cavity, kept_share, **more) for posture in (SUPINE, LEFT)}
    return soak_day(cavity, stretches, FOAM, [(cavity.nearest(4.0, 0.0), poured_ml)], SOAK, left_in)


def is_as_many_single_fills(found, cavity, fills):
    run = spread(lay_foam(cavity, SUPINE.up(), FOAM), [(cavity.nearest(4.0, 0.0), 40.0)], SOAK)
    told = (found.floor_soaked_min, found.floor_moist_min, found.roof_soaked_min, found.roof_moist_min)
    return all(np.allclose(minutes, fills * single) for minutes, single in zip(told, minutes_of(run), strict=True))


def test_where_suction_leaves_nothing_each_fill_is_the_first(pocket):
    found = day(pocket, [Stretch(SUPINE, 3)], 0.0)
    assert is_as_many_single_fills(found, pocket, 3)
    assert found.exchanged_share == pytest.approx(1.0)
    assert (found.held_ml, found.stays_ml) == (pytest.approx(40.0), 0.0)


def test_a_planted_day_that_leaves_liquid_is_not_as_many_single_fills(pocket):
    assert not is_as_many_single_fills(day(pocket, [Stretch(SUPINE, 3)], 0.2), pocket, 3)


@pytest.mark.parametrize("kept_share", [0.1, 0.4])
def test_a_pocket_filled_up_each_time_renews_what_suction_took(pocket, kept_share):
    # By hand: suction leaves a share k of all there is room for, the fill brings 1 − k: of the liquid 1 − k is new.
    room_ml = pocket.void_ml * FOAM.porosity_share
    found = day(pocket, [Stretch(SUPINE, 4)], kept_share, (1.0 - kept_share) * room_ml)
    new = found.exchanged_share @ pocket.volume_ml / pocket.void_ml
    assert new == pytest.approx(1.0 - kept_share, abs=0.02)
    assert found.stays_ml == pytest.approx(kept_share * room_ml, rel=0.02)


def test_what_nothing_draws_stays_until_all_is_full_and_soaks_all_the_time(pocket):
    found = day(pocket, [Stretch(SUPINE, 8)], 0.0, undrawn=True)
    assert found.stays_ml == pytest.approx(found.held_ml)
    assert found.held_ml == pytest.approx(pocket.void_ml * FOAM.porosity_share, rel=0.01)
    assert found.floor_soaked_min == pytest.approx(8 * SOAK_MIN, abs=1.0)


def test_fills_that_repeat_are_counted_as_if_each_were_run(pocket):
    together = day(pocket, [Stretch(LEFT, 6)], 0.2)
    apart = day(pocket, [Stretch(LEFT, 1)] * 6, 0.2)
    area = pocket.floor_cm2 / pocket.floor_cm2.sum()
    assert together.floor_soaked_min @ area == pytest.approx(apart.floor_soaked_min @ area, rel=0.02)
    assert together.exchanged_share @ area == pytest.approx(apart.exchanged_share @ area, abs=0.01)


def test_no_minute_is_counted_twice_and_soaked_is_moist(pocket):
    found = day(pocket, [Stretch(SUPINE, 2), Stretch(LEFT, 1, (TurnInside(420.0, SUPINE),))], 0.3)
    assert found.floor_moist_min.max() <= 3 * SOAK_MIN + 1e-9
    assert (found.floor_soaked_min <= found.floor_moist_min + 1e-9).all()
    assert (found.roof_soaked_min <= found.roof_moist_min + 1e-9).all()
    assert ((found.exchanged_share >= 0.0) & (found.exchanged_share <= 1.0)).all()


def test_turning_to_where_one_lies_already_changes_nothing(pocket):
    stays, turned = (day(pocket, [Stretch(LEFT, 1, turns)], 0.0) for turns in ((), (TurnInside(420.0, LEFT),)))
    area = pocket.floor_cm2 / pocket.floor_cm2.sum()
    # The frames lie elsewhere, and with them the minute at which a column turns wet.
    assert turned.floor_soaked_min @ area == pytest.approx(stays.floor_soaked_min @ area, abs=0.1)
    assert turned.stays_ml == pytest.approx(stays.stays_ml)


def test_a_turn_that_falls_into_the_fill_waits_for_its_end(pocket):
    early, at_the_end = (day(pocket, [Stretch(LEFT, 1, (TurnInside(s, SUPINE),))], 0.0) for s in (30.0, 120.0))
    assert early.floor_soaked_min == pytest.approx(at_the_end.floor_soaked_min)


def test_a_cycle_that_repeats_starts_as_it_ended(pocket):
    poured = [(pocket.nearest(4.0, 0.0), 40.0)]
    found = repeat_cycle(pocket, LEFT, FOAM, poured, SOAK, left(pocket, 0.2))
    assert found.repeats
    start = after_suction(found.run.filling_share, left(pocket, 0.2))
    again = spread(found.run.sheet, poured, SOAK, filling_share=start)
    moved_ml = np.abs(again.filling_share - found.run.filling_share) @ again.sheet.full_ml
    assert moved_ml < 0.01 * float(again.filling_share @ again.sheet.full_ml)


def test_suction_that_keeps_by_place_is_taken_place_by_place(pocket):
    kept = np.linspace(0.0, 1.0, len(pocket.u_cm))
    filling = np.full(len(kept), 0.5)
    assert after_suction(filling, Left(kept, kept > 0.9)) == pytest.approx(
        np.where(kept > 0.9, 0.5, np.minimum(0.5, kept))
    )


def test_told_progress_may_stop_a_day(pocket):
    def stop(share):
        raise InterruptedError(share)

    left_in = {"supine": left(pocket, 0.2)}
    with pytest.raises(InterruptedError):
        soak_day(pocket, [Stretch(SUPINE, 2)], FOAM, [(0, 40.0)], SOAK, left_in, progress=stop)
