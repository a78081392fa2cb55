"""One therapy unit's cycle: fill, dwell, suction, around the clock."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from soakline.units import Range


@dataclass(frozen=True, slots=True)
class Exudate:
    """What the wound gives of itself, in mL an hour."""

    ml_per_h: float | Range | None = None


@dataclass(frozen=True, slots=True)
class TherapyUnit:
    """One unit as charted: what it fills, for how long each phase runs, what hangs on it. None is "not given".

    ``started_at`` is local wall-clock time in the case's time zone.
    """

    name: str
    solution: str | None = None
    fill_ml: float | None = None
    ordered_fill_ml: float | None = None
    fill_min: float | None = None
    dwell_min: float | None = None
    suction_min: float | None = None
    pressure_mmhg: float | None = None
    canister_ml: float | None = None
    bag_ml: float | None = None
    priming_ml: float | None = None
    started_at: datetime | None = None
    exudate: Exudate | None = None
