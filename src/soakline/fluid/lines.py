"""The columns of a cavity as lines along which liquid is led: along u, along v, inside cut cells and along tunnels."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numba
import numpy as np
from numpy import float64, int32
from numpy.typing import NDArray

from soakline.fluid.conduct import conduct_cm
from soakline.fluid.parts import parts_of
from soakline.wound.cavity import ALONG_U, ALONG_V, IN_A_CELL, IN_A_TUNNEL, Cavity

# The same cavity lies in several postures, and a search comes back to the same cavities.
_CAVITIES_KEPT = 32


@dataclass(frozen=True, slots=True, eq=False)
class Lines:
    """The columns as lines along each way: ``order`` lists columns line by line, ``start`` cuts it into lines.

    ``conduct_cm`` is the link behind each place in ``order`` as width × height ÷ distance; ``sweep`` cuts lines by way.
    ``part`` (n,) numbers the parts of the cavity that no link joins.
    """

    order: NDArray[int32]
    start: NDArray[int32]
    conduct_cm: NDArray[float64]
    sweep: NDArray[int32]
    part: NDArray[int32]


@lru_cache(maxsize=_CAVITIES_KEPT)
def lines_of(cavity: Cavity) -> Lines:
    """Return the links of a cavity as lines along u, along v, inside cut cells and along tunnels.

    Where a line ends in one part of a cut cell and another begins in its other part, the two are one line: what runs
    through the opening's edge would else wait there for the next step.
    """
    conduct, ways = conduct_cm(cavity), _ways_through_cut_cells(cavity)
    times_used = np.bincount(np.concatenate([links for links, _ in ways]), minlength=len(conduct))
    conduct = conduct / np.maximum(times_used, 1)
    order: list[NDArray[int32]] = []
    start: list[NDArray[int32]] = []
    behind: list[NDArray[float64]] = []
    sweep = [0]
    places = 0
    for chosen, pairs in ways:
        lined, cuts, links = _line_up(len(cavity.u_cm), pairs, chosen)
        order.append(lined)
        start.append(cuts[:-1] + places)
        behind.append(np.where(links >= 0, conduct[links], 0.0))
        places += len(lined)
        sweep.append(sweep[-1] + len(cuts) - 1)
    return Lines(
        np.concatenate(order),
        np.append(np.concatenate(start), places).astype(np.int32),
        np.concatenate(behind),
        np.array(sweep, dtype=np.int32),
        parts_of(len(cavity.u_cm), cavity.link),
    )


def _ways_through_cut_cells(cavity: Cavity) -> list[tuple[NDArray[int32], NDArray[int32]]]:
    """Return for each way its links (m,) and their columns as they lead on, (m, 2).

    A link inside a cut cell goes along u and along v where it joins two ends of lines, and stands by itself elsewhere.
    """
    inside = np.flatnonzero(cavity.link_way == IN_A_CELL).astype(np.int32)
    alone = np.ones(len(inside), dtype=bool)
    ways: list[tuple[NDArray[int32], NDArray[int32]]] = []
    for way in (ALONG_U, ALONG_V):
        chosen = np.flatnonzero(cavity.link_way == way).astype(np.int32)
        pairs, one, other = cavity.link[chosen], cavity.link[inside, 0], cavity.link[inside, 1]
        leads, led = (np.isin(np.arange(len(cavity.u_cm)), pairs[:, side]) for side in (0, 1))
        onward, back = ~leads[one] & ~led[other], ~leads[other] & ~led[one]
        joins = onward | back
        joined = np.where(onward[:, None], cavity.link[inside], cavity.link[inside][:, ::-1])[joins]
        ways.append((np.concatenate([chosen, inside[joins]]), np.concatenate([pairs, joined])))
        alone &= ~joins
    tunnels = np.flatnonzero(cavity.link_way == IN_A_TUNNEL).astype(np.int32)
    return [*ways, *((links, cavity.link[links]) for links in (inside[alone], tunnels))]


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _line_up(count: int, link: Any, number: Any) -> Any:
    """Lay links that lead on from one another into lines: columns line by line, cuts, and the link behind each."""
    after, link_after = np.full(count, -1, dtype=np.int32), np.full(count, -1, dtype=np.int32)
    headed = np.zeros(count, dtype=np.bool_)
    used = np.zeros(count, dtype=np.bool_)
    for e in range(len(link)):
        after[link[e, 0]] = link[e, 1]
        link_after[link[e, 0]] = number[e]
        headed[link[e, 1]] = True
        used[link[e, 0]] = used[link[e, 1]] = True
    order, behind = np.empty(count, dtype=np.int32), np.full(count, -1, dtype=np.int32)
    cuts = np.zeros(count + 1, dtype=np.int32)
    n = lines = 0
    for i in range(count):
        if not used[i] or headed[i]:
            continue
        at = i
        while at >= 0:
            order[n], behind[n] = at, link_after[at]
            n += 1
            at = after[at]
        lines += 1
        cuts[lines] = n
    return order[:n], cuts[: lines + 1], behind[:n]
