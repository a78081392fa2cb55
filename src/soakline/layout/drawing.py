"""Suction ports for a layout: the sets from whose steady flow the least of the bed is passed over."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import combinations
from math import comb

import numpy as np
from numpy import float64
from numpy.typing import NDArray

from soakline.fluid.passed_over import PASSED_OVER_SHARE, passed_over
from soakline.fluid.suction_sheet import SuctionSheet, lay_suction
from soakline.layout.ports import Port, column_of
from soakline.wound.cavity import Cavity
from soakline.wound.sheet import Sheet

MOST_SUCTION_PORTS = 4
# So many sets are looked at one by one; beyond, the set grows port by port and each port may then move.
_MOST_SETS = 400


@dataclass(frozen=True, slots=True)
class SuctionSet:
    """Suction places, by index, and the share (0–1) of the bed that the flow to them passes over."""

    place_index: tuple[int, ...]
    passed_over_share: float


def suction_sets(
    cavity: Cavity, sheet: Sheet, instillation: Sequence[Port], places: Sequence[Port], most_count: int
) -> tuple[SuctionSet, ...]:
    """Return for each number of suction ports, 1 to ``most_count``, the set that passes over the least of the bed.

    Flow runs from all instillation ports at once, shared evenly. Exact for few places; for many the set grows port by
    port. Of even sets the first in the order of ``places`` is taken.
    """
    sources = [column_of(port, sheet, cavity) for port in instillation]
    columns = [column_of(port, sheet, cavity) for port in places]
    laid = lay_suction(cavity, list(dict.fromkeys([*sources, *columns])))
    known: dict[tuple[int, ...], float] = {}

    def passes(chosen: tuple[int, ...]) -> float:
        if chosen not in known:
            known[chosen] = _passed_over(laid, sources, [columns[k] for k in chosen])
        return known[chosen]

    found: list[SuctionSet] = []
    for count in range(1, min(most_count, MOST_SUCTION_PORTS, len(places)) + 1):
        every = comb(len(places), count) <= _MOST_SETS
        before = found[-1].place_index if found else ()
        sets = combinations(range(len(places)), count) if every else _grown(before, len(places))
        chosen = min(sets, key=lambda one: (round(passes(one), 9), one))
        if not every:
            chosen = _moved(chosen, len(places), passes)
        found.append(SuctionSet(chosen, passes(chosen)))
    return tuple(found)


def share_passed_over(cavity: Cavity, sheet: Sheet, instillation: Sequence[Port], suction: Sequence[Port]) -> float:
    """Return the share (0–1) of the bed that the flow from instillation to suction ports passes over."""
    sources = [column_of(port, sheet, cavity) for port in instillation]
    columns = [column_of(port, sheet, cavity) for port in suction]
    return _passed_over(lay_suction(cavity, list(dict.fromkeys([*sources, *columns]))), sources, columns)


def _grown(before: tuple[int, ...], place_count: int) -> list[tuple[int, ...]]:
    return [tuple(sorted((*before, place))) for place in range(place_count) if place not in before]


def _moved(chosen: tuple[int, ...], place_count: int, passes: Callable[[tuple[int, ...]], float]) -> tuple[int, ...]:
    """Return the set after each of its ports in turn was tried at every other place."""
    for port in chosen:
        rest = tuple(place for place in chosen if place != port)
        chosen = min((chosen, *_grown(rest, place_count)), key=lambda one: (round(passes(one), 9), one))
    return chosen


def _passed_over(laid: SuctionSheet, sources: Sequence[int], suction: Sequence[int]) -> float:
    bed: NDArray[float64] = laid.cavity.floor_cm2 / laid.cavity.floor_cm2.sum()
    flow = np.mean([passed_over(laid, source, suction).flow_ratio for source in sources], axis=0)
    return float(bed[flow < PASSED_OVER_SHARE].sum())
