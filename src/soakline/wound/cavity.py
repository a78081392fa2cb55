"""The cavity as columns on a grid that follows the bed (stub of the contract)."""

from __future__ import annotations

from dataclasses import dataclass

from numpy import float64
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, eq=False)
class Cavity:
    """Columns of the cavity: arrays of shape (n,) give centre (u, v) in cm, area in cm², floor and roof height in cm."""

    spacing_cm: float
    u_cm: NDArray[float64]
    v_cm: NDArray[float64]
    area_cm2: NDArray[float64]
    in_opening: NDArray[float64]
