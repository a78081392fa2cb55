"""What a site's own formulary adds: the strength that was signed, and how long a bag may hang."""

from datetime import datetime

import pytest

from soakline.guard.solutions import SHIPPED, Dressing, Formulary, Pair, Solution, check_solutions, meetings

SITE = Formulary(
    "2026-3",
    (Solution("saline", hang_h=24, strength="0.9 %"), Solution("polyurethane")),
    (Pair("saline", "polyurethane", "tested: no reaction seen", "looked at over 24 h", "formulary 2026-3"),),
)
HUNG = Dressing(hung_at=datetime(2026, 11, 20, 15))


def said(words, dressing=HUNG):
    return [(f.level, f.says) for f in check_solutions([words], dressing, has_pocket=True, formulary=SITE)]


@pytest.mark.parametrize("words", ["saline 0.9 %", "Saline 0.9%"])
def test_the_signed_strength_is_taken_as_it_is_and_the_bag_hangs_until_its_hour(words):
    assert said(words) == [("note", "saline: may hang 24 h, until 2026-11-21 15:00 (2026-3)")]


@pytest.mark.parametrize("words", ["saline", "saline 0.45 %", "saline 10.9 %"])
def test_another_strength_or_none_is_asked_about(words):
    (level, says), _ = said(words)
    assert level == "ask"
    assert "the formulary has saline 0.9 % (2026-3): which is hung?" in says


def test_a_bag_of_which_nobody_wrote_since_when_it_hangs_is_asked_about():
    assert said("saline 0.9 %", Dressing()) == [
        ("ask", "saline: may hang 24 h (2026-3): since when does it? Write dressing.hung_at")
    ]


def test_the_foam_is_one_of_the_pairs_that_a_site_may_have_tested():
    (meeting,) = meetings(["saline 0.9 %"], Dressing(foam_material="polyurethane"), SITE)
    assert meeting.verdict == "tested: no reaction seen"


@pytest.mark.parametrize("words", ["0.9 % sodium chloride", "Sodium chloride 0.9 %", "saline 0.9 %"])
def test_a_substance_is_known_by_each_of_its_names(words):
    assert check_solutions([words], Dressing(), has_pocket=True) == ()


def test_a_conflict_is_found_under_another_name():
    site = Formulary("x", (Solution("hypochlorite", also=("bleach",)), Solution("chlorhexidine")), SHIPPED.pairs)
    (meeting,) = meetings(["bleach 0.0125 %"], Dressing(skin_preparation="chlorhexidine 2 %"), site)
    assert meeting.verdict == "conflict"


def test_a_substance_does_not_meet_itself_under_another_name():
    assert meetings(["saline 0.9 %"], Dressing(previous_solution="sodium chloride 0.9 %")) == ()
