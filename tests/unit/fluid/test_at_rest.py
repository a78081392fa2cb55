"""Rest, seal and gas on small cavities, and what they say to input that is none or is extreme."""

import numpy as np
import pytest

from soakline.fluid.basins import basins_of
from soakline.fluid.gas import opening_vents, round_vent, trapped_gas
from soakline.fluid.posture import parse_posture
from soakline.fluid.reach import settled_curve, settled_map, shares_of
from soakline.fluid.rest import rest, rest_wetness, room_of, soaked_by_fills
from soakline.fluid.seal import seal_of
from soakline.fluid.settle import levels, pour
from soakline.fluid.spread import Foam
from soakline.wound.body import frame_of
from soakline.wound.cavity import build_cavity
from soakline.wound.measurements import Assumptions, Opening, Pocket, Undermining, Wound
from soakline.wound.sheet import lay_flat

pytestmark = pytest.mark.kernel

TWO_POCKETS = Wound(
    "front", "trunk", Opening(3.0, 3.0, 2.0), 96.0,
    undermining=(Undermining(2, 4, None, 4.0, 1.0), Undermining(8, 10, None, 4.0, 1.0)),
)  # fmt: skip
THIN = Wound("front", "trunk", Opening(3.0, 3.0, 2.0), 96.0, undermining=(Undermining(12, 12, None, 4.0, 0.05),))
# A pocket marked on the skin narrower than the grid: some of its columns stand apart.
NARROW = Wound("front", "trunk", Opening(3.0, 3.0, 2.0), 96.0, pocket=Pocket(((0, 0), (0.3, 0), (6, 6.2), (6, 6)), 1.0))
LYING = ("supine", "prone", "left 90", "right 90", "head up 90", "head down 90", "left 90 head up 90")
FOAM = Foam(3e-9, 1.0, 0.8)


def cavity_of(wound, spacing_cm=0.75):
    return build_cavity(lay_flat(wound), frame_of(wound, Assumptions()), spacing_cm)


def at_rest(cavity, posture, liquid_ml, foam=FOAM, at=(0.0, 0.0)):
    room = room_of(basins_of(cavity, parse_posture(posture).up()), foam)
    return rest(room, [(cavity.nearest(*at), liquid_ml)])


@pytest.mark.parametrize("wound", [TWO_POCKETS, THIN, NARROW])
@pytest.mark.parametrize("posture", LYING)
@pytest.mark.parametrize("capillary_height_cm", [0.0, 1.0])
def test_extreme_pockets_and_postures_give_numbers(wound, posture, capillary_height_cm):
    cavity = cavity_of(wound)
    found = at_rest(cavity, posture, 5.0, Foam(3e-9, capillary_height_cm, 0.8))
    assert found.held_ml.sum() + found.left_over_ml == pytest.approx(5.0, abs=1e-9)
    assert all(np.isfinite(state).all() for state in rest_wetness(found))
    up = parse_posture(posture).up()
    gas = trapped_gas(cavity, up, opening_vents(cavity))
    assert 0.0 <= gas.void_share <= 1.0 + 1e-12
    assert not np.isnan(gas.sill_cm).any()
    seal = seal_of(found.room.basins, found.head_cm)
    assert seal is None or np.isfinite(seal.over_cm)


@pytest.mark.parametrize("posture", ["supine", "left 90", "right 90 head up 30"])
@pytest.mark.parametrize("capillary_height_cm", [0.0, 1.0])
def test_fills_looked_at_together_soak_what_each_soaks_alone(posture, capillary_height_cm):
    cavity = cavity_of(TWO_POCKETS)
    room = room_of(basins_of(cavity, parse_posture(posture).up()), Foam(3e-9, capillary_height_cm, 0.8))
    into = [(cavity.nearest(4.0, 0.0), 0.25), (cavity.nearest(-4.0, 0.0), 0.75)]
    fill_ml = np.linspace(0.0, 1.1, 9) * 0.8 * cavity.void_ml
    together = soaked_by_fills(room, into, fill_ml)
    for soaked, ml in zip(together, fill_ml, strict=True):
        floor, roof = rest_wetness(rest(room, [(column, share * ml) for column, share in into]))
        assert soaked == pytest.approx(np.stack([floor[:, 0], roof[:, 0]]), abs=1e-9)
    assert together[0].max() == 0.0
    assert together[4].max() > 0.0


def test_a_fill_that_is_no_number_is_refused_among_others():
    room = room_of(basins_of(cavity_of(TWO_POCKETS), parse_posture("supine").up()), FOAM)
    with pytest.raises(ValueError, match="must be a number"):
        soaked_by_fills(room, [(0, 1.0)], np.array([5.0, np.nan]))


@pytest.mark.parametrize("capillary_height_cm", [0.0, 1.0])
def test_more_than_the_void_finds_no_room(capillary_height_cm):
    cavity = cavity_of(TWO_POCKETS)
    found = at_rest(cavity, "left 30", 0.8 * cavity.void_ml + 30.0, Foam(3e-9, capillary_height_cm, 0.8))
    assert found.left_over_ml == pytest.approx(30.0)
    floor, roof = rest_wetness(found)
    assert floor[:, 0].min() == pytest.approx(1.0, abs=0.05)
    assert roof[cavity.roof_cm2 > 0.0, 0].min() == pytest.approx(1.0, abs=0.05)


def test_nothing_poured_is_nothing_held():
    found = at_rest(cavity_of(TWO_POCKETS), "supine", 0.0)
    assert np.isneginf(found.head_cm).all()
    assert found.held_ml.sum() == 0.0
    assert seal_of(found.room.basins, found.head_cm) is None


def test_foam_that_holds_soaks_the_roof_that_a_level_does_not_reach():
    cavity = cavity_of(TWO_POCKETS)
    shares = [
        rest_wetness(at_rest(cavity, "supine", 20.0, Foam(3e-9, hc, 0.8), (5.0, 0.0)))[1].sum(axis=1) @ cavity.roof_cm2
        for hc in (0.0, 1.0)
    ]
    assert shares[1] > shares[0]


def test_the_settled_map_tells_how_liquid_stands_against_the_seal():
    cavity = cavity_of(TWO_POCKETS)
    basins = basins_of(cavity, parse_posture("left 30").up())
    port = cavity.nearest(0.0, 0.0)
    found = settled_map(room_of(basins, Foam(3e-9, 0.0, 0.8)), "left 30", "I1", [(port, 30.0)])
    seal = seal_of(basins, levels(pour(basins, [(port, 30.0 / 0.8)])))
    assert seal is not None
    assert found.seal is not None
    assert found.seal.over_cm == pytest.approx(seal.over_cm, abs=1e-3)
    assert found.seal.clock == pytest.approx(3.0, abs=0.5)


def test_the_curve_of_a_port_is_the_map_at_each_fill_and_ends_with_everything_soaked():
    cavity = cavity_of(TWO_POCKETS)
    room = room_of(basins_of(cavity, parse_posture("left 30").up()), FOAM)
    port = cavity.nearest(4.0, 0.0)
    curve = settled_curve(room, "left 30", "I1", port)
    fill_ml = float(curve.fill_ml[20])
    floor, roof = shares_of(cavity, settled_map(room, "left 30", "I1", [(port, fill_ml)]))
    assert roof is not None
    assert (curve.floor_share[20], curve.roof_share[20]) == (floor.soaked, roof.soaked)
    assert (curve.floor_share[0], curve.floor_share[-1]) == pytest.approx((0.0, 1.0), abs=0.01)


def test_a_round_vent_is_the_nearest_column_at_least():
    cavity = cavity_of(TWO_POCKETS)
    assert list(round_vent(cavity, 4.0, 0.0, 0.0)) == [cavity.nearest(4.0, 0.0)]
    assert len(round_vent(cavity, 4.0, 0.0, 2.0)) > 1


@pytest.mark.parametrize("liquid_ml", [-1.0, float("nan"), float("inf")])
def test_a_volume_that_is_none_is_refused(liquid_ml):
    with pytest.raises(ValueError, match="liquid in mL"):
        at_rest(cavity_of(TWO_POCKETS), "supine", liquid_ml)


@pytest.mark.parametrize(
    ("foam", "says"),
    [
        (Foam(3e-9, -1.0, 0.8), "capillary height"),
        (Foam(3e-9, float("nan"), 0.8), "capillary height"),
        (Foam(3e-9, 1.0, 0.0), "share of the void"),
        (Foam(3e-9, 1.0, 1.5), "share of the void"),
    ],
)
def test_foam_that_is_none_is_refused(foam, says):
    with pytest.raises(ValueError, match=says):
        at_rest(cavity_of(TWO_POCKETS), "supine", 5.0, foam)
