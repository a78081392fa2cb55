"""A steady flow from an instillation port to suction ports: which columns it passes over."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numba
import numpy as np
from numpy import bool_, float64
from numpy.typing import NDArray

from soakline.fluid.equal_pressure import balance
from soakline.fluid.suction_sheet import SuctionSheet, port_numbers
from soakline.wound.cavity import ALONG_U, ALONG_V

# A column that lets less than this share of the mean flow through each cm of its width is passed over.
PASSED_OVER_SHARE = 0.1


@dataclass(frozen=True, slots=True, eq=False)
class Passed:
    """What a steady flow from an instillation port to k suction ports passes over.

    ``flow_ratio`` (n,) is the flow through each cm of a column's width over the bed's mean; ``passed_over`` (n,) are
    columns below a tenth of it and ``passed_over_share`` their share of the bed. ``port_share`` (k,) is the share of
    the flow that each suction port takes.
    """

    port_column: tuple[int, ...]
    port_share: NDArray[float64]
    flow_ratio: NDArray[float64]
    passed_over: NDArray[bool_]
    passed_over_share: float


def passed_over(sheet: SuctionSheet, instillation_column: int, suction_column: Sequence[int]) -> Passed:
    """Return which share (0–1) of the bed the steady flow from an instillation port to suction ports passes over.

    A column is passed over when less than a tenth of the bed's mean flow goes through each cm of its width; ports are
    columns by index, of those that the sheet was laid for.
    """
    source, chosen = int(port_numbers(sheet, [instillation_column])[0]), port_numbers(sheet, suction_column)
    part_share = np.zeros(sheet.part_count)
    part_share[sheet.part[instillation_column]] = 1.0
    flow = balance(sheet, sheet.potential_per_cm[source], sheet.between_per_cm[:, source], part_share, chosen)
    graph = sheet.graph
    through = _through(
        graph.start, graph.to, graph.way, graph.conduct_cm, flow.potential_per_cm, sheet.disc_start, sheet.disc_column,
        sheet.disc_share, source, chosen, flow.port_share, ~flow.has_port[sheet.part],
    )  # fmt: skip
    density = through / np.linalg.norm(sheet.cavity.spans_cm[0], axis=1)
    bed = sheet.cavity.floor_cm2 / sheet.cavity.floor_cm2.sum()
    mean = float((density * bed).sum())
    ratio = density / mean if mean > 0.0 else density
    over = ratio < PASSED_OVER_SHARE
    return Passed(tuple(suction_column), flow.port_share, ratio, over, float(bed[over].sum()))


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _through(
    start: Any, to: Any, way: Any, conduct: Any, potential: Any, disc_start: Any, disc_column: Any, disc_share: Any,
    source: int, chosen: Any, takes: Any, undrawn: Any,
) -> Any:  # fmt: skip
    """Flow through each column: what crosses it along u and v, or what goes in or out another way if that is more."""
    n = len(potential)
    given = np.zeros((2, n))
    for e in range(disc_start[source], disc_start[source + 1]):
        given[0, disc_column[e]] += disc_share[e]
    for k in range(len(chosen)):
        for e in range(disc_start[chosen[k]], disc_start[chosen[k] + 1]):
            given[1, disc_column[e]] += disc_share[e] * takes[k]
    through = np.zeros(n)
    for i in range(n):
        if undrawn[i]:
            continue
        in_u = out_u = in_v = out_v = 0.0
        in_else, out_else = given[0, i], given[1, i]
        for e in range(start[i], start[i + 1]):
            flow = conduct[e] * (potential[i] - potential[to[e]])
            if way[e] == ALONG_U:
                in_u, out_u = in_u + max(-flow, 0.0), out_u + max(flow, 0.0)
            elif way[e] == ALONG_V:
                in_v, out_v = in_v + max(-flow, 0.0), out_v + max(flow, 0.0)
            else:
                in_else, out_else = in_else + max(-flow, 0.0), out_else + max(flow, 0.0)
        through[i] = max(np.hypot(max(in_u, out_u), max(in_v, out_v)), in_else, out_else)
    return through
