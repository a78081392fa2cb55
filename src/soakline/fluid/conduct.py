"""How easily liquid passes from column to column, and over which columns a port works."""

from __future__ import annotations

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
    near, by_volume_share = disc_at(cavity, column)
    share = np.zeros(len(cavity.u_cm))
    share[near] = by_volume_share
    return share


def disc_at(cavity: Cavity, column: int) -> tuple[NDArray[int32], NDArray[float64]]:
    """Return the columns over which a port at a column works, (k,), and the share of each by what it holds, (k,)."""
    if column >= cavity.grid_count:
        return np.array([column], dtype=np.int32), np.ones(1)
    grid = slice(cavity.grid_count)
    u, v = cavity.u_cm[grid] - cavity.u_cm[column], cavity.v_cm[grid] - cavity.v_cm[column]
    square = np.flatnonzero((np.abs(u) <= PORT_RADIUS_CM) & (np.abs(v) <= PORT_RADIUS_CM))
    near = square[np.hypot(u[square], v[square]) <= PORT_RADIUS_CM].astype(np.int32)
    volume = cavity.volume_ml[near]
    return near, volume / volume.sum()
