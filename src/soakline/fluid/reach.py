"""Reach: how much of the floor and of the roof the liquid soaks (stub of the contract)."""

from __future__ import annotations

from dataclasses import dataclass

from numpy import float64
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class Shares:
    """Shares of real area, 0–1, adding to 1. The settled model knows soaked and dry."""

    soaked: float
    moist: float
    rinsed: float
    dry: float


@dataclass(frozen=True, slots=True)
class ShareRanges:
    """(5 %, 95 %) over plausible wounds of each share."""

    soaked: tuple[float, float]
    dry: tuple[float, float]


@dataclass(frozen=True, slots=True, eq=False)
class ReachMap:
    """Per column of the cavity, the share 0–1 of its floor and of its roof under liquid, shape (n,)."""

    posture: str
    port: str
    fill_ml: float
    floor_wet: NDArray[float64]
    roof_wet: NDArray[float64]
