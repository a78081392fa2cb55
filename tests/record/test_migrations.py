"""A record that an older version wrote is brought up with nothing lost, and its log then tells of it."""

from datetime import UTC, datetime

import pytest
from alembic import command
from alembic.config import Config
from alembic.script import ScriptDirectory
from sqlalchemy import create_engine, text

from soakline.errors import InputRefused
from soakline.record import opening
from soakline.record.cases import list_versions, text_hash
from soakline.record.log import list_entries
from soakline.record.opening import open_record
from soakline.record.verify import verify_record

NOW = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)


def upgraded_to(engine, revision: str):
    with engine.begin() as connection:
        command.upgrade(configured(connection), revision)


def configured(connection) -> Config:
    config = Config()
    config.set_main_option("script_location", str(opening._MIGRATIONS))
    config.attributes["connection"] = connection
    return config


@pytest.fixture(params=["sqlite", "postgresql"])
def empty_url(request: pytest.FixtureRequest, tmp_path):
    if request.param == "sqlite":
        return f"sqlite:///{tmp_path / 'old.db'}"
    server = request.getfixturevalue("server")
    return server.url(server.create_database())


def test_what_was_kept_before_there_was_a_log_is_told_to_it(empty_url):
    url = empty_url
    old = create_engine(url.replace("postgresql:", "postgresql+psycopg:"))
    upgraded_to(old, "0001")
    with old.begin() as connection:
        for statement in (
            "INSERT INTO cases VALUES (1, 'Größe', 'care', 'entered', 'b', :b, 2, :now, :now)",
            "INSERT INTO case_versions VALUES (1, 1, 1, 'a', :a, :now)",
            "INSERT INTO case_versions VALUES (2, 1, 2, 'b', :b, :now)",
        ):
            named = {"a": text_hash("a"), "b": text_hash("b"), "now": NOW.strftime("%Y-%m-%d %H:%M:%S.%f")}
            connection.execute(text(statement), {k: v for k, v in named.items() if f":{k}" in statement})
    old.dispose()
    engine = open_record(url)
    assert list_versions(engine, 1) == ("a", "b")
    assert [(entry.what, entry.corrects_id) for entry in list_entries(engine, 1)] == [
        ("case added", None),
        ("case saved", 1),
    ]
    assert verify_record(engine).broken == ()
    engine.dispose()


def test_the_newest_version_by_the_names_of_the_files_is_the_newest_of_the_chain():
    config = Config()
    config.set_main_option("script_location", str(opening._MIGRATIONS))
    assert opening._newest_version() == ScriptDirectory.from_config(config).get_current_head()


def test_a_record_of_a_later_version_is_refused(empty_url):
    open_record(empty_url).dispose()
    later = create_engine(empty_url.replace("postgresql:", "postgresql+psycopg:"))
    with later.begin() as connection:
        connection.execute(text("UPDATE alembic_version SET version_num = '9999'"))
    later.dispose()
    with pytest.raises(InputRefused, match="9999"):
        open_record(empty_url)


def test_the_log_can_be_taken_away_and_made_again(engine):
    for revision in ("0001", "head"):
        with engine.begin() as connection:
            config = configured(connection)
            (command.downgrade if revision == "0001" else command.upgrade)(config, revision)
    assert verify_record(engine).broken == ()
