"""A case: all that one case file says, as the trade's own dataclasses."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from typing import Literal

from soakline.fluid.posture import Posture
from soakline.guard.anaesthetic import Dose, Patient
from soakline.guard.change import Change
from soakline.guard.foam import Counted, Piece
from soakline.guard.gate import GateAnswers
from soakline.guard.solutions import Dressing
from soakline.layout.ports import Port
from soakline.progress.trend import Earlier
from soakline.supplies.stock import Stored
from soakline.therapy.cycle import Exudate, TherapyUnit
from soakline.therapy.logbook import LogEntry
from soakline.wound.measurements import Assumptions, Wound


@dataclass(frozen=True, slots=True)
class Case:
    """One wound with what is proposed for it.

    ``posture`` empty means none was given; ``wound`` None means no ``[wound]``.
    ``confirmed`` holds the dotted keys whose question a person has answered.
    """

    label: str
    purpose: Literal["care", "teaching"]
    time_zone: str | None
    recorded_at: datetime | None
    confirmed: frozenset[str]
    wound: Wound | None
    port: tuple[Port, ...] = ()
    unit: tuple[TherapyUnit, ...] = ()
    exudate: Exudate = field(default_factory=Exudate)
    posture: tuple[Posture, ...] = ()
    turn_every_min: float | None = None
    log: tuple[LogEntry, ...] = ()
    gate: GateAnswers = field(default_factory=lambda: GateAnswers(answers={}))
    assumptions: Assumptions = field(default_factory=Assumptions)
    store: tuple[Stored, ...] = ()
    patient: Patient = field(default_factory=Patient)
    anaesthetic: tuple[Dose, ...] = ()
    foam: tuple[Piece, ...] = ()
    foam_count: Counted = field(default_factory=Counted)
    dressing: Dressing = field(default_factory=Dressing)
    change: tuple[Change, ...] = ()
    measured: tuple[Earlier, ...] = ()
    content_hash: str = ""
