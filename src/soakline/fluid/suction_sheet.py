"""A cavity made ready for suction: what one port alone does to every column, worked out once for each port.

Squeezed foam is full of liquid that flows to the suction ports down a potential. Flow adds up: any set of ports is a
sum of what each does alone (``equal_pressure``).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numba
import numpy as np
from numpy import bool_, float64, int32
from numpy.typing import NDArray

from soakline.errors import GridRefused
from soakline.fluid.conduct import conduct_cm, disc_at
from soakline.fluid.factor import Factor, Graph, factor_of, graph_of, potentials_per_cm
from soakline.fluid.parts import parts_of
from soakline.wound.cavity import Cavity

# What a draw may take, and what a column takes without its ports: 1,370 bytes were seen with 119,000 columns.
_MEMORY_MB, _BYTES_A_COLUMN, _BYTES_A_POTENTIAL = 200, 1_600, 8


@dataclass(frozen=True, slots=True, eq=False)
class SuctionSheet:
    """A cavity made ready for suction at any of p ports, each a column.

    ``part`` (n,) is the connected part of each column. A port works over ``disc_column`` cut by ``disc_start`` (p + 1,)
    by ``disc_share``. ``potential_per_cm`` (p, n) is what one unit of inflow at a port alone does to every column, in
    1/cm: times flow ÷ conductivity it is a head in cm; ``between_per_cm`` (p, p) is its mean over each port's disc.
    """

    cavity: Cavity
    graph: Graph
    factor: Factor
    part: NDArray[int32]
    part_count: int
    port_column: tuple[int, ...]
    disc_start: NDArray[int32]
    disc_column: NDArray[int32]
    disc_share: NDArray[float64]
    potential_per_cm: NDArray[float64]
    between_per_cm: NDArray[float64]


def lay_suction(cavity: Cavity, port_column: Sequence[int], *, blocked: NDArray[bool_] | None = None) -> SuctionSheet:
    """Return a cavity made ready for suction or instillation at any of the ports in ``port_column`` (by index).

    Through ``blocked`` columns (n,) nothing passes. Raises ValueError for a port that is no column, GridRefused when
    columns and ports need more memory than a draw may take.
    """
    count = len(cavity.u_cm)
    _refuse_too_large(count, len(port_column))
    if any(not 0 <= port < count for port in port_column):
        msg = f"ports {list(port_column)}: each must be a column, 0 to {count - 1}"
        raise ValueError(msg)
    conduct = conduct_cm(cavity)
    leads = np.isfinite(conduct) & (conduct > 0.0)
    if blocked is not None:
        leads &= ~blocked[cavity.link].any(axis=1)
    graph = graph_of(count, cavity.link[leads], cavity.link_way[leads], conduct[leads])
    part = parts_of(count, cavity.link[leads])
    firsts = np.unique(part, return_index=True)[1]
    # Any tie to zero will do: what flows in leaves through the ports, and nothing through the tie.
    tied = np.zeros(count)
    tied[firsts] = 1.0
    factor = factor_of(graph, tied)
    start, column, share = _discs(cavity, cavity.link[leads], port_column)
    potential = potentials_per_cm(factor, start, column, share)
    between = mean_over_discs(start, column, share, potential)
    return SuctionSheet(
        cavity, graph, factor, part, len(firsts), tuple(port_column), start, column, share, potential, between
    )


def _refuse_too_large(count: int, port_count: int) -> None:
    needed_mb = count * (_BYTES_A_COLUMN + _BYTES_A_POTENTIAL * port_count) / 1e6
    if needed_mb > _MEMORY_MB:
        msg = (
            f"suction on {count:,} columns with {port_count:,} ports needs about {needed_mb:,.0f} MB; at most "
            f"{_MEMORY_MB} MB are given to it: take a wider grid or fewer ports"
        )
        raise GridRefused(msg)


def port_numbers(sheet: SuctionSheet, port_column: Sequence[int]) -> NDArray[int32]:
    """Return the numbers of ports (columns, by index) in the order of the sheet, (k,); raises ValueError for others."""
    missing = [port for port in port_column if port not in sheet.port_column]
    if missing:
        msg = f"columns {missing} are none of the ports that the sheet was laid for: {list(sheet.port_column)}"
        raise ValueError(msg)
    return np.array([sheet.port_column.index(port) for port in port_column], dtype=np.int32)


def _discs(
    cavity: Cavity, link: NDArray[int32], ports: Sequence[int]
) -> tuple[NDArray[int32], NDArray[int32], NDArray[float64]]:
    """Return where each port's disc begins (p + 1,), its columns and their shares, by what they hold."""
    discs = [disc_at(cavity, port, link) for port in ports]
    start = np.cumsum([0, *(len(near) for near, _ in discs)], dtype=np.int32)
    columns = [np.zeros(0, dtype=np.int32), *(near for near, _ in discs)]
    return start, np.concatenate(columns), np.concatenate([np.zeros(0), *(share for _, share in discs)])


@numba.njit(cache=True, nogil=True, error_model="numpy")
def mean_over_discs(start: Any, column: Any, share: Any, potential: Any) -> Any:
    """Return the mean of each of k potentials (k, n) over each of p discs, (p, k), in the unit given."""
    ports = len(start) - 1
    mean = np.zeros((ports, len(potential)))
    for b in range(len(potential)):
        for a in range(ports):
            for e in range(start[a], start[a + 1]):
                mean[a, b] += share[e] * potential[b, column[e]]
    return mean
