"""Whether units share a cavity, and what a unit that draws leaves of its neighbour's soak."""

import pytest

from soakline.fluid.posture import parse_posture
from soakline.fluid.spread import Soak
from soakline.layout.ensemble import Filling, Question
from soakline.layout.ports import Port
from soakline.therapy.shared import shared_cavities
from soakline.workflows.drawn_on import drawn_on
from soakline.wound.body import frame_of
from soakline.wound.cavity import build_cavity
from soakline.wound.measurements import Assumptions, Opening, Undermining, Wound
from soakline.wound.sheet import lay_flat

TWO_POCKETS = (Undermining(2, 5, None, 5.0, 1.5), Undermining(8, 11, None, 5.0, 1.5))
ONE_POCKET = (Undermining(2, 10, None, 5.0, 1.5),)


def laid(undermining):
    wound = Wound("front", "trunk", Opening(5.0, 5.0, 2.0), 100.0, undermining=undermining)
    sheet = lay_flat(wound)
    return wound, sheet, build_cavity(sheet, frame_of(wound, Assumptions()), 0.5)


def instils(unit, clock, from_edge_cm=3.0):
    return Port(f"I{unit}", "instillation", clock, from_edge_cm, unit)


def draws(unit, clock, from_edge_cm=2.0):
    return Port(f"S{unit}", "suction", clock, from_edge_cm, unit)


def told(undermining, *ports, units=("A", "B")):
    _, sheet, cavity = laid(undermining)
    return shared_cavities(units, ports, sheet, cavity)


def test_pockets_on_either_side_of_the_opening_are_apart():
    (pair,) = told(TWO_POCKETS, instils("A", 3.5), draws("A", 3), instils("B", 9.5), draws("B", 9))
    assert (pair.names, pair.shared) == (("A", "B"), False)
    assert "do not join under the skin" in pair.says


def test_two_ends_of_one_pocket_are_shared():
    (pair,) = told(ONE_POCKET, instils("A", 3), instils("B", 9))
    assert pair.shared is True
    assert "one pocket" in pair.says


def test_a_port_over_the_opening_shares_with_every_pocket_and_is_named():
    (pair,) = told(TWO_POCKETS, instils("A", 3.5), draws("A", 3, -1.0), instils("B", 9.5))
    assert pair.shared is True
    assert pair.says.startswith("SA over the opening")


def test_a_unit_without_a_port_is_not_told_rather_than_apart():
    (pair,) = told(TWO_POCKETS, instils("A", 3.5))
    assert pair.shared is None
    assert "unit B has no port" in pair.says


def test_of_three_units_each_two_are_told():
    found = told(TWO_POCKETS, instils("A", 3), instils("B", 4), instils("C", 9), units=("A", "B", "C"))
    assert [(pair.names, pair.shared) for pair in found] == [
        (("A", "B"), True),
        (("A", "C"), False),
        (("B", "C"), False),
    ]


def left_of(undermining, ports):
    wound, sheet, cavity = laid(undermining)
    poured = tuple((port, 40.0) for port in ports if port.kind == "instillation" and port.unit == "B")
    filling = Filling("IB", poured, Soak(120.0, 600.0))
    asked = Question(wound, Assumptions(), (filling,), (parse_posture("supine"),), "spread", 0.5)
    return drawn_on(("A", "B"), ports, asked, cavity, sheet)


def test_a_unit_that_draws_in_the_same_pocket_may_take_all_of_its_neighbours_soak():
    found = left_of(ONE_POCKET, (instils("A", 3), draws("A", 8), instils("B", 9)))
    assert found.floor_soaked.high > 0.1
    assert found.floor_soaked.low == pytest.approx(0.0)
    assert found.floor_moist_most <= 1.0
    assert "while unit A draws, the soak of unit B keeps" in found.says
    assert "exploratory" in found.says


def test_without_a_suction_port_nothing_is_told():
    assert left_of(ONE_POCKET, (instils("A", 3), instils("B", 9))) is None
