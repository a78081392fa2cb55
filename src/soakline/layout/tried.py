"""What each way of filling does in one plausible wound: the goals it reaches, lying in any of the allowed postures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy import float32, float64, intp, uint8
from numpy.typing import NDArray

from soakline.fluid.reach import ReachMap
from soakline.layout.ensemble import Question, answer_at
from soakline.wound.cavity import Cavity
from soakline.wound.plausible import Measures

# What is looked for, apart: none is ever folded into another.
GOALS = ("floor soaked", "floor wetted", "roof soaked", "roof wetted")
_WHOLE = 255


@dataclass(frozen=True, slots=True, eq=False)
class Tried:
    """What f fillings do in one wound with n columns, each posture with a fresh fill.

    ``goal_share`` (f, 4) is the share of floor and roof soaked and wetted (see ``GOALS``), NaN where there is no roof.
    ``wetted`` (f, n) is how much of each column's floor is wetted, in 255ths, and ``weight_share`` (n,) each column's
    share of the floor.
    """

    goal_share: NDArray[float64]
    wetted: NDArray[uint8]
    weight_share: NDArray[float64]

    def wetted_together(self, sets: NDArray[intp]) -> NDArray[float64]:
        """Return the floor wetted (s,), shares 0–1, by sets of fillings, indices (s, k): what any of a set wets."""
        weight = (self.weight_share / _WHOLE).astype(float32)
        found = np.empty(len(sets))
        # A few thousand sets at a time keep the memory small.
        for start in range(0, len(sets), 2000):
            part = sets[start : start + 2000]
            found[start : start + len(part)] = self.wetted[part].max(axis=1) @ weight
        return found


def try_fillings(question: Question, measures: Measures) -> Tried:
    """Return what every filling of a question does in one plausible wound."""
    return tried(*answer_at(question, measures), len(question.fillings))


def tried(cavity: Cavity, maps: Sequence[ReachMap], filling_count: int) -> Tried:
    """Return what maps, postures first, amount to; what is reached in any posture counts."""
    reached = np.zeros((filling_count, 4, len(cavity.u_cm)))
    for number, found in enumerate(maps):
        here = reached[number % filling_count]
        for side, share in enumerate((found.floor_share, found.roof_share)):
            np.maximum(here[2 * side], share[:, 0], out=here[2 * side])
            np.maximum(here[2 * side + 1], share.sum(axis=1), out=here[2 * side + 1])
    small = np.rint(np.clip(reached, 0.0, 1.0) * _WHOLE).astype(uint8)
    floor, roof = (area / area.sum() if area.sum() > 0.0 else area * np.nan for area in _areas(cavity))
    weight = np.stack([floor, floor, roof, roof])
    return Tried(_shares(small, weight), small[:, GOALS.index("floor wetted")], floor)


def _areas(cavity: Cavity) -> tuple[NDArray[float64], NDArray[float64]]:
    return cavity.floor_cm2, cavity.roof_cm2


def _shares(reached: NDArray[uint8], weight: NDArray[float64]) -> NDArray[float64]:
    return np.einsum("fgn,gn->fg", reached, weight) / _WHOLE
