"""Layouts told apart: what each is good at, in the trade's words, and how it does beside another, wound by wound."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy import float64
from numpy.typing import NDArray

from soakline.layout.front import front_of, worst_tenth
from soakline.layout.search import Found, Layout

_SOAKED, _WETTED, _ROOF_SOAKED, _ROOF_WETTED = range(4)
_NAMES = {
    _WETTED: "wets the most floor",
    _SOAKED: "soaks the most floor",
    _ROOF_WETTED: "wets the most roof",
    _ROOF_SOAKED: "soaks the most roof",
}
_BETWEEN = "a share of both"
# Less than this between two layouts is nothing that a ward would see.
_ALIKE_SHARE = 0.01
# Where the goals span less than this there is nothing to be between.
_SPAN_SHARE = 0.02
# A rule that loses less than this in the middle wound, and less than the second in nearly all, does as well.
_AS_WELL_SHARE, _NEARLY_SHARE = 0.02, 0.05
_DEGREES = ((0.15, "much "), (0.05, ""), (0.0, "a little "))


@dataclass(frozen=True, slots=True)
class Gain:
    """How much more a layout reaches than another in plausible wounds, as shares of the surface: 5 %, middle, 95 %."""

    low: float
    likely: float
    high: float


@dataclass(frozen=True, slots=True)
class Gains:
    """The gain in floor soaked and in floor wetted, apart."""

    soaked: Gain
    wetted: Gain


def name_layouts(found: Found, port_count: int, familiar: Sequence[Layout] = ()) -> dict[Layout, tuple[str, ...]]:
    """Return the layouts with so many ports that lead in something, each with what it is good at; four at most.

    Where a ``familiar`` layout (the rule's, the opening's, the file's) does as much in a goal to within a point, it is
    named and not the leader. The roof counts where some layout reaches it. One that nothing beats and that gives up
    little of both floor goals joins them as "a share of both".
    """
    named: dict[Layout, tuple[str, ...]] = {}
    for goal, words in _NAMES.items():
        chosen = _at_least_as(found, found.leader(port_count, goal), goal, familiar)
        if _worst(found, chosen)[goal] >= _SPAN_SHARE and (goal != _ROOF_SOAKED or chosen in named):
            named[chosen] = (*named.get(chosen, ()), words)
    between = _between(found, port_count)
    if between is not None and between not in named and len(named) < 4:
        named[between] = (_BETWEEN,)
    return named


def gain_over(mine_share: NDArray[float64], other_share: NDArray[float64]) -> Gains:
    """Return how much more one layout reaches than another in the same wounds, goals (wounds, 4) in shares 0–1."""
    return Gains(*(_gain(mine_share[:, goal] - other_share[:, goal]) for goal in (_SOAKED, _WETTED)))


def does_as_well(gain: Gains) -> bool:
    """Say whether what is gained is too little to matter, in wetted and in soaked floor."""
    return all(abs(g.likely) < _AS_WELL_SHARE and g.high < _NEARLY_SHARE for g in (gain.soaked, gain.wetted))


def say_beside(mine_share: NDArray[float64], other_share: NDArray[float64], other_words: str) -> str:
    """Say how a layout does beside another in the same plausible wounds, goals (wounds, 4) in shares 0–1.

    >>> one, two = np.full((4, 4), 0.6), np.full((4, 4), 0.5)
    >>> say_beside(one, two, "the port at the opening")
    'wets more of the floor than the port at the opening in 4 of 4 plausible wounds, and soaks more'
    """
    wetted, soaked = ((mine_share - other_share)[:, goal] for goal in (_WETTED, _SOAKED))
    first, more = _say_first("wets", wetted, other_words)
    middle = float(np.median(soaked))
    if abs(middle) < _ALIKE_SHARE:
        return f"{first}, and soaks as much{_but_in_some(soaked)}"
    and_or = "and" if (middle > 0.0) == more else "but"
    return f"{first}, {and_or} soaks {_degree(middle)}{'more' if middle > 0.0 else 'less'}"


def in_letters(count: int, letter: str) -> Iterator[str]:
    """Give the names of so many ports: the letter and a number.

    >>> list(in_letters(2, "I"))
    ['I1', 'I2']
    """
    return (f"{letter}{number}" for number in range(1, count + 1))


def _say_first(verb: str, differs: NDArray[float64], other_words: str) -> tuple[str, bool]:
    middle = float(np.median(differs))
    if abs(middle) < _ALIKE_SHARE:
        return f"{verb} as much of the floor as {other_words}{_but_in_some(differs)}", True
    more = middle > 0.0
    count = int((differs > _ALIKE_SHARE).sum() if more else (differs < -_ALIKE_SHARE).sum())
    return (
        f"{verb} {_degree(middle)}{'more' if more else 'less'} of the floor than {other_words} in {count} of "
        f"{len(differs)} plausible wounds"
    ), more


def _but_in_some(differs: NDArray[float64]) -> str:
    """Say in how many wounds layouts differ that are alike in the middle one, where they are more than a tenth."""
    more, less = int((differs > _ALIKE_SHARE).sum()), int((differs < -_ALIKE_SHARE).sum())
    parts = [f"{words} in {count}" for count, words in ((more, "more"), (less, "less")) if count > len(differs) / 10.0]
    return f" ({' and '.join(parts)} of {len(differs)})" if parts else ""


def _degree(share: float) -> str:
    return next(words for least, words in _DEGREES if abs(share) >= least)


def _gain(differs: NDArray[float64]) -> Gain:
    low, middle, high = (float(x) for x in np.percentile(differs, [5.0, 50.0, 95.0]))
    return Gain(low, middle, high)


def _between(found: Found, port_count: int) -> Layout | None:
    """Return the layout that gives up least of either floor goal, where the two goals pull apart."""
    layouts = found.of(port_count)
    worst = np.array([_worst(found, layout) for layout in layouts])
    floor = worst[front_of(worst)][:, [_SOAKED, _WETTED]]
    low, high = floor.min(axis=0), floor.max(axis=0)
    if (high - low).min() < _SPAN_SHARE:
        return None
    kept = ((worst[:, [_SOAKED, _WETTED]] - low) / (high - low)).min(axis=1)
    return layouts[int(kept.argmax())] if kept.max() >= 0.5 else None


def _at_least_as(found: Found, leader: Layout, goal: int, familiar: Sequence[Layout]) -> Layout:
    needed = _worst(found, leader)[goal] - _ALIKE_SHARE
    same_size = (layout for layout in familiar if len(layout) == len(leader))
    return next((layout for layout in same_size if _worst(found, layout)[goal] >= needed), leader)


def _worst(found: Found, layout: Layout) -> NDArray[float64]:
    return worst_tenth(found.goal_share[layout][:, None])[0]
