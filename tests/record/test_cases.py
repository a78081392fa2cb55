"""Cases are kept with every text they had, and nobody overwrites what they have not read."""

import threading
from datetime import UTC, datetime, timedelta, timezone

import pytest

from soakline.errors import StaleRecord
from soakline.record.cases import (
    NewCase,
    add_case,
    find_case,
    import_demo,
    list_cases,
    list_versions,
    save_case,
)

NOW = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
LATER = NOW + timedelta(minutes=5)
FLANK = NewCase("Demo flank", "care", 'label = "Demo flank"\n')
BACK = NewCase("Demo back", "teaching", 'label = "Demo back"\n')


def changed(text: str) -> NewCase:
    return NewCase("Demo flank", "care", text)


def test_a_kept_case_comes_back_as_it_was(engine):
    kept = add_case(engine, FLANK, NOW)
    assert find_case(engine, kept.id) == kept
    assert (kept.label, kept.purpose, kept.text, kept.origin) == ("Demo flank", "care", FLANK.text, "entered")
    assert (kept.version_id, kept.created_at, kept.updated_at) == (1, NOW, NOW)


def test_a_number_nobody_was_given_finds_no_case(engine):
    assert find_case(engine, 404) is None


def test_text_outside_the_latin_letters_comes_back_whole(engine):
    text = "label = 'Größe ≤ 3 cm\r\n\ttab'\n"
    kept = add_case(engine, changed(text), NOW)
    assert find_case(engine, kept.id).text == text


def test_every_saved_text_stays(engine):
    kept = add_case(engine, FLANK, NOW)
    second = save_case(engine, kept.id, changed("two"), kept.version_id, LATER)
    save_case(engine, kept.id, changed("three"), second.version_id, LATER)
    assert list_versions(engine, kept.id) == (FLANK.text, "two", "three")
    assert find_case(engine, kept.id).text == "three"


def test_a_save_keeps_when_the_case_began_and_moves_when_it_was_changed(engine):
    kept = add_case(engine, FLANK, NOW)
    saved = save_case(engine, kept.id, changed("two"), kept.version_id, LATER)
    assert (saved.created_at, saved.updated_at, saved.version_id) == (NOW, LATER, 2)


def test_a_save_over_a_version_not_read_is_refused_and_changes_nothing(engine):
    kept = add_case(engine, FLANK, NOW)
    save_case(engine, kept.id, changed("the other person's"), kept.version_id, LATER)
    with pytest.raises(StaleRecord, match=r"you read version 1, the record now holds version 2"):
        save_case(engine, kept.id, changed("mine"), kept.version_id, LATER)
    assert list_versions(engine, kept.id) == (FLANK.text, "the other person's")


def test_a_save_of_a_case_that_is_not_there_is_refused(engine):
    with pytest.raises(StaleRecord, match="not in the record"):
        save_case(engine, 404, FLANK, 1, NOW)


def test_of_many_people_who_read_the_same_version_one_saves(engine):
    kept = add_case(engine, FLANK, NOW)
    saved: list[str] = []
    refused: list[str] = []

    def save(name: str):
        try:
            save_case(engine, kept.id, changed(name), kept.version_id, LATER)
            saved.append(name)
        except StaleRecord:
            refused.append(name)

    people = [threading.Thread(target=save, args=(f"person {n}",)) for n in range(8)]
    for person in people:
        person.start()
    for person in people:
        person.join()
    assert len(saved) == 1
    assert len(refused) == 7
    assert list_versions(engine, kept.id) == (FLANK.text, saved[0])


def test_demo_cases_are_brought_in_once_and_never_beside_entered_ones(engine):
    assert import_demo(engine, [FLANK, BACK], NOW) == 2
    assert import_demo(engine, [FLANK, BACK], NOW) == 0
    assert [(case.label, case.origin) for case in list_cases(engine)] == [("Demo flank", "demo"), ("Demo back", "demo")]


def test_a_moment_without_a_zone_is_refused(engine):
    with pytest.raises(Exception, match="names its zone"):
        add_case(engine, FLANK, datetime(2026, 11, 25, 9, 0))
    assert list_cases(engine) == ()


def test_moments_are_kept_in_utc(engine):
    in_oslo = NOW.astimezone(timezone(timedelta(hours=1)))
    kept = add_case(engine, FLANK, in_oslo)
    assert find_case(engine, kept.id).created_at.utcoffset() == timedelta(0)
    assert find_case(engine, kept.id).created_at == NOW
