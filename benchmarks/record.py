"""A save with its log entry beside one bare insert that is synced to disk, taken turn by turn in one run.

Beside both stand the statements of a save run straight through the driver: what the database itself takes for them.
"""

from __future__ import annotations

import os
import sqlite3
import statistics
import tempfile
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from time import perf_counter, process_time

from soakline.record.cases import NewCase, add_case, save_case, text_hash
from soakline.record.log import hash_of
from soakline.record.opening import open_record
from soakline.record.verify import verify_record

RUNS = 5
ROUNDS = 200
NOW = datetime(2026, 11, 25, tzinfo=UTC)
TEXT = "x" * 2000


def main() -> None:
    """Print for each run both medians in ms with their quartiles, their ratio, and the processor time of a save."""
    print(f"load of the last minute {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores; {ROUNDS} turns a run")
    for _ in range(RUNS):
        with tempfile.TemporaryDirectory() as folder:
            _run(Path(folder))


def _run(folder: Path) -> None:
    bare = _lasting(folder / "bare.db")
    bare.execute("CREATE TABLE t (id INTEGER PRIMARY KEY, x TEXT)")
    by_driver = _save_by_driver(folder / "driven.db")
    record = open_record(f"sqlite:///{folder / 'record.db'}")
    kept = add_case(record, NewCase("Demo", "care", TEXT), NOW)
    insert_ms: list[float] = []
    driver_ms: list[float] = []
    save_ms: list[float] = []
    cpu_ms: list[float] = []
    for number in range(ROUNDS):
        start = perf_counter()
        bare.execute("INSERT INTO t (x) VALUES (?)", (TEXT,))
        insert_ms.append(1e3 * (perf_counter() - start))
        start = perf_counter()
        by_driver(f"{TEXT}{number}", number + 2)
        driver_ms.append(1e3 * (perf_counter() - start))
        start, cpu = perf_counter(), process_time()
        kept = save_case(record, kept.id, NewCase("Demo", "care", f"{TEXT}{number}"), kept.version_id, NOW)
        save_ms.append(1e3 * (perf_counter() - start))
        cpu_ms.append(1e3 * (process_time() - cpu))
    broken = verify_record(record).broken
    record.dispose()
    bare.close()
    ratio, least = (statistics.median(some) / statistics.median(insert_ms) for some in (save_ms, driver_ms))
    print(
        f"bare insert {_middle(insert_ms)} ms, save with log {_middle(save_ms)} ms, ratio {ratio:.2f}; "
        f"of it processor {statistics.median(cpu_ms):.2f} ms; "
        f"its statements by the driver {_middle(driver_ms)} ms, ratio {least:.2f}; breaks: {len(broken)}"
    )


def _lasting(file: Path) -> sqlite3.Connection:
    connection = sqlite3.connect(file, isolation_level=None)
    for pragma in ("journal_mode = WAL", "synchronous = FULL", "foreign_keys = ON"):
        connection.execute(f"PRAGMA {pragma}")
    return connection


def _save_by_driver(file: Path) -> Callable[[str, int], None]:
    """Return what saves a text as a version of the only case of a new record, by the five statements of a save."""
    record = open_record(f"sqlite:///{file}")
    add_case(record, NewCase("Demo", "care", TEXT), NOW)
    record.dispose()
    run = _lasting(file).execute
    stands = (
        "SELECT version_id, origin, created_at, ward, standing_id, (SELECT id FROM entries WHERE case_id = 1 "
        "ORDER BY id DESC LIMIT 1) FROM cases WHERE id = 1"
    )
    put = "UPDATE cases SET text = ?, content_hash = ?, version_id = ?, updated_at = ? WHERE id = 1"
    keep = "INSERT INTO case_versions (case_id, version_id, text, content_hash, saved_at) VALUES (1, ?, ?, ?, ?)"
    last = "SELECT id, hash FROM entries ORDER BY id DESC LIMIT 1"
    tell = (
        "INSERT INTO entries (id, at, who, what, case_id, content, corrects_id, previous_hash, hash) "
        "VALUES (?, ?, 'this computer', 'case saved', 1, ?, ?, ?, ?)"
    )

    def save(text: str, version: int) -> None:
        run("BEGIN IMMEDIATE")
        *_, replaces = run(stands).fetchone()
        digest = text_hash(text)
        run(put, (text, digest, version, "2026-11-25 00:00:00"))
        run(keep, (version, text, digest, "2026-11-25 00:00:00"))
        number, before = run(last).fetchone()
        said = (number + 1, NOW, "this computer", "case saved", 1, f'{{"version":{version}}}', replaces, before)
        run(tell, (number + 1, "2026-11-25 00:00:00", said[5], replaces, before, hash_of(*said)))
        run("COMMIT")

    return save


def _middle(values: list[float]) -> str:
    low, median, high = statistics.quantiles(values, n=4)
    return f"{median:.2f} ({low:.2f} to {high:.2f})"


if __name__ == "__main__":
    main()
