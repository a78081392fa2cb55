"""Liquid that finds its level: which basins a cavity has in a posture, how they fill, and where they spill.

Every column of the cavity is a prism; a link between two columns opens when the level reaches the lowest point of their
shared face. Opening the links in order of height joins columns into basins and basins into larger ones: a tree, from
which the state of any fill through any port can be read. The idea of filling and spilling along such a tree is that of
Barnes, Callaghan & Wickert (source key ``settling.barnes_2021``), here on an unstructured set of columns.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numba
import numpy as np
from numpy import float64, int32
from numpy.typing import NDArray

from soakline.wound.cavity import Cavity

# A hollow that holds less than this share of the void is read as part of the basin that it drains to.
PRUNED_SHARE = 0.002
# Levels at which a basin's curves are kept, in cm; between two of them they run straight.
_LEVEL_STEP_CM = 0.02
# A face that lies level comes under at once; this width stands for "at once".
_THIN_CM = 1e-5
_NOTHING_ML = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class Basins:
    """The basins of a cavity in one posture, as a tree: leaves are hollows, every other basin is two that have joined.

    ``up`` (3,) points against gravity. Per column (n,): ``low_cm`` and ``width_cm``, the height at which it starts to
    fill and over which it fills, the same for ``floor_`` and ``roof_``; ``first`` the lowest basin that holds it;
    ``leaf`` the basin that a drop on it runs to. Per basin (b,): ``parent`` and ``sibling`` (−1 is none), ``entry`` the
    column over which it spills, its own range of levels ``bottom_cm`` to ``top_cm``, ``own_ml`` what it holds between
    them and ``whole_ml`` with all below.
    ``start`` (b + 1,) cuts ``curve_ml``, ``curve_floor_cm2`` and ``curve_roof_cm2`` into one curve per basin, at levels
    evenly spaced from bottom to top.
    """

    cavity: Cavity
    up: NDArray[float64]
    low_cm: NDArray[float64]
    width_cm: NDArray[float64]
    floor_low_cm: NDArray[float64]
    floor_width_cm: NDArray[float64]
    roof_low_cm: NDArray[float64]
    roof_width_cm: NDArray[float64]
    first: NDArray[int32]
    leaf: NDArray[int32]
    parent: NDArray[int32]
    sibling: NDArray[int32]
    entry: NDArray[int32]
    bottom_cm: NDArray[float64]
    top_cm: NDArray[float64]
    own_ml: NDArray[float64]
    whole_ml: NDArray[float64]
    start: NDArray[int32]
    curve_ml: NDArray[float64]
    curve_floor_cm2: NDArray[float64]
    curve_roof_cm2: NDArray[float64]


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


def basins_of(cavity: Cavity, up: NDArray[float64]) -> Basins:
    """Return the basins of a cavity when ``up`` (3,), a unit vector in body axes, points against gravity."""
    low, width, floor_low, floor_width, roof_low, roof_width = _project(
        up, cavity.centre_cm, cavity.spans_cm, cavity.floor_cm, cavity.floor_spans_cm, cavity.roof_cm
    )
    level = _link_level(up, cavity.link_low_cm, cavity.link_high_cm, cavity.link_bore_cm, cavity.link_axis)
    pruned_ml = PRUNED_SHARE * cavity.void_ml
    volume = cavity.volume_ml
    joins_at, hollow, hollow_count = _run_down(cavity.link, level, low, width, volume, pruned_ml)
    between = _between(cavity.link, hollow)
    order = between[np.argsort(level[between])]
    first, leaf, parent, sibling, entry, top = _join(
        order, cavity.link, level, joins_at, hollow, hollow_count, low, width, volume, pruned_ml
    )
    # Full to the top is all surfaces under liquid: a face may end a little above its column's ramp.
    high = np.maximum(low + width, np.maximum(floor_low + floor_width, roof_low + roof_width))
    bottom, top, start = _ranges(first, parent, low, high, top)
    curves = [
        _accumulate(first, parent, bottom, top, start, lows, widths, amount)
        for lows, widths, amount in (
            (low, width, cavity.volume_ml),
            (floor_low, floor_width, cavity.floor_cm2),
            (roof_low, roof_width, cavity.roof_cm2),
        )
    ]
    own = curves[0][start[1:] - 1]
    return Basins(
        cavity, up, low, width, floor_low, floor_width, roof_low, roof_width, first, leaf, parent, sibling, entry,
        bottom, top, own, _sum_up(parent, own), start, *curves,
    )  # fmt: skip


def pour(basins: Basins, poured_ml: Sequence[tuple[int, float]], onto: Pools | None = None) -> Pools:
    """Return the liquid at rest after each (column, void in mL) of ``poured_ml`` was poured in, one after the other.

    ``onto`` is liquid that was there before. Volumes are of void: divide liquid by the porosity first.
    """
    filled = np.zeros(len(basins.parent)) if onto is None else onto.filled_ml.copy()
    left = 0.0 if onto is None else onto.left_over_ml
    tree = basins.leaf, basins.parent, basins.sibling, basins.entry, basins.own_ml, basins.whole_ml
    for column, volume_ml in poured_ml:
        left += _pour_one(*tree, filled, column, volume_ml)
    return Pools(basins, filled, left)


def levels(pools: Pools) -> NDArray[float64]:
    """Return the height in cm of the liquid that stands at each column, shape (n,); −inf where none does."""
    basins = pools.basins
    level = _basin_levels(
        pools.filled_ml, basins.own_ml, basins.bottom_cm, basins.top_cm, basins.start, basins.curve_ml
    )
    return _column_levels(basins.first, basins.parent, level)


def wet_shares(pools: Pools) -> tuple[NDArray[float64], NDArray[float64]]:
    """Return the share 0–1 of each column's floor, and of its roof, that is under liquid, each (n,)."""
    basins, level = pools.basins, levels(pools)
    floor = np.clip((level - basins.floor_low_cm) / basins.floor_width_cm, 0.0, 1.0)
    roof = np.clip((level - basins.roof_low_cm) / basins.roof_width_cm, 0.0, 1.0)
    return floor, roof


def curve_from(basins: Basins, column: int) -> Curve:
    """Return soaked floor and roof against the void filled through a port at ``column``, from empty to full."""
    return curve_of_leaf(basins, int(basins.leaf[column]))


def curve_of_leaf(basins: Basins, leaf: int) -> Curve:
    """Return soaked floor and roof against the void filled when liquid starts in basin ``leaf``, from empty to full."""
    sequence = _sequence(basins.leaf, basins.parent, basins.sibling, basins.entry, basins.own_ml, basins.whole_ml, leaf)
    void_ml, floor, roof = _chain(
        sequence, basins.start, basins.curve_ml, basins.curve_floor_cm2, basins.curve_roof_cm2
    )
    return Curve(void_ml, floor, roof)


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _project(up: Any, centre: Any, spans: Any, floor: Any, floor_spans: Any, roof: Any) -> Any:
    """Height at which each column, its floor and its roof start to come under, and over which they do, each (n,)."""
    n = len(centre)
    low, width = np.empty(n), np.empty(n)
    floor_low, floor_width = np.empty(n), np.empty(n)
    roof_low, roof_width = np.empty(n), np.empty(n)
    x, y, z = up[0], up[1], up[2]
    for i in range(n):
        a = x * spans[0, i, 0] + y * spans[0, i, 1] + z * spans[0, i, 2]
        b = x * spans[1, i, 0] + y * spans[1, i, 1] + z * spans[1, i, 2]
        c = x * spans[2, i, 0] + y * spans[2, i, 1] + z * spans[2, i, 2]
        # One even ramp with the mean and the variance of the tilted box.
        width[i] = max(np.sqrt(a * a + b * b + c * c), _THIN_CM)
        low[i] = x * centre[i, 0] + y * centre[i, 1] + z * centre[i, 2] - width[i] / 2
        roof_width[i] = max(np.sqrt(a * a + b * b), _THIN_CM)
        roof_low[i] = x * roof[i, 0] + y * roof[i, 1] + z * roof[i, 2] - roof_width[i] / 2
        a = x * floor_spans[0, i, 0] + y * floor_spans[0, i, 1] + z * floor_spans[0, i, 2]
        b = x * floor_spans[1, i, 0] + y * floor_spans[1, i, 1] + z * floor_spans[1, i, 2]
        floor_width[i] = max(np.sqrt(a * a + b * b), _THIN_CM)
        floor_low[i] = x * floor[i, 0] + y * floor[i, 1] + z * floor[i, 2] - floor_width[i] / 2
    return low, width, floor_low, floor_width, roof_low, roof_width


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _link_level(up: Any, link_low: Any, link_high: Any, bore: Any, axis: Any) -> Any:
    """Height of the lowest point of each shared face, (m,)."""
    m = len(link_low)
    level = np.empty(m)
    for e in range(m):
        first = up[0] * link_low[e, 0] + up[1] * link_low[e, 1] + up[2] * link_low[e, 2]
        second = up[0] * link_high[e, 0] + up[1] * link_high[e, 1] + up[2] * link_high[e, 2]
        level[e] = min(first, second)
        if bore[e] > 0.0:
            along = up[0] * axis[e, 0] + up[1] * axis[e, 1] + up[2] * axis[e, 2]
            level[e] -= bore[e] * np.sqrt(max(1.0 - along * along, 0.0))
    return level


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _root(boss: Any, i: int) -> int:
    while boss[i] != i:
        boss[i] = boss[boss[i]]
        i = boss[i]
    return i


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _run_down(link: Any, level: Any, low: Any, width: Any, volume: Any, pruned_ml: float) -> Any:
    """Follow from every column the link over which a drop on it leaves first, down to the bottom of its hollow.

    Returns the level at which each column joins the next one down, (n,), the number of its hollow, (n,), and how many
    hollows there are. A column that holds enough by itself before it joins is a hollow of its own.
    """
    n = len(low)
    over, joins_at = np.full(n, -1, dtype=np.int32), np.full(n, np.inf)
    for e in range(len(link)):
        z = level[e]
        i, j = link[e, 0], link[e, 1]
        # Of links at one level the first counts for both ends, so that no ring of columns can form.
        if z < joins_at[i]:
            joins_at[i], over[i] = z, e
        if z < joins_at[j]:
            joins_at[j], over[j] = z, e
    down = np.arange(n, dtype=np.int32)
    for i in range(n):
        e = over[i]
        if e < 0:
            continue
        j = link[e, 0] + link[e, 1] - i
        alone_ml = volume[i] * min(max((level[e] - low[i]) / width[i], 0.0), 1.0)
        # Two that lead to each other are a bottom: the first of them stays.
        if alone_ml < pruned_ml and (over[j] != e or j < i):
            down[i] = j
    hollow, count = _count_hollows(down)
    return joins_at, hollow, count


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
        at = i
        while hollow[at] < 0:
            at = down[at]
        # Leave the answer all along the way, so that each column is passed once.
        found, at = hollow[at], i
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


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _ranges(first: Any, parent: Any, low: Any, high: Any, top: Any) -> Any:
    """Each basin's own range of levels, and where its curve starts in the arrays of curves."""
    b = len(parent)
    bottom, highest = np.full(b, np.inf), np.full(b, -np.inf)
    leaf_basin = np.ones(b, dtype=np.bool_)
    for k in range(b):
        if parent[k] >= 0:
            leaf_basin[parent[k]] = False
            bottom[parent[k]] = top[k]
    for i in range(len(first)):
        k = first[i]
        highest[k] = max(highest[k], high[i])
        if leaf_basin[k]:
            bottom[k] = min(bottom[k], low[i])
    for k in range(b):
        if parent[k] >= 0:
            highest[parent[k]] = max(highest[parent[k]], highest[k])
    new_top = np.empty(b)
    start = np.zeros(b + 1, dtype=np.int32)
    for k in range(b):
        new_top[k] = top[k] if parent[k] >= 0 else max(highest[k], bottom[k])
        bottom[k] = min(bottom[k], new_top[k])
        start[k + 1] = start[k] + max(1, int(np.ceil((new_top[k] - bottom[k]) / _LEVEL_STEP_CM))) + 1
    return bottom, new_top, start


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _accumulate(first: Any, parent: Any, bottom: Any, top: Any, start: Any, low: Any, width: Any, amount: Any) -> Any:
    """Sum every column's ramp into the curves of the basins that it passes through as the level rises.

    A ramp is two changes of slope; the second sum of the changes gives the exact value at every kept level.
    """
    bend = np.zeros(start[-1] + 2 * len(parent))  # two spare places behind each curve
    jump = np.zeros(len(parent))
    steps = start[1:] - start[:-1] - 1
    step = (top - bottom) / steps
    for i in range(len(first)):
        if amount[i] == 0.0:
            continue
        k = first[i]
        high = low[i] + width[i]
        rate = amount[i] / width[i]
        if low[i] < bottom[k]:
            jump[k] += rate * (min(high, bottom[k]) - low[i])
        while True:
            begin, end = max(low[i], bottom[k]), min(high, top[k])
            if begin < end:
                at = start[k] + 2 * k
                _bend(bend, at, (begin - bottom[k]) / step[k], steps[k], rate * step[k])
                _bend(bend, at, (end - bottom[k]) / step[k], steps[k], -rate * step[k])
            if high <= top[k] or parent[k] < 0:
                break
            k = parent[k]
    curve = np.empty(start[-1])
    for k in range(len(parent)):
        slope, value = 0.0, jump[k]
        for j in range(start[k + 1] - start[k]):
            slope += bend[start[k] + 2 * k + j]
            value += slope
            curve[start[k] + j] = value
    return curve


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _bend(bend: Any, at: int, place: float, steps: int, rate: float) -> None:
    """Change the slope of a curve by ``rate`` a step at a ``place`` counted in steps, in its second differences."""
    place = min(place, float(steps))
    j = int(place)
    part = place - j
    bend[at + j + 1] += rate * (1.0 - part)
    bend[at + j + 2] += rate * part


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _sum_up(parent: Any, own: Any) -> Any:
    whole = own.copy()
    for k in range(len(parent)):
        if parent[k] >= 0:
            whole[parent[k]] += whole[k]
    return whole


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _pour_one(
    leaf: Any, parent: Any, sibling: Any, entry: Any, own: Any, whole: Any, filled: Any, column: int, volume: float
) -> float:
    """Pour ``volume`` in at a column, filling and spilling; changes ``filled`` and returns what found no room."""
    held = _sum_up(parent, filled)
    k = leaf[column]
    while True:
        put = min(own[k] - filled[k], volume)
        if put > 0.0:
            volume -= put
            filled[k] += put
            up = k
            while up >= 0:
                held[up] += put
                up = parent[up]
        if volume <= _NOTHING_ML:
            return 0.0
        if parent[k] < 0:
            return volume
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
