"""Suction on small beds, so that each answer can be seen at once."""

import numpy as np
import pytest
from tests.truth.fluid.twins.beds import LEVEL, rectangle, tilted

from soakline.errors import GridRefused
from soakline.fluid.draw import EXPLORATORY, draw, head_loss_mmhg, hold, slowest, travel_min, what_is_blocked
from soakline.fluid.left_behind import what_stays
from soakline.fluid.passed_over import passed_over
from soakline.fluid.suction_sheet import lay_suction
from soakline.layout.ports import Port, column_of
from soakline.units import Extremes
from soakline.wound.body import frame_of
from soakline.wound.cavity import build_cavity
from soakline.wound.measurements import Assumptions, Opening, Tunnel, Undermining, Wound
from soakline.wound.sheet import lay_flat

BED = rectangle(24, 10, 0.5, 1.5)  # 12 × 5 cm
LEFT, MIDDLE, RIGHT = BED.nearest(1.25, 2.75), BED.nearest(6.25, 2.75), BED.nearest(10.75, 2.75)


def drawn(ports, blocked=None, held_ml=None, up_to=None):
    sheet = lay_suction(BED, up_to or ports, blocked=blocked)
    return draw(hold(sheet, BED.volume_ml * 0.5 if held_ml is None else held_ml), ports)


@pytest.mark.kernel
def test_two_ports_that_mirror_each_other_draw_half_each():
    found = drawn([LEFT, RIGHT])
    assert found.port_share == pytest.approx([0.5, 0.5], abs=1e-9)
    assert found.column_share[LEFT] == pytest.approx([1.0, 0.0], abs=1e-3)
    assert found.undrawn_ml == 0.0


@pytest.mark.kernel
def test_what_flows_past_a_port_beside_it_is_little():
    found = passed_over(lay_suction(BED, [LEFT, RIGHT]), LEFT, [RIGHT])
    assert found.port_share == pytest.approx([1.0])
    assert found.passed_over_share < 0.05


def test_a_suction_port_beside_the_instillation_port_passes_over_more_than_one_at_the_far_end():
    near = LEFT + 5
    sheet = lay_suction(BED, [LEFT, near, RIGHT])
    beside, across = (passed_over(sheet, LEFT, [port]).passed_over_share for port in (near, RIGHT))
    assert beside > across + 0.3


def test_a_flow_that_no_port_takes_passes_over_everything():
    wall = (BED.u_cm > 6.0) & (BED.u_cm < 6.5)
    found = passed_over(lay_suction(BED, [LEFT, RIGHT], blocked=wall), LEFT, [RIGHT])
    assert found.port_share == pytest.approx([0.0])
    assert found.passed_over.all()
    assert found.passed_over_share == pytest.approx(1.0)


def test_a_part_without_a_suction_port_is_left_undrawn():
    wall = (BED.u_cm > 6.0) & (BED.u_cm < 6.5)
    found = drawn([LEFT], blocked=wall)
    assert (found.undrawn == (BED.u_cm > 6.0)).all()
    assert found.undrawn_ml == pytest.approx(BED.volume_ml[BED.u_cm > 6.0].sum() / 2.0)
    assert np.isinf(found.travel_ratio[found.undrawn]).all()


def test_without_any_port_all_is_left():
    found = drawn([], up_to=[LEFT])
    assert found.undrawn.all()
    assert found.undrawn_ml == pytest.approx(found.held_ml.sum())
    left = what_stays(found, LEVEL)
    assert left.liquid_share == Extremes(pytest.approx(1.0), pytest.approx(1.0))


def test_when_a_port_blocks_the_other_takes_its_half():
    before, after = drawn([LEFT, RIGHT]), drawn([RIGHT])
    lost = what_is_blocked(before, after)
    assert (lost.undrawn_ml, lost.undrawn.any()) == (0.0, False)
    assert lost.rerouted_ml == pytest.approx(before.held_ml.sum() / 2.0, rel=1e-6)


def test_a_blocked_branch_is_left_and_nothing_else_moves_over():
    arm = BED.u_cm > 9.0
    neck = (BED.u_cm > 8.5) & arm
    before, after = drawn([LEFT]), drawn([LEFT], blocked=(BED.u_cm > 8.5) & (BED.u_cm < 9.0))
    lost = what_is_blocked(before, after)
    assert (lost.undrawn == (BED.u_cm > 8.5)).all()
    assert lost.undrawn_ml == pytest.approx(BED.volume_ml[BED.u_cm > 8.5].sum() / 2.0)
    assert neck.any()
    assert lost.rerouted_ml == pytest.approx(0.0, abs=1e-9)


def test_ports_that_overlap_share_evenly():
    found = drawn([LEFT, LEFT + 1, RIGHT])
    assert found.port_share[0] == pytest.approx(found.port_share[1])
    alone = drawn([LEFT, LEFT, RIGHT])
    assert alone.port_share == pytest.approx([0.25, 0.25, 0.5], abs=1e-9)


def test_the_farthest_liquid_comes_last():
    last = slowest(drawn([LEFT]), 0.1)
    assert last.sum() == pytest.approx(0.1 * len(last), abs=1)
    assert BED.u_cm[last].min() > 10.0


def test_dry_columns_are_not_among_the_slowest():
    found = drawn([LEFT], held_ml=np.where(BED.u_cm < 6.0, 1.0, 0.0))
    assert (BED.u_cm[slowest(found, 0.1)] < 6.0).all()


def test_twice_the_flow_takes_half_the_time_and_tighter_foam_less():
    found = drawn([LEFT])
    slow, fast, tight = travel_min(found, 50.0, 0.5), travel_min(found, 100.0, 0.5), travel_min(found, 50.0, 0.2)
    assert slow == pytest.approx(2.0 * fast)
    assert (tight < slow).all()


def test_a_dead_arm_without_liquid_holds_no_port_up():
    held = np.where((BED.u_cm < 4.0) & (BED.v_cm < 4.0), 1.0, 0.0)
    arm = (BED.u_cm > 6.0) & (BED.u_cm < 6.5) & (BED.v_cm > 0.5)
    found = drawn([LEFT], blocked=arm, held_ml=held)
    assert np.isfinite(found.column_share).all()
    assert not np.isnan(found.travel_ratio).any()
    assert found.column_share[held > 0.0].sum(axis=1) == pytest.approx(1.0)


def test_foam_that_lets_nothing_pass_loses_all_suction():
    lost = head_loss_mmhg(drawn([LEFT]), 200.0, Extremes(0.0, 1e-9))
    assert np.isinf(lost.high)
    assert 0.0 < lost.low < 10.0


@pytest.mark.parametrize("port", [-1, len(BED.u_cm)])
def test_a_port_that_is_no_column_is_refused(port):
    with pytest.raises(ValueError, match="each must be a column, 0 to 239"):
        lay_suction(BED, [port])


def test_a_port_that_the_sheet_was_not_laid_for_is_refused():
    held = hold(lay_suction(BED, [LEFT]), BED.volume_ml)
    with pytest.raises(ValueError, match="none of the ports that the sheet was laid for"):
        draw(held, [RIGHT])


@pytest.mark.parametrize("held", [0.0, -1.0, np.nan, np.inf])
def test_liquid_that_is_none_is_refused(held):
    with pytest.raises(ValueError, match="must hold 0 mL or more"):
        hold(lay_suction(BED, [LEFT]), np.full(len(BED.u_cm), held))


# What stays


def test_more_stays_when_the_port_is_the_higher_end():
    full = BED.volume_ml * 0.9  # u runs downhill
    low_end, high_end = (what_stays(drawn([port], held_ml=full), tilted(30)) for port in (RIGHT, LEFT))
    assert high_end.stays_ml.high > low_end.stays_ml.high
    assert high_end.kept_share.high > low_end.kept_share.high + 0.05


def test_what_stays_is_called_exploratory():
    assert what_stays(drawn([LEFT]), LEVEL).says == EXPLORATORY
    assert EXPLORATORY.startswith("exploratory")


@pytest.mark.parametrize("up", [tilted(90), tilted(-90), tilted(180), LEVEL])
def test_what_stays_is_a_number_in_every_posture(up):
    left = what_stays(drawn([MIDDLE]), up)
    assert 0.0 <= left.stays_ml.low <= left.stays_ml.high


# Whole wounds


@pytest.fixture(scope="module")
def flank():
    wound = Wound(
        face="left",
        part="trunk",
        opening=Opening(5.0, 4.0, 2.0),
        girth_cm=96.0,
        undermining=(Undermining(1, 1, None, 5.0, 1.2),),
        tunnel=(Tunnel(clock=3, length_cm=4.0, diameter_cm=1.0),),
    )
    sheet = lay_flat(wound)
    return sheet, build_cavity(sheet, frame_of(wound, Assumptions()), 0.25)


def test_a_port_in_a_tunnel_draws_the_tunnel(flank):
    sheet, cavity = flank
    opening = column_of(Port("S1", "suction", 12.0, -1.0), sheet, cavity)
    tunnel = column_of(Port("S2", "suction", 3.0, 7.0), sheet, cavity)
    assert tunnel >= cavity.grid_count
    found = draw(hold(lay_suction(cavity, [opening, tunnel]), cavity.volume_ml), [opening, tunnel])
    assert found.column_share[-1] == pytest.approx([0.0, 1.0], abs=1e-6)
    assert 0.0 < found.port_share[1] < found.port_share[0]


def test_a_blocked_tunnel_is_left_undrawn(flank):
    sheet, cavity = flank
    opening = column_of(Port("S1", "suction", 12.0, -1.0), sheet, cavity)
    torn = np.arange(len(cavity.u_cm)) == cavity.grid_count
    before, after = (draw(hold(lay_suction(cavity, [opening], blocked=blocked), cavity.volume_ml), [opening])
                     for blocked in (np.zeros_like(torn), torn))  # fmt: skip
    lost = what_is_blocked(before, after)
    assert lost.undrawn_ml == pytest.approx(np.pi / 4.0 * 4.0, rel=1e-6)


@pytest.mark.parametrize(("across", "port_count", "needs"), [(400, 51, "402 MB"), (240, 200, "307 MB")])
def test_a_draw_that_needs_more_memory_than_it_is_given_is_refused_with_what_to_do(across, port_count, needs):
    wide = rectangle(across, 500 if across == 400 else 400, 0.1, 1.5)
    with pytest.raises(GridRefused, match=f"{needs}; at most 200 MB .* take a wider grid or fewer ports"):
        lay_suction(wide, range(port_count))


def test_40_by_30_cm_at_1_mm_with_a_few_ports_is_not_refused():
    # 120,000 columns × (1,600 + 8 × 4) bytes are 196 MB.
    wide = rectangle(400, 300, 0.1, 1.5)
    ports = [wide.nearest(*at) for at in ((4.95, 4.95), (35.05, 4.95), (4.95, 25.05), (35.05, 25.05))]
    found = draw(hold(lay_suction(wide, ports), wide.volume_ml), ports)
    # Columns 1 cm from a port lie in its disc or not by rounding.
    assert found.port_share == pytest.approx([0.25] * 4, abs=1e-3)
