"""The stops and cautions against the tables they come from: ``gate.fda`` and ``gate.fda_risk_factors``."""

import pytest

from soakline.guard.gate import CAUTIONS, STOPS, GateAnswers, judge
from soakline.sources import source

# Table 1 of the two communications, transcribed.
CONTRAINDICATIONS = {
    "necrotic tissue with eschar present",
    "untreated osteomyelitis",
    "non-enteric and unexplored fistula",
    "malignancy in the wound",
    "exposed vasculature",
    "exposed nerves",
    "exposed anastomotic site",
    "exposed organs",
}
# Table 2, a word of each; exposed organs, vessels and nerves are asked as stops.
RISK_FACTORS = [
    "bleeding",
    "anticoagulants or platelet inhibitors",
    "friable or infected blood vessels",
    "vascular anastomosis",
    "infected wound",
    "osteomyelitis",
    "tendon",
    "ligament",
    "sharp edges (bone fragments)",
    "spinal cord injury",
    "enteric fistula",
    "magnetic resonance imaging",
    "hyperbaric chamber",
    "defibrillation",
    "size and weight",
    "vagus nerve",
    "all round",
    "intermittent or continuous",
]


def stops_of_the_fda(stops):
    return {stop.says for stop in stops if stop.source == "gate.fda"}


def test_every_contraindication_of_table_1_is_a_stop_and_no_other_is_credited_to_it():
    assert stops_of_the_fda(STOPS) == CONTRAINDICATIONS


def test_a_planted_list_that_lost_a_contraindication_fails():
    assert stops_of_the_fda(STOPS[1:]) != CONTRAINDICATIONS


def test_the_quoted_source_says_the_same():
    assert all(words in source("gate.fda").says for words in CONTRAINDICATIONS)


@pytest.mark.parametrize("words", RISK_FACTORS)
def test_every_risk_factor_of_table_2_is_a_caution(words):
    assert [c.key for c in CAUTIONS if words in c.says and c.source == "gate.fda_risk_factors"]


def test_table_2_has_no_caution_that_is_not_in_the_list():
    credited = [c for c in CAUTIONS if c.source == "gate.fda_risk_factors"]
    assert len(credited) == len(RISK_FACTORS)


def test_the_ninth_stop_is_credited_to_practice():
    ninth = [stop for stop in STOPS if stop.source != "gate.fda"]
    assert [(stop.key, source(stop.source).confidence) for stop in ninth] == [("opens_into_cavity", "practice")]


@pytest.mark.parametrize("stop", [stop.key for stop in STOPS])
def test_each_contraindication_alone_shuts_the_gate(stop):
    others = {asked.key: "no" for asked in STOPS if asked.key != stop}
    assert judge(GateAnswers(others | {stop: "yes"})).state == "shut"
    assert judge(GateAnswers(others)).state == "shut"
    assert judge(GateAnswers(others | {stop: "no"})).state == "open"
