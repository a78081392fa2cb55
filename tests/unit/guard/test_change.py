"""The change of the dressing: when the ordered wait is over, what is not written yet, objects beside names."""

from datetime import datetime

from soakline.guard.anaesthetic import Dose
from soakline.guard.change import Change, check_changes, not_done, wait_ends
from soakline.guard.foam import Piece

NINE = datetime(2026, 11, 23, 9)


def out(name, state="out whole"):
    return Piece(name, "foam", "left pocket", datetime(2026, 11, 20, 13), "surgeon", state, out_at=NINE)


def test_the_wait_runs_from_the_last_dose_given_as_long_as_ordered():
    first = Dose("lidocaine", 10, 10, at=NINE, state="given", wait_min=30)
    later = Dose("lidocaine", 10, 5, at=NINE.replace(minute=20), state="given", wait_min=15)
    assert wait_ends([first]) == NINE.replace(minute=30)
    assert wait_ends([first, later]) == NINE.replace(minute=35)


def test_a_dose_asked_for_or_without_time_or_wait_starts_no_wait():
    asked = Dose("lidocaine", 10, 10, at=NINE, state="asked", wait_min=30)
    untimed = Dose("lidocaine", 10, 10, state="given", wait_min=30)
    unordered = Dose("lidocaine", 10, 10, at=NINE, state="given")
    assert wait_ends([asked, untimed, unordered]) is None


def test_what_is_not_written_is_named_in_the_order_of_the_change():
    everything = ("pain before", "count of objects", "look", "probe", "pain during", "pain after", "time of closing")
    assert not_done(Change(NINE)) == everything


def test_a_pain_score_of_nothing_is_written():
    assert "pain before" not in not_done(Change(NINE, pain_before=0))


def test_fewer_objects_than_names_stop_and_more_are_asked_about():
    fewer, more = Change(NINE, objects_count=1), Change(NINE, objects_count=3)
    assert check_changes([fewer], [out("A1"), out("B1")])[0].says.startswith("STOP: 1 objects counted, 2 pieces")
    assert check_changes([more], [out("A1"), out("B1")])[0].level == "ask"
    assert check_changes([Change(NINE, objects_count=2)], [out("A1"), out("B1")]) == ()


def test_a_torn_piece_may_lie_as_several_objects():
    assert check_changes([Change(NINE, objects_count=3)], [out("A1"), out("B1", "out torn")]) == ()
