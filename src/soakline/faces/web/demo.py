"""The invented cases that come with the program: single texts, and folders of texts that tell one case as a story."""

from __future__ import annotations

import tomllib
from pathlib import Path

from soakline.faces.web.entering import demo_case
from soakline.record.cases import NewCase, NewClosing, Saved, Story

STORY = "story.toml"


def demo_cases(folder: Path) -> list[NewCase]:
    """Return each case of a folder, in the order of the names; a file that cannot be read is left out."""
    read = (demo_case(file.read_bytes()) for file in sorted(folder.glob("*.toml")))
    return [new for new in read if new]


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
