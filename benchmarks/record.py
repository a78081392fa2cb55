"""A save with its log entry beside one bare insert that is synced to disk, taken turn by turn in one run."""

from __future__ import annotations

import os
import sqlite3
import statistics
import tempfile
from datetime import UTC, datetime
from pathlib import Path
from time import perf_counter, process_time

from soakline.record.cases import NewCase, add_case, save_case
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
    bare = sqlite3.connect(folder / "bare.db", isolation_level=None)
    bare.execute("PRAGMA journal_mode = WAL")
    bare.execute("PRAGMA synchronous = FULL")
    bare.execute("CREATE TABLE t (id INTEGER PRIMARY KEY, x TEXT)")
    record = open_record(f"sqlite:///{folder / 'record.db'}")
    kept = add_case(record, NewCase("Demo", "care", TEXT), NOW)
    insert_ms: list[float] = []
    save_ms: list[float] = []
    cpu_ms: list[float] = []
    for number in range(ROUNDS):
        start = perf_counter()
        bare.execute("INSERT INTO t (x) VALUES (?)", (TEXT,))
        insert_ms.append(1e3 * (perf_counter() - start))
        start, cpu = perf_counter(), process_time()
        kept = save_case(record, kept.id, NewCase("Demo", "care", f"{TEXT}{number}"), kept.version_id, NOW)
        save_ms.append(1e3 * (perf_counter() - start))
        cpu_ms.append(1e3 * (process_time() - cpu))
    broken = verify_record(record).broken
    record.dispose()
    bare.close()
    ratio = statistics.median(save_ms) / statistics.median(insert_ms)
    print(
        f"bare insert {_middle(insert_ms)} ms, save with log {_middle(save_ms)} ms, ratio {ratio:.2f}; "
        f"of it processor {statistics.median(cpu_ms):.2f} ms; breaks: {len(broken)}"
    )


def _middle(values: list[float]) -> str:
    low, median, high = statistics.quantiles(values, n=4)
    return f"{median:.2f} ({low:.2f} to {high:.2f})"


if __name__ == "__main__":
    main()
