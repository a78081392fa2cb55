"""Whatever fails under it, the record keeps what it acknowledged, its chain holds, and the fault is told in words."""

import os
import signal
from datetime import UTC, datetime
from multiprocessing import get_context
from multiprocessing.connection import Connection

from soakline.record.cases import NewCase, add_case, list_versions, save_case
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
