"""The tree as these tests walk it."""

import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="session")
def root() -> Path:
    return ROOT


@pytest.fixture(scope="session")
def package(root: Path) -> Path:
    return root / "src" / "soakline"


@pytest.fixture(scope="session")
def tracked(root: Path) -> list[Path]:
    """Give every file that is kept, or would be with the next commit."""
    command = ["git", "-C", str(root), "ls-files", "-co", "--exclude-standard", "-z"]
    names = subprocess.run(command, capture_output=True, text=True, check=True).stdout.split("\0")
    return [root / name for name in names if name and (root / name).is_file()]


@pytest.fixture(scope="session")
def pages(root: Path) -> list[Path]:
    return sorted([*root.glob("*.md"), *root.glob("docs/**/*.md")])
