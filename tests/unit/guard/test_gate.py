"""What opens the gate, what shuts it, and what is said against its entries."""

import re
from datetime import datetime

import pytest

from soakline.guard.gate import (
    CAUTIONS,
    FIRST_CALL,
    NOT_CONSIDERED,
    STOPS,
    AnsweredStop,
    GateAnswers,
    check_gate,
    find_stops,
    judge,
)
from soakline.sources import SOURCES
from soakline.units import Range
from soakline.wound.measurements import Tunnel

NO_STOPS = {asked.key: "no" for asked in STOPS}
AT = datetime(2026, 11, 20, 13)
FORBIDDEN = ("recommend", "optimal", "best", "safe", "ok ", "approved", "guarantee")


def answered(stop, by_role="surgeon", reason="covered by a contact layer"):
    return AnsweredStop(stop, by_role, reason, AT)


def said(answers, found=()):
    return [(f.level, f.where) for f in check_gate(answers, found)]


def test_unanswered_is_unknown_and_unknown_is_shut():
    state = judge(GateAnswers({}))
    assert state.state == "shut"
    assert [(stop.key, stop.answer) for stop in state.stops] == [(asked.key, "unknown") for asked in STOPS]


def test_all_unknown_is_shut_like_all_unanswered_and_each_says_which_it_is():
    not_known, not_answered = judge(GateAnswers({asked.key: "unknown" for asked in STOPS})), judge(GateAnswers({}))
    assert not_known.state == not_answered.state == "shut"
    assert [stop.answer for stop in not_known.stops] == [stop.answer for stop in not_answered.stops]
    assert {stop.is_not_known for stop in not_known.stops} == {True}
    assert {stop.is_not_known for stop in not_answered.stops} == {False}


def test_a_caution_that_is_not_known_is_told_apart_from_one_not_answered():
    state = judge(GateAnswers(NO_STOPS | {"anticoagulant": "unknown"}))
    told = {caution.key: caution.is_not_known for caution in state.cautions}
    assert told["anticoagulant"]
    assert not told["bleeding_risk"]


def test_the_gate_opens_when_every_stop_is_no():
    state = judge(GateAnswers(NO_STOPS))
    assert (state.state, state.stops) == ("open", ())


@pytest.mark.parametrize("answer", ["yes", "unknown"])
def test_an_answered_stop_stays_listed_with_role_reason_and_time(answer):
    state = judge(GateAnswers(NO_STOPS | {"exposed_organs": answer}, (answered("exposed_organs"),)))
    assert state.state == "open"
    (stop,) = state.stops
    assert (stop.key, stop.answer) == ("exposed_organs", answer)
    assert (stop.by_role, stop.reason, stop.at) == ("surgeon", "covered by a contact layer", AT)


def test_an_override_stays_listed_when_the_answer_is_changed_to_no_afterwards():
    state = judge(GateAnswers(NO_STOPS, (answered("exposed_organs"),)))
    assert state.state == "open"
    assert [(stop.key, stop.answer, stop.by_role) for stop in state.stops] == [("exposed_organs", "no", "surgeon")]


def test_answering_for_one_stop_leaves_the_other_standing():
    answers = NO_STOPS | {"exposed_organs": "yes", "malignancy": "yes"}
    assert judge(GateAnswers(answers, (answered("exposed_organs"),))).state == "shut"


@pytest.mark.parametrize("entry", [answered("eschar", by_role=" "), answered("eschar", reason="")])
def test_an_answer_without_role_or_reason_opens_nothing(entry):
    answers = GateAnswers(NO_STOPS | {"eschar": "yes"}, (entry,))
    assert judge(answers).state == "shut"
    assert [level for level, _ in said(answers)] == ["refuse"]


def test_a_caution_is_listed_and_shuts_nothing():
    state = judge(GateAnswers(NO_STOPS | {"anticoagulant": "yes", "infected_wound": "no"}))
    cautions = {caution.key: caution.answer for caution in state.cautions}
    assert state.state == "open"
    assert cautions["anticoagulant"] == "yes"
    assert cautions["bleeding_risk"] == "unknown"
    assert "infected_wound" not in cautions


def test_skin_dead_tissue_source_and_allergies_are_asked_beside_the_stops():
    asked = [caution.key for caution in CAUTIONS if caution.source == "gate.asked_beside"]
    assert asked == ["kept_skin_doubtful", "dead_tissue_left", "source_not_controlled", "allergies"]


def test_a_tunnel_whose_end_was_not_felt_shuts_the_gate():
    found = find_stops([Tunnel(clock=5, length_cm=9, end_felt=False)])
    state = judge(GateAnswers(NO_STOPS), found)
    assert state.state == "shut"
    assert [stop.says for stop in state.stops] == ["tunnel at 5 o'clock, 9 cm, end not felt: unexplored: surgeon"]


def test_a_tunnel_with_nothing_said_of_its_end_shuts_it_too():
    (stop,) = find_stops([Tunnel(clock=4.5, length_cm=Range(5, 6, 8))])
    assert (stop.key, stop.answer) == ("unexplored_tunnel_at_4.5", "unknown")
    assert stop.says == "tunnel at half past 4, 6 cm, not stated whether its end was felt: unexplored: surgeon"


def test_a_tunnel_whose_end_was_felt_is_no_stop():
    assert find_stops([Tunnel(clock=5, length_cm=6, end_felt=True)]) == ()


def test_two_tunnels_at_one_hour_are_one_stop_that_names_both():
    (stop,) = find_stops([Tunnel(clock=5, length_cm=9), Tunnel(clock=5, end_felt=False)])
    assert stop.answer == "yes"
    assert "9 cm" in stop.says
    assert "length not measured, end not felt" in stop.says


def test_answering_for_one_tunnel_is_not_answering_for_another():
    found = find_stops([Tunnel(clock=5, end_felt=False), Tunnel(clock=7, end_felt=False)])
    one = GateAnswers(NO_STOPS, (answered("unexplored_tunnel_at_5"),))
    both = GateAnswers(NO_STOPS, (*one.answered, answered("unexplored_tunnel_at_7")))
    assert judge(one, found).state == "shut"
    assert judge(both, found).state == "open"
    assert said(both, found) == []


def test_a_key_nobody_asks_for_is_refused_with_the_nearest():
    (finding,) = check_gate(GateAnswers({"exposed_organ": "no"}))
    assert (finding.level, finding.where) == ("refuse", "gate.exposed_organ")
    assert finding.says.endswith('the nearest key is "exposed_organs"')


def test_an_answer_for_what_is_no_stop_is_refused_with_the_nearest():
    (finding,) = check_gate(GateAnswers(NO_STOPS | {"exposed_organs": "yes"}, (answered("exposed_organ"),)))
    assert (finding.level, finding.where) == ("refuse", "gate.answered.0.stop")
    assert '"exposed_organs"' in finding.says


def test_an_answer_for_an_unexplored_tunnel_without_its_hour_names_the_one_with():
    found = find_stops([Tunnel(clock=5, end_felt=False)])
    (finding,) = check_gate(GateAnswers(NO_STOPS, (answered("unexplored_tunnel"),)), found)
    assert finding.level == "refuse"
    assert '"unexplored_tunnel_at_5"' in finding.says


@pytest.mark.parametrize("stop", ["exposed_organs", "unexplored_tunnel_at_5"])
def test_an_answer_for_a_stop_that_does_not_stand_is_asked_about(stop):
    assert said(GateAnswers(NO_STOPS, (answered(stop),))) == [("ask", "gate.answered.0.stop")]


def test_a_caution_cannot_be_answered_for_as_a_stop():
    assert said(GateAnswers({"anticoagulant": "yes"}, (answered("anticoagulant"),))) == [
        ("refuse", "gate.answered.0.stop")
    ]


def test_of_two_answers_for_one_stop_the_last_stands_and_is_said_to():
    answers = GateAnswers(
        NO_STOPS | {"eschar": "yes"}, (answered("eschar"), answered("eschar", reason="dry heel only"))
    )
    (stop,) = judge(answers).stops
    assert stop.reason == "dry heel only"
    assert [entry.reason for entry in stop.before] == ["covered by a contact layer"]
    assert said(answers) == [("note", "gate.answered.0")]


def test_keys_are_one_each_and_their_sources_exist():
    asked = [*STOPS, *CAUTIONS]
    assert len({a.key for a in asked}) == len(asked)
    assert {a.source for a in asked} <= SOURCES.keys()


def test_no_shown_word_promises_anything():
    words = [*(a.says for a in (*STOPS, *CAUTIONS)), *NOT_CONSIDERED]
    assert [w for w in words for forbidden in FORBIDDEN if forbidden in f"{w.lower()} "] == []


def test_what_to_watch_stands_beside_each_caution_that_is_yes_with_its_source():
    cautions = {c.key: c for c in judge(GateAnswers({a.key: "yes" for a in CAUTIONS if a not in FIRST_CALL})).cautions}
    assert [key for key, caution in cautions.items() if caution.answer == "yes" and not caution.watch] == []
    assert "gate.fda_counts" in cautions["anticoagulant"].watch
    assert "gate.watch, practice" in cautions["needs_mri"].watch
    flagged = check_gate(GateAnswers({"unstable": "yes", "bowel_content": "unknown"}))
    assert [(found.level, found.where) for found in flagged] == [("warn", "gate.unstable")]
    assert {c.watch for c in judge(GateAnswers({})).cautions} == {""}


@pytest.mark.parametrize("flag", ["unstable", "bleeding_now", "bowel_content", "unexplored_track"])
def test_a_red_flag_of_the_first_call_shuts_until_a_role_answers_for_it(flag):
    shut = judge(GateAnswers(NO_STOPS | {flag: "yes"}))
    assert (shut.state, [stop.key for stop in shut.stops]) == ("shut", [flag])
    taken = GateAnswers(NO_STOPS | {flag: "yes"}, (answered(flag),))
    assert judge(taken).state == "open"
    assert said(taken) == [("warn", f"gate.{flag}")]
    later = judge(GateAnswers(NO_STOPS | {flag: "no"}, (answered(flag),)))
    assert [(stop.key, stop.answer, stop.by_role) for stop in later.stops] == [(flag, "no", "surgeon")]


def test_a_red_flag_that_nobody_answered_is_listed_and_shuts_nothing():
    state = judge(GateAnswers(NO_STOPS))
    assert state.state == "open"
    assert {"unstable", "bleeding_now"} <= {c.key for c in state.cautions if c.answer == "unknown"}


def test_who_answered_for_a_tunnel_stays_listed_once_its_end_is_felt():
    (stop,) = judge(GateAnswers(NO_STOPS, (answered("unexplored_tunnel_at_5"),))).stops
    assert (stop.says, stop.answer) == ("tunnel at 5 o'clock, unexplored when it was answered for", "no")
    assert (stop.by_role, stop.reason, stop.at) == ("surgeon", "covered by a contact layer", AT)


def test_what_the_site_does_not_ask_for_is_not_listed_as_unanswered_but_a_yes_is():
    def listed(answers, site_asks):
        cautions = judge(GateAnswers(NO_STOPS | answers), site_asks=site_asks).cautions
        return [c.key for c in cautions if c.source == "gate.site_asks"]

    assert listed({}, ("consent", "photographs")) == ["consent_missing", "photographs_missing"]
    assert listed({}, ("consent",)) == ["consent_missing"]
    assert listed({"photographs_missing": "yes"}, ()) == ["photographs_missing"]


def test_each_source_named_in_what_to_watch_exists():
    state = judge(GateAnswers({asked.key: "yes" for asked in CAUTIONS}))
    named = [key for c in state.cautions for key in re.findall(r"[a-z]+\.[a-z0-9_]+", c.watch)]
    assert named
    assert [key for key in named if key not in SOURCES] == []
