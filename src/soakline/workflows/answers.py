"""What a plan answers; the field names of the dataclasses down to ``Plan`` are the keys of ``soakline plan --json``."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from soakline.errors import Finding
from soakline.fluid.reach import Model, ReachMap, ShareRanges, Shares
from soakline.fluid.validity import Validity
from soakline.guard.anaesthetic import Allowance
from soakline.guard.foam import Happened, Reconciled
from soakline.guard.gate import GateState
from soakline.guard.solutions import Meeting
from soakline.layout.ensemble import Question
from soakline.layout.ports import Port
from soakline.progress.trend import Change
from soakline.supplies.cutting import CutList
from soakline.supplies.order import Bought, Order
from soakline.supplies.stock import Need, Short
from soakline.therapy.balance import DayBalance
from soakline.therapy.clock_table import Shift
from soakline.therapy.off_time import OffTime
from soakline.units import Extremes, Range, Sum
from soakline.workflows.day_answer import DayAnswer
from soakline.workflows.layout_answers import LayoutAnswer, SearchAnswer
from soakline.wound.cavity import Cavity
from soakline.wound.sheet import Sheet


@dataclass(frozen=True, slots=True)
class Driver:
    """A measure that drives the doubt of the volume, and its share (0–1) of the variance."""

    what: str
    share: float


@dataclass(frozen=True, slots=True)
class WoundAnswer:
    """How big it really is. None where the wound is too little known; ``void_ml`` is geometric.

    ``not_probed`` are the whole hours of which nothing is written: all is worked out as if nothing were found there.
    """

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
    not_probed: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class SealAnswer:
    """How liquid stands against the seal, the opening's edge at the skin: in cm above it, negative below.

    ``clock`` is the hour at which it stands highest, None where that is all round; ``over_by_hour_cm`` goes from 12
    through 1 to 11 o'clock, None where no liquid stands that would come there.
    """

    clock: float | None
    over_cm: float
    over_by_hour_cm: tuple[float | None, ...]


@dataclass(frozen=True, slots=True)
class GasAnswer:
    """The most gas that cannot leave, as a share (0–1) of the void and in mL, and in words which vent was assumed."""

    void_share: float
    held_ml: float
    vent: str


@dataclass(frozen=True, slots=True)
class ValidityAnswer(Validity):
    """Which model may be believed for the liquid of one port, or of several filled together."""

    port: str


@dataclass(frozen=True, slots=True)
class ReachAnswer:
    """How much of floor and roof a fill soaks in one posture, as shares of real area, at the likely values.

    ``roof`` is None where no skin is kept over a pocket. The ranges are 5–95 % over plausible wounds. ``seal`` and
    ``gas`` are told by the settled model alone; ``seal`` is None too where no liquid stands under the opening, ``gas``
    where nothing is open.
    """

    posture: str
    model: Model
    fill_ml: float
    port: str
    floor: Shares
    roof: Shares | None
    floor_range: ShareRanges | None
    roof_range: ShareRanges | None
    seal: SealAnswer | None
    gas: GasAnswer | None
    says: str


@dataclass(frozen=True, slots=True)
class AboveSeal:
    """A posture in which liquid comes to stand above the seal, from which fill on in mL, and in words."""

    posture: str
    from_ml: Range
    says: str


@dataclass(frozen=True, slots=True)
class FillAnswer:
    """What speaks about the fill volume, in mL; ``lifts_drape_from`` is the low estimate of the void.

    ``useful_from`` to ``useful_to`` is where reach stops growing, over plausible wounds; None with the reason in
    ``why``.
    """

    useful_from: float | None
    useful_to: float | None
    lifts_drape_from: float
    above_seal: tuple[AboveSeal, ...]
    says: str
    why: tuple[str, ...]
    sums: tuple[Sum, ...]


@dataclass(frozen=True, slots=True)
class PostureAdds:
    """What one posture adds to those before it, in words, as shares of floor and of roof (None: no kept skin)."""

    posture: str
    floor: Range
    roof: Range | None
    needed: bool
    says: str


@dataclass(frozen=True, slots=True)
class TurningAnswer:
    """Which allowed postures it takes, for one fill: the fewest for floor, for roof and for both.

    ``adds`` holds every allowed posture, the one that adds most first. ``floor_left`` and ``roof_left`` are the shares
    that no allowed posture soaks, with the places in words.
    """

    fill_ml: float
    port: str
    for_floor: tuple[str, ...]
    for_roof: tuple[str, ...]
    for_both: tuple[str, ...]
    adds: tuple[PostureAdds, ...]
    floor_left: Range
    roof_left: Range | None
    floor_left_where: tuple[str, ...]
    roof_left_where: tuple[str, ...]
    says: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SuctionPortAnswer:
    """One suction port and the share of all liquid that it draws."""

    port: str
    draws: float


@dataclass(frozen=True, slots=True)
class SuctionAnswer:
    """The suction side of the ports in the file, exploratory: shares by port, and in words what is amiss."""

    ports: tuple[SuctionPortAnswer, ...]
    short_circuits: tuple[str, ...]
    pockets: tuple[str, ...]
    if_blocked: tuple[str, ...]
    says: str


@dataclass(frozen=True, slots=True)
class PocketAnswer:
    """What a layout does to one pocket: whether a port instils into it, and what stays dry, as shares and in words.

    A share is None where it was not worked out, or no skin is kept.
    """

    pocket: str
    has_port: bool
    floor_dry: float | None
    roof_dry: float | None
    says: str


@dataclass(frozen=True, slots=True)
class LeftAnswer:
    """One layout that is left with fewer units: its ports, and what it does to each pocket."""

    ports: tuple[str, ...]
    pockets: tuple[PocketAnswer, ...]
    says: str


@dataclass(frozen=True, slots=True)
class PossibleAnswer:
    """What can be placed with so many units: how many ports of each kind, and the layouts that are left."""

    units: int
    instillation_ports: int
    suction_ports: int
    left: tuple[LeftAnswer, ...]
    says: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class CutAnswer:
    """How the wound's foam lies on the sheets of one kind in the store."""

    kind: str
    cuts: CutList


@dataclass(frozen=True, slots=True)
class SuppliesAnswer:
    """What the layout takes against what is at hand; ``possible`` None where nothing is short.

    ``need`` and ``short`` are for one dressing, ``stay`` for all that are to come, None where nobody said how many;
    ``buy`` and ``order`` are for the stay where it is known. ``one_unit_fewer`` says what one unit less loses, where
    the layout takes more than one. ``cuts`` is by kind of foam sheet whose size is written; ``order_by`` is the last
    time to order for the next change, None where one is unknown.
    """

    need: tuple[Need, ...]
    short: tuple[Short, ...]
    stay: tuple[Need, ...] | None
    buy: tuple[Bought, ...]
    order: Order | None
    kits: tuple[str, ...]
    possible: PossibleAnswer | None
    one_unit_fewer: PossibleAnswer | None
    cuts: tuple[CutAnswer, ...]
    says: tuple[str, ...]
    order_by: datetime | None = None


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
class DrawnOn:
    """What is left of a unit's soak when its neighbour draws on it: shares 0–1 of the floor, exploratory.

    ``floor_soaked`` is least where the neighbour draws to the end, most where it hardly drew; ``floor_moist_most`` is
    the most that may stay moist or more once it drew to the end.
    """

    draws: str
    soaks: str
    posture: str
    floor_soaked: Extremes
    floor_moist_most: float
    says: str


@dataclass(frozen=True, slots=True)
class InStepAnswer:
    """How the no-suction times (fill and dwell) of the units lie over each other, from when the last of them was begun.

    ``shared_cavity`` None is not known. None of a time is never, as far as was looked.
    """

    names: tuple[str, ...]
    shared_cavity: bool | None
    first_day_overlap_min: float
    first_day_dwell_min: float
    next_overlap_min: float | None
    next_overlap_lasts_min: float | None
    coincide_every_min: float | None
    drawn_on: tuple[DrawnOn, ...]
    says: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PostureInSoak:
    """One fill of a unit, and the posture that it is lain in."""

    unit: str
    at: datetime
    posture: str


@dataclass(frozen=True, slots=True)
class NextDay:
    """The 24 h after the last entry of the log: shift by shift, the posture of each soak, and what stands beside it."""

    begins: datetime
    ends: datetime
    shifts: tuple[Shift, ...]
    soaks: tuple[PostureInSoak, ...]
    says: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class TherapyAnswer:
    """How the units run: each alone, in step with each other, over the next day, and how long each was off."""

    units: tuple[UnitAnswer, ...]
    in_step: InStepAnswer | None = None
    next_day: NextDay | None = None
    soaked_says: tuple[str, ...] = ()
    off_time: tuple[OffTime, ...] = ()


@dataclass(frozen=True, slots=True)
class Picture:
    """What the pictures draw from; not part of the JSON.

    ``maps`` holds one reach map per row of ``reach``, in its order. Each model's maps lie on the columns of its own
    cavity. ``question`` is what was looked at, so that a row can be looked at again (``one_row``); None for nothing.
    """

    sheet: Sheet
    cavities: dict[Model, Cavity]
    ports: tuple[Port, ...]
    maps: tuple[ReachMap, ...]
    question: Question | None = None


@dataclass(frozen=True, slots=True)
class FoamAnswer(Reconciled):
    """How the ledger stands, the text for the label on the drape, and what happened to each piece over all changes."""

    label: str
    history: tuple[Happened, ...]


@dataclass(frozen=True, slots=True)
class SolutionsAnswer:
    """Each pair that meets in the wound, by the formulary whose version and sign-off stand beside."""

    formulary: str
    meetings: tuple[Meeting, ...]


@dataclass(frozen=True, slots=True)
class Plan:
    """The whole answer to one case. A shut gate leaves findings and gate alone."""

    label: str
    purpose: Literal["care", "teaching"]
    findings: tuple[Finding, ...]
    gate: GateState
    wound: WoundAnswer | None
    reach: tuple[ReachAnswer, ...]
    validity: tuple[ValidityAnswer, ...]
    fill_ml: FillAnswer | None
    layouts: tuple[LayoutAnswer, ...]
    search: SearchAnswer | None
    next_measurement: tuple[Measurement, ...]
    therapy: TherapyAnswer | None
    balance: tuple[DayBalance, ...]
    progress: tuple[Change, ...]
    turning: TurningAnswer | None
    suction: SuctionAnswer | None
    day: DayAnswer | None
    solutions: SolutionsAnswer | None
    anaesthetic: Allowance | None
    foam: FoamAnswer | None
    supplies: SuppliesAnswer | None
    not_considered: tuple[str, ...]
    if_it_alarms: tuple[str, ...]
    picture: Picture | None
