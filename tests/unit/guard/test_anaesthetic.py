"""When a dose gets a number, what counts against it, and in which words it is refused one."""

from dataclasses import replace
from datetime import date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soakline.guard.anaesthetic import Dose, Patient, allowance, check_anaesthetic, no_number, parse_strength
from soakline.sources import SOURCES

AT = datetime(2026, 11, 22, 9, 10)
PATIENT = Patient(
    adult=True,
    pregnant="no",
    weight_kg=82,
    weight_again_kg=81.5,
    weighed_on=date(2026, 11, 19),
    conduction_disease="no",
    liver_failure="no",
    heart_failure="no",
    other_anaesthetic="no",
    elderly_or_debilitated="no",
)
ASKED = Dose("lidocaine", 10, 10, epinephrine=False, route="instilled", at=AT, state="asked")
GIVEN = replace(ASKED, volume_ml=8, at=AT - timedelta(hours=3), state="given")


def left(patient=PATIENT, doses=(ASKED,), window_h=24):
    return allowance(patient, doses, window_h)


def said(patient=PATIENT, doses=(ASKED,), window_h=24):
    return [(f.level, f.where, f.says) for f in check_anaesthetic(patient, doses, window_h)]


@pytest.mark.parametrize(
    "change",
    [
        {"adult": False},
        {"adult": None},
        {"pregnant": "yes"},
        {"pregnant": "unknown"},
        {"conduction_disease": "yes"},
        {"liver_failure": "yes"},
        {"heart_failure": "yes"},
        {"other_anaesthetic": "yes"},
        {"weight_kg": None},
        {"weighed_on": None},
        {"weight_again_kg": 37.2},
        {"weight_lb": 82},
    ],
)
def test_an_exclusion_gives_no_number_at_all_and_says_why(change):
    answer = left(replace(PATIENT, **change))
    assert (answer.ceiling_mg, answer.given_mg, answer.left_mg, answer.left_ml, answer.sums) == (None,) * 4 + ((),)
    assert answer.says.startswith("No number: ")
    assert not any(character.isdigit() for character in answer.says.replace("82", "").replace("37.2", ""))
    assert [level for level, _, says in said(replace(PATIENT, **change)) if says.startswith("no number")] == ["warn"]


def test_another_drug_gives_no_number_for_either():
    answer = left(doses=(ASKED, Dose("bupivacaine", 2.5, 10, at=AT, state="given")))
    assert answer.ceiling_mg is None
    assert '"bupivacaine": no ceiling is cited for it' in answer.says


def test_a_given_dose_that_nobody_wrote_down_whole_gives_no_number():
    assert left(doses=(replace(GIVEN, volume_ml=None), ASKED)).left_mg is None
    assert left(doses=(replace(GIVEN, strength_mg_per_ml=None), ASKED)).left_mg is None


def test_all_routes_within_the_window_are_added_up():
    routes = ("infiltrated", "instilled", "topical", "intravenous", None)
    doses = [replace(GIVEN, route=route, volume_ml=3) for route in routes]
    assert left(doses=(*doses, ASKED)).given_mg == 150


def test_what_lies_before_the_window_does_not_count_and_what_has_no_time_does():
    old = replace(GIVEN, at=AT - timedelta(hours=25))
    assert left(doses=(old, ASKED)).given_mg == 0
    assert left(doses=(old, ASKED), window_h=26).given_mg == 80
    assert left(doses=(replace(old, at=None), ASKED)).given_mg == 80
    assert left(doses=(old, replace(ASKED, at=None))).given_mg == 80


def test_a_dose_without_state_counts_as_given():
    assert left(doses=(replace(GIVEN, state=None), ASKED)).given_mg == 80
    assert ("warn", "anaesthetic.0.state") in [
        (level, where) for level, where, _ in said(doses=(replace(GIVEN, state=None), ASKED))
    ]


def test_plain_beside_epinephrine_takes_the_lower_ceiling_and_so_does_one_that_is_not_stated():
    assert left(doses=(replace(ASKED, epinephrine=True),)).ceiling_mg == 500
    assert left(doses=(GIVEN, replace(ASKED, epinephrine=True))).ceiling_mg == 300
    assert left(doses=(replace(ASKED, epinephrine=None),)).ceiling_mg == 300


def test_a_given_overdose_leaves_nothing_and_says_stop():
    doses = (replace(GIVEN, volume_ml=40), ASKED)
    answer = left(doses=doses)
    assert (answer.left_mg, answer.left_ml) == (0, 0)
    assert any(says.startswith("STOP: 400 mg were given") for _, _, says in said(doses=doses))


def test_two_doses_asked_for_are_judged_together_too():
    doses = (replace(ASKED, volume_ml=20), replace(ASKED, volume_ml=20))
    assert [(where, says) for _, where, says in said(doses=doses)] == [
        ("anaesthetic", "STOP: all that is asked for, 400 mg, above the 300 mg left")
    ]


def test_with_exclusions_that_nobody_answered_the_ceiling_only_stops_and_says_so_first():
    patient = replace(PATIENT, liver_failure="unknown", heart_failure="unknown")
    answer = left(patient, (replace(ASKED, volume_ml=60),))
    assert answer.unanswered == ("liver failure", "heart failure")
    assert answer.says.startswith("Not answered: liver failure, heart failure. Until each is, this only stops and")
    assert "at most 300 mg left" in answer.says
    assert "STOP: 60 mL of 1 % (10 mg/mL) = 600 mg" in answer.says
    assert any(where == "patient" and "it allows nothing" in says for _, where, says in said(patient))


def test_a_weight_that_nothing_holds_against_pounds_is_not_answered_either_until_it_is_confirmed():
    alone = replace(PATIENT, weight_again_kg=None)
    assert left(alone).unanswered == ("weight in kg or in lb",)
    assert left(replace(alone, weight_confirmed=True)).unanswered == ()
    assert left(replace(alone, height_cm=178)).unanswered == ()
    assert left(PATIENT).unanswered == ()


def test_where_the_height_speaks_for_pounds_there_is_no_number_until_the_weight_is_confirmed_or_entered_again():
    heavy = replace(PATIENT, weight_kg=154, weight_again_kg=None, height_cm=172)
    assert left(heavy).ceiling_mg is None
    assert "speaks for a weight in lb" in left(heavy).says
    assert left(replace(heavy, weight_confirmed=True)).ceiling_mg == 300
    assert left(replace(heavy, weight_again_kg=153)).ceiling_mg == 300


def test_the_day_of_weighing_stands_in_the_sum_and_one_after_the_dose_is_asked_about():
    assert any("82 kg, weighed 2026-11-19 = 369 mg" in done.working for done in left().sums)
    ((level, where, says),) = said(replace(PATIENT, weighed_on=date(2026, 11, 23)))
    assert (level, where) == ("ask", "patient.weighed_on")
    assert "weighed 2026-11-23, after the last dose of 2026-11-22" in says


def test_published_trials_stand_beside_as_such():
    trial, crossover = left().published
    assert "pain 4.3 against 6.3" in trial
    assert "randomised" in trial
    assert "the user sets it" in crossover


def test_a_weight_that_nothing_confirms_is_asked_about_with_what_it_would_be_in_pounds():
    alone = replace(PATIENT, weight_again_kg=None)
    ((level, where, says),) = said(alone)
    assert (level, where) == ("ask", "patient.weight_kg")
    assert "In lb it would be 37.2 kg" in says


@pytest.mark.parametrize(("weight_kg", "height_cm", "asked"), [(154, 172, True), (82, 178, False), (99, 165, False)])
def test_a_height_asks_about_a_weight_that_fits_better_in_pounds(weight_kg, height_cm, asked):
    patient = replace(PATIENT, weight_kg=weight_kg, weight_again_kg=None, height_cm=height_cm)
    assert bool(said(patient)) is asked


def test_a_weight_in_pounds_beside_one_in_kg_is_the_second_entry():
    agreeing = replace(PATIENT, weight_again_kg=None, weight_lb=180.8)
    assert left(agreeing).ceiling_mg == 300
    assert said(agreeing) == []


def test_nothing_is_said_where_no_dose_is_entered():
    assert check_anaesthetic(Patient(), (), 24) == ()


def test_why_there_is_no_number_is_said_with_its_key():
    assert [where for where, _ in no_number(Patient(), ())] == [
        "patient.adult",
        "patient.pregnant",
        "patient.weight_kg",
    ]


@pytest.mark.parametrize(
    ("text", "mg_per_ml"), [("1 %", 10), ("1%", 10), ("0.2 %", 2), ("10 mg/mL", 10), (" 4  MG/ML ", 4)]
)
def test_a_strength_is_read_with_its_unit(text, mg_per_ml):
    assert parse_strength(text) == pytest.approx(mg_per_ml)


@pytest.mark.parametrize("text", ["1", "0.2", "", "one %", "-1 %", "0 %", "nan %", "inf mg/mL", "1 mg", "1,5 %"])
def test_a_strength_without_its_unit_or_number_is_refused_in_words(text):
    assert isinstance(parse_strength(text), str)


def test_the_sources_of_the_answer_exist():
    assert {left().source, left(doses=(replace(ASKED, route="topical"),)).source} <= SOURCES.keys()


doses_of_any_kind = st.lists(
    st.builds(
        Dose,
        st.just("lidocaine"),
        st.floats(0.5, 40),
        st.floats(0, 60),
        st.booleans(),
        st.sampled_from(["instilled", "topical", "infiltrated", None]),
        st.just(AT),
        st.sampled_from(["given", "asked"]),
    ),
    max_size=6,
)


@given(doses_of_any_kind, st.floats(20, 200))
def test_no_sum_of_doses_ever_passes_the_lower_limit_by_what_is_left(doses, weight_kg):
    patient = replace(PATIENT, weight_kg=weight_kg, weight_again_kg=None)
    answer = left(patient, doses)
    assert answer.ceiling_mg <= min(7 * weight_kg, 500)
    if answer.left_mg:
        assert answer.given_mg + answer.left_mg <= answer.ceiling_mg
        asked = [dose.strength_mg_per_ml for dose in doses if dose.state == "asked"]
        assert answer.left_ml is None or answer.left_ml * asked[-1] <= answer.left_mg + 1e-5


@given(doses_of_any_kind, doses_of_any_kind)
def test_another_dose_given_never_leaves_more(doses, more):
    given_more = [replace(dose, state="given", epinephrine=all(d.epinephrine for d in doses)) for dose in more]
    assert left(doses=(*doses, *given_more)).left_mg <= left(doses=tuple(doses)).left_mg or not doses
