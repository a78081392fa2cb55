"""What holds for every fill range and every set of postures."""

import itertools

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from soakline.fluid.posture import Posture
from soakline.fluid.spread import Foam
from soakline.layout.fill_range import fill_cavity, knee_ml
from soakline.layout.joins import AtHand, Joins, what_can_be_placed
from soakline.layout.turning import Soaked, smallest_set, what_each_adds
from soakline.wound.body import frame_of
from soakline.wound.cavity import build_cavity
from soakline.wound.measurements import Assumptions, Opening, Undermining, Wound
from soakline.wound.sheet import lay_flat


@st.composite
def surfaces(draw):
    postures, patches = draw(st.integers(1, 6)), draw(st.integers(1, 12))
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    return Soaked(rng.random(patches) + 0.01, rng.random((postures, patches)) < draw(st.floats(0.1, 0.9)))


@given(surfaces())
def test_more_may_be_asked_but_never_of_fewer_postures(surface):
    sizes = [len(smallest_set([[surface]], soaked_share=share, wounds_share=1.0)) for share in (0.3, 0.6, 0.9, 1.0)]
    assert sizes == sorted(sizes)


@given(surfaces(), st.permutations(range(6)))
def test_the_order_of_the_postures_does_not_change_how_many_it_takes(surface, order):
    kept = [k for k in order if k < len(surface.by_posture)]
    turned = Soaked(surface.area_cm2, surface.by_posture[kept])
    assert len(smallest_set([[surface]])) == len(smallest_set([[turned]]))


@given(surfaces())
def test_what_each_adds_sums_to_what_all_soak_and_falls(surface):
    every = range(len(surface.by_posture))
    added = [one.share for one in what_each_adds([surface], every)]
    assert np.isclose(sum(added), surface.soaked_share(every))
    assert all(first >= second - 1e-9 for first, second in itertools.pairwise(added))


@given(st.integers(0, 3), st.integers(0, 4), *(st.none() | st.integers(0, 5),) * 3)
def test_more_at_hand_never_places_fewer_ports(instillation, suction, units, connectors, tubes):
    needed = max(instillation, 1 if suction else 0)
    wanted = Joins(instillation, suction, needed, max(suction - needed, 0), instillation + suction)
    less = what_can_be_placed(wanted, AtHand(units, connectors, tubes))
    more = what_can_be_placed(wanted, AtHand(*(None if n is None else n + 1 for n in (units, connectors, tubes))))
    assert less.instillation_count <= more.instillation_count <= instillation
    assert less.suction_count <= more.suction_count <= suction
    assert less.deep_count <= more.deep_count


@settings(max_examples=15)
@given(
    st.floats(2.0, 8.0),
    st.floats(0.6, 1.8),
    st.floats(-60.0, 60.0),
    st.floats(0.3, 1.0),
    st.sampled_from([0.0, 0.3, 1.0, 3.0]),
)
def test_reach_grows_with_the_fill_and_less_porous_foam_takes_less(reach, height, roll, porosity, held):
    wound = Wound("front", "trunk", Opening(5.0, 5.0, 2.5), undermining=(Undermining(1, 5, None, reach, height),))
    cavity = build_cavity(lay_flat(wound), frame_of(wound, Assumptions(curvature="flat")), 0.5)
    each_up = [Posture("level").up(), Posture("rolled", roll_deg=roll).up()]
    full, foam = (fill_cavity(cavity, [(0, 20.0)], each_up, Foam(3e-9, held, s)) for s in (1.0, porosity))
    assert (np.diff(full.reach_share) >= -1e-9).all()
    assert np.allclose(foam.fill_ml, porosity * full.fill_ml)
    assert np.allclose(foam.reach_share, full.reach_share)
    knee = knee_ml(full.fill_ml, full.reach_share)
    assert knee is None or 0.0 < knee <= full.fill_ml[-1]
    assert (foam.seal_ml[np.isfinite(foam.seal_ml)] <= cavity.void_ml * porosity + 1e-6).all()
