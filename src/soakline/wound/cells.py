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
    """Return the cells of a sheet on a grid of ``spacing_cm``; GridRefused when more than ``most_count`` are needed."""
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
    across: NDArray[float64] = low_u + spacing_cm * np.arange(columns + 1, dtype=np.float64)
    along: NDArray[float64] = low_v + spacing_cm * np.arange(rows + 1, dtype=np.float64)
    # For each cell and each side: share, middle (u, v) and height.
    parts = _shared(sheet, across, along, spacing_cm)
    row, place, side = np.nonzero(parts[..., 0])
    index = np.full((2, rows, columns), -1, dtype=np.int32)
    index[side, row, place] = np.arange(len(side))
    share, u, v, height = parts[row, place, side].T.copy()
    in_opening = side == 0
    return Cells((low_u, low_v), index, u, v, share, np.where(in_opening, depth_cm, height), in_opening)


def _shared(sheet: Sheet, across: NDArray[float64], along: NDArray[float64], spacing_cm: float) -> NDArray[float64]:
    middle_u, middle_v = across[:-1] + spacing_cm / 2.0, along[:-1] + spacing_cm / 2.0
    corner = _heights_at(sheet, *np.meshgrid(across, along))
    middle = _heights_at(sheet, *np.meshgrid(middle_u, middle_v))
    # A cell whose corners and middle agree is whole; only cut cells are looked at finely.
    whole = np.ones(middle.shape, dtype=np.bool_)
    for part in (corner[:-1, :-1], corner[:-1, 1:], corner[1:, :-1], corner[1:, 1:]):
        whole &= part == middle
    parts = np.zeros((*middle.shape, 2, 4))
    row, place = np.nonzero(whole & (middle != 0.0))
    height = middle[row, place]
    parts[row, place, (height > 0.0).astype(np.intp)] = np.stack(
        [np.ones(len(row)), middle_u[place], middle_v[row], height], axis=1
    )
    row, place = np.nonzero(~whole)
    off = (np.arange(FINE_COUNT) + 0.5) * (spacing_cm / FINE_COUNT)
    u, v = np.tile(across[place, None] + off, FINE_COUNT), np.repeat(along[row, None] + off, FINE_COUNT, axis=1)
    parts[row, place] = _sum_up(u, v, _heights_at(sheet, u, v))
    return parts


def _heights_at(sheet: Sheet, u: NDArray[float64], v: NDArray[float64]) -> NDArray[float64]:
    """Return the pocket's height at sheet points: negative under the opening, 0 outside."""
    reach = np.array([np.where(p.cover_share >= 0.5, p.reach_cm, -1.0) for p in sheet.sectors])
    heights = np.array([p.height_cm for p in sheet.sectors], dtype=float)
    angle = np.arctan2(u, v)
    return _highest(u, v, angle, sheet.edge_cm, reach.reshape(len(heights), DIRECTIONS), heights)


@numba.njit(cache=True, nogil=True)
def _highest(u: Any, v: Any, angle: Any, edge: Any, reach: Any, heights: Any) -> Any:
    out = np.zeros(u.shape)
    for i in range(u.shape[0]):
        for j in range(u.shape[1]):
            k = np.uint32(int(angle[i, j] / _STEP_RAD + DIRECTIONS) % DIRECTIONS)
            beyond = math.sqrt(u[i, j] * u[i, j] + v[i, j] * v[i, j]) - edge[k]
            if beyond < 0.0:
                out[i, j] = -1.0
                continue
            for s in range(len(heights)):
                if beyond <= reach[s, k] and heights[s] > out[i, j]:
                    out[i, j] = heights[s]
    return out


@numba.njit(cache=True, nogil=True)
def _sum_up(u: Any, v: Any, height: Any) -> Any:
    """Sum sub-cells (n, k) up to share, middle and height of the opening's part and the pocket's, (n, 2, 4)."""
    n, fine = u.shape
    out = np.zeros((n, 2, 4))
    for i in range(n):
        for j in range(fine):
            if height[i, j] != 0.0:
                part = out[i, 0] if height[i, j] < 0.0 else out[i, 1]
                part[0] += 1.0
                part[1] += u[i, j]
                part[2] += v[i, j]
                part[3] += height[i, j]
        for part in out[i]:
            if part[0] > 0.0:
                part[1:] /= part[0]
                part[0] /= fine
    return out
