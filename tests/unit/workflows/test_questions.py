"""What is asked about a case, subject by subject, and what is not taken as an answer."""

from datetime import datetime

import pytest

from soakline.casefile.case import Case
from soakline.casefile.complaints import keys_of, sections
from soakline.errors import InputRefused
from soakline.guard.anaesthetic import Dose
from soakline.guard.foam import Counted, Piece
from soakline.guard.gate import CAUTIONS, STOPS, AnsweredStop, GateAnswers
from soakline.therapy.cycle import TherapyUnit
from soakline.workflows.questions import (
    ask_dressing,
    ask_gate,
    ask_order,
    ask_patient,
    settle_dressing,
    settle_gate,
)

AT = datetime(2026, 11, 20, 13)
CASE = Case("Demo", "care", "Europe/Oslo", None, frozenset(), None)
A1 = Piece("A1", "foam", "left pocket", AT, "surgeon")


def case(**more) -> Case:
    return Case("Demo", "care", "Europe/Oslo", None, frozenset(), None, **more)


def keys(parts) -> list[str]:
    return [question.key for part in parts for group in part.groups for question in group.questions]


def part(parts, says):
    return next(one for one in parts if one.says == says)


def test_the_gate_asks_each_stop_and_each_caution_once():
    asked = [key for key in keys(ask_gate(CASE, {"consent", "photographs"})) if key.startswith("gate.")]
    assert sorted(asked) == sorted(f"gate.{one.key}" for one in (*STOPS, *CAUTIONS))


def test_what_a_site_does_not_ask_for_is_asked_only_where_it_is_answered():
    answered = case(gate=GateAnswers({"photographs_missing": "yes"}))
    assert "gate.consent_missing" not in keys(ask_gate(answered, set()))
    assert "gate.photographs_missing" in keys(ask_gate(answered, set()))
    assert not [one for one in ask_gate(CASE, set()) if one.says == "What the site asks for"]


def test_who_answered_for_a_stop_stands_beside_it_and_is_not_asked_again():
    taken = AnsweredStop("eschar", "surgeon", "dry heel", AT)
    groups = part(ask_gate(case(gate=GateAnswers({}, (taken,))), set()), "Stops").groups
    told = {group.fixed["stop"]: group.told for group in groups if group.adds_to}
    assert told["eschar"] == ("Answered for by surgeon: dry heel (2026-11-20 13:00); it stays printed",)
    assert told["malignancy"] == ()


@pytest.mark.parametrize("said", ["yes", "unknown", None])
def test_a_role_may_answer_for_a_stop_whose_answer_is_no_no(said):
    changes = {"gate.eschar": said, "gate.answered.0.stop": "eschar"}
    assert settle_gate(CASE, dict(changes)) == changes


@pytest.mark.parametrize(("filed", "changed"), [({"eschar": "no"}, {}), ({"eschar": "yes"}, {"gate.eschar": "no"})])
def test_nobody_answers_for_a_stop_that_is_a_no(filed, changed):
    with pytest.raises(InputRefused, match=r"gate\.answered\.0\.by_role"):
        settle_gate(case(gate=GateAnswers(filed)), changed | {"gate.answered.0.stop": "eschar"})


def test_each_key_of_a_unit_and_of_the_patient_is_asked():
    of = dict(sections())
    units = case(unit=(TherapyUnit("A", started_at=datetime(2026, 10, 25, 2, 30)), TherapyUnit("B")))
    asked = keys(ask_order(units))
    held = {key for key in asked if key.startswith("unit.0.")}
    assert {key.split(".")[2] for key in held} == {*keys_of(of["unit"])} - {"name"}
    patient = keys(ask_patient(case(anaesthetic=(Dose("lidocaine", 10.0, 10.0),))))
    for start, section in (
        ("patient.", "patient"),
        ("anaesthetic.0.", "anaesthetic"),
        ("new.anaesthetic.", "anaesthetic"),
    ):
        assert {key.removeprefix(start) for key in patient if key.startswith(start)} == {*keys_of(of[section])}
    assert {key for key in asked if key.startswith("posture.")} == {f"posture.{key}" for key in keys_of(of["posture"])}


def test_each_key_of_the_dressing_is_asked():
    of = dict(sections())
    asked = keys(ask_dressing(CASE))
    for section in ("foam_count", "dressing"):
        assert {key for key in asked if key.startswith(f"{section}.")} == {
            f"{section}.{k}" for k in keys_of(of[section])
        }


def test_which_of_two_equal_times_is_asked_where_the_clocks_give_it_twice_alone():
    twice, once = datetime(2026, 10, 25, 2, 30), datetime(2026, 10, 25, 4, 30)
    for started_at, is_asked in ((twice, True), (once, False)):
        asked = keys(ask_order(case(unit=(TherapyUnit("A", started_at=started_at),))))
        assert ("unit.0.started_again" in asked) == is_asked


def test_a_piece_that_is_out_is_not_asked_about_and_one_of_no_state_is():
    out, unclear = Piece("B1", "foam", "bed", AT, state="out whole"), Piece("C1", "gauze", "bed", AT, state=None)
    asked = keys(ask_dressing(case(foam=(A1, out, unclear))))
    assert "foam.0.place" in asked
    assert "foam.0.state" not in asked
    assert not [key for key in asked if key.startswith("foam.1.")]
    assert "foam.2.state" in asked


def test_each_new_piece_gets_time_and_role_and_what_is_there_keeps_its_own():
    laid = {"laid.placed_at": AT, "laid.placed_by_role": "surgeon"}
    new = {
        "foam.1.state": "in",
        "foam.1.name": "B1",
        "foam.1.kind": "foam",
        "foam.1.place": "bed",
        "foam.0.place": "left",
    }
    assert settle_dressing(case(foam=(A1,)), laid | new) == new | {
        "foam.1.placed_at": AT,
        "foam.1.placed_by_role": "surgeon",
    }


def test_counts_of_an_earlier_dressing_go_when_those_of_this_one_are_written():
    earlier = case(foam=(A1,), foam_count=Counted(3, 3, datetime(2026, 11, 19), "surgeon"))
    now = settle_dressing(earlier, {"foam_count.label_count": 1})
    assert now == {
        "foam_count.label_count": 1,
        "foam_count.note_count": None,
        "foam_count.at": None,
        "foam_count.resolved_by_role": None,
    }
    same = case(foam=(A1,), foam_count=Counted(3, 3, datetime(2026, 11, 21), "surgeon"))
    assert settle_dressing(same, {"foam_count.label_count": 1}) == {"foam_count.label_count": 1}
