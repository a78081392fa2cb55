"""Liquid at rest in foam that holds it: each pool comes to one head, with a fringe of held liquid above its level.

The basins are those of ``settle``. Where foam holds liquid, a basin has room for what stands below its level and for
what hangs above it, and liquid passes a sill before the level is as high: as soon as the foam on the sill is moist.
Drier foam lets next to nothing pass within a soak. So every sill counts as lower by the height of the moist fringe, and
the tree of basins is filled, spilled and joined as before. Source keys ``foam.van_genuchten``,
``foam.capillary_height``; without capillary height it is the settled model.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

import numba
import numpy as np
from numpy import float64
from numpy.typing import NDArray

from soakline.fluid.basins import Basins
from soakline.fluid.capillary import DRY_HEAD_SHARE, MOIST_HEAD_SHARE, SOAKED_HEAD_SHARE, saturation_share
from soakline.fluid.settle import Pools, pour, pour_one
from soakline.fluid.spread import Foam, needed_head_cm

# Steps of the table of held liquid, from dry up to the free level.
_KNOTS = 3_000
# A head is found once what stands at it is this share of the pool off; the rest is shared out.
_EXACT_SHARE = 1e-10
_MOST_TRIES = 80
# Free liquid stands under its level alone: no foam holds any above it.
_FREE = np.zeros(1)


@dataclass(frozen=True, slots=True, eq=False)
class Holding:
    """What each column (n,) holds at a head, all heights as a ratio to ``unit_cm``: the capillary height, or 1 without.

    ``foot_ratio`` and ``extent_ratio`` are along gravity. A column holds ``rate_ml`` times the integral of saturation
    over it less ``dry_ml``, what the driest foam holds too; full it holds ``full_ml``. ``stored_ratio`` (k,) is that
    integral at even steps of head.
    """

    unit_cm: float
    foot_ratio: NDArray[float64]
    extent_ratio: NDArray[float64]
    rate_ml: NDArray[float64]
    dry_ml: NDArray[float64]
    full_ml: NDArray[float64]
    stored_ratio: NDArray[float64]


@dataclass(frozen=True, slots=True, eq=False)
class Room:
    """The basins of a cavity in one posture, with what foam leaves room for in each and holds above its level.

    ``basins`` holds rooms in mL of void, at heads that join basins; ``joined_head_cm`` (b,) is each basin's head when
    it is full. ``beyond_ml`` (b,) is what the foam that a basin adds to the two it joins takes, in mL of void, until it
    is at their head.
    """

    basins: Basins
    foam: Foam
    holding: Holding
    joined_head_cm: NDArray[float64]
    beyond_ml: NDArray[float64]


@dataclass(frozen=True, slots=True, eq=False)
class Rest:
    """Liquid at rest, per column (n,): the head in cm (−inf where none stands or hangs) and what is held, in mL.

    ``pools`` counts it by basin, in mL of void; ``left_over_ml`` is liquid that found no room.
    """

    room: Room
    pools: Pools
    head_cm: NDArray[float64]
    held_ml: NDArray[float64]
    left_over_ml: float


def room_of(basins: Basins, foam: Foam) -> Room:
    """Return what foam makes of the basins of a cavity; raises ValueError for foam that is none."""
    _refuse_no_foam(foam)
    held_cm = foam.capillary_height_cm
    # The root is full when everything is; every other basin when liquid passes its sill.
    joined = np.where(basins.parent < 0, basins.top_cm, basins.top_cm + MOIST_HEAD_SHARE * held_cm)
    holding = _holding(basins.low_cm, basins.width_cm, basins.cavity.volume_ml, held_cm)
    whole, beyond = _room_ml(joined / holding.unit_cm, basins.first, basins.parent, *_columns(holding))
    own = whole.copy()
    inner = basins.parent >= 0
    np.subtract.at(own, basins.parent[inner], whole[inner])
    return Room(replace(basins, own_ml=np.maximum(own, 0.0), whole_ml=whole), foam, holding, joined, beyond)


def rest(room: Room, poured_ml: Sequence[tuple[int, float]], onto: Rest | None = None) -> Rest:
    """Return where each (column, liquid in mL) of ``poured_ml`` comes to rest; ``onto`` is what stood there before.

    Raises ValueError for a volume that is none.
    """
    for _, liquid_ml in poured_ml:
        _refuse_no_volume(liquid_ml)
    porosity = room.foam.porosity_share
    void_ml = [(column, liquid_ml / porosity) for column, liquid_ml in poured_ml]
    return _at_one_head(room, pour(room.basins, void_ml, None if onto is None else onto.pools))


def rest_wetness(found: Rest) -> tuple[NDArray[float64], NDArray[float64]]:
    """Return per column (n, 3) the shares 0–1 of its floor and of its roof that are soaked, moist and rinsed.

    As in the spread model; liquid at rest says nothing of what was rinsed on the way, which is 0 here.
    """
    basins, foam = found.room.basins, found.room.foam
    needed = _needed_cm(foam, SOAKED_HEAD_SHARE), _needed_cm(foam, MOIST_HEAD_SHARE)
    return (
        _states(found.head_cm, *needed, basins.floor_low_cm, basins.floor_width_cm),
        _states(found.head_cm, *needed, basins.roof_low_cm, basins.roof_width_cm),
    )


def soaked_by_fills(
    room: Room, poured_share: Sequence[tuple[int, float]], fill_ml: NDArray[float64]
) -> NDArray[float64]:
    """Return the share 0–1 of each column's floor and roof, (v, 2, n), that is soaked by each fill (v,) in mL alone.

    ``poured_share`` is the columns that liquid comes in at and the share 0–1 of a fill that each takes. Soaked is as
    in ``rest_wetness``. Raises ValueError for a volume that is none.
    """
    for liquid_ml in fill_ml:
        _refuse_no_volume(liquid_ml)
    basins, holding = room.basins, room.holding
    share = np.array([part for _, part in poured_share])
    return _soaked_by_each(
        fill_ml[:, None] * share / room.foam.porosity_share, np.array([column for column, _ in poured_share]),
        basins.leaf, basins.sibling, basins.entry, basins.own_ml, basins.whole_ml,
        basins.floor_low_cm, basins.floor_width_cm, basins.roof_low_cm, basins.roof_width_cm,
        holding.unit_cm, _needed_cm(room.foam, SOAKED_HEAD_SHARE),
        room.joined_head_cm / holding.unit_cm, room.beyond_ml, basins.first, basins.parent, *_columns(holding),
    )  # fmt: skip


def held_share(head_cm: NDArray[float64], extent_cm: NDArray[float64], capillary_height_cm: float) -> NDArray[float64]:
    """Return the filling 0–1 of columns (n,) of an extent in cm along gravity, at a head above their foot in cm.

    >>> [round(float(s), 3) for s in held_share(np.array([0.75, 1.5]), np.array([1.5, 1.5]), 0.0)]
    [0.5, 1.0]
    """
    holding = _holding(np.zeros(len(extent_cm)), extent_cm, np.ones(len(extent_cm)), capillary_height_cm)
    return _held_by_all(head_cm / holding.unit_cm, *_columns(holding))


def _refuse_no_volume(liquid_ml: float) -> None:
    if not 0.0 <= liquid_ml < np.inf:
        msg = f"the liquid in mL is {liquid_ml:g}: it must be a number, 0 or more"
        raise ValueError(msg)


def _refuse_no_foam(foam: Foam) -> None:
    if not 0.0 <= foam.capillary_height_cm < np.inf:
        msg = f"the capillary height in cm is {foam.capillary_height_cm:g}: it must be a number, 0 or more"
        raise ValueError(msg)
    if not 0.0 < foam.porosity_share <= 1.0:
        msg = f"the share of the void that fills is {foam.porosity_share:g}: it must be above 0 and at most 1"
        raise ValueError(msg)


def _at_one_head(room: Room, pools: Pools) -> Rest:
    basins, porosity = room.basins, room.foam.porosity_share
    unit_cm = room.holding.unit_cm
    head, held = _heads(
        pools.filled_ml, room.joined_head_cm / unit_cm, room.beyond_ml, basins.first, basins.parent,
        *_columns(room.holding),
    )  # fmt: skip
    return Rest(room, pools, head * unit_cm, held * porosity, pools.left_over_ml * porosity)


def _holding(
    low_cm: NDArray[float64], width_cm: NDArray[float64], volume_ml: NDArray[float64], capillary_height_cm: float
) -> Holding:
    if capillary_height_cm <= 0.0:
        return Holding(1.0, low_cm, width_cm, volume_ml / width_cm, np.zeros(len(low_cm)), volume_ml, _FREE)
    extent = width_cm / capillary_height_cm
    dry = (_below_dry(DRY_HEAD_SHARE) - _below_dry(DRY_HEAD_SHARE - extent)) / extent
    rate = volume_ml / (1.0 - dry)
    foot = low_cm / capillary_height_cm
    return Holding(capillary_height_cm, foot, extent, rate / extent, rate * dry, volume_ml, _held_table())


def _columns(holding: Holding) -> tuple[NDArray[float64], ...]:
    return (
        holding.foot_ratio, holding.extent_ratio, holding.rate_ml, holding.dry_ml, holding.full_ml,
        holding.stored_ratio,
    )  # fmt: skip


def _needed_cm(foam: Foam, head_share: float) -> float:
    # Free liquid has a sharp level; where foam holds it a film wets nothing, as in the spread model.
    return needed_head_cm(foam, head_share) if foam.capillary_height_cm > 0.0 else 0.0


@lru_cache(maxsize=1)
def _held_table() -> NDArray[float64]:
    """Return the integral of saturation over head in capillary heights, at even steps from dry (0) to the level."""
    fine = 16
    head = np.linspace(DRY_HEAD_SHARE, 0.0, fine * _KNOTS + 1)
    value = saturation_share(head, 1.0)
    summed = np.concatenate([[0.0], np.cumsum((value[1:] + value[:-1]) / 2.0)]) * (head[1] - head[0])
    return _below_dry(DRY_HEAD_SHARE) + summed[::fine]


def _below_dry(head_share: float | NDArray[float64]) -> Any:
    """Return the integral of saturation from minus infinity up to a head so low that three terms of it are enough."""
    square = 1.0 / head_share**2
    return square / 2.0 - 0.125 * square**3 + 0.065625 * square**5


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _states(head: Any, soaked_cm: float, moist_cm: float, low: Any, width: Any) -> Any:
    """Shares of each surface above which the head is high enough to be soaked, and to be moist alone, (n, 3)."""
    out = np.zeros((len(head), 3))
    for i in range(len(head)):
        soaked = min(max((head[i] - soaked_cm - low[i]) / width[i], 0.0), 1.0)
        moist = min(max((head[i] - moist_cm - low[i]) / width[i], 0.0), 1.0)
        out[i, 0], out[i, 1] = soaked, max(moist - soaked, 0.0)
    return out


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _stored(head: float, table: Any) -> Any:
    """Integral of saturation up to a head in capillary heights, and saturation there; free liquid has no table."""
    if head >= 0.0:
        return table[-1] + head, 1.0
    if len(table) == 1:
        return 0.0, 0.0
    if head <= DRY_HEAD_SHARE:
        square = 1.0 / (head * head)
        return square / 2.0 - 0.125 * square**3 + 0.065625 * square**5, -square / head
    steps = (len(table) - 1) / -DRY_HEAD_SHARE
    place = (head - DRY_HEAD_SHARE) * steps
    k = min(int(place), len(table) - 2)
    rise = table[k + 1] - table[k]
    return table[k] + (place - k) * rise, rise * steps


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _held(above: float, extent: float, rate: float, dry: float, full: float, table: Any) -> Any:
    """Void that one column fills up to a head above its foot, and how much more with the head, to first order.

    What the driest foam still holds is not counted.
    """
    if above >= extent:
        return full, 0.0
    if above <= DRY_HEAD_SHARE:
        return 0.0, 0.0
    up_to, here = _stored(above, table)
    below, beneath = _stored(above - extent, table)
    return rate * (up_to - below) - dry, rate * (here - beneath)


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _held_by_all(head: Any, foot: Any, extent: Any, rate: Any, dry: Any, full: Any, table: Any) -> Any:
    held = np.empty(len(head))
    for i in range(len(head)):
        held[i] = _held(head[i] - foot[i], extent[i], rate[i], dry[i], full[i], table)[0]
    return held


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _room_ml(
    joined: Any, first: Any, parent: Any, foot: Any, extent: Any, rate: Any, dry: Any, full: Any, table: Any
) -> Any:
    """Void that each basin and all below it fill when it is full, and its own columns when it begins, (b,) each."""
    whole, beyond = np.zeros(len(parent)), np.zeros(len(parent))
    begins = np.full(len(parent), -np.inf)
    for k in range(len(parent)):
        if parent[k] >= 0:
            begins[parent[k]] = joined[k]
    for i in range(len(first)):
        k = first[i]
        beyond[k] += _held(begins[k] - foot[i], extent[i], rate[i], dry[i], full[i], table)[0]
        while k >= 0:
            whole[k] += _held(joined[k] - foot[i], extent[i], rate[i], dry[i], full[i], table)[0]
            k = parent[k]
    return whole, beyond


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _heads(
    filled: Any, joined: Any, beyond: Any, first: Any, parent: Any, foot: Any, extent: Any, rate: Any, dry: Any,
    full: Any, table: Any,
) -> Any:  # fmt: skip
    """Head of the pool at each column (n,), −inf for none, and the void that it fills there in mL (n,)."""
    pool, total = _pools_of(filled, beyond, parent)
    start, columns = _by_pool(pool, first)
    # A pool's columns lie side by side: they are summed over and over.
    foot, extent, rate, dry, full = foot[columns], extent[columns], rate[columns], dry[columns], full[columns]
    head, held = np.full(len(first), -np.inf), np.zeros(len(first))
    for k in range(len(parent)):
        if pool[k] != k:
            continue
        of = slice(start[k], start[k + 1])
        at, sums = _level(total[k], joined[k], foot[of], extent[of], rate[of], dry[of], full[of], table)
        for j in range(start[k], start[k + 1]):
            stands = _held(at - foot[j], extent[j], rate[j], dry[j], full[j], table)[0]
            if stands > 0.0:
                head[columns[j]], held[columns[j]] = at, stands * (total[k] / sums)
    return head, held


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _soaked_by_each(
    poured: Any, column: Any, leaf: Any, sibling: Any, entry: Any, own: Any, whole: Any, floor_low: Any,
    floor_width: Any, roof_low: Any, roof_width: Any, unit: float, needed: float, joined: Any, beyond: Any, first: Any,
    parent: Any, foot: Any, extent: Any, rate: Any, dry: Any, full: Any, table: Any,
) -> Any:  # fmt: skip
    """Share of floor and roof, (v, 2, n), under ``needed`` of head, by each fill: void (v, p) into ``column`` (p,)."""
    soaked = np.empty((len(poured), 2, len(first)))
    for j in range(len(poured)):
        filled = np.zeros(len(parent))
        for p in range(len(column)):
            pour_one(leaf, parent, sibling, entry, own, whole, filled, column[p], poured[j, p])
        head, _ = _heads(filled, joined, beyond, first, parent, foot, extent, rate, dry, full, table)
        for i in range(len(first)):
            over = head[i] * unit - needed
            soaked[j, 0, i] = min(max((over - floor_low[i]) / floor_width[i], 0.0), 1.0)
            soaked[j, 1, i] = min(max((over - roof_low[i]) / roof_width[i], 0.0), 1.0)
    return soaked


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _pools_of(filled: Any, beyond: Any, parent: Any) -> Any:
    """Find for the columns of each basin the pool they are in, −1 for none, and what is in each pool, (b,) each.

    A pool is the largest basin that holds any by itself, with all below it. Until the foam that such a basin adds is at
    the head of the two that it joins, it is a pool of its own, at a lower head.
    """
    pool, total, all_below = np.full(len(parent), -1), filled.copy(), np.full(len(parent), -1)
    for k in range(len(parent)):
        if parent[k] >= 0:
            total[parent[k]] += total[k]
    for k in range(len(parent) - 1, -1, -1):
        if parent[k] >= 0 and all_below[parent[k]] >= 0:
            all_below[k] = pool[k] = all_below[parent[k]]
        elif filled[k] > 0.0:
            pool[k] = k
            if filled[k] >= beyond[k]:
                all_below[k] = k
            else:
                total[k] = filled[k]
    return pool, total


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _by_pool(pool: Any, first: Any) -> Any:
    """List the columns pool by pool: where each pool's begin, (b + 1,), and the columns."""
    start = np.zeros(len(pool) + 1, dtype=np.int32)
    for i in range(len(first)):
        if pool[first[i]] >= 0:
            start[pool[first[i]] + 1] += 1
    for k in range(len(pool)):
        start[k + 1] += start[k]
    place, columns = start[:-1].copy(), np.empty(start[-1], dtype=np.int32)
    for i in range(len(first)):
        k = pool[first[i]]
        if k >= 0:
            columns[place[k]] = i
            place[k] += 1
    return start, columns


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _level(total: float, joined: float, foot: Any, extent: Any, rate: Any, dry: Any, full: Any, table: Any) -> Any:
    """Find the one head at which a pool's columns hold what is in it, and what they hold there, by Newton's steps."""
    under, over = foot.min() + DRY_HEAD_SHARE, joined
    at, (held, slope) = over, _sum_held(over, foot, extent, rate, dry, full, table)
    if held <= total:
        return at, held
    at = under + (over - under) * total / held
    for _ in range(_MOST_TRIES):
        held, slope = _sum_held(at, foot, extent, rate, dry, full, table)
        if held < total:
            under = at
        else:
            over = at
        if abs(held - total) <= _EXACT_SHARE * total or over - under <= _EXACT_SHARE:
            break
        # A step that leaves what is known of the head is replaced by half-way.
        step = at + (total - held) / slope if slope > 0.0 else under
        at = step if under < step < over else (under + over) / 2.0
    return at, held


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _sum_held(at: float, foot: Any, extent: Any, rate: Any, dry: Any, full: Any, table: Any) -> Any:
    total, slope = 0.0, 0.0
    for i in range(len(foot)):
        held, more = _held(at - foot[i], extent[i], rate[i], dry[i], full[i], table)
        total += held
        slope += more
    return total, slope
