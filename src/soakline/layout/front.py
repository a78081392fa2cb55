"""Layouts compared by their worst tenth of plausible wounds, goal by goal: which nothing beats, which leads in what."""

from __future__ import annotations

import numpy as np
from numpy import bool_, float64, intp
from numpy.typing import NDArray

# Less than half a point between two layouts is no difference: the other goals then decide.
EVEN_SHARE = 0.005
WORST_SHARE = 0.1
# After the goal itself: the other goal of the same surface, then the other surface; as in ``tried.GOALS``.
_THEN = ((0, 1, 3, 2), (1, 0, 3, 2), (2, 3, 1, 0), (3, 2, 1, 0))


def worst_tenth(goal_share: NDArray[float64], at_share: float = WORST_SHARE) -> NDArray[float64]:
    """Return the 10 % quantile of each goal over wounds: shares (wounds, k, 4) become (k, 4).

    ``at_share`` is another quantile (0–1), where the wounds given are a chosen part of all. Wounds without a roof (NaN)
    do not count for it; 0 where no wound has one.
    """
    gone = np.isnan(goal_share)
    if not gone.any():
        return np.quantile(goal_share, at_share, axis=0)
    found = np.zeros(goal_share.shape[1:])
    for goal in range(goal_share.shape[2]):
        there = ~gone[:, :, goal].all(axis=1)
        if there.any():
            found[:, goal] = np.quantile(goal_share[there, :, goal], at_share, axis=0)
    return found


def front_of(worst_share: NDArray[float64]) -> NDArray[intp]:
    """Return by index the layouts that no other beats: at least as much in every goal and more in one; (k, 4) shares.

    >>> front_of(np.array([[0.5, 0.2], [0.4, 0.6], [0.4, 0.5]])).tolist()
    [0, 1]
    """
    mine, other = worst_share[:, None, :], worst_share[None, :, :]
    beats = np.logical_and(np.all(other >= mine, axis=2), np.any(other > mine, axis=2))
    return np.flatnonzero(~np.any(beats, axis=1))


def leader(worst_share: NDArray[float64], goal_index: int) -> int:
    """Return the index of the layout that leads in a goal, of shares (k, 4).

    Of layouts within half a point of the most in it, the one that does most in the next goal leads.
    """
    return int(_order(worst_share[None], goal_index)[0, 0])


def may_lead(
    goal_share: NDArray[float64], redraw_count: int, draw: np.random.Generator, place_count: int
) -> NDArray[bool_]:
    """Say of each layout (k,) whether it would lead in some goal were other wounds drawn; shares (wounds, k, 4).

    The wounds seen are drawn again, with repeats, ``redraw_count`` times (the bootstrap). In each of them the one that
    does most in a goal may lead, and the first ``place_count`` in the order in which ``leader`` picks.
    """
    worst = _drawn_again(goal_share, redraw_count, draw, WORST_SHARE)
    leads = np.zeros(goal_share.shape[1], dtype=np.bool_)
    for goal in range(worst.shape[2]):
        leads[worst[:, :, goal].argmax(axis=1)] = True
        leads[_order(worst, goal)[:, :place_count]] = True
    return leads


def enough(goal_share: NDArray[float64], redraw_count: int, draw: np.random.Generator, at_share: float) -> list[int]:
    """Return by index few layouts of which, were other wounds drawn, one is even with the most in each goal.

    Wounds are drawn again as in ``may_lead``; shares (wounds, k, 4), ``at_share`` as in ``worst_tenth``. The one that
    is even in the most goals of the most draws is taken first.

    >>> share = np.array([[[0.9, 0.5], [0.5, 0.9], [0.9, 0.501], [0.7, 0.7]]])
    >>> enough(share, 0, np.random.default_rng(1), 0.1)
    [0, 1]
    """
    worst = _drawn_again(goal_share, redraw_count, draw, at_share)
    even = worst >= worst.max(axis=1, keepdims=True) - EVEN_SHARE
    taken: list[int] = []
    while even.any():
        taken.append(int(even.sum(axis=(0, 2)).argmax()))
        even &= ~even[:, taken[-1:], :]
    return sorted(taken)


def _drawn_again(
    goal_share: NDArray[float64], redraw_count: int, draw: np.random.Generator, at_share: float
) -> NDArray[float64]:
    """Return the quantile of each goal (1 + redraws, k, 4) in the wounds seen, and in each of their redraws."""
    count = len(goal_share)
    again = [goal_share, *(goal_share[draw.integers(0, count, count)] for _ in range(redraw_count))]
    return np.array([worst_tenth(one, at_share) for one in again])


def _order(worst: NDArray[float64], goal: int) -> NDArray[intp]:
    """Return the layouts (b, k) of each of b draws of shares (b, k, 4), the one that leads in a goal first."""
    lead = worst[:, :, goal]
    even = lead >= lead.max(axis=1, keepdims=True) - EVEN_SHARE
    # Each of the next goals decides only what the one before leaves even.
    then = sum(worst[:, :, next_] * 1e-6**place for place, next_ in enumerate(_THEN[goal][1:]))
    return np.lexsort((-lead, -np.where(even, 1.0 + then, 0.0)), axis=1)
