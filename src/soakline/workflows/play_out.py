"""Playing out: what a trial has soaked by and by, from the first drop of the fill to the last of the suction."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy import bool_, float64, uint8
from numpy.typing import NDArray

from soakline.fluid.capillary import MOIST_HEAD_SHARE, SOAKED_HEAD_SHARE
from soakline.fluid.draw import draw, hold
from soakline.fluid.frames import MOIST, SOAKED, SUCTION_FRAMES, in_suction, states_of
from soakline.fluid.reach import say_share
from soakline.fluid.spread import Spread, lay_foam, needed_head_cm, spread
from soakline.fluid.suction_sheet import lay_suction
from soakline.layout.ports import Port, column_of
from soakline.workflows.try_out import Ground, Trial, question_of
from soakline.wound.cavity import Cavity


@dataclass(frozen=True, slots=True, eq=False)
class Played:
    """Moments of a fill, its dwell and the suction after it.

    Each in words (moments,), the state of floor and roof, (moments, n, 2), and the head of each column, (moments, n) in
    cm against gravity; a surface is moist, or soaked, where the head lies ``needed_cm`` (moist, soaked) above it. Where
    suction has drawn, ``gone`` (moments, n), what may stay counts as moist at most.
    """

    says: tuple[str, ...]
    state: NDArray[uint8]
    head_cm: NDArray[float64]
    needed_cm: tuple[float, float]
    gone: NDArray[bool_]


def play_out(ground: Ground, trial: Trial) -> Played:
    """Return a trial's moments by the spread model, the dry start first; refuses as ``try_out`` does.

    Suction is played where the trial has suction ports.
    """
    filling = question_of(ground, replace(trial, model="spread")).fillings[0]
    soak = filling.soak
    if soak is None:
        msg = "a trial of the spread model has its times"
        raise ValueError(msg)
    up = trial.posture.up()
    laid = lay_foam(ground.cavity, up, ground.foam)
    run = spread(laid, [(_column(ground, port), ml) for port, ml in filling.poured_ml], soak)
    heads = np.concatenate([np.full_like(run.head_cm[:1], -np.inf), run.head_cm])
    gone = np.zeros(heads.shape, dtype=np.bool_)
    moments = [say_moment(float(now), soak.fill_s) for now in (0.0, *run.frame_s)]
    suction = _suction(ground, trial, run, up)
    if suction is not None:
        heads, gone = np.concatenate([heads, suction[0]]), np.concatenate([gone, suction[1]])
        moments += [f"suction, {say_share((k + 1) / SUCTION_FRAMES)} drawn" for k in range(SUCTION_FRAMES)]
    state = np.stack(states_of(laid, heads), axis=2)
    state = np.where(gone[:, :, None], np.minimum(state, MOIST), state)
    says = tuple(f"{when}: {_say_state(ground.cavity, now)}" for when, now in zip(moments, state, strict=True))
    moist, soaked = (needed_head_cm(ground.foam, share) for share in (MOIST_HEAD_SHARE, SOAKED_HEAD_SHARE))
    return Played(says, state, heads, (moist, soaked), gone)


def _suction(
    ground: Ground, trial: Trial, run: Spread, up: NDArray[float64]
) -> tuple[NDArray[float64], NDArray[bool_]] | None:
    columns = [_column(ground, port) for port in trial.ports if port.kind == "suction"]
    held_ml = run.filling_share * run.sheet.full_ml
    if not columns or not held_ml.any():
        return None
    return in_suction(run, draw(hold(lay_suction(ground.cavity, columns), held_ml), columns), up)


def _column(ground: Ground, port: Port) -> int:
    return column_of(port, ground.sheet, ground.cavity)


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
