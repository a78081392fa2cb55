"""Solutions: what the site's pharmacy signed, which pairs are known to react, and which nobody has tested."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import combinations
from typing import Literal

from soakline.errors import Finding
from soakline.units import show_number

Verdict = Literal["conflict", "tested: no reaction seen", "not shown compatible"]


@dataclass(frozen=True, slots=True)
class Solution:
    """One substance by the words that name it; ``hang_h`` is how long a bag may hang, None where nobody says.

    ``also`` are other words for the same substance.
    """

    name: str
    hang_h: float | None = None
    strength: str | None = None
    not_for_closed_pockets: str | None = None
    source: str = ""
    also: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Pair:
    """Two substances and what is known of them together, with its source."""

    first: str
    second: str
    verdict: Literal["conflict", "tested: no reaction seen"]
    says: str
    source: str


@dataclass(frozen=True, slots=True)
class Formulary:
    """The solutions and pairs of a site, with version and sign-off; None where nobody signed it."""

    version: str
    solutions: tuple[Solution, ...]
    pairs: tuple[Pair, ...]
    signed_by_role: str | None = None
    signed_on: date | None = None


@dataclass(frozen=True, slots=True)
class Dressing:
    """What the solution meets, when it was hung, when the dressing is changed next, and how many are still to come."""

    skin_preparation: str | None = None
    previous_solution: str | None = None
    foam_material: str | None = None
    hung_at: datetime | None = None
    next_change_at: datetime | None = None
    to_come_count: int | None = None


@dataclass(frozen=True, slots=True)
class Meeting:
    """Two things that meet in the wound, by their words in the file, and what is known of the pair."""

    first: str
    second: str
    verdict: Verdict
    says: str


# Shipped with what the cited sources say and no more: the site's own pharmacy adds and signs.
SHIPPED = Formulary(
    version="shipped with Soakline, signed by nobody",
    solutions=(
        Solution("saline", source="therapy.panel_2020", also=("sodium chloride",)),
        Solution("hypochlorous acid", source="therapy.panel_2020"),
        Solution("hypochlorite", source="therapy.panel_2020"),
        Solution("polyhexanide", source="therapy.panel_2020", also=("polihexanide",)),
        Solution("acetic acid", source="therapy.panel_2020"),
        Solution("chlorhexidine", source="fluids.solution_conflicts"),
        Solution("hydrogen peroxide", not_for_closed_pockets="gas embolism", source="fluids.not_for_closed_pockets"),
        Solution("octenidine", not_for_closed_pockets="tissue necrosis", source="fluids.not_for_closed_pockets"),
    ),
    pairs=(
        Pair("chlorhexidine", "hypochlorite", "conflict", "precipitates at once", "fluids.solution_conflicts"),
        Pair("hypochlorite", "hydrogen peroxide", "conflict", "gives gas", "fluids.solution_conflicts"),
    ),
)


def meetings(solutions: Sequence[str], dressing: Dressing, formulary: Formulary = SHIPPED) -> tuple[Meeting, ...]:
    """Return every pair that meets: the solutions with each other, with skin preparation, solution before and foam.

    >>> meetings(["sodium hypochlorite 0.0125 %"], Dressing(skin_preparation="chlorhexidine 2 %"))[0].verdict
    'conflict'
    >>> meetings(["saline"], Dressing(skin_preparation="chlorhexidine 2 %"))[0].verdict
    'not shown compatible'
    """
    named = list(dict.fromkeys(solutions))
    beside = [dressing.skin_preparation, dressing.previous_solution, dressing.foam_material]
    met = [*combinations(named, 2), *((one, other) for one in named for other in beside if other and other != one)]
    return tuple(_meeting(one, other, formulary) for one, other in met if not _are_one(one, other, formulary))


def check_solutions(
    solutions: Sequence[str | None], dressing: Dressing, *, has_pocket: bool, formulary: Formulary = SHIPPED
) -> tuple[Finding, ...]:
    """Return what to say: conflicts, pairs nobody tested, what is not for a closed pocket, how long a bag may hang."""
    return tuple(_findings(solutions, dressing, formulary, has_pocket=has_pocket))


def _findings(
    solutions: Sequence[str | None], dressing: Dressing, formulary: Formulary, *, has_pocket: bool
) -> Iterator[Finding]:
    given = [words for words in solutions if words]
    for meeting in meetings(given, dressing, formulary):
        level = "warn" if meeting.verdict == "conflict" else "note"
        yield Finding(level, "dressing", meeting.says)
    for i, words in enumerate(solutions):
        known = _substance(words, formulary) if words else None
        if words and known is None:
            says = f'"{words}" is not in the formulary ({formulary.version}): pharmacy decides'
            yield Finding("warn", f"unit.{i}.solution", says)
        if known and has_pocket and known.not_for_closed_pockets:
            says = (
                f"{known.name}: not for a closed or undrained pocket ({known.not_for_closed_pockets}; {known.source})"
            )
            yield Finding("warn", f"unit.{i}.solution", f"{says}: pharmacy decides")
        if words and known and known.strength and not _has_strength(words, known.strength):
            says = f'"{words}": the formulary has {known.name} {known.strength} ({formulary.version}): which is hung?'
            yield Finding("ask", f"unit.{i}.solution", says)
        if known and known.hang_h is not None:
            yield _say_hang(known.name, known.hang_h, dressing.hung_at, formulary, f"unit.{i}.solution")


def _say_hang(name: str, hang_h: float, hung_at: datetime | None, formulary: Formulary, where: str) -> Finding:
    says = f"{name}: may hang {show_number(hang_h)} h"
    if hung_at is None:
        return Finding("ask", where, f"{says} ({formulary.version}): since when does it? Write dressing.hung_at")
    until = hung_at + timedelta(hours=hang_h)
    return Finding("note", where, f"{says}, until {until:%Y-%m-%d %H:%M} ({formulary.version})")


def _meeting(one: str, other: str, formulary: Formulary) -> Meeting:
    first, second = _substance(one, formulary), _substance(other, formulary)
    names = {first.name if first else one, second.name if second else other}
    found = next((pair for pair in formulary.pairs if {pair.first, pair.second} == names), None)
    if found is None:
        return Meeting(
            one, other, "not shown compatible", f"{one} with {other}: not shown compatible, nobody tested it"
        )
    return Meeting(one, other, found.verdict, f"{one} with {other}: {found.verdict}, {found.says} ({found.source})")


def _are_one(one: str, other: str, formulary: Formulary) -> bool:
    known = _substance(one, formulary)
    return known is not None and known is _substance(other, formulary)


def _has_strength(words: str, strength: str) -> bool:
    """Say whether words hold that strength and not a longer number that ends like it; spaces do not matter."""
    plain, wanted = ("".join(text.lower().split()) for text in (words, strength))
    return re.search(rf"(?<![\d.,]){re.escape(wanted)}", plain) is not None


def _substance(words: str, formulary: Formulary) -> Solution | None:
    """Return the substance that words name; of several names found the longest, as in "hypochlorous acid"."""
    plain = words.lower()
    called = [(name, known) for known in formulary.solutions for name in (known.name, *known.also)]
    found = [(len(name), known) for name, known in called if name.lower() in plain]
    return max(found, key=lambda pair: pair[0], default=(0, None))[1]
