"""People at once, for minutes: 50 on PostgreSQL, 10 on SQLite; then every acknowledged save is looked for.

Usage: people.py [SECONDS]
"""

from __future__ import annotations

import csv
import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path

from served import hold, served

from soakline.record.cases import list_cases, list_versions
from soakline.record.opening import open_record

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT))

from tests.record.postgresql_server import started  # noqa: E402 - the tests' own server


def main() -> int:
    """Let people work on both databases; return 1 where an answer was a fault or an acknowledged save is gone."""
    seconds = sys.argv[1] if len(sys.argv) > 1 else "180"
    with tempfile.TemporaryDirectory() as folder, started() as server:
        at_postgresql = _work(Path(folder), server.url(server.create_database()), 50, seconds)
        at_sqlite = _work(Path(folder), f"sqlite:///{folder}/soakline.db", 10, seconds)
    return max(at_postgresql, at_sqlite)


def _work(folder: Path, database: str, people: int, seconds: str) -> int:
    kind = database.partition(":")[0]
    written, table = folder / f"{kind}.acknowledged", folder / kind
    written.touch()
    print(f"{kind}: {people} people for {seconds} s, load before {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")
    with served(folder, database) as (url, cookies):
        status = subprocess.run(  # noqa: S603 - the tool of this environment
            [
                Path(sys.executable).with_name("locust"),
                f"--locustfile={Path(__file__).with_name('person.py')}",
                f"--host={url}",
                "--headless",
                f"--users={people}",
                "--spawn-rate=5",
                f"--run-time={seconds}s",
                "--stop-timeout=60",
                f"--csv={table}",
                "--only-summary",
            ],
            env={**os.environ, "SOAKLINE_ACKNOWLEDGED": str(written), "SOAKLINE_COOKIES": cookies},
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            check=False,
        ).returncode
    print(f"load after {os.getloadavg()[0]:.1f}")
    with Path(f"{table}_stats.csv").open() as lines:
        for line in csv.DictReader(lines):
            counted = f"{line['Request Count']} answers, {line['Failure Count']} faults"
            print(f"  {line['Name']}: {counted}, p50 {line['50%']} ms, p95 {line['95%']} ms")
    with Path(f"{table}_failures.csv").open() as lines:
        for line in csv.DictReader(lines):
            print(f"  fault at {line['Name']}, {line['Occurrences']} times: {line['Error']}")
    lost = _lost(database, written)
    print(f"acknowledged saves: {len(written.read_text().splitlines())}, of them lost: {len(lost)}")
    return max(hold(database), min(status, 1), min(len(lost), 1))


def _lost(database: str, written: Path) -> list[list[object]]:
    record = open_record(database)
    texts = {case.id: list_versions(record, case.id) for case in list_cases(record)}
    record.dispose()
    acknowledged = [json.loads(line) for line in written.read_text().splitlines()]
    return [[case_id, mark] for case_id, mark in acknowledged if not _held(texts.get(case_id, ()), mark)]


def _held(texts: tuple[str, ...], mark: str) -> bool:
    return any(text.endswith(f"\n{mark}\n") for text in texts)


if __name__ == "__main__":
    sys.exit(main())
