"""Found layouts in the plan: the ranking first, what the store holds of each, what the plan of one taken over tells."""

from dataclasses import asdict, replace
from math import dist

import pytest

from soakline.casefile.read import read_case
from soakline.casefile.write import write_case
from soakline.settings import Settings
from soakline.workflows import where_ports_go
from soakline.workflows.plan import Asked, plan_case
from soakline.workflows.what_it_takes import supply_layout

TWO_POCKETS = """
format = "soakline-case/1"
label = "Demo front"
purpose = "teaching"
time_zone = "UTC"
[wound]
face = "front"
part = "trunk"
girth_cm = 100
[wound.opening]
length_cm = 4
width_cm = 4
depth_cm = 2
[[wound.undermining]]
from = 2
to = 4
reach_cm = 4
height_cm = 1
[[wound.undermining]]
from = 8
to = 10
reach_cm = 4
height_cm = 1
[[unit]]
name = "A"
fill_ml = 12
fill_min = 1
dwell_min = 5
[[unit]]
name = "B"
fill_ml = 20
fill_min = 1
dwell_min = 5
[posture]
allowed = ["supine", "left 30"]
"""
KEYS = ("name", "kind", "clock", "from_edge_cm", "unit")


def planned(text, asked):
    reading = read_case(text)
    assert reading.case is not None, reading.findings
    return plan_case(reading.case, reading.findings, Settings.from_environment(), asked)


@pytest.fixture(scope="module")
def found():
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(where_ports_go, "_DRAWS", 4)
        return planned(TWO_POCKETS, Asked(search=True))


def test_the_first_ranking_of_single_ports_comes_before_any_range_and_is_refined(monkeypatch):
    monkeypatch.setattr(where_ports_go, "_DRAWS", 4)
    heard = []
    asked = Asked(search=True, progress=lambda _: heard.append("range"), told=heard.append)
    planned(TWO_POCKETS, asked)
    standings = heard[: heard.index("range")]
    assert "range" in heard
    assert {one.wound_count for one in standings if one.leaders} == {1, 2, 4}
    assert standings[-1].share == pytest.approx(1.0)


STORE = """
[[store]]
kind = "foam set, tubes separable"
count = 2
sheet_length_cm = 20
sheet_width_cm = 12
[store.contents]
foam_sheet = 1
port_tube_deep = 1
[[store]]
kind = "Y connector"
count = 0
"""


def test_each_layout_says_what_of_it_the_store_holds_what_is_short_and_what_is_not_known(found):
    stored = read_case(TWO_POCKETS + STORE).case.store
    sheet = found.picture.sheet
    for layout in found.layouts:
        assert layout.supplies.says == "no store in the file, so what is at hand is not known"
        held = supply_layout(layout, stored, sheet)
        need = {one.part: one for one in held.need}
        deep = sum(port.from_edge_cm > 0.0 for port in layout.ports)
        assert need["therapy unit"].count == layout.units_needed
        assert need["tube that can be placed deep"].count == deep == layout.deep_tubes_needed
        short = {one.part: one.count for one in held.short}
        assert short.get("tube that can be placed deep", 0) == max(deep - 2, 0)
        assert short.get("Y connector", 0) == layout.y_connectors_needed
        assert "not listed in the store, so not known: therapy unit" in held.says
        assert held.kits[0].startswith("foam set, tubes separable: 2 at hand, each with ")


def test_foam_of_a_layout_is_one_layer_of_the_wound_and_a_piece_under_and_over_each_port_under_kept_skin(found):
    stored = read_case(TWO_POCKETS + STORE).case.store
    layout = next(one for one in found.layouts if one.units_needed == 2 and one.kind == "searched")
    held = supply_layout(layout, stored, found.picture.sheet)
    for port in layout.ports:
        for side in ("under", "over"):
            assert (f"{side} {port.name} " in held.says) == bool(port.foam_outline)
    (sheets,) = [one for one in held.need if one.part == "foam sheet"]
    assert f"{sheets.count} sheet" in held.says
    # Without a size no sheet is counted, and that is said.
    unsized = [replace(kind, sheet_length_cm=None, sheet_width_cm=None) for kind in stored]
    assert "foam sheets not counted: no sheet size" in supply_layout(layout, unsized, found.picture.sheet).says


def ports_of(layout):
    return [{key: value for key, value in asdict(port).items() if key in KEYS and value} for port in layout.ports]


@pytest.mark.parametrize("count", [1, 2])
def test_the_plan_of_a_layout_taken_over_reaches_what_the_search_promised_in_each_posture(found, count):
    layout = next(one for one in found.layouts if one.units_needed == count and one.kind == "searched")
    taken = planned(write_case(TWO_POCKETS, {"port": ports_of(layout)}), Asked(models=("spread",)))
    whole = " + ".join(f"I{number + 1}" for number in range(count))
    rows = {row.posture: row for row in taken.reach if row.port == whole}
    assert list(rows) == [reach.posture for reach in layout.reach] == ["supine", "left 30"]
    for reach in layout.reach:
        assert (rows[reach.posture].floor, rows[reach.posture].roof) == (reach.floor, reach.roof)
    # Another place does not keep the promise: the comparison can fail.
    moved = [replace(port, clock=12.0, from_edge_cm=-0.5) for port in layout.ports]
    other = planned(
        write_case(TWO_POCKETS, {"port": ports_of(replace(layout, ports=tuple(moved)))}), Asked(models=("spread",))
    )
    assert any(
        row.floor != reach.floor
        for row in other.reach
        if row.port == whole
        for reach in layout.reach
        if reach.posture == row.posture
    )


def test_every_port_of_a_layout_that_the_units_can_serve_is_on_a_unit_that_instils_too(found):
    for layout in found.layouts:
        instilling = {port.unit for port in layout.ports if port.kind == "instillation"}
        drawing = {port.unit for port in layout.ports if port.kind == "suction"}
        assert None not in instilling
        assert drawing <= instilling
        if layout.kind == "searched":
            assert drawing == instilling


def test_the_first_unit_draws_through_the_suction_port_nearest_to_where_it_instils(found):
    sheet = found.picture.sheet
    two = [one for one in found.layouts if one.units_needed == 2 and one.kind == "searched"]
    assert two
    for layout in two:
        suction = [port for port in layout.ports if port.kind == "suction"]
        first = next(port for port in layout.ports if port.kind == "instillation")
        here = sheet.point_at(first.clock, first.from_edge_cm)
        nearest = min(suction, key=lambda port: dist(here, sheet.point_at(port.clock, port.from_edge_cm)))
        assert len(suction) == 2
        assert nearest.unit == first.unit
        assert {port.unit for port in suction} == {"A", "B"}
