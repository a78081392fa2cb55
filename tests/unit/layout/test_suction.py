"""The suction side: short circuits, pockets without a port, and what a blockage leaves."""

import pytest

from soakline.layout.ports import Port
from soakline.layout.suction import look_at_suction
from soakline.wound.body import frame_of
from soakline.wound.cavity import build_cavity
from soakline.wound.measurements import Assumptions, Opening, Undermining, Wound
from soakline.wound.sheet import lay_flat

WOUND = Wound(
    "front",
    "trunk",
    Opening(6.0, 5.0, 4.0),
    undermining=(
        Undermining(2, 4, reach_cm=7.0, height_cm=1.5),
        Undermining(8, 10, reach_cm=7.0, height_cm=1.5),
    ),
)
SHEET = lay_flat(WOUND)
IN_LEFT = Port("I", "instillation", 3, 5)
LEFT, RIGHT = Port("SL", "suction", 3, 4), Port("SR", "suction", 9, 5)


@pytest.fixture(scope="module")
def cavity():
    return build_cavity(SHEET, frame_of(WOUND, Assumptions(curvature="flat")), 0.5)


def test_without_a_suction_port_there_is_nothing_to_say(cavity):
    assert look_at_suction([IN_LEFT], SHEET, cavity) is None


def test_a_suction_port_beside_the_instillation_port_is_a_short_circuit(cavity):
    (circuit,) = look_at_suction([IN_LEFT, LEFT], SHEET, cavity).circuits
    assert circuit.is_short
    assert circuit.apart_cm == pytest.approx(1.0)
    assert circuit.left_out_share > 0.5


def test_a_suction_port_on_the_far_side_is_none(cavity):
    (circuit,) = look_at_suction([IN_LEFT, RIGHT], SHEET, cavity).circuits
    assert not circuit.is_short
    assert circuit.left_out_share < 0.2


def test_a_pocket_without_a_port_is_drawn_across_the_opening(cavity):
    left, right = look_at_suction([IN_LEFT, LEFT], SHEET, cavity).pockets
    assert (left.own_ports, right.own_ports) == (("SL",), ())
    assert right.drawn_by == ("SL",)
    assert right.undrawn_share == 0.0
    assert right.slowness_ratio > left.slowness_ratio


def test_the_only_port_blocked_leaves_everything(cavity):
    blocked = look_at_suction([IN_LEFT, LEFT], SHEET, cavity).blocked[0]
    assert (blocked.port, blocked.undrawn_share, blocked.undrawn_index) == ("SL", 1.0, (0, 1))


def test_another_port_takes_over_while_the_foam_lets_liquid_pass(cavity):
    found = look_at_suction([IN_LEFT, LEFT, RIGHT], SHEET, cavity)
    drawn = dict(found.drawn_share)
    assert sum(drawn.values()) == pytest.approx(1.0)
    assert found.blocked[0].undrawn_share == 0.0
    assert found.blocked[0].rerouted_share == pytest.approx(drawn["SL"], abs=1e-6)


def test_a_mouth_squeezed_shut_leaves_the_pocket_that_has_no_port(cavity):
    found = look_at_suction([IN_LEFT, LEFT], SHEET, cavity)
    mouths = {blocked.pocket_index: blocked for blocked in found.blocked if blocked.port is None}
    assert mouths[1].undrawn_index == (1,)
    # The other way round all but that pocket is cut off from its only port.
    assert mouths[0].undrawn_index == (1,)
    assert mouths[0].undrawn_share > mouths[1].undrawn_share
