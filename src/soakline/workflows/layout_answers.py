"""What a search for layouts answers; the field names are keys of ``soakline plan --json``."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from soakline.fluid.reach import Shares
from soakline.layout.compare import Gains
from soakline.supplies.stock import Need, Short


@dataclass(frozen=True, slots=True)
class PortAnswer:
    """One port of a layout as people place it; ``foam_outline`` are corners as (hour, cm from the edge)."""

    name: str
    kind: Literal["instillation", "suction"]
    unit: str | None
    clock: float
    from_edge_cm: float
    zone: str
    fill_ml: float | None
    tube: str
    keeps_clear: str
    lying: str
    foam: str
    foam_outline: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class WorstTenth:
    """What is soaked and wetted in all but the worst tenth of plausible wounds, shares of one surface."""

    soaked: float
    wetted: float


@dataclass(frozen=True, slots=True)
class PocketWetted:
    """How much of one pocket's floor liquid reaches at some time, at the likely values."""

    pocket: str
    wetted: float


@dataclass(frozen=True, slots=True)
class LayoutSupplies:
    """What one layout takes against the store in the file: what is short, and the kits at hand that hold parts of it.

    A part that the store does not list is unknown, not short.
    """

    need: tuple[Need, ...]
    short: tuple[Short, ...]
    kits: tuple[str, ...]
    says: str


@dataclass(frozen=True, slots=True)
class LayoutReach:
    """What a layout reaches lying one way, at the likely values and on the plan's own grid; shares of one surface."""

    posture: str
    floor: Shares
    roof: Shares | None


LayoutKind = Literal["searched", "rule of thumb", "at the opening", "in the file"]


@dataclass(frozen=True, slots=True)
class LayoutAnswer:
    """One layout: its ports, what it reaches over all its postures, each with a fresh fill, and how it compares.

    ``floor`` and ``roof`` are at the likely values, ``reach`` the same lying each way, as the plan tells it once the
    layout's ports and fills stand in the file; ``passed_over`` is the share of the bed that the flow from
    instillation to suction ports leaves out, None without suction ports. A tube under kept skin is a deep one.
    ``letter`` names the layout on pages; ``supplies`` is None until it is held against the store.
    """

    letter: str
    kind: LayoutKind
    good_at: tuple[str, ...]
    ports: tuple[PortAnswer, ...]
    postures: tuple[str, ...]
    floor: Shares
    roof: Shares | None
    reach: tuple[LayoutReach, ...]
    worst_tenth: WorstTenth
    roof_worst_tenth: WorstTenth | None
    units_needed: int
    y_connectors_needed: int
    deep_tubes_needed: int
    zone: str
    pockets: tuple[PocketWetted, ...]
    gain_over_rule: Gains | None
    passed_over: float | None
    says: str
    supplies: LayoutSupplies | None = None


@dataclass(frozen=True, slots=True)
class ZoneLeftOut:
    """Zones in which no port was tried, and why."""

    zones: tuple[str, ...]
    why: str


@dataclass(frozen=True, slots=True)
class SearchAnswer:
    """What was searched: over how many plausible wounds and places, what was left out, and in words what came out."""

    wound_count: int
    place_count: int
    left_out: tuple[ZoneLeftOut, ...]
    says: tuple[str, ...]
