"""Reach: how much of the floor (the bed) and of the roof (the underside of the kept skin) the liquid soaks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

import numba
import numpy as np
from numpy import float64, int32, uint32
from numpy.typing import NDArray

from soakline.fluid.rest import Room, rest, rest_wetness
from soakline.fluid.seal import Seal, seal_of
from soakline.fluid.spread import Spread, wetness
from soakline.wound.cavity import Cavity

Model = Literal["settled", "spread"]

# Fills at which a curve is worked out, from none to full; between two of them it runs straight.
_CURVE_FILLS = 33
_SHARE_WORDS = ((0.98, "all"), (0.6, "most"), (0.4, "about half"), (0.02, "little"))


@dataclass(frozen=True, slots=True)
class Shares:
    """Shares of real area, 0–1, adding to 1. The settled model cannot tell rinsed."""

    soaked: float
    moist: float
    rinsed: float
    dry: float


@dataclass(frozen=True, slots=True)
class ShareRanges:
    """(5 %, 95 %) over plausible wounds of each share."""

    soaked: tuple[float, float]
    moist: tuple[float, float]
    rinsed: tuple[float, float]
    dry: tuple[float, float]


@dataclass(frozen=True, slots=True, eq=False)
class ReachMap:
    """What a fill does to each column of the cavity: shares 0–1 of its floor and roof, (n, 3), soaked, moist, rinsed.

    ``level_cm`` (n,) is the height of the liquid that stands or hangs at each column at the end, −inf where none does.
    ``seal`` is how it stands against the opening's edge at the skin; None where the model does not tell, or no liquid
    stands under the opening. ``floor_wounds_share`` and ``roof_wounds_share`` (n, 2) are the shares of plausible wounds
    in which a column is soaked, and in which liquid was there at any time; None unknown.
    """

    posture: str
    model: Model
    port: str
    fill_ml: float
    floor_share: NDArray[float64]
    roof_share: NDArray[float64]
    level_cm: NDArray[float64]
    seal: Seal | None
    left_over_ml: float
    floor_wounds_share: NDArray[float64] | None = None
    roof_wounds_share: NDArray[float64] | None = None

    def named(self, port: str) -> ReachMap:
        """Return the same map under another port's name."""
        return replace(self, port=port)

    def over_wounds(self, floor_share: NDArray[float64], roof_share: NDArray[float64]) -> ReachMap:
        """Return the same map with the shares of plausible wounds, (n, 2) each, in which each column is reached."""
        return replace(self, floor_wounds_share=floor_share, roof_wounds_share=roof_share)

    @property
    def floor_wet(self) -> NDArray[float64]:
        """The share 0–1 of each column's floor that is soaked, (n,)."""
        return self.floor_share[:, 0]

    @property
    def roof_wet(self) -> NDArray[float64]:
        """The share 0–1 of each column's roof that is soaked, (n,)."""
        return self.roof_share[:, 0]


@dataclass(frozen=True, slots=True, eq=False)
class ReachCurve:
    """Fill in mL against the soaked share of floor and of roof, each (k,), from empty to full."""

    posture: str
    port: str
    fill_ml: NDArray[float64]
    floor_share: NDArray[float64]
    roof_share: NDArray[float64]


def settled_map(room: Room, posture: str, port: str, poured_ml: Sequence[tuple[int, float]]) -> ReachMap:
    """Return where liquid stands, and hangs in the foam, once each (column, liquid in mL) of ``poured_ml`` has settled.

    Raises ValueError for a volume that is none.
    """
    found = rest(room, poured_ml)
    floor, roof = rest_wetness(found)
    return ReachMap(
        posture=posture,
        model="settled",
        port=port,
        fill_ml=sum(fill_ml for _, fill_ml in poured_ml),
        floor_share=floor,
        roof_share=roof,
        level_cm=found.head_cm,
        seal=seal_of(room.basins, found.head_cm),
        left_over_ml=found.left_over_ml,
    )


def spread_map(run: Spread, posture: str, port: str, fill_ml: float) -> ReachMap:
    """Return what a run of the spread model did to each column."""
    floor, roof = wetness(run)
    return ReachMap(
        posture=posture,
        model="spread",
        port=port,
        fill_ml=fill_ml,
        floor_share=floor,
        roof_share=roof,
        level_cm=run.head_cm[-1],
        seal=None,
        left_over_ml=run.left_over_ml,
    )


def shares_of(cavity: Cavity, found: ReachMap) -> tuple[Shares, Shares | None]:
    """Return the shares of floor and of roof that a map reaches, by real area; the roof is None where there is none."""
    floor = _shares(found.floor_share, cavity.floor_cm2)
    return floor, _shares(found.roof_share, cavity.roof_cm2) if cavity.roof_cm2.sum() > 0.0 else None


def reached_at(found: ReachMap, column: NDArray[int32]) -> NDArray[float64]:
    """Return shares 0–1 of floor and roof at columns (k,), by index, soaked and reached at any time, (2, k, 2).

    0 where there is none (−1).
    """
    return _reached_at(found.floor_share, found.roof_share, column.view(uint32))


def settled_curve(room: Room, posture: str, port: str, column: int) -> ReachCurve:
    """Return soaked floor and roof once settled for fills in mL through a port at ``column``, from empty to full."""
    cavity = room.basins.cavity
    fills = np.linspace(0.0, cavity.void_ml * room.foam.porosity_share, _CURVE_FILLS)
    shares = [shares_of(cavity, settled_map(room, posture, port, [(column, float(fill_ml))])) for fill_ml in fills]
    floor = np.array([floor.soaked for floor, _ in shares])
    roof = np.array([0.0 if roof is None else roof.soaked for _, roof in shares])
    return ReachCurve(posture, port, fills, floor, roof)


def say_share(share: float) -> str:
    """Say a share of a surface as a word.

    >>> say_share(0.99), say_share(0.7), say_share(0.5), say_share(0.33), say_share(0.1), say_share(0.0)
    ('all', 'most', 'about half', 'about a third', 'little', 'none')
    """
    if 0.28 <= share < 0.4:
        return "about a third"
    return next((word for least, word in _SHARE_WORDS if share >= least), "none")


def _shares(reached: NDArray[float64], area: NDArray[float64]) -> Shares:
    soaked, moist, rinsed = (float(x) for x in area @ reached / area.sum())
    return Shares(soaked, moist, rinsed, max(1.0 - soaked - moist - rinsed, 0.0))


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _reached_at(floor: Any, roof: Any, column: Any) -> Any:
    out = np.zeros((2, len(column), 2))
    for k in range(len(column)):
        # As an index without a sign, −1 is beyond all columns.
        i = column[k]
        if i < len(floor):
            out[0, k, 0], out[0, k, 1] = floor[i, 0], floor[i, 0] + floor[i, 1] + floor[i, 2]
            out[1, k, 0], out[1, k, 1] = roof[i, 0], roof[i, 0] + roof[i, 1] + roof[i, 2]
    return out
