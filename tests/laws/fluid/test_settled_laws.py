"""What holds for every cavity, posture and pour: mass, monotony, symmetry."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.truth.fluid.twins.beds import under_liquid

from soakline.fluid.basins import basins_of
from soakline.fluid.posture import Posture, parse_posture
from soakline.fluid.settle import curve_from, levels, pour
from soakline.wound.body import frame_of
from soakline.wound.cavity import build_cavity
from soakline.wound.measurements import Assumptions, Opening, Tunnel, Undermining, Wound
from soakline.wound.sheet import lay_flat

SPACING_CM = 0.5
ROUND = Assumptions()
FEW = settings(max_examples=30)

postures = st.builds(
    Posture,
    name=st.just("drawn"),
    roll_deg=st.floats(-90, 90),
    tilt_deg=st.floats(-90, 90),
    prone=st.booleans(),
)
underminings = st.builds(
    Undermining,
    clock=st.integers(1, 12).map(float),
    reach_cm=st.floats(1.0, 6.0),
    height_cm=st.floats(0.3, 1.5),
)
tunnels = st.builds(
    Tunnel,
    clock=st.integers(1, 12).map(float),
    length_cm=st.floats(1.0, 6.0),
    diameter_cm=st.floats(0.5, 1.5),
    down_deg=st.floats(0, 90),
)
wounds = st.builds(
    Wound,
    face=st.sampled_from(["front", "back", "left", "right"]),
    part=st.just("trunk"),
    opening=st.builds(Opening, length_cm=st.floats(2, 8), width_cm=st.floats(2, 8), depth_cm=st.just(2.0)),
    girth_cm=st.just(96.0),
    midline_offset_cm=st.floats(-8, 8),
    undermining=st.lists(underminings, min_size=1, max_size=4).map(tuple),
    tunnel=st.lists(tunnels, max_size=2).map(tuple),
)


def cavity_of(wound, assumptions=ROUND, spacing_cm=SPACING_CM):
    return build_cavity(lay_flat(wound), frame_of(wound, assumptions), spacing_cm, closed=assumptions.closed)


def soaked(cavity, posture, source, volume_ml):
    floor, roof = under_liquid(pour(basins_of(cavity, posture.up()), [(source, volume_ml)]))
    return floor @ cavity.floor_cm2 / cavity.floor_cm2.sum(), roof @ cavity.roof_cm2 / max(cavity.roof_cm2.sum(), 1e-9)


def held_ml(pools):
    """Sum, column by column, what stands below the level."""
    basins, level = pools.basins, levels(pools)
    return float(np.clip((level - basins.low_cm) / basins.width_cm, 0.0, 1.0) @ basins.cavity.volume_ml)


@FEW
@given(wound=wounds, posture=postures, where=st.floats(0, 1), share=st.floats(0, 1.5))
def test_poured_is_held_or_left_over(wound, posture, where, share):
    cavity = cavity_of(wound)
    volume_ml = share * cavity.void_ml
    pools = pour(basins_of(cavity, posture.up()), [(int(where * (len(cavity.u_cm) - 1)), volume_ml)])
    assert pools.filled_ml.sum() + pools.left_over_ml == pytest.approx(volume_ml, abs=1e-6)
    assert (pools.filled_ml >= 0.0).all()
    assert (pools.filled_ml <= pools.basins.own_ml + 1e-9).all()


@FEW
@given(wound=wounds, posture=postures, where=st.floats(0, 1), share=st.floats(0.05, 1.0))
def test_what_the_basins_hold_stands_in_the_columns(wound, posture, where, share):
    cavity = cavity_of(wound)
    pools = pour(basins_of(cavity, posture.up()), [(int(where * (len(cavity.u_cm) - 1)), share * cavity.void_ml)])
    assert held_ml(pools) == pytest.approx(pools.filled_ml.sum(), rel=0.02, abs=0.01 * cavity.void_ml)


@FEW
@given(wound=wounds, posture=postures, where=st.floats(0, 1), shares=st.tuples(st.floats(0, 1.2), st.floats(0, 1.2)))
def test_more_never_soaks_less_anywhere(wound, posture, where, shares):
    cavity = cavity_of(wound)
    basins, source = basins_of(cavity, posture.up()), int(where * (len(cavity.u_cm) - 1))
    less, more = (under_liquid(pour(basins, [(source, s * cavity.void_ml)])) for s in sorted(shares))
    assert all((b >= a - 1e-9).all() for a, b in zip(less, more, strict=True))


@FEW
@given(wound=wounds, posture=postures, where=st.floats(0, 1), share=st.floats(0, 1.2), part=st.floats(0, 1))
def test_two_portions_are_one(wound, posture, where, share, part):
    cavity = cavity_of(wound)
    basins, source = basins_of(cavity, posture.up()), int(where * (len(cavity.u_cm) - 1))
    whole_ml = share * cavity.void_ml
    once = pour(basins, [(source, whole_ml)])
    twice = pour(basins, [(source, (1 - part) * whole_ml)], onto=pour(basins, [(source, part * whole_ml)]))
    assert twice.filled_ml == pytest.approx(once.filled_ml, abs=1e-6)


@FEW
@given(wound=wounds, posture=postures, where=st.floats(0, 1), share=st.floats(0.02, 0.98))
def test_the_curve_says_what_a_pour_says(wound, posture, where, share):
    cavity = cavity_of(wound)
    basins, source = basins_of(cavity, posture.up()), int(where * (len(cavity.u_cm) - 1))
    curve, volume_ml = curve_from(basins, source), share * cavity.void_ml
    floor, roof = under_liquid(pour(basins, [(source, volume_ml)]))
    assert np.interp(volume_ml, curve.void_ml, curve.floor_cm2) == pytest.approx(
        floor @ cavity.floor_cm2, abs=0.015 * cavity.floor_cm2.sum()
    )
    assert np.interp(volume_ml, curve.void_ml, curve.roof_cm2) == pytest.approx(
        roof @ cavity.roof_cm2, abs=0.015 * cavity.roof_cm2.sum()
    )


@FEW
@given(wound=wounds, posture=postures, where=st.floats(0, 1))
def test_full_is_all_soaked_and_the_curve_only_rises(wound, posture, where):
    cavity = cavity_of(wound)
    basins, source = basins_of(cavity, posture.up()), int(where * (len(cavity.u_cm) - 1))
    floor, roof = under_liquid(pour(basins, [(source, cavity.void_ml * 1.01)]))
    assert floor.min() > 1.0 - 1e-6
    assert roof[cavity.roof_cm2 > 0.0].min() > 1.0 - 1e-6
    curve = curve_from(basins, source)
    assert curve.void_ml[-1] == pytest.approx(cavity.void_ml, rel=1e-9)
    assert all((np.diff(x) >= -1e-9).all() for x in (curve.void_ml, curve.floor_cm2, curve.roof_cm2))


def mirrored(wound):
    """Give the wound as its mirror image seen from outside: 3 o'clock and 9 o'clock change places."""
    return replace(
        wound,
        midline_offset_cm=-wound.midline_offset_cm,
        undermining=tuple(replace(u, clock=12.0 - u.clock or 12.0) for u in wound.undermining),
        tunnel=tuple(replace(t, clock=12.0 - t.clock or 12.0) for t in wound.tunnel),
    )


@FEW
@given(wound=wounds, posture=postures, share=st.floats(0.1, 1.0))
def test_left_and_right_are_mirror_images(wound, posture, share):
    wound = replace(wound, face="front", tunnel=())
    turned = replace(posture, roll_deg=-posture.roll_deg)
    one, other = (cavity_of(w, spacing_cm=0.25) for w in (wound, mirrored(wound)))
    ours = soaked(one, posture, one.nearest(0.0, 0.0), share * one.void_ml)
    theirs = soaked(other, turned, other.nearest(0.0, 0.0), share * other.void_ml)
    # The grid itself does not mirror: a small wound is only some cells across.
    assert ours == pytest.approx(theirs, abs=0.04)


def test_a_pocket_at_3_lying_left_is_a_pocket_at_9_lying_right():
    pocket = Undermining(1.5, 4.5, reach_cm=5.0, height_cm=1.0)
    wound = Wound("front", "trunk", Opening(4.0, 4.0, 2.0), 96.0, undermining=(pocket,))
    other = replace(wound, undermining=(replace(pocket, from_clock=7.5, to_clock=10.5),))
    for volume_ml in (10.0, 30.0, 60.0):
        left = soaked(one := cavity_of(wound, spacing_cm=0.25), parse_posture("left 30"), one.nearest(0, 0), volume_ml)
        right = soaked(
            two := cavity_of(other, spacing_cm=0.25), parse_posture("right 30"), two.nearest(0, 0), volume_ml
        )
        assert left == pytest.approx(right, abs=0.01)


@FEW
@given(wound=wounds, share=st.floats(0.1, 0.9), roll_deg=st.floats(-60, 60), tilt_deg=st.floats(-60, 60))
def test_front_supine_is_back_prone_as_the_wound_looks_up(wound, share, roll_deg, tilt_deg):
    # The back's 3 o'clock is the patient's right: to lower it the patient rolls to the other side.
    front, back = replace(wound, face="front"), replace(wound, face="back")
    supine = Posture("supine", roll_deg, tilt_deg)
    prone = Posture("prone", -roll_deg, tilt_deg, prone=True)
    one, other = cavity_of(front), cavity_of(back)
    source = one.nearest(0.0, 0.0)
    assert soaked(one, supine, source, share * one.void_ml) == pytest.approx(
        soaked(other, prone, source, share * other.void_ml), abs=1e-6
    )


@pytest.mark.parametrize("volume_ml", [10.0, 40.0, 80.0])
def test_turning_wound_and_gravity_together_changes_nothing(volume_ml):
    # On a flat sheet: a pocket at 3 lying left side down is a pocket at 12 lying head down.
    flat = Assumptions(curvature="flat")
    pocket = Undermining(1.5, 4.5, reach_cm=5.0, height_cm=1.0)
    wound = Wound("front", "trunk", Opening(4.0, 4.0, 2.0), undermining=(pocket,))
    turned = replace(wound, undermining=(replace(pocket, from_clock=10.5, to_clock=1.5),))
    one, other = (cavity_of(w, flat, 0.25) for w in (wound, turned))
    ours = soaked(one, parse_posture("left 30"), one.nearest(0.0, 0.0), volume_ml)
    theirs = soaked(other, parse_posture("head down 30"), other.nearest(0.0, 0.0), volume_ml)
    assert ours == pytest.approx(theirs, abs=0.01)


@pytest.mark.parametrize("posture", ["supine", "left 30", "prone"])
def test_a_body_without_curve_is_flat(posture):
    pocket = Undermining(12, 6, reach_cm=4.0, height_cm=1.5)
    wound = Wound("front", "trunk", Opening(6.0, 6.0, 2.0), 1e7, undermining=(pocket,))
    flat, round_ = cavity_of(wound, Assumptions(curvature="flat"), 0.25), cavity_of(wound, ROUND, 0.25)
    up = parse_posture(posture)
    for volume_ml in (20.0, 60.0, 120.0):
        ours = soaked(round_, up, round_.nearest(0, 0), volume_ml)
        assert ours == pytest.approx(soaked(flat, up, flat.nearest(0, 0), volume_ml), abs=0.01)


@pytest.mark.parametrize("posture", ["left 30", "prone", "head up 45"])
def test_a_finer_grid_says_nearly_the_same(posture):
    pocket = Undermining(12, 6, reach_cm=5.0, height_cm=1.2)
    wound = Wound("front", "trunk", Opening(5.0, 4.0, 2.0), 96.0, undermining=(pocket,))
    found = []
    for spacing_cm in (0.8, 0.4, 0.2, 0.1):
        cavity = cavity_of(wound, spacing_cm=spacing_cm)
        found.append(np.array(soaked(cavity, parse_posture(posture), cavity.nearest(0, 0), 40.0)))
    off = [float(np.abs(share - found[-1]).max()) for share in found[:-1]]
    assert off[1] < 0.025
    assert off[2] < 0.01
