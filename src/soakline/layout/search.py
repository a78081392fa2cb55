"""The search: instillation ports raced over plausible wounds, one, two and three together, until the leaders stand.

Every place is tried in a few wounds; those that would lead in no goal are dropped, and the rest are tried in more.
Places together are first foretold, then the leaders of that are run together. Two ports do about what lies half-way
between both ports at the one place and both at the other: liquid that is poured together stands higher, which no place
alone foretells. The floor they wet may also be what is wetted from either. The same seed gives the same answer.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import Executor, as_completed
from dataclasses import dataclass, field, replace
from functools import partial
from itertools import combinations, permutations

import numpy as np
from numpy import float64
from numpy.typing import NDArray

from soakline.fluid.spread import Soak
from soakline.layout.ensemble import Filling, Question
from soakline.layout.foretelling import Alone, by_worst_tenth, highest, open_goals, place_of_worst_tenth, united
from soakline.layout.front import EVEN_SHARE, enough, front_of, leader, may_lead, worst_tenth
from soakline.layout.ports import Port
from soakline.layout.tried import GOALS, Tried, try_fillings
from soakline.wound.plausible import Measures

MOST_PORTS = 3
# How often the wounds seen are drawn again to judge who may still lead.
_REDRAWS = 48
# How many places alone may lead in each goal of each redraw: with fewer, the leader of all wounds is lost too often.
_LEADING_PLACES = 3
# Layouts that are run together after they were foretold, for each goal and way of foretelling.
_FINALISTS_A_GOAL = 3
# Wounds in which places are tried with all ports at them: every place in the first, then the first of each goal.
_PILED_WOUNDS = 4
_PILED_AGAIN = 8
# Fillings that one task of an executor works through.
_BATCH = 12

Layout = tuple[int, ...]
"""Places by index, in the order of the therapy units whose fill each gets."""


@dataclass(frozen=True, slots=True)
class UnitFill:
    """What one therapy unit instils: its name and fill in mL."""

    unit: str
    fill_ml: float


@dataclass(frozen=True, slots=True)
class Sought:
    """What is searched: places, the units' fills in their order, the soak, and for up to how many ports together.

    ``question`` holds wound, assumptions, postures and grid. Beyond the last unit its fill is taken again. Ports in
    ``beside`` follow the places in the counting of layouts, and are run only where a layout is asked for by name.
    Raises ValueError for a number of ports that cannot be searched.
    """

    question: Question
    places: tuple[Port, ...]
    fills: tuple[UnitFill, ...]
    soak: Soak
    most_port_count: int = 1
    beside: tuple[Port, ...] = ()

    def __post_init__(self) -> None:
        """Refuse what leaves nothing to search."""
        most = min(MOST_PORTS, len(self.places))
        if not 1 <= self.most_port_count <= most:
            told = f"{self.most_port_count} instillation ports among {len(self.places)} places"
            msg = f"{told}: 1 to {most} can be searched"
            raise ValueError(msg)
        if not self.fills or not self.question.postures:
            msg = "a search needs a fill and a posture"
            raise ValueError(msg)

    def fill_of(self, port_index: int) -> UnitFill:
        """Return the fill of the port with this index in a layout."""
        return self.fills[min(port_index, len(self.fills) - 1)]

    def ports_of(self, layout: Layout) -> tuple[Port, ...]:
        """Return the ports of a layout."""
        every = (*self.places, *self.beside)
        return tuple(every[place] for place in layout)

    def filling(self, layout: Layout) -> Filling:
        """Return the filling through the ports of a layout, each with its unit's fill."""
        poured = tuple((port, self.fill_of(k).fill_ml) for k, port in enumerate(self.ports_of(layout)))
        return Filling(" + ".join(port.name for port, _ in poured), poured, self.soak)


@dataclass(frozen=True, slots=True)
class Standing:
    """How a search stands: the share (0–1) done, wounds seen, places left, and who leads in each goal."""

    share: float
    wound_count: int
    place_count: int
    leaders: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, eq=False)
class Found:
    """What a search found: layouts that were run in every wound, with their goals (wounds, 4), shares 0–1.

    ``searched`` are those that took part; the others were asked for by name. ``front`` lists those that no other with
    as many ports beats. ``run_count`` is how many wounds × fillings were run.
    """

    goal_share: dict[Layout, NDArray[float64]]
    searched: frozenset[Layout]
    front: tuple[Layout, ...]
    run_count: int

    def of(self, port_count: int) -> tuple[Layout, ...]:
        """Return the layouts, by the indices of their places, with so many ports that took part in the search."""
        return tuple(layout for layout in self.goal_share if len(layout) == port_count and layout in self.searched)

    def leader(self, port_count: int, goal_index: int) -> Layout:
        """Return the layout with so many ports that leads in a goal, by its index in ``tried.GOALS``."""
        layouts = self.of(port_count)
        return layouts[leader(_worst([self.goal_share[layout] for layout in layouts]), goal_index)]


Errand = tuple[int, tuple[Layout, ...]]
"""Layouts to run in one wound, by its index."""
RunAll = Callable[[Sequence[Errand], Callable[[float], None]], list[Tried]]
"""Runs errands, in any order, tells the share done, and returns what each gave, in their order."""
Told = Callable[[Standing], None]


def search(
    sought: Sought,
    measures: Sequence[Measures],
    *,
    seed: int,
    always: Sequence[Layout] = (),
    executor: Executor | None = None,
    told: Told | None = None,
) -> Found:
    """Return the layouts that lead, over the wounds of ``measures``; layouts in ``always`` are run whatever they do.

    ``executor`` is anything with the interface of ``concurrent.futures``, None works here. ``told`` hears how the
    search stands and may raise to stop it: what has not begun is then cancelled.
    """
    runs = partial(run_all, sought, measures, executor)
    return race(sought, len(measures), runs, seed=seed, always=always, told=told)


def race(
    sought: Sought,
    wound_count: int,
    runs: RunAll,
    *,
    seed: int,
    always: Sequence[Layout] = (),
    told: Told | None = None,
) -> Found:
    """Return what ``search`` does, with each run asked of ``runs``."""
    race_ = _Race(sought, wound_count, runs, np.random.default_rng(seed), told)
    asked = [layout for layout in always if len(layout) > 1 or max(layout) >= len(sought.places)]
    stages = _stages(sought.most_port_count + bool(asked))
    singles = race_.singles({layout[0] for layout in always if layout not in asked}, next(stages))
    found = {(place,): race_.alone(place) for place in singles}
    for port_count in range(2, sought.most_port_count + 1):
        found |= race_.together(port_count, next(stages))
    missing = [layout for layout in asked if layout not in found]
    beside = race_.everywhere(missing, next(stages, 1.0))
    searched = tuple(_fronts(found))
    return Found(found | beside, frozenset(found), searched, race_.run_count)


def run_all(
    sought: Sought,
    measures: Sequence[Measures],
    executor: Executor | None,
    errands: Sequence[Errand],
    told: Callable[[float], None],
) -> list[Tried]:
    """Run errands on an executor, or here; see ``RunAll``."""
    parts = [(wound, layouts[k : k + _BATCH]) for wound, layouts in errands for k in range(0, len(layouts), _BATCH)]
    questions = [
        replace(sought.question, fillings=tuple(sought.filling(layout) for layout in layouts)) for _, layouts in parts
    ]
    done: dict[int, Tried] = {}
    if executor is None:
        for number, (wound, _) in enumerate(parts):
            done[number] = try_fillings(questions[number], measures[wound])
            told(len(done) / len(parts))
    else:
        waiting = {
            executor.submit(try_fillings, questions[number], measures[wound]): number
            for number, (wound, _) in enumerate(parts)
        }
        try:
            for task in as_completed(waiting):
                done[waiting[task]] = task.result()
                told(len(done) / len(parts))
        finally:
            for task in waiting:
                task.cancel()
    return _join(errands, [done[number] for number in range(len(parts))])


@dataclass(slots=True, eq=False)
class _Race:
    """A race under way: what each place alone did in each wound seen, and which places are left."""

    sought: Sought
    wound_count: int
    runs: RunAll
    draw: np.random.Generator
    told: Told | None
    run_count: int = 0
    share: float = 0.0
    leaders: tuple[tuple[str, str], ...] = ()
    seen: list[Tried] = field(default_factory=list[Tried])
    # The places behind the rows of what was tried in each wound.
    rows: list[tuple[int, ...]] = field(default_factory=list[tuple[int, ...]])
    left: tuple[int, ...] = ()

    def __post_init__(self) -> None:
        self.left = tuple(range(len(self.sought.places)))

    def singles(self, kept: set[int], until_share: float) -> tuple[int, ...]:
        """Race the places alone; return those that were run in every wound."""
        rounds = _rounds(self.wound_count)
        for number, until in enumerate(rounds):
            wounds = range(len(self.seen), until)
            errands = [(wound, tuple((place,) for place in self.left)) for wound in wounds]
            self.seen += self._run(errands, until_share * (number + 1) / len(rounds))
            self.rows += [self.left] * len(wounds)
            # One wound tells nothing of the others.
            if 1 < until < self.wound_count:
                self.left = self._still_in(kept)
            self.leaders = self._leaders()
            self._tell()
        return self.left

    def alone(self, place: int) -> NDArray[float64]:
        """Return the goals (wounds, 4) of a place that is left."""
        return np.array([tried.goal_share[rows.index(place)] for tried, rows in zip(self.seen, self.rows, strict=True)])

    def together(self, port_count: int, until_share: float) -> dict[Layout, NDArray[float64]]:
        """Return the goals of the layouts with so many ports that may lead, run together in every wound."""
        begun, part = self.share, (until_share - self.share) / 3.0
        alone = [Alone(rows, tried) for rows, tried in zip(self.rows, self.seen, strict=True)]
        chosen = united(port_count, self.left, alone)[0]
        # What wets most by each place alone tells in which wounds so much liquid does least.
        layout = next(iter(self._ways(chosen)))
        first = self.everywhere([layout], begun + part)
        goals = open_goals(first[layout])
        if not goals:
            return first
        wounds = by_worst_tenth(first[layout])
        foretold = self._foretold(port_count, goals, wounds[:_PILED_WOUNDS], begun + 2.0 * part)
        return first | self._joint(sorted({*self._ways(chosen), *foretold} - {layout}), wounds, until_share)

    def everywhere(self, layouts: Sequence[Layout], until_share: float) -> dict[Layout, NDArray[float64]]:
        """Return the goals (wounds, 4) of layouts, run in every wound."""
        if not layouts:
            return {}
        tried = self._run([(wound, tuple(layouts)) for wound in range(self.wound_count)], until_share)
        return {layout: np.array([one.goal_share[k] for one in tried]) for k, layout in enumerate(layouts)}

    def _joint(
        self, layouts: Sequence[Layout], wounds: Sequence[int], until_share: float
    ) -> dict[Layout, NDArray[float64]]:
        """Race layouts through the wounds in this order; return the goals of those that were run in every wound."""
        if not layouts:
            return {}
        left, goals = list(layouts), np.zeros((0, len(layouts), len(GOALS)))
        rounds = _rounds(self.wound_count)[2:] or (self.wound_count,)
        begun = self.share
        for number, until in enumerate(rounds):
            errands = [(wound, tuple(left)) for wound in wounds[len(goals) : until]]
            new = self._run(errands, begun + (until_share - begun) * (number + 1) / len(rounds))
            goals = np.concatenate([goals, [tried.goal_share for tried in new]])
            if until < self.wound_count:
                keep = enough(goals, _REDRAWS, self.draw, place_of_worst_tenth(self.wound_count, until))
                left = [left[k] for k in keep]
                goals = goals[:, keep]
        in_order = goals[np.argsort(wounds)]
        return {layout: in_order[:, k] for k, layout in enumerate(left)}

    def _still_in(self, kept: set[int]) -> tuple[int, ...]:
        goals = np.stack([self.alone(place) for place in self.left], axis=1)
        leads = may_lead(goals, _REDRAWS, self.draw, _LEADING_PLACES)
        return tuple(place for place, may in zip(self.left, leads, strict=True) if may or place in kept)

    def _foretold(
        self, port_count: int, goals: Sequence[int], wounds: Sequence[int], until_share: float
    ) -> set[Layout]:
        """Return the layouts that lead in a goal, by what all their ports do at each of their places.

        What they do together lies between; of the floor they may also wet what is wetted from any of the places.
        """
        every = tuple(range(len(self.sought.places)))
        piled = self._piled(port_count, every, wounds[:1], until_share)
        share = np.nan_to_num(piled[0].tried.goal_share)
        # Where all places are even there is nothing to choose.
        telling = [goal for goal in goals if np.ptp(share[:, goal]) > EVEN_SHARE]
        again: set[int] = {place for goal in telling for place in highest(share[:, goal], _PILED_AGAIN)}
        unites = GOALS.index("floor wetted") in goals
        if unites:
            again |= {place for chosen in united(port_count, every, piled)[:_PILED_AGAIN] for place in chosen}
        left = sorted(again)
        if left:
            piled += self._piled(port_count, left, wounds[1:], until_share)
        for one in piled[1:]:
            share[left] += np.nan_to_num(one.tried.goal_share)
        fill_ml = np.array([self.sought.fill_of(k).fill_ml for k in range(port_count)])
        found: set[Layout] = set()
        if unites:
            found = {way for one in united(port_count, left, piled)[:_FINALISTS_A_GOAL] for way in self._ways(one)}
        for goal in telling:
            # Few places can be in the first sets: each higher one makes a higher set.
            most = highest(share[left, goal], port_count + _FINALISTS_A_GOAL - 1)
            sets = combinations(sorted(left[k] for k in most), port_count)
            ways = [way for chosen in sets for way in self._ways(chosen)]
            found |= {ways[k] for k in highest(share[np.array(ways), goal] @ fill_ml, _FINALISTS_A_GOAL)}
        return found

    def _piled(self, port_count: int, places: Sequence[int], wounds: Sequence[int], until_share: float) -> list[Alone]:
        """Return what places do with so many ports at each, wound by wound."""
        errands = [(wound, tuple((place,) * port_count for place in places)) for wound in wounds]
        return [Alone(tuple(places), tried) for tried in self._run(errands, until_share)]

    def _ways(self, chosen: Layout) -> Iterable[Layout]:
        """Return the ways of giving units' fills to places: one where all fills are the same."""
        fills = {self.sought.fill_of(k).fill_ml for k in range(len(chosen))}
        return permutations(chosen) if len(fills) > 1 else (chosen,)

    def _run(self, errands: Sequence[Errand], until_share: float) -> list[Tried]:
        self.run_count += sum(len(layouts) for _, layouts in errands)
        begun = self.share

        def tell(share: float) -> None:
            self.share = begun + share * (until_share - begun)
            self._tell()

        return self.runs(errands, tell)

    def _leaders(self) -> tuple[tuple[str, str], ...]:
        worst = _worst([self.alone(place) for place in self.left])
        return tuple((words, self.sought.places[self.left[leader(worst, g)]].name) for g, words in enumerate(GOALS))

    def _tell(self) -> None:
        if self.told is not None:
            self.told(Standing(self.share, len(self.seen), len(self.left), self.leaders))


def _stages(count: int) -> Iterator[float]:
    """Give the share of all work that is done after each stage: the places alone take as much as three others."""
    return iter([(3.0 + number) / (2.0 + count) for number in range(count)])


def _rounds(wound_count: int) -> tuple[int, ...]:
    """Return after how many wounds it is looked again: 1, 2, 4 and so on, and all."""
    rounds = [wound_count]
    while rounds[0] > 1:
        rounds.insert(0, rounds[0] // 2)
    return tuple(rounds)


def _join(errands: Sequence[Errand], parts: Sequence[Tried]) -> list[Tried]:
    """Put the parts of each errand together again."""
    joined: list[Tried] = []
    start = 0
    for _, layouts in errands:
        count = -(-len(layouts) // _BATCH)
        mine = parts[start : start + count]
        start += count
        joined.append(
            Tried(
                np.concatenate([part.goal_share for part in mine]),
                np.concatenate([part.wetted for part in mine]),
                mine[0].weight_share,
            )
        )
    return joined


def _worst(goals: Sequence[NDArray[float64]]) -> NDArray[float64]:
    return worst_tenth(np.stack(goals, axis=1))


def _fronts(found: dict[Layout, NDArray[float64]]) -> Iterable[Layout]:
    for port_count in sorted({len(layout) for layout in found}):
        layouts = [layout for layout in found if len(layout) == port_count]
        for k in front_of(_worst([found[layout] for layout in layouts])):
            yield layouts[k]
