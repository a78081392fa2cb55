"""Open the record: connect, make every write lasting, and bring the tables up to this version."""

from __future__ import annotations

import sqlite3
from collections.abc import Generator
from contextlib import contextmanager
from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.util import CommandError
from sqlalchemy import Connection, Engine, create_engine, event, make_url
from sqlalchemy.exc import ArgumentError, DatabaseError, InternalError, OperationalError
from sqlalchemy.exc import TimeoutError as NoConnection
from sqlalchemy.orm import Session
from sqlalchemy.pool import ConnectionPoolEntry

from soakline.errors import Finding, InputRefused, RecordUnavailable

BUSY_MS = 5000
_MIGRATIONS = Path(__file__).with_name("migrations")


def open_record(url: str) -> Engine:
    """Return an engine on the SQLite file at ``url``, its tables brought up to this version.

    The file and its folder are made where they are missing. Raises InputRefused when the address is none of an SQLite
    file, or the file cannot be opened as one.
    """
    _file_of(url).parent.mkdir(parents=True, exist_ok=True)
    engine = create_engine(url)
    event.listen(engine, "connect", _make_lasting)
    event.listen(engine, "begin", _begin)
    try:
        _bring_up(engine)
    except (DatabaseError, CommandError) as error:
        raise _refused(url, f"it cannot be opened as a record of this version ({error.args[0]})") from error
    return engine


def reading(engine: Engine) -> Engine:
    """Return the same record for reading alone: its transactions do not wait for a writer."""
    return engine.execution_options(reading=True)


@contextmanager
def writing_session(engine: Engine) -> Generator[Session, None, None]:
    """Give a session whose work is on disk, all or none, when the block ends; writers wait for each other.

    Raises RecordUnavailable where the database cannot write.
    """
    with _said_in_words("written"), Session(engine, expire_on_commit=False) as session, session.begin():
        yield session


@contextmanager
def reading_session(engine: Engine) -> Generator[Session, None, None]:
    """Give a session that reads one state of the record; raises RecordUnavailable where the database cannot."""
    with _said_in_words("read"), Session(reading(engine)) as session:
        yield session


@contextmanager
def _said_in_words(done: str) -> Generator[None, None, None]:
    try:
        yield
    except NoConnection as busy:
        msg = f"The record could not be {done}: too many ask at once. Try again in a moment"
        raise RecordUnavailable(msg) from busy
    except (OperationalError, InternalError, DatabaseError) as fault:
        if type(fault) not in {OperationalError, InternalError, DatabaseError}:
            raise
        msg = (
            f"The record could not be {done}; the database says: {_first_line(fault)}. Tell whoever looks after the "
            "record; open the case again to see what it holds"
        )
        raise RecordUnavailable(msg) from fault


def _first_line(fault: DatabaseError) -> str:
    return str(fault.orig).partition("\n")[0].rstrip(". ")


def _file_of(url: str) -> Path:
    try:
        parsed = make_url(url)
    except ArgumentError as error:
        raise _refused(url, "it is not the address of a database") from error
    if parsed.get_backend_name() != "sqlite":
        raise _refused(url, "this version keeps its cases in SQLite")
    if parsed.database in {None, "", ":memory:"}:
        raise _refused(url, "it names no file, and what is kept in memory is lost")
    return Path(str(parsed.database))


def _refused(url: str, why: str) -> InputRefused:
    says = f'"{url}": {why}; allowed is sqlite:/// and the path of a file that you may write; change the address'
    return InputRefused([Finding("refuse", "database_url", says)])


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
