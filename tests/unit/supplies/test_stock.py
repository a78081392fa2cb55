"""What the store holds, by the site's own names, and what is missing of it."""

import pytest

from soakline.casefile.read import read_case
from soakline.supplies.stock import (
    DEEP_TUBE,
    FIXED_TUBE,
    PAD,
    UNIT,
    Y_CONNECTOR,
    Part,
    Short,
    Stored,
    at_hand_count,
    check_store,
    kits_with,
    need,
    part_of,
    shortages,
)

SEPARABLE = Stored(
    "foam set, tubes separable", 2, (Part("foam_sheet", 2), Part("port_tube_deep", 1), Part("suction_pad", 1))
)
FIXED = Stored("foam set, tube fixed to the pad", 3, (Part("foam_sheet", 2), Part("suction_pad", 1)))


@pytest.mark.parametrize(
    ("name", "part"),
    [
        ("therapy unit", UNIT),
        ("Therapy units", UNIT),
        ("unit", UNIT),
        ("negative_pressure_unit", UNIT),
        ("Y connector", Y_CONNECTOR),
        ("y-piece", Y_CONNECTOR),
        ("port_tube_deep", DEEP_TUBE),
        ("deep port tube", DEEP_TUBE),
        ("tube that can be placed deep", DEEP_TUBE),
        ("tube that cannot be placed deep", FIXED_TUBE),
        ("port_tube", FIXED_TUBE),
        ("tube fixed to the pad", FIXED_TUBE),
        ("suction_pad", PAD),
    ],
)
def test_a_part_is_known_by_the_words_in_its_name(name, part):
    assert part_of(name) == part


@pytest.mark.parametrize("name", ["foam_sheet", "canister 500 mL", "heating pad cover", "community unity", "year book"])
def test_other_names_stay_the_sites_own(name):
    assert part_of(name) not in {UNIT, Y_CONNECTOR, DEEP_TUBE, FIXED_TUBE, PAD}


def test_parts_in_kits_and_parts_by_themselves_are_added_up():
    store = [SEPARABLE, FIXED, Stored("Y connector", 1), Stored("y-piece", 2)]
    assert at_hand_count(store) == {"foam sheet": 10, DEEP_TUBE: 2, PAD: 5, Y_CONNECTOR: 3}


def test_a_part_that_is_not_listed_is_unknown_and_none_is_none():
    assert need([SEPARABLE], UNIT, 2, "").at_hand_count is None
    assert shortages([need([SEPARABLE], UNIT, 2, "")]) == ()
    none = need([Stored("therapy unit", 0)], UNIT, 2, "")
    assert none.at_hand_count == 0
    assert shortages([none]) == (Short(UNIT, 2, "therapy unit: 2 needed, 0 at hand, 2 short"),)


def test_nothing_is_short_where_there_is_enough():
    assert shortages([need([SEPARABLE], DEEP_TUBE, 2, "")]) == ()


def test_kits_that_hold_a_part_are_named_while_there_are_any():
    gone = Stored("old set", 0, (Part("port_tube_deep", 1),))
    assert kits_with([FIXED, gone, SEPARABLE], DEEP_TUBE) == (SEPARABLE,)


def test_a_kit_without_contents_is_asked_about_and_not_counted():
    empty = Stored("foam set, tubes separable", 4)
    assert at_hand_count([empty]) == {}
    assert [(f.level, f.where) for f in check_store([empty])] == [("warn", "store.0.contents")]
    nothing_in_it = Stored("foam set", 4, (Part("foam_sheet", 0),))
    assert [(f.level, f.where) for f in check_store([nothing_in_it])] == [("warn", "store.0.contents")]


def test_the_same_kind_twice_is_asked_about_and_both_counted():
    twice = [Stored("Y connector", 1), Stored("Y connector", 2)]
    assert [(f.level, f.where) for f in check_store(twice)] == [("ask", "store.1.kind")]
    assert at_hand_count(twice) == {Y_CONNECTOR: 3}


def test_a_full_store_has_nothing_against_it():
    assert check_store([SEPARABLE, FIXED, Stored("Y connector", 1), Stored("canister 500 mL", 2)]) == []


@pytest.mark.parametrize("build", [lambda: Part("pad", -1), lambda: Stored("set", -2)])
def test_a_count_below_none_cannot_be_built(build):
    with pytest.raises(ValueError, match="0 or more"):
        build()


def test_the_store_is_read_from_the_case_file():
    text = (
        'format = "soakline-case/1"\n[[store]]\nkind = "foam set"\ncount = 2\n[store.contents]\nport_tube_deep = 1\n'
        '[[store]]\nkind = "Y connector"\ncount = 1\n'
    )
    assert read_case(text).case.store == (
        Stored("foam set", 2, (Part("port_tube_deep", 1),)),
        Stored("Y connector", 1),
    )


def test_a_count_below_none_is_refused_with_its_key():
    text = 'format = "soakline-case/1"\n[[store]]\nkind = "Y connector"\ncount = -1\n'
    reading = read_case(text)
    assert reading.case is None
    assert [f.where for f in reading.findings if f.level == "refuse"] == ["store.0.count"]
