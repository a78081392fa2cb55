"""The program as people meet it: each command in a process of its own, the pages from a real server and browser."""

import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest
from playwright.sync_api import ConsoleMessage

RUN = [sys.executable, "-c", "from soakline.faces.cli.main import main; main()"]
CHROMIUM_FLAGS = [
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
]

CASE = """
format = "soakline-case/1"
label = "Demo abdomen"
purpose = "care"
time_zone = "Europe/Oslo"
recorded_at = 2026-11-20T14:10:00

[wound]
face = "front"
part = "trunk"
girth_cm = 104
midline_offset_cm = 0

[wound.opening]
length_cm = 6
width_cm = 6
depth_cm = 2.5

[[wound.undermining]]
from = 12
to = 6
reach_cm = 4
height_cm = { low = 1.0, likely = 1.5, high = 2.0 }

[wound.probed]
none_found = [7, 8, 9, 10, 11]

[[port]]
name = "I1"
kind = "instillation"
clock = 3
from_edge_cm = 3
unit = "A"

[[unit]]
name = "A"
fill_ml = 60
ordered_fill_ml = 60
fill_min = 2
dwell_min = 8
suction_min = 170
pressure_mmhg = -125
canister_ml = 1000
bag_ml = 500
priming_ml = 15
started_at = 2026-11-20T19:00:00

[exudate]
ml_per_h = { low = 15, likely = 25, high = 40 }

[posture]
allowed = ["supine", "left 30", "right 30"]

[gate]
eschar = "no"
untreated_osteomyelitis = "no"
unexplored_fistula = "no"
malignancy = "no"
exposed_vessels = "no"
exposed_nerves = "no"
exposed_anastomosis = "no"
exposed_organs = "no"
opens_into_cavity = "no"
"""


@pytest.fixture(scope="session")
def case_text() -> str:
    return CASE


@pytest.fixture
def case_file(tmp_path: Path) -> Path:
    file = tmp_path / "case.toml"
    file.write_text(CASE)
    return file


@pytest.fixture(scope="session")
def surroundings(tmp_path_factory) -> dict[str, str]:
    folder = tmp_path_factory.mktemp("data")
    return os.environ | {"SOAKLINE_DATA_FOLDER": str(folder), "COLUMNS": "80", "NO_COLOR": "1"}


@pytest.fixture(scope="session")
def command() -> list[str]:
    return RUN


@pytest.fixture(scope="session")
def soakline(surroundings):
    """Run one command to its end; give what it wrote and its exit status."""

    def run(*words: object, **more: object) -> subprocess.CompletedProcess[str]:
        command = [*RUN, *map(str, words)]
        return subprocess.run(
            command, env=surroundings, capture_output=True, text=True, timeout=60, check=False, **more
        )

    return run


@pytest.fixture(scope="session")
def opened_once(surroundings) -> Iterator[httpx.Response]:
    """What the address gave that a served record of the demo cases printed: it opens the pages once."""
    command = [*RUN, "serve", "--port", "0"]
    with subprocess.Popen(command, env=surroundings, stdout=subprocess.PIPE, text=True) as process:
        said = process.stdout.readline()
        # The models are still coming in: the first answer waits for them.
        yield httpx.get(said.split()[1], timeout=60)
        process.terminate()


@pytest.fixture(scope="session")
def server(opened_once) -> str:
    """Where the pages are."""
    return str(opened_once.url.copy_with(raw_path=b"/")).rstrip("/")


@pytest.fixture
def client(server, opened_once) -> Iterator[httpx.Client]:
    with httpx.Client(base_url=server, timeout=60, cookies=opened_once.cookies) as opened:
        yield opened


@pytest.fixture
def token(client) -> str:
    """What a form of this browser carries."""
    client.get("/cases/new")
    return client.cookies["soakline_form"]


@pytest.fixture
def kept_case(client, token) -> str:
    """The address of a case of this test's own."""
    answer = client.post("/cases", files={"token": (None, token), "text": (None, CASE)})
    assert answer.status_code == 303
    return answer.headers["location"]


@pytest.fixture(scope="session")
def browser_type_launch_args() -> dict[str, object]:
    return {"executable_path": shutil.which("chromium"), "args": CHROMIUM_FLAGS}


@pytest.fixture
def browser_context_args(server, opened_once) -> dict[str, object]:
    """What every browser of these tests starts with: the pages are open to it."""
    of_host = {
        "domain": "127.0.0.1",
        "path": "/",
        "expires": -1,
        "httpOnly": True,
        "secure": False,
        "sameSite": "Strict",
    }
    cookies = [{"name": name, "value": value, **of_host} for name, value in opened_once.cookies.items()]
    return {
        "base_url": server,
        "viewport": {"width": 1366, "height": 900},
        "storage_state": {"cookies": cookies, "origins": []},
    }


@pytest.fixture
def new_context(browser, browser_context_args):
    """Make another browser, set as the test says; each is closed with the test."""
    made = []

    def make(**more: object):
        made.append(browser.new_context(**browser_context_args | more))
        return made[-1]

    yield make
    for context in made:
        context.close()


@pytest.fixture
def page(page, server):
    """A page whose test fails when anything is asked of the outside, or the browser complains."""
    complaints: list[str] = []
    page.on("request", lambda request: request.url.startswith(server) or complaints.append(f"outside: {request.url}"))
    page.on("console", lambda message: _complains(message) and complaints.append(message.text))
    page.on("pageerror", lambda error: complaints.append(str(error)))
    yield page
    assert complaints == []


def _complains(message: ConsoleMessage) -> bool:
    # Software WebGL says of itself that it is slow; that is the test's own doing.
    return message.type in {"error", "warning"} and "GPU stall due to ReadPixels" not in message.text
