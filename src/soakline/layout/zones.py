"""Where on the hidden surface something lies, as people name places: which pocket, which hour, which third of it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy import bool_, float64, int32
from numpy.typing import NDArray

from soakline.wound.cavity import IN_A_TUNNEL, Cavity
from soakline.wound.clock import clock_of, say_clock
from soakline.wound.sheet import DIRECTIONS, STEP_DEG, Sheet
from soakline.wound.volume import pocket_arcs

THIRDS = ("nearest third", "middle third", "deepest third")
# A zone is named when at least this share of its area is meant.
_NAMED_SHARE = 0.5


@dataclass(frozen=True, slots=True)
class Pocket:
    """One pocket off the opening: the hours from which to which it runs, clockwise; from = to is all round."""

    from_clock: float
    to_clock: float

    @property
    def says(self) -> str:
        """The pocket in words.

        >>> Pocket(2.0, 5.0).says
        "the pocket from 2 to 5 o'clock"
        """
        if self.from_clock == self.to_clock:
            return "the pocket all round"
        return f"the pocket from {_hour(self.from_clock)} to {say_clock(self.to_clock)}"


def pockets_of(sheet: Sheet) -> tuple[Pocket, ...]:
    """Return the pockets off an opening that do not touch each other, clockwise, to the half hour."""
    found: list[Pocket] = []
    for arc in pocket_arcs(sheet):
        all_round = len(arc) == DIRECTIONS
        ends = (0.0, 0.0) if all_round else (arc[0] * STEP_DEG, (arc[-1] + 1) * STEP_DEG)
        found.append(Pocket(*(_to_half(clock_of(end)) for end in ends)))
    return tuple(found)


def pocket_of_column(sheet: Sheet, cavity: Cavity) -> NDArray[int32]:
    """Return for each column (n,) the index of its pocket in ``pockets_of``, −1 under the opening.

    A tunnel counts with the pocket that it leaves, one that leaves the opening with none.
    """
    by_bin = np.full(DIRECTIONS, -1, dtype=np.int32)
    for number, arc in enumerate(pocket_arcs(sheet)):
        by_bin[arc] = number
    pocket = np.where(cavity.in_opening, -1, by_bin[_bin_of_column(cavity)]).astype(np.int32)
    # The grid's cells may stick out of an arc by a part of a cell; they belong to the pocket that is nearest.
    lost = np.flatnonzero((pocket < 0) & ~cavity.in_opening)
    known = np.flatnonzero(pocket >= 0)
    for column in lost[lost < cavity.grid_count] if len(known) else ():
        away = np.hypot(cavity.u_cm[known] - cavity.u_cm[column], cavity.v_cm[known] - cavity.v_cm[column])
        pocket[column] = pocket[known[int(away.argmin())]]
    for nearer, farther in cavity.link[cavity.link_way == IN_A_TUNNEL]:
        pocket[farther] = pocket[nearer]
    return pocket


def say_zones(sheet: Sheet, cavity: Cavity, meant: NDArray[bool_], area_cm2: NDArray[float64]) -> tuple[str, ...]:
    """Say where the columns that are ``meant`` (n,) lie, by hour and third, where at least half of a zone is meant.

    ``area_cm2`` (n,) is each column's share of the surface in question.
    """
    hour, third = hours_and_thirds(sheet, cavity)
    whole, part = np.zeros((13, 3)), np.zeros((13, 3))
    np.add.at(whole, (hour, third), area_cm2)
    np.add.at(part, (hour, third), area_cm2 * meant)
    named = part > np.maximum(_NAMED_SHARE * whole, 1e-9)
    said = ["under the opening"] if named[0, 0] else []
    # Hours with the same thirds are told together.
    thirds_of = [tuple(map(int, np.flatnonzero(named[k]))) for k in range(1, 13)]
    return (*said, *(_say_run(start, length, thirds_of[start]) for start, length in _runs(thirds_of)))


def hours_and_thirds(sheet: Sheet, cavity: Cavity) -> tuple[NDArray[int32], NDArray[int32]]:
    """Return each column's hour, 1–12, and the index of its third of the depth, 0–2; hour 0 is under the opening."""
    where = _bin_of_column(cavity)
    hour = np.round(((where + 0.5) * STEP_DEG) / 30.0).astype(np.int32) % 12
    hour = np.where(hour == 0, 12, hour)
    reach = np.maximum(sheet.reach_cm[where], 1e-9)
    beyond = np.hypot(cavity.u_cm, cavity.v_cm) - sheet.edge_cm[where]
    third = np.clip(3.0 * beyond / reach, 0.0, 2.0).astype(np.int32)
    return np.where(cavity.in_opening, 0, hour), np.where(cavity.in_opening, 0, third)


def _bin_of_column(cavity: Cavity) -> NDArray[int32]:
    angle = np.degrees(np.arctan2(cavity.u_cm, cavity.v_cm)) % 360.0
    return (angle / STEP_DEG).astype(np.int32) % DIRECTIONS


def _runs(thirds_of: Sequence[tuple[int, ...]]) -> Iterator[tuple[int, int]]:
    """Give each run of hours, round the clock, that name the same thirds: its first index and its length."""
    count = len(thirds_of)
    starts = [k for k in range(count) if thirds_of[k] and thirds_of[k] != thirds_of[k - 1]]
    if not starts and thirds_of[0]:
        yield 0, count
    for start in starts:
        length = 1
        while length < count and thirds_of[(start + length) % count] == thirds_of[start]:
            length += 1
        yield start, length


def _say_run(start: int, length: int, thirds: tuple[int, ...]) -> str:
    first, last = start + 1, (start + length - 1) % 12 + 1
    hours = "at every hour" if length == 12 else f"{first} to {last} o'clock" if length > 1 else f"{first} o'clock"
    if len(thirds) == 3:
        return f"{hours}, its whole depth"
    return f"{hours}, {' and '.join(THIRDS[k] for k in thirds)}"


def _hour(clock: float) -> str:
    return f"{clock:g}" if clock == int(clock) else say_clock(clock)


def _to_half(clock: float) -> float:
    return round(clock * 2.0) / 2.0 or 12.0
