"""A site's questions in trouble from their file, or those that Soakline ships."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path
from typing import Annotated

from pydantic import Field

from soakline.casefile.kinds import Section, Words, choice
from soakline.casefile.site_file import checked, text_of
from soakline.errors import InputRefused
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
    return read_trouble(text_of(file or _SHIPPED, "SOAKLINE_TROUBLE"))


def read_trouble(text: str) -> Trouble:
    """Return questions read from TOML; raises InputRefused with every field that cannot be used."""
    sent = checked(text, _TroubleIn, "trouble")
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
