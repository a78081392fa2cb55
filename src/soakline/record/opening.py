"""Open the record: connect, make every write lasting, and bring the tables up to this version."""

from __future__ import annotations

import sqlite3
from pathlib import Path

from alembic import command
from alembic.config import Config
from sqlalchemy import Connection, Engine, create_engine, event, make_url
from sqlalchemy.pool import ConnectionPoolEntry

BUSY_MS = 5000
_MIGRATIONS = Path(__file__).with_name("migrations")


def open_record(url: str) -> Engine:
    """Return an engine on the database at ``url``, its tables brought up to this version.

    The folder of an SQLite file is made where it is missing.
    """
    engine = create_engine(url)
    if engine.dialect.name == "sqlite":
        _make_folder(url)
        event.listen(engine, "connect", _make_lasting)
        event.listen(engine, "begin", _begin)
    _bring_up(engine)
    return engine


def reading(engine: Engine) -> Engine:
    """Return the same record for reading alone: its transactions do not wait for a writer."""
    return engine.execution_options(reading=True)


def _make_folder(url: str) -> None:
    file = make_url(url).database
    if file and file != ":memory:":
        Path(file).parent.mkdir(parents=True, exist_ok=True)


def _make_lasting(connection: sqlite3.Connection, _entry: ConnectionPoolEntry) -> None:
    # The driver opens transactions by itself, and only before some statements; it is told not to.
    connection.isolation_level = None
    for pragma in ("journal_mode = WAL", "synchronous = FULL", "foreign_keys = ON", f"busy_timeout = {BUSY_MS}"):
        connection.execute(f"PRAGMA {pragma}")


def _begin(connection: Connection) -> None:
    # A transaction that reads first and writes later would be refused when somebody else wrote in between.
    reads = connection.get_execution_options().get("reading", False)
    connection.exec_driver_sql("BEGIN" if reads else "BEGIN IMMEDIATE")


def _bring_up(engine: Engine) -> None:
    config = Config()
    config.set_main_option("script_location", str(_MIGRATIONS).replace("%", "%%"))
    with engine.begin() as connection:
        config.attributes["connection"] = connection
        command.upgrade(config, "head")
