"""A sheet's links as one sparse system, factored once: it answers for any inflow what potential every column comes to.

The factor is scipy's (SuperLU), told that the system is symmetric and needs no pivots: every column's own conductance
is at least the sum of those to its neighbours. One of its two triangles is then the other's mirror image, and inflows
are led through it here, several at a time. ``benchmarks/draw.py`` times it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, cast

import numba
import numpy as np
from numpy import float64, int8, int32, uint32
from numpy.typing import NDArray

# So many inflows are led through the factor together: one line of the processor's memory holds them.
_TOGETHER = 8
# Of one to eight columns a panel the quickest; hardly any columns of a sheet are alike.
_PANEL, _RELAX = 2, 4


@dataclass(frozen=True, slots=True, eq=False)
class Graph:
    """Links seen from each column: ``start`` (n + 1,) cuts neighbours ``to``, ``way`` and ``conduct_cm`` (2m,)."""

    start: NDArray[int32]
    to: NDArray[int32]
    way: NDArray[int8]
    conduct_cm: NDArray[float64]


@dataclass(frozen=True, slots=True, eq=False)
class Factor:
    """The factor of the conductances of n columns in cm, some tied to zero: lower triangle, ``pivot_cm``, upper.

    ``place`` (n,) is where each column comes in the order of elimination. The lower triangle, 1 along its diagonal, is
    kept by its own columns: ``start`` (n + 1,) cuts ``row`` and ``share`` (k,). The upper one is its mirror image.
    """

    place: NDArray[int32]
    start: NDArray[int32]
    row: NDArray[int32]
    share: NDArray[float64]
    pivot_cm: NDArray[float64]


def graph_of(count: int, link: NDArray[int32], way: NDArray[int8], conduct_cm: NDArray[float64]) -> Graph:
    """Return links (m, 2) of ``count`` columns, with ways (m,) and conductances (m,) in cm, from each column's side."""
    near = link.T.ravel()
    order = np.argsort(near, kind="stable")
    start = np.concatenate(([0], np.cumsum(np.bincount(near, minlength=count)))).astype(int32)
    return Graph(start, link[:, ::-1].T.ravel()[order], np.tile(way, 2)[order], np.tile(conduct_cm, 2)[order])


def factor_of(graph: Graph, tied_cm: NDArray[float64]) -> Factor:
    """Return the factor of a graph; ``tied_cm`` (n,) is each column's conductance to zero in cm.

    Every connected part needs one above 0.
    """
    # As with ``parts_of``: half a tenth of a second more.
    from scipy.sparse import csc_array, linalg  # noqa: PLC0415

    count = len(tied_cm)
    every = np.arange(count)
    near = np.repeat(every, np.diff(graph.start))
    own_cm = np.bincount(near, weights=graph.conduct_cm, minlength=count) + tied_cm
    entry = (np.r_[own_cm, -graph.conduct_cm], (np.r_[every, graph.to], np.r_[every, near]))
    system = csc_array(entry, shape=(count, count))
    solver = cast("Any", linalg.splu(system, "MMD_AT_PLUS_A", 0.0, _RELAX, _PANEL, {"SymmetricMode": True}))
    lower = solver.L
    return Factor(solver.perm_c, lower.indptr, lower.indices, lower.data, solver.U.diagonal())


def potentials_per_cm(
    factor: Factor, start: NDArray[int32], column: NDArray[int32], inflow_share: NDArray[float64]
) -> NDArray[float64]:
    """Return the potential of every column for each of p inflows, (p, n), in 1/cm for an inflow of one.

    Inflow k enters ``column[start[k] : start[k + 1]]`` by ``inflow_share``.
    """
    return _solve(
        factor.place.view(uint32), factor.start.view(uint32), factor.row.view(uint32), factor.share, factor.pivot_cm,
        start, column.view(uint32), inflow_share,
    )  # fmt: skip


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _solve(
    place: Any, start: Any, row: Any, share: Any, pivot: Any, inflow_start: Any, column: Any, inflow: Any
) -> Any:
    n, total = len(place), len(inflow_start) - 1
    potential = np.empty((total, n))
    x = np.empty((n, _TOGETHER))
    for first in range(0, total, _TOGETHER):
        some = min(_TOGETHER, total - first)
        x[:] = 0.0
        for k in range(some):
            for e in range(inflow_start[first + k], inflow_start[first + k + 1]):
                x[place[column[e]], k] += inflow[e]
        _lead_in(start, row, share, x)
        _lead_out(start, row, share, pivot, x)
        for i in range(n):
            at = place[i]
            for k in range(some):
                potential[first + k, i] = x[at, k]
    return potential


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _lead_in(start: Any, row: Any, share: Any, x: Any) -> None:
    """Solve with the lower triangle for inflows (n, _TOGETHER), in place; rows are in the order of elimination."""
    here = np.empty(_TOGETHER)
    for j in range(len(x)):
        most = 0.0
        for k in range(_TOGETHER):
            here[k] = x[j, k]
            most = max(most, abs(here[k]))
        if most == 0.0:
            continue
        for e in range(start[j], start[j + 1]):
            i, part = row[e], share[e]
            for k in range(_TOGETHER):
                x[i, k] -= part * here[k]
        # The diagonal is among them.
        for k in range(_TOGETHER):
            x[j, k] = here[k]


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _lead_out(start: Any, row: Any, share: Any, pivot: Any, x: Any) -> None:
    """Solve with pivots and the upper triangle, as ``_lead_in``."""
    here = np.empty(_TOGETHER)
    for j in range(len(x) - 1, -1, -1):
        for k in range(_TOGETHER):
            here[k], x[j, k] = x[j, k] / pivot[j], 0.0
        for e in range(start[j], start[j + 1]):
            i, part = row[e], share[e]
            for k in range(_TOGETHER):
                here[k] -= part * x[i, k]
        for k in range(_TOGETHER):
            x[j, k] = here[k]
