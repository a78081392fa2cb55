"""Measures written over a case: only what changed; what the dial cannot show stays, and is said."""

from dataclasses import replace

import pytest

from soakline.casefile.read import read_case
from soakline.casefile.write import write_case
from soakline.workflows.measuring import changes_of, measures_of, say_held
from soakline.wound.dial import DialHour
from soakline.wound.measurements import KeepClear, Tunnel

HEAD = """\
format = "soakline-case/1"
label = "Demo"
time_zone = "Europe/Oslo"
confirmed = ["wound.undermining.0.reach_cm", "wound.undermining.1.reach_cm", "wound.girth_cm"]

[wound]
face = "front"
part = "trunk"
girth_cm = 104

[wound.opening]
length_cm = 6
width_cm = 6
depth_cm = 2.5
"""
TWO = """
[[wound.undermining]]   # the probe met fat
from = 12
to = 3
reach_cm = 4
height_cm = 1.5

[[wound.undermining]]
clock = 8
reach_cm = 2
height_cm = 1.0

[wound.probed]
none_found = [5, 10.5]
"""
TAPER = """
[[wound.undermining]]
from = 1
to = 5
reach_cm = 6
height_cm = 1
ends = "taper"
"""


def read(text):
    case = read_case(text).case
    return case, case.wound, measures_of(case.wound)


def with_hours(measures, **found):
    hours = list(measures.hours)
    for name, hour in found.items():
        hours[int(name[1:]) - 1] = hour
    return replace(measures, hours=tuple(hours))


@pytest.mark.parametrize("text", [HEAD, HEAD + TWO, HEAD + TAPER])
def test_measures_that_did_not_change_change_nothing(text):
    case, wound, measures = read(text)
    assert changes_of(case, wound, measures) == {}


def test_one_hour_changed_leaves_the_other_entry_its_comment_and_half_hours_alone():
    case, wound, measures = read(HEAD + TWO)
    new = with_hours(measures, h8=DialHour("undermined", 5.0, 1.0))
    text = write_case(HEAD + TWO, changes_of(case, wound, new))
    assert text == (HEAD + TWO).replace("reach_cm = 2", "reach_cm = 5").replace(', "wound.undermining.1.reach_cm"', "")
    assert "half hours: 10.5" in "; ".join(say_held(wound))


def test_an_hour_is_in_one_list_alone_once_it_was_probed_again():
    case, wound, measures = read(HEAD + TWO)
    new = with_hours(measures, h5=DialHour("undermined", 5.0), h8=DialHour("none found"))
    after = read(write_case(HEAD + TWO, changes_of(case, wound, new)))
    assert after[1].none_found == (8.0, 10.5)
    assert after[2] == new


def test_what_was_confirmed_of_an_entry_that_moves_up_is_taken_back():
    case, wound, measures = read(HEAD + TWO)
    nothing = DialHour("none found")
    new = with_hours(measures, h12=nothing, h1=nothing, h2=nothing, h3=nothing)
    text = write_case(HEAD + TWO, changes_of(case, wound, new))
    after, found, measures_after = read(text)
    assert measures_after == new
    assert [entry.clock for entry in found.undermining] == [8.0]
    assert after.confirmed == {"wound.girth_cm"}


def test_an_entry_that_tapers_is_kept_untouched_and_said_whatever_is_sent_for_its_hours():
    case, wound, measures = read(HEAD + TAPER)
    assert [hour.found for hour in measures.hours[:5]] == ["kept as written"] * 5
    assert say_held(wound) == ("undermining from 1 to 5 o'clock: it tapers",)
    new = with_hours(measures, h3=DialHour("none found"), h9=DialHour("undermined", 3.0))
    after = read(write_case(HEAD + TAPER, changes_of(case, wound, new)))[1]
    assert after.undermining[0] == wound.undermining[0]
    assert (len(after.undermining), after.none_found) == (2, ())


def test_entries_that_lie_over_each_other_or_meet_in_one_hour_are_kept_and_said():
    meeting = TWO.replace("clock = 8", "from = 3\nto = 5")
    case, wound, measures = read(HEAD + meeting)
    assert all("meets" in says for says in say_held(wound)[:2])
    assert changes_of(case, wound, measures) == {}
    over = TWO.replace("clock = 8", "clock = 2")
    assert "lies over" in say_held(read(HEAD + over)[1])[0]


def test_a_pocket_marked_on_the_skin_and_a_traced_edge_are_kept_and_said():
    traced = "outline_cm = [[-3, -3], [3, -3], [3, 3], [-3, 3]]"
    pocket = "\n[wound.pocket]\noutline_cm = [[-6, -6], [6, -6], [6, 6], [-6, 6]]\nheight_cm = 1\n"
    text = HEAD.replace("length_cm = 6\nwidth_cm = 6", traced) + pocket
    case, wound, measures = read(text)
    assert len(say_held(wound)) == 2
    new = replace(measures, length_cm=9.0, hours=(DialHour("undermined", 4.0),) * 12)
    assert changes_of(case, wound, new) == {}


def test_tunnels_and_structures_come_and_go_as_rows():
    case, wound, measures = read(HEAD + TWO)
    tunnels = (Tunnel(5.0, 6.0, 1.0, 15.0, end_felt=True), Tunnel(9.0))
    new = replace(measures, tunnel=tunnels, keep_clear=(KeepClear("bowel under mesh", 9.0, 3.0, 2.0),))
    text = write_case(HEAD + TWO, changes_of(case, wound, new))
    case, wound, measures = read(text)
    assert measures == new
    text = write_case(text, changes_of(case, wound, replace(new, tunnel=tunnels[1:])))
    assert read(text)[2] == replace(new, tunnel=tunnels[1:])


def test_a_girth_measured_again_changes_that_key_alone_and_takes_back_what_was_confirmed_of_it():
    case, wound, measures = read(HEAD + TWO)
    changes = changes_of(case, wound, replace(measures, girth_cm=88.0))
    assert changes == {"wound.girth_cm": 88}
    assert "wound.girth_cm" not in read(write_case(HEAD + TWO, changes))[0].confirmed
    left_out = read(write_case(HEAD + TWO, changes_of(case, wound, replace(measures, girth_cm=None))))
    assert left_out[1].girth_cm is None
