"""A run of the spread model moment by moment: what each floor and roof is at each, and when liquid first came."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy import float64, uint8
from numpy.typing import NDArray

from soakline.fluid.capillary import MOIST_HEAD_SHARE, SOAKED_HEAD_SHARE
from soakline.fluid.spread import Spread, needed_head_cm

DRY, MOIST, SOAKED = range(3)


@dataclass(frozen=True, slots=True, eq=False)
class Frames:
    """What stands where at each of k moments, over n columns.

    ``moment_s`` (k,) counts from the start of the fill, which ends at ``filled_s``. ``floor_index`` and ``roof_index``
    (k, n) are ``DRY``, ``MOIST`` (saturation above 0.3 at that moment) or ``SOAKED`` (above 0.9), each for at least
    half of the column's surface. ``arrival_s`` (n,) is when the floor was first moist, infinity where never;
    ``through_ml`` (n,) what flowed through.
    """

    moment_s: NDArray[float64]
    filled_s: float
    floor_index: NDArray[uint8]
    roof_index: NDArray[uint8]
    arrival_s: NDArray[float64]
    through_ml: NDArray[float64]


def frames_of(run: Spread) -> Frames:
    """Return a run moment by moment; times in s, volumes in mL."""
    laid = run.sheet
    floor = _states(run, laid.floor_low_cm + laid.floor_width_cm / 2.0)
    roof = _states(run, laid.roof_low_cm + laid.roof_width_cm / 2.0)
    filled_s = float(run.frame_s[-run.dwell_frame_count - 1])
    return Frames(run.frame_s, filled_s, floor, roof, run.arrival_s, run.through_ml)


def _states(run: Spread, middle_cm: NDArray[float64]) -> NDArray[uint8]:
    foam = run.sheet.foam
    moist, soaked = (
        run.head_cm >= middle_cm + needed_head_cm(foam, share) for share in (MOIST_HEAD_SHARE, SOAKED_HEAD_SHARE)
    )
    return np.where(soaked, SOAKED, np.where(moist, MOIST, DRY)).astype(uint8)
