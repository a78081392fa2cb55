"""A site's catalogue from its file: what each kind of set holds, what it costs, how large its sheets are."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path
from typing import Annotated

from pydantic import AfterValidator, Field

from soakline.casefile.kinds import Count, Number, Section, Words, within
from soakline.casefile.site_file import checked, text_of
from soakline.errors import Finding, InputRefused
from soakline.supplies.stock import Part, Stored

_MOST = 500
_Size = Annotated[Number, AfterValidator(within(0, 100, "cm"))]


class _KindIn(Section):
    kind: Words
    contents: dict[Words, Count] = Field(default={}, max_length=_MOST)
    price: Annotated[Number, AfterValidator(within(0, 1_000_000, "in the site's currency"))] | None = None
    sheet_length_cm: _Size | None = None
    sheet_width_cm: _Size | None = None


class _CatalogueIn(Section):
    version: Words
    kinds: list[_KindIn] = Field(max_length=_MOST)


@lru_cache(maxsize=4)
def catalogue_of(file: Path | None) -> tuple[Stored, ...]:
    """Return the kinds of a site's catalogue, none where it names no file; raises InputRefused with every field."""
    return () if file is None else read_catalogue(text_of(file, "SOAKLINE_CATALOGUE"))


def read_catalogue(text: str) -> tuple[Stored, ...]:
    """Return the kinds of a catalogue read from TOML, each with a count of 0: what is there, a case says.

    Raises InputRefused with every field that cannot be used, a kind that is listed twice among them.
    """
    kinds = checked(text, _CatalogueIn, "catalogue").kinds
    names = [one.kind.lower() for one in kinds]
    twice = [i for i, name in enumerate(names) if name in names[:i]]
    if twice:
        says = "is in the list before: one entry for each kind; take one out"
        raise InputRefused([Finding("refuse", f"catalogue.kinds.{i}.kind", says) for i in twice])
    return tuple(
        Stored(
            one.kind,
            0,
            tuple(Part(name, count) for name, count in one.contents.items()),
            one.price,
            one.sheet_length_cm,
            one.sheet_width_cm,
        )
        for one in kinds
    )
