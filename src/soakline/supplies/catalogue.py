"""What can be ordered: kinds of set with what each holds, and loose parts, at the site's own prices."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from soakline.errors import Finding
from soakline.supplies.stock import Part, Stored


@dataclass(frozen=True, slots=True)
class Offer:
    """One kind on offer: the site's name, its price in the site's own currency, how many of each part it holds.

    Raises ValueError for a price below nothing, or a kind that holds nothing.
    """

    kind: str
    price: float
    contents: tuple[Part, ...]

    def __post_init__(self) -> None:
        """Refuse what could not be on offer."""
        if not (math.isfinite(self.price) and self.price >= 0.0):
            msg = f'"{self.kind}": a price of {self.price} given; it is 0 or more'
            raise ValueError(msg)
        if not any(part.count for part in self.contents):
            msg = f'"{self.kind}": holds nothing; write its contents, part by part'
            raise ValueError(msg)


def offers_of(store: Sequence[Stored]) -> tuple[Offer, ...]:
    """Return what the store's own list offers again, where it says a price; the price is without unit of its own."""
    return tuple(
        Offer(kind.kind, kind.price, kind.contents or (Part(kind.kind, 1),))
        for kind in store
        if kind.price is not None and (not kind.contents or any(part.count for part in kind.contents))
    )


def with_catalogue(store: Sequence[Stored], catalogue: Sequence[Stored]) -> tuple[Stored, ...]:
    """Return the store with what the site's catalogue says of its kinds, where the case itself says nothing of it.

    Capitals do not matter. A kind that the store does not list is not added: what is there of it is unknown.

    >>> with_catalogue([Stored("Set", 2)], [Stored("set", 0, (Part("foam_sheet", 1),), 90.0)])[0].price
    90.0
    """
    known = {kind.kind.lower(): kind for kind in catalogue}
    return tuple(_filled(kind, known.get(kind.kind.lower())) for kind in store)


def not_in_store(store: Sequence[Stored], catalogue: Sequence[Stored]) -> tuple[Stored, ...]:
    """Return the kinds of the catalogue that the store does not list: they can be ordered, and no more is known."""
    listed = {kind.kind.lower() for kind in store}
    return tuple(kind for kind in catalogue if kind.kind.lower() not in listed)


def check_offers(store: Sequence[Stored]) -> list[Finding]:
    """Return what to say where a price is missing beside others: that kind is left out of the order."""
    if not any(kind.price is not None for kind in store):
        return []
    says = "no price, so it is left out of the order"
    return [Finding("note", f"store.{i}.price", says) for i, kind in enumerate(store) if kind.price is None]


def _filled(kind: Stored, known: Stored | None) -> Stored:
    if known is None:
        return kind
    sized = kind if kind.sheet_length_cm or kind.sheet_width_cm else known
    return Stored(
        kind.kind,
        kind.count,
        kind.contents or known.contents,
        known.price if kind.price is None else kind.price,
        sized.sheet_length_cm,
        sized.sheet_width_cm,
    )
