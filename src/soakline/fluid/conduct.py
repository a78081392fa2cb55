"""How easily liquid passes from column to column, and over which columns a port works."""

from __future__ import annotations

from typing import Any

import numba
import numpy as np
from numpy import float64, int32
from numpy.typing import NDArray

from soakline.wound.cavity import IN_A_CELL, IN_A_TUNNEL, Cavity

# The foam round a port takes or gives its liquid over a disc of this radius.
PORT_RADIUS_CM = 1.0


def conduct_cm(cavity: Cavity) -> NDArray[float64]:
    """Return width × height ÷ distance of each link (m,), in cm."""
    first, second = cavity.link[:, 0], cavity.link[:, 1]
    apart = np.linalg.norm(cavity.centre_cm[first] - cavity.centre_cm[second], axis=1)
    height = 2.0 / (1.0 / cavity.height_cm[first] + 1.0 / cavity.height_cm[second])
    side = np.linalg.norm(cavity.spans_cm[0], axis=1)
    width = np.minimum(side[first], side[second])
    width = np.where(cavity.link_way == IN_A_CELL, cavity.spacing_cm, width)
    apart = np.maximum(apart, cavity.spacing_cm / 2.0)
    bore = np.pi * cavity.link_bore_cm**2
    return np.where(cavity.link_way == IN_A_TUNNEL, bore, width * height) / apart


def over_disc(cavity: Cavity, column: int) -> NDArray[float64]:
    """Return how a port at a column shares its liquid among columns, (n,), by what they hold; it sums to 1."""
    near, by_volume_share = disc_at(cavity, column, cavity.link)
    share = np.zeros(len(cavity.u_cm))
    share[near] = by_volume_share
    return share


def disc_at(cavity: Cavity, column: int, link: NDArray[int32]) -> tuple[NDArray[int32], NDArray[float64]]:
    """Return the columns over which a port at a column works, (k,), and the share of each by what it holds, (k,).

    Only columns that some of ``link`` (m, 2) join to the port's inside its disc count: what a hole or a wall cuts off
    is another place. In a tunnel a port works over its own column.
    """
    near = _joined_within(link, cavity.u_cm, cavity.v_cm, cavity.grid_count, column, PORT_RADIUS_CM)
    volume = cavity.volume_ml[near]
    return near, volume / volume.sum()


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _joined_within(link: Any, u: Any, v: Any, grid_count: int, port: int, radius: float) -> Any:
    """List the columns on the grid that links inside a disc join to a port's column, in the order of columns."""
    # The distance squared: of all that is asked here only this is asked of every column.
    inside = np.zeros(len(u), dtype=np.bool_)
    if port < grid_count:
        inside[:grid_count] = (u[:grid_count] - u[port]) ** 2 + (v[:grid_count] - v[port]) ** 2 <= radius**2
    joined = np.zeros(len(u), dtype=np.bool_)
    joined[port] = True
    within = np.empty(len(link), dtype=np.int32)
    count = 0
    for e in range(len(link)):
        if inside[link[e, 0]] and inside[link[e, 1]]:
            within[count] = e
            count += 1
    grows = count > 0
    while grows:
        grows = False
        for k in range(count):
            i, j = link[within[k], 0], link[within[k], 1]
            if joined[i] != joined[j]:
                joined[i] = joined[j] = grows = True
    return np.flatnonzero(joined).astype(np.int32)
