"""Does it matter where the instillation port lies? Asked of both models on invented wounds, floor of the pocket.

Two processes. Without an argument a few wounds on a coarse grid, for a first look; ``--full`` gives the figures of
docs/ports-matter.md and draws their picture. Figures are points (per cent of floor) unless said otherwise.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import Executor, ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import partial
from itertools import combinations
from os import getloadavg
from pathlib import Path
from time import perf_counter

import numpy as np
from invented_wounds import InventedWound, fingerprint, invented
from matplotlib import rc_context
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray
from scipy.stats import spearmanr

from soakline.casefile.case import Case
from soakline.casefile.read import read_case
from soakline.fluid.basins import basins_of
from soakline.fluid.posture import Posture, parse_posture
from soakline.fluid.reach import Model, ReachMap
from soakline.fluid.spread import Foam, Soak
from soakline.layout.candidates import shown_ports
from soakline.layout.ensemble import Filling, Question, foam_of, maps_of, reach_over
from soakline.layout.ports import Port
from soakline.wound.body import frame_of
from soakline.wound.cavity import Cavity, build_cavity
from soakline.wound.measurements import Assumptions, Opening, Undermining, Wound
from soakline.wound.plausible import Measures, draw_measures
from soakline.wound.sheet import Sheet, edge_at, lay_flat, reach_at

ROOT = Path(__file__).resolve().parents[1]
PICTURE = ROOT / "docs" / "pictures" / "ports-matter.png"
EXAMPLES = ROOT / "examples"
SEED = 20261125
PORTS = 12
# 2 minutes of fill and 10 of dwell.
SOAK = Soak(120.0, 600.0)
ASSUMED = Assumptions()
LIKELY = foam_of(ASSUMED, Measures())
# One assumption at a time: the likely foam, then each value that is from memory.
FOAMS = {
    "likely foam (k 3e-9 m2, hc 1 cm)": LIKELY,
    "k 1e-9 m2": Foam(1e-9, LIKELY.capillary_height_cm, LIKELY.porosity_share),
    "hc 0.3 cm": Foam(LIKELY.permeability_m2, 0.3, LIKELY.porosity_share),
    "hc 3 cm": Foam(LIKELY.permeability_m2, 3.0, LIKELY.porosity_share),
}
# Fills as shares of what the wound takes; 80 mL only where it is at most the last of these shares.
USUAL, SMALL, MOST = 0.4, 0.15, 0.8
ML_80 = 80.0
# A bed whose floor rises less than this from its lowest to its highest point is level.
LEVEL_CM = 1.0
# Ports that differ by less than this many points have no order worth the name.
ORDER_POINTS = 1.0

Floats = NDArray[np.float64]
SOAKED, MOIST, WETTED = range(3)
FACE_UP = {
    face: parse_posture(words)
    for face, words in (("front", "supine"), ("back", "prone"), ("left", "right 90"), ("right", "left 90"))
}
# A flank undermined 12 cm all round: far more wound bed than the invented wounds have.
LARGE = Wound("left", "trunk", Opening(6.0, 5.0, 2.0), 104.0, undermining=(Undermining(1, 1, None, 12.0, 1.5),))
LARGE_POSTURES = tuple(parse_posture(words) for words in ("supine", "right 30", "right 90"))
# Plausible wounds are many: coarse grids, as in the program; a finer grid is tried at the likely measures.
RANGE_SPACING_CM: dict[Model, float] = {"settled": 0.5, "spread": 0.75}
GRIDS_CM = (0.75, 0.5, 0.25)
SIDES = ("soaked", "soaked or moist", "wetted")


@dataclass(frozen=True, slots=True)
class Size:
    """How much is looked at: wounds for each model, the grids in cm, and plausible wounds for each range."""

    settled_wound_count: int
    spread_wound_count: int
    settled_spacing_cm: float
    spread_spacing_cm: float
    draws: int


QUICK = Size(40, 6, 0.5, 0.75, 16)
FULL = Size(240, 24, 0.25, 0.5, 128)


@dataclass(frozen=True, slots=True, eq=False)
class Laid:
    """A wound at its likely measures: sheet, cavity, twelve ports (the first at the opening) and where they lie."""

    wound: Wound
    assumed: Assumptions
    sheet: Sheet
    cavity: Cavity
    ports: tuple[Port, ...]
    columns: NDArray[np.intp]

    @property
    def takes_ml(self) -> float:
        """What the wound takes in mL."""
        return self.cavity.void_ml * LIKELY.porosity_share


@dataclass(frozen=True, slots=True, eq=False)
class Spreads:
    """What spreading told of one wound: shares (ports, 3) as in ``SIDES``, in one posture, small to large fills.

    ``over`` is the same in any of three postures, with a fresh fill in each. ``pairs`` (pairs, 3) are two ports with
    half of the fill each. ``rule`` and ``rule_over`` are the rule's port, ``far`` the one farthest from the opening.
    """

    takes_ml: float
    by_fill: dict[str, Floats]
    over: Floats
    pairs: Floats | None
    rule: int
    rule_over: int
    far: int
    level: bool


def main() -> None:
    """Ask each model in turn, print what came out, and draw the picture for the documented figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--full", action="store_true", help="the documented figures, with their picture")
    full = parser.parse_args().full
    size, began_s = FULL if full else QUICK, perf_counter()
    wounds = invented(size.settled_wound_count, SEED)
    few = wounds[: size.spread_wound_count]
    print(f"load {getloadavg()[0]:.1f}; two processes; seed {SEED}, wounds {fingerprint(wounds)}")
    with ProcessPoolExecutor(2) as two:
        tell_settled(wounds, size, two)
        found = {name: ask_spread(few, foam, size, two, more=foam == LIKELY) for name, foam in FOAMS.items()}
        for name, told in found.items():
            tell_spread(name, told, size)
        tell_large(size)
        tell_level(few, size, two)
        ranges = tell_ranges(few, size, two)
    if full:
        draw(found[next(iter(FOAMS))], ranges)
    print(f"\n{perf_counter() - began_s:.0f} s in all")


def tell_settled(wounds: Sequence[InventedWound], size: Size, two: Executor) -> None:
    """Print how much of the floor the port decides once liquid has found its level, and which floor."""
    told = np.array(list(two.map(partial(settled_span, spacing_cm=size.settled_spacing_cm), wounds, chunksize=4)))
    hollows = told[:, 0, 3]
    head(f"1. Settled, {len(wounds)} wounds, grid {size.settled_spacing_cm * 10:.1f} mm, {PORTS} ports, one posture")
    print(f" all ports drain into one hollow in {(hollows == 1).sum()} of {len(hollows)} wounds")
    for number, share in enumerate((USUAL, SMALL)):
        for words, chosen in (("all wounds", hollows > 0), ("wounds with more than one hollow", hollows > 1)):
            lead, span, moved = told[chosen, number, :3].T
            print(f" fill {share:.0%} of what it takes, {words} ({chosen.sum()})")
            line("   soaked: highest port minus median port", lead, over=1.0)
            line("   soaked: span over ports", span, over=1.0)
            line("   soaked through one port and not through another", moved, over=1.0)


def settled_span(made: InventedWound, spacing_cm: float) -> list[tuple[float, float, float, int]]:
    """Return for each fill: highest minus median, span, by how much two ports differ in place, hollows with a port."""
    laid = lay(made.wound, spacing_cm)
    floor = laid.cavity.floor_cm2 / laid.cavity.floor_cm2.sum()
    hollows = len(np.unique(basins_of(laid.cavity, made.postures[0].up()).leaf[laid.columns]))
    told: list[tuple[float, float, float, int]] = []
    for share in (USUAL, SMALL):
        maps = reach(laid, single(laid, share * laid.takes_ml), made.postures[:1], "settled", LIKELY)
        wet = np.array([found.floor_wet for found in maps])
        soaked = 100.0 * wet @ floor
        apart = [100.0 * float(np.maximum(a - b, 0.0) @ floor) for a in wet for b in wet]
        told.append((float(soaked.max() - np.median(soaked)), float(np.ptp(soaked)), max(apart), hollows))
    return told


def ask_spread(wounds: Sequence[InventedWound], foam: Foam, size: Size, two: Executor, *, more: bool) -> list[Spreads]:
    """Return what spreading tells of every wound in one foam; ``more`` also asks other fills and two ports at once."""
    work = partial(spread_one, foam=foam, spacing_cm=size.spread_spacing_cm, more=more)
    return list(two.map(work, wounds))


def spread_one(made: InventedWound, foam: Foam, spacing_cm: float, *, more: bool) -> Spreads:
    """Return what spreading tells of one wound."""
    laid, one = lay(made.wound, spacing_cm), made.postures[:1]
    asked_ml = {
        f"fill {share:.0%} of what it takes": share * laid.takes_ml for share in ((USUAL, SMALL) if more else (USUAL,))
    }
    if more and MOST * laid.takes_ml >= ML_80:
        asked_ml[f"{ML_80:.0f} mL"] = ML_80
    by_fill: dict[str, Floats] = {}
    maps: list[ReachMap] = []
    for name, fill_ml in asked_ml.items():
        # The first fill is looked at in every posture.
        postures = one if by_fill else made.postures
        told = reach(laid, single(laid, fill_ml), postures, "spread", foam)
        maps = maps or told
        by_fill[name] = np.array([points(laid, [found]) for found in told[:PORTS]])
    split = [split_fill(a, b, USUAL * laid.takes_ml) for a, b in combinations(laid.ports, 2)] if more else []
    together = reach(laid, split, one, "spread", foam) if more else []
    return Spreads(
        laid.takes_ml,
        by_fill,
        np.array([points(laid, maps[k::PORTS]) for k in range(PORTS)]),
        np.array([points(laid, [found]) for found in together]) if more else None,
        rule_port(laid, one),
        rule_port(laid, made.postures),
        int(away_cm(laid).argmax()),
        is_level(laid, one[0]),
    )


def tell_spread(name: str, told: Sequence[Spreads], size: Size) -> None:
    """Print what the port decides, what the rule gets of it, and what two ports give."""
    head(
        f"2. Spread, {name}: {len(told)} wounds, grid {size.spread_spacing_cm * 10:.1f} mm, {PORTS} ports, one posture"
    )
    for fill in dict.fromkeys(fill for wound in told for fill in wound.by_fill):
        tell_ports(fill, [wound.by_fill[fill] for wound in told if fill in wound.by_fill])
    half = next(iter(told[0].by_fill))
    head(f"3. The nurse's rule, {name}, {half}, wetted")
    level = sum(wound.level for wound in told)
    print(f" beds that are level in the posture, within {LEVEL_CM:g} cm: {level} of {len(told)}")
    line(" one posture: highest port minus rule", [lead(w.by_fill[half], w.rule) for w in told], over=5.0)
    line("   highest port minus port at the opening", [lead(w.by_fill[half], 0) for w in told], over=5.0)
    line("   highest port minus port farthest from it", [lead(w.by_fill[half], w.far) for w in told], over=5.0)
    line(" three postures: highest port minus rule", [lead(w.over, w.rule_over) for w in told], over=5.0)
    line("   highest port minus port at the opening", [lead(w.over, 0) for w in told], over=5.0)
    with_pairs = [(w.by_fill[half], w.pairs) for w in told if w.pairs is not None]
    if with_pairs:
        tell_pairs(half, with_pairs)


def tell_ports(fill: str, shares: Sequence[Floats]) -> None:
    """Print spans over ports, the gain over a port at the opening, and how wetted and soaked order the ports."""
    print(f" {fill} ({len(shares)} wounds)")
    for side, words in enumerate(SIDES):
        line(f"   {words}: span over ports", [np.ptp(wound[:, side]) for wound in shares])
        line(f"   {words}: highest port minus port at the opening", [lead(wound, 0, side) for wound in shares])
    differs = [w for w in shares if min(np.ptp(w[:, SOAKED]), np.ptp(w[:, WETTED])) >= ORDER_POINTS]
    if differs:
        order = [float(spearmanr(w[:, WETTED], w[:, SOAKED]).statistic) for w in differs]
        low, middle, high = np.percentile(order, (5.0, 50.0, 95.0))
        words = f"   order of ports, wetted against soaked (Spearman; in {len(order)})"
        print(f"{words:70} {middle:+.2f} [{low:+.2f}..{high:+.2f}]")
    line(
        "   the port that wets most: soaked below the highest",
        [lead(w, int(w[:, WETTED].argmax()), SOAKED) for w in shares],
    )
    line("   the port that soaks most: wetted below the highest", [lead(w, int(w[:, SOAKED].argmax())) for w in shares])


def tell_pairs(fill: str, found: Sequence[tuple[Floats, Floats]]) -> None:
    """Print what the same volume gives through two ports, each pair against the single ports."""
    head(f"4. One volume over two ports, {fill}, {len(found[0][1])} pairs")
    for side, words in enumerate(SIDES):
        over_single = [pairs[:, side].max() - singles[:, side].max() for singles, pairs in found]
        leaders = [pairs[leading_pair(singles[:, side]), side] - singles[:, side].max() for singles, pairs in found]
        middle = [np.median(pairs[:, side]) - np.median(singles[:, side]) for singles, pairs in found]
        line(f"   {words}: highest of all pairs minus highest single port", over_single, over=5.0)
        line(f"   {words}: the two highest single ports together minus highest", leaders, over=5.0)
        line(f"   {words}: median pair minus median single port", middle)


def leading_pair(singles: Floats) -> int:
    """Return the number of the pair that joins the two highest single ports."""
    first, second = sorted(int(k) for k in np.argsort(singles)[-2:])
    return list(combinations(range(PORTS), 2)).index((first, second))


def tell_level(wounds: Sequence[InventedWound], size: Size, two: Executor) -> None:
    """Print what the rule gets on level beds: the wounds laid flat, face up."""
    head("3b. The same wounds as level beds (flat, face up), wetted")
    for name, foam, share in (
        (next(iter(FOAMS)), LIKELY, USUAL),
        *((name, foam, SMALL) for name, foam in FOAMS.items()),
    ):
        work = partial(spread_level, foam=foam, spacing_cm=size.spread_spacing_cm, fill_share=share)
        told = list(two.map(work, wounds))
        line(f" {name}, fill {share:.0%}: span over ports", [np.ptp(shares[:, WETTED]) for shares, _ in told])
        line("   highest port minus port farthest from the opening (the rule)", [lead(*one) for one in told], over=5.0)
        line("   highest port minus port at the opening", [lead(shares, 0) for shares, _ in told], over=5.0)


def spread_level(made: InventedWound, foam: Foam, spacing_cm: float, fill_share: float) -> tuple[Floats, int]:
    """Return shares (ports, 3) on a level bed, and the port farthest from the opening."""
    laid = lay(made.wound, spacing_cm, replace(ASSUMED, curvature="flat"))
    maps = reach(laid, single(laid, fill_share * laid.takes_ml), (FACE_UP[made.wound.face],), "spread", foam)
    return np.array([points(laid, [found]) for found in maps]), int(away_cm(laid).argmax())


def tell_large(size: Size) -> None:
    """Print what the port decides where little liquid goes into one large pocket."""
    laid = lay(LARGE, size.spread_spacing_cm)
    floor_cm2, share = laid.cavity.floor_cm2.sum(), ML_80 / laid.takes_ml
    head(f"2b. One large pocket, {floor_cm2:.0f} cm2, {ML_80:.0f} mL: {share:.0%} of what it takes")
    for name, foam in FOAMS.items():
        for posture in LARGE_POSTURES:
            maps = reach(laid, single(laid, ML_80), (posture,), "spread", foam)
            shares = np.array([points(laid, [found]) for found in maps])
            spans = ", ".join(f"{words} {np.ptp(shares[:, side]):.1f}" for side, words in enumerate(SIDES))
            order = float(spearmanr(shares[:, WETTED], shares[:, SOAKED]).statistic)
            print(f"   {name}, {posture.name}: span over ports {spans}; order of ports {order:+.2f}")


def tell_ranges(wounds: Sequence[InventedWound], size: Size, two: Executor) -> dict[str, dict[Model, Floats]]:
    """Print the range of soaked floor over plausible wounds beside what the grid changes; return the draws."""
    head(f"7. Soaked floor over {size.draws} plausible wounds: median [5..95 %] on a coarse grid, and likely by grid")
    found: dict[str, dict[Model, Floats]] = {}
    for path in sorted(EXAMPLES.glob("*.toml")):
        asked = asked_in(read_case(path.read_bytes()).case)
        if asked is None:
            continue
        print(
            f" {path.stem}: {asked.fillings[0].fill_ml:g} mL through {asked.fillings[0].name}, {asked.postures[0].name}"
        )
        found[path.stem] = {}
        for model, spacing_cm in RANGE_SPACING_CM.items():
            question = replace(asked, model=model, spacing_cm=spacing_cm)
            found[path.stem][model] = draws = soaked_over(question, size.draws, two)
            line(f"   {model}", draws, sign="")
            grids = [likely_points(replace(question, spacing_cm=at_cm)) for at_cm in GRIDS_CM]
            at = ", ".join(f"{soaked:.1f} at {cm * 10:g} mm" for cm, soaked in zip(GRIDS_CM, grids, strict=True))
            print(f"      likely measures: {at}; apart by {np.ptp(grids):.1f}")
    widths: list[float] = []
    for made in wounds:
        laid = lay(made.wound, RANGE_SPACING_CM["settled"])
        filling = single(laid, USUAL * laid.takes_ml)[:1]
        asked = Question(made.wound, ASSUMED, filling, made.postures[:1], "settled", laid.cavity.spacing_cm)
        widths.append(float(np.subtract(*np.percentile(soaked_over(asked, size.draws, two), (95.0, 5.0)))))
    line(f" {len(widths)} invented wounds, fill {USUAL:.0%}, settled: width of the 5..95 % range", widths, sign="")
    return found


def asked_in(case: Case | None) -> Question | None:
    """Return the question of a case's first instillation port, fill and posture; None where one of them is missing."""
    if case is None or case.wound is None or not case.posture:
        return None
    fills = {unit.name: unit for unit in case.unit if unit.fill_ml and unit.fill_min and unit.dwell_min}
    port = next((port for port in case.port if port.kind == "instillation" and port.unit in fills), None)
    if port is None or port.unit is None:
        return None
    unit = fills[port.unit]
    soak = Soak(60.0 * (unit.fill_min or 0.0), 60.0 * (unit.dwell_min or 0.0))
    filling = Filling(port.name, ((port, unit.fill_ml or 0.0),), soak)
    return Question(case.wound, case.assumptions, (filling,), case.posture[:1], "settled", 0.5)


def likely_points(asked: Question) -> float:
    """Return soaked floor at the likely measures."""
    sheet = lay_flat(asked.wound)
    cavity = build_cavity(sheet, frame_of(asked.wound, asked.assumptions), asked.spacing_cm)
    found = maps_of(asked, cavity, sheet, foam_of(asked.assumptions, Measures()))[0]
    return 100.0 * float(found.floor_wet @ cavity.floor_cm2 / cavity.floor_cm2.sum())


def soaked_over(asked: Question, draws: int, two: Executor) -> Floats:
    """Return soaked floor in every plausible wound, (draws,)."""
    cavity = build_cavity(lay_flat(asked.wound), frame_of(asked.wound, asked.assumptions), asked.spacing_cm)
    measures = draw_measures(asked.wound, asked.assumptions, draws, SEED)
    return 100.0 * reach_over(asked, measures, cavity, executor=two).wound_share[:, 0, 0, 0, 0]


def lay(wound: Wound, spacing_cm: float, assumed: Assumptions = ASSUMED) -> Laid:
    """Lay a wound out with its ports: one at the opening, the others spread as far from one another as they can."""
    sheet = lay_flat(wound)
    cavity = build_cavity(sheet, frame_of(wound, assumed), spacing_cm)
    places = [shown_ports(sheet)[0], *deep_places(sheet)]
    at = np.array([sheet.point_at(port.clock, port.from_edge_cm) for port in places])
    at[0] = 0.0
    chosen = [0]
    while len(chosen) < PORTS:
        apart = np.min([np.hypot(*(at - at[k]).T) for k in chosen], axis=0)
        chosen.append(int(apart.argmax()))
    columns = [cavity.nearest(*at[k], in_opening=places[k].from_edge_cm <= 0.0) for k in chosen]
    return Laid(wound, assumed, sheet, cavity, tuple(places[k] for k in chosen), np.array(columns))


def deep_places(sheet: Sheet) -> Iterable[Port]:
    """Give a port at each half hour, in the middle of each third of the pocket's reach there."""
    for half_hour in range(24):
        clock = half_hour / 2.0 or 12.0
        reach_cm = reach_at(sheet, 15.0 * half_hour)
        if reach_cm > 0.0:
            for share in (1.0 / 6.0, 0.5, 5.0 / 6.0):
                yield Port(f"{clock:g} h, {share:.2f}", "instillation", clock, share * reach_cm)


def single(laid: Laid, fill_ml: float) -> tuple[Filling, ...]:
    """Return one filling through each port."""
    return tuple(Filling(port.name, ((port, fill_ml),), SOAK) for port in laid.ports)


def split_fill(first: Port, second: Port, fill_ml: float) -> Filling:
    """Return one filling through two ports, half each."""
    return Filling(f"{first.name} + {second.name}", ((first, fill_ml / 2.0), (second, fill_ml / 2.0)), SOAK)


def reach(
    laid: Laid, asked: Sequence[Filling], postures: Sequence[Posture], model: Model, foam: Foam
) -> list[ReachMap]:
    """Return a map for each posture and filling, postures first."""
    question = Question(laid.wound, laid.assumed, tuple(asked), tuple(postures), model, laid.cavity.spacing_cm)
    return maps_of(question, laid.cavity, laid.sheet, foam)


def points(laid: Laid, maps: Sequence[ReachMap]) -> Floats:
    """Return floor soaked, soaked or moist, and wetted, (3,), in points: what any of the maps reaches counts."""
    reached = np.max([np.cumsum(found.floor_share, axis=1) for found in maps], axis=0)
    return 100.0 * laid.cavity.floor_cm2 @ reached / laid.cavity.floor_cm2.sum()


def rule_port(laid: Laid, postures: Sequence[Posture]) -> int:
    """Return the port whose lowest relative height over the postures is greatest; on level beds the farthest out."""
    slopes = [relative_height(laid, posture) for posture in postures if not is_level(laid, posture)]
    if not slopes:
        return int(away_cm(laid).argmax())
    return int(np.min(slopes, axis=0).argmax())


def relative_height(laid: Laid, posture: Posture) -> Floats:
    """Return how high the floor lies under each port, (ports,): 0 at the floor's lowest point, 1 at its highest."""
    height = laid.cavity.floor_cm @ posture.up()
    return (height[laid.columns] - height.min()) / np.ptp(height)


def is_level(laid: Laid, posture: Posture) -> bool:
    """Say whether the floor is level in a posture."""
    return float(np.ptp(laid.cavity.floor_cm @ posture.up())) < LEVEL_CM


def away_cm(laid: Laid) -> Floats:
    """Return how far from the opening's edge each port lies, (ports,), less than 0 over the opening."""
    return np.array([port.from_edge_cm if k else -edge_at(laid.sheet, 0.0) for k, port in enumerate(laid.ports)])


def lead(shares: Floats, port: int, side: int = WETTED) -> float:
    """Return by how many points the highest port lies above one port."""
    return float(shares[:, side].max() - shares[port, side])


def head(words: str) -> None:
    """Print a heading."""
    print(f"\n{words}")


def line(words: str, values: Iterable[float], *, over: float | None = None, sign: str = "+") -> None:
    """Print a median with its 5 to 95 % range; ``over`` adds the 90th percentile and how many values lie above it."""
    at = np.array(list(values), dtype=float)
    # Adding 0 keeps a rounded nothing from being shown as less than nothing.
    low, middle, high = np.round(np.percentile(at, (5.0, 50.0, 95.0)), 1) + 0.0
    said = f"{middle:{sign}.1f} [{low:{sign}.1f}..{high:{sign}.1f}]"
    if over is not None:
        said += f", 90th percentile {np.percentile(at, 90.0):.1f}, over {over:g} in {(at > over).sum()} of {len(at)}"
    print(f"{words:70} {said}")


def draw(told: Sequence[Spreads], ranges: dict[str, dict[Model, Floats]]) -> None:
    """Draw what the port decides, what the rule gets, and how wide the doubt is, legible in black and white."""
    half = next(iter(told[0].by_fill))
    look = {"font.family": "sans-serif", "font.size": 9.0, "axes.spines.top": False, "axes.spines.right": False}
    with rc_context(look):
        figure = Figure(figsize=(8.6, 6.6), dpi=100, layout="constrained")
        grid = figure.subplots(2, 2)
        draw_spans(grid[0, 0], [wound.by_fill[half] for wound in told])
        draw_orders(grid[0, 1], [wound.by_fill[half] for wound in told])
        draw_rule(grid[1, 0], told, half)
        draw_doubt(grid[1, 1], ranges)
        figure.savefig(PICTURE, metadata={"Software": None})


def draw_spans(axes: Axes, shares: Sequence[Floats]) -> None:
    """Draw for each wound the lowest, median and highest port."""
    order = np.argsort([np.ptp(wound[:, WETTED]) for wound in shares])
    for place, (side, mark) in enumerate(((WETTED, "o"), (SOAKED, "s"))):
        for row, number in enumerate(order):
            of_ports = shares[number][:, side]
            across = row + 0.36 * place
            axes.plot(
                [across] * 2, [of_ports.min(), of_ports.max()], color="black", linewidth=2.2 if side == WETTED else 0.8
            )
            axes.plot(
                across, np.median(of_ports), mark, color="black", mfc="black" if side == WETTED else "white", ms=4
            )
    axes.plot([], [], "o-", color="black", linewidth=2.2, ms=4, label="wetted at some time")
    axes.plot([], [], "s-", color="black", mfc="white", linewidth=0.8, ms=4, label="soaked")
    axes.legend(frameon=False, loc="upper center", bbox_to_anchor=(0.5, 1.16), ncols=2, fontsize=8)
    axes.set(xlabel="invented wounds, by how much the port decides", ylabel="wound bed, %", ylim=(0, 102), xticks=[])


def draw_orders(axes: Axes, shares: Sequence[Floats]) -> None:
    """Draw each port of each wound: wetted against soaked, both from the wound's median port."""
    away = [wound - np.median(wound, axis=0) for wound in shares]
    every = np.concatenate(away)
    axes.plot(every[:, WETTED], every[:, SOAKED], ".", color="0.45", ms=4, label="each of twelve ports")
    opening = np.array([wound[0] for wound in away])
    axes.plot(
        opening[:, WETTED], opening[:, SOAKED], "s", color="black", mfc="white", ms=5, label="port at the opening"
    )
    axes.axhline(0.0, color="black", linewidth=0.5)
    axes.axvline(0.0, color="black", linewidth=0.5)
    axes.legend(frameon=False, loc="upper center", bbox_to_anchor=(0.5, 1.16), ncols=2, fontsize=8)
    axes.set(xlabel="wetted, points from the median port", ylabel="soaked, points from the median port")


def draw_rule(axes: Axes, told: Sequence[Spreads], half: str) -> None:
    """Draw how far below the highest port the opening, the farthest port and the rule lie, wound by wound."""
    ways: tuple[tuple[str, Callable[[Spreads], int]], ...] = (
        ("at the\nopening", lambda wound: 0),  # noqa: ARG005  # the first port is always the one at the opening
        ("farthest from\nthe opening", lambda wound: wound.far),
        ("highest floor\n(the rule)", lambda wound: wound.rule),
    )
    for place, (_, port_of) in enumerate(ways):
        behind = np.sort([-lead(wound.by_fill[half], port_of(wound)) for wound in told])
        axes.plot(place + np.linspace(-0.25, 0.25, len(behind)), behind, "o", color="black", mfc="white", ms=4)
        axes.plot([place - 0.3, place + 0.3], [np.median(behind)] * 2, color="black", linewidth=2.2)
    axes.axhline(0.0, color="black", linewidth=0.5)
    axes.set_xticks(range(len(ways)), [words for words, _ in ways])
    axes.set(xlabel="instillation port (bar: median wound)", ylabel="wetted, points from the port\nthat wets most")


def draw_doubt(axes: Axes, ranges: dict[str, dict[Model, Floats]]) -> None:
    """Draw the 5 to 95 % range and the median of soaked floor of each example, by both models."""
    looks: dict[Model, tuple[str, str]] = {"settled": ("s", "white"), "spread": ("o", "black")}
    for row, by_model in enumerate(ranges.values()):
        for place, (model, soaked) in enumerate(by_model.items()):
            low, middle, high = np.percentile(soaked, (5.0, 50.0, 95.0))
            mark, face = looks[model]
            down = row + 0.25 * place
            axes.plot([low, high], [down, down], color="black", linewidth=1.2)
            axes.plot(middle, down, mark, color="black", mfc=face, ms=5, label=model if row == 0 else None)
    axes.legend(frameon=False, loc="upper center", bbox_to_anchor=(0.5, 1.16), ncols=2, fontsize=8)
    axes.set_yticks(np.arange(len(ranges)) + 0.12, [name.replace("-", " ") for name in ranges], fontsize=8)
    axes.invert_yaxis()
    axes.set(xlabel="soaked wound bed of the examples, %\n(line: 5 to 95 % of plausible wounds)", xlim=(-3, 103))


if __name__ == "__main__":
    sys.exit(main())
