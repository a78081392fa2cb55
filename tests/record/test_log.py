"""The log tells of every change, and a check of the record finds whatever was changed behind its back."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from sqlalchemy import text
from sqlalchemy.exc import DatabaseError

from soakline.record.acting import Actor, acting_as
from soakline.record.cases import NewCase, add_case, save_case
from soakline.record.log import list_entries
from soakline.record.plans import NewPaper, NewPlan, find_paper, keep_paper, keep_plan, list_papers, plans_kept
from soakline.record.verify import Head, verify_record

NOW = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
LATER = NOW + timedelta(minutes=5)
FLANK = NewCase("Demo flank", "care", 'label = "Demo flank"\n')
PLAN = NewPlan("0.1.0", "rules 1", '{"seed":7}', '{"wound": null}')
CARD = NewPaper("bedside card", "application/pdf", b"%PDF-1.7 \x00\xff")


@pytest.fixture
def kept(engine):
    """A case of three versions with a plan and a paper: five entries."""
    case = add_case(engine, FLANK, NOW)
    for words in ("two", "three"):
        case = save_case(engine, case.id, NewCase("Demo flank", "care", words), case.version_id, LATER)
    keep_paper(engine, case, PLAN, CARD, LATER)
    return case


def let_change(engine):
    """Take the guards of the tables away, as somebody could who writes to the database itself."""
    with engine.begin() as connection:
        if engine.dialect.name == "sqlite":
            names = connection.execute(text("SELECT name FROM sqlite_master WHERE type = 'trigger'")).scalars().all()
            for name in names:
                connection.execute(text(f"DROP TRIGGER {name}"))
        else:
            for table in ("case_versions", "plans", "papers", "entries"):
                connection.execute(text(f"ALTER TABLE {table} DISABLE TRIGGER ALL"))


def tamper(engine, statement: str):
    let_change(engine)
    with engine.begin() as connection:
        if engine.dialect.name == "sqlite":
            connection.exec_driver_sql("PRAGMA defer_foreign_keys = ON")
        assert connection.execute(text(statement)).rowcount


def test_an_untouched_record_shows_no_break_and_counts_what_it_holds(engine, kept):
    found = verify_record(engine)
    assert found.broken == ()
    assert (found.head.entry_id, found.cases, found.versions, found.plans, found.papers) == (5, 1, 3, 1, 1)


@pytest.mark.parametrize(
    ("statement", "where", "says"),
    [
        (
            "UPDATE case_versions SET text = 'forged' WHERE version_id = 2",
            "case 1, version 2",
            "is not what its last entry",
        ),
        (
            "UPDATE case_versions SET saved_at = '2025-01-01' WHERE version_id = 2",
            "case 1, version 2",
            "is not what its last entry",
        ),
        ("DELETE FROM case_versions WHERE version_id = 2", "case 1, version 2", "gone"),
        ("UPDATE cases SET text = 'forged'", "case 1", "is not what its last entry"),
        ("UPDATE cases SET label = 'Somebody else'", "case 1", "is not what its last entry"),
        ("UPDATE cases SET version_id = 2", "case 1", "is not what its last entry"),
        ("UPDATE plans SET answer = '{}'", "plan 1", "is not what its last entry"),
        ("UPDATE plans SET settings = '{}'", "plan 1", "is not what its last entry"),
        ("UPDATE papers SET content = {x}", "paper 1", "is not what its last entry"),
        ("DELETE FROM papers", "paper 1", "gone"),
        ("UPDATE entries SET who = 'somebody else' WHERE id = 2", "entry 2", "its hash is not that of what it says"),
        ("UPDATE entries SET at = '2025-01-01' WHERE id = 2", "entry 2", "its hash is not that of what it says"),
        ("UPDATE entries SET previous_hash = hash WHERE id = 3", "entry 3", "hash of the entry before"),
        ("DELETE FROM entries WHERE id = 4", "entry 5", "entries between them are missing"),
        (
            "INSERT INTO case_versions SELECT 99, 1, 9, text, content_hash, saved_at FROM case_versions WHERE id = 1",
            "case 1, version 9",
            "the log does not tell of it",
        ),
    ],
)
def test_a_tampered_row_is_found_by_its_place(engine, kept, statement, where, says):
    tamper(engine, statement.replace("{x}", "x'78'" if engine.dialect.name == "sqlite" else "'x'::bytea"))
    found = [(broken.where, broken.says) for broken in verify_record(engine).broken]
    assert any(place == where and says in words for place, words in found), found


@pytest.mark.parametrize(
    ("statement", "where"),
    [
        ("UPDATE papers SET content = 7", "table papers"),
        ("UPDATE entries SET at = 'noon' WHERE id = 2", "table entries"),
    ],
)
def test_what_cannot_be_read_at_all_is_a_break_too(engine, kept, statement, where):
    if engine.dialect.name != "sqlite":
        pytest.skip("this database refuses a value of another kind itself")
    tamper(engine, statement)
    assert where in [broken.where for broken in verify_record(engine).broken]


def test_an_end_that_was_cut_off_is_found_by_a_head_kept_elsewhere(engine, kept):
    head = verify_record(engine).head
    assert verify_record(engine, head).broken == ()
    tamper(engine, "DELETE FROM papers")
    with engine.begin() as connection:
        connection.execute(text("DELETE FROM entries WHERE id = 5"))
    assert verify_record(engine).broken == ()
    assert [broken.where for broken in verify_record(engine, head).broken] == ["entry 5"]


def test_a_log_that_was_written_anew_is_found_by_a_head_kept_elsewhere(engine, kept):
    assert [broken.where for broken in verify_record(engine, Head(3, "f" * 64)).broken] == ["entry 3"]


@pytest.mark.parametrize("table", ["case_versions", "plans", "papers", "entries"])
@pytest.mark.parametrize("statement", ["UPDATE {} SET id = id + 100", "DELETE FROM {}"])
def test_the_database_itself_refuses_to_change_what_was_kept(engine, kept, table, statement):
    with pytest.raises(DatabaseError, match="never changed"), engine.begin() as connection:
        connection.execute(text(statement.format(table)))


def test_each_entry_names_who_did_it_and_points_at_what_it_replaces(engine):
    nurse = Actor("m.demo", "specialist", None)
    with acting_as(nurse):
        case = add_case(engine, FLANK, NOW)
    save_case(engine, case.id, NewCase("Demo flank", "care", "two"), 1, LATER)
    entries = list_entries(engine, case.id)
    assert [(e.what, e.who, e.corrects_id) for e in entries] == [
        ("case added", "m.demo", None),
        ("case saved", "this computer", 1),
    ]


def test_a_clock_set_back_breaks_nothing_and_is_said(engine):
    case = add_case(engine, FLANK, LATER)
    save_case(engine, case.id, NewCase("Demo flank", "care", "two"), 1, NOW)
    found = verify_record(engine)
    assert (found.broken, found.backward) == ((), 1)


def test_a_change_that_fails_leaves_no_entry(engine, kept):
    with pytest.raises(Exception, match="names its zone"):
        add_case(engine, FLANK, datetime(2026, 11, 25, 9, 0))
    assert verify_record(engine).head.entry_id == 5


def test_a_paper_comes_back_byte_for_byte_with_the_version_that_printed_it(engine, kept):
    save_case(engine, kept.id, NewCase("Demo flank", "care", "four"), kept.version_id, LATER)
    paper = find_paper(engine, 1)
    assert (paper.content, paper.version_id, paper.program_version) == (CARD.content, 3, "0.1.0")
    assert [line.id for line in list_papers(engine, kept.id)] == [1]


def test_the_same_plan_is_kept_once_and_another_beside_it(engine, kept):
    assert keep_plan(engine, kept, PLAN, LATER) == 1
    assert keep_plan(engine, kept, replace(PLAN, program_version="0.2.0"), LATER) == 2
    assert [(plan.program_version, plan.text) for plan in plans_kept(engine)] == [
        ("0.1.0", "three"),
        ("0.2.0", "three"),
    ]
