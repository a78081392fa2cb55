"""What holds for liquid at rest in foam, for gas and for the seal, in every cavity and posture."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from tests.laws.fluid.test_settled_laws import FEW, ROUND, cavity_of, postures, wounds

from soakline.fluid.basins import basins_of
from soakline.fluid.gas import opening_vents, round_vent, trapped_gas
from soakline.fluid.posture import parse_posture
from soakline.fluid.rest import rest, rest_wetness, room_of
from soakline.fluid.seal import seal_of
from soakline.fluid.settle import levels, pour
from soakline.fluid.spread import Foam
from soakline.wound.measurements import Opening, Undermining, Wound

# None, next to none, little, much, more than any pocket is high.
heights_cm = st.sampled_from([0.0, 1e-9, 0.05, 0.3, 1.0, 5.0, 40.0])
places = st.floats(0, 1)
# The settled model's curves are kept at levels so far apart.
LEVEL_STEP_CM = 0.02


def column_at(cavity, where):
    return int(where * (len(cavity.u_cm) - 1))


def foam_of(capillary_height_cm):
    return Foam(3e-9, capillary_height_cm, 0.8)


@FEW
@given(wound=wounds, posture=postures, where=places, share=st.floats(0, 1.5), height_cm=heights_cm)
def test_what_is_poured_stands_in_the_columns_or_finds_no_room(wound, posture, where, share, height_cm):
    cavity = cavity_of(wound)
    liquid_ml = share * 0.8 * cavity.void_ml
    found = rest(room_of(basins_of(cavity, posture.up()), foam_of(height_cm)), [(column_at(cavity, where), liquid_ml)])
    assert found.held_ml.sum() + found.left_over_ml == pytest.approx(liquid_ml, abs=1e-6)
    assert (found.held_ml >= 0.0).all()
    assert (found.held_ml <= 0.8 * cavity.volume_ml + 1e-9).all()
    assert not np.isnan(found.head_cm).any()
    for state in rest_wetness(found):
        assert (state >= 0.0).all()
        assert (state.sum(axis=1) <= 1.0 + 1e-12).all()


@FEW
@given(wound=wounds, posture=postures, where=places, share=st.floats(0, 1.2))
def test_foam_that_holds_nothing_is_the_settled_model(wound, posture, where, share):
    cavity = cavity_of(wound)
    basins, source, void_ml = basins_of(cavity, posture.up()), column_at(cavity, where), share * cavity.void_ml
    room = room_of(basins, foam_of(0.0))
    assert room.basins.own_ml == pytest.approx(basins.own_ml, abs=1e-6 * cavity.void_ml)
    ours, level = rest(room, [(source, 0.8 * void_ml)]), levels(pour(basins, [(source, void_ml)]))
    held_ml = 0.8 * cavity.volume_ml * np.clip((level - basins.low_cm) / basins.width_cm, 0.0, 1.0)
    # The settled model keeps its curves at steps of level, this one takes every level: 0.05 % of the void was seen.
    assert np.abs(ours.held_ml - held_ml).sum() <= 0.001 * 0.8 * cavity.void_ml
    # Where a bed or a roof is level, a hair of depth decides: by one step of level, 2.4 % of a surface beyond was seen.
    sides = (
        (basins.floor_low_cm, basins.floor_width_cm, cavity.floor_cm2),
        (basins.roof_low_cm, basins.roof_width_cm, cavity.roof_cm2),
    )
    for states, (low, width, area) in zip(rest_wetness(ours), sides, strict=True):
        lower, upper = (np.clip((level + by - low) / width, 0.0, 1.0) @ area for by in (-LEVEL_STEP_CM, LEVEL_STEP_CM))
        allowed = 0.05 * area.sum() + 1e-9
        assert lower - allowed <= states[:, 0] @ area <= upper + allowed


def test_a_planted_fill_of_a_hundredth_less_is_not_the_settled_model():
    cavity = cavity_of(Wound("back", "trunk", Opening(5.0, 5.0, 2.0), 96.0))
    basins = basins_of(cavity, parse_posture("left 30").up())
    level = levels(pour(basins, [(0, 0.5 * cavity.void_ml)]))
    held_ml = 0.8 * cavity.volume_ml * np.clip((level - basins.low_cm) / basins.width_cm, 0.0, 1.0)
    less = rest(room_of(basins, foam_of(0.0)), [(0, 0.8 * 0.49 * cavity.void_ml)])
    assert np.abs(less.held_ml - held_ml).sum() > 0.001 * 0.8 * cavity.void_ml


@FEW
@given(wound=wounds, posture=postures, where=places, shares=st.tuples(st.floats(0, 1), st.floats(0, 1)), hc=heights_cm)
def test_more_never_soaks_less_anywhere(wound, posture, where, shares, hc):
    cavity = cavity_of(wound)
    room, source = room_of(basins_of(cavity, posture.up()), foam_of(hc)), column_at(cavity, where)
    less, more = (rest_wetness(rest(room, [(source, s * 0.8 * cavity.void_ml)])) for s in sorted(shares))
    for a, b in zip(less, more, strict=True):
        assert (np.cumsum(b, axis=1) >= np.cumsum(a, axis=1) - 1e-6).all()


@FEW
@given(wound=wounds, posture=postures, where=places, share=st.floats(0, 1.2), part=st.floats(0, 1), hc=heights_cm)
def test_two_portions_are_one(wound, posture, where, share, part, hc):
    cavity = cavity_of(wound)
    room, source = room_of(basins_of(cavity, posture.up()), foam_of(hc)), column_at(cavity, where)
    whole_ml = share * 0.8 * cavity.void_ml
    once = rest(room, [(source, whole_ml)])
    twice = rest(room, [(source, (1 - part) * whole_ml)], onto=rest(room, [(source, part * whole_ml)]))
    assert twice.held_ml == pytest.approx(once.held_ml, abs=1e-5)


@FEW
@given(wound=wounds, posture=postures, where=places)
def test_another_vent_never_keeps_more_gas(wound, posture, where):
    cavity = cavity_of(wound)
    one = round_vent(cavity, 0.0, 0.0, 1.0)
    more = np.union1d(one, np.array([column_at(cavity, where)], dtype=np.int32))
    few, many = (trapped_gas(cavity, posture.up(), vents) for vents in (one, more))
    assert (many.column_share <= few.column_share + 1e-12).all()
    assert 0.0 <= many.void_share <= few.void_share <= 1.0 + 1e-9


@FEW
@given(wound=wounds, roll_deg=st.floats(-90, 90))
def test_gas_in_a_mirror_image_is_the_same(wound, roll_deg):
    # A cavity and its image in the plane through head and front: the body's right and left change places.
    cavity = cavity_of(replace(wound, face="front"))
    names = (
        "centre_cm",
        "spans_cm",
        "floor_cm",
        "floor_spans_cm",
        "roof_cm",
        "link_low_cm",
        "link_high_cm",
        "link_axis",
    )
    image = replace(cavity, **{name: getattr(cavity, name) * np.array([-1.0, 1.0, 1.0]) for name in names})
    up = np.array([np.sin(np.radians(roll_deg)), np.cos(np.radians(roll_deg)), 0.0])
    ours = trapped_gas(cavity, up, opening_vents(cavity)).void_share
    assert trapped_gas(image, up * [-1.0, 1.0, 1.0], opening_vents(image)).void_share == pytest.approx(ours, abs=1e-9)


# Two hollows in the opening: the edge over the one is not held against the level of the other.
TWO_HOLLOWS = Wound(
    "left",
    "trunk",
    Opening(7.0, 2.0, 2.0),
    girth_cm=96.0,
    undermining=(Undermining(clock=1.0, reach_cm=1.0, height_cm=1.0),),
)


@FEW
@given(wound=wounds, posture=postures, where=places, shares=st.tuples(st.floats(0.01, 1), st.floats(0.01, 1)))
@example(wound=TWO_HOLLOWS, posture=parse_posture("supine"), where=0.0, shares=(0.0117, 0.125))
def test_more_liquid_never_stands_lower_against_the_seal(wound, posture, where, shares):
    cavity = cavity_of(wound, ROUND)
    basins, source = basins_of(cavity, posture.up()), column_at(cavity, where)
    less, more = (seal_of(basins, levels(pour(basins, [(source, s * cavity.void_ml)]))) for s in sorted(shares))
    assert less is None or (more is not None and more.over_cm >= less.over_cm - 1e-9)
