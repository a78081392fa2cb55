"""A run of the spread model moment by moment, and the suction after it: what each floor and roof is at each moment."""

from __future__ import annotations

import numpy as np
from numpy import bool_, float64, uint8
from numpy.typing import NDArray

from soakline.fluid.capillary import MOIST_HEAD_SHARE, SOAKED_HEAD_SHARE, head_at
from soakline.fluid.draw import Drawn, slowest
from soakline.fluid.left_behind import room_ml
from soakline.fluid.spread import FoamSheet, Spread, needed_head_cm

DRY, MOIST, SOAKED = range(3)
# Suction is shown in so many moments, each of which draws as much.
SUCTION_FRAMES = 8


def states_of(laid: FoamSheet, head_cm: NDArray[float64]) -> tuple[NDArray[uint8], NDArray[uint8]]:
    """Return the state of floor and roof at heads in cm, (moments, n) each.

    ``DRY``, ``MOIST`` (saturation above 0.3) or ``SOAKED`` (above 0.9), each for at least half of the column's surface.
    """
    floor = _states(laid, head_cm, laid.floor_low_cm + laid.floor_width_cm / 2.0)
    return floor, _states(laid, head_cm, laid.roof_low_cm + laid.roof_width_cm / 2.0)


def in_suction(run: Spread, drawn: Drawn, up: NDArray[float64]) -> tuple[NDArray[float64], NDArray[bool_]]:
    """Return heads in cm while suction draws what a run left, and from which columns it has drawn, (moments, n) each.

    Each moment draws an equal share. A column keeps its head until its liquid has come to a port, in the order in which
    liquid comes there; then its head is the highest that suction may leave (see ``room_ml``). Exploratory. ``up`` (3,)
    is a unit vector against gravity.
    """
    laid = run.sheet
    most_share = np.minimum(room_ml(drawn, up)[1] / laid.full_ml, run.filling_share)
    # What a column keeps is told by the saturation at its middle.
    kept_cm = laid.foot_cm + laid.extent_cm / 2.0 + head_at(most_share, laid.foam.capillary_height_cm)
    still = [drawn.undrawn | slowest(drawn, 1.0 - (k + 1) / SUCTION_FRAMES) for k in range(SUCTION_FRAMES)]
    gone = ~np.stack(still) & (run.filling_share > 0.0)
    return np.where(gone, np.minimum(run.head_cm[-1], kept_cm), run.head_cm[-1]), gone


def _states(laid: FoamSheet, head_cm: NDArray[float64], middle_cm: NDArray[float64]) -> NDArray[uint8]:
    moist, soaked = (
        head_cm >= middle_cm + needed_head_cm(laid.foam, share) for share in (MOIST_HEAD_SHARE, SOAKED_HEAD_SHARE)
    )
    return np.where(soaked, SOAKED, np.where(moist, MOIST, DRY)).astype(uint8)
