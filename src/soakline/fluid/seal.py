"""Liquid against the seal: how high it stands above or below the opening's edge at the skin, hour by hour.

The drape seals along the edge. A leak starts where liquid stands highest above the seal: at its lowest point over the
liquid, which need not be the lowest point of the whole edge when more than one pool stands in the wound.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numba
import numpy as np
from numpy import float64
from numpy.typing import NDArray

from soakline.fluid.basins import Basins
from soakline.wound.clock import clock_of

# An edge that is this level all round has no lowest hour.
_LEVEL_CM = 0.05


@dataclass(frozen=True, slots=True, eq=False)
class Seal:
    """The opening's edge above liquid: where liquid stands highest against it, and how high.

    ``clock`` is that hour, None where the edge is level; ``over_cm`` how far liquid stands above the edge there,
    negative below it. ``over_edge_cm`` (k,) is the same for each direction ``rim_deg`` (k,) of the cavity, −inf where
    no liquid stands in the opening that would come there.
    """

    clock: float | None
    over_cm: float
    over_edge_cm: NDArray[float64]

    @property
    def margin_cm(self) -> float:
        """How far liquid stays below the lowest point of the edge, in cm; negative is above it."""
        return -self.over_cm


def seal_of(basins: Basins, level_cm: NDArray[float64]) -> Seal | None:
    """Return how liquid at levels (n,) in cm stands against the seal; None where none stands under the opening.

    Each point of the edge is set against the liquid in the opening under it, or, where the bed is dry there, against
    the pool that would come there first. A hollow that holds nothing has none.
    """
    cavity = basins.cavity
    wet = cavity.in_opening & (level_cm > basins.low_cm)
    if not wet.any() or not len(cavity.rim_deg):
        return None
    near = _pool_near(basins.first, basins.parent, wet, level_cm)
    under = cavity.rim_column
    level = np.where(wet[under], level_cm[under], near[basins.first[under]])
    edge = cavity.rim_cm @ basins.up
    over = level - edge
    if not np.isfinite(over).any():
        return None
    most = int(over.argmax())
    over_liquid = edge[np.isfinite(over)]
    is_level = len(over_liquid) == len(edge) and float(np.ptp(over)) < _LEVEL_CM
    return Seal(None if is_level else clock_of(float(cavity.rim_deg[most])), float(over[most]), over)


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _pool_near(first: Any, parent: Any, wet: Any, level: Any) -> Any:
    """Level of the pool in the opening that comes first to each basin, (b,), of all that stand in it; −inf for none.

    A basin that holds none is filled over its sill, and then stands at a level of its own.
    """
    near = np.full(len(parent), -np.inf)
    for i in range(len(first)):
        if wet[i]:
            near[first[i]] = max(near[first[i]], level[i])
    for k in range(len(parent)):
        if parent[k] >= 0:
            near[parent[k]] = max(near[parent[k]], near[k])
    return near
