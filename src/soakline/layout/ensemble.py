"""What plausible wounds do to reach: the same fillings and postures in every wound and foam that the measures allow."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import Executor, as_completed
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy import float64
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


def reach_over(
    question: Question,
    measures: Sequence[Measures],
    *,
    executor: Executor | None = None,
    progress: Progress | None = None,
) -> NDArray[float64]:
    """Return soaked, moist, rinsed, dry shares, (draws, postures, fillings, 2, 4), floor before roof; NaN is no roof.

    ``executor`` is anything with the interface of ``concurrent.futures``; None works here. ``progress`` is told the
    share done (0–1) and may raise to stop: what has not begun is then cancelled.
    """
    batches = [measures[k : k + _BATCH] for k in range(0, len(measures), _BATCH)]
    work = partial(_answer_batch, question)
    found: dict[int, NDArray[float64]] = {}
    if executor is None:
        for number, batch in enumerate(batches):
            found[number] = work(batch)
            _tell(progress, len(found), len(batches))
        return np.concatenate([found[number] for number in range(len(batches))])
    waiting = {executor.submit(work, batch): number for number, batch in enumerate(batches)}
    try:
        for done in as_completed(waiting):
            found[waiting[done]] = done.result()
            _tell(progress, len(found), len(batches))
    finally:
        for task in waiting:
            task.cancel()
    return np.concatenate([found[number] for number in range(len(batches))])


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


def ranges_of(share: NDArray[float64]) -> ShareRanges:
    """Return the 5–95 % ranges of shares (draws, 4) of one surface: soaked, moist, rinsed, dry."""
    low, high = np.percentile(share, [5.0, 95.0], axis=0)
    soaked, moist, rinsed, dry = ((float(a), float(b)) for a, b in zip(low, high, strict=True))
    return ShareRanges(soaked, moist, rinsed, dry)


def _answer_batch(question: Question, batch: Sequence[Measures]) -> NDArray[float64]:
    return np.stack([_answer_one(question, measures) for measures in batch])


def _answer_one(question: Question, measures: Measures) -> NDArray[float64]:
    """Return the shares (postures, fillings, 2, 4) in one plausible wound."""
    wound = wound_at(question.wound, measures)
    sheet, frame = lay_flat(wound), frame_of(wound, question.assumptions)
    cavity = build_cavity(sheet, frame, question.spacing_cm, closed=question.assumptions.closed)
    maps = maps_of(question, cavity, sheet, foam_of(question.assumptions, measures))
    found = np.full((len(maps), 2, 4), np.nan)
    for number, reached in enumerate(maps):
        for side, shares in enumerate(shares_of(cavity, reached)):
            if shares is not None:
                found[number, side] = shares.soaked, shares.moist, shares.rinsed, shares.dry
    return found.reshape(len(question.postures), len(question.fillings), 2, 4)


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
