"""What holds for every pocket, liquid and set of suction ports: balance, mirror image, more ports never draw less."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from tests.truth.fluid.twins.beds import rectangle

from soakline.fluid.draw import draw, hold, what_is_blocked
from soakline.fluid.left_behind import what_stays
from soakline.fluid.passed_over import passed_over
from soakline.fluid.posture import Posture
from soakline.fluid.suction_sheet import lay_suction

FEW = settings(max_examples=40)
ACROSS, ALONG = 18, 14
BED = rectangle(ACROSS, ALONG, 0.5, 1.5)
COUNT = len(BED.u_cm)
WIDE = rectangle(40, 30, 0.5, 1.5)

seeds = st.integers(0, 2**32 - 1)
postures = st.builds(
    Posture, name=st.just("drawn"), roll_deg=st.floats(-90, 90), tilt_deg=st.floats(-90, 90), prone=st.booleans()
)


class Drawing:
    """A bed with holes in it, of uneven height, with liquid here and there and ports in the columns that are left."""

    def __init__(self, seed, count=3):
        chance = np.random.default_rng(seed)
        self.blocked = chance.random(COUNT) < chance.uniform(0.0, 0.5)
        self.cavity = replace(BED, height_cm=chance.uniform(0.5, 2.0, COUNT))
        self.held_ml = np.where(chance.random(COUNT) < 0.7, chance.random(COUNT), 0.0) * ~self.blocked + 1e-3
        open_column = np.flatnonzero(~self.blocked)
        self.ports = [int(port) for port in chance.choice(open_column, count, replace=False)]

    def drawn(self, ports=None, laid=None):
        sheet = lay_suction(self.cavity, laid or self.ports, blocked=self.blocked)
        return draw(hold(sheet, self.held_ml), self.ports if ports is None else ports)


def flipped(values):
    """Return columns in the order of the mirror image."""
    return values.reshape(ALONG, ACROSS, *values.shape[1:])[:, ::-1].reshape(values.shape)


@FEW
@given(seed=seeds)
def test_what_is_drawn_and_what_is_not_is_all(seed):
    found = Drawing(seed).drawn()
    total = found.held_ml.sum()
    assert found.port_share.sum() + found.undrawn_ml / total == pytest.approx(1.0, abs=1e-9)
    assert (found.port_share >= 0.0).all()
    assert found.held_ml @ found.column_share / total == pytest.approx(found.port_share, abs=1e-7)
    assert found.column_share.sum(axis=1)[~found.undrawn] == pytest.approx(1.0, abs=1e-6)
    assert not found.column_share[found.undrawn].any()


@FEW
@given(seed=seeds)
def test_drawn_liquid_takes_on_average_one_turnover(seed):
    found = Drawing(seed).drawn()
    moves = ~found.undrawn
    assert np.average(found.travel_ratio[moves], weights=found.held_ml[moves]) == pytest.approx(1.0, rel=1e-6)
    assert (found.travel_ratio > 0.0).all()


@FEW
@given(seed=seeds)
def test_a_mirrored_pocket_is_drawn_as_its_mirror_image(seed):
    one = Drawing(seed)
    other = Drawing(seed)
    other.cavity = replace(BED, height_cm=flipped(one.cavity.height_cm))
    other.blocked, other.held_ml = flipped(one.blocked), flipped(one.held_ml)
    other.ports = [port // ACROSS * ACROSS + ACROSS - 1 - port % ACROSS for port in one.ports]
    here, there = one.drawn(), other.drawn()
    assert there.port_share == pytest.approx(here.port_share, abs=1e-9)
    assert flipped(there.column_share) == pytest.approx(here.column_share, abs=1e-6)
    flow, mirrored = (passed_over(found.sheet, found.port_column[0], found.port_column[1:]) for found in (here, there))
    assert flipped(mirrored.flow_ratio) == pytest.approx(flow.flow_ratio, abs=1e-6)


@FEW
@given(seed=seeds)
def test_another_suction_port_never_draws_less_of_any_column(seed):
    drawing = Drawing(seed, 4)
    fewer, more = drawing.drawn(drawing.ports[:3], drawing.ports), drawing.drawn()
    assert (more.column_share.sum(axis=1) >= fewer.column_share.sum(axis=1) - 1e-6).all()
    assert more.undrawn_ml <= fewer.undrawn_ml + 1e-12
    assert not (more.undrawn & ~fewer.undrawn).any()


@FEW
@given(seed=seeds)
def test_another_suction_port_takes_from_the_others_on_a_wide_even_bed(seed):
    chance = np.random.default_rng(seed)
    ports = [int(port) for port in chance.choice(len(WIDE.u_cm), 4, replace=False)]
    u, v = WIDE.u_cm[ports], WIDE.v_cm[ports]
    assume(all(np.hypot(u[a] - u[b], v[a] - v[b]) > 2.0 for a in range(4) for b in range(a)))
    held = hold(lay_suction(WIDE, ports), WIDE.volume_ml * chance.uniform(0.5, 1.0, len(WIDE.u_cm)))
    fewer, more = draw(held, ports[:3]), draw(held, ports)
    # A port takes evenly over its disc, not by what lies nearest: two discs hold two points.
    assert (more.port_share[:3] <= fewer.port_share + 0.02).all()


@pytest.mark.parametrize("seed", [345, 565, 862, 1489])
def test_another_suction_port_takes_from_the_others_where_holes_cut_their_discs(seed):
    # Beds on which another's share rose by 6 to 10 points while a port also drew what a hole cuts off from it. Up to
    # 4.4 are left in 495 such beds: a port takes evenly over its disc, also where holes leave it ragged.
    drawing = Drawing(seed, 4)
    fewer, more = drawing.drawn(drawing.ports[:3], drawing.ports), drawing.drawn()
    assert (more.port_share[:3] <= fewer.port_share + 0.05).all()


@FEW
@given(seed=seeds)
def test_a_blocked_port_leaves_what_the_others_alone_would_draw(seed):
    drawing = Drawing(seed)
    among_all, alone = drawing.drawn(drawing.ports[1:]), drawing.drawn(drawing.ports[1:], drawing.ports[1:])
    assert among_all.port_share == pytest.approx(alone.port_share, abs=1e-9)
    assert among_all.column_share == pytest.approx(alone.column_share, abs=1e-6)
    assert (among_all.undrawn == alone.undrawn).all()


@FEW
@given(seed=seeds)
def test_what_a_blocked_port_drew_is_rerouted_or_left(seed):
    drawing = Drawing(seed)
    before = drawing.drawn()
    lost = what_is_blocked(before, drawing.drawn(drawing.ports[1:], drawing.ports))
    drew_ml = before.port_share[0] * before.held_ml.sum()
    assert lost.undrawn_ml + lost.rerouted_ml >= drew_ml - 1e-6
    assert lost.undrawn_ml <= before.held_ml.sum() + 1e-9


@FEW
@given(seed=seeds, posture=postures)
def test_what_stays_is_a_range_within_what_there_is(seed, posture):
    found = Drawing(seed).drawn()
    left = what_stays(found, posture.up())
    assert 0.0 <= left.stays_ml.low <= left.stays_ml.high <= found.held_ml.sum() + 1e-9
    assert found.undrawn_ml <= left.stays_ml.low + 1e-9
    assert 0.0 <= left.kept_share.low <= left.kept_share.high <= 1.0
