"""Where a port may lie, and how its place is told."""

import pytest

from soakline.layout.candidates import shown_ports
from soakline.layout.ports import Port, check_ports, check_units, column_of, say_zone
from soakline.wound.body import frame_of
from soakline.wound.cavity import build_cavity
from soakline.wound.measurements import Assumptions, KeepClear, Opening, Tunnel, Undermining, Wound
from soakline.wound.sheet import lay_flat

WOUND = Wound(
    "front",
    "trunk",
    Opening(6.0, 6.0, 2.0),
    undermining=(Undermining(12, 6, reach_cm=4.0, height_cm=1.5),),
    tunnel=(Tunnel(4, 5.0, 1.0, 10.0),),
    keep_clear=(KeepClear("bowel under mesh", 1, 2.0, 1.0),),
)
SHEET = lay_flat(WOUND)


@pytest.fixture(scope="module")
def cavity():
    return build_cavity(SHEET, frame_of(WOUND, Assumptions(curvature="flat")), 0.5)


def port(clock, from_edge_cm, kind="instillation", unit="A", name="I1"):
    return Port(name, kind, clock, from_edge_cm, unit)


def refused(*ports):
    return [found.says for found in check_ports(ports, SHEET) if found.level == "refuse"]


@pytest.mark.parametrize(
    ("clock", "from_edge_cm"), [(3, 3.5), (3, 4.0), (12, 3.0), (6, 3.0), (9, 0), (9, -3), (4, 8.9)]
)
def test_a_port_in_opening_pocket_or_tunnel_stands(clock, from_edge_cm):
    assert refused(port(clock, from_edge_cm)) == []


@pytest.mark.parametrize(
    ("clock", "from_edge_cm", "words"),
    [
        (3, 4.1, "the pocket ends 4 cm from the edge there"),
        (9, 1.0, "there is no pocket there"),
        (4, 9.1, "the pocket ends 4 cm"),
        (3, -3.2, "past the opening's centre"),
        (1, 2.5, "structure to keep clear (bowel under mesh)"),
    ],
)
def test_a_port_elsewhere_is_refused_with_the_reason(clock, from_edge_cm, words):
    (says,) = refused(port(clock, from_edge_cm))
    assert words in says


def test_each_port_is_refused_under_its_own_key():
    found = check_ports([port(3, 1.0), port(9, 2.0)], SHEET)
    assert [f.where for f in found] == ["port.1.from_edge_cm"]


@pytest.mark.parametrize(
    ("clock", "from_edge_cm", "zone"),
    [
        (3, 0.5, "3 o'clock, nearest third"),
        (3, 2.0, "3 o'clock, middle third"),
        (3, 4.0, "3 o'clock, deepest third"),
        (6, 3.9, "6 o'clock, deepest third"),
        (4, 7.0, "4 o'clock, in the tunnel"),
        (9, 0.0, "over the opening, at 9 o'clock"),
        (3, -1.0, "over the opening, at 3 o'clock"),
    ],
)
def test_a_place_is_told_as_a_zone(clock, from_edge_cm, zone):
    assert say_zone(port(clock, from_edge_cm), SHEET) == zone


@pytest.mark.parametrize(("clock", "from_edge_cm", "u_cm", "v_cm"), [(3, 3.0, 6, 0), (9, 0.0, -3, 0), (6, 3.0, 0, -6)])
def test_the_column_of_a_port_stands_where_the_port_lies(cavity, clock, from_edge_cm, u_cm, v_cm):
    found = column_of(port(clock, from_edge_cm), SHEET, cavity)
    assert (cavity.u_cm[found], cavity.v_cm[found]) == pytest.approx((u_cm, v_cm), abs=0.6)


def test_a_port_at_the_edge_lies_in_the_opening_and_not_in_a_pocket_elsewhere(cavity):
    assert cavity.in_opening[column_of(port(9, 0.0), SHEET, cavity)]
    assert not cavity.in_opening[column_of(port(3, 0.1), SHEET, cavity)]


def test_ports_along_a_tunnel_lie_in_rising_columns_of_it(cavity):
    found = [column_of(port(4, 4.0 + beyond), SHEET, cavity) for beyond in (0.01, 2.0, 5.0)]
    assert found[0] == cavity.grid_count
    assert found[0] < found[1] < found[2] == len(cavity.u_cm) - 1


def test_without_ports_the_opening_and_the_deepest_place_are_looked_at():
    opening, deep = shown_ports(SHEET)
    assert (opening.from_edge_cm, deep.clock) == (-3.0, 3.0)
    assert refused(opening, deep) == []


def test_without_a_pocket_only_the_opening_is_looked_at():
    assert len(shown_ports(lay_flat(Wound("front", "trunk", Opening(6.0, 6.0, 2.0))))) == 1


def test_a_unit_takes_one_instillation_port():
    found = check_units([port(3, 1.0), port(4, 1.0, name="I2"), port(5, 1.0, kind="suction", name="S1")], ["A"])
    assert [(f.level, f.where) for f in found] == [("refuse", "port.1.unit")]


def test_a_port_on_a_unit_that_is_not_there_is_refused():
    (found,) = [f for f in check_units([port(3, 1.0, unit="C")], ["A"]) if f.level == "refuse"]
    assert 'unit "C"' in found.says


def test_a_unit_without_a_port_and_a_port_without_a_unit_are_told():
    found = check_units([port(3, 1.0, unit=None)], ["A"])
    assert sorted((f.level, f.where) for f in found) == [("warn", "port.0.unit"), ("warn", "unit.0.name")]
