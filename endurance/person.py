"""One simulated person: reads the list, opens cases, changes a case file and saves it, as a browser's forms do.

Run by people.py; each save that was acknowledged is written down in the file that
SOAKLINE_ACKNOWLEDGED names; SOAKLINE_COOKIES is what the browser of each holds.
"""

from __future__ import annotations

import json
import os
import re
from html import unescape
from itertools import count
from pathlib import Path
from random import Random
from typing import Any

from locust import HttpUser, between, task

ACKNOWLEDGED = Path(os.environ["SOAKLINE_ACKNOWLEDGED"])
COOKIES = os.environ["SOAKLINE_COOKIES"]
_PEOPLE = count(1)
_FIELD = re.compile(r'name="(token|version)" value="([^"]*)"')
_TEXT = re.compile(r"<textarea[^>]*>\n?(.*?)</textarea>", re.DOTALL)
_TOLD = {409: "Somebody saved this case since you opened it", 503: "The record could not be"}


class Person(HttpUser):
    """Somebody who thinks for some seconds between two steps."""

    wait_time = between(3, 10)

    def on_start(self) -> None:
        """Take a number, which all that this person draws hangs on, and the session that the address opened."""
        self.client.cookies.update(part.strip().split("=", 1) for part in COOKIES.split(";"))
        self.number = next(_PEOPLE)
        self.saves = count(1)
        self.random = Random(self.number)  # noqa: S311 - which case is opened, no secret

    @task(3)
    def read_list(self) -> None:
        """Read the list of cases."""
        self.client.get("/", name="list")

    @task(3)
    def open_case(self) -> None:
        """Open a case."""
        self.client.get(f"/cases/{self._case()}", name="case")

    @task(4)
    def save(self) -> None:
        """Open a case file, write a line of one's own under it, and save."""
        case_id = self._case()
        page = self.client.get(f"/cases/{case_id}/file", name="file").text
        text = _TEXT.search(page)
        if text is None:
            return
        fields = dict(_FIELD.findall(page))
        mark = f"# person {self.number}, save {next(self.saves)}"
        kept = re.sub(r"\n# person \d+, save \d+\n$", "", unescape(text[1]).replace("\r\n", "\n"))
        form = {**fields, "text": f"{kept}\n{mark}\n"}
        with self.client.post(
            f"/cases/{case_id}/file",
            files={name: (None, value) for name, value in form.items()},
            allow_redirects=False,
            catch_response=True,
            name="save",
        ) as answer:
            self._take(answer, case_id, mark)

    def _take(self, answer: Any, case_id: int, mark: str) -> None:  # noqa: ANN401 - the tool's own type
        if answer.status_code == 303:
            with ACKNOWLEDGED.open("a") as written:
                written.write(json.dumps([case_id, mark]) + "\n")
            answer.success()
        elif _TOLD.get(answer.status_code, "\0") in answer.text:
            answer.request_meta["name"] = f"save, told {answer.status_code}"
            answer.success()
        else:
            answer.failure(f"{answer.status_code}, not told in words")

    def _case(self) -> int:
        # The first of the demo cases is closed and takes no save.
        return self.random.randrange(2, 9)
