"""Reach: how much of the floor (the bed) and of the roof (the underside of the kept skin) the liquid soaks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy import float64
from numpy.typing import NDArray

from soakline.fluid.seal import seal_of
from soakline.fluid.settle import Basins, curve_from, levels, pour, wet_shares
from soakline.fluid.spread import Spread, wetness
from soakline.wound.cavity import Cavity

Model = Literal["settled", "spread"]

_SHARE_WORDS = ((0.98, "all"), (0.6, "most"), (0.4, "about half"), (0.02, "little"))


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
    moist: tuple[float, float]
    rinsed: tuple[float, float]
    dry: tuple[float, float]


@dataclass(frozen=True, slots=True, eq=False)
class ReachMap:
    """What a fill does to each column of the cavity: shares 0–1 of its floor and roof, (n, 3), soaked, moist, rinsed.

    ``level_cm`` (n,) is the height of the liquid that stands at each column at the end, −inf where none does.
    ``edge_margin_cm`` is how far the liquid stays below the opening's edge at the skin where it comes nearest to it;
    negative is above it, None where no liquid stands under the opening. ``floor_wounds_share`` and
    ``roof_wounds_share`` (n, 2) are the shares of plausible wounds in which a column is soaked, and in which liquid was
    there at any time; None unknown.
    """

    posture: str
    model: Model
    port: str
    fill_ml: float
    floor_share: NDArray[float64]
    roof_share: NDArray[float64]
    level_cm: NDArray[float64]
    edge_margin_cm: float | None
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


def settled_map(
    basins: Basins, posture: str, port: str, poured_ml: Sequence[tuple[int, float]], porosity_share: float
) -> ReachMap:
    """Return where liquid stands once each (column, liquid in mL) of ``poured_ml`` has settled.

    ``porosity_share`` is the share of the void that takes liquid (porosity × foam share), 0–1.
    """
    pools = pour(basins, [(column, fill_ml / porosity_share) for column, fill_ml in poured_ml])
    floor, roof = wet_shares(pools)
    level = levels(pools)
    seal = seal_of(basins, level)
    never = np.zeros_like(floor)
    return ReachMap(
        posture=posture,
        model="settled",
        port=port,
        fill_ml=sum(fill_ml for _, fill_ml in poured_ml),
        floor_share=np.stack((floor, never, never), axis=1),
        roof_share=np.stack((roof, never, never), axis=1),
        level_cm=level,
        edge_margin_cm=None if seal is None else seal.margin_cm,
        left_over_ml=pools.left_over_ml * porosity_share,
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
        edge_margin_cm=None,
        left_over_ml=run.left_over_ml,
    )


def shares_of(cavity: Cavity, found: ReachMap) -> tuple[Shares, Shares | None]:
    """Return the shares of floor and of roof that a map reaches, by real area; the roof is None where there is none."""
    floor = _shares(found.floor_share, cavity.floor_cm2)
    return floor, _shares(found.roof_share, cavity.roof_cm2) if cavity.roof_cm2.sum() > 0.0 else None


def settled_curve(basins: Basins, posture: str, port: str, column: int, porosity_share: float) -> ReachCurve:
    """Return soaked floor and roof for every fill through a port at ``column``; shares as in ``settled_map``."""
    curve, cavity = curve_from(basins, column), basins.cavity
    roof_cm2 = float(cavity.roof_cm2.sum())
    return ReachCurve(
        posture,
        port,
        curve.void_ml * porosity_share,
        curve.floor_cm2 / float(cavity.floor_cm2.sum()),
        curve.roof_cm2 / roof_cm2 if roof_cm2 > 0.0 else np.zeros_like(curve.roof_cm2),
    )


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
