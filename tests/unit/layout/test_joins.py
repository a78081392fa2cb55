"""Units, Y connectors and tubes: what a layout takes, and what is left with less."""

import pytest

from soakline.layout.joins import AtHand, Joins, Possible, joins_of, layouts_left, pocket_of, what_can_be_placed
from soakline.layout.ports import Port
from soakline.wound.measurements import Opening, Undermining, Wound
from soakline.wound.sheet import lay_flat

SHEET = lay_flat(
    Wound(
        "front",
        "trunk",
        Opening(6.0, 5.0, 4.0),
        undermining=(
            Undermining(2, 4, reach_cm=7.0, height_cm=1.5),
            Undermining(8, 10, reach_cm=7.0, height_cm=1.5),
        ),
    )
)


def port(name, kind, clock, deep):
    return Port(name, kind, clock, deep)


LEFT, RIGHT = port("IL", "instillation", 3, 5), port("IR", "instillation", 9, 5)
SUCTION = tuple(
    port(name, "suction", clock, 4) for name, clock in (("SL1", 2.5), ("SL2", 3.5), ("SR1", 8.5), ("SR2", 9.5))
)
OVER = port("SO", "suction", 12, -1)


@pytest.mark.parametrize(
    ("ports", "units", "connectors", "deep"),
    [
        ((LEFT,), 1, 0, 1),
        ((LEFT, SUCTION[0]), 1, 0, 2),
        ((LEFT, SUCTION[0], OVER), 1, 1, 2),
        ((LEFT, RIGHT, *SUCTION), 2, 2, 6),
        ((OVER,), 1, 0, 0),
        ((), 0, 0, 0),
    ],
)
def test_units_connectors_and_deep_tubes_are_counted(ports, units, connectors, deep):
    found = joins_of(ports, SHEET)
    assert (found.unit_count, found.y_count, found.deep_count) == (units, connectors, deep)


def test_a_port_belongs_to_the_pocket_it_lies_in_and_to_none_over_the_opening():
    assert [pocket_of(one, SHEET) for one in (LEFT, RIGHT, SUCTION[1], OVER)] == [0, 1, 0, None]
    assert pocket_of(port("edge", "suction", 4, 1), SHEET) == 0


@pytest.mark.parametrize(
    ("at_hand", "possible"),
    [
        (AtHand(), Possible(2, 4, 6)),
        (AtHand(unit_count=0, y_count=5, deep_count=9), Possible(0, 0, 0)),
        (AtHand(unit_count=1, y_count=0), Possible(1, 1, 2)),
        (AtHand(unit_count=5, y_count=5, deep_count=0), Possible(2, 4, 0)),
        (AtHand(unit_count=2, y_count=1, deep_count=3), Possible(2, 3, 3)),
    ],
)
def test_what_is_not_known_limits_nothing_and_none_is_none(at_hand, possible):
    assert what_can_be_placed(Joins(2, 4, 2, 2, 6), at_hand) == possible


def test_a_suction_port_goes_with_the_pocket_that_is_filled():
    left = layouts_left((LEFT, RIGHT, *SUCTION), Possible(1, 2, 6), SHEET)
    assert [[one.name for one in choice.ports] for choice in left] == [["IL", "SL1", "SL2"], ["IR", "SR1", "SR2"]]
    assert [choice.without_index for choice in left] == [(1,), (0,)]


def test_each_filled_pocket_gets_a_suction_port_before_one_gets_a_second():
    (choice,) = layouts_left((LEFT, RIGHT, *SUCTION), Possible(2, 2, 6), SHEET)
    assert [one.name for one in choice.ports] == ["IL", "IR", "SL1", "SR1"]
    assert choice.without_index == ()
