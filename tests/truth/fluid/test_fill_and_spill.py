"""Which parts join and where liquid spills, by other algorithms: ``settling.components``, ``settling.barnes_2021``.

Floors are square columns of 1 cm. Two neighbours meet at the height half-way between their floors, as on a bed that
runs on from column to column; so a drop leaves a dry column towards its lowest neighbour. Hollows are not pruned here
unless a test says so: a pruned hollow is by intent part of the basin it drains to, and its liquid stands there.
"""

import heapq
from dataclasses import replace

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter, label

from soakline.fluid import basins as model
from soakline.fluid.basins import basins_of
from soakline.fluid.settle import levels, pour
from soakline.wound.body import frame_of
from soakline.wound.cavity import build_cavity
from soakline.wound.measurements import Assumptions, Opening, Pocket, Wound
from soakline.wound.sheet import lay_flat

UP = np.array([0.0, 1.0, 0.0])
TALL_CM = 6.0
CLOSE_CM = 0.03


@pytest.fixture
def unpruned(monkeypatch):
    monkeypatch.setattr(model, "PRUNED_SHARE", 1e-12)


def floor_of(floor, *, meet=np.mean):
    """Give a cavity whose floor (rows, columns) is as told, in cm; ``meet`` says where two neighbours' face begins."""
    square = ((-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0))
    wound = Wound("front", "trunk", Opening(0.5, 0.5, 2.0), pocket=Pocket(square, 1.0))
    closed = Assumptions(curvature="flat", closed=True)
    any_cavity = build_cavity(lay_flat(wound), frame_of(wound, closed), 1.0, closed=True)
    index, bed = np.arange(floor.size).reshape(floor.shape), floor.ravel()
    sides = ((index[:, :-1], index[:, 1:]), (index[:-1], index[1:]))
    link = np.concatenate([np.stack([a.ravel(), b.ravel()], axis=1) for a, b in sides]).astype(np.int32)
    x, y = (place.ravel().astype(float) for place in np.indices(floor.shape)[::-1])
    one, none, many = np.ones(floor.size), np.zeros(len(link)), np.zeros((len(link), 3))
    edges = np.zeros((3, floor.size, 3))
    edges[0, :, 0] = edges[1, :, 2] = 1.0
    edges[2, :, 1] = TALL_CM

    def at(height):
        return np.stack([x, height, y], axis=1)

    def between(height):
        return np.stack([x[link].mean(axis=1), height, y[link].mean(axis=1)], axis=1)

    sill = meet(bed[link], axis=1)
    return replace(
        any_cavity, spacing_cm=1.0, grid_count=floor.size, u_cm=x, v_cm=y, in_opening=one < 0, height_cm=TALL_CM * one,
        volume_ml=TALL_CM * one, floor_cm2=one, roof_cm2=one, centre_cm=at(bed + TALL_CM / 2), spans_cm=edges,
        floor_cm=at(bed), floor_spans_cm=edges[:2], roof_cm=at(bed + TALL_CM), link=link,
        link_way=np.zeros(len(link), dtype=np.int8), link_low_cm=between(sill),
        link_high_cm=between(sill + TALL_CM), link_bore_cm=none, link_axis=many,
    )  # fmt: skip


class Pourer:
    """Pours event by event on the columns themselves: no tree, no basins, a queue of the ways out of a pool."""

    def __init__(self, floor, *, first_met=False):
        self.bed, self.shape, self.first_met = floor.ravel(), floor.shape, first_met
        self.water = np.full(floor.size, -np.inf)

    def beside(self, column):
        row, place = divmod(column, self.shape[1])
        around = ((row - 1, place), (row, place - 1), (row, place + 1), (row + 1, place))
        inside = [(r, p) for r, p in around if 0 <= r < self.shape[0] and 0 <= p < self.shape[1]]
        return [r * self.shape[1] + p for r, p in inside]

    def ways(self, column):
        return [((self.bed[column] + self.bed[n]) / 2, n) for n in self.beside(column)]

    def room(self, pool, level):
        bed, water = self.bed[pool], np.maximum(self.bed[pool], self.water[pool])
        return float(np.maximum(np.maximum(level, bed) - water, 0.0).sum())

    def rise(self, pool, level):
        wet = [c for c in pool if self.bed[c] < level]
        self.water[wet] = np.maximum(self.water[wet], level)

    def pour(self, column, volume_ml):
        for _ in range(200 if self.first_met else 5_000):
            column, volume_ml = self.fill(column, volume_ml)
            if column is None:
                return
        # Only the planted mistake can run in a ring; what it still holds is lost, and that shows.
        assert self.first_met

    def fill(self, column, volume_ml):
        """Fill the pool at a column; give where it spills to, and with how much, or None when all found room."""
        pool, surface, out = {column: None}, self.water[column], self.ways(column)
        heapq.heapify(out)
        while out:
            level, there = heapq.heappop(out)
            if there in pool:
                continue
            # A way that the pool has risen past was tried before: what lies beyond it is as full, or stands above.
            if level > surface - 1e-12:
                if (need := self.room(list(pool), level)) >= volume_ml:
                    break
                self.rise(list(pool), level)
                volume_ml, surface = volume_ml - need, level
                if self.water[there] < level - 1e-12:
                    return self.entered(pool, level, there), volume_ml
            pool[there] = None
            for way in self.ways(there):
                heapq.heappush(out, way)
        pool = list(pool)
        surface = np.sort(np.maximum(self.bed[pool], self.water[pool]))
        reached = (volume_ml + np.cumsum(surface)) / np.arange(1, len(surface) + 1)
        self.rise(pool, float(reached[np.argmax(reached <= np.append(surface[1:], np.inf))]))
        return None, 0.0

    def entered(self, pool, level, lowest):
        if not self.first_met:
            return lowest
        # The planted mistake: the first column met that lies lower, whichever it is.
        met = [n for c in pool for n in self.beside(c) if n not in pool and max(self.bed[n], self.water[n]) < level]
        return met[0] if met else lowest


def rough(rng):
    return rng.random((8, 8)) * 2.0


def smooth(rng):
    hills = gaussian_filter(rng.random((14, 14)), 1.5, mode="nearest")
    return 2.0 * (hills - hills.min()) / np.ptp(hills)


def pours(draw, seed, floors, each):
    """Give (floor, source, mL) of many pours, a few of them small and a few that flood most of the floor."""
    rng = np.random.default_rng(seed)
    for _ in range(floors):
        floor = draw(rng)
        for _ in range(each):
            yield floor, int(rng.integers(floor.size)), float(floor.size * 1.4 * rng.random() ** 2 + 0.05)


def is_wrong(floor, cavity, source, volume_ml, twin):
    """Say whether any column stands under liquid in one and not in the other."""
    pools = pour(basins_of(cavity, UP), [(source, volume_ml)])
    twin.pour(source, volume_ml)
    bed = floor.ravel()
    ours, theirs = np.maximum(levels(pools) - bed, 0.0), np.maximum(twin.water - bed, 0.0)
    return bool((np.abs(ours - theirs) > CLOSE_CM).any())


def count_wrong(draw, seed, floors, each, **mistake):
    return sum(is_wrong(f, floor_of(f), at, ml, Pourer(f, **mistake)) for f, at, ml in pours(draw, seed, floors, each))


@pytest.mark.usefixtures("unpruned")
@pytest.mark.parametrize(("draw", "floors", "each"), [(rough, 30, 8), (smooth, 8, 8)])
def test_every_pour_ends_in_the_basin_where_the_pourer_ends(draw, floors, each):
    assert count_wrong(draw, 3, floors, each) == 0


@pytest.mark.usefixtures("unpruned")
def test_a_planted_pourer_that_enters_at_the_first_neighbour_met_is_caught():
    assert count_wrong(rough, 3, 8, 8, first_met=True) > 5


def test_pruning_moves_no_more_than_the_hollows_it_may_take():
    # A pruned hollow holds less than a 500th of the void; what stands elsewhere because of it is a few such hollows.
    astray = []
    for floor, source, volume_ml in pours(rough, 11, 20, 4):
        cavity, twin = floor_of(floor), Pourer(floor)
        pools = pour(basins_of(cavity, UP), [(source, volume_ml)])
        twin.pour(source, volume_ml)
        bed = floor.ravel()
        depth = np.maximum(levels(pools) - bed, 0.0) - np.maximum(twin.water - bed, 0.0)
        astray.append(np.maximum(depth, 0.0).sum() / cavity.void_ml)
    assert np.mean(astray) < model.PRUNED_SHARE
    assert max(astray) < 10 * model.PRUNED_SHARE


@pytest.mark.usefixtures("unpruned")
def test_pours_one_on_another_end_where_the_pourer_ends():
    rng = np.random.default_rng(8)
    for _ in range(12):
        floor = rough(rng)
        basins, twin = basins_of(floor_of(floor), UP), Pourer(floor)
        poured = [(int(rng.integers(64)), float(20 * rng.random())) for _ in range(4)]
        for one in poured:
            twin.pour(*one)
        ours = np.maximum(levels(pour(basins, poured)) - floor.ravel(), 0.0)
        assert ours == pytest.approx(np.maximum(twin.water - floor.ravel(), 0.0), abs=CLOSE_CM)


def parts_by_tree(basins, level):
    """Give each column the largest basin that has joined by a level."""
    found = basins.first.copy()
    while True:
        grown = np.where((basins.parent[found] >= 0) & (basins.top_cm[found] < level), basins.parent[found], found)
        if (grown == found).all():
            return found
        found = grown


def same_parts(ours, theirs):
    """Say whether two labellings part the columns in the same way."""
    return len(set(zip(ours, theirs, strict=True))) == len(set(ours)) == len(set(theirs))


@pytest.mark.usefixtures("unpruned")
def test_parts_below_a_level_are_those_of_the_reference_on_420_levels():
    # Cells below a level, joined side by side: steps between columns, so that a cell is open from its own floor.
    rng = np.random.default_rng(5)
    for floor in [rng.random((30, 30)) for _ in range(7)]:
        basins = basins_of(floor_of(floor, meet=np.max), UP)
        for level in np.quantile(floor, np.linspace(0.02, 0.98, 60)):
            under = (floor < level).ravel()
            theirs = label(floor < level)[0].ravel()[under]
            assert same_parts(parts_by_tree(basins, level)[under], theirs)


@pytest.mark.usefixtures("unpruned")
def test_planted_parts_that_join_corner_to_corner_are_caught():
    floor = np.random.default_rng(5).random((30, 30))
    basins = basins_of(floor_of(floor, meet=np.max), UP)
    level = float(np.quantile(floor, 0.5))
    under = (floor < level).ravel()
    corners = label(floor < level, structure=np.ones((3, 3)))[0].ravel()[under]
    assert not same_parts(parts_by_tree(basins, level)[under], corners)


@pytest.mark.usefixtures("unpruned")
def test_three_hollows_with_one_sill_stand_at_one_level_once_they_have_joined():
    # The basin of the first two holds nothing by itself; a level passes through it to the third.
    floor = np.array([[0.0, 1.0, 0.0, 1.0, 0.0]])
    cavity = floor_of(floor, meet=np.max)
    assert levels(pour(basins_of(cavity, UP), [(0, 8.0)])) == pytest.approx(np.full(5, 2.0))
