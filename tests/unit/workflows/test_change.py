"""A change as it is written down: the ledger moves by names, new pieces wait while one is unresolved."""

from datetime import datetime

import pytest

from soakline.casefile.read import read_case
from soakline.casefile.write import write_case
from soakline.errors import InputRefused
from soakline.guard.foam import Counted, reconcile
from soakline.settings import Settings
from soakline.workflows.change import (
    CountedIn,
    CountedOut,
    Sheet,
    count_of_dressing,
    note_change,
    open_change,
    to_count_out,
)
from soakline.workflows.plan import Asked, plan_text

TEXT = """format = "soakline-case/1"
label = "Demo"
time_zone = "Europe/Oslo"

[[foam]]
name = "A1"
kind = "foam"
place = "left pocket"
placed_at = 2026-11-20T13:00:00
placed_by_role = "surgeon"  # in theatre
state = "in"

[[foam]]
name = "B1"
kind = "foam"
place = "tunnel mouth"
placed_at = 2026-11-20T13:00:00
placed_by_role = "surgeon"
state = "in"
"""
NINE, TEN = datetime(2026, 11, 23, 9), datetime(2026, 11, 23, 10)
BOTH_WHOLE = (CountedOut("A1", "out whole"), CountedOut("B1", "out whole"))
NEW = (CountedIn("A2", "foam", "left pocket"),)


def sheet(**given):
    usual = {"number": 0, "at": NINE, "closed_at": TEN, "by_role": "wound nurse", "keys": {"pain_before": 3.0}}
    return Sheet(**usual | given)


def noted(text, written):
    case = read_case(text).case
    kept = note_change(case, written)
    after = write_case(text, kept.changes)
    reading = read_case(after)
    assert reading.case, reading.findings
    return reading.case, kept, after


def test_pieces_come_out_and_new_ones_go_in_and_the_rest_of_the_file_stays():
    case, kept, text = noted(TEXT, sheet(out=BOTH_WHOLE, put_in=NEW))
    assert kept.held_back is None
    assert [(piece.name, piece.state) for piece in case.foam] == [
        ("A1", "out whole"),
        ("B1", "out whole"),
        ("A2", "in"),
    ]
    assert reconcile(case.foam).state == "matched"
    assert case.change[0].pain_before == 3.0
    assert "# in theatre" in text


@pytest.mark.parametrize("how", ["not found", "out torn"])
def test_new_pieces_are_held_back_while_one_is_unresolved_and_the_count_out_is_kept(how):
    out = (CountedOut("A1", "out whole"), CountedOut("B1", how))
    case, kept, _ = noted(TEXT, sheet(out=out, put_in=NEW))
    assert "B1" in kept.held_back
    assert [piece.state for piece in case.foam] == ["out whole", how]


def test_a_piece_that_nobody_counted_holds_new_ones_back_too():
    _, kept, _ = noted(TEXT, sheet(out=BOTH_WHOLE[:1], put_in=NEW))
    assert kept.held_back.startswith("Missing: B1")


def test_a_piece_found_after_all_lets_the_next_dressing_go_on():
    _, _, text = noted(TEXT, sheet(out=(BOTH_WHOLE[0], CountedOut("B1", "not found"))))
    case, kept, _ = noted(text, sheet(out=(CountedOut("B1", "out whole"),), put_in=NEW))
    assert kept.held_back is None
    assert reconcile(case.foam).state == "matched"


def test_one_change_is_written_in_steps_and_then_the_next_one_begins():
    case, _, text = noted(TEXT, sheet())
    assert open_change(case) == 0
    rest = {"pain_before": 3.0, "pain_during": 5.0, "pain_after": 2.0, "objects_count": 2, "looked": "clean"}
    case, _, _ = noted(text, sheet(keys=rest | {"probe": [{"clock": 3, "reach_cm": 4.0}]}))
    assert len(case.change) == 1
    assert case.change[0].probe[0].reach_cm == 4.0
    assert open_change(case) == 1


def counts(label, note, resolved=None):
    return {"label_count": label, "note_count": note, "resolved_by_role": resolved}


def test_a_label_that_says_more_than_the_names_or_the_note_holds_new_pieces_back_until_somebody_settles_it():
    case, kept, text = noted(TEXT, sheet(out=BOTH_WHOLE, put_in=NEW, counts=counts(3, 2)))
    assert "label says 3, note says 2" in kept.held_back
    assert (case.foam_count.label_count, case.foam_count.at) == (3, datetime(2026, 11, 20, 13))
    assert len(case.foam) == 2
    case, kept, _ = noted(text, sheet(put_in=NEW, counts=counts(3, 2, "surgeon")))
    assert kept.held_back is None
    assert reconcile(case.foam, case.foam_count).state == "matched"


def test_the_counts_of_one_dressing_say_nothing_of_the_next():
    case, _, text = noted(TEXT, sheet(out=BOTH_WHOLE, put_in=NEW, counts=counts(2, 2)))
    assert count_of_dressing(case, NINE).label_count == 2
    assert count_of_dressing(case, None) == Counted()
    later = {"number": 1, "at": datetime(2026, 11, 26, 9), "closed_at": None, "keys": {}}
    case, _, _ = noted(text, sheet(**later, out=(CountedOut("A2", "out whole"),), counts=counts(1, 1)))
    assert (case.foam_count.label_count, case.foam_count.at) == (1, TEN)
    assert reconcile(case.foam, case.foam_count).state == "matched"


def test_what_was_cut_off_a_new_piece_is_kept_with_it():
    case, _, _ = noted(TEXT, sheet(out=BOTH_WHOLE, put_in=(CountedIn("A2", "foam", "left", "2 cm at one end"),)))
    assert case.foam[-1].trimmed == "2 cm at one end"


def test_new_pieces_of_this_change_are_not_counted_out_at_it():
    case, _, _ = noted(TEXT, sheet(out=BOTH_WHOLE, put_in=NEW))
    assert to_count_out(case, 0) == ()
    assert [piece.name for piece in to_count_out(case, 1)] == ["A2"]


@pytest.mark.parametrize(
    ("given", "where"),
    [
        ({"at": None}, "change.0.at"),
        ({"by_role": " ", "out": BOTH_WHOLE}, "change.0.by_role"),
        ({"closed_at": None, "out": BOTH_WHOLE, "put_in": NEW}, "change.0.closed_at"),
        ({"closed_at": NINE, "out": BOTH_WHOLE}, "change.0.closed_at"),
        ({"out": (CountedOut("A1", "left in"),)}, "foam.reason"),
        ({"out": (CountedOut("C9", "out whole"),)}, "foam.name"),
        ({"out": BOTH_WHOLE, "put_in": (CountedIn("A1", "foam", "left"),)}, "foam.name"),
    ],
)
def test_an_entry_that_cannot_hold_is_refused_by_its_key(given, where):
    with pytest.raises(InputRefused) as refused:
        note_change(read_case(TEXT).case, sheet(**given))
    assert where in [found.where for found in refused.value.findings]


def test_the_time_to_order_by_stands_in_the_findings_where_the_site_says_how_long_a_delivery_takes():
    text = TEXT + "\n[dressing]\nnext_change_at = 2026-11-23T09:00:00\n"
    slow = Settings.from_environment({"SOAKLINE_DELIVERY_H": "24"})
    said = [found.says for found in plan_text(text, slow, Asked(models=())).findings]
    assert any("order by Fri 20 Nov 09:00" in says for says in said)
    silent = Settings.from_environment({})
    assert not any("order by" in found.says for found in plan_text(text, silent, Asked(models=())).findings)
