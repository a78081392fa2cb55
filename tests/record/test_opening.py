"""The record is opened so that what was acknowledged lasts, and its tables are those the program expects."""

import signal
import subprocess
import sys
from datetime import UTC, datetime

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import text
from sqlalchemy.exc import IntegrityError

from soakline.errors import InputRefused
from soakline.record.cases import list_cases, list_versions
from soakline.record.opening import open_record, reading
from soakline.record.schema import Base

NOW = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)

SAVE_WITHOUT_END = """
import sys
from datetime import UTC, datetime
from soakline.record.cases import NewCase, add_case, save_case
from soakline.record.opening import open_record

engine = open_record(sys.argv[1])
now = datetime(2026, 11, 25, tzinfo=UTC)
kept = add_case(engine, NewCase("Demo", "care", "text 1"), now)
print(kept.version_id, flush=True)
while True:
    kept = save_case(engine, kept.id, NewCase("Demo", "care", f"text {kept.version_id + 1}"), kept.version_id, now)
    print(kept.version_id, flush=True)
"""


def pragma(engine, name: str):
    with engine.connect() as connection:
        return connection.execute(text(f"PRAGMA {name}")).scalar()


@pytest.mark.parametrize(
    ("name", "value"), [("journal_mode", "wal"), ("synchronous", 2), ("foreign_keys", 1), ("busy_timeout", 5000)]
)
def test_sqlite_is_set_to_lose_nothing(engine, name, value):
    assert pragma(engine, name) == value


def test_the_migrated_tables_are_those_of_the_schema(engine):
    with engine.connect() as connection:
        assert compare_metadata(MigrationContext.configure(connection), Base.metadata) == []


def test_opening_again_changes_nothing(engine, url):
    again = open_record(url)
    assert list_cases(again) == ()
    again.dispose()


def test_a_version_of_a_case_that_is_not_there_is_refused(engine):
    row = "INSERT INTO case_versions (case_id, version_id, text, content_hash, saved_at) VALUES (9, 1, '', '', :now)"
    with pytest.raises(IntegrityError, match="FOREIGN KEY"), engine.begin() as connection:
        connection.execute(text(row), {"now": NOW.isoformat()})


def test_a_writer_does_not_keep_a_reader_waiting(engine):
    with engine.begin() as writer, reading(engine).connect() as reader:
        writer.execute(text("DELETE FROM cases"))
        assert reader.execute(text("SELECT count(*) FROM cases")).scalar() == 0


def test_a_kill_right_after_an_acknowledged_save_loses_nothing(tmp_path):
    lost = []
    for round_ in range(20):
        url = f"sqlite:///{tmp_path / f'{round_}.db'}"
        acknowledged = _save_until_killed(url, saves=1 + round_ % 7)
        engine = open_record(url)
        texts = list_versions(engine, 1)
        engine.dispose()
        if texts[:acknowledged] != tuple(f"text {n + 1}" for n in range(acknowledged)):
            lost.append((round_, acknowledged, texts))
    assert lost == []


def _save_until_killed(url: str, saves: int) -> int:
    with subprocess.Popen([sys.executable, "-c", SAVE_WITHOUT_END, url], stdout=subprocess.PIPE, text=True) as process:
        for _ in range(saves):
            acknowledged = int(process.stdout.readline())
        process.send_signal(signal.SIGKILL)
    return acknowledged


@pytest.mark.parametrize(
    ("url", "why"),
    [
        ("cases.db", "not the address of a database"),
        ("postgresql://localhost/cases", "keeps its cases in SQLite"),
        ("sqlite://", "names no file"),
        ("sqlite:///:memory:", "names no file"),
    ],
)
def test_an_address_that_is_no_sqlite_file_is_refused_in_words(url, why):
    with pytest.raises(InputRefused, match=why):
        open_record(url)


def test_a_file_that_is_no_record_is_refused_and_left_as_it_was(tmp_path):
    letter = tmp_path / "letter.txt"
    letter.write_text("Dear colleague, " * 200)
    with pytest.raises(InputRefused, match="cannot be opened as a record"):
        open_record(f"sqlite:///{letter}")
    assert letter.read_text().startswith("Dear colleague, Dear colleague")
