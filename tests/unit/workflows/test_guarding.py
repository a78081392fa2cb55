"""Doses, foam and solutions of a case file, as the plan answers them; what cannot be used is refused or asked."""

import json

import pytest

from soakline.casefile.read import read_case
from soakline.guard.gate import STOPS
from soakline.settings import Settings
from soakline.workflows.as_json import plan_json
from soakline.workflows.plan import Asked, plan_case

HEAD = 'format = "soakline-case/1"\nlabel = "Demo"\npurpose = "care"\n'
GATE = "[gate]\n" + "".join(f'{stop.key} = "no"\n' for stop in STOPS)
THIN = '[patient]\nadult = true\npregnant = "no"\nweight_kg = 44.9\nweighed_on = 2026-11-19\n'
LIDOCAINE = '[[anaesthetic]]\ndrug = "lidocaine"\npercent = {}\nvolume_ml = {}\nepinephrine = false\nstate = "{}"\n'
FOAM = '[[foam]]\nname = "{}"\nkind = "foam"\nplace = "{}"\nplaced_at = 2026-11-20T13:30:00\nstate = "{}"\n'
W_08 = "".join(
    FOAM.format(*piece)
    for piece in (
        ("A1", "around the deep port", "out whole"),
        ("A2", "around the deep port", "out torn"),
        ("B1", "tunnel at 5 o'clock", "in"),
        ("C1", "opening", "out whole"),
        ("C2", "opening", "out whole"),
    )
)


def plan(text):
    reading = read_case(HEAD + text)
    assert reading.case is not None, reading.findings
    return plan_case(reading.case, reading.findings, Settings.from_environment(), Asked(models=()))


def answer(text):
    return json.loads(plan_json(plan(text)))


def refused(text):
    return [(f.where, f.says) for f in read_case(HEAD + text).findings if f.level == "refuse"]


def said(text):
    return [(f.level, f.where, f.says) for f in plan(text).findings]


def test_the_ceiling_stands_in_the_json_under_its_keys():
    dose = answer(GATE + THIN + LIDOCAINE.format(1, 60, "asked"))["anaesthetic"]
    assert (dose["ceiling_mg"], dose["left_mg"], dose["left_ml"]) == (202, 202, 20)
    assert "STOP: 60 mL of 1 %" in dose["says"]


def test_what_meets_the_solution_stands_in_the_json_with_the_formulary_and_its_sign_off():
    met = '[dressing]\nskin_preparation = "chlorhexidine 2 %"\n[[unit]]\nname = "A"\nsolution = "saline"\n'
    solutions = answer(GATE + met)["solutions"]
    assert solutions["formulary"] == "shipped with Soakline, signed by nobody"
    assert [pair["verdict"] for pair in solutions["meetings"]] == ["not shown compatible"]


def test_missing_and_torn_foam_stand_in_the_json_under_their_keys():
    foam = answer(GATE + W_08)["foam"]
    assert (foam["missing"], foam["torn"], foam["state"]) == (["B1"], ["A2"], "unresolved")
    assert foam["label"] == "1 piece inside: B1 foam, tunnel at 5 o'clock"
    assert {"at": "2026-11-20T13:30:00", "says": "C2 foam placed: opening, by whom not written"} in foam["history"]


def test_foam_that_nobody_entered_is_not_called_matched():
    answered = answer(GATE)
    assert answered["foam"] is None
    assert answered["anaesthetic"] is None


@pytest.mark.parametrize("gate", ["", "[gate]\n" + "".join(f'{s.key} = "unknown"\n' for s in STOPS)])
def test_all_unknown_or_unanswered_gives_no_plan(gate):
    answered = answer(gate + THIN + LIDOCAINE.format(1, 60, "asked") + W_08)
    assert answered["gate"]["state"] == "shut"
    assert set(answered) == {"label", "purpose", "findings", "gate"}
    assert any("missing: B1" in finding["says"] for finding in answered["findings"])


def test_w_09_two_stops_one_caution_one_conflict_and_an_override_that_stays():
    gate = GATE.replace('eschar = "no"', 'eschar = "yes"').replace('fistula = "no"', 'fistula = "yes"')
    met = '[dressing]\nskin_preparation = "chlorhexidine 2 %"\n[[unit]]\nname = "A"\nsolution = "sodium hypochlorite"\n'
    shut = plan(gate + 'anticoagulant = "yes"\n' + met)
    assert [stop.key for stop in shut.gate.stops] == ["eschar", "unexplored_fistula"]
    assert [caution.key for caution in shut.gate.cautions if caution.answer == "yes"] == ["anticoagulant"]
    assert [f.where for f in shut.findings if "conflict" in f.says] == ["dressing"]
    taken = "".join(
        f'[[gate.answered]]\nstop = "{key}"\nby_role = "surgeon"\nreason = "seen"\nat = 2026-11-20T13:00:00\n'
        for key in ("eschar", "unexplored_fistula")
    )
    opened = plan(gate + taken + met)
    assert opened.gate.state == "open"
    assert [stop.by_role for stop in opened.gate.stops] == ["surgeon", "surgeon"]


def test_a_weight_of_99_without_unit_is_no_key_and_gives_no_dose():
    ((where, says),) = refused(THIN.replace("weight_kg = 44.9", "weight = 99"))
    assert where == "patient.weight"
    assert "did you mean weight_" in says


@pytest.mark.parametrize("weight", ["", "weight_lb = 99\n"])
def test_a_weight_is_needed_with_its_unit(weight):
    text = GATE + THIN.replace("weight_kg = 44.9\n", weight) + LIDOCAINE.format(1, 60, "asked")
    assert answer(text)["anaesthetic"]["ceiling_mg"] == (202 if weight else None)


def test_one_per_cent_written_as_words_is_refused_with_both_readings():
    ((where, says),) = refused(LIDOCAINE.format('"1"', 10, "asked"))
    assert where == "anaesthetic.0.percent"
    assert "1 % is 10 mg/mL, 1 mg/mL is 0.1 %" in says


def test_a_piece_placed_twice_a_negative_count_and_an_override_without_a_name_are_refused():
    assert [where for where, _ in refused(FOAM.format("A1", "bed", "in") * 2)] == ["foam.1.name"]
    assert [where for where, _ in refused('[[store]]\nkind = "set"\ncount = -1\n')] == ["store.0.count"]
    override = '[[gate.answered]]\nstop = "eschar"\nby_role = ""\nreason = "seen"\nat = 2026-11-20T13:00:00\n'
    assert [where for where, _ in refused(override)] == ["gate.answered.0.by_role"]


def test_a_piece_that_came_out_and_was_never_placed_is_asked_about():
    unknown = '[[foam]]\nname = "X9"\nkind = "foam"\nstate = "out whole"\n'
    assert ("ask", "foam.0.place") in [(level, where) for level, where, _ in said(GATE + unknown)]


def test_a_confirmed_key_that_matches_nothing_is_pointed_out():
    found = said('confirmed = ["patient.wieght_kg"]\n' + GATE)
    assert [says.split(":")[0] for _, where, says in found if where == "confirmed"] == ['"patient.wieght_kg"']


def test_the_weight_question_is_settled_by_confirming_it():
    text = GATE + THIN + LIDOCAINE.format(1, 10, "asked")
    assert ("ask", "patient.weight_kg") in [(level, where) for level, where, _ in said(text)]
    confirmed = said('confirmed = ["patient.weight_kg"]\n' + text)
    assert ("note", "patient.weight_kg") in [(level, where) for level, where, _ in confirmed]
