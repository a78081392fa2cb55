"""What a plan answers; the field names of the dataclasses down to ``Plan`` are the keys of ``soakline plan --json``."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from soakline.errors import Finding
from soakline.fluid.reach import Model, ReachCurve, ReachMap, ShareRanges, Shares
from soakline.guard.gate import GateState
from soakline.layout.ports import Port
from soakline.units import Extremes, Range, Sum
from soakline.wound.cavity import Cavity
from soakline.wound.sheet import Sheet


@dataclass(frozen=True, slots=True)
class Driver:
    """A measure that drives the doubt of the volume, and its share (0–1) of the variance."""

    what: str
    share: float


@dataclass(frozen=True, slots=True)
class WoundAnswer:
    """How big it really is. None where the wound is too little known; ``void_ml`` is geometric."""

    opening_cm2: float | None
    length_x_width_cm2: float | None
    pocket_cm2: float | None
    bed_cm2: float | None
    bed_to_opening: float | None
    void_ml: Range | Extremes | None
    capacity_ml: Range | Extremes | None
    pocket_side: str | None
    void_basis: Literal["5–95 % over plausible wounds", "extremes"] | None
    sums: tuple[Sum, ...]
    driven_by: tuple[Driver, ...]


@dataclass(frozen=True, slots=True)
class ReachAnswer:
    """How much of floor and roof a fill soaks in one posture, as shares of real area, at the likely values.

    ``roof`` is None where no skin is kept over a pocket. The ranges are 5–95 % over plausible wounds.
    """

    posture: str
    model: Model
    fill_ml: float
    port: str
    floor: Shares
    roof: Shares | None
    floor_range: ShareRanges | None
    roof_range: ShareRanges | None
    says: str


@dataclass(frozen=True, slots=True)
class FillAnswer:
    """What speaks about the fill volume; ``lifts_drape_from`` in mL is the low estimate of the void."""

    lifts_drape_from: float
    says: str


@dataclass(frozen=True, slots=True)
class Measurement:
    """A measurement to take next, and in words what it would settle."""

    what: str
    narrows_by: str


@dataclass(frozen=True, slots=True)
class CanisterWindow:
    """When the canister reaches its planned share: local times at likely, high and low exudate."""

    due: datetime
    earliest: datetime
    latest: datetime


@dataclass(frozen=True, slots=True)
class BagWindow:
    """How many whole cycles the bag gives, when it first falls short, and by how many mL."""

    whole_cycles: int
    short_at: datetime
    short_ml: float


@dataclass(frozen=True, slots=True)
class UnitAnswer:
    """How one therapy unit runs; None where a setting it needs was not given."""

    name: str
    period_min: float | None
    cycles_per_day: float | None
    solution_ml_per_day: float | None
    canister: CanisterWindow | None
    bag: BagWindow | None
    sums: tuple[Sum, ...]


@dataclass(frozen=True, slots=True)
class TherapyAnswer:
    """How the units run."""

    units: tuple[UnitAnswer, ...]


@dataclass(frozen=True, slots=True)
class Picture:
    """What the pictures draw from; not part of the JSON.

    ``maps`` holds one reach map per row of ``reach``, in its order; ``curves`` one per posture and port. Each model's
    maps lie on the columns of its own cavity.
    """

    sheet: Sheet
    cavities: dict[Model, Cavity]
    ports: tuple[Port, ...]
    maps: tuple[ReachMap, ...]
    curves: tuple[ReachCurve, ...]


@dataclass(frozen=True, slots=True)
class Plan:
    """The whole answer to one case. A shut gate leaves findings and gate alone."""

    label: str
    purpose: Literal["care", "teaching"]
    findings: tuple[Finding, ...]
    gate: GateState
    wound: WoundAnswer | None
    reach: tuple[ReachAnswer, ...]
    fill_ml: FillAnswer | None
    next_measurement: tuple[Measurement, ...]
    therapy: TherapyAnswer | None
    not_considered: tuple[str, ...]
    picture: Picture | None
