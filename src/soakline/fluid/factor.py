"""A sparse factor of a sheet's links: solved once, it answers for any inflow what potential every column comes to.

Columns are put in order by nested dissection of the grid: a line of cells cuts the sheet in two, each half is cut
again, and lines come after what they cut apart. Each line, with the later columns it touches, is one small dense matrix
(a front), and fronts are worked off from the last cuts to the first. ``benchmarks/draw.py`` times it beside a general
sparse factor.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numba
import numpy as np
from numpy import float64, int8, int32
from numpy.typing import NDArray

# Pieces of at most so many columns are not cut again.
_LEAF_COUNT = 8
# So many inflows are led back together; a compiled constant, so that they share a register.
_TOGETHER = 8


@dataclass(frozen=True, slots=True, eq=False)
class Graph:
    """Links seen from each column: ``start`` (n + 1,) cuts neighbours ``to``, ``way`` and ``conduct_cm`` (2m,)."""

    start: NDArray[int32]
    to: NDArray[int32]
    way: NDArray[int8]
    conduct_cm: NDArray[float64]


@dataclass(frozen=True, slots=True, eq=False)
class Factor:
    """The factor of conductances with some columns tied to zero; ``order`` (n,) lists columns as they are worked off.

    Front f has the columns ``first[f]`` to ``first[f + 1]`` of that order; ``below`` cut by ``below_start`` are the
    later ones that it touches, ``parent`` the front that goes on with them. ``values_cm`` cut by ``value_start`` are
    its rows of the factor (no lengths: roots of conductances in cm).
    """

    order: NDArray[int32]
    first: NDArray[int32]
    parent: NDArray[int32]
    below_start: NDArray[int32]
    below: NDArray[int32]
    value_start: NDArray[np.int64]
    values_cm: NDArray[float64]


def graph_of(count: int, link: NDArray[int32], way: NDArray[int8], conduct_cm: NDArray[float64]) -> Graph:
    """Return links (m, 2) of ``count`` columns, with ways (m,) and conductances (m,) in cm, from each column's side."""
    return Graph(*_from_each_side(count, link, way, conduct_cm))


def parts_of(graph: Graph) -> tuple[NDArray[int32], NDArray[int32]]:
    """Return the connected part that each column belongs to, (n,), and the first column of each part, by index."""
    part, firsts = _flood(graph.start, graph.to)
    return part, firsts


def factor_of(graph: Graph, row: NDArray[int32], place: NDArray[int32], tied_cm: NDArray[float64]) -> Factor:
    """Return the factor of a graph whose columns lie in grid cells (``row``, ``place``), each (n,).

    Linked columns lie in the same or in neighbouring cells. ``tied_cm`` (n,) is each column's conductance to zero in
    cm; every connected part needs one above 0.
    """
    order, first, parent = _dissect(row, place, _LEAF_COUNT)
    position = np.empty_like(order)
    position[order] = np.arange(len(order), dtype=np.int32)
    below_start, below, value_start, most = _touch(order, position, first, parent, graph.start, graph.to)
    values = np.empty(value_start[-1])
    _eliminate(
        order, position, first, parent, below_start, below, value_start, values, most,
        graph.start, graph.to, graph.conduct_cm, tied_cm,
    )  # fmt: skip
    return Factor(order, first, parent, below_start, below, value_start, values)


def potentials_per_cm(
    factor: Factor, start: NDArray[int32], column: NDArray[int32], inflow_share: NDArray[float64]
) -> NDArray[float64]:
    """Return the potential of every column for each of p inflows, (p, n), in 1/cm for an inflow of one.

    Inflow k enters ``column[start[k] : start[k + 1]]`` by ``inflow_share``.
    """
    return _solve(
        factor.order, factor.first, factor.parent, factor.below_start, factor.below, factor.value_start,
        factor.values_cm, start, column, inflow_share,
    )  # fmt: skip


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _from_each_side(count: int, link: Any, way: Any, conduct: Any) -> Any:
    start = np.zeros(count + 1, dtype=np.int32)
    for e in range(len(link)):
        start[link[e, 0] + 1] += 1
        start[link[e, 1] + 1] += 1
    for i in range(count):
        start[i + 1] += start[i]
    at = start[:-1].copy()
    to, ways = np.empty(2 * len(link), dtype=np.int32), np.empty(2 * len(link), dtype=np.int8)
    conducts = np.empty(2 * len(link))
    for e in range(len(link)):
        for side in range(2):
            i = link[e, side]
            to[at[i]], ways[at[i]], conducts[at[i]] = link[e, 1 - side], way[e], conduct[e]
            at[i] += 1
    return start, to, ways, conducts


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _flood(start: Any, to: Any) -> Any:
    n = len(start) - 1
    part, stack = np.full(n, -1, dtype=np.int32), np.empty(n, dtype=np.int32)
    firsts = np.empty(n, dtype=np.int32)
    count = 0
    for i in range(n):
        if part[i] >= 0:
            continue
        part[i], stack[0], size = count, i, 1
        firsts[count] = i
        while size > 0:
            size -= 1
            at = stack[size]
            for e in range(start[at], start[at + 1]):
                if part[to[e]] < 0:
                    part[to[e]] = count
                    stack[size] = to[e]
                    size += 1
        count += 1
    return part, firsts[:count].copy()


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _dissect(row: Any, place: Any, leaf_count: int) -> Any:
    """Cut the grid in two again and again; returns the order, where each front begins in it, and its parent."""
    n = len(row)
    order, moved = np.arange(n).astype(np.int32), np.empty(n, dtype=np.int32)
    first, parent = np.empty(n, dtype=np.int32), np.empty(n, dtype=np.int32)
    todo = [(0, n, -1)]
    count = 0
    while len(todo) > 0:
        low, high, up = todo.pop()
        if high - low <= leaf_count:
            first[count], parent[count] = low, up
            count += 1
            continue
        cut, by_row = _cut_line(order[low:high], row, place)
        before = after = line = 0
        for k in range(low, high):
            i = order[k]
            at = row[i] if by_row else place[i]
            if at < cut:
                order[low + before] = i
                before += 1
            elif at > cut:
                moved[after] = i
                after += 1
            else:
                line += 1
                moved[n - line] = i
        for k in range(after):
            order[low + before + k] = moved[k]
        for k in range(line):
            order[high - line + k] = moved[n - line + k]
        first[count], parent[count] = high - line, up
        if before > 0:
            todo.append((low, low + before, count))
        if after > 0:
            todo.append((low + before, low + before + after, count))
        count += 1
    return order, *_renumber(first[:count], parent[:count], n)


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _cut_line(columns: Any, row: Any, place: Any) -> Any:
    """Return the line across the longer side of a piece that cuts its columns in half, and whether it is a row."""
    low_row = high_row = row[columns[0]]
    low_place = high_place = place[columns[0]]
    for i in columns:
        low_row, high_row = min(low_row, row[i]), max(high_row, row[i])
        low_place, high_place = min(low_place, place[i]), max(high_place, place[i])
    tall, wide = high_row - low_row, high_place - low_place
    by_row = tall >= wide
    low, extent = (low_row, tall) if by_row else (low_place, wide)
    counts = np.zeros(extent + 1, dtype=np.int32)
    for i in columns:
        counts[(row[i] if by_row else place[i]) - low] += 1
    passed = at = 0
    while 2 * (passed + counts[at]) < len(columns):
        passed += counts[at]
        at += 1
    return low + at, by_row


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _renumber(first: Any, parent: Any, n: int) -> Any:
    """Give fronts the numbers by which they are worked off."""
    at = np.full(n, -1, dtype=np.int32)
    for f in range(len(first)):
        at[first[f]] = f
    number = np.empty(len(first), dtype=np.int32)
    k = 0
    for f in at:
        if f >= 0:
            number[f] = k
            k += 1
    new_first, new_parent = np.full(len(first) + 1, n, dtype=np.int32), np.full(len(first), -1, dtype=np.int32)
    for f in range(len(first)):
        new_first[number[f]] = first[f]
        if parent[f] >= 0:
            new_parent[number[f]] = number[parent[f]]
    return new_first, new_parent


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _touch(order: Any, position: Any, first: Any, parent: Any, start: Any, to: Any) -> Any:
    """Find the later columns that each front touches, where its values go, and how much room waits at most."""
    fronts = len(parent)
    seen = np.full(len(order), -1, dtype=np.int32)
    below, below_start = np.empty(8 * len(order), dtype=np.int32), np.zeros(fronts + 1, dtype=np.int32)
    value_start = np.zeros(fronts + 1, dtype=np.int64)
    newest, older = np.full(fronts, -1, dtype=np.int32), np.full(fronts, -1, dtype=np.int32)
    waits = most = 0
    for f in range(fronts):
        end, size = first[f + 1], below_start[f]
        if size + len(order) > len(below):
            below = np.concatenate((below, np.empty(len(below), dtype=np.int32)))
        for k in range(first[f], end):
            for e in range(start[order[k]], start[order[k] + 1]):
                q = position[to[e]]
                if q >= end and seen[q] != f:
                    seen[q] = f
                    below[size] = q
                    size += 1
        child = newest[f]
        while child >= 0:
            waits -= (below_start[child + 1] - below_start[child]) ** 2
            for k in range(below_start[child], below_start[child + 1]):
                q = below[k]
                if q >= end and seen[q] != f:
                    seen[q] = f
                    below[size] = q
                    size += 1
            child = older[child]
        below_start[f + 1] = size
        own, later = end - first[f], size - below_start[f]
        value_start[f + 1] = value_start[f] + own * (own + later)
        waits += later**2
        most = max(most, waits)
        if parent[f] >= 0:
            older[f] = newest[parent[f]]
            newest[parent[f]] = f
    return below_start, below[: below_start[-1]].copy(), value_start, most


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _eliminate(
    order: Any, position: Any, first: Any, parent: Any, below_start: Any, below: Any, value_start: Any, values: Any,
    most: int, start: Any, to: Any, conduct: Any, tied: Any,
) -> None:  # fmt: skip
    """Work off all fronts; what each leaves to its parent waits on a stack, the last on top."""
    local = np.empty(len(order), dtype=np.int32)
    stack, top = np.empty(most + 1), 0
    waiting = np.empty(len(parent), dtype=np.int32)
    count = 0
    for f in range(len(parent)):
        begin, own = first[f], first[f + 1] - first[f]
        later = below[below_start[f] : below_start[f + 1]]
        size = own + len(later)
        for k in range(own):
            local[begin + k] = k
        for k in range(len(later)):
            local[later[k]] = own + k
        front = np.zeros((size, size))
        for k in range(own):
            i = order[begin + k]
            front[k, k] += tied[i]
            for e in range(start[i], start[i + 1]):
                front[k, k] += conduct[e]
                q = position[to[e]]
                if q > begin + k:
                    front[k, local[q]] -= conduct[e]
        while count > 0 and parent[waiting[count - 1]] == f:
            count -= 1
            child = waiting[count]
            given = below[below_start[child] : below_start[child + 1]]
            top -= len(given) ** 2
            _add(front, local, given, stack[top : top + len(given) ** 2])
        _pivot(front, own)
        values[value_start[f] : value_start[f + 1]] = front[:own].ravel()
        for k in range(own, size):
            stack[top : top + len(later)] = front[k, own:]
            top += len(later)
        waiting[count] = f
        count += 1


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _add(front: Any, local: Any, given: Any, amounts: Any) -> None:
    """Add what a child leaves to its parent's front, upper half to upper half."""
    at = 0
    for a in range(len(given)):
        x = local[given[a]]
        for b in range(a, len(given)):
            y = local[given[b]]
            if x <= y:
                front[x, y] += amounts[at + b]
            else:
                front[y, x] += amounts[at + b]
        at += len(given)


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _pivot(front: Any, own: int) -> None:
    """Eliminate a front's own columns from its upper half."""
    size = len(front)
    for k in range(own):
        scale = 1.0 / np.sqrt(front[k, k])
        for c in range(k, size):
            front[k, c] *= scale
        for r in range(k + 1, size):
            amount = front[k, r]
            if amount != 0.0:
                for c in range(r, size):
                    front[r, c] -= amount * front[k, c]


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _solve(
    order: Any, first: Any, parent: Any, below_start: Any, below: Any, value_start: Any, values: Any, start: Any,
    column: Any, inflow: Any,
) -> Any:  # fmt: skip
    """Lead inflows down the fronts one by one, then back up many together."""
    n, count = len(order), len(start) - 1
    out = np.empty((count, n))
    position = np.empty(n, dtype=np.int32)
    front_of = np.empty(n, dtype=np.int32)
    for f in range(len(parent)):
        for k in range(first[f], first[f + 1]):
            position[order[k]], front_of[k] = k, f
    block, near, one = np.empty((n, _TOGETHER)), np.empty((n, _TOGETHER)), np.zeros(n)
    active = np.zeros(len(parent), dtype=np.bool_)
    for begin in range(0, count, _TOGETHER):
        block[:] = 0.0
        width = min(_TOGETHER, count - begin)
        for w in range(width):
            for e in range(start[begin + w], start[begin + w + 1]):
                k = position[column[e]]
                one[k] += inflow[e]
                active[front_of[k]] = True
            _down(first, parent, below_start, below, value_start, values, one, active, block, w)
        _up(first, below_start, below, value_start, values, block, near)
        for w in range(width):
            for k in range(n):
                out[begin + w, order[k]] = block[k, w]
    return out


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _down(
    first: Any, parent: Any, below_start: Any, below: Any, value_start: Any, values: Any, one: Any, active: Any,
    block: Any, w: int,
) -> None:  # fmt: skip
    """Lead one inflow through the fronts that it reaches; leaves ``one`` and ``active`` empty."""
    for f in range(len(parent)):
        if not active[f]:
            continue
        active[f] = False
        if parent[f] >= 0:
            active[parent[f]] = True
        begin, own = first[f], first[f + 1] - first[f]
        low, later = below_start[f], below_start[f + 1] - below_start[f]
        at = value_start[f]
        for k in range(own):
            value = one[begin + k] / values[at + k]
            block[begin + k, w], one[begin + k] = value, 0.0
            if value != 0.0:
                for c in range(k + 1, own):
                    one[begin + c] -= values[at + c] * value
                for c in range(later):
                    one[below[low + c]] -= values[at + own + c] * value
            at += own + later


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _up(first: Any, below_start: Any, below: Any, value_start: Any, values: Any, block: Any, near: Any) -> None:
    """Lead ``_TOGETHER`` potentials back from the last front to the first."""
    total = np.empty(_TOGETHER)
    for f in range(len(first) - 2, -1, -1):
        begin, own = first[f], first[f + 1] - first[f]
        low, later = below_start[f], below_start[f + 1] - below_start[f]
        for c in range(later):
            for w in range(_TOGETHER):
                near[own + c, w] = block[below[low + c], w]
        for k in range(own - 1, -1, -1):
            at = value_start[f] + k * (own + later)
            for w in range(_TOGETHER):
                total[w] = block[begin + k, w]
            for c in range(k + 1, own + later):
                value = values[at + c]
                for w in range(_TOGETHER):
                    total[w] -= value * near[c, w]
            scale = 1.0 / values[at + k]
            for w in range(_TOGETHER):
                near[k, w] = block[begin + k, w] = total[w] * scale
