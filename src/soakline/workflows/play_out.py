"""Playing out: what a trial has soaked by and by, from the first drop of the fill to the end of the dwell."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy import float64, uint8
from numpy.typing import NDArray

from soakline.fluid.frames import DRY, MOIST, SOAKED, frames_of
from soakline.fluid.reach import say_share
from soakline.fluid.spread import lay_foam, spread
from soakline.layout.ports import column_of
from soakline.workflows.try_out import Ground, Trial, question_of
from soakline.wound.cavity import Cavity


@dataclass(frozen=True, slots=True, eq=False)
class Played:
    """Moments of a fill and its dwell: each in words (frames,), and the state of floor and roof, (frames, n, 2)."""

    says: tuple[str, ...]
    state: NDArray[uint8]


def play_out(ground: Ground, trial: Trial) -> Played:
    """Return a trial's moments by the spread model, the dry start first; refuses as ``try_out`` does."""
    filling = question_of(ground, replace(trial, model="spread")).fillings[0]
    soak = filling.soak
    if soak is None:
        msg = "a trial of the spread model has its times"
        raise ValueError(msg)
    sheet = lay_foam(ground.cavity, trial.posture.up(), ground.foam)
    poured = [(column_of(port, ground.sheet, ground.cavity), ml) for port, ml in filling.poured_ml]
    run = frames_of(spread(sheet, poured, soak))
    reached = np.stack([run.floor_index, run.roof_index], axis=2)
    state = np.concatenate([np.full_like(reached[:1], DRY), reached])
    moments = [say_moment(float(now), soak.fill_s) for now in (0.0, *run.moment_s)]
    says = tuple(f"{when}: {_say_state(ground.cavity, now)}" for when, now in zip(moments, state, strict=True))
    return Played(says, state)


def say_moment(now_s: float, fill_s: float) -> str:
    """Say a moment as its phase and the time since that phase began.

    >>> say_moment(70.0, 120.0), say_moment(360.0, 120.0)
    ('fill, 1 min 10 s', 'dwell, 4 min')
    """
    phase, since = ("fill", now_s) if now_s <= fill_s + 1e-9 else ("dwell", now_s - fill_s)
    minutes, seconds = divmod(round(since), 60)
    parts = [f"{minutes} min"] if minutes else []
    parts += [f"{seconds} s"] if seconds or not minutes else []
    return f"{phase}, {' '.join(parts)}"


def _say_state(cavity: Cavity, state: NDArray[uint8]) -> str:
    surfaces = [("floor", cavity.floor_cm2, state[:, 0])]
    if cavity.roof_cm2.sum() > 0.0:
        surfaces.append(("roof", cavity.roof_cm2, state[:, 1]))
    said = [
        f"{name} soaked {_say(area, now == SOAKED)}, moist {_say(area, now == MOIST)}" for name, area, now in surfaces
    ]
    return "; ".join(said)


def _say(area: NDArray[float64], chosen: NDArray[np.bool_]) -> str:
    return say_share(float(area[chosen].sum() / area.sum()))
