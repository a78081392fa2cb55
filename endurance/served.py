"""The application as it is served, on a free port of this computer, gone with the run."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections.abc import Generator
from contextlib import contextmanager
from pathlib import Path

import httpx

from soakline.record.opening import open_record
from soakline.record.verify import verify_record

TOKEN = "a-token-of-one-browser"  # noqa: S105 - what a browser's cookie and its forms share


@contextmanager
def served(folder: Path, database: str) -> Generator[tuple[str, str], None, None]:
    """Serve the record at ``database`` and give the address and the cookies of a browser that the pages are open to.

    What the server says goes into ``folder``.
    """
    program = Path(sys.executable).with_name("soakline")
    command = [program, "serve", "--port", "0", "--database", database]
    with (folder / "server.log").open("w") as says:
        process = subprocess.Popen(  # noqa: S603 - the program itself
            command, stdout=subprocess.PIPE, stderr=says, text=True, env={**os.environ, "PYTHONUNBUFFERED": "1"}
        )
    try:
        if process.stdout is None:
            msg = "the server has no output"
            raise RuntimeError(msg)
        first = process.stdout.readline()
        found = re.search(r"http://\S+", first)
        if found is None:
            msg = f"the server did not start: {first} {(folder / 'server.log').read_text()}"
            raise RuntimeError(msg)
        opened = httpx.get(found.group(), timeout=60)
        session = opened.cookies["soakline_session"]
        yield str(opened.url.join("/")).rstrip("/"), f"soakline_form={TOKEN}; soakline_session={session}"
    finally:
        process.terminate()
        process.wait(30)


def hold(database: str) -> int:
    """Hold the record against its log and say what it holds; return 1 where it breaks."""
    record = open_record(database)
    found = verify_record(record)
    record.dispose()
    print(f"the record: {found.cases} cases, {found.versions} versions, {found.plans} plans, {found.papers} papers")
    print(f"entries of its log: {found.head.entry_id}, breaks: {len(found.broken)}")
    return 1 if found.broken else 0
