"""A look at the units: what it adds to the log, what it may not leave out, and how an entry is corrected."""

from datetime import datetime

import pytest

from soakline.casefile.read import read_case
from soakline.casefile.write import write_case
from soakline.errors import InputRefused
from soakline.workflows.shift_entry import Look, OfUnit, appended, corrected, log_entries

TEXT = """format = "soakline-case/1"
time_zone = "Europe/Oslo"

[[unit]]
name = "A"
started_at = 2026-11-20T19:00:00

[[unit]]
name = "B"

[[log]]
at = 2026-11-21T07:00:00
unit = "A"
kind = "canister"
ml = 430
colour = "clear pink"
"""
AT = datetime(2026, 11, 21, 15)


def case_of(text=TEXT):
    return read_case(text).case


def look(*units, at=AT, sign="none", **more):
    return Look(at, sign, units, **more)


def refused(given, text=TEXT):
    with pytest.raises(InputRefused) as caught:
        log_entries(case_of(text), given)
    return {found.where: found.says for found in caught.value.findings}


def test_a_reading_with_its_colour_and_what_went_in_are_two_entries_at_one_time():
    entries = log_entries(case_of(), look(OfUnit("A", instilled=250, canister=640, colour="clear")))
    assert entries == [
        {"at": AT, "unit": "A", "kind": "instilled", "ml": 250},
        {"at": AT, "unit": "A", "kind": "canister", "ml": 640, "colour": "clear"},
    ]


def test_what_is_added_is_read_back_from_the_file_as_it_was_seen():
    given = look(
        OfUnit("A", canister=640, is_changed=True, colour="clear", is_bag_changed=True),
        OfUnit("B", has_leak=True, paused_at=AT.replace(hour=13), resumed_at=AT.replace(hour=14), says="scan"),
        says="asleep",
    )
    case = case_of(write_case(TEXT, appended(case_of(), log_entries(case_of(), given))))
    told = [(entry.kind, entry.unit, entry.ml, entry.until, entry.says) for entry in case.log[1:]]
    assert told == [
        ("canister changed", "A", 640, None, None),
        ("bag changed", "A", None, None, None),
        ("leak", "B", None, None, "scan"),
        ("pause", "B", None, datetime(2026, 11, 21, 14), "scan"),
        ("note", None, None, None, "asleep"),
    ]


@pytest.mark.parametrize(("sign", "kind"), [("blood", "blood"), ("bowel", "colour"), ("gas", "gas")])
def test_a_grave_sign_is_an_entry_of_its_own_without_any_number(sign, kind):
    assert [entry["kind"] for entry in log_entries(case_of(), look(sign=sign))] == [kind]


def test_a_look_that_is_sent_twice_is_written_once():
    entries = log_entries(case_of(), look(OfUnit("A", canister=640, colour="clear")))
    once = write_case(TEXT, appended(case_of(), entries))
    assert appended(case_of(once), entries) == {}


def test_a_look_that_is_sent_again_after_it_was_corrected_is_not_written_anew_but_another_reading_is():
    entries = log_entries(case_of(), look(OfUnit("A", canister=640, colour="clear")))
    once = case_of(text := write_case(TEXT, appended(case_of(), entries)))
    keys = {"at": AT, "ml": 540.0, "colour": "clear"}
    case = case_of(write_case(text, corrected(once, 1, keys, "misread", AT)))
    assert appended(case, entries) == {}
    other = log_entries(case, look(OfUnit("A", canister=650, colour="clear")))
    assert appended(case, other)


@pytest.mark.parametrize(
    ("given", "where"),
    [
        (look(OfUnit("A", canister=640)), "unit.A.colour"),
        (look(OfUnit("A", is_changed=True)), "unit.A.canister"),
        (look(OfUnit("A", resumed_at=AT)), "unit.A.paused_at"),
        (look(OfUnit("A", instilled=5), sign=None), "sign"),
        (look(OfUnit("A", instilled=5), at=None), "at"),
        (look(OfUnit("A", instilled=5), at=datetime(2026, 10, 25, 2, 30)), "at"),
        (look(), "log"),
    ],
)
def test_what_is_left_out_is_asked_for_by_its_field(given, where):
    assert where in refused(given)


def test_of_an_hour_that_comes_twice_the_second_is_kept_as_the_second():
    given = look(OfUnit("A", instilled=5), at=datetime(2026, 10, 25, 2, 30), again=True)
    assert log_entries(case_of(), given)[0]["again"] is True


def test_without_a_time_zone_no_time_is_written():
    assert "time_zone" in refused(look(OfUnit("A", instilled=5)), TEXT.replace('time_zone = "Europe/Oslo"\n', ""))


def test_a_correction_changes_the_entry_and_says_in_the_log_what_it_was_and_why():
    keys = {"at": datetime(2026, 11, 21, 7), "ml": 340.0, "colour": "clear pink"}
    text = write_case(TEXT, corrected(case_of(), 0, keys, "misread", AT))
    first, note = case_of(text).log
    assert (first.ml, note.kind, note.unit) == (340, "note", "A")
    assert note.says == "corrects canister of 2026-11-21 07:00, which was ml 430: misread"


@pytest.mark.parametrize(("ml", "why", "where"), [(340.0, " ", "why"), (430.0, "misread", "log.0")])
def test_a_correction_without_reason_or_change_is_refused(ml, why, where):
    keys = {"at": datetime(2026, 11, 21, 7), "ml": ml, "colour": "clear pink"}
    with pytest.raises(InputRefused) as caught:
        corrected(case_of(), 0, keys, why, AT)
    assert [found.where for found in caught.value.findings] == [where]
