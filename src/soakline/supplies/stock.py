"""What is at hand, as the site's store lists it, and what is needed of each part against it.

Kinds and parts carry the site's own names. A few parts the plan has to know: they are found by the words in their
names, and ``docs/supplies.md`` says by which. A part that the store does not list is unknown, never none.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from soakline.errors import Finding

UNIT = "therapy unit"
Y_CONNECTOR = "Y connector"
DEEP_TUBE = "tube that can be placed deep"
FIXED_TUBE = "tube that cannot be placed deep"
PAD = "suction pad"

# The words by which each known part is found in a site's own name, the first that fits.
_WORDS = (
    (UNIT, re.compile(r"(^|\b(therapy|instillation|negative pressure|suction and instillation) )units?\b")),
    (Y_CONNECTOR, re.compile(r"\by ?(connectors?|connections?|pieces?|joints?)\b")),
    (DEEP_TUBE, re.compile(r"^(?!.*\b(not|no|cannot|never)\b).*(\btubes?\b.*\bdeep\b|\bdeep\b.*\btubes?\b)")),
    (FIXED_TUBE, re.compile(r"\bport tubes?\b|\btubes?\b.*\b(fixed|not|cannot)\b|\bfixed\b.*\btubes?\b")),
    (PAD, re.compile(r"\bpads?$")),
)
KNOWN_PARTS = tuple(part for part, _ in _WORDS)
_IS_A_KIT = re.compile(r"\b(kits?|sets?|pack(age)?s?)\b")


@dataclass(frozen=True, slots=True)
class Part:
    """So many of one part, by the site's own name."""

    name: str
    count: int

    def __post_init__(self) -> None:
        """Refuse a count below none."""
        _refuse_negative(self.name, self.count)


@dataclass(frozen=True, slots=True)
class Stored:
    """One kind that the store lists: the site's name for it, how many there are, and what each of them holds.

    Without ``contents`` it is one part by itself, such as a Y connector.
    ``price`` is in the site's own currency. Raises ValueError for a count below none.
    """

    kind: str
    count: int
    contents: tuple[Part, ...] = ()
    price: float | None = None
    sheet_length_cm: float | None = None
    sheet_width_cm: float | None = None

    def __post_init__(self) -> None:
        """Refuse a count below none."""
        _refuse_negative(self.kind, self.count)


@dataclass(frozen=True, slots=True)
class Need:
    """So many of one part are needed, why, and how many are at hand; ``at_hand_count`` None is not listed: unknown."""

    part: str
    count: int
    at_hand_count: int | None
    why: str


@dataclass(frozen=True, slots=True)
class Short:
    """So many of one part are missing, in words too."""

    part: str
    count: int
    says: str


def part_of(name: str) -> str:
    """Return the known part that a site's name stands for, or the name itself in one spelling.

    >>> part_of("port_tube_deep"), part_of("Y-connector"), part_of("therapy units"), part_of("Foam_Sheet")
    ('tube that can be placed deep', 'Y connector', 'therapy unit', 'foam sheet')
    """
    plain = " ".join(re.sub(r"[_\W]+", " ", name.lower()).split())
    return next((part for part, words in _WORDS if words.search(plain)), plain)


def at_hand_count(store: Sequence[Stored]) -> dict[str, int]:
    """Return how many of each part there are in the whole store, by ``part_of``; a part that is not listed is no key.

    >>> kit = Stored("set, tubes separable", 2, (Part("port_tube_deep", 1), Part("suction_pad", 1)))
    >>> at_hand_count([kit, Stored("Y connector", 1)])
    {'tube that can be placed deep': 2, 'suction pad': 2, 'Y connector': 1}
    """
    count: dict[str, int] = {}
    for kind in store:
        if not kind.contents and _holds_unknown(kind):
            continue
        for part in kind.contents or (Part(kind.kind, 1),):
            name = part_of(part.name)
            count[name] = count.get(name, 0) + kind.count * part.count
    return count


def kits_with(store: Sequence[Stored], part: str) -> tuple[Stored, ...]:
    """Return the kinds at hand, in their order, that hold a part as ``part_of`` names it."""
    return tuple(
        kind
        for kind in store
        if kind.count and any(part_of(held.name) == part and held.count for held in kind.contents)
    )


def need(store: Sequence[Stored], part: str, count: int, why: str) -> Need:
    """Return what is needed of one part, with how many there are; a part that the store does not list is unknown."""
    return Need(part, count, at_hand_count(store).get(part), why)


def need_in_stay(needs: Sequence[Need], dressing_count: int, spare_count: int) -> tuple[Need, ...]:
    """Return what so many dressings take, each as much as ``needs``, with so many spares of each part.

    A therapy unit stays with the patient and is needed once.

    >>> need_in_stay([Need("Y connector", 2, 5, "")], 3, 1)[0].count
    7
    """
    why = f"{dressing_count} × {{}} for the dressings to come + {spare_count} spare"
    return tuple(
        needed
        if needed.part == UNIT or not needed.count
        else replace(needed, count=needed.count * dressing_count + spare_count, why=why.format(needed.count))
        for needed in needs
    )


def shortages(needs: Sequence[Need]) -> tuple[Short, ...]:
    """Return what is known to be missing; of a part that the store does not list nothing is known.

    >>> shortages([Need("therapy unit", 2, 1, ""), Need("Y connector", 2, None, "")])[0].says
    'therapy unit: 2 needed, 1 at hand, 1 short'
    """
    return tuple(
        Short(
            needed.part,
            needed.count - needed.at_hand_count,
            f"{needed.part}: {needed.count} needed, {needed.at_hand_count} at hand, "
            f"{needed.count - needed.at_hand_count} short",
        )
        for needed in needs
        if needed.at_hand_count is not None and needed.count > needed.at_hand_count
    )


def check_store(store: Sequence[Stored]) -> list[Finding]:
    """Return what stands against the store: kits without contents, and kinds listed twice with other contents."""
    findings: list[Finding] = []
    first: dict[str, int] = {}
    for number, kind in enumerate(store):
        where = f"store.{number}"
        if not kind.contents and _holds_unknown(kind):
            says = f'"{kind.kind}": what it holds is not written, so nothing in it is counted; write [store.contents]'
            findings.append(Finding("warn", f"{where}.contents", says))
        if kind.contents and not any(part.count for part in kind.contents):
            says = f'"{kind.kind}": every part in it is written as 0; write how many of each one kit holds'
            findings.append(Finding("warn", f"{where}.contents", says))
        seen = first.setdefault(kind.kind, number)
        if seen != number:
            says = f'"{kind.kind}" is also store.{seen}: both are counted; take one out if it is the same shelf'
            findings.append(Finding("ask", f"{where}.kind", says))
    return findings


def _holds_unknown(kind: Stored) -> bool:
    """Say whether a kind without contents is a kit, so that what it holds is unknown."""
    return part_of(kind.kind) not in KNOWN_PARTS and bool(_IS_A_KIT.search(kind.kind.lower()))


def _refuse_negative(name: str, count: int) -> None:
    if count < 0:
        msg = f'"{name}": {count} given; a count is 0 or more'
        raise ValueError(msg)
