"""The rule that can be carried in the head: the port at the floor's highest point for the postures allowed."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy import float64
from numpy.typing import NDArray

from soakline.fluid.posture import Posture
from soakline.layout.ports import Port, column_of
from soakline.wound.cavity import Cavity
from soakline.wound.sheet import Sheet

# A bed whose floor rises less than this from its lowest to its highest point is level.
LEVEL_CM = 1.0


def rule_port(ports: Sequence[Port], sheet: Sheet, cavity: Cavity, postures: Sequence[Posture]) -> int:
    """Return by index the port whose lowest relative height of floor over the postures is greatest.

    On a bed that is level in all of them it is the port farthest from the opening; of even ports the one farther out.
    """
    away = np.array([port.from_edge_cm for port in ports])
    slopes = [_relative_height(ports, sheet, cavity, posture) for posture in postures]
    tilted = [height for height in slopes if height is not None]
    lowest = np.min(tilted, axis=0) if tilted else away
    even = np.flatnonzero(lowest >= lowest.max() - 1e-9)
    return int(even[away[even].argmax()])


def _relative_height(ports: Sequence[Port], sheet: Sheet, cavity: Cavity, posture: Posture) -> NDArray[float64] | None:
    """Return how high the floor lies under each port, 0 at its lowest point and 1 at its highest; None where level."""
    height = cavity.floor_cm @ posture.up()
    if float(np.ptp(height)) < LEVEL_CM:
        return None
    columns = [column_of(port, sheet, cavity) for port in ports]
    return (height[columns] - height.min()) / np.ptp(height)
