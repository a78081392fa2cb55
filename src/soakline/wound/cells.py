"""The cells of a grid laid over the sheet: how much of each lies under the opening, how much in the pocket."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numba
import numpy as np
from numpy import bool_, float64, int32
from numpy.typing import NDArray

from soakline.errors import GridRefused
from soakline.wound.sheet import DIRECTIONS, STEP_DEG, Sheet

# Sub-cells along each side of a cell, by which cut cells get their share of area.
FINE_COUNT = 8
_STEP_RAD = math.radians(STEP_DEG)


@dataclass(frozen=True, slots=True, eq=False)
class Cells:
    """The cells that a wound covers, each shared between opening and pocket: one column for either, (n,) in all.

    ``index`` (2, rows, columns of the grid; opening first) gives a cell's columns, −1 for none; the first cell's outer
    corner is ``corner_cm``. ``share`` is how much of its cell a column takes, 0–1, (``u_cm``, ``v_cm``) its middle.
    """

    corner_cm: tuple[float, float]
    index: NDArray[int32]
    u_cm: NDArray[float64]
    v_cm: NDArray[float64]
    share: NDArray[float64]
    height_cm: NDArray[float64]
    in_opening: NDArray[bool_]


def cells_of(sheet: Sheet, spacing_cm: float, depth_cm: float, most_count: int) -> Cells:
    """Return the cells of a grid of ``spacing_cm`` that a sheet covers, ``depth_cm`` high under the opening.

    Raises GridRefused when the grid needs more than ``most_count`` cells.
    """
    outer = sheet.edge_cm + sheet.reach_cm
    angle = (np.arange(DIRECTIONS) + 0.5) * _STEP_RAD
    u, v = outer * np.sin(angle), outer * np.cos(angle)
    low_u, low_v = float(u.min()) - spacing_cm, float(v.min()) - spacing_cm
    columns = math.ceil((float(u.max()) - low_u) / spacing_cm) + 1
    rows = math.ceil((float(v.max()) - low_v) / spacing_cm) + 1
    if rows * columns > most_count:
        msg = (
            f"a grid of {spacing_cm:g} cm needs {rows * columns:,} cells for this wound; at most {most_count:,} are "
            "held in memory: take a wider grid"
        )
        raise GridRefused(msg)
    parts = sheet.sectors
    reach = np.array([np.where(p.cover_share >= 0.5, p.reach_cm, -1.0) for p in parts]).reshape(len(parts), DIRECTIONS)
    heights = np.array([p.height_cm for p in parts], dtype=float)
    index, cut, is_open = _cut(sheet.edge_cm, reach, heights, low_u, low_v, spacing_cm, rows, columns)
    height = np.where(is_open, depth_cm, cut[:, 3])
    return Cells((low_u, low_v), index, cut[:, 1], cut[:, 2], cut[:, 0], height, is_open)


@numba.njit(cache=True, nogil=True)
def _height_at(u: float, v: float, edge: Any, reach: Any, heights: Any) -> float:
    """Pocket height at a sheet point: negative under the opening, 0 outside."""
    r = math.sqrt(u * u + v * v)
    k = int(math.atan2(u, v) / _STEP_RAD + DIRECTIONS) % DIRECTIONS
    beyond = r - edge[k]
    if beyond < 0.0:
        return -1.0
    height = 0.0
    for s in range(len(heights)):
        if beyond <= reach[s, k]:
            height = max(height, heights[s])
    return height


@numba.njit(cache=True, nogil=True)
def _count(u0: float, v0: float, spacing: float, whole: float, edge: Any, reach: Any, heights: Any, out: Any) -> None:
    """Share one cell between opening (first row) and pocket (second): share, middle (u, v), height.

    ``whole`` is the height all over the cell; where that is none, NaN, the cell is cut and looked at finely.
    """
    out[:] = 0.0
    steps = FINE_COUNT if math.isnan(whole) else 1
    fine = spacing / steps
    for a in range(steps):
        for b in range(steps):
            u, v = u0 + (b + 0.5) * fine, v0 + (a + 0.5) * fine
            height = whole if steps == 1 else _height_at(u, v, edge, reach, heights)
            if height == 0.0:
                continue
            part = out[0] if height < 0.0 else out[1]
            part[0] += 1.0
            part[1] += u
            part[2] += v
            part[3] += height
    for part in out:
        if part[0] > 0.0:
            part[1:] /= part[0]
            part[0] /= steps**2


@numba.njit(cache=True, nogil=True)
def _cut(
    edge: Any, reach: Any, heights: Any, low_u: float, low_v: float, spacing: float, rows: int, columns: int
) -> Any:
    """Share every cell between opening and pocket; returns index (2, rows, columns), columns (n, 4), which are open."""
    index = np.full((2, rows, columns), -1, dtype=np.int32)
    out = np.zeros((2 * rows * columns, 4))
    is_open = np.zeros(2 * rows * columns, dtype=np.bool_)
    farthest = edge.max()
    for s in range(len(heights)):
        farthest = max(farthest, (edge + np.maximum(reach[s], 0.0)).max())
    # Heights at the corners below and above a row of cells: each corner is one of four cells.
    below, above, parts = np.empty(columns + 1), np.empty(columns + 1), np.empty((2, 4))
    n = 0
    for i in range(-1, rows):
        below, above = above, below
        for j in range(columns + 1):
            above[j] = _height_at(low_u + j * spacing, low_v + (i + 1) * spacing, edge, reach, heights)
        for j in range(columns if i >= 0 else 0):
            u0, v0 = low_u + j * spacing, low_v + i * spacing
            u, v = u0 + spacing / 2, v0 + spacing / 2
            if math.hypot(u, v) > farthest + spacing:
                continue
            # A cell whose corners and middle agree is whole.
            whole = below[j]
            if (
                below[j + 1] != whole
                or above[j] != whole
                or above[j + 1] != whole
                or _height_at(u, v, edge, reach, heights) != whole
            ):
                whole = math.nan
            elif whole == 0.0:
                continue
            _count(u0, v0, spacing, whole, edge, reach, heights, parts)
            for side in range(2):
                if parts[side, 0] > 0.0:
                    index[side, i, j] = n
                    out[n] = parts[side]
                    is_open[n] = side == 0
                    n += 1
    return index, out[:n], is_open[:n]
