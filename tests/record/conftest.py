"""A record for each test and each database, as the application opens it."""

from pathlib import Path

import pytest
from tests.record.postgresql_server import Server, started

from soakline.record.opening import open_record


@pytest.fixture(scope="session")
def server():
    """A PostgreSQL server on a loopback port, for this run alone."""
    with started() as running:
        yield running


@pytest.fixture(scope="session")
def template(server: Server) -> str:
    """The name of a record that holds nothing yet, to be copied."""
    server.create_database("template_record")
    open_record(server.url("template_record")).dispose()
    return "template_record"


@pytest.fixture(params=["sqlite", "postgresql"])
def url(request: pytest.FixtureRequest, tmp_path: Path):
    if request.param == "sqlite":
        yield f"sqlite:///{tmp_path / 'record' / 'soakline.db'}"
        return
    server = request.getfixturevalue("server")
    name = server.create_database(template=request.getfixturevalue("template"))
    yield server.url(name)
    server.drop_database(name)


@pytest.fixture
def engine(url: str):
    opened = open_record(url)
    yield opened
    opened.dispose()
