"""Turning: the fewest postures that soak what can be soaked, what each adds, and what none of them reaches.

Every posture gets a fresh fill, and a patch of floor or roof counts once, however many postures soak it. The smallest
set is exact: a set cover over patches by their real area. Every set of up to ten postures is tried out; more postures
are an integer program (HiGHS, in ``scipy``).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, cast

import numpy as np
from numpy import bool_, float64
from numpy.typing import NDArray

# Our own choice (source key ``layout.turning_share``): a set soaks "what can be soaked" when it soaks this share of the
# area that all allowed postures together soak, in this share of the plausible wounds.
SOAKED_SHARE, WOUNDS_SHARE = 0.95, 0.9
# Up to so many postures all their sets, 1,024, are tried out sooner than the integer program is loaded.
_TRIED_OUT_COUNT = 10
# An area share counts as soaked in full when it lacks less than this.
_EXACT_SHARE = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class Soaked:
    """What each of k postures soaks (k, m) of one surface in one wound, cut into patches of ``area_cm2`` (m,)."""

    area_cm2: NDArray[float64]
    by_posture: NDArray[bool_]

    @property
    def together_cm2(self) -> float:
        """What all postures together soak, in cm²."""
        return self.soaked_cm2(range(len(self.by_posture)))

    def soaked_cm2(self, chosen_index: Sequence[int]) -> float:
        """Return what the chosen postures (by index) soak together, in cm².

        >>> surface = Soaked(np.array([2.0, 3.0]), np.array([[True, False], [True, True]]))
        >>> surface.soaked_cm2([0]), surface.soaked_cm2([0, 1]), surface.soaked_cm2([])
        (2.0, 5.0, 0.0)
        """
        return float(self.area_cm2[self.by_posture[list(chosen_index)].any(axis=0)].sum())

    def soaked_share(self, chosen_index: Sequence[int]) -> float:
        """Return what the chosen postures (by index) soak together as a share (0–1) of the whole surface."""
        return self.soaked_cm2(chosen_index) / float(self.area_cm2.sum())


@dataclass(frozen=True, slots=True)
class Added:
    """What a posture (by index) adds to those before it, as a share of a surface: median and 5–95 % over wounds."""

    posture_index: int
    low_share: float
    share: float
    high_share: float


def smallest_set(
    wounds: Sequence[Sequence[Soaked]], *, soaked_share: float = SOAKED_SHARE, wounds_share: float = WOUNDS_SHARE
) -> tuple[int, ...]:
    """Return the fewest postures, by index, that soak ``soaked_share`` of what all together soak in enough wounds.

    ``wounds`` holds for each plausible wound the surfaces that all have to be soaked so far; ``wounds_share`` of the
    wounds are enough. Of several sets as small, one that soaks most on average. Empty where nothing can be soaked.
    """
    asked = [kept for wound in wounds if (kept := [surface for surface in wound if surface.together_cm2 > 0.0])]
    if not asked:
        return ()
    smallest = _tried_out if len(asked[0][0].by_posture) <= _TRIED_OUT_COUNT else _solved
    return smallest(asked, soaked_share, math.ceil(wounds_share * len(asked) - 1e-9))


def what_each_adds(wounds: Sequence[Soaked], chosen_index: Sequence[int]) -> tuple[Added, ...]:
    """Return what each chosen posture adds to those before it, the one that adds most first; shares 0–1."""
    order: list[int] = []
    found: list[Added] = []
    left = list(chosen_index)
    while left:
        before = np.array([wound.soaked_share(order) for wound in wounds])
        gains = {one: np.array([wound.soaked_share([*order, one]) for wound in wounds]) - before for one in left}
        most = max(left, key=lambda one: (round(float(gains[one].mean()), 9), -one))
        low, middle, high = (float(x) for x in np.percentile(gains[most], [5.0, 50.0, 95.0]))
        found.append(Added(most, low, middle, high))
        order.append(most)
        left.remove(most)
    return tuple(found)


def never_reached(surface: Soaked) -> NDArray[bool_]:
    """Return the patches (m,) that no posture soaks."""
    reached: NDArray[bool_] = np.any(surface.by_posture, axis=0)
    return ~reached


def _tried_out(asked: Sequence[Sequence[Soaked]], soaked_share: float, enough_count: int) -> tuple[int, ...]:
    """Try every set of postures; a set is a number whose binary digits are the postures in it."""
    postures = np.arange(len(asked[0][0].by_posture))
    sets = np.arange(1 << len(postures))
    meets = ((sets[:, None] & sets) > 0).astype(float)
    reached_count, soaked = np.zeros(len(sets)), np.zeros(len(sets))
    for wound in asked:
        shares = np.array([_share_by_set(surface, meets, 1 << postures) for surface in wound])
        reached_count += (shares >= soaked_share - _EXACT_SHARE).all(axis=0)
        soaked += shares.sum(axis=0)
    size = ((sets[:, None] >> postures) & 1).sum(axis=1)
    enough = np.flatnonzero(reached_count >= enough_count)
    smallest = enough[size[enough] == size[enough].min()]
    most = smallest[soaked[smallest].round(9).argmax()]
    return tuple(int(k) for k in postures[(most >> postures) & 1 == 1])


def _share_by_set(surface: Soaked, meets: NDArray[float64], bit_index: NDArray[np.int_]) -> NDArray[float64]:
    """Return what each set soaks of what all postures soak together; patches are summed by the set that soaks them."""
    area = np.bincount(bit_index @ surface.by_posture, weights=surface.area_cm2, minlength=len(meets))
    return meets @ area / area[1:].sum()


def _grouped(surface: Soaked) -> Soaked:
    """Return the surface with patches that the same postures soak taken together; what none soaks is left out."""
    kinds, which = np.unique(surface.by_posture.T, axis=0, return_inverse=True)
    area = np.zeros(len(kinds))
    np.add.at(area, which.ravel(), surface.area_cm2)
    kept = kinds.any(axis=1) & (area > 0.0)
    return Soaked(area[kept], kinds[kept].T)


def _solved(asked: Sequence[Sequence[Soaked]], soaked_share: float, enough_count: int) -> tuple[int, ...]:
    """Solve for: take posture k or not, patch group g soaked 0–1, wound w reached or not."""
    from scipy import sparse  # noqa: PLC0415 - loaded where a case needs it

    surfaces = [_grouped(surface) for wound in asked for surface in wound]
    wound_of = [number for number, wound in enumerate(asked) for _ in wound]
    soaks = np.concatenate([surface.by_posture for surface in surfaces], axis=1).T.astype(float)
    share = np.concatenate([surface.area_cm2 / surface.area_cm2.sum() for surface in surfaces])
    surface_of = np.repeat(np.arange(len(surfaces)), [len(surface.area_cm2) for surface in surfaces])
    groups, postures = soaks.shape
    # A group is soaked only by a posture that soaks it; a wound is reached when each of its surfaces is.
    by_surface = np.zeros((len(surfaces), groups))
    by_surface[surface_of, np.arange(groups)] = share
    needed = np.zeros((len(surfaces), len(asked)))
    needed[np.arange(len(surfaces)), wound_of] = -(soaked_share - _EXACT_SHARE)
    library = cast("Any", sparse)
    blocks: list[list[Any]] = [
        [soaks, -library.eye_array(groups), None],
        [None, by_surface, needed],
        [np.zeros((1, postures)), np.zeros((1, groups)), np.ones((1, len(asked)))],
    ]
    parts = [[None if part is None else library.csr_array(part) for part in row] for row in blocks]
    limits = library.block_array(parts, format="csr")
    least = np.concatenate([np.zeros(groups + len(surfaces)), [enough_count]])
    # The second part is less than one posture in all: it only decides between sets of one size.
    cost = np.concatenate([np.ones(postures), -0.5 * share / len(surfaces), np.zeros(len(asked))])
    whole = np.concatenate([np.ones(postures), np.zeros(groups), np.ones(len(asked))])
    solved = _milp(cost, whole, limits, least)
    return tuple(int(k) for k in np.flatnonzero(solved[:postures] > 0.5))


def _milp(
    cost: NDArray[float64],
    whole: NDArray[float64],
    limits: Any,  # noqa: ANN401 - the library's sparse arrays have no types
    least: NDArray[float64],
) -> NDArray[float64]:
    from scipy import optimize  # noqa: PLC0415 - as above

    library = cast("Any", optimize)
    solved = library.milp(
        cost,
        integrality=whole,
        bounds=library.Bounds(0.0, 1.0),
        constraints=library.LinearConstraint(limits, lb=least),
    )
    if solved.x is None:
        msg = f"no set of postures was found: {solved.message}"
        raise RuntimeError(msg)
    return solved.x
