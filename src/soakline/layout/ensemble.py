"""What plausible wounds do to reach: the same fillings and postures in every wound and foam that the measures allow."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Executor, as_completed
from dataclasses import dataclass
from functools import lru_cache, partial, reduce

import numpy as np
from numpy import bool_, float64, int32
from numpy.typing import NDArray

from soakline.fluid.basins import basins_of
from soakline.fluid.posture import Posture
from soakline.fluid.reach import Model, ReachMap, ShareRanges, reached_at, settled_map, shares_of, spread_map
from soakline.fluid.rest import room_of
from soakline.fluid.spread import Foam, FoamSheet, Soak, Spread, lay_foam, spread
from soakline.layout.ports import Port, column_of
from soakline.wound.body import frame_of
from soakline.wound.cavity import Cavity, build_cavity
from soakline.wound.measurements import Assumptions, Wound
from soakline.wound.plausible import Measures, foam_at, wound_at
from soakline.wound.sheet import Sheet, lay_flat

Progress = Callable[[float], None]
# Wounds that one task of an executor works through, so that handing over costs little beside the work.
_BATCH = 8
_WOUNDS_KEPT = 32


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
    found: dict[int, _Answers] = {}
    if executor is None:
        for number, batch in enumerate(batches):
            found[number] = work(batch)
            _tell(progress, len(found), len(batches))
        return _over(found)
    waiting = {executor.submit(work, batch): number for number, batch in enumerate(batches)}
    try:
        for done in as_completed(waiting):
            found[waiting[done]] = done.result()
            _tell(progress, len(found), len(batches))
    finally:
        for task in waiting:
            task.cancel()
    return _over(found)


def maps_of(question: Question, cavity: Cavity, sheet: Sheet, foam: Foam) -> list[ReachMap]:
    """Return one map per posture and filling, postures first, on a cavity built from ``sheet``."""
    maps, way = _maps_alike(question, cavity, sheet, foam)
    return [
        maps[number].named(filling.name)
        for in_posture in way
        for number, filling in zip(in_posture, question.fillings, strict=True)
    ]


def answer_at(question: Question, measures: Measures) -> tuple[Cavity, list[ReachMap]]:
    """Return one plausible wound's cavity and its maps, as in ``maps_of``."""
    sheet, cavity = _kept(question.wound, question.assumptions, question.spacing_cm, measures)
    return cavity, maps_of(question, cavity, sheet, foam_of(question.assumptions, measures))


def run_filling(laid: FoamSheet, filling: Filling, port_column: Mapping[Port, int]) -> Spread:
    """Return the run of the spread model for one filling through ports at ``port_column``.

    Raises ValueError when the fill and dwell times are not known.
    """
    if filling.soak is None:
        msg = "the spread model needs the fill and dwell times"
        raise ValueError(msg)
    return spread(laid, [(port_column[port], fill_ml) for port, fill_ml in filling.poured_ml], filling.soak)


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

    def column_in(self, cavity: Cavity) -> NDArray[int32]:
        """Return the column of another wound that lies on each patch, −1 for none."""
        return cavity.columns_at(self.u_cm, self.v_cm, self.in_opening)


@dataclass(frozen=True, slots=True, eq=False)
class _Answers:
    """What some wounds answered, ``wound_share`` as in ``Over``, and how often each of n patches was reached in them.

    Fillings that come to the same are told once: ``way`` (postures, fillings) numbers the k rows of ``times``
    (k, 2, n, 2), how often a patch was soaked and reached; ``there`` (n,) is how many of the wounds have it.
    """

    wound_share: NDArray[float64]
    way: NDArray[int32]
    times: NDArray[float64]
    there: NDArray[float64]


def _over(found: dict[int, _Answers]) -> Over:
    answers = reduce(_add, [found[number] for number in range(len(found))])
    patch_share = answers.times / np.maximum(answers.there, 1.0)[:, None]
    return Over(answers.wound_share, patch_share[answers.way])


def _add(total: _Answers, part: _Answers) -> _Answers:
    """Add what more wounds answered, in place; fillings that come to the same in all of them are summed once."""
    both = np.stack([total.way.ravel(), part.way.ravel()])
    (before, more), way = np.unique(both, axis=1, return_inverse=True)
    # The rows come in the order of those before, and are the same ones unless some must now be told apart.
    times = total.times if len(before) == len(total.times) else total.times[before]
    for number, row in enumerate(more):
        times[number] += part.times[row]
    return _Answers(
        np.concatenate([total.wound_share, part.wound_share]),
        way.reshape(total.way.shape).astype(np.int32),
        times,
        total.there + part.there,
    )


def _answer_batch(question: Question, patches: _Patches, batch: Sequence[Measures]) -> _Answers:
    return reduce(_add, (_answer_one(question, patches, measures) for measures in batch))


def _answer_one(question: Question, patches: _Patches, measures: Measures) -> _Answers:
    sheet, cavity = _drawn(question.wound, question.assumptions, question.spacing_cm, measures)
    maps, way = _maps_alike(question, cavity, sheet, foam_of(question.assumptions, measures))
    column = patches.column_in(cavity)
    share = np.full((len(maps), 2, 4), np.nan)
    for number, found in enumerate(maps):
        for side, told in enumerate(shares_of(cavity, found)):
            if told is not None:
                share[number, side] = told.soaked, told.moist, told.rinsed, told.dry
    times = np.stack([reached_at(found, column) for found in maps])
    return _Answers(share[way][None], way, times, np.greater_equal(column, 0).astype(float64))


def _drawn(wound: Wound, assumptions: Assumptions, spacing_cm: float, measures: Measures) -> tuple[Sheet, Cavity]:
    drawn = wound_at(wound, measures)
    sheet, frame = lay_flat(drawn), frame_of(drawn, assumptions)
    return sheet, build_cavity(sheet, frame, spacing_cm, closed=assumptions.closed)


# A search comes back to the same wounds many times, with few fillings each.
_kept = lru_cache(maxsize=_WOUNDS_KEPT)(_drawn)


def _maps_alike(question: Question, cavity: Cavity, sheet: Sheet, foam: Foam) -> tuple[list[ReachMap], NDArray[int32]]:
    """Return maps that differ, and which of them each filling comes to in each posture, (postures, fillings)."""
    columns = {port: column_of(port, sheet, cavity) for filling in question.fillings for port, _ in filling.poured_ml}
    answer = _settled if question.model == "settled" else _spread
    maps: list[ReachMap] = []
    way = np.empty((len(question.postures), len(question.fillings)), dtype=np.int32)
    for number, posture in enumerate(question.postures):
        found, alike = answer(question, cavity, posture, foam, columns)
        way[number] = np.array(alike, dtype=np.int32) + len(maps)
        maps += found
    return maps, way


def _settled(
    question: Question, cavity: Cavity, posture: Posture, foam: Foam, columns: dict[Port, int]
) -> tuple[list[ReachMap], list[int]]:
    room = room_of(basins_of(cavity, posture.up()), foam)
    # Ports that drain to the same basin give the same answer.
    known: dict[tuple[tuple[int, float], ...], int] = {}
    maps: list[ReachMap] = []
    way: list[int] = []
    for filling in question.fillings:
        poured = tuple((columns[port], fill_ml) for port, fill_ml in filling.poured_ml)
        into = tuple((int(room.basins.leaf[column]), fill_ml) for column, fill_ml in poured)
        if into not in known:
            known[into] = len(maps)
            maps.append(settled_map(room, posture.name, filling.name, poured))
        way.append(known[into])
    return maps, way


def _spread(
    question: Question, cavity: Cavity, posture: Posture, foam: Foam, columns: dict[Port, int]
) -> tuple[list[ReachMap], list[int]]:
    laid = lay_foam(cavity, posture.up(), foam)
    maps: list[ReachMap] = []
    # Ports in one column of a small pocket give the same answer.
    known: dict[tuple[tuple[tuple[int, float], ...], Soak | None], int] = {}
    way: list[int] = []
    for filling in question.fillings:
        asked = tuple((columns[port], fill_ml) for port, fill_ml in filling.poured_ml), filling.soak
        if asked not in known:
            known[asked] = len(maps)
            run = run_filling(laid, filling, columns)
            maps.append(spread_map(run, posture.name, filling.name, filling.fill_ml))
        way.append(known[asked])
    return maps, way


def _tell(progress: Progress | None, done: int, of: int) -> None:
    if progress is not None:
        progress(done / of)
