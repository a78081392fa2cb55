"""Counting foam by name and wholeness against the worked case, ``worked.foam_count`` (W-08), and ``counting.rule``."""

from dataclasses import replace
from datetime import datetime

import pytest

from soakline.guard.foam import Counted, Piece, reconcile

IN = datetime(2026, 11, 20, 13, 30)
OUT = datetime(2026, 11, 22, 9, 30)
PLACES = {
    "A1": "deep port",
    "A2": "around the deep port",
    "B1": "tunnel at 5 o'clock",
    "C1": "opening",
    "C2": "opening",
}
PLACED = tuple(Piece(name, "foam", place, IN, "surgeon") for name, place in PLACES.items())


def after(states, pieces=PLACED, out_at=OUT):
    changes = {name: {"state": state, "out_at": out_at} for name, state in states.items()}
    return [replace(piece, **changes.get(piece.name, {})) for piece in pieces]


FIVE_OBJECTS = {"A1": "out whole", "C1": "out whole", "C2": "out whole", "A2": "out torn"}


def test_five_objects_come_out_and_b1_is_missing():
    found = reconcile(after(FIVE_OBJECTS))
    assert (found.missing, found.torn, found.state) == (("B1",), ("A2",), "unresolved")
    assert "no new dressing" in found.says


@pytest.mark.parametrize("out_at", [OUT, None])
def test_it_is_missing_too_where_nobody_wrote_when_they_came_out_or_b1_went_in_last(out_at):
    late = [replace(piece, placed_at=IN.replace(hour=15)) if piece.name == "B1" else piece for piece in PLACED]
    assert reconcile(after(FIVE_OBJECTS, late, out_at)).missing == ("B1",)


def test_a_count_of_objects_settles_nothing():
    counted_five = Counted(label_count=5, note_count=5)
    assert reconcile(after(FIVE_OBJECTS), counted_five).state == "unresolved"


def test_with_b1_whole_the_torn_piece_stands_until_its_parts_are_laid_together():
    all_out = after(FIVE_OBJECTS | {"B1": "out whole"})
    assert reconcile(all_out).state == "unresolved"
    matched = [replace(p, matched_by_role="wound nurse") if p.name == "A2" else p for p in all_out]
    found = reconcile(matched)
    assert (found.state, found.missing, found.torn) == ("matched", (), ("A2",))


def test_label_5_and_note_4_are_five_until_resolved():
    four = PLACED[:4]
    counted = Counted(label_count=5, note_count=4)
    found = reconcile(four, counted)
    assert (found.expected_count, found.state, found.missing) == (5, "unresolved", ("1 without a name",))
    assert "take 5 until resolved" in found.says
    assert reconcile(PLACED, counted).state == "unresolved"
    assert reconcile(four, replace(counted, resolved_by_role="surgeon")).state == "matched"


def test_a_planted_ledger_that_counts_objects_is_caught():
    def by_number(pieces):
        objects = sum({"out whole": 1, "out torn": 2}.get(piece.state, 0) for piece in pieces)
        return "matched" if objects == len(pieces) else "unresolved"

    assert by_number(after(FIVE_OBJECTS)) == "matched"
    assert by_number(after(FIVE_OBJECTS)) != reconcile(after(FIVE_OBJECTS)).state
