"""A site's formulary from its file: the solutions and tested pairs that its pharmacy signed, added to those cited."""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from datetime import date
from typing import Annotated, Literal

from pydantic import AfterValidator, Field, ValidationError

from soakline.casefile.kinds import Day, Number, Section, Words, choice, within
from soakline.errors import Finding, InputRefused
from soakline.guard.solutions import SHIPPED, Formulary, Pair, Solution

_Verdict = Literal["conflict", "tested: no reaction seen"]
_MOST = 500


class _SolutionIn(Section):
    name: Words
    also: list[Words] = Field(default=[], max_length=_MOST)
    strength: Words | None = None
    hang_h: Annotated[Number, AfterValidator(within(0.1, 720, "h"))] | None = None
    not_for_closed_pockets: Words | None = None


class _PairIn(Section):
    first: Words
    second: Words
    verdict: Annotated[_Verdict, *choice(_Verdict)]
    says: Words


class _FormularyIn(Section):
    version: Words
    signed_by: Words
    signed_on: Day
    solutions: list[_SolutionIn] = Field(default=[], max_length=_MOST)
    pairs: list[_PairIn] = Field(default=[], max_length=_MOST)


def read_formulary(text: str) -> Formulary:
    """Return the site's formulary: its own solutions and pairs, beside each one that a source speaks of.

    Raises InputRefused with every field that cannot be used, among them a pair that calls a cited conflict tested.
    """
    try:
        sent = _FormularyIn.model_validate(tomllib.loads(text))
    except tomllib.TOMLDecodeError as error:
        raise InputRefused([Finding("refuse", "formulary", f"not TOML: {error}")]) from error
    except ValidationError as error:
        raise InputRefused([_finding(one["type"], one["loc"], one["msg"]) for one in error.errors()]) from error
    refused = [*_twice(sent), *_against_cited(sent.pairs)]
    if refused:
        raise InputRefused(refused)
    return _formulary(sent, sent.signed_on)


def _formulary(sent: _FormularyIn, signed_on: date) -> Formulary:
    origin = f"formulary {sent.version}"
    own = tuple(
        Solution(
            one.name,
            one.hang_h,
            one.strength,
            one.not_for_closed_pockets or (cited.not_for_closed_pockets if cited else None),
            origin,
            (*one.also, *(cited.also if cited else ())),
        )
        for one, cited in ((one, _cited(one.name)) for one in sent.solutions)
    )
    names = {one.name.lower() for one in own}
    pairs = tuple(Pair(one.first, one.second, one.verdict, one.says, origin) for one in sent.pairs)
    return Formulary(
        version=f"{sent.version}, signed by {sent.signed_by} on {signed_on:%Y-%m-%d}",
        solutions=(*own, *(one for one in SHIPPED.solutions if one.name not in names)),
        pairs=(*SHIPPED.pairs, *pairs),
        signed_by_role=sent.signed_by,
        signed_on=signed_on,
    )


def _cited(name: str) -> Solution | None:
    """Return what a source says of it: a site's silence takes neither its warning nor its other names away."""
    return next((one for one in SHIPPED.solutions if one.name == name.lower()), None)


def _finding(kind: str, place: Sequence[int | str], says: str) -> Finding:
    where = ".".join(["formulary", *map(str, place)])
    if kind == "missing":
        return Finding("refuse", where, "not given; a formulary is versioned and signed: write it")
    if kind == "extra_forbidden":
        return Finding("refuse", where, f"no such field; allowed are {', '.join(_allowed(place))}")
    return Finding("refuse", where, says)


def _allowed(place: Sequence[int | str]) -> list[str]:
    part = {"solutions": _SolutionIn, "pairs": _PairIn}.get(str(place[0]) if len(place) > 1 else "", _FormularyIn)
    return list(part.model_fields)


def _twice(sent: _FormularyIn) -> list[Finding]:
    names = [one.name.lower() for one in sent.solutions]
    pairs = [frozenset({one.first.lower(), one.second.lower()}) for one in sent.pairs]
    says = "is in the list before: one entry for each; take one out"
    return [
        *(Finding("refuse", f"formulary.solutions.{i}.name", says) for i, n in enumerate(names) if n in names[:i]),
        *(Finding("refuse", f"formulary.pairs.{i}", says) for i, pair in enumerate(pairs) if pair in pairs[:i]),
    ]


def _against_cited(pairs: Sequence[_PairIn]) -> list[Finding]:
    cited = {frozenset({one.first, one.second}): one for one in SHIPPED.pairs if one.verdict == "conflict"}
    found = [(i, pair, cited.get(frozenset({pair.first.lower(), pair.second.lower()}))) for i, pair in enumerate(pairs)]
    return [
        Finding(
            "refuse",
            f"formulary.pairs.{i}.verdict",
            f'"{pair.verdict}": a source says otherwise ({known.says}, {known.source}); allowed is "conflict"',
        )
        for i, pair, known in found
        if known is not None and pair.verdict != "conflict"
    ]
