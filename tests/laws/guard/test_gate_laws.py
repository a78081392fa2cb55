"""What holds for the gate whatever was answered."""

from datetime import datetime

from hypothesis import given
from hypothesis import strategies as st

from soakline.guard.gate import CAUTIONS, FIRST_CALL, STOPS, AnsweredStop, GateAnswers, judge

KEYS = [asked.key for asked in STOPS]
ANSWERS = st.sampled_from(["yes", "no", "unknown"])
STOP_ANSWERS = st.dictionaries(st.sampled_from(KEYS), ANSWERS)
FLAGS = [asked.key for asked in FIRST_CALL]
CAUTION_ANSWERS = st.dictionaries(st.sampled_from([a.key for a in CAUTIONS if a.key not in FLAGS]), ANSWERS)
FLAG_ANSWERS = st.dictionaries(st.sampled_from(FLAGS), ANSWERS)
TUNNEL = "unexplored_tunnel_at_5"
TAKEN = st.sets(st.sampled_from([*KEYS, TUNNEL]))


def gate(answers, taken=()):
    entries = tuple(AnsweredStop(key, "surgeon", "seen", datetime(2026, 11, 20)) for key in sorted(taken))
    return judge(GateAnswers(answers, entries))


@given(STOP_ANSWERS, TAKEN)
def test_open_means_every_stop_is_no_or_taken_by_a_role(answers, taken):
    each_met = all(answers.get(key) == "no" or key in taken for key in KEYS)
    assert (gate(answers, taken).state == "open") == each_met


@given(STOP_ANSWERS, st.sampled_from(KEYS))
def test_an_unanswered_stop_weighs_as_much_as_unknown(answers, key):
    without = {k: v for k, v in answers.items() if k != key}
    not_answered, not_known = gate(without), gate(without | {key: "unknown"})
    assert not_answered.state == not_known.state
    assert [(stop.key, stop.answer) for stop in not_answered.stops] == [
        (stop.key, stop.answer) for stop in not_known.stops
    ]


@given(STOP_ANSWERS, CAUTION_ANSWERS, TAKEN)
def test_cautions_never_move_the_gate(answers, cautions, taken):
    assert gate(answers | cautions, taken).state == gate(answers, taken).state


@given(STOP_ANSWERS, FLAG_ANSWERS, TAKEN)
def test_a_red_flag_only_ever_shuts(answers, flags, taken):
    shut = "yes" in flags.values() or gate(answers, taken).state == "shut"
    assert (gate(answers | flags, taken).state == "shut") == shut


@given(STOP_ANSWERS, TAKEN)
def test_no_stop_that_is_not_no_and_none_that_was_ever_taken_goes_unlisted(answers, taken):
    standing = {k for k in KEYS if answers.get(k) != "no"}
    assert {stop.key for stop in gate(answers, taken).stops} == standing | taken
