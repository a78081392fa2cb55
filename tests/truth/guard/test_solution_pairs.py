"""The shipped pair table against ``fluids.solution_conflicts`` (W-09), and every pair that it does not hold."""

from itertools import combinations

import pytest

from soakline.guard.solutions import SHIPPED, Dressing, check_solutions, meetings
from soakline.sources import SOURCES, source

READ = {frozenset({"chlorhexidine", "hypochlorite"}), frozenset({"hypochlorite", "hydrogen peroxide"})}
NAMES = [solution.name for solution in SHIPPED.solutions]


def conflicts_of(pairs):
    return {frozenset({pair.first, pair.second}) for pair in pairs if pair.verdict == "conflict"}


def test_the_table_holds_the_two_pairs_that_were_read_and_no_other():
    assert conflicts_of(SHIPPED.pairs) == READ
    assert all(word in source("fluids.solution_conflicts").says for pair in READ for word in pair)
    assert {pair.source for pair in SHIPPED.pairs} | {one.source for one in SHIPPED.solutions} <= SOURCES.keys()


def test_a_planted_table_that_lost_a_pair_is_caught():
    assert conflicts_of(SHIPPED.pairs[1:]) != READ


@pytest.mark.parametrize(("one", "other"), [*combinations(NAMES, 2)])
def test_a_pair_nobody_tested_is_not_shown_compatible_and_never_compatible(one, other):
    (meeting,) = meetings([one], Dressing(skin_preparation=other))
    expected = "conflict" if frozenset({one, other}) in READ else "not shown compatible"
    assert meeting.verdict == expected
    assert "compatible" not in meeting.says.replace("not shown compatible", "")


def test_words_nobody_knows_are_not_shown_compatible_either_and_are_named():
    (meeting,) = meetings(["blue tonic"], Dressing(previous_solution="saline"))
    assert meeting.verdict == "not shown compatible"
    found = check_solutions(["blue tonic", None], Dressing(), has_pocket=True)
    assert [(f.level, f.where) for f in found] == [("warn", "unit.0.solution")]


def test_hypochlorous_acid_is_not_taken_for_hypochlorite():
    (meeting,) = meetings(["hypochlorous acid solution"], Dressing(skin_preparation="chlorhexidine"))
    assert meeting.verdict == "not shown compatible"


@pytest.mark.parametrize("name", ["hydrogen peroxide 3 %", "octenidine"])
def test_what_is_not_for_a_closed_pocket_is_warned_of_there_alone(name):
    assert [f.level for f in check_solutions([name], Dressing(), has_pocket=True)] == ["warn"]
    assert check_solutions([name], Dressing(), has_pocket=False) == ()


def test_two_units_with_two_solutions_meet_too():
    assert [m.verdict for m in meetings(["hypochlorite", "hydrogen peroxide", "hypochlorite"], Dressing())] == [
        "conflict"
    ]
