"""Ceilings of lidocaine against the label's own section and the worked case, ``worked.lidocaine`` (W-07).

Each ceiling names its label section: Dosage and Administration, Maximum Recommended Dosages, of the US labels of
lidocaine hydrochloride injection (``anaesthetic.lidocaine_plain``, ``anaesthetic.lidocaine_epinephrine``) and of the
4 % topical solution (``anaesthetic.lidocaine_topical``).
"""

from dataclasses import replace
from datetime import date, datetime

import pytest

from soakline.guard.anaesthetic import Dose, Patient, allowance
from soakline.sources import source

DAY = date(2026, 11, 19)
AT = datetime(2026, 11, 22, 9, 10)
THIN = Patient(adult=True, pregnant="no", weight_lb=99, weighed_on=DAY)
ASKED = Dose("lidocaine", 10, 60, epinephrine=False, route="instilled", at=AT, state="asked")
SECTION = "section Maximum Recommended Dosages"


def weighing(weight_kg):
    return Patient(adult=True, pregnant="no", weight_kg=weight_kg, weighed_on=DAY)


def ceiling_mg(weight_kg, **dose):
    return allowance(weighing(weight_kg), [replace(ASKED, **dose)], window_h=24).ceiling_mg


@pytest.mark.parametrize(("weight_kg", "most_mg"), [(50, 225), (60, 270), (70, 300), (66.6, 299), (120, 300)])
def test_plain_is_the_lower_of_4_5_mg_per_kg_and_300_mg_by_the_section_of_the_injection_label(weight_kg, most_mg):
    assert ceiling_mg(weight_kg) == most_mg
    assert SECTION in source("anaesthetic.lidocaine_plain").citation
    assert "4.5 mg/kg" in source("anaesthetic.lidocaine_plain").says


@pytest.mark.parametrize(("weight_kg", "most_mg"), [(60, 420), (90, 500), (71, 497)])
def test_with_epinephrine_it_is_the_lower_of_7_mg_per_kg_and_500_mg_by_the_same_section(weight_kg, most_mg):
    assert ceiling_mg(weight_kg, epinephrine=True, route="infiltrated") == most_mg
    assert SECTION in source("anaesthetic.lidocaine_epinephrine").citation
    assert "7 mg/kg" in source("anaesthetic.lidocaine_epinephrine").says


@pytest.mark.parametrize("epinephrine", [True, False])
def test_the_topical_solution_keeps_the_ceiling_of_plain_by_the_section_of_its_own_label(epinephrine):
    assert ceiling_mg(60, epinephrine=epinephrine, route="topical", strength_mg_per_ml=40) == 270
    assert SECTION in source("anaesthetic.lidocaine_topical").citation
    assert "topical" in source("anaesthetic.lidocaine_topical").citation


def test_the_answer_itself_names_the_section_that_its_ceiling_stands_in():
    answers = [allowance(THIN, [replace(ASKED, **d)], 24) for d in ({}, {"epinephrine": True}, {"route": "topical"})]
    assert [SECTION in answer.says for answer in answers] == [True, True, True]
    assert len({answer.source for answer in answers}) == 3


def test_99_pounds_are_44_9_kg_202_mg_and_at_most_20_ml_of_1_percent():
    left = allowance(THIN, [ASKED], window_h=24)
    assert (left.ceiling_mg, left.left_mg, left.left_ml) == (202, 202, 20)
    assert any(done.result == "44.9 kg" for done in left.sums)


def test_60_ml_of_1_percent_is_600_mg_and_stops():
    says = allowance(THIN, [ASKED], window_h=24).says
    assert "STOP: 60 mL of 1 % (10 mg/mL) = 600 mg, above the 202 mg left" in says


def test_60_ml_of_0_2_percent_is_120_mg_and_does_not():
    says = allowance(THIN, [replace(ASKED, strength_mg_per_ml=2)], window_h=24).says
    assert "STOP" not in says
    assert "60 mL of 0.2 % (2 mg/mL) = 120 mg" in says


def test_after_80_mg_122_mg_are_left_12_ml_of_1_percent():
    before = Dose("lidocaine", 10, 8, epinephrine=False, route="infiltrated", at=AT.replace(hour=7), state="given")
    left = allowance(THIN, [before, ASKED], window_h=24)
    assert (left.given_mg, left.left_mg, left.left_ml) == (80, 122, 12)


def test_read_as_kg_99_would_allow_300_mg_48_percent_over():
    read_as_kg, right = ceiling_mg(99), allowance(THIN, [ASKED], window_h=24).ceiling_mg
    assert read_as_kg == 300
    assert read_as_kg / right - 1 == pytest.approx(0.48, abs=0.01)


@pytest.mark.parametrize(("per_kg", "most"), [(5.0, 300.0), (4.5, 400.0), (7.0, 500.0)])
def test_a_planted_wrong_limit_fails(monkeypatch, per_kg, most):
    monkeypatch.setattr("soakline.guard.anaesthetic._PLAIN", (per_kg, most, "anaesthetic.lidocaine_plain"))
    assert [ceiling_mg(kg) for kg in (50, 120)] != [225, 300]
