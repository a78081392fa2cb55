"""A sheet's links as one sparse system, factored once: it answers for any inflow what potential every column comes to.

The factor is scipy's (SuperLU), told that the system is symmetric and needs no pivots: every column's own conductance
is at least the sum of those to its neighbours. ``benchmarks/draw.py`` times it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, cast

import numpy as np
from numpy import float64, int8, int32
from numpy.typing import NDArray
from scipy.sparse import csc_array, csgraph, csr_array, linalg

# So many inflows are led back together: few enough that its dense algebra stays on one thread.
_TOGETHER = 6
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
    """The factor of the conductances of ``count`` columns, in cm, some of them tied to zero."""

    count: int
    solver: Any


def graph_of(count: int, link: NDArray[int32], way: NDArray[int8], conduct_cm: NDArray[float64]) -> Graph:
    """Return links (m, 2) of ``count`` columns, with ways (m,) and conductances (m,) in cm, from each column's side."""
    near = link.T.ravel()
    order = np.argsort(near, kind="stable")
    start = np.concatenate(([0], np.cumsum(np.bincount(near, minlength=count)))).astype(int32)
    return Graph(start, link[:, ::-1].T.ravel()[order], np.tile(way, 2)[order], np.tile(conduct_cm, 2)[order])


def parts_of(graph: Graph) -> tuple[NDArray[int32], NDArray[np.intp]]:
    """Return the connected part that each column belongs to, (n,), and the first column of each part, by index."""
    count = len(graph.start) - 1
    joined = csr_array((np.ones(len(graph.to)), graph.to, graph.start), shape=(count, count))
    part = cast("NDArray[int32]", csgraph.connected_components(joined, directed=False)[1])
    return part, np.unique(part, return_index=True)[1]


def factor_of(graph: Graph, tied_cm: NDArray[float64]) -> Factor:
    """Return the factor of a graph; ``tied_cm`` (n,) is each column's conductance to zero in cm.

    Every connected part needs one above 0.
    """
    count = len(tied_cm)
    every = np.arange(count)
    near = np.repeat(every, np.diff(graph.start))
    own_cm = np.bincount(near, weights=graph.conduct_cm, minlength=count) + tied_cm
    entry = (np.r_[own_cm, -graph.conduct_cm], (np.r_[every, graph.to], np.r_[every, near]))
    system = csc_array(entry, shape=(count, count))
    solver = cast("Any", linalg.splu(system, "MMD_AT_PLUS_A", 0.0, _RELAX, _PANEL, {"SymmetricMode": True}))
    return Factor(count, solver)


def potentials_per_cm(
    factor: Factor, start: NDArray[int32], column: NDArray[int32], inflow_share: NDArray[float64]
) -> NDArray[float64]:
    """Return the potential of every column for each of p inflows, (p, n), in 1/cm for an inflow of one.

    Inflow k enters ``column[start[k] : start[k + 1]]`` by ``inflow_share``.
    """
    total = len(start) - 1
    potential = np.empty((total, factor.count))
    for begin in range(0, total, _TOGETHER):
        end = min(begin + _TOGETHER, total)
        inflow = np.zeros((factor.count, end - begin), order="F")
        number = np.repeat(np.arange(end - begin), np.diff(start[begin : end + 1]))
        here = slice(start[begin], start[end])
        inflow[column[here], number] = inflow_share[here]
        potential[begin:end] = factor.solver.solve(inflow).T
    return potential
