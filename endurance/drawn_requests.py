"""Requests drawn from the application's own description of its addresses: no fault, and no answer left undescribed.

Usage: drawn_requests.py [SECONDS]
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from pathlib import Path

from served import hold, served

CHECKS = (
    "not_a_server_error",
    "status_code_conformance",
    "content_type_conformance",
    "response_headers_conformance",
    "response_schema_conformance",
    "unsupported_method",
)


def main() -> int:
    """Draw requests for so many seconds against a record of its own; return the status of the tool."""
    seconds = sys.argv[1] if len(sys.argv) > 1 else "900"
    with tempfile.TemporaryDirectory() as folder:
        database = f"sqlite:///{folder}/soakline.db"
        status = _draw(Path(folder), database, seconds)
        return max(status, hold(database))


def _draw(folder: Path, database: str, seconds: str) -> int:
    with served(folder, database) as (url, cookies):
        return subprocess.run(  # noqa: S603 - the tool of this environment
            [
                Path(sys.executable).with_name("schemathesis"),
                "fuzz",
                f"{url}/openapi.json",
                f"--max-time={seconds}",
                f"--checks={','.join(CHECKS)}",
                "--continue-on-failure",
                "--request-timeout=120",
                f"--header=Cookie:{cookies}",
                "--generation-database=none",
                # It would shut the pages to all requests that follow.
                "--exclude-path=/sign-out",
                "--no-color",
            ],
            env={**os.environ, "SCHEMATHESIS_HOOKS": "drawn_forms", "PYTHONPATH": str(Path(__file__).parent)},
            cwd=folder,
            check=False,
        ).returncode


if __name__ == "__main__":
    sys.exit(main())
