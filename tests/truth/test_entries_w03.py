"""Entries that must be refused or asked about, held against the worked case for such input, row by row.

Source keys ``measuring.clock``, ``measuring.undermining``, ``measuring.handedness``; the rows themselves are the worked
case "input that must be refused or asked about", every number of which is invented and can be redone by hand.
"""

import math
import re

import pytest

from soakline.casefile.read import read_case
from soakline.guard.gate import find_stops
from soakline.wound.clock import span_deg
from soakline.wound.entry import check_wound

ROUND_OPENING = "length_cm = 6\nwidth_cm = 6\ndepth_cm = 2"
POCKET = "from = 12\nto = 6\nreach_cm = 4\nheight_cm = 1.5"


def entry(opening=ROUND_OPENING, undermining=POCKET, wound="girth_cm = 96\nmidline_offset_cm = 0", top="", rest=""):
    pocket = f"[[wound.undermining]]\n{undermining}" if undermining else ""
    return f"""
format = "soakline-case/1"
label = "worked case"
purpose = "care"
{top}
[wound]
face = "front"
part = "trunk"
{wound}
[wound.opening]
{opening}
{pocket}
{rest}
"""


def said(text):
    """Give the case and all findings as (level, key, words)."""
    reading = read_case(text)
    found = list(reading.findings)
    if reading.case is not None and reading.case.wound is not None:
        found += check_wound(reading.case.wound, reading.case.assumptions, reading.case.confirmed)
    return reading.case, [(f.level, f.where, f.says) for f in found]


def holds(found, level, where, words):
    """Tell whether a finding of that level, at that key, says those words."""
    return any(f[0] == level and f[1] == where and re.search(words, f[2]) for f in found)


REFUSED = {
    "undermining at 13 o'clock": (
        entry(undermining="clock = 13\nreach_cm = 4"),
        "wound.undermining.0.clock",
        "clock positions are 1–12",
    ),
    "undermining at 0": (entry(undermining="clock = 0\nreach_cm = 4"), "wound.undermining.0.clock", r"12\?"),
    "110 × 45 × 20 on an abdomen": (
        entry(opening="length_cm = 110\nwidth_cm = 45\ndepth_cm = 20"),
        "wound.opening.length_cm",
        r"not possible.*Millimetres\?.*nothing is converted",
    ),
    "undermining 65 cm, girth 96": (
        entry(undermining="from = 12\nto = 6\nreach_cm = 65\nheight_cm = 1.5"),
        "wound.undermining.0.reach_cm",
        r"larger than half the girth \(48 cm\)",
    ),
    "depth 0 with undermining 4": (
        entry(opening="length_cm = 6\nwidth_cm = 6\ndepth_cm = 0"),
        "wound.opening.depth_cm",
        "contradicts undermining",
    ),
    "weight 70 without unit": (entry(rest="[patient]\nweight = 70"), "patient.weight", "weight_kg or weight_lb"),
}


@pytest.mark.parametrize("row", REFUSED)
def test_what_is_not_possible_is_refused_in_words(row):
    text, where, words = REFUSED[row]
    _, found = said(text)
    assert holds(found, "refuse", where, words)


def test_ten_to_two_is_echoed_as_running_through_twelve():
    # 120° of a ring 4 cm wide round a radius of 3: 41.9 cm²; the other way is 240° and 83.8 cm².
    ring_cm2 = math.pi * (7**2 - 3**2)
    assert span_deg(10, 2) / 360 * ring_cm2 == pytest.approx(41.9, abs=0.05)
    assert span_deg(2, 10) / 360 * ring_cm2 == pytest.approx(83.8, abs=0.05)
    case, found = said(entry(undermining="from = 10\nto = 2\nreach_cm = 4\nheight_cm = 1.5"))
    assert case is not None
    assert holds(found, "note", "wound.undermining.0.from", r"through 12 \(head\), 120°")


def test_the_other_way_round_is_echoed_too():
    _, found = said(entry(undermining="from = 2\nto = 10\nreach_cm = 4\nheight_cm = 1.5"))
    assert holds(
        found, "note", "wound.undermining.0.from", r"through 6 \(feet\), 240°; 10 o'clock to 2 o'clock .* 120°"
    )


@pytest.mark.parametrize(
    ("reach", "level"),
    [
        ("22", "ask"),  # 8 + 3 + 22 = 33 cm from the midline; the mid-flank is at 96 / 4 = 24
        ("13.5", "ask"),  # 24.5
        ("12.5", None),  # 23.5
    ],
)
def test_a_pocket_past_the_mid_flank_is_asked_about(reach, level):
    text = entry(
        undermining=f"clock = 3\nreach_cm = {reach}\nheight_cm = 1.5", wound="girth_cm = 96\nmidline_offset_cm = 8"
    )
    _, found = said(text)
    asked = holds(found, "ask", "wound.undermining.0.reach_cm", r"past the mid-flank \(24 cm from the midline\)")
    assert asked == (level == "ask")


def test_the_same_reach_away_from_the_flank_is_not_asked_about():
    text = entry(undermining="clock = 9\nreach_cm = 22\nheight_cm = 1.5", wound="girth_cm = 96\nmidline_offset_cm = 8")
    _, found = said(text)
    assert not any(level == "ask" for level, _, _ in found)


def test_the_mid_flank_once_confirmed_becomes_a_note():
    text = entry(
        undermining="clock = 3\nreach_cm = 22\nheight_cm = 1.5",
        wound="girth_cm = 96\nmidline_offset_cm = 8",
        top='confirmed = ["wound.undermining.0.reach_cm"]',
    )
    _, found = said(text)
    assert holds(found, "note", "wound.undermining.0.reach_cm", "^confirmed: .*mid-flank")
    assert not any(level == "ask" for level, _, _ in found)


@pytest.mark.parametrize("depth", ["", 'depth_cm = ""'])
def test_a_blank_depth_is_not_measured_which_is_not_0(depth):
    case, found = said(entry(opening=f"length_cm = 6\nwidth_cm = 6\n{depth}"))
    assert case is not None
    assert case.wound.opening.depth_cm is None
    assert holds(found, "warn", "wound.opening.depth_cm", "not measured: no volume.*not the same as 0")
    assert not holds(found, "refuse", "wound.opening.depth_cm", ".")


def test_a_tunnel_whose_end_was_not_felt_reaches_the_gate():
    case, _ = said(entry(rest="[[wound.tunnel]]\nclock = 5\nlength_cm = 9\ndiameter_cm = 1\nend_felt = false"))
    assert case is not None
    assert "unexplored: surgeon" in find_stops(case.wound.tunnel)[0].says


WORDS = {"2,5": 2.5, "2½": 2.5, "2.5": 2.5, "½": 0.5, "2 1/2": 2.5}


def depth_of(number, confirmed):
    top = 'confirmed = ["wound.opening.depth_cm"]' if confirmed else ""
    case, found = said(entry(opening=f'length_cm = 6\nwidth_cm = 6\ndepth_cm = "{number}"', top=top))
    return case.wound.opening.depth_cm, found


@pytest.mark.parametrize(("number", "meant"), WORDS.items())
def test_a_number_in_words_is_read_only_after_it_is_confirmed(number, meant):
    depth_cm, found = depth_of(number, confirmed=False)
    assert depth_cm is None
    assert holds(found, "ask", "wound.opening.depth_cm", f"may be read as {meant:g}; confirm")
    depth_cm, found = depth_of(number, confirmed=True)
    assert depth_cm == meant
    assert holds(found, "note", "wound.opening.depth_cm", f"read as {meant:g}")


@pytest.mark.parametrize("number", ["1.5-2", "1.5–2", "1,5 to 2", "2,500"])
@pytest.mark.parametrize("confirmed", [False, True])
def test_a_range_or_two_readings_in_words_stay_asked_about(number, confirmed):
    depth_cm, found = depth_of(number, confirmed)
    assert depth_cm is None
    assert holds(found, "ask", "wound.opening.depth_cm", r"write (\{ low|it without)")


def test_planted_wrong_answers_are_caught():
    def as_25(number):
        return float(number.replace(",", ""))

    assert as_25("2,5") != WORDS["2,5"]
    unconfirmed = [("note", "wound.opening.depth_cm", "2,5 is read as 2.5")]
    assert not holds(unconfirmed, "ask", "wound.opening.depth_cm", "may be read as 2.5")
    converted = [("note", "wound.opening.length_cm", "11 cm: millimetres were converted")]
    _, where, words = REFUSED["110 × 45 × 20 on an abdomen"]
    assert not holds(converted, "refuse", where, words)
    wrong_way = [("note", "wound.undermining.0.from", "runs through 6 (feet), 240°")]
    assert not holds(wrong_way, "note", "wound.undermining.0.from", r"through 12 \(head\), 120°")
    blank_is_0 = [("refuse", "wound.opening.depth_cm", "depth 0 contradicts undermining")]
    assert not holds(blank_is_0, "warn", "wound.opening.depth_cm", "not measured: no volume")
