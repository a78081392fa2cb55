"""Turning inside one soak: liquid at rest in one posture is the starting pool of the next.

What stands in each column runs from there into the basins of the new posture; nothing is added and nothing is lost.
What the driest foam holds back on the way is not counted.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy import float64
from numpy.typing import NDArray

from soakline.fluid.rest import Rest, Room, rest, rest_wetness


def turn(found: Rest, into: Room) -> Rest:
    """Return where liquid at rest comes to rest again in another posture of the same cavity.

    What found no room before the turn finds none after it. Raises ValueError when the cavities differ.
    """
    basins = into.basins
    if basins.cavity is not found.room.basins.cavity:
        msg = "liquid can be turned with its own cavity only: make both postures' basins from one cavity"
        raise ValueError(msg)
    # All columns of a hollow run to its bottom: what they hold goes in there together.
    by_leaf_ml = np.bincount(basins.leaf, weights=found.held_ml, minlength=len(basins.parent))
    column_of = np.zeros(len(basins.parent), dtype=np.intp)
    column_of[basins.leaf] = np.arange(len(basins.leaf))
    again = rest(into, [(int(column_of[k]), float(by_leaf_ml[k])) for k in np.flatnonzero(by_leaf_ml > 0.0)])
    return Rest(into, again.pools, again.head_cm, again.held_ml, again.left_over_ml + found.left_over_ml)


def soak_turning(rooms: Sequence[Room], poured_ml: Sequence[tuple[int, float]]) -> list[Rest]:
    """Return the liquid at rest in each posture of one soak, in their order; the fill is given in the first.

    ``poured_ml`` is (column, liquid in mL).
    """
    found = [rest(rooms[0], poured_ml)]
    for into in rooms[1:]:
        found.append(turn(found[-1], into))
    return found


def union_wetness(found: Sequence[Rest]) -> tuple[NDArray[float64], NDArray[float64]]:
    """Return per column (n, 3) the shares 0–1 of floor and roof that are soaked, moist and rinsed in any posture.

    A share is that of the posture that reaches most of the column: two postures that reach its two ends are not added.
    """
    pairs = [rest_wetness(at_rest) for at_rest in found]
    floor, roof = (np.stack([pair[face] for pair in pairs]) for face in (0, 1))
    return _reached_by_any(floor), _reached_by_any(roof)


def _reached_by_any(shares: NDArray[float64]) -> NDArray[float64]:
    soaked = shares[:, :, 0].max(axis=0)
    moist = shares[:, :, :2].sum(axis=2).max(axis=0)
    return np.stack([soaked, moist - soaked, np.zeros_like(soaked)], axis=1)
