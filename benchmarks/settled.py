"""Settled model beside a general-purpose tree library: the same graph, the same answer, the same run."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from os import getloadavg
from time import perf_counter
from typing import Any

import higra as hg
import numpy as np
from numpy.typing import NDArray

from soakline.fluid.basins import PRUNED_SHARE, Basins, basins_of, curves_along
from soakline.fluid.posture import parse_posture
from soakline.fluid.settle import curves_by_leaf
from soakline.wound.body import frame_of
from soakline.wound.cavity import Cavity, build_cavity
from soakline.wound.measurements import Assumptions, Opening, Pocket, Wound
from soakline.wound.sheet import lay_flat

POSTURES = ("supine", "prone", "left 30", "right 30", "left 90", "left 30 head up 30")
SPACING_CM = 0.2
# Levels at which curves are kept, as in our model: the peer answers at the same levels.
LEVEL_STEP_CM = 0.02
REPEATS = 21

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]


def main() -> None:
    """Compare answers, then time both in turn; end with how our time grows as the grid becomes finer."""
    ups = [parse_posture(posture).up() for posture in POSTURES]
    print(f"load {getloadavg()[0]:.1f}; ms for {len(POSTURES)} postures, median (least) of {REPEATS} runs in turn")
    for name, lobes in (("smooth pocket", 0), ("pocket with nine lobes", 9)):
        cavity = pocket(SPACING_CM, lobes)
        trees = [basins_of(cavity, up) for up in ups]
        given = [Prepared.of(tree, up) for tree, up in zip(trees, ups, strict=True)]
        apart = [differences(tree, peer_basins(piece)) for tree, piece in zip(trees, given, strict=True)]
        print(f"\n{name}, 30 x 23 cm, {len(cavity.u_cm)} columns, {len(cavity.link)} links")
        print(f"basins: {', '.join(f'{len(t.parent)} {p}' for t, p in zip(trees, POSTURES, strict=True))}")
        print(f"largest difference: {max(a[0] for a in apart):.1e} cm of level at which basins join, ", end="")
        print(f"{max(a[1] for a in apart):.1e} of columns in another basin, ", end="")
        print(f"{max(a[2] for a in apart):.1e} of volume at a spill level, {max(a[3] for a in apart):.1e} of curves")
        compare(cavity, ups, given)
    print("\nhow our time grows with the grid (smooth pocket)")
    growth(ups)


def pocket(spacing_cm: float, lobes: int) -> Cavity:
    """Return a pocket of 30 x 23 cm on a flank that curves, with so many lobes along its far edge."""
    angle = np.radians(np.arange(0, 360, 2))
    wave = 1.0 + 0.25 * np.sin(lobes * angle) if lobes else 1.0 + 0.1 * np.sin(3 * angle)
    line = tuple((15.0 * math.sin(a) * w, 11.5 * math.cos(a) * w) for a, w in zip(angle, wave, strict=True))
    wound = Wound("left", "trunk", Opening(6.0, 5.0, 2.0), girth_cm=104.0, pocket=Pocket(line, 1.5))
    return build_cavity(lay_flat(wound), frame_of(wound, Assumptions()), spacing_cm)


def ours(cavity: Cavity, ups: list[Floats]) -> list[Any]:
    """Work out, in every posture, all basins and the whole curve of every source."""
    return [curves_by_leaf(basins_of(cavity, up)) for up in ups]


@dataclass(frozen=True, slots=True, eq=False)
class Prepared:
    """What the peer is given, ready made: the graph with its levels, and each column's ramps of volume, floor, roof."""

    graph: hg.UndirectedGraph
    edges: tuple[Whole, Whole, int]
    level: Floats
    low: Floats
    width: Floats
    ramps: tuple[tuple[Floats, Floats, Floats], ...]
    pruned_ml: float

    @classmethod
    def of(cls, tree: Basins, up: Floats) -> Prepared:
        """Take columns as our model sees them; the links' levels are worked out anew, by their definition."""
        cavity = tree.cavity
        first, second = (cavity.link[:, side].astype(np.int64) for side in (0, 1))
        graph = hg.UndirectedGraph(len(cavity.u_cm))
        graph.add_edges(first, second)
        level = np.minimum(cavity.link_low_cm @ up, cavity.link_high_cm @ up)
        ramps = (
            (tree.low_cm, tree.width_cm, cavity.volume_ml),
            (tree.floor_low_cm, tree.floor_width_cm, cavity.floor_cm2),
            (tree.roof_low_cm, tree.roof_width_cm, cavity.roof_cm2),
        )
        pruned_ml = PRUNED_SHARE * cavity.void_ml
        return cls(graph, (first, second, len(cavity.u_cm)), level, tree.low_cm, tree.width_cm, ramps, pruned_ml)


@dataclass(frozen=True, slots=True, eq=False)
class PeerBasins:
    """The peer's answer: basins with the levels at which they spill, which column is in which, and their curves."""

    first: Whole
    parent: Whole
    bottom: Floats
    top: Floats
    start: Whole
    curves: list[Floats]


def peer_tree(given: Prepared) -> tuple[Any, Floats]:
    """Build the peer's tree in its quickest way: edges as arrays, no spanning tree kept."""
    return hg.bpt_canonical(given.edges, given.level, compute_mst=False)


def peer_plain(given: Prepared) -> Floats:
    """Do the least that gives volumes: the tree by its usual call, and each node's volume at its own level, roughly."""
    tree, altitude = hg.bpt_canonical(given.graph, given.level)
    most, rate, rate_low = held_of(tree, given).T
    return np.minimum(most, rate * altitude - rate_low)


def held_of(tree: hg.Tree, given: Prepared) -> Floats:
    """Sum up the tree what bounds a node's volume at a level: all of it, its rise per cm, and where the rise starts."""
    rate = given.ramps[0][2] / given.width
    # A column may join before it starts to fill; it never holds less than nothing.
    lowest_link = np.full(len(given.low), np.inf)
    for ends in given.edges[:2]:
        np.minimum.at(lowest_link, ends, given.level)
    leaves = np.stack([given.ramps[0][2], rate, rate * np.minimum(given.low, lowest_link)], axis=1)
    return hg.accumulate_sequential(tree, leaves, hg.Accumulators.sum)


def peer_basins(given: Prepared) -> PeerBasins:
    """Get basins and curves of volume, floor and roof as a user of the library would: its tree and passes, numpy."""
    tree, altitude = peer_tree(given)
    parents, root, leaves = tree.parents(), tree.root(), tree.num_leaves()
    most, rate, rate_low = held_of(tree, given).T
    keeps = np.minimum(most, rate * altitude[parents] - rate_low) >= given.pruned_ml
    joins = hg.accumulate_parallel(tree, keeps.astype(float), hg.Accumulators.min) == 1.0
    joins[:leaves] = False
    is_top = joins[parents]
    is_top[root] = True
    has_joins = hg.accumulate_and_max_sequential(tree, joins.astype(float), np.zeros(leaves), hg.Accumulators.max) > 0
    nodes = np.arange(len(parents))
    top_of = hg.propagate_sequential(tree, nodes, ~is_top)
    first_top = top_of[hg.propagate_sequential(tree, nodes, ~(is_top | has_joins))[:leaves]]
    tops = np.flatnonzero(is_top)
    number = np.full(len(parents), -1)
    number[tops] = np.arange(len(tops))
    first = number[first_top]
    parent = np.where(tops == root, -1, number[top_of[parents[tops]]])
    top = altitude[parents[tops]]
    return _with_curves(given, first, parent, top)


def _with_curves(given: Prepared, first: Whole, parent: Whole, top: Floats) -> PeerBasins:
    bottom = np.full(len(parent), np.inf)
    inner = parent >= 0
    bottom[parent[inner]] = top[inner]
    top = np.where(inner, top, max(float((low + width).max()) for low, width, _ in given.ramps))
    lowest = np.full(len(parent), np.inf)
    np.minimum.at(lowest, first, given.low)
    bottom = np.minimum(np.where(np.isinf(bottom), lowest, bottom), top)
    steps = np.maximum(1, np.ceil((top - bottom) / LEVEL_STEP_CM).astype(int))
    start = np.concatenate([[0], np.cumsum(steps + 1)])
    curves = [_curve(first, parent, bottom, top, steps, start, *ramp) for ramp in given.ramps]
    return PeerBasins(first, parent, bottom, top, start, curves)


def _curve(
    first: Whole, parent: Whole, bottom: Floats, top: Floats, steps: Whole, start: Whole,
    low: Floats, width: Floats, amount: Floats,
) -> Floats:  # fmt: skip
    """Sum ramps as second differences, basin by basin up the tree."""
    at = start[:-1] + 2 * np.arange(len(parent))
    step = (top - bottom) / steps
    bend = np.zeros(start[-1] + 2 * len(parent))
    jump = np.bincount(first, amount * np.clip((bottom[first] - low) / width, 0.0, 1.0), len(parent))
    k, high, rate = first, low + width, amount / width
    while len(k):
        begin, end = np.maximum(low, bottom[k]), np.minimum(high, top[k])
        for place, sign in ((begin, 1.0), (end, -1.0)):
            where = np.minimum((place - bottom[k]) / step[k], steps[k])
            j = where.astype(int)
            slope = np.where(begin < end, sign * rate * step[k], 0.0)
            bend += np.bincount(at[k] + j + 1, slope * (1.0 - where + j), len(bend))
            bend += np.bincount(at[k] + j + 2, slope * (where - j), len(bend))
        on = (high > top[k]) & (parent[k] >= 0)
        k, low, high, rate = parent[k[on]], low[on], high[on], rate[on]
    pieces = [
        jump[b] + np.cumsum(np.cumsum(bend[at[b] : at[b] + steps[b] + 1])) for b in range(len(parent))
    ]  # fmt: skip
    return np.concatenate(pieces)


def differences(tree: Basins, peer: PeerBasins) -> tuple[float, float, float, float]:
    """Return how far the answers lie apart: levels at which basins join, columns, volumes at spill, curves.

    The peer numbers basins in its own way: they are matched by the columns that they hold.
    """
    if len(tree.parent) != len(peer.parent):
        return math.inf, math.inf, math.inf, math.inf
    ours_of = np.full(len(peer.parent), -1)
    ours_of[peer.first] = tree.first
    for b in np.flatnonzero(peer.parent >= 0):  # a basin may hold no column of its own: it is matched by its children
        ours_of[peer.parent[b]] = tree.parent[ours_of[b]]
    spill = np.sort(tree.top_cm[tree.parent >= 0]) - np.sort(peer.top[peer.parent >= 0])
    moved = float((ours_of[peer.first] != tree.first).mean())
    along = tree.first, tree.parent, tree.bottom_cm, tree.top_cm, tree.start
    floor = curves_along(*along, tree.floor_low_cm, tree.floor_width_cm, tree.cavity.floor_cm2)
    roof = curves_along(*along, tree.roof_low_cm, tree.roof_width_cm, tree.cavity.roof_cm2)
    volume, curves = [0.0], [0.0]
    for b, k in enumerate(ours_of):
        if k < 0:
            continue
        for mine, theirs in zip((tree.curve_ml, floor, roof), peer.curves, strict=True):
            a = mine[tree.start[k] : tree.start[k + 1]]
            c = theirs[peer.start[b] : peer.start[b + 1]]
            if len(a) != len(c):
                return math.inf, moved, math.inf, math.inf
            curves.append(float(np.abs(a - c).max() / max(mine.max(), 1e-9)))
        volume.append(abs(peer.curves[0][peer.start[b + 1] - 1] / tree.own_ml[k] - 1.0))
    return float(np.abs(spill).max(initial=0.0)), moved, max(volume), max(curves)


def compare(cavity: Cavity, ups: list[Floats], given: list[Prepared]) -> None:
    """Time our model and the peer in turn, so that both see the same load."""
    ways: dict[str, Callable[[], Any]] = {
        "ours: heights, tree, curves of volume, floor, roof": lambda: ours(cavity, ups),
        "peer: tree and the same curves (heights given)": lambda: [peer_basins(g) for g in given],
        "peer: usual call and rough volumes alone": lambda: [peer_plain(g) for g in given],
        "peer: its tree alone, quickest call": lambda: [peer_tree(g) for g in given],
    }
    spent: dict[str, list[float]] = {way: [] for way in ways}
    for _ in range(REPEATS):
        for way, run in ways.items():
            spent[way].append(timed_ms(run))
    least = {way: min(times) for way, times in spent.items()}
    mine = next(iter(least.values()))
    for way, times in spent.items():
        print(f"  {way:52} {np.median(times):6.1f} ({least[way]:.1f}), {least[way] / mine:.1f} times ours")


def growth(ups: list[Floats]) -> None:
    """Print our time on finer and finer grids, and the slope of log time against log columns."""
    columns, least = [], []
    for spacing_cm in (0.4, 0.28, 0.2, 0.14, 0.1):
        cavity = pocket(spacing_cm, 0)
        times = [timed_ms(lambda cavity=cavity: ours(cavity, ups)) for _ in range(REPEATS)]
        columns.append(len(cavity.u_cm))
        least.append(min(times))
        print(f"  {spacing_cm * 10:.1f} mm, {columns[-1]} columns: {np.median(times):.1f} ({least[-1]:.1f}) ms")
    slope = np.polyfit(np.log(columns), np.log(least), 1)[0]
    print(f"  slope of log time against log columns: {slope:.2f}")


def timed_ms(run: Callable[[], Any]) -> float:
    """Return how long one call takes, in ms."""
    start_s = perf_counter()
    run()
    return (perf_counter() - start_s) * 1e3


if __name__ == "__main__":
    main()
