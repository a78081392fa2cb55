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

from soakline.fluid.joining import join_hollows
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


def basins_of(cavity: Cavity, up: NDArray[float64]) -> Basins:
    """Return the basins of a cavity when ``up`` (3,), a unit vector in body axes, points against gravity."""
    low, width, floor_low, floor_width, roof_low, roof_width = _project(
        up, cavity.centre_cm, cavity.spans_cm, cavity.floor_cm, cavity.floor_spans_cm, cavity.roof_cm
    )
    level = _link_level(up, cavity.link_low_cm, cavity.link_high_cm, cavity.link_bore_cm, cavity.link_axis)
    first, leaf, parent, sibling, entry, top = join_hollows(
        cavity.link, level, low, width, cavity.volume_ml, PRUNED_SHARE * cavity.void_ml
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
        bottom, top, own, sum_up(parent, own), start, *curves,
    )  # fmt: skip


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
def sum_up(parent: Any, own: Any) -> Any:
    """Return for each basin its own amount with those of all below it, (b,), in the unit given."""
    whole = own.copy()
    for k in range(len(parent)):
        if parent[k] >= 0:
            whole[parent[k]] += whole[k]
    return whole
