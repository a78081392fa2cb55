"""The kit against the sum by hand: ``worked.kit``."""

import pytest

from soakline.settings import Settings
from soakline.workflows.plan import plan_text

PORTS = (
    ("IL", "instillation", 3, 5, "A"),
    ("IR", "instillation", 9, 5, "B"),
    ("SL1", "suction", 2.5, 2, "A"),
    ("SL2", "suction", 3.5, 6, "A"),
    ("SR1", "suction", 8.5, 2, "B"),
    ("SR2", "suction", 9.5, 6, "B"),
)
TWO_POCKETS = """
format = "soakline-case/1"
label = "Kit"
purpose = "teaching"
[wound]
face = "front"
part = "trunk"
girth_cm = 100
[wound.opening]
length_cm = 6
width_cm = 5
depth_cm = 4
[[wound.undermining]]
from = 2
to = 4
reach_cm = 7
height_cm = 1.5
[[wound.undermining]]
from = 8
to = 10
reach_cm = 7
height_cm = 1.5
[[unit]]
name = "A"
fill_ml = 20
fill_min = 2
dwell_min = 10
[[unit]]
name = "B"
fill_ml = 20
fill_min = 2
dwell_min = 10
[posture]
allowed = ["supine"]
"""
STORE = """
[[store]]
kind = "therapy unit"
count = UNITS
[[store]]
kind = "kit, tube fixed"
count = 3
[store.contents]
port_tube_fixed = 1
[[store]]
kind = "kit, tube separable"
count = 2
[store.contents]
port_tube_deep = 1
[[store]]
kind = "Y connector"
count = Y
"""


def plan(units=1, y_connectors=1):
    ports = "".join(
        f'[[port]]\nname = "{name}"\nkind = "{kind}"\nclock = {clock}\nfrom_edge_cm = {deep}\nunit = "{unit}"\n'
        for name, kind, clock, deep, unit in PORTS
    )
    store = STORE.replace("UNITS", str(units)).replace("= Y\n", f"= {y_connectors}\n")
    return plan_text(TWO_POCKETS + ports + store, Settings.from_environment({}))


@pytest.fixture(scope="module")
def kit():
    return plan().supplies


def counted(supplies):
    return {needed.part: needed.count for needed in supplies.need}, {s.part: s.count for s in supplies.short}


def test_units_and_y_connectors_needed_and_short(kit):
    needed, short = counted(kit)
    assert (needed["therapy unit"], short["therapy unit"]) == (2, 1)
    assert (needed["Y connector"], short["Y connector"]) == (2, 1)


def test_one_instillation_and_two_suction_ports_are_possible(kit):
    assert (kit.possible.instillation_ports, kit.possible.suction_ports) == (1, 2)


def test_which_pocket_stays_dry_is_shown_with_the_alternative(kit):
    assert [left.ports for left in kit.possible.left] == [("IL", "SL1", "SL2"), ("IR", "SR1", "SR2")]
    dry = [
        [pocket.pocket for pocket in left.pockets if "stays dry" in pocket.says and not pocket.has_port]
        for left in kit.possible.left
    ]
    assert dry == [["the pocket from 8 to 10 o'clock"], ["the pocket from 2 to 4 o'clock"]]
    assert all(pocket.floor_dry > 0.9 for left in kit.possible.left for pocket in left.pockets if not pocket.has_port)
    assert any("alternate sides at successive changes" in line for line in kit.possible.says)


def test_two_of_the_ports_lie_under_kept_skin(kit):
    assert any("2 of them under kept skin" in line for line in kit.possible.says)
    assert kit.kits == ("kit, tube separable: 2 at hand",)


def test_nothing_is_short_of_units_where_there_are_two():
    found = plan(units=2, y_connectors=2).supplies
    assert counted(found)[1] == {"tube that can be placed deep": 4}
    assert found.one_unit_fewer.instillation_ports == 1


def test_without_a_unit_no_port_is_possible_and_it_is_said():
    found = plan(units=0).supplies
    assert (found.possible.instillation_ports, found.possible.suction_ports) == (0, 0)
    assert found.possible.left == ()
    assert "no therapy unit" in found.possible.says[0]


def test_a_planted_count_of_one_connector_for_each_suction_port_fails(kit):
    planted = sum(kind == "suction" for _, kind, *_ in PORTS)
    assert counted(kit)[0]["Y connector"] != planted
