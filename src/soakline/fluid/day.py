"""Soaks one after another: what one cycle leaves for the next, and what a day of postures soaks.

Suction does not empty foam: a share of what each column can hold stays (``draw`` gives it as a range), and columns that
no suction port draws keep all. Both are carried into the next fill.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy import bool_, float64
from numpy.typing import NDArray

from soakline.fluid.capillary import MOIST_HEAD_SHARE, SOAKED_HEAD_SHARE
from soakline.fluid.posture import Posture
from soakline.fluid.spread import Foam, Soak, Spread, lay_foam, needed_head_cm, spread
from soakline.wound.cavity import Cavity

# Cycles repeat once no column's filling at the end of the soak differs from the cycle before by more than this share.
_SAME_SHARE = 0.01
_MOST_CYCLES = 12

Progress = Callable[[float], None]


@dataclass(frozen=True, slots=True, eq=False)
class Left:
    """What suction leaves: at most ``kept_share`` (0–1) of each column's room, and all in ``undrawn`` columns (n,)."""

    kept_share: float
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
class Stretch:
    """A part of the day: the posture and how many fills begin in it.

    ``turned_to`` is the posture to which the patient is turned half-way through each soak; None stays.
    """

    posture: Posture
    fill_count: int
    turned_to: Posture | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Day:
    """Minutes in 24 h for which each column's floor and roof are soaked, and at least moist, (n,) each."""

    floor_soaked_min: NDArray[float64]
    floor_moist_min: NDArray[float64]
    roof_soaked_min: NDArray[float64]
    roof_moist_min: NDArray[float64]


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
        if float(np.abs(run.filling_share - before).max()) <= _SAME_SHARE:
            return Cycle(run, count, repeats=True, exchanged_share=_exchanged(run))
    return Cycle(run, _MOST_CYCLES, repeats=False, exchanged_share=_exchanged(run))


def soak_day(
    cavity: Cavity,
    stretches: Sequence[Stretch],
    foam: Foam,
    poured_ml: Sequence[tuple[int, float]],
    soak: Soak,
    left: Left,
    *,
    progress: Progress | None = None,
) -> Day:
    """Return how long each patch is soaked in a day of these stretches, in their order, begun after one such day.

    ``progress`` is told the share done (0–1) and may raise to stop.
    """
    filling = np.zeros(len(cavity.u_cm))
    fills = [stretch for stretch in stretches for _ in range(stretch.fill_count)]
    soaked = np.zeros((4, len(filling)))
    # The first round only brings the foam to what it holds on such a day.
    rounds = [(fill, counted) for counted in (False, True) for fill in fills]
    for number, (stretch, counted) in enumerate(rounds):
        runs = _soak(cavity, stretch, foam, poured_ml, soak, filling)
        filling = after_suction(runs[-1].filling_share, left)
        if counted:
            soaked += sum(np.stack(minutes_of(run)) for run in runs)
        if progress is not None:
            progress((number + 1) / len(rounds))
    return Day(*soaked)


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


def _soak(
    cavity: Cavity,
    stretch: Stretch,
    foam: Foam,
    poured_ml: Sequence[tuple[int, float]],
    soak: Soak,
    filling_share: NDArray[float64],
) -> list[Spread]:
    """Run one fill and soak, in two runs when the patient is turned half-way through the dwell."""
    laid = lay_foam(cavity, stretch.posture.up(), foam)
    if stretch.turned_to is None:
        return [spread(laid, poured_ml, soak, filling_share=filling_share)]
    half = soak.dwell_s / 2.0
    first = spread(laid, poured_ml, Soak(soak.fill_s, half), filling_share=filling_share)
    turned = lay_foam(cavity, stretch.turned_to.up(), foam)
    # The turn itself pours nothing: its "fill" is the first moment of what is left of the dwell.
    rest = Soak(half / 24.0, half - half / 24.0)
    return [first, spread(turned, [], rest, filling_share=first.filling_share)]


def _exchanged(run: Spread) -> NDArray[float64]:
    held = run.filling_share * run.sheet.full_ml
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(held > 1e-6, np.clip(run.fresh_ml / held, 0.0, 1.0), 1.0)
