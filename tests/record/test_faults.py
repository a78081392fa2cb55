"""Whatever fails under it, the record keeps what it acknowledged, its chain holds, and the fault is told in words."""

import os
import random
import shutil
import signal
import subprocess
import tempfile
import threading
import time
from datetime import UTC, datetime
from multiprocessing import get_context
from multiprocessing.connection import Connection
from pathlib import Path

import pytest
from sqlalchemy import event
from tests.record.postgresql_server import started

from soakline.errors import InputRefused, RecordUnavailable, StaleRecord
from soakline.record.cases import NewCase, add_case, find_case, list_versions, save_case
from soakline.record.opening import open_record
from soakline.record.verify import verify_record

NOW = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
KILLS = int(os.environ.get("SOAKLINE_TEST_KILLS", "20"))
"""Ten on each database; `make endurance` asks for more."""

# The programs that are killed come from one that has everything imported already.
FORKED = get_context("forkserver")
FORKED.set_forkserver_preload(["tests.record.test_faults"])


def demo(words: str) -> NewCase:
    return NewCase("Demo flank", "care", words)


def save_without_end(url: str, case_id: int, version: int, says: Connection):
    engine = open_record(url)
    says.send(version)
    while True:
        version = save_case(engine, case_id, demo(f"text {version + 1}"), version, NOW).version_id
        says.send(version)


def saved_until_killed(url: str, case_id: int, version: int, saves: int) -> int:
    """Return the last version acknowledged to somebody outside before the writer was killed at its next save."""
    hears, says = FORKED.Pipe(duplex=False)
    with hears:
        writer = FORKED.Process(target=save_without_end, args=(url, case_id, version, says))
        writer.start()
        says.close()
        for _ in range(saves + 1):
            version = hears.recv()
        os.kill(writer.pid, signal.SIGKILL)
        writer.join()
        assert writer.exitcode == -signal.SIGKILL
        while hears.poll():
            try:
                version = hears.recv()
            except EOFError:
                break
    return version


def test_no_acknowledged_save_is_lost_and_no_chain_broken_by_a_kill_during_writes(engine, url):
    version = add_case(engine, demo("text 1"), NOW).version_id
    for round_ in range(KILLS // 2):
        acknowledged = saved_until_killed(url, 1, version, saves=1 + round_ % 7)
        texts = list_versions(engine, 1)
        assert len(texts) - acknowledged in {0, 1}, f"kill {round_}: acknowledged {acknowledged}, kept {len(texts)}"
        assert texts == tuple(f"text {number + 1}" for number in range(len(texts)))
        version = len(texts)
    found = verify_record(engine)
    assert (found.broken, found.versions) == ((), version)
    # Read by whoever runs `make endurance`, which shows what passing tests print.
    print(f"{engine.dialect.name}: {KILLS // 2} kills, {version} versions kept, 0 acknowledged lost, 0 breaks")  # noqa: T201


@pytest.fixture
def kept(engine):
    add_case(engine, demo("one"), NOW)
    return engine


def unharmed(engine) -> bool:
    found = verify_record(engine)
    return (found.broken, list_versions(engine, 1)) == ((), ("one",)) and find_case(engine, 1).text == "one"


def test_a_full_disk_is_told_in_words_and_keeps_what_was_acknowledged(tmp_path):
    full = open_record(f"sqlite:///{tmp_path / 'soakline.db'}")
    add_case(full, demo("one"), NOW)
    pages = pragma(full, "page_count")
    event.listen(full, "begin", lambda connection: connection.exec_driver_sql(f"PRAGMA max_page_count = {pages}"))
    with pytest.raises(RecordUnavailable, match="could not be written; the database says: database or disk is full"):
        save_case(full, 1, demo("x" * 200_000), 1, NOW)
    assert unharmed(full)
    full.dispose()
    again = open_record(f"sqlite:///{tmp_path / 'soakline.db'}")
    assert save_case(again, 1, demo("x" * 200_000), 1, NOW).version_id == 2
    again.dispose()


@pytest.fixture
def small_disk():
    """A disk of 120 MB in memory, to be filled and to be set read-only."""
    folder = Path(tempfile.mkdtemp(prefix="soakline-disk-"))
    folder.chmod(0o755)
    as_disk = ["mount", "-t", "tmpfs", "-o", "size=120m,mode=755", "tmpfs", folder]
    try:
        mounted = subprocess.run(as_disk, capture_output=True, check=False)
        if mounted.returncode:
            pytest.skip(f"this user may not mount a disk: {mounted.stderr.decode().strip()}")
        yield folder
        subprocess.run(["umount", "--lazy", folder], check=True)
    finally:
        folder.rmdir()


def filled_up(disk: Path, left_bytes: int) -> Path:
    filler = disk / "filler"
    free = shutil.disk_usage(disk).free
    filler.write_bytes(b"\0" * (free - left_bytes))
    return filler


def saved_until_refused(engine) -> tuple[list[str], str]:
    """Save texts that cannot be packed until one is refused; return those acknowledged and what was told."""
    acknowledged = ["one"]
    while True:
        words = random.Random(len(acknowledged)).randbytes(100_000).hex()  # noqa: S311 - no secret
        try:
            save_case(engine, 1, demo(words), len(acknowledged), NOW)
        except RecordUnavailable as told:
            return acknowledged, str(told)
        acknowledged.append(words)


def test_a_disk_that_is_full_keeps_what_was_acknowledged_and_goes_on_once_there_is_room(small_disk):
    engine = open_record(f"sqlite:///{small_disk / 'soakline.db'}")
    add_case(engine, demo("one"), NOW)
    filler = filled_up(small_disk, 3_000_000)
    acknowledged, told = saved_until_refused(engine)
    assert "could not be written; the database says: database or disk is full" in told
    assert (list_versions(engine, 1), verify_record(engine).broken) == (tuple(acknowledged), ())
    filler.unlink()
    assert save_case(engine, 1, demo("room again"), len(acknowledged), NOW).version_id == len(acknowledged) + 1
    engine.dispose()


def test_a_servers_disk_that_is_full_keeps_what_was_acknowledged_and_goes_on_once_there_is_room(
    small_disk, monkeypatch
):
    monkeypatch.setattr(tempfile, "tempdir", str(small_disk))
    with started() as server:
        engine = open_record(server.url(server.create_database()))
        add_case(engine, demo("one"), NOW)
        filler = filled_up(small_disk, 3_000_000)
        acknowledged, told = saved_until_refused(engine)
        assert "could not be written; the database says" in told
        filler.unlink()
        kept = when_back(engine)
        # A commit that was being written when the room ran out may be kept though nobody was told so.
        assert kept[: len(acknowledged)] == tuple(acknowledged)
        assert len(kept) - len(acknowledged) in {0, 1}
        assert verify_record(engine).broken == ()
        assert save_case(engine, 1, demo("room again"), len(kept), NOW).version_id == len(kept) + 1
        engine.dispose()


def when_back(engine) -> tuple[str, ...]:
    """Read the texts once the server has recovered; it may end itself where its own log finds no room."""
    until = time.monotonic() + 60
    while True:
        try:
            return list_versions(engine, 1)
        except RecordUnavailable:
            if time.monotonic() > until:
                raise
            time.sleep(0.5)


def test_a_disk_for_reading_alone_is_told_in_words_and_loses_nothing(small_disk):
    url = f"sqlite:///{small_disk / 'soakline.db'}"
    engine = open_record(url)
    add_case(engine, demo("one"), NOW)
    engine.dispose()
    subprocess.run(["mount", "-o", "remount,ro", small_disk], check=True)
    with pytest.raises(InputRefused, match="cannot be opened as a record"):
        open_record(url)
    subprocess.run(["mount", "-o", "remount,rw", small_disk], check=True)
    again = open_record(url)
    assert unharmed(again)
    again.dispose()


def pragma(engine, name: str) -> int:
    with engine.connect() as connection:
        return connection.exec_driver_sql(f"PRAGMA {name}").scalar()


def test_a_record_that_may_only_be_read_is_told_in_words(kept):
    sqlite = kept.dialect.name == "sqlite"
    statement = "PRAGMA query_only = ON" if sqlite else "SET TRANSACTION READ ONLY"
    event.listen(kept, "begin", lambda connection: connection.exec_driver_sql(statement))
    with pytest.raises(RecordUnavailable, match=r"the database says: .*read-?only"):
        save_case(kept, 1, demo("two"), 1, NOW)
    assert unharmed(kept)


def test_a_writer_who_waits_too_long_for_another_is_told_in_words(kept):
    wait = "PRAGMA busy_timeout = 50" if kept.dialect.name == "sqlite" else "SET lock_timeout = 50"
    with kept.begin():
        event.listen(kept, "begin", lambda connection: connection.exec_driver_sql(wait), insert=True)
        with pytest.raises(RecordUnavailable, match=r"the database says: .*lock"):
            save_case(kept, 1, demo("two"), 1, NOW)
    assert unharmed(kept)


def test_a_server_that_drops_its_connections_loses_nothing_and_is_found_again(server, template):
    name = server.create_database(template=template)
    engine = open_record(server.url(name))
    add_case(engine, demo("one"), NOW)
    server.drop_connections(name)
    assert unharmed(engine)
    assert save_case(engine, 1, demo("two"), 1, NOW).version_id == 2
    engine.dispose()


def test_of_two_writers_on_one_case_each_save_is_kept_or_refused_and_the_chain_holds(kept):
    outcomes: list[str] = []

    def save(name: str):
        for number in range(10):
            try:
                save_case(kept, 1, demo(f"{name} {number}"), find_case(kept, 1).version_id, NOW)
                outcomes.append("kept")
            except StaleRecord:
                outcomes.append("refused")

    people = [threading.Thread(target=save, args=(name,)) for name in ("first", "second")]
    for person in people:
        person.start()
    for person in people:
        person.join()
    assert len(outcomes) == 20
    assert len(list_versions(kept, 1)) == 1 + outcomes.count("kept")
    assert verify_record(kept).broken == ()
