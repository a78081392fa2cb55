"""What is said against a foam ledger, what may be entered, and what the label and the history say."""

from dataclasses import replace
from datetime import datetime

import pytest

from soakline.errors import InputRefused
from soakline.guard.foam import Counted, Entry, Piece, check_foam, enter, history, label_text, reconcile

IN = datetime(2026, 11, 20, 13, 30)
OUT = datetime(2026, 11, 22, 9, 30)
A1 = Piece("A1", "foam", "left pocket", IN, "surgeon")
C1 = Piece("C1", "contact layer", "bed", IN, "surgeon")


def said(pieces, counted=None, tunnel_names=()):
    return [(f.level, f.where) for f in check_foam(pieces, counted or Counted(), tunnel_names)]


def entry(event, name="A1", at=OUT, by_role="wound nurse", says="left pocket"):
    return Entry(event, name, at, by_role, says=says)


def refusal(pieces, one):
    with pytest.raises(InputRefused) as refused:
        enter(pieces, one)
    return refused.value.findings[0].says


def test_all_inside_by_name_is_matched_and_says_what_it_does_not_know():
    found = reconcile([A1, C1])
    assert (found.state, found.expected_count) == ("matched", 2)
    assert "A piece nobody entered is not known here" in found.says
    assert said([A1, C1]) == []


def test_an_unknown_piece_removed_is_refused_with_the_nearest_name():
    assert '"A2" was never placed; the nearest name is A1' in refusal((A1,), entry("out whole", "A2"))
    assert "nothing is in the ledger" in refusal((), entry("out whole", "A2"))


def test_a_piece_that_came_out_and_never_went_in_is_asked_about_and_unresolved():
    unknown = Piece("X9", "foam", state="out whole", out_at=OUT)
    assert reconcile([unknown]).state == "unresolved"
    assert said([unknown]) == [("warn", "foam"), ("ask", "foam.0.place")]


def test_a_piece_placed_twice_is_refused():
    assert "a name is used once" in refusal((A1,), entry("placed"))
    gone = enter((A1,), entry("out whole"))
    assert "a name is used once" in refusal(gone, entry("placed"))


@pytest.mark.parametrize(
    ("one", "words"),
    [
        (entry("placed", " "), "without a name"),
        (entry("placed", "A2", says=""), "write where it lies"),
        (entry("out whole", by_role=""), "write who did it"),
        (entry("matched"), "did not come out torn"),
        (entry("left in", says=""), "write the reason"),
        (entry("out whole", at=IN.replace(hour=8)), "check the time"),
    ],
)
def test_an_entry_that_cannot_be_is_refused_in_words(one, words):
    assert words in refusal((A1,), one)


def test_what_is_out_cannot_come_out_again_nor_whole_after_it_tore():
    assert '"out whole" already' in refusal(enter((A1,), entry("out whole")), entry("out torn"))
    assert "cannot come out whole" in refusal(enter((A1,), entry("torn")), entry("out whole"))


def test_no_new_piece_goes_in_while_one_is_unresolved():
    one_out = enter((A1, C1), entry("out whole"))
    assert "Missing: C1" in refusal(one_out, entry("placed", "A2"))


def test_the_next_dressing_begins_once_all_is_out_and_its_pieces_are_inside():
    ledger = enter(enter((A1, C1), entry("out whole")), entry("out whole", "C1"))
    ledger = enter(ledger, entry("placed", "A2", at=OUT.replace(hour=10)))
    found = reconcile(ledger)
    assert (found.state, [piece.name for piece in found.inside]) == ("matched", ["A2"])


def test_a_piece_left_in_on_purpose_is_accounted_for_at_that_change_alone():
    ledger = enter(enter((A1, C1), entry("left in", "C1", says="stays by order")), entry("out whole"))
    assert reconcile(ledger).state == "matched"
    ledger = enter(ledger, entry("placed", "A2", at=OUT.replace(hour=10)))
    later = enter(ledger, entry("out whole", "A2", at=OUT.replace(day=25)))
    assert reconcile(later).missing == ("C1",)


@pytest.mark.parametrize("change", [{"left_at": OUT}, {"left_reason": "stays"}])
def test_left_in_without_reason_or_time_counts_as_missing(change):
    left = replace(C1, left_by_role="surgeon", **change)
    pieces = [replace(A1, state="out whole", out_at=OUT), left]
    assert reconcile(pieces).missing == ("C1",)
    assert ("warn", "foam.1.left_reason") in said(pieces)


def test_a_time_out_before_the_time_in_settles_nothing():
    slip = replace(A1, state="out whole", out_at=IN.replace(day=19))
    assert reconcile([slip, C1]).missing == ("C1",)
    assert ("warn", "foam.0.out_at") in said([slip, C1])


def test_a_piece_without_state_and_one_discarded_after_it_was_placed_are_asked_about():
    assert said([replace(A1, state=None)]) == [("warn", "foam"), ("ask", "foam.0.state")]
    assert said([replace(A1, state="discarded")]) == [("warn", "foam"), ("ask", "foam.0.state")]
    assert reconcile([Piece("A9", "foam", state="discarded"), C1]).state == "matched"


def test_a_piece_seen_to_tear_inside_is_unresolved_until_it_is_out_and_complete():
    torn = enter((A1,), entry("torn"))
    assert (reconcile(torn).torn, reconcile(torn).state) == (("A1",), "unresolved")
    out = enter(torn, entry("out torn"))
    assert reconcile(enter(out, entry("matched"))).state == "matched"


def test_foam_in_a_tunnel_and_a_piece_without_place_are_warned_of():
    assert said([A1, C1], tunnel_names=("A1", "C1")) == [("warn", "foam.0.place")]
    assert said([Piece("A1", "foam")]) == [("warn", "foam.0.place")]


def test_counts_belong_to_the_dressing_they_were_written_for():
    counted = Counted(label_count=2, note_count=2, at=IN.replace(hour=14))
    out = [replace(piece, state="out whole", out_at=OUT) for piece in (A1, C1)]
    new = Piece("A2", "foam", "left pocket", OUT.replace(hour=10))
    assert reconcile([*out, new], counted).state == "matched"
    assert reconcile([A1], counted).missing == ("1 without a name",)


def test_the_label_names_each_piece_inside_and_the_history_each_thing_done():
    ledger = enter(enter((A1, C1), entry("trimmed", says="2 cm off")), entry("out whole"))
    assert label_text(ledger) == "1 piece inside: C1 contact layer, bed"
    assert label_text(()) == "no piece inside by this ledger"
    lines = [line.says for line in history(ledger)]
    assert lines[0] == "A1 foam placed: left pocket, by surgeon"
    assert lines[-1] == "A1 out whole, by wound nurse"
    assert "A1 trimmed: 2 cm off" in lines
