"""Turning merged with the fills: pressure relief always wins, and each soak is said with the side it is lain on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise

import numpy as np
from numpy import float64
from numpy.typing import NDArray

from soakline.therapy.clock import elapsed_min, later


@dataclass(frozen=True, slots=True)
class Turning:
    """The pressure-relief order: which postures in which order, and how long one may be lain in at most, in minutes.

    ``now`` is the posture lain in since ``since``; None is not given.
    """

    postures: tuple[str, ...]
    every_min: float | None
    now: str | None = None
    since: datetime | None = None


@dataclass(frozen=True, slots=True)
class Fill:
    """One fill of a unit, by name: when it starts, and how long its dwell is."""

    unit: str
    at: datetime
    dwell_min: float


@dataclass(frozen=True, slots=True)
class Turn:
    """One turn: when, and into which posture. ``relief`` says that no fill was near enough to turn with it."""

    at: datetime
    posture: str
    relief: bool


@dataclass(frozen=True, slots=True)
class Lain:
    """One soak and the posture it is lain in."""

    unit: str
    at: datetime
    posture: str
    dwell_min: float


@dataclass(frozen=True, slots=True)
class TurnPlan:
    """The turns and the soaks of a time, each in its order."""

    turns: tuple[Turn, ...]
    soaks: tuple[Lain, ...]


def plan_turns(turning: Turning, fills: Sequence[Fill], begin: datetime, end: datetime) -> TurnPlan | None:
    """Return turns from ``begin`` to ``end``, merged with the fills.

    None without an order or how often.

    A turn falls on the start of a fill where one comes before the longest time in a posture is over, and that time ends
    before the next; else it falls when the time is over. It is never later than that, whatever soaks.

    >>> from datetime import timedelta
    >>> from zoneinfo import ZoneInfo
    >>> start = datetime(2026, 11, 20, 19, tzinfo=ZoneInfo("Europe/Oslo"))
    >>> fills = [Fill("A", start + timedelta(hours=3 * k), 10.0) for k in range(3)]
    >>> order = Turning(("supine", "left 30"), 240.0, "supine", start)
    >>> plan = plan_turns(order, fills, start, start + timedelta(hours=8))
    >>> [(f"{turn.at:%H:%M}", turn.posture, turn.relief) for turn in plan.turns]
    [('22:00', 'left 30', False), ('01:00', 'supine', False)]
    """
    if turning.every_min is None or not turning.postures:
        return None
    order = turning.postures
    lying = turning.now if turning.now in order else order[0]
    since = turning.since if turning.since is not None and turning.now in order else begin
    turns: list[Turn] = []
    soaks: list[Lain] = []
    for fill, following in pairwise((*fills, None, None)):
        at = end if fill is None else fill.at
        while elapsed_min(since, at) > turning.every_min:
            due = max(later(since, turning.every_min), begin, key=lambda m: elapsed_min(begin, m))
            lying, since = _next(order, lying), due
            if elapsed_min(due, end) > 0:
                turns.append(Turn(due, lying, relief=True))
        if fill is None:
            break
        until = end if following is None else following.at
        # It would fall due before the next fill, or in this soak: turn now, with the fill.
        if elapsed_min(since, until) > turning.every_min and len(order) > 1 and elapsed_min(since, at) > 0:
            lying, since = _next(order, lying), at
            turns.append(Turn(at, lying, relief=False))
        soaks.append(Lain(fill.unit, at, lying, fill.dwell_min))
    return TurnPlan(tuple(turns), tuple(soaks))


def soaked_min(soaks: Sequence[Lain], share: Mapping[tuple[str, str], NDArray[float64]]) -> NDArray[float64] | None:
    """Return for how many minutes each patch (n,) is soaked by these soaks; None where a soak's reach is not known.

    ``share`` (n,), 0–1, is how much of each patch one fill of a unit in a posture, by (unit, posture), soaks.
    """
    if not soaks or any((lain.unit, lain.posture) not in share for lain in soaks):
        return None
    return np.sum([lain.dwell_min * share[lain.unit, lain.posture] for lain in soaks], axis=0)


def longest_min(plan: TurnPlan, begin: datetime, end: datetime) -> float:
    """Return the longest time in one posture within ``begin`` to ``end``, in minutes."""
    marks = [begin, *(turn.at for turn in plan.turns), end]
    return float(max(elapsed_min(a, b) for a, b in pairwise(marks)))


def _next(order: Sequence[str], lying: str) -> str:
    return order[(order.index(lying) + 1) % len(order)]
