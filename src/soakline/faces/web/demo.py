"""The invented cases that come with the program: single texts, and folders of texts that tell one case as a story."""

from __future__ import annotations

import re
import tomllib
from datetime import date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from soakline.faces.web.entering import demo_case
from soakline.record.cases import NewCase, NewClosing, Saved, Story

STORY = "story.toml"
# How many hours before it is brought in the last thing in a case was written, so that in a caseload just brought in
# some changes are overdue, some due and some far off. A case without a number keeps its days: what it tells is of them.
WRITTEN_H_AGO = {
    "abdomen-front-deep-pocket.toml": 2,
    "back.toml": 14,
    "flank-that-wraps.toml": 5,
    "front-a-piece-not-found.toml": 1,
    "front-at-its-change.toml": 1,
    "phone-half-measured.toml": 3,
    "thigh.toml": 8,
    "two-pockets-and-a-tunnel.toml": 3,
}
_MOMENT = re.compile(r"(?<== )\d{4}-\d\d-\d\d(?:T\d\d:\d\d:\d\d)?")
_HOUR = timedelta(hours=1)


def demo_cases(folder: Path, now: datetime) -> list[NewCase]:
    """Return each case of a folder, in the order of the names, its times moved to an aware ``now``.

    A file that cannot be read is left out; one that cannot be read once it is moved stays as it was written.
    """
    read = (_moved(file, now) or demo_case(file.read_bytes()) for file in sorted(folder.glob("*.toml")))
    return [new for new in read if new]


def moved_to(text: str, last: datetime) -> str:
    r"""Return a case file with all times moved by the same whole hours: the newest is then in the hour up to ``last``.

    Days without a clock reading move with the day of the newest. Both are local times of the case's own zone.

    >>> moved_to("recorded_at = 2026-11-20T14:10:00\\nweighed_on = 2026-11-19", datetime(2027, 1, 2, 9, 30))
    'recorded_at = 2027-01-02T09:10:00\\nweighed_on = 2027-01-01'
    """
    newest = max(datetime.fromisoformat(found) for found in _MOMENT.findall(text))
    by = (last - newest) // _HOUR * _HOUR
    by_days = (newest + by).date() - newest.date()

    def moved(found: re.Match[str]) -> str:
        written = found[0]
        if "T" in written:
            return (datetime.fromisoformat(written) + by).isoformat()
        return (date.fromisoformat(written) + by_days).isoformat()

    return _MOMENT.sub(moved, text)


def _moved(file: Path, now: datetime) -> NewCase | None:
    hours = WRITTEN_H_AGO.get(file.name)
    if hours is None:
        return None
    text = file.read_text("utf-8")
    zone = ZoneInfo(tomllib.loads(text)["time_zone"])
    last = (now - hours * _HOUR).astimezone(zone).replace(tzinfo=None)
    return demo_case(moved_to(text, last).encode())


def demo_stories(folder: Path) -> list[Story]:
    """Return the story of each folder in it that tells one; one with a text that cannot be read is left out."""
    read = (_story(file) for file in sorted(folder.glob(f"*/{STORY}")))
    return [story for story in read if story]


def _story(file: Path) -> Story | None:
    told = tomllib.loads(file.read_text("utf-8"))
    texts = [(demo_case(file.with_name(step["file"]).read_bytes()), step) for step in told["version"]]
    versions = tuple(Saved(new, step["at"], step["who"]) for new, step in texts if new)
    if len(versions) < len(texts):
        return None
    end = told["closed"]
    return Story(versions, NewClosing(end["kind"], end["says"], end["by_role"]), end["at"], end["who"])
