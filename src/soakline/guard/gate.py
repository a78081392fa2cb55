"""The gate: contraindications that stop a plan until a named role has answered for each."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

Answer = Literal["yes", "no", "unknown"]


@dataclass(frozen=True, slots=True)
class AnsweredStop:
    """A stop that a named role took upon itself, with a reason and a time."""

    stop: str
    by_role: str
    reason: str
    at: datetime


@dataclass(frozen=True, slots=True)
class GateAnswers:
    """What was answered: one answer per stop or caution key (an absent key is unknown), and the stops answered for."""

    answers: dict[str, Answer]
    answered: tuple[AnsweredStop, ...] = ()


@dataclass(frozen=True, slots=True)
class Stop:
    """One contraindication as it stands: its key, in words, the answer given, and who answered for it, if anybody."""

    key: str
    says: str
    answer: Answer
    source: str
    by_role: str | None = None
    reason: str | None = None
    at: datetime | None = None


@dataclass(frozen=True, slots=True)
class Caution:
    """One risk factor that is yes or unknown: its key, in words, and the answer given."""

    key: str
    says: str
    answer: Answer
    source: str


@dataclass(frozen=True, slots=True)
class GateState:
    """The gate: open or shut, the stops that are not "no" (answered ones included), and the cautions that are not "no"."""

    state: Literal["open", "shut"]
    stops: tuple[Stop, ...]
    cautions: tuple[Caution, ...]
