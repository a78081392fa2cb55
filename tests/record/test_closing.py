"""A case is closed and opened again by entries of the log; nobody changes a closed one or closes what is not read."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from alembic import command
from sqlalchemy import text
from tests.record.test_cases import BACK, FLANK, changed
from tests.record.test_migrations import configured

from soakline.errors import CaseClosed, StaleRecord
from soakline.record.backup import back_up, restore
from soakline.record.cases import (
    NewClosing,
    Saved,
    Story,
    add_case,
    close_case,
    find_case,
    import_demo,
    list_cases,
    list_versions,
    reopen_case,
    save_case,
)
from soakline.record.log import list_entries
from soakline.record.opening import open_record
from soakline.record.verify import verify_record

NOW = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
LATER = NOW + timedelta(hours=1)
HEALED = NewClosing("wound closed", "sutured in theatre", "wound nurse")
LEFT = NewClosing("died", "at home", "wound nurse", ("foam count unresolved: B1 is missing",))


@pytest.fixture
def closed(engine):
    kept = add_case(engine, FLANK, NOW)
    close_case(engine, kept, HEALED, LATER)
    return find_case(engine, kept.id)


def test_a_closed_case_says_why_by_whom_and_when_and_keeps_its_text(engine, closed):
    why = closed.closing
    assert (why.kind, why.says, why.by_role, why.who, why.at) == (
        "wound closed",
        "sutured in theatre",
        "wound nurse",
        "this computer",
        LATER,
    )
    assert (closed.text, closed.version_id, closed.updated_at) == (FLANK.text, 1, NOW)
    assert list_cases(engine) == (closed,)


def test_what_was_left_open_stays_beside_the_reason_in_the_log(engine):
    kept = add_case(engine, FLANK, NOW)
    close_case(engine, kept, LEFT, LATER)
    assert find_case(engine, kept.id).closing.left_open == LEFT.left_open
    assert "foam count unresolved: B1 is missing" in list_entries(engine, kept.id)[-1].content


def test_closing_and_reopening_are_entries_that_point_at_what_they_replace(engine, closed):
    reopen_case(engine, closed, "it opened again", "surgeon", LATER)
    opened = find_case(engine, closed.id)
    close_case(engine, opened, HEALED, LATER)
    entries = list_entries(engine, closed.id)
    assert [(entry.what, entry.corrects_id) for entry in entries] == [
        ("case added", None),
        ("case closed", None),
        ("case reopened", 2),
        ("case closed", 3),
    ]
    assert opened.closing is None
    assert verify_record(engine).broken == ()


def test_a_closed_case_is_not_saved_and_a_reopened_one_is(engine, closed):
    with pytest.raises(CaseClosed, match="reopen it"):
        save_case(engine, closed.id, changed("two"), 1, LATER)
    assert list_versions(engine, closed.id) == (FLANK.text,)
    reopen_case(engine, closed, "not healed", "surgeon", LATER)
    saved = save_case(engine, closed.id, changed("two"), 1, LATER)
    assert saved == find_case(engine, closed.id)
    assert verify_record(engine).broken == ()


def test_a_case_saved_since_it_was_read_is_not_closed(engine):
    kept = add_case(engine, FLANK, NOW)
    save_case(engine, kept.id, changed("a piece is missing"), 1, LATER)
    with pytest.raises(StaleRecord, match="you read version 1, the record now holds version 2"):
        close_case(engine, kept, HEALED, LATER)
    assert find_case(engine, kept.id).closing is None


def test_a_case_closed_or_reopened_since_it_was_read_is_not_closed_again(engine, closed):
    read_while_open = add_case(engine, FLANK, NOW)
    close_case(engine, read_while_open, HEALED, LATER)
    with pytest.raises(StaleRecord, match="it is closed now"):
        close_case(engine, read_while_open, LEFT, LATER)
    reopen_case(engine, find_case(engine, read_while_open.id), "not healed", "surgeon", LATER)
    with pytest.raises(StaleRecord, match="it is open now"):
        close_case(engine, read_while_open, LEFT, LATER)
    with pytest.raises(StaleRecord, match="it is closed now"):
        close_case(engine, closed, HEALED, LATER)


def test_an_open_case_is_not_reopened(engine):
    kept = add_case(engine, FLANK, NOW)
    with pytest.raises(StaleRecord, match="it is open now"):
        reopen_case(engine, kept, "why not", "surgeon", LATER)


def test_a_case_that_is_not_there_is_not_closed(engine, closed):
    with pytest.raises(StaleRecord, match="not in the record"):
        close_case(engine, replace(closed, id=404), HEALED, LATER)


@pytest.mark.parametrize("forged", [None, 1])
def test_a_case_opened_or_closed_beside_the_log_is_found(engine, closed, forged):
    with engine.begin() as connection:
        connection.execute(text("UPDATE cases SET standing_id = :forged"), {"forged": forged})
    assert [(broken.where, broken.says) for broken in verify_record(engine).broken] == [
        (f"case {closed.id}", "is not open or closed as its last entry in the log tells")
    ]


def test_a_backup_brings_a_closed_case_back_closed(engine, closed, tmp_path):
    back_up(engine, tmp_path / "whole.zip", LATER, "0")
    other = open_record(f"sqlite:///{tmp_path / 'other.db'}")
    restore(other, tmp_path / "whole.zip")
    assert find_case(other, closed.id) == closed
    other.dispose()


def test_an_invented_story_is_told_with_its_own_moments_and_names(engine):
    days = [NOW + timedelta(days=day) for day in range(3)]
    told = (Saved(FLANK, days[0], "invented: wound nurse"), Saved(changed("two"), days[1], "invented: ward nurse"))
    assert (
        import_demo(engine, [BACK], LATER + timedelta(days=9), [Story(told, HEALED, days[2], "invented: surgeon")]) == 2
    )
    kept, other = list_cases(engine)
    assert [(entry.what, entry.at, entry.who) for entry in list_entries(engine, kept.id)] == [
        ("case added", days[0], "invented: wound nurse"),
        ("case saved", days[1], "invented: ward nurse"),
        ("case closed", days[2], "invented: surgeon"),
    ]
    assert (kept.closing.says, list_versions(engine, kept.id)) == (HEALED.says, (FLANK.text, "two"))
    assert (other.closing, list_entries(engine, other.id)[0].who) == (None, "this computer")
    found = verify_record(engine)
    assert (found.broken, found.backward) == ((), 0)


def test_a_record_of_before_has_every_case_open(engine):
    kept = add_case(engine, FLANK, NOW)
    for revision in ("0003", "head"):
        with engine.begin() as connection:
            (command.downgrade if revision == "0003" else command.upgrade)(configured(connection), revision)
    assert find_case(engine, kept.id) == kept
    assert verify_record(engine).broken == ()
