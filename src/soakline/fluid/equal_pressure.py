"""Ports on one suction stand at one pressure: how an inflow is shared among them so that they do.

Any set of ports is a sum of what each does alone, with the weights that bring all of them to that pressure; ports whose
discs overlap act as one.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numba
import numpy as np
from numpy import bool_, float64, int32
from numpy.typing import NDArray

from soakline.fluid.conduct import PORT_RADIUS_CM
from soakline.fluid.suction_sheet import SuctionSheet


@dataclass(frozen=True, slots=True, eq=False)
class Flow:
    """A balanced flow of one to k ports: what each takes of it, (k,), and how much of the inflow they take together.

    ``potential_per_cm`` (n,) lies above that of the ports, for a flow of one; ``has_port`` by connected part.
    """

    port_share: NDArray[float64]
    drawn_share: float
    potential_per_cm: NDArray[float64]
    has_port: NDArray[bool_]


def balance(
    sheet: SuctionSheet,
    potential_per_cm: NDArray[float64],
    at_ports_per_cm: NDArray[float64],
    part_share: NDArray[float64],
    chosen: NDArray[int32],
) -> Flow:
    """Share an inflow among chosen ports (k,), by number, so that all stand at one potential, part by part.

    ``potential_per_cm`` (n,) is what the inflow does by itself, ``at_ports_per_cm`` (p,) its mean over each port's disc
    and ``part_share`` the share of it in each connected part.
    """
    column = np.array(sheet.port_column, dtype=np.int32)[chosen]
    part_of_port, group = sheet.part[column], _groups(sheet, column)
    has_port = np.zeros(sheet.part_count, dtype=np.bool_)
    has_port[part_of_port] = True
    share, level = np.zeros(len(chosen)), np.zeros(sheet.part_count)
    for part in np.unique(part_of_port):
        here = np.flatnonzero(part_of_port == part)
        of_part = chosen[here]
        share[here], level[part] = _equal_pressure(
            sheet.between_per_cm[np.ix_(of_part, of_part)],
            at_ports_per_cm[of_part],
            group[here],
            float(part_share[part]),
        )
    drawn = float(share.sum())
    scale = 1.0 / drawn if drawn > 0.0 else 0.0
    above = _superpose(potential_per_cm, sheet.potential_per_cm, chosen, share, level, has_port, sheet.part, scale)
    return Flow(share * scale, drawn, above, has_port)


def _equal_pressure(
    between: NDArray[float64], at_ports: NDArray[float64], group: NDArray[int32], inflow: float
) -> tuple[NDArray[float64], float]:
    """Return what each port of one part takes, (k,), and their common potential.

    Ports of one group act as one and share evenly. A group that would have to give liquid back takes none: suction does
    not push.
    """
    _, number, size = np.unique(group, return_inverse=True, return_counts=True)
    evenly = np.zeros((len(group), len(size)))
    evenly[np.arange(len(group)), number] = 1.0 / size[number]
    takes, kept = np.zeros(len(size)), np.arange(len(size))
    while True:
        k, mean = len(kept), evenly[:, kept]
        matrix, right = np.ones((k + 1, k + 1)), np.empty(k + 1)
        matrix[:k, :k], matrix[k, k] = mean.T @ between @ mean, 0.0
        right[:k], right[k] = at_ports @ mean, inflow
        solved = np.linalg.solve(matrix, right)
        if k == 1 or solved[:k].min() >= 0.0:
            takes[kept] = solved[:k]
            return evenly @ takes, float(solved[k])
        kept = np.delete(kept, solved[:k].argmin())


def _groups(sheet: SuctionSheet, column: NDArray[int32]) -> NDArray[int32]:
    """Return a number for each of k ports, the same where their discs overlap: nothing tells such ports apart."""
    cavity, group = sheet.cavity, np.arange(len(column), dtype=np.int32)
    for one in range(len(column)):
        for other in range(one):
            a, b = column[one], column[other]
            on_grid = max(a, b) < cavity.grid_count
            apart_cm = np.hypot(cavity.u_cm[a] - cavity.u_cm[b], cavity.v_cm[a] - cavity.v_cm[b])
            if a == b or (on_grid and sheet.part[a] == sheet.part[b] and apart_cm <= 2.0 * PORT_RADIUS_CM):
                group[group == group[one]] = group[other]
    return group


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _superpose(
    source: Any, green: Any, chosen: Any, takes: Any, level: Any, has_port: Any, part: Any, scale: float
) -> Any:
    out = np.zeros(len(source))
    for i in range(len(source)):
        if not has_port[part[i]]:
            continue
        value = source[i] - level[part[i]]
        for k in range(len(chosen)):
            value -= takes[k] * green[chosen[k], i]
        out[i] = value * scale
    return out
