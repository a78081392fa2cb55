"""Basins: the hollows of a cavity in a posture, how they join as the level rises, and what each holds at which level.

Every column of the cavity is a prism; a link between two columns opens when the level reaches the lowest point of their
shared face. Opening the links in order of height joins columns into basins and basins into larger ones: a tree
(``joining``). Every basin keeps its curves of volume, floor and roof.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numba
import numpy as np
from numpy import float64, int32
from numpy.typing import NDArray

from soakline.fluid.joining import join_hollows, unsigned
from soakline.wound.cavity import Cavity

# A hollow that holds less than this share of the void is read as part of the basin that it drains to.
PRUNED_SHARE = 0.002
# Levels at which a basin's curves are kept, in cm; between two of them they run straight.
_LEVEL_STEP_CM = 0.02
# A face that lies level comes under at once; this width stands for "at once".
_THIN_CM = 1e-5


@dataclass(frozen=True, slots=True, eq=False)
class Basins:
    """The basins of a cavity in one posture, as a tree: leaves are hollows, every other basin is two that have joined.

    ``up`` (3,) points against gravity. Per column (n,): ``low_cm`` and ``width_cm``, the height at which it starts to
    fill and over which it fills, the same for ``floor_`` and ``roof_``; ``first`` the lowest basin that holds it;
    ``leaf`` the basin that a drop on it runs to. Per basin (b,): ``parent`` and ``sibling`` (−1 is none), ``entry`` the
    column over which it spills, its own range of levels ``bottom_cm`` to ``top_cm``, ``own_ml`` what it holds between
    them and ``whole_ml`` with all below.
    ``start`` (b + 1,) cuts ``curve_ml`` into one curve per basin, at levels evenly spaced from bottom to top.
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


def basins_of(cavity: Cavity, up: NDArray[float64]) -> Basins:
    """Return the basins of a cavity when ``up`` (3,), a unit vector in body axes, points against gravity."""
    low, width, floor_low, floor_width, roof_low, roof_width, high = _project(
        up, cavity.centre_cm, cavity.spans_cm, cavity.floor_cm, cavity.floor_spans_cm, cavity.roof_cm
    )
    first, leaf, parent, sibling, entry, top = join_hollows(cavity, up, low, width, PRUNED_SHARE * cavity.void_ml)
    bottom, top, start = _ranges(unsigned(first), parent, low, high, top)
    curve_ml = curves_along(first, parent, bottom, top, start, low, width, cavity.volume_ml)
    own = curve_ml[start[1:] - 1]
    return Basins(
        cavity, up, low, width, floor_low, floor_width, roof_low, roof_width, first, leaf, parent, sibling, entry,
        bottom, top, own, sum_up(parent, own), start, curve_ml,
    )  # fmt: skip


def curves_along(
    first: NDArray[int32],
    parent: NDArray[int32],
    bottom_cm: NDArray[float64],
    top_cm: NDArray[float64],
    start: NDArray[int32],
    low_cm: NDArray[float64],
    width_cm: NDArray[float64],
    amount_any: NDArray[float64],
) -> NDArray[float64]:
    """Return the curves of all basins, laid out as ``curve_ml``, of an amount (n,) in any unit that columns hold.

    It comes under from ``low_cm`` over ``width_cm``, (n,) each; the rest is as in ``Basins``.
    """
    return _accumulate(unsigned(first), unsigned(parent), bottom_cm, top_cm, start, low_cm, width_cm, amount_any)


@numba.njit(cache=True, nogil=True, error_model="numpy", fastmath={"contract"})
def _project(up: Any, centre: Any, spans: Any, floor: Any, floor_spans: Any, roof: Any) -> Any:
    """Height at which each column, its floor and its roof start to come under, and over which they do, each (n,).

    The last is the height at which all of a column is under: a face may end a little above its column's ramp.
    """
    n = len(centre)
    middle, width = np.empty((3, n)), np.empty((3, n))
    x, y, z = up[0], up[1], up[2]
    for i in range(n):
        a = x * spans[0, i, 0] + y * spans[0, i, 1] + z * spans[0, i, 2]
        b = x * spans[1, i, 0] + y * spans[1, i, 1] + z * spans[1, i, 2]
        c = x * spans[2, i, 0] + y * spans[2, i, 1] + z * spans[2, i, 2]
        width[0, i], width[2, i] = a * a + b * b + c * c, a * a + b * b
        a = x * floor_spans[0, i, 0] + y * floor_spans[0, i, 1] + z * floor_spans[0, i, 2]
        b = x * floor_spans[1, i, 0] + y * floor_spans[1, i, 1] + z * floor_spans[1, i, 2]
        width[1, i] = a * a + b * b
        middle[0, i] = x * centre[i, 0] + y * centre[i, 1] + z * centre[i, 2]
        middle[1, i] = x * floor[i, 0] + y * floor[i, 1] + z * floor[i, 2]
        middle[2, i] = x * roof[i, 0] + y * roof[i, 1] + z * roof[i, 2]
    # One even ramp with the mean and the variance of the tilted box.
    high = np.full(n, -np.inf)
    for k in range(3):
        for i in range(n):
            wide = np.sqrt(width[k, i])
            wide = max(_THIN_CM, wide)
            top = middle[k, i] + wide / 2
            width[k, i] = wide
            middle[k, i] = top - wide
            high[i] = max(high[i], top)
    return middle[0], width[0], middle[1], width[1], middle[2], width[2], high


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
        # Most columns change nothing: to ask is quicker than to write the same again.
        if high[i] > highest[k]:  # noqa: PLR1730 (a maximum would write)
            highest[k] = high[i]
        if low[i] < bottom[k] and leaf_basin[k]:
            bottom[k] = low[i]
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

    A ramp is two changes of slope. Each counts from the kept level below it on, and from the next, in two parts; their
    second sum gives the exact value at every kept level.
    """
    count = len(parent)
    bend, jump = np.zeros((start[-1], 2)), np.zeros(count)
    step, per_step, steps = np.empty(count), np.empty(count), np.empty(count)
    for k in range(count):
        steps[k] = start[k + 1] - start[k] - 1
        step[k] = (top[k] - bottom[k]) / steps[k]
        per_step[k] = 1.0 / step[k] if step[k] > 0.0 else 0.0
    for i in range(len(first)):
        k = first[i]
        begin, high = low[i], low[i] + width[i]
        rate = amount[i] / width[i]
        if begin < bottom[k]:
            jump[k] += rate * (min(high, bottom[k]) - begin)
            begin = bottom[k]
        while True:
            end = min(top[k], high)
            if begin < end:
                bends = rate * step[k]
                place = (begin - bottom[k]) * per_step[k]
                place = min(steps[k], place)
                level = int(place)
                later = bends * (place - level)
                at = np.uint32(start[k] + level)
                bend[at, 0] += bends - later
                bend[at, 1] += later
                place = (end - bottom[k]) * per_step[k]
                place = min(steps[k], place)
                level = int(place)
                later = bends * (place - level)
                at = np.uint32(start[k] + level)
                bend[at, 0] -= bends - later
                bend[at, 1] -= later
            if high <= top[k] or parent[k] >= count:
                break
            begin = max(top[k], begin)
            k = parent[k]
    curve = np.empty(start[-1])
    for k in range(count):
        slope, value, later = 0.0, jump[k], 0.0
        for at in range(start[k], start[k + 1]):
            curve[at] = value
            slope += bend[at, 0] + later
            later = bend[at, 1]
            value += slope
    return curve


@numba.njit(cache=True, nogil=True, error_model="numpy")
def sum_up(parent: Any, own: Any) -> Any:
    """Return for each basin its own amount with those of all below it, (b,), in the unit given."""
    whole = own.copy()
    for k in range(len(parent)):
        if parent[k] >= 0:
            whole[parent[k]] += whole[k]
    return whole
