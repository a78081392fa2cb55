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


def slowest() -> str:
    """Return the slowest of 75 drawn stores of 60 kinds, in seconds of one core."""
    taken: list[tuple[float, int, int]] = []
    for wanted in (2, 6, 15):
        for seed in range(25):
            offers = store_of(60, seed)
            start = time.process_time()
            order_for([Part(name, wanted) for name in PARTS], offers)
            taken.append((time.process_time() - start, wanted, seed))
    longest_s, wanted, seed = max(taken)
    middle_s = sorted(taken)[len(taken) // 2][0]
    return f"75 stores of 60 kinds: middle {middle_s:.3f} s, slowest {longest_s:.3f} s (× {wanted}, seed {seed})"


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
    print(slowest())


if __name__ == "__main__":
    main()
