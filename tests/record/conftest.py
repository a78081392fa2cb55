"""A record on disk for each test, as the application opens it."""

from pathlib import Path

import pytest

from soakline.record.opening import open_record


@pytest.fixture
def url(tmp_path: Path) -> str:
    return f"sqlite:///{tmp_path / 'record' / 'soakline.db'}"


@pytest.fixture
def engine(url: str):
    opened = open_record(url)
    yield opened
    opened.dispose()
