"""Gas that cannot leave: high parts of the cavity that liquid closes before their gas has found the way to a vent.

The cavity turned upside down: gas that rises fills high parts as liquid fills low ones, each up to the sill over which
it runs on to a vent. What lies above that sill stays, however much is filled. Gas is not compressed here, and foam lets
it through; what leaves before liquid closes the way is not taken off, so this is the most that can stay.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numba
import numpy as np
from numpy import float64, int32
from numpy.typing import NDArray

from soakline.fluid.basins import basins_of
from soakline.wound.cavity import Cavity


@dataclass(frozen=True, slots=True, eq=False)
class Gas:
    """Gas that cannot leave: ``void_share`` (0–1) of the void, ``held_ml`` of it, and where it lies.

    Per column (n,), shares 0–1 of its void, its floor and its roof. ``sill_cm`` is the height along gravity above
    which gas stays there: infinity where all leaves, minus infinity where none can.
    """

    void_share: float
    held_ml: float
    column_share: NDArray[float64]
    floor_share: NDArray[float64]
    roof_share: NDArray[float64]
    sill_cm: NDArray[float64]


def trapped_gas(cavity: Cavity, up: NDArray[float64], vents: NDArray[int32]) -> Gas:
    """Return the gas that cannot leave through the roofs of the columns ``vents`` (k,) when ``up`` (3,) is up.

    High parts that hold less than a 500th of the void count with the part that they lead to.
    """
    turned = basins_of(cavity, -up)
    leaves_at = np.full(len(cavity.u_cm), np.inf)
    leaves_at[vents] = turned.roof_low_cm[vents]
    kept = _kept_from(turned.first, turned.parent, turned.bottom_cm, turned.top_cm, leaves_at)
    column, floor, roof = (
        np.clip((kept - low) / width, 0.0, 1.0)
        for low, width in (
            (turned.low_cm, turned.width_cm),
            (turned.floor_low_cm, turned.floor_width_cm),
            (turned.roof_low_cm, turned.roof_width_cm),
        )
    )
    held_ml = float(column @ cavity.volume_ml)
    return Gas(held_ml / cavity.void_ml, held_ml, column, floor, roof, np.where(column > 0.0, -kept, np.inf))


def opening_vents(cavity: Cavity) -> NDArray[int32]:
    """Return the columns under the opening, (k,): all of it lets gas out."""
    return np.flatnonzero(cavity.in_opening).astype(np.int32)


def round_vent(cavity: Cavity, u_cm: float, v_cm: float, diameter_cm: float) -> NDArray[int32]:
    """Return the columns (k,) under a round vent about a sheet point in cm, as exact as the grid; the nearest at least.

    Over the opening it takes no columns of the pocket, and the other way round.
    """
    column = cavity.nearest(u_cm, v_cm)
    near = np.hypot(cavity.u_cm - u_cm, cavity.v_cm - v_cm) <= diameter_cm / 2.0
    near &= cavity.in_opening == cavity.in_opening[column]
    near[cavity.grid_count :] = False
    near[column] = True
    return np.flatnonzero(near).astype(np.int32)


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _kept_from(first: Any, parent: Any, bottom: Any, top: Any, leaves_at: Any) -> Any:
    """Find the level, upside down, up to which gas stays in each column, (n,); infinity where it has no vent."""
    level = np.full(len(parent), np.inf)
    for i in range(len(first)):
        level[first[i]] = min(level[first[i]], leaves_at[i])
    for k in range(len(parent)):
        # Gas from one side reaches a vent on the other only over the sill between them.
        level[k] = max(level[k], bottom[k])
        if parent[k] >= 0:
            level[parent[k]] = min(level[parent[k]], level[k])
    for k in range(len(parent) - 1, -1, -1):
        # A vent that lies past the basin's own sill is reached over that sill.
        if parent[k] >= 0 and level[k] > top[k]:
            level[k] = level[parent[k]]
    return level[first]
