"""What every test stands on: no site's settings, repeatable examples, a browser that reaches this computer alone."""

import os
import re
import shutil
from pathlib import Path

import hypothesis
import pytest

from soakline.settings import PREFIX
from soakline.sources import SOURCES

TRUTH = Path(__file__).parent / "truth"
CHROMIUM_FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--use-gl=angle",
    "--use-angle=swiftshader",
    "--enable-unsafe-swiftshader",
    "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1",
)
_checked_against = pytest.StashKey[dict[str, set[str]]]()

# Examples are the same in every run, and a slow machine is no failure.
hypothesis.settings.register_profile("house", deadline=None, derandomize=True)
hypothesis.settings.load_profile("house")


@pytest.fixture(autouse=True, scope="session")
def _no_settings_of_this_computer(tmp_path_factory: pytest.TempPathFactory):
    with pytest.MonkeyPatch.context() as patch:
        for name in [name for name in os.environ if name.startswith(PREFIX)]:
            patch.delenv(name)
        patch.setenv(f"{PREFIX}DATA_FOLDER", str(tmp_path_factory.mktemp("data")))
        yield


@pytest.fixture(scope="session")
def browser_type_launch_args(browser_type_launch_args: dict[str, object]) -> dict[str, object]:
    found = shutil.which("chromium")
    assert found, 'the command "chromium" is missing; `make test` installs it or says how'
    return {**browser_type_launch_args, "executable_path": found, "args": list(CHROMIUM_FLAGS)}


@pytest.fixture
def page(page):
    """Give a page that fails the test when it asks anything of the world outside this computer."""
    outside: list[str] = []
    page.on("request", lambda request: _is_outside(request.url) and outside.append(request.url))
    yield page
    assert not outside, f"the page asked the outside: {outside}"


def pytest_collection_finish(session: pytest.Session) -> None:
    files = {item.path for item in session.items if TRUTH in item.path.parents}
    session.config.stash[_checked_against] = {str(file.relative_to(TRUTH)): _keys_in(file) for file in sorted(files)}


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter, config: pytest.Config) -> None:
    """List what the truth tests of this run were checked against."""
    checked = config.stash.get(_checked_against, {})
    if not checked:
        return
    terminalreporter.section("checked against")
    for file, keys in checked.items():
        terminalreporter.write_line(file)
        for key in sorted(keys):
            terminalreporter.write_line(f"  {key}: {SOURCES[key].citation}")


def _keys_in(file: Path) -> set[str]:
    return set(re.findall(r"\b[a-z]+\.[a-z0-9_]+\b", file.read_text("utf-8"))) & SOURCES.keys()


def _is_outside(url: str) -> bool:
    return not url.startswith(("http://127.0.0.1:", "data:", "blob:", "about:"))
