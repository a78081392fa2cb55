"""A file that a site sets by name: read as text, checked against its keys, refused with its setting's name."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import TypeVar

from pydantic import ValidationError

from soakline.casefile.kinds import Section
from soakline.errors import Finding, InputRefused

_Read = TypeVar("_Read", bound=Section)


def text_of(file: Path, setting: str) -> str:
    """Return the text of a site's file; raises InputRefused under the name of its setting."""
    try:
        return file.read_text("utf-8")
    except (OSError, UnicodeDecodeError) as error:
        says = f"{file.name} cannot be read as text: name a TOML file, or leave the setting out"
        raise InputRefused([Finding("refuse", setting, says)]) from error


def checked(text: str, keys: type[_Read], name: str) -> _Read:
    """Return what TOML text holds by ``keys``; raises InputRefused with every field that cannot be used."""
    try:
        return keys.model_validate(tomllib.loads(text))
    except tomllib.TOMLDecodeError as error:
        raise InputRefused([Finding("refuse", name, f"not TOML: {error}")]) from error
    except ValidationError as error:
        raise InputRefused(
            [Finding("refuse", ".".join([name, *map(str, one["loc"])]), one["msg"]) for one in error.errors()]
        ) from error
