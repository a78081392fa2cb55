"""A site's questions in trouble from their file, or those that Soakline ships."""

from __future__ import annotations

import tomllib
from functools import lru_cache
from pathlib import Path
from typing import Annotated

from pydantic import Field, ValidationError

from soakline.casefile.kinds import Section, Words, choice
from soakline.errors import Finding, InputRefused
from soakline.therapy import trouble as rules
from soakline.therapy.trouble import Beside, End, Question, Reply, Trouble, check_trouble

_SHIPPED = Path(rules.__file__).with_name("trouble.toml")
_MOST = 200


class _ReplyIn(Section):
    says: Words
    to: Words


class _QuestionIn(Section):
    id: Words
    asks: Words
    beside: Annotated[Beside, *choice(Beside)] | None = None
    answers: list[_ReplyIn] = Field(max_length=20)


class _EndIn(Section):
    id: Words
    says: Words
    do: list[Words] = Field(max_length=20)
    call: Words
    source: Words | None = None


class _TroubleIn(Section):
    version: Words
    source: Words | None = None
    first: Words
    card: list[Words] = Field(max_length=4)
    question: list[_QuestionIn] = Field(max_length=_MOST)
    end: list[_EndIn] = Field(max_length=_MOST)


@lru_cache(maxsize=4)
def trouble_of(file: Path | None) -> Trouble:
    """Return the questions of a site's file, or those shipped where it names none.

    Raises InputRefused with every field that cannot be used.
    """
    try:
        text = (file or _SHIPPED).read_text("utf-8")
    except (OSError, UnicodeDecodeError) as error:
        says = f"{(file or _SHIPPED).name} cannot be read as text: name a TOML file, or leave the setting out"
        raise InputRefused([Finding("refuse", "SOAKLINE_TROUBLE", says)]) from error
    return read_trouble(text)


def read_trouble(text: str) -> Trouble:
    """Return questions read from TOML; raises InputRefused with every field that cannot be used."""
    try:
        sent = _TroubleIn.model_validate(tomllib.loads(text))
    except tomllib.TOMLDecodeError as error:
        raise InputRefused([Finding("refuse", "trouble", f"not TOML: {error}")]) from error
    except ValidationError as error:
        raise InputRefused(
            [Finding("refuse", ".".join(["trouble", *map(str, one["loc"])]), one["msg"]) for one in error.errors()]
        ) from error
    read = Trouble(
        version=sent.version,
        source=sent.source,
        first=sent.first,
        card=tuple(sent.card),
        questions=tuple(
            Question(one.id, one.asks, tuple(Reply(reply.says, reply.to) for reply in one.answers), one.beside)
            for one in sent.question
        ),
        ends=tuple(End(one.id, one.says, tuple(one.do), one.call, one.source) for one in sent.end),
    )
    findings = check_trouble(read)
    if findings:
        raise InputRefused(list(findings))
    return read
