"""The wound laid flat: where edge, pocket, tunnels and structures lie in sheet coordinates (u towards 3, v towards 12)."""

from __future__ import annotations

from dataclasses import dataclass

from numpy import float64
from numpy.typing import NDArray

Points = NDArray[float64]


@dataclass(frozen=True, slots=True, eq=False)
class Track:
    """A tunnel on the sheet: where it starts, (u, v) in cm, its direction clockwise from 12, length, diameter, dip."""

    clock: float
    start_cm: tuple[float, float]
    direction_deg: float
    length_cm: float
    diameter_cm: float
    down_deg: float


@dataclass(frozen=True, slots=True, eq=False)
class Sheet:
    """One wound with every measure a plain number, laid flat; all polylines are (n, 2) arrays of (u, v) in cm, closed by hand.

    Stub of the drawing contract: ``opening_cm`` the opening's edge, ``pocket_cm`` the outer edges of the pocket
    (one closed line per part; empty without pocket), ``tunnels``, ``keep_clear`` as (words, (u, v), radius_cm).
    """

    opening_cm: Points
    pocket_cm: tuple[Points, ...]
    tunnels: tuple[Track, ...]
    keep_clear: tuple[tuple[str, tuple[float, float], float], ...]

    def point_at(self, clock: float, from_edge_cm: float) -> tuple[float, float]:
        """Return (u, v) in cm of a point ``from_edge_cm`` beyond the opening's edge at ``clock``."""
        raise NotImplementedError
