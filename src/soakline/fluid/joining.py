"""How columns run down into hollows, and hollows join into basins, as links open in order of height."""

from __future__ import annotations

from typing import Any

import numba
import numpy as np
from numpy import float64, int32, uint32
from numpy.typing import NDArray

from soakline.wound.cavity import Cavity


def join_hollows(
    cavity: Cavity, up: NDArray[float64], low_cm: NDArray[float64], width_cm: NDArray[float64], pruned_ml: float
) -> tuple[NDArray[int32], NDArray[int32], NDArray[int32], NDArray[int32], NDArray[int32], NDArray[float64]]:
    """Return the tree of basins of a cavity when ``up`` (3,), no unit, points against gravity, as in ``Basins``.

    ``first`` and ``leaf`` (n,) by column; ``parent``, ``sibling``, ``entry`` and the level in cm at which each basin
    joins its sibling, (b,). Columns (n,) fill from ``low_cm`` over ``width_cm``; a hollow of less than ``pruned_ml``
    is part of the basin that it drains to.
    """
    link = unsigned(cavity.link)
    level, joins_at, over = _lowest_ways(
        up, cavity.link_low_cm, cavity.link_high_cm, cavity.link_bore_cm, cavity.link_axis, link, len(low_cm)
    )
    down = _run_down(link, joins_at, over, low_cm, width_cm, cavity.volume_ml, pruned_ml)
    hollow, hollow_count = _count_hollows(down)
    between = _between(link, unsigned(hollow))
    order = between[np.argsort(level[between])]
    return _join(
        order, link, level, joins_at, unsigned(hollow), hollow_count, low_cm, width_cm, cavity.volume_ml, pruned_ml
    )


def unsigned(index: NDArray[int32]) -> NDArray[uint32]:
    """Return the same indices without a sign: a kernel need not ask then whether each counts from the end.

    What is −1 is larger than any index.
    """
    return index.view(uint32)


@numba.njit(cache=True, nogil=True, error_model="numpy", fastmath={"contract"})
def _lowest_ways(up: Any, link_low: Any, link_high: Any, bore: Any, axis: Any, link: Any, n: int) -> Any:
    """Find the level of the lowest point of each shared face, (m,), and the lowest way out of each column.

    That is its level, (n,), and its link, (n,), −1 for none.
    """
    m = len(link_low)
    level, joins_at, over = np.empty(m), np.full(n, np.inf), np.full(n, -1, dtype=np.int32)
    for e in range(m):
        first = up[0] * link_low[e, 0] + up[1] * link_low[e, 1] + up[2] * link_low[e, 2]
        second = up[0] * link_high[e, 0] + up[1] * link_high[e, 1] + up[2] * link_high[e, 2]
        z = min(second, first)
        if bore[e] > 0.0:
            along = up[0] * axis[e, 0] + up[1] * axis[e, 1] + up[2] * axis[e, 2]
            z -= bore[e] * np.sqrt(max(1.0 - along * along, 0.0))
        level[e] = z
        i, j = link[e, 0], link[e, 1]
        # Of links at one level the first counts for both ends, so that no ring of columns can form.
        if z < joins_at[i]:
            joins_at[i], over[i] = z, e
        if z < joins_at[j]:
            joins_at[j], over[j] = z, e
    return level, joins_at, over


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _run_down(link: Any, joins_at: Any, over: Any, low: Any, width: Any, volume: Any, pruned_ml: float) -> Any:
    """Find for every column the one that a drop on it runs to first, (n,): itself at the bottom of a hollow.

    A column that holds enough by itself before it joins is a hollow of its own.
    """
    n = len(low)
    down = np.empty(n, dtype=np.uint32)
    for i in range(n):
        down[i] = i
        if over[i] < 0:
            continue
        e = np.uint32(over[i])
        j = np.uint32(link[e, 0] + link[e, 1] - i)
        holds_enough = volume[i] >= pruned_ml and volume[i] * (joins_at[i] - low[i]) >= pruned_ml * width[i]
        # Two that lead to each other are a bottom: the first of them stays.
        if not holds_enough and (over[j] != over[i] or j < i):
            down[i] = j
    return down


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _count_hollows(down: Any) -> Any:
    """Give each hollow a number, and each column that of the hollow it runs down to, (n,)."""
    n = len(down)
    hollow, count = np.full(n, -1, dtype=np.int32), 0
    for i in range(n):
        if down[i] == i:
            hollow[i] = count
            count += 1
    for i in range(n):
        at = np.uint32(i)
        while hollow[at] < 0:
            at = down[at]
        # Leave the answer all along the way, so that each column is passed once.
        found, at = hollow[at], np.uint32(i)
        while hollow[at] < 0:
            hollow[at] = found
            at = down[at]
    return hollow, count


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _between(link: Any, hollow: Any) -> Any:
    """List the links that lead from one hollow into another."""
    found, count = np.empty(len(link), dtype=np.int32), 0
    for e in range(len(link)):
        if hollow[link[e, 0]] != hollow[link[e, 1]]:
            found[count] = e
            count += 1
    return found[:count]


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _join(
    order: Any, link: Any, level: Any, joins_at: Any, hollow: Any, hollow_count: int, low: Any, width: Any,
    volume: Any, pruned_ml: float,
) -> Any:  # fmt: skip
    """Open the links between hollows in rising order and record which basins join where.

    A hollow that holds next to nothing where it would spill is pruned: it becomes part of the basin it spills into.
    """
    n = hollow_count
    start, columns = _by_hollow(n, hollow)
    # Per component, under its root: the hollows in it as a chain, the one it goes back to, the basin on top of it.
    after, last, deepest, top_basin = np.full(n, -1), np.arange(n), np.arange(n), np.arange(n)
    boss, kept = np.arange(n), np.zeros(n, dtype=np.bool_)
    drains, absorbed_at = np.arange(n), np.full(n, -np.inf)
    parent, sibling = np.full(2 * n, -1), np.full(2 * n, -1)
    entry, top = np.full(2 * n, -1), np.full(2 * n, np.inf)
    basin_count = n
    for e in order:
        left, right = link[e, 0], link[e, 1]
        a, b = _root(boss, hollow[left]), _root(boss, hollow[right])
        if a == b:
            continue
        z = level[e]
        held_a = _held_ml(z, a, after, start, columns, low, width, volume, pruned_ml) if not kept[a] else pruned_ml
        held_b = _held_ml(z, b, after, start, columns, low, width, volume, pruned_ml) if not kept[b] else pruned_ml
        kept[a], kept[b] = held_a >= pruned_ml, held_b >= pruned_ml
        if kept[a] and kept[b]:
            first, second = top_basin[a], top_basin[b]
            parent[first] = parent[second] = basin_count
            sibling[first], sibling[second] = second, first
            entry[first], entry[second] = right, left
            top[first] = top[second] = z
            top_basin[a] = basin_count
            basin_count += 1
        else:
            into = left
            if held_a < held_b:
                a, b, into = b, a, right
            drains[deepest[b]], absorbed_at[deepest[b]] = hollow[into], z
        boss[b] = a
        after[last[a]] = b
        last[a] = last[b]
    return _number(basin_count, drains, absorbed_at, joins_at, hollow, parent, sibling, entry, top)


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _root(boss: Any, i: int) -> int:
    while boss[i] != i:
        boss[i] = boss[boss[i]]
        i = boss[i]
    return i


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _by_hollow(count: int, hollow: Any) -> Any:
    """List the columns hollow by hollow: where each hollow's begin, (count + 1,), and the columns, (n,)."""
    start = np.zeros(count + 1, dtype=np.int32)
    for h in hollow:
        start[h + 1] += 1
    for h in range(count):
        start[h + 1] += start[h]
    place, columns = start[:-1].copy(), np.empty(len(hollow), dtype=np.int32)
    for i, h in enumerate(hollow):
        columns[place[h]] = i
        place[h] += 1
    return start, columns


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _held_ml(
    z: float, root: int, after: Any, start: Any, columns: Any, low: Any, width: Any, volume: Any, enough_ml: float
) -> float:
    """Sum what a component's hollows hold up to a level, or as much of it as is enough to know."""
    held = 0.0
    part = root
    while part >= 0:
        for place in range(start[part], start[part + 1]):
            i = columns[place]
            held += volume[i] * min(max((z - low[i]) / width[i], 0.0), 1.0)
            if held >= enough_ml:
                return held
        part = after[part]
    return held


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _number(
    basin_count: int, drains: Any, absorbed_at: Any, joins_at: Any, hollow: Any, parent: Any, sibling: Any,
    entry: Any, top: Any,
) -> Any:  # fmt: skip
    """Give numbers to the basins that are left: leaves first, parents always after their children."""
    number = np.full(basin_count, -1, dtype=np.int32)
    kept = 0
    for basin in range(basin_count):
        if basin >= len(drains) or drains[basin] == basin:
            number[basin] = kept
            kept += 1
    new_parent, new_sibling = np.full(kept, -1, dtype=np.int32), np.full(kept, -1, dtype=np.int32)
    new_entry, new_top = np.full(kept, -1, dtype=np.int32), np.full(kept, np.inf)
    for basin in range(basin_count):
        k = number[basin]
        if k >= 0 and parent[basin] >= 0:
            new_parent[k], new_sibling[k] = number[parent[basin]], number[sibling[basin]]
            new_entry[k], new_top[k] = entry[basin], top[basin]
    # For each hollow: the basin it drains to in the end, and the level at which the last on that way was absorbed.
    leaf_of, from_level = np.empty(len(drains), dtype=np.int32), np.full(len(drains), -np.inf)
    for h in range(len(drains)):
        at = h
        while drains[at] != at:
            from_level[h] = max(from_level[h], absorbed_at[at])
            at = drains[at]
        leaf_of[h] = number[at]
    first, leaf = np.empty(len(hollow), dtype=np.int32), np.empty(len(hollow), dtype=np.int32)
    for i, h in enumerate(hollow):
        k = leaf[i] = leaf_of[h]
        z = max(joins_at[i], from_level[h])
        while new_parent[k] >= 0 and new_top[k] < z:
            k = new_parent[k]
        first[i] = k
    return first, leaf, new_parent, new_sibling, new_entry, new_top
