"""A save with its log entry beside one bare insert that is synced to disk, taken turn by turn in one run."""

from __future__ import annotations

import sqlite3
import statistics
import tempfile
from datetime import UTC, datetime
from pathlib import Path
from time import perf_counter

from soakline.record.cases import NewCase, add_case, save_case
from soakline.record.opening import open_record
from soakline.record.verify import verify_record

ROUNDS = 200
NOW = datetime(2026, 11, 25, tzinfo=UTC)
TEXT = "x" * 2000


def main() -> None:
    """Print both medians in ms and their ratio."""
    with tempfile.TemporaryDirectory() as folder:
        bare = sqlite3.connect(Path(folder) / "bare.db", isolation_level=None)
        bare.execute("PRAGMA journal_mode = WAL")
        bare.execute("PRAGMA synchronous = FULL")
        bare.execute("CREATE TABLE t (id INTEGER PRIMARY KEY, x TEXT)")
        record = open_record(f"sqlite:///{Path(folder) / 'record.db'}")
        kept = add_case(record, NewCase("Demo", "care", TEXT), NOW)
        insert_ms: list[float] = []
        save_ms: list[float] = []
        for number in range(ROUNDS):
            start = perf_counter()
            bare.execute("INSERT INTO t (x) VALUES (?)", (TEXT,))
            insert_ms.append(1e3 * (perf_counter() - start))
            start = perf_counter()
            kept = save_case(record, kept.id, NewCase("Demo", "care", f"{TEXT}{number}"), kept.version_id, NOW)
            save_ms.append(1e3 * (perf_counter() - start))
        broken = verify_record(record).broken
        record.dispose()
        bare.close()
    insert, save = statistics.median(insert_ms), statistics.median(save_ms)
    print(f"bare insert {insert:.2f} ms, save with log {save:.2f} ms, ratio {save / insert:.2f}; breaks: {len(broken)}")


if __name__ == "__main__":
    main()
