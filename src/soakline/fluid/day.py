"""Soaks one after another: what one cycle leaves for the next, and what a day of postures soaks.

Suction does not empty foam: a share of what each column can hold stays (``draw`` gives it as a range), and columns that
no suction port draws keep all. Both are carried into the next fill.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy import bool_, float64
from numpy.typing import NDArray

from soakline.fluid.capillary import MOIST_HEAD_SHARE, SOAKED_HEAD_SHARE
from soakline.fluid.posture import Posture
from soakline.fluid.spread import Foam, Soak, Spread, lay_foam, needed_head_cm, spread
from soakline.wound.cavity import Cavity

# A cycle repeats once less than this share of the liquid stands elsewhere than at the end of the soak before.
_SAME_SHARE = 0.01
_MOST_CYCLES = 12
# A column that holds less than this says nothing of how old its liquid is.
_HELD_ML = 1e-6

Progress = Callable[[float], None]


@dataclass(frozen=True, slots=True, eq=False)
class Left:
    """What suction leaves: at most ``kept_share`` (0–1) of each column's room, and all in ``undrawn`` columns (n,).

    ``kept_share`` is one for all columns, or (n,).
    """

    kept_share: float | NDArray[float64]
    undrawn: NDArray[bool_]


@dataclass(frozen=True, slots=True, eq=False)
class Cycle:
    """A cycle as often as it must run to repeat: its last soak, and the number of cycles that took.

    ``exchanged_share`` (n,) is the share of each column's liquid that is new in a cycle; 1 where nothing old is held.
    """

    run: Spread
    cycle_count: int
    repeats: bool
    exchanged_share: NDArray[float64]


@dataclass(frozen=True, slots=True)
class TurnInside:
    """A turn inside a soak: how long after the fill begins, and into which posture."""

    after_s: float
    posture: Posture


@dataclass(frozen=True, slots=True)
class Stretch:
    """A part of the day: the posture and how many fills begin in it, and the turns inside each of their soaks."""

    posture: Posture
    fill_count: int
    turns: tuple[TurnInside, ...] = ()

    @property
    def ends_in(self) -> Posture:
        """The posture in which each soak ends."""
        return self.turns[-1].posture if self.turns else self.posture


@dataclass(frozen=True, slots=True, eq=False)
class Day:
    """Minutes in 24 h for which each column's floor and roof are soaked, and at least moist, (n,) each.

    ``exchanged_share`` (n,) is the share of what a column holds in the day's soaks that is new in its cycle; 1 where
    nothing old is held. ``held_ml`` and ``stays_ml`` are what is held at the end of a soak and after suction, on
    average over the fills.
    """

    floor_soaked_min: NDArray[float64]
    floor_moist_min: NDArray[float64]
    roof_soaked_min: NDArray[float64]
    roof_moist_min: NDArray[float64]
    exchanged_share: NDArray[float64]
    held_ml: float
    stays_ml: float


def after_suction(filling_share: NDArray[float64], left: Left) -> NDArray[float64]:
    """Return the filling (n,), 0–1, that suction leaves of ``filling_share`` (n,)."""
    return np.where(left.undrawn, filling_share, np.minimum(filling_share, left.kept_share))


def repeat_cycle(
    cavity: Cavity,
    posture: Posture,
    foam: Foam,
    poured_ml: Sequence[tuple[int, float]],
    soak: Soak,
    left: Left,
    *,
    progress: Progress | None = None,
) -> Cycle:
    """Return the cycle that fill, soak and suction come to when they are repeated in one posture, from dry foam.

    ``progress`` is told the share done (0–1) and may raise to stop.
    """
    laid = lay_foam(cavity, posture.up(), foam)
    before = np.zeros(len(cavity.u_cm))
    run = spread(laid, poured_ml, soak, track_fresh=True)
    for count in range(2, _MOST_CYCLES + 1):
        start = after_suction(run.filling_share, left)
        before, run = run.filling_share, spread(laid, poured_ml, soak, filling_share=start, track_fresh=True)
        if progress is not None:
            progress(count / _MOST_CYCLES)
        if _is_same(run, before):
            return Cycle(run, count, repeats=True, exchanged_share=_exchanged(_held_ml(run), run.fresh_ml))
    return Cycle(run, _MOST_CYCLES, repeats=False, exchanged_share=_exchanged(_held_ml(run), run.fresh_ml))


def soak_day(
    cavity: Cavity,
    stretches: Sequence[Stretch],
    foam: Foam,
    poured_ml: Sequence[tuple[int, float]],
    soak: Soak,
    left_in: Mapping[str, Left],
    *,
    progress: Progress | None = None,
) -> Day:
    """Return how long each patch is soaked in a day of these stretches, in their order, begun after one such day.

    ``left_in`` is what suction leaves in each posture, by its name; it acts in the posture in which the soak ends. Once
    a fill of a stretch ends as the one before, the rest of the stretch counts the same. ``progress`` is told the share
    done (0–1) and may raise to stop.
    """
    filling = np.zeros(len(cavity.u_cm))
    # The first round only brings the foam to what it holds on such a day.
    rounds = [(stretch, counted) for counted in (False, True) for stretch in stretches if stretch.fill_count]
    told = _Told(len(filling))
    for number, (stretch, counted) in enumerate(rounds):
        left, begun, before = left_in[stretch.ends_in.name], 0, None
        while begun < stretch.fill_count:
            runs = _soak(cavity, stretch, foam, poured_ml, soak, filling)
            same = before is not None and _is_same(runs[-1], before)
            count = stretch.fill_count - begun if same else 1
            before, filling = runs[-1].filling_share, after_suction(runs[-1].filling_share, left)
            if counted:
                told.add(runs, filling, count)
            begun += count
        if progress is not None:
            progress((number + 1) / len(rounds))
    return told.day()


def minutes_of(run: Spread) -> tuple[NDArray[float64], NDArray[float64], NDArray[float64], NDArray[float64]]:
    """Return for how many minutes of a run each column's floor is soaked, is moist, and its roof too, (n,) each."""
    lasts_min = np.diff(run.frame_s, prepend=0.0)[:, None] / 60.0
    laid = run.sheet
    found: list[NDArray[float64]] = []
    for low, width in ((laid.floor_low_cm, laid.floor_width_cm), (laid.roof_low_cm, laid.roof_width_cm)):
        for head_share in (SOAKED_HEAD_SHARE, MOIST_HEAD_SHARE):
            over = (run.head_cm - needed_head_cm(laid.foam, head_share) - low) / width
            found.append((np.clip(over, 0.0, 1.0) * lasts_min).sum(axis=0))
    return found[0], found[1], found[2], found[3]


class _Told:
    """Sums over the fills of a day."""

    def __init__(self, count: int) -> None:
        self._minutes = np.zeros((4, count))
        self._held, self._fresh = np.zeros(count), np.zeros(count)
        self._stays_ml, self._fills = 0.0, 0

    def add(self, runs: Sequence[Spread], stays_share: NDArray[float64], fills: int) -> None:
        # Where the patient is turned inside the soak, new and old are told apart at the first turn.
        fresh = runs[0]
        self._minutes += fills * sum(np.stack(minutes_of(run)) for run in runs)
        self._held += fills * _held_ml(fresh)
        self._fresh += fills * fresh.fresh_ml
        self._stays_ml += fills * float(stays_share @ fresh.sheet.full_ml)
        self._fills += fills

    def day(self) -> Day:
        fills = max(self._fills, 1)
        exchanged = _exchanged(self._held, self._fresh)
        floor_soaked, floor_moist, roof_soaked, roof_moist = self._minutes
        held_ml, stays_ml = float(self._held.sum()) / fills, self._stays_ml / fills
        return Day(floor_soaked, floor_moist, roof_soaked, roof_moist, exchanged, held_ml, stays_ml)


def _soak(
    cavity: Cavity,
    stretch: Stretch,
    foam: Foam,
    poured_ml: Sequence[tuple[int, float]],
    soak: Soak,
    filling_share: NDArray[float64],
) -> list[Spread]:
    """Run one fill and soak, in one run for each posture; a turn that falls into the fill waits for its end."""
    begins = [max(turn.after_s, soak.fill_s) for turn in stretch.turns]
    ends = [*begins, soak.fill_s + soak.dwell_s]
    laid = lay_foam(cavity, stretch.posture.up(), foam)
    lasts = Soak(soak.fill_s, ends[0] - soak.fill_s)
    runs = [spread(laid, poured_ml, lasts, filling_share=filling_share, track_fresh=True)]
    for turn, begin, end in zip(stretch.turns, begins, ends[1:], strict=True):
        if end > begin:
            # The turn itself pours nothing: its "fill" is the first moment of what is left.
            lasts = Soak((end - begin) / 24.0, (end - begin) * 23.0 / 24.0)
            laid = lay_foam(cavity, turn.posture.up(), foam)
            runs.append(spread(laid, [], lasts, filling_share=runs[-1].filling_share))
    return runs


def _held_ml(run: Spread) -> NDArray[float64]:
    return run.filling_share * run.sheet.full_ml


def _is_same(run: Spread, before: NDArray[float64]) -> bool:
    """Say whether a soak ends as the one before, in which columns were filled to ``before`` (n,)."""
    moved_ml = float(np.abs(run.filling_share - before) @ run.sheet.full_ml)
    return moved_ml <= _SAME_SHARE * float(_held_ml(run).sum())


def _exchanged(held_ml: NDArray[float64], fresh_ml: NDArray[float64]) -> NDArray[float64]:
    there = held_ml > _HELD_ML
    return np.where(there, np.clip(fresh_ml / np.where(there, held_ml, 1.0), 0.0, 1.0), 1.0)
