"""A store of 60 kinds solved to proof, beside a twin that searches every mix in plain Python."""

from __future__ import annotations

import time

import numpy as np

from soakline.supplies.catalogue import Offer
from soakline.supplies.order import order_for
from soakline.supplies.stock import Part

PARTS = [f"part {letter}" for letter in "ABCDEFGH"]


def store_of(kind_count: int, seed: int) -> list[Offer]:
    """Return invented kinds, each holding one to four different parts, dearer the more they hold."""
    rng = np.random.default_rng(seed)
    offers = []
    for number in range(kind_count):
        names = rng.choice(PARTS, size=rng.integers(1, 5), replace=False)
        held = tuple(Part(str(name), int(rng.integers(1, 4))) for name in names)
        price = sum(part.count for part in held) * float(rng.uniform(4, 12))
        offers.append(Offer(f"kind {number}", round(price, 2), held))
    return offers


def twin(short: dict[str, int], offers: list[Offer]) -> float:
    """Return the lowest price by covering the first open part in every way, pruned by the price so far."""
    held = [{part.name: part.count for part in offer.contents} for offer in offers]
    lowest = float("inf")
    seen: dict[tuple[int, ...], float] = {}

    def cover(left: dict[str, int], cost: float) -> None:
        nonlocal lowest
        state = tuple(left.get(part, 0) for part in PARTS)
        if cost >= lowest or seen.get(state, float("inf")) <= cost:
            return
        seen[state] = cost
        wanted = next((part for part in PARTS if left.get(part, 0) > 0), None)
        if wanted is None:
            lowest = cost
            return
        for offer, contents in zip(offers, held, strict=True):
            if contents.get(wanted):
                cover({p: max(0, n - contents.get(p, 0)) for p, n in left.items()}, cost + offer.price)

    cover(dict(short), 0.0)
    return lowest


def main() -> None:
    """Print seconds for both, and whether they agree."""
    offers = store_of(60, seed=6)
    for wanted in (2, 6):
        short = dict.fromkeys(PARTS, wanted)
        start = time.process_time()
        found = order_for([Part(name, count) for name, count in short.items()], offers)
        ours_s = time.process_time() - start
        line = f"60 kinds, {len(PARTS)} parts × {wanted}: price {found.price:.2f}, with runner-up {ours_s:.3f} s"
        if wanted == 2:
            start = time.process_time()
            price = twin(short, offers)
            line += f"; twin {price:.2f}, {time.process_time() - start:.3f} s"
        print(line)


if __name__ == "__main__":
    main()
