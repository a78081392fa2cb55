"""Every fact has a key, words, a citation, and says how far it was checked."""

import re
from typing import get_args

import pytest

from soakline.sources import SOURCES, Confidence, source

FACTS = list(SOURCES.values())


@pytest.mark.parametrize("fact", FACTS, ids=lambda fact: fact.key)
def test_a_fact_is_filled_and_its_key_is_area_dot_item(fact):
    assert re.fullmatch(r"[a-z]+\.[a-z0-9_]+", fact.key)
    assert SOURCES[fact.key] is fact
    assert fact.says.strip()
    assert fact.citation.strip()
    assert fact.confidence in get_args(Confidence)


def test_no_key_is_given_twice():
    assert len({fact.says for fact in FACTS}) == len(FACTS)


def test_practice_and_memory_are_told_apart_from_what_was_checked():
    assert source("gate.fda").is_verified
    assert source("settling.barnes_2021").is_verified
    assert not source("foam.permeability").is_verified
    assert not source("fluids.canister_share").is_verified


def test_memory_never_cites_as_if_it_had_been_read():
    assert [f.key for f in FACTS if f.confidence == "memory" and "memory" not in f.citation] == []


def test_what_was_read_cites_somebody():
    assert [
        f.key for f in FACTS if f.confidence == "read" and ("memory" in f.citation or "no source" in f.citation)
    ] == []


def test_an_unknown_key_is_answered_with_the_nearest():
    with pytest.raises(LookupError, match=r'"foam.porosty" is not a source key; the nearest is "foam.porosity"'):
        source("foam.porosty")


def test_the_list_cannot_be_changed():
    with pytest.raises(TypeError):
        SOURCES["x.y"] = FACTS[0]
