"""What a search for layouts answers, and in words what keeps it from searching."""

from dataclasses import replace

import pytest

from soakline.fluid.posture import parse_posture
from soakline.layout.ports import Port
from soakline.therapy.cycle import TherapyUnit
from soakline.workflows import where_ports_go
from soakline.workflows.where_ports_go import Searching, search_layouts
from soakline.wound.measurements import Assumptions, KeepClear, Opening, Undermining, Wound
from soakline.wound.plausible import draw_measures
from soakline.wound.sheet import lay_flat

WOUND = Wound(
    "front",
    "trunk",
    Opening(4.0, 4.0, 2.0),
    girth_cm=100.0,
    undermining=(
        Undermining(2, 4, reach_cm=4.0, height_cm=1.0),
        Undermining(8, 10, reach_cm=4.0, height_cm=1.0),
    ),
)
ASSUMED = Assumptions()
POSTURES = (parse_posture("supine"), parse_posture("left 30"))
UNIT = TherapyUnit("A", fill_ml=25.0, fill_min=1.0, dwell_min=5.0)
IN_FILE = Port("IA", "instillation", 3.0, 3.0, "A")


@pytest.fixture(autouse=True)
def _coarse(monkeypatch):
    monkeypatch.setattr(where_ports_go, "_SPACING_CM", 1.0)
    monkeypatch.setattr(where_ports_go, "_DRAWS", 4)


def searched(wound=WOUND, postures=POSTURES, ports=(IN_FILE,), units=(UNIT,)):
    measures = draw_measures(wound, ASSUMED, 16, 1)
    return search_layouts(wound, ASSUMED, lay_flat(wound), postures, ports, units, measures, Searching(1))


@pytest.fixture(scope="module")
def found():
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(where_ports_go, "_SPACING_CM", 1.0)
        patch.setattr(where_ports_go, "_DRAWS", 4)
        return searched(ports=(IN_FILE, Port("SA", "suction", 9.0, 2.0, "A")))


def says(answer):
    (finding,) = answer.findings
    return finding.says


def test_beside_the_searched_stand_the_rule_the_opening_and_the_file(found):
    assert [layout.kind for layout in found.layouts][-3:] == ["rule of thumb", "at the opening", "in the file"]
    assert {layout.kind for layout in found.layouts[:-3]} == {"searched"}
    assert [layout.letter for layout in found.layouts] == list("abcdefghij")[: len(found.layouts)]


def test_every_layout_tells_both_goals_apart_and_how_it_compares(found):
    for layout in found.layouts:
        assert 0.0 <= layout.worst_tenth.soaked <= layout.worst_tenth.wetted <= 1.0
        total = layout.floor.soaked + layout.floor.moist + layout.floor.rinsed + layout.floor.dry
        assert total == pytest.approx(1.0)
        assert (layout.gain_over_rule is None) == (layout.kind == "rule of thumb")
        if layout.kind == "searched":
            assert "of 4 plausible wounds" in layout.says or "as much of the floor as" in layout.says
            assert layout.good_at


def test_the_files_layout_keeps_its_names_and_gets_its_own_suction(found):
    ports = found.layouts[-1].ports
    assert [(port.name, port.kind, port.unit) for port in ports] == [
        ("IA", "instillation", "A"),
        ("SA", "suction", "A"),
    ]
    assert found.layouts[-1].passed_over is not None


def test_two_ports_take_two_units_and_say_what_one_fewer_loses(found):
    two = [layout for layout in found.layouts if layout.units_needed == 2]
    assert two
    for layout in two:
        assert [port.fill_ml for port in layout.ports if port.kind == "instillation"] == [25.0, 25.0]
        assert "With one unit fewer" in layout.says
    assert any("need more therapy units than the file has fills for" in line for line in found.search.says)


def test_two_pockets_and_one_fill_are_named(found):
    (line,) = [line for line in found.search.says if "join through the opening alone" in line]
    assert line.startswith("2 pockets that join through the opening alone (the pocket from 2 to 4 o'clock; ")


def test_no_place_is_told_more_closely_than_half_a_centimetre(found):
    searched_ports = [p for layout in found.layouts if layout.kind == "searched" for p in layout.ports]
    assert {port.from_edge_cm * 2.0 % 1.0 for port in searched_ports} == {0.0}


def test_without_a_posture_nothing_is_searched():
    assert says(searched(postures=())).startswith("no layouts searched: they depend on how the patient may lie")


def test_without_a_fill_and_its_times_nothing_is_searched():
    assert "fill_ml, fill_min and dwell_min of a unit are needed" in says(
        searched(units=(replace(UNIT, dwell_min=None),))
    )


def test_where_every_place_touches_a_structure_that_is_told():
    covered = replace(WOUND, keep_clear=(KeepClear("bowel under mesh", 12, -2.0, 12.0),))
    told = says(searched(covered, ports=()))
    assert told.startswith("no layouts searched: no place is left for a port")
    assert "structure to keep clear (bowel under mesh)" in told


def test_where_every_place_is_lain_on_that_is_told():
    flat = replace(WOUND, face="back", undermining=(Undermining(clock=12, reach_cm=3.0, height_cm=1.0),))
    assert "lain on when supine" in says(searched(flat, ports=()))


def test_more_instillation_ports_than_can_be_searched_are_told():
    ports = tuple(Port(f"I{k}", "instillation", k, 0.0, None) for k in (2.5, 3, 3.5, 9))
    assert "4 instillation ports in the file: layouts with up to 3 were searched" in says(searched(ports=ports))


def test_a_pocket_smaller_than_a_port_leaves_the_opening():
    narrow = replace(WOUND, undermining=(Undermining(2, 4, reach_cm=0.6, height_cm=1.0),))
    answer = searched(narrow, ports=())
    assert {layout.zone for layout in answer.layouts} == {"over the middle of the opening"}
    assert any("smaller than the foam round a port" in one.why for one in answer.search.left_out)


def test_where_the_rule_does_as_much_it_is_named_and_no_other_place():
    small = replace(WOUND, undermining=(Undermining(2, 4, reach_cm=2.5, height_cm=1.0),))
    answer = searched(small, ports=(), units=(replace(UNIT, fill_ml=40.0),))
    (rule,) = [layout for layout in answer.layouts if layout.kind == "rule of thumb"]
    assert "wets the most floor" in rule.good_at
    others = [layout for layout in answer.layouts if layout.kind == "searched" and layout.units_needed == 1]
    assert all("wets the most floor" not in layout.good_at for layout in others)


def test_without_a_unit_that_is_told_with_what_to_write():
    told = says(searched(units=()))
    assert told.startswith("no layouts searched: no therapy unit is in the file, and each instillation port needs one")
    assert "write [[unit]]" in told


def test_places_left_out_for_one_reason_are_counted_and_not_listed():
    covered = replace(WOUND, keep_clear=(KeepClear("bowel under mesh", 12, -2.0, 12.0),))
    told = says(searched(covered, ports=()))
    assert told.count("bowel under mesh") == 1
    assert "places)" in told


def test_three_pockets_that_do_not_join_are_named_and_may_be_filled_in_turn():
    three = replace(
        WOUND, undermining=tuple(Undermining(hour, hour + 1, reach_cm=4.0, height_cm=1.0) for hour in (1, 5, 9))
    )
    answer = searched(three, ports=(), units=tuple(replace(UNIT, name=name) for name in "AB"))
    (line,) = [line for line in answer.search.says if "join through the opening alone" in line]
    assert line.startswith("3 pockets that join through the opening alone (the pocket from 1 to 2 o'clock; ")
    assert "fills for 2" in line
    assert "alternate the pockets at successive changes of the dressing" in line
    assert {len(layout.pockets) for layout in answer.layouts} == {3}
    assert {layout.units_needed for layout in answer.layouts} == {1, 2}
