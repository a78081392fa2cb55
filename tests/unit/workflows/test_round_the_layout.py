"""Fill range, turning, suction and supplies as a plan answers them, and what it says where it cannot."""

import pytest

from soakline.errors import InputRefused
from soakline.settings import Settings
from soakline.workflows.as_json import as_json
from soakline.workflows.in_words import say_fill_range, say_possible, say_seals
from soakline.workflows.plan import Asked, check_text, plan_text

SETTLED = Asked(models=("settled",))
WOUND = """
format = "soakline-case/1"
label = "Round the layout"
purpose = "teaching"
[wound]
face = "front"
part = "trunk"
girth_cm = 100
[wound.opening]
length_cm = 6
width_cm = 5
depth_cm = 3
[[wound.undermining]]
from = 2
to = 5
reach_cm = 6
height_cm = { low = 1.0, likely = 1.4, high = 1.8 }
"""
PORTS = """
[[port]]
name = "I1"
kind = "instillation"
clock = 3.5
from_edge_cm = 4
unit = "A"
[[port]]
name = "S1"
kind = "suction"
clock = 9
from_edge_cm = -1
unit = "A"
[[unit]]
name = "A"
fill_ml = 40
"""
POSTURES = '[posture]\nallowed = ["supine", "left 30", "right 30"]\n'


def plan(text, asked=SETTLED):
    return plan_text(text, Settings.from_environment({}), asked)


@pytest.fixture(scope="module")
def whole():
    return plan(WOUND + PORTS + POSTURES)


def test_the_fill_range_lies_below_the_volume_that_may_lift_the_drape(whole):
    fill = whole.fill_ml
    assert 0.0 < fill.useful_from < fill.useful_to <= fill.lifts_drape_from
    assert fill.lifts_drape_from == pytest.approx(whole.wound.void_ml.low)
    assert len(fill.why) == 3
    assert "published fills lie far below the void" in fill.says
    assert "–" in say_fill_range(fill)


def test_each_posture_says_from_which_fill_liquid_stands_above_the_seal(whole):
    assert [seal.posture for seal in whole.fill_ml.above_seal] == ["supine", "left 30", "right 30"]
    assert say_seals(whole.fill_ml)[0].startswith("above the lowest part of the seal: supine from ")


def test_turning_names_allowed_postures_and_what_none_of_them_reaches(whole):
    turning = whole.turning
    assert {posture.posture for posture in turning.adds} == {"supine", "left 30", "right 30"}
    assert set(turning.for_both) == {posture.posture for posture in turning.adds if posture.needed}
    assert set(turning.for_floor) | set(turning.for_roof) <= {"supine", "left 30", "right 30"}
    assert turning.roof_left.low <= turning.roof_left.likely <= turning.roof_left.high
    assert any("not soaked in any allowed posture" in line for line in turning.says)


def test_the_suction_side_is_called_exploratory(whole):
    assert whole.suction.says.startswith("exploratory")
    assert sum(port.draws for port in whole.suction.ports) == pytest.approx(1.0)
    assert whole.suction.pockets[0].startswith("the pocket from 2 to 5 o'clock has no suction port of its own")


def test_all_of_it_can_be_written_as_json(whole):
    keys = as_json(whole)
    assert set(keys["fill_ml"]) >= {"useful_from", "useful_to", "lifts_drape_from"}
    assert set(keys["supplies"]) >= {"need", "short"}


def test_without_postures_the_usual_ones_are_turned_through_and_it_is_said():
    found = plan(WOUND + PORTS)
    assert {posture.posture for posture in found.turning.adds} == {"supine", "prone", "left 30", "right 30"}
    assert any(f.where == "posture.allowed" and f.level == "warn" for f in found.findings)


def test_a_wound_without_pocket_has_a_floor_and_no_roof():
    bare = plan(WOUND.partition("[[wound.undermining]]")[0] + POSTURES + "[wound.probed]\nnone_found = [12, 3, 6, 9]\n")
    assert bare.turning.for_roof == ()
    assert bare.turning.roof_left is None
    assert [needed.part for needed in bare.supplies.need] == ["therapy unit"]


def test_foam_too_tight_to_settle_gets_no_fill_range_and_says_so():
    found = plan(WOUND + PORTS + POSTURES + "[model]\npermeability_m2 = 1e-11\n")
    assert (found.fill_ml.useful_from, found.turning) == (None, None)
    assert "not worked out" in found.fill_ml.why[-1]
    assert say_fill_range(found.fill_ml) is None


def test_without_an_entry_in_the_store_nothing_is_called_short(whole):
    assert whole.supplies.short == ()
    assert whole.supplies.possible is None
    assert whole.supplies.says == ("nothing at hand is listed: write [[store]], what there is of each kind",)


def test_no_unit_in_the_store_says_what_is_possible():
    supplies = plan(WOUND + PORTS + POSTURES + '[[store]]\nkind = "therapy unit"\ncount = 0\n').supplies
    assert [short.says for short in supplies.short] == ["therapy unit: 1 needed, 0 at hand, 1 short"]
    title, lines = say_possible(supplies)[0]
    assert title == "With what is there"
    assert lines[0].startswith("No therapy unit: no port can be placed; what is possible is")


STAY = """
[dressing]
next_change_at = 2026-11-23T09:00:00
to_come_count = 3

[[store]]
kind = "therapy unit"
count = 1

[[store]]
kind = "tube that can be placed deep"
count = 2
price = 20
"""


def test_a_stay_takes_each_part_for_every_dressing_and_the_spares_and_is_ordered_by_then():
    site = Settings.from_environment({"SOAKLINE_SPARE_COUNT": "1", "SOAKLINE_DELIVERY_H": "24"})
    supplies = plan_text(WOUND + PORTS + POSTURES + STAY, site, SETTLED).supplies
    deep = {needed.part: needed.count for needed in supplies.need}["tube that can be placed deep"]
    stay = {needed.part: needed.count for needed in supplies.stay}
    assert stay["therapy unit"] == 1
    assert stay["tube that can be placed deep"] == 3 * deep + 1
    assert supplies.short == ()
    assert [(bought.kind, bought.count) for bought in supplies.buy] == [
        ("tube that can be placed deep", 3 * deep + 1 - 2)
    ]
    assert supplies.order_by.isoformat() == "2026-11-20T09:00:00"
    assert any(line.startswith("for 3 dressings to come with 1 spare of each") for line in supplies.says)


SHEETS = """
[[store]]
kind = "foam set"
count = 1
sheet_length_cm = {}
sheet_width_cm = 12
[store.contents]
foam_sheet = 1
"""


def test_the_sheets_of_the_cut_list_are_counted_against_the_store():
    supplies = plan(WOUND + PORTS + POSTURES + SHEETS.format(13)).supplies
    needed = {one.part: one for one in supplies.need}["foam sheet"]
    assert (needed.count, needed.at_hand_count) == (supplies.cuts[0].cuts.sheet_count, 1)
    assert [one.part for one in supplies.short] == (["foam sheet"] if needed.count > 1 else [])


@pytest.mark.parametrize("store", [SHEETS.format(5), SHEETS.format(25) + SHEETS.format(20).replace("set", "box")])
def test_sheets_too_small_or_of_two_sizes_are_laid_out_and_not_counted(store):
    supplies = plan(WOUND + PORTS + POSTURES + store).supplies
    assert supplies.cuts
    assert "foam sheet" not in {one.part for one in supplies.need}


CATALOGUE = """
version = "2026-4"
[[kinds]]
kind = "Foam set"
price = 90
contents = { port_tube_deep = 1, suction_pad = 1 }
[[kinds]]
kind = "loose deep tube"
price = 40
contents = { port_tube_deep = 1 }
"""


def with_site(tmp_path, text):
    file = tmp_path / "catalogue.toml"
    file.write_text(text, "utf-8")
    return Settings.from_environment({"SOAKLINE_CATALOGUE": str(file)})


def test_the_sites_catalogue_fills_what_a_case_leaves_out_and_offers_what_it_does_not_list(tmp_path):
    store = '[[store]]\nkind = "foam set"\ncount = 0\n'
    supplies = plan_text(WOUND + PORTS + POSTURES + store, with_site(tmp_path, CATALOGUE), SETTLED).supplies
    needed = {one.part: one for one in supplies.need}["tube that can be placed deep"]
    assert (needed.count, needed.at_hand_count) == (1, 0)
    assert [(one.kind, one.count, one.price) for one in supplies.buy] == [("loose deep tube", 1, 40.0)]
    own = store + "price = 10\n"
    asked = plan_text(WOUND + PORTS + POSTURES + own, with_site(tmp_path, CATALOGUE + "\n"), SETTLED).supplies
    assert [(one.kind, one.price) for one in asked.buy] == [("foam set", 10.0)]


@pytest.mark.parametrize(
    ("change", "where"),
    [
        (("price = 40", "price = -40"), "catalogue.kinds.1.price"),
        (("price = 40", "cost = 40"), "catalogue.kinds.1.cost"),
        (("loose deep tube", "foam SET"), "catalogue.kinds.1.kind"),
        (('version = "2026-4"', ""), "catalogue.version"),
        (("version =", "version"), "catalogue"),
    ],
)
def test_a_catalogue_that_cannot_hold_is_refused_with_its_field(tmp_path, change, where):
    with pytest.raises(InputRefused) as refused:
        plan_text(WOUND, with_site(tmp_path, CATALOGUE.replace(*change)), SETTLED)
    assert where in [found.where for found in refused.value.findings]


def test_without_a_number_of_dressings_the_stay_is_not_counted_and_that_is_said():
    supplies = plan(WOUND + PORTS + POSTURES + STAY.replace("to_come_count = 3", "")).supplies
    assert supplies.stay is None
    assert any("nobody said how many dressings are to come" in line for line in supplies.says)


def test_a_kit_without_contents_is_warned_about():
    found = check_text(WOUND + PORTS + '[[store]]\nkind = "foam set"\ncount = 3\n')
    assert ("warn", "store.0.contents") in [(f.level, f.where) for f in found]


def test_a_negative_stock_is_refused():
    with pytest.raises(InputRefused, match=r"store\.0\.count"):
        plan(WOUND + '[[store]]\nkind = "foam set"\ncount = -3\n')


def test_more_ports_than_anyone_places_are_refused():
    many = "".join(
        f'[[port]]\nname = "S{k}"\nkind = "suction"\nclock = 3\nfrom_edge_cm = 1\nunit = "A"\n' for k in range(13)
    )
    with pytest.raises(InputRefused, match="13 ports given; at most 12"):
        plan(WOUND + many + '[[unit]]\nname = "A"\n')
