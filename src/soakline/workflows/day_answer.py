"""What a whole day of fill, soak and suction answers; the field names are the keys of ``day`` in the JSON."""

from __future__ import annotations

from dataclasses import dataclass

from numpy import float64
from numpy.typing import NDArray

from soakline.units import Extremes


@dataclass(frozen=True, slots=True)
class DayTurn:
    """A turn inside a soak: how long after the fill begins, and into which posture."""

    after_min: float
    posture: str


@dataclass(frozen=True, slots=True)
class DayStretch:
    """A part of the day: the posture, how many fills begin in it, and the turns inside each of their soaks."""

    posture: str
    fills: int
    turns: tuple[DayTurn, ...]


@dataclass(frozen=True, slots=True)
class DayZone:
    """What a day does to one zone: minutes soaked and at least moist, and which share of its liquid a cycle renews.

    Each as the two ends of what suction may leave, a mean over the zone; the roof is None where no skin is kept.
    """

    zone: str
    floor_soaked_min: Extremes
    floor_moist_min: Extremes
    roof_soaked_min: Extremes | None
    roof_moist_min: Extremes | None
    new_share: Extremes


@dataclass(frozen=True, slots=True, eq=False)
class DayMap:
    """What the pictures draw of a day, on the columns of the spread model; not part of the JSON.

    Each (2, n): with the least that suction may leave, and with the most.
    """

    floor_soaked_min: NDArray[float64]
    roof_soaked_min: NDArray[float64]
    exchanged_share: NDArray[float64]


@dataclass(frozen=True, slots=True)
class DayAnswer:
    """A whole day of fill, soak and suction, begun after one such day; ``exploratory`` says what it rests on.

    ``stays_ml`` and ``stays_share`` are what suction leaves of what is held, on average over the fills.
    """

    fill_ml: float
    port: str
    stretches: tuple[DayStretch, ...]
    stays_ml: Extremes
    stays_share: Extremes
    zones: tuple[DayZone, ...]
    says: tuple[str, ...]
    exploratory: str
    map: DayMap
