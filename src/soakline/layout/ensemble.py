"""What plausible wounds do to reach: the same fillings and postures in every wound and foam that the measures allow."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import Executor, as_completed
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy import bool_, float64, int32
from numpy.typing import NDArray

from soakline.fluid.posture import Posture
from soakline.fluid.reach import Model, ReachMap, ShareRanges, settled_map, shares_of, spread_map
from soakline.fluid.settle import basins_of
from soakline.fluid.spread import Foam, Soak, lay_foam, spread
from soakline.layout.ports import Port, column_of
from soakline.wound.body import frame_of
from soakline.wound.cavity import Cavity, build_cavity
from soakline.wound.measurements import Assumptions, Wound
from soakline.wound.plausible import Measures, foam_at, wound_at
from soakline.wound.sheet import Sheet, lay_flat

Progress = Callable[[float], None]
# Wounds that one task of an executor works through, so that handing over costs little beside the work.
_BATCH = 8


@dataclass(frozen=True, slots=True)
class Filling:
    """One way of filling that is looked at: its name, how much goes in through which port in mL, and its times.

    ``soak`` None is not known: the settled model alone can answer then.
    """

    name: str
    poured_ml: tuple[tuple[Port, float], ...]
    soak: Soak | None = None

    @property
    def fill_ml(self) -> float:
        """All that is poured in, in mL."""
        return sum(fill_ml for _, fill_ml in self.poured_ml)


@dataclass(frozen=True, slots=True)
class Question:
    """What is asked of every plausible wound: which fillings, in which postures, by which model, on which grid."""

    wound: Wound
    assumptions: Assumptions
    fillings: tuple[Filling, ...]
    postures: tuple[Posture, ...]
    model: Model
    spacing_cm: float


@dataclass(frozen=True, slots=True, eq=False)
class Over:
    """Reach over plausible wounds, for each posture and filling, floor before roof.

    ``wound_share`` (draws, postures, fillings, 2, 4) is the share of the surface that is soaked, moist, rinsed and dry
    in each wound; NaN is no roof. ``patch_share`` (postures, fillings, 2, n, 2) is, for each column of the likely
    wound, the share of those wounds that have it in which it is soaked, and in which liquid was there at any time.
    """

    wound_share: NDArray[float64]
    patch_share: NDArray[float64]


def reach_over(
    question: Question,
    measures: Sequence[Measures],
    likely: Cavity,
    *,
    executor: Executor | None = None,
    progress: Progress | None = None,
) -> Over:
    """Return reach in every plausible wound, and for each column of the ``likely`` one in how many it is reached.

    ``executor`` is anything with the interface of ``concurrent.futures``; None works here. ``progress`` is told the
    share done (0–1) and may raise to stop: what has not begun is then cancelled.
    """
    batches = [measures[k : k + _BATCH] for k in range(0, len(measures), _BATCH)]
    work = partial(_answer_batch, question, _Patches.of(likely))
    found: dict[int, tuple[NDArray[float64], NDArray[float64]]] = {}
    if executor is None:
        for number, batch in enumerate(batches):
            found[number] = work(batch)
            _tell(progress, len(found), len(batches))
        return _gather(found)
    waiting = {executor.submit(work, batch): number for number, batch in enumerate(batches)}
    try:
        for done in as_completed(waiting):
            found[waiting[done]] = done.result()
            _tell(progress, len(found), len(batches))
    finally:
        for task in waiting:
            task.cancel()
    return _gather(found)


def maps_of(question: Question, cavity: Cavity, sheet: Sheet, foam: Foam) -> list[ReachMap]:
    """Return one map per posture and filling, postures first, on a cavity built from ``sheet``."""
    maps: list[ReachMap] = []
    columns = {port: column_of(port, sheet, cavity) for filling in question.fillings for port, _ in filling.poured_ml}
    for posture in question.postures:
        answer = _settled if question.model == "settled" else _spread
        maps += answer(question, cavity, posture, foam, columns)
    return maps


def foam_of(assumptions: Assumptions, measures: Measures) -> Foam:
    """Return the foam at the given quantiles."""
    porosity_share, capillary_height_cm, permeability_m2 = foam_at(assumptions, measures)
    return Foam(permeability_m2, capillary_height_cm, porosity_share)


def ranges_of(share: NDArray[float64]) -> ShareRanges | None:
    """Return the 5–95 % ranges of shares (draws, 4) of one surface: soaked, moist, rinsed, dry.

    A wound without that surface (NaN: its pocket is drawn away) does not count; None where no wound has it.
    """
    there = share[~np.isnan(share).any(axis=1)]
    if not len(there):
        return None
    low, high = np.percentile(there, [5.0, 95.0], axis=0)
    soaked, moist, rinsed, dry = ((float(a), float(b)) for a, b in zip(low, high, strict=True))
    return ShareRanges(soaked, moist, rinsed, dry)


@dataclass(frozen=True, slots=True, eq=False)
class _Patches:
    """Where the columns of the likely wound lie on the sheet, (n,) each, so that other wounds can be laid over them."""

    u_cm: NDArray[float64]
    v_cm: NDArray[float64]
    in_opening: NDArray[bool_]

    @classmethod
    def of(cls, cavity: Cavity) -> _Patches:
        return cls(cavity.u_cm, cavity.v_cm, cavity.in_opening)

    def column_in(self, cavity: Cavity) -> tuple[NDArray[int32], NDArray[bool_]]:
        """Return the column of another wound that lies on each patch, and whether it has one there."""
        found = cavity.columns_at(self.u_cm, self.v_cm, self.in_opening)
        return np.maximum(found, 0), found >= 0


def _gather(found: dict[int, tuple[NDArray[float64], NDArray[float64]]]) -> Over:
    in_order = [found[number] for number in range(len(found))]
    sums = np.sum([patches for _, patches in in_order], axis=0)
    counts = np.maximum(sums[..., 2:], 1.0)
    return Over(np.concatenate([shares for shares, _ in in_order]), sums[..., :2] / counts)


def _answer_batch(
    question: Question, patches: _Patches, batch: Sequence[Measures]
) -> tuple[NDArray[float64], NDArray[float64]]:
    """Return shares per wound, and per patch how often it was soaked, reached, and there, summed over the batch."""
    asked = len(question.postures), len(question.fillings)
    shares = np.full((len(batch), *asked, 2, 4), np.nan)
    often = np.zeros((*asked, 2, len(patches.u_cm), 3))
    for number, measures in enumerate(batch):
        cavity, maps = _answer_one(question, measures)
        column, there = patches.column_in(cavity)
        for place, found in zip(np.ndindex(asked), maps, strict=True):
            for side, told in enumerate(shares_of(cavity, found)):
                if told is not None:
                    shares[(number, *place, side)] = told.soaked, told.moist, told.rinsed, told.dry
            for side, reached in enumerate((found.floor_share, found.roof_share)):
                at = reached[column]
                often[(*place, side)] += np.stack((at[:, 0], at.sum(axis=1), np.ones(len(at))), axis=1) * there[:, None]
    return shares, often


def _answer_one(question: Question, measures: Measures) -> tuple[Cavity, list[ReachMap]]:
    wound = wound_at(question.wound, measures)
    sheet, frame = lay_flat(wound), frame_of(wound, question.assumptions)
    cavity = build_cavity(sheet, frame, question.spacing_cm, closed=question.assumptions.closed)
    return cavity, maps_of(question, cavity, sheet, foam_of(question.assumptions, measures))


def _settled(
    question: Question, cavity: Cavity, posture: Posture, foam: Foam, columns: dict[Port, int]
) -> list[ReachMap]:
    basins = basins_of(cavity, posture.up())
    maps: list[ReachMap] = []
    # Ports that drain to the same basin give the same answer.
    known: dict[tuple[tuple[int, float], ...], ReachMap] = {}
    for filling in question.fillings:
        poured = tuple((columns[port], fill_ml) for port, fill_ml in filling.poured_ml)
        into = tuple((int(basins.leaf[column]), fill_ml) for column, fill_ml in poured)
        if into not in known:
            known[into] = settled_map(basins, posture.name, filling.name, poured, foam.porosity_share)
        maps.append(known[into].named(filling.name))
    return maps


def _spread(
    question: Question, cavity: Cavity, posture: Posture, foam: Foam, columns: dict[Port, int]
) -> list[ReachMap]:
    laid = lay_foam(cavity, posture.up(), foam)
    maps: list[ReachMap] = []
    for filling in question.fillings:
        if filling.soak is None:
            msg = "the spread model needs the fill and dwell times"
            raise ValueError(msg)
        room_share = min(1.0, float(laid.full_ml.sum()) / filling.fill_ml)
        poured = [(columns[port], fill_ml * room_share) for port, fill_ml in filling.poured_ml]
        maps.append(spread_map(spread(laid, poured, filling.soak), posture.name, filling.name, filling.fill_ml))
    return maps


def _tell(progress: Progress | None, done: int, of: int) -> None:
    if progress is not None:
        progress(done / of)
