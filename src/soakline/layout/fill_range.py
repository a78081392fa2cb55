"""Fill range: where reach stops growing, and where a fill may lift the drape or stand above the seal.

It is worked out on liquid at rest in foam that holds it, over plausible wounds and all allowed postures: a film on a
level bed soaks nothing. It says where more liquid soaks little more; it never says that a volume is right.
"""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy import bool_, float64
from numpy.typing import NDArray

from soakline.fluid.basins import Basins, basins_of
from soakline.fluid.posture import Posture
from soakline.fluid.rest import room_of, soaked_by_fills
from soakline.fluid.seal import seal_of
from soakline.fluid.settle import levels, pour
from soakline.fluid.spread import Foam
from soakline.layout.ensemble import Filling, foam_of
from soakline.layout.ports import column_of
from soakline.layout.turning import Soaked
from soakline.units import Range
from soakline.wound.body import frame_of
from soakline.wound.cavity import Cavity, build_cavity
from soakline.wound.measurements import Assumptions, Wound
from soakline.wound.plausible import Measures, wound_at
from soakline.wound.sheet import lay_flat

# Fills that are tried, as shares of all that the foam takes.
_TRIED_SHARES = np.linspace(0.0, 1.0, 21)
# A curve that nowhere rises so far above the straight line from empty to full has no knee (key ``layout.knee``).
_LEAST_BEND_SHARE = 0.1
# Where more than this share of plausible wounds has no knee, none is told.
_MOST_WITHOUT_SHARE = 0.1
# Liquid this little above the edge stands at it, not above.
_AT_THE_EDGE_CM = 0.05
# A column counts as soaked from this share of its face on.
_SOAKED_SHARE = 0.5


@dataclass(frozen=True, slots=True, eq=False)
class WoundFilled:
    """One plausible wound filled in every allowed posture, with a fresh fill in each.

    ``floor`` and ``roof`` (None without kept skin) are what the asked fill soaks, patch by patch; ``fill_ml`` (v,) are
    fills tried from empty to full, ``reach_share`` (v,) the share of floor and roof that each soaks in any posture, and
    ``seal_ml`` (k,) the fill from which liquid stands above the seal in each posture; infinite is never.
    """

    floor: Soaked
    roof: Soaked | None
    fill_ml: NDArray[float64]
    reach_share: NDArray[float64]
    seal_ml: NDArray[float64]


@dataclass(frozen=True, slots=True)
class Knee:
    """Where reach stops growing, in mL, over plausible wounds, and the share of them that have such a place."""

    fill_ml: Range
    wounds_share: float


@dataclass(frozen=True, slots=True)
class SealReached:
    """The fill in mL from which liquid stands above the seal in one posture, over the wounds in which it does.

    ``wounds_share`` is the share of plausible wounds in which a fill that fits comes to stand there.
    """

    posture: str
    fill_ml: Range
    wounds_share: float


def fill_wounds(
    wound: Wound,
    assumptions: Assumptions,
    filling: Filling,
    postures: Sequence[Posture],
    measures: Sequence[Measures],
    spacing_cm: float,
    *,
    executor: Executor | None = None,
) -> list[WoundFilled]:
    """Return each plausible wound filled in every posture on a grid of ``spacing_cm``, liquid at rest.

    ``executor`` is anything with the interface of ``concurrent.futures``; None works here.
    """
    work = partial(fill_one, wound, assumptions, filling, tuple(postures), spacing_cm)
    return list(map(work, measures) if executor is None else executor.map(work, measures, chunksize=8))


def fill_one(
    wound: Wound,
    assumptions: Assumptions,
    filling: Filling,
    postures: tuple[Posture, ...],
    spacing_cm: float,
    measures: Measures,
) -> WoundFilled:
    """Return the wound at the given quantiles filled in every posture on a grid of ``spacing_cm``, liquid at rest."""
    drawn = wound_at(wound, measures)
    sheet = lay_flat(drawn)
    cavity = build_cavity(sheet, frame_of(drawn, assumptions), spacing_cm, closed=assumptions.closed)
    foam = foam_of(assumptions, measures)
    columns = [(column_of(port, sheet, cavity), ml) for port, ml in filling.poured_ml]
    return fill_cavity(cavity, columns, [posture.up() for posture in postures], foam)


def fill_cavity(
    cavity: Cavity, poured_ml: Sequence[tuple[int, float]], each_up: Sequence[NDArray[float64]], foam: Foam
) -> WoundFilled:
    """Return a cavity filled by (column, liquid in mL) with each of ``each_up`` (3,), no unit, against gravity.

    Other fills share the liquid among the columns as this one does. What stands above the seal is settled: liquid that
    foam holds would stand lower.
    """
    full_ml, fill_ml = cavity.void_ml * foam.porosity_share, sum(ml for _, ml in poured_ml)
    tried_ml = np.append(full_ml * _TRIED_SHARES, min(fill_ml, full_ml))
    reached = np.zeros((len(tried_ml), 2, len(cavity.u_cm)))
    seals: list[float] = []
    asked: list[NDArray[bool_]] = []
    poured_share = [(column, ml / fill_ml) for column, ml in poured_ml]
    for up in each_up:
        basins = basins_of(cavity, up)
        soaked = soaked_by_fills(room_of(basins, foam), poured_share, tried_ml)
        np.maximum(reached, soaked, out=reached)
        asked.append(soaked[-1] >= _SOAKED_SHARE)
        void_ml = tried_ml[:-1] / foam.porosity_share
        seals.append(_seal_ml(basins, poured_ml, void_ml) * foam.porosity_share)
    area = np.stack([cavity.floor_cm2, cavity.roof_cm2])
    reach = np.tensordot(reached[:-1], area, axes=2) / area.sum()
    floor, roof = (Soaked(area[side], np.array(asked)[:, side]) for side in (0, 1))
    return WoundFilled(floor, roof if area[1].sum() > 0.0 else None, tried_ml[:-1], reach, np.array(seals))


def knee_ml(fill_ml: NDArray[float64], reach_share: NDArray[float64]) -> float | None:
    """Return the fill in mL at which reach rises farthest above the straight line from empty to full; None: nowhere.

    Source key ``layout.knee``.

    >>> knee_ml(np.array([0.0, 50.0, 100.0]), np.array([0.0, 0.8, 1.0]))
    50.0
    >>> knee_ml(np.array([0.0, 50.0, 100.0]), np.array([0.0, 0.5, 1.0])) is None
    True
    """
    rise = (reach_share - reach_share[0]) / max(float(reach_share[-1] - reach_share[0]), 1e-12)
    bend = rise - fill_ml / fill_ml[-1]
    most = int(bend.argmax())
    return float(fill_ml[most]) if bend[most] >= _LEAST_BEND_SHARE else None


def knee_over(wounds: Sequence[WoundFilled], likely: WoundFilled) -> Knee | None:
    """Return where reach stops growing over plausible wounds (5–95 %), or None where too many have no such place."""
    middle = knee_ml(likely.fill_ml, likely.reach_share)
    knees = [knee for wound in wounds if (knee := knee_ml(wound.fill_ml, wound.reach_share)) is not None]
    if middle is None or len(knees) < (1.0 - _MOST_WITHOUT_SHARE) * len(wounds):
        return None
    return Knee(_over(np.array(knees), middle), len(knees) / len(wounds))


def seal_over(
    wounds: Sequence[WoundFilled], likely: WoundFilled, postures: Sequence[Posture]
) -> tuple[SealReached, ...]:
    """Return for each posture from which fill on liquid stands above the seal; none where it never does."""
    found: list[SealReached] = []
    for number, posture in enumerate(postures):
        seals = np.array([wound.seal_ml[number] for wound in wounds])
        there = np.isfinite(seals)
        if there.any():
            middle = float(likely.seal_ml[number])
            known = middle if np.isfinite(middle) else float(np.median(seals[there]))
            found.append(SealReached(posture.name, _over(seals[there], known), float(there.mean())))
    return tuple(found)


def _over(value_ml: NDArray[float64], middle_ml: float) -> Range:
    low, high = (float(x) for x in np.percentile(value_ml, [5.0, 95.0]))
    return Range(min(low, middle_ml), middle_ml, max(high, middle_ml))


def _seal_ml(basins: Basins, poured_ml: Sequence[tuple[int, float]], tried_ml: NDArray[float64]) -> float:
    """Return the void filled, in mL, at which liquid comes to stand above the seal; infinite where it never does.

    It lies between two of the fills tried, found by halving; between them the height is taken as straight.
    """
    total_ml = sum(ml for _, ml in poured_ml)

    def over_cm(void_ml: float) -> float:
        pools = pour(basins, [(column, ml / total_ml * void_ml) for column, ml in poured_ml])
        seal = seal_of(basins, levels(pools))
        return -np.inf if seal is None else seal.over_cm

    low, high = 0, len(tried_ml) - 1
    under, over = -np.inf, over_cm(float(tried_ml[high]))
    # What stands exactly at the edge when all is full is not above it.
    if over <= _AT_THE_EDGE_CM:
        return np.inf
    while high - low > 1:
        middle = (low + high) // 2
        height = over_cm(float(tried_ml[middle]))
        if height > _AT_THE_EDGE_CM:
            high, over = middle, height
        else:
            low, under = middle, height
    if not np.isfinite(under):
        return float(tried_ml[high])
    part = (_AT_THE_EDGE_CM - under) / (over - under)
    return float(tried_ml[low] + part * (tried_ml[high] - tried_ml[low]))
