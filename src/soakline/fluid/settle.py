"""Liquid that finds its level: how the basins of a cavity fill from any port, and where they spill.

The state of any fill through any port can be read from the tree of ``basins``. The idea of filling and spilling along
such a tree is that of Barnes, Callaghan & Wickert (source key ``settling.barnes_2021``), here on an unstructured set of
columns.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numba
import numpy as np
from numpy import float64
from numpy.typing import NDArray

from soakline.fluid.basins import Basins, curves_along, sum_up

_NOTHING_ML = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class Pools:
    """Liquid at rest: how much void each basin's own range holds (b,), in mL, and what found no room."""

    basins: Basins
    filled_ml: NDArray[float64]
    left_over_ml: float


@dataclass(frozen=True, slots=True, eq=False)
class Curve:
    """Void filled in mL, and the floor and roof in cm² that are under liquid by then, each (k,)."""

    void_ml: NDArray[float64]
    floor_cm2: NDArray[float64]
    roof_cm2: NDArray[float64]


def pour(basins: Basins, poured_ml: Sequence[tuple[int, float]], onto: Pools | None = None) -> Pools:
    """Return the liquid at rest after each (column, void in mL) of ``poured_ml`` was poured in, one after the other.

    ``onto`` is liquid that was there before. Volumes are of void: divide liquid by the porosity first.
    """
    filled = np.zeros(len(basins.parent)) if onto is None else onto.filled_ml.copy()
    left = 0.0 if onto is None else onto.left_over_ml
    tree = basins.leaf, basins.parent, basins.sibling, basins.entry, basins.own_ml, basins.whole_ml
    for column, volume_ml in poured_ml:
        left += pour_one(*tree, filled, column, volume_ml)
    return Pools(basins, filled, left)


def levels(pools: Pools) -> NDArray[float64]:
    """Return the height in cm of the liquid that stands at each column, shape (n,); −inf where none does."""
    basins = pools.basins
    level = _basin_levels(
        pools.filled_ml, basins.own_ml, basins.bottom_cm, basins.top_cm, basins.start, basins.curve_ml
    )
    return _column_levels(basins.first, basins.parent, level)


def curve_from(basins: Basins, column: int) -> Curve:
    """Return soaked floor and roof against the void filled through a port at ``column``, from empty to full."""
    return curves_by_leaf(basins)[int(basins.leaf[column])]


def curves_by_leaf(basins: Basins) -> dict[int, Curve]:
    """Return soaked floor and roof against the void filled when liquid starts in each basin that is a leaf."""
    tree = basins.first, basins.parent, basins.bottom_cm, basins.top_cm, basins.start
    floor = curves_along(*tree, basins.floor_low_cm, basins.floor_width_cm, basins.cavity.floor_cm2)
    roof = curves_along(*tree, basins.roof_low_cm, basins.roof_width_cm, basins.cavity.roof_cm2)
    found: dict[int, Curve] = {}
    for leaf in sorted(set(range(len(basins.parent))) - set(basins.parent.tolist())):
        sequence = _sequence(
            basins.leaf, basins.parent, basins.sibling, basins.entry, basins.own_ml, basins.whole_ml, leaf
        )
        found[leaf] = Curve(*_chain(sequence, basins.start, basins.curve_ml, floor, roof))
    return found


@numba.njit(cache=True, nogil=True, error_model="numpy")
def pour_one(
    leaf: Any, parent: Any, sibling: Any, entry: Any, own: Any, whole: Any, filled: Any, column: int, volume_ml: float
) -> float:
    """Pour ``volume_ml`` in at a column, filling and spilling, into ``filled``; returns the mL that found no room."""
    held = sum_up(parent, filled)
    k = leaf[column]
    while True:
        put = min(own[k] - filled[k], volume_ml)
        if put > 0.0:
            volume_ml -= put
            filled[k] += put
            up = k
            while up >= 0:
                held[up] += put
                up = parent[up]
        if volume_ml <= _NOTHING_ML:
            return 0.0
        if parent[k] < 0:
            return volume_ml
        beside = sibling[k]
        k = leaf[entry[k]] if held[beside] < whole[beside] - _NOTHING_ML else parent[k]


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _sequence(leaf: Any, parent: Any, sibling: Any, entry: Any, own: Any, whole: Any, start_leaf: int) -> Any:
    """List the basins in the order in which they fill when liquid starts in ``start_leaf``."""
    held = np.zeros(len(parent))
    done = np.zeros(len(parent), dtype=np.bool_)
    order = np.empty(len(parent), dtype=np.int32)
    count = 0
    k = start_leaf
    while True:
        if not done[k]:
            done[k] = True
            order[count] = k
            count += 1
            up = k
            while up >= 0:
                held[up] += own[k]
                up = parent[up]
        if parent[k] < 0:
            return order[:count]
        beside = sibling[k]
        k = leaf[entry[k]] if held[beside] < whole[beside] - _NOTHING_ML else parent[k]


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _chain(sequence: Any, start: Any, volume: Any, floor: Any, roof: Any) -> Any:
    """Lay the curves of basins one behind the other."""
    size = 0
    for k in sequence:
        size += start[k + 1] - start[k]
    out = np.empty((3, size))
    base = np.zeros(3)
    n = 0
    for k in sequence:
        for j in range(start[k], start[k + 1]):
            out[0, n], out[1, n], out[2, n] = base[0] + volume[j], base[1] + floor[j], base[2] + roof[j]
            n += 1
        base[0], base[1], base[2] = out[0, n - 1], out[1, n - 1], out[2, n - 1]
    return out[0], out[1], out[2]


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _basin_levels(filled: Any, own: Any, bottom: Any, top: Any, start: Any, curve: Any) -> Any:
    level = np.full(len(filled), -np.inf)
    for k in range(len(filled)):
        if filled[k] <= 0.0:
            continue
        if filled[k] >= own[k]:
            level[k] = top[k]
            continue
        low, high = start[k], start[k + 1] - 1
        while high - low > 1:
            middle = (low + high) // 2
            if curve[middle] <= filled[k]:
                low = middle
            else:
                high = middle
        rise = curve[high] - curve[low]
        part = (filled[k] - curve[low]) / rise if rise > 0.0 else 0.0
        step = (top[k] - bottom[k]) / (start[k + 1] - start[k] - 1)
        level[k] = bottom[k] + (low - start[k] + max(part, 0.0)) * step
    return level


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _column_levels(first: Any, parent: Any, level: Any) -> Any:
    """Height of the liquid at each column: that of the largest basin round it that holds any, (n,)."""
    reached = level.copy()
    # Parents come after their children; one that holds nothing by itself may lie between two that do.
    for k in range(len(parent) - 1, -1, -1):
        if parent[k] >= 0 and reached[parent[k]] > -np.inf:
            reached[k] = reached[parent[k]]
    return reached[first]
