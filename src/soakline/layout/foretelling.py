"""What places do together, foretold from what each does by itself, and in which plausible wounds it is looked at."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy import float64, intp
from numpy.typing import NDArray

from soakline.layout.front import EVEN_SHARE, WORST_SHARE, worst_tenth
from soakline.layout.tried import Tried

# Sets of places that grow by one more place.
_GROWING_SETS = 12


@dataclass(frozen=True, slots=True, eq=False)
class Alone:
    """What each of ``place_index`` does by itself in one wound: rows of ``tried``, in this order."""

    place_index: tuple[int, ...]
    tried: Tried

    def wetted_from_any(self, set_index: Sequence[tuple[int, ...]]) -> NDArray[float64]:
        """Return the floor (sets,), shares 0–1, that is wetted from any place of a set, places by index."""
        row = np.full(max(self.place_index) + 1, -1)
        row[list(self.place_index)] = np.arange(len(self.place_index))
        return self.tried.wetted_together(row[np.array(set_index, dtype=intp)])


def united(port_count: int, place_index: Sequence[int], alone: Sequence[Alone]) -> list[tuple[int, ...]]:
    """Return the sets of places that wet the most floor, by what is wetted from any; indices, highest first."""
    sets: list[tuple[int, ...]] = [(place,) for place in place_index]
    for _ in range(1, port_count):
        wider = sorted({tuple(sorted({*one, place})) for one in sets for place in place_index if place not in one})
        worst = np.quantile([one.wetted_from_any(wider) for one in alone], WORST_SHARE, axis=0)
        sets = [wider[k] for k in highest(worst, _GROWING_SETS)]
    return sets


def highest(share: NDArray[float64], count: int) -> list[int]:
    """Return by index the places with the highest shares, the highest first; of even ones the first."""
    return [int(k) for k in np.argsort(-share, kind="stable")[:count]]


def open_goals(goal_share: NDArray[float64]) -> list[int]:
    """Return by index the goals, of shares (wounds, 4), that a layout leaves more than half a point short of all."""
    worst, there = worst_tenth(goal_share[:, None])[0], ~np.isnan(goal_share).all(axis=0)
    return [int(goal) for goal in np.flatnonzero(there & (worst < 1.0 - EVEN_SHARE))]


def by_worst_tenth(goal_share: NDArray[float64]) -> list[int]:
    """Return wounds by index, nearest to the worst tenth first, of shares (wounds, 4) summed over the goals."""
    # Without a roof (NaN) nothing of it is left to reach.
    rank = np.argsort(np.nan_to_num(goal_share, nan=1.0).sum(axis=1), kind="stable")
    return [int(wound) for wound in rank[_ranks_by_worst_tenth(len(rank))]]


def place_of_worst_tenth(wound_count: int, seen_count: int) -> float:
    """Return the quantile 0–1 that all wounds' worst tenth is among those seen, which lie nearest to it."""
    lowest = int(_ranks_by_worst_tenth(wound_count)[:seen_count].min())
    return (WORST_SHARE * (wound_count - 1) - lowest) / (seen_count - 1)


def _ranks_by_worst_tenth(wound_count: int) -> NDArray[intp]:
    return np.argsort(np.abs(np.arange(wound_count) - WORST_SHARE * (wound_count - 1)), kind="stable")
