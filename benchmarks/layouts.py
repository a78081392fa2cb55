"""Ports found by racing beside every port tried in every plausible wound; and the gain over the rule and the opening.

Without an argument a few wounds, for a first look. ``--study FOLDER`` keeps what every port does in every plausible
wound of 100 invented wounds in FOLDER, one file a wound, and goes on where it was stopped; ``--tell FOLDER`` prints the
figures of docs/layout.md from what is kept there, by racing every wound over the runs kept, and draws their picture.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import dataclass, replace
from itertools import combinations
from multiprocessing import get_context
from os import getloadavg
from pathlib import Path
from time import process_time

import numpy as np
from invented_wounds import InventedWound, fingerprint, invented
from matplotlib import rc_context
from matplotlib.figure import Figure
from numpy.typing import NDArray

from soakline.fluid.spread import Soak
from soakline.layout.candidates import find_places
from soakline.layout.ensemble import Question, foam_of
from soakline.layout.front import EVEN_SHARE, leader, worst_tenth
from soakline.layout.rule import rule_port
from soakline.layout.search import Errand, Sought, UnitFill, race, run_all
from soakline.layout.tried import GOALS, Tried
from soakline.wound.body import frame_of
from soakline.wound.cavity import build_cavity
from soakline.wound.measurements import Assumptions
from soakline.wound.plausible import Measures, draw_measures
from soakline.wound.sheet import lay_flat

ROOT = Path(__file__).resolve().parents[1]
PICTURE = ROOT / "docs" / "pictures" / "layouts.png"
SEED = 20261125
ASSUMED = Assumptions()
# 2 minutes of fill and 10 of dwell; a fill of 0.4 of what the wound takes.
SOAK, USUAL = Soak(120.0, 600.0), 0.4
DRAWS, SPACING_CM = 32, 0.75
STUDIED = 100

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Asked:
    """A wound made ready: what is sought, its plausible wounds, and by index the rule's port and the opening's."""

    place: str
    sought: Sought
    measures: list[Measures]
    rule: int
    opening: int


def ask(made: InventedWound, draws: int = DRAWS, fill_share: float = USUAL) -> Asked:
    """Make an invented wound ready for a search of single ports."""
    sheet, frame = lay_flat(made.wound), frame_of(made.wound, ASSUMED)
    cavity = build_cavity(sheet, frame, SPACING_CM)
    places = find_places(sheet, frame, made.postures).ports
    fill_ml = fill_share * cavity.void_ml * foam_of(ASSUMED, Measures()).porosity_share
    question = Question(made.wound, ASSUMED, (), made.postures, "spread", SPACING_CM)
    sought = Sought(question, places, (UnitFill("A", fill_ml),), SOAK)
    opening = next(k for k, port in enumerate(places) if port.from_edge_cm < 0.0)
    return Asked(
        made.place,
        sought,
        draw_measures(made.wound, ASSUMED, draws, SEED),
        rule_port(places, sheet, cavity, made.postures),
        opening,
    )


def study(folder: Path, count: int) -> None:
    """Try every place in every plausible wound of each invented wound that is not kept in the folder yet."""
    folder.mkdir(parents=True, exist_ok=True)
    wounds = [(number, made, folder / f"{number:03d}.npz") for number, made in enumerate(invented(count, SEED))]
    with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as two:
        for said in as_completed([two.submit(keep, *one) for one in wounds if not one[2].exists()]):
            print(said.result(), flush=True)


def keep(number: int, made: InventedWound, kept: Path) -> str:
    """Try every place of one wound and keep what came out; say what was done."""
    asked, began_s = ask(made), process_time()
    goal_share = everywhere(asked)
    seconds = process_time() - began_s
    unfinished = kept.with_suffix(".part")
    with unfinished.open("wb") as file:
        np.savez(
            file,
            goal_share=goal_share,
            rule=asked.rule,
            opening=asked.opening,
            place=asked.place,
            wound=fingerprint((made,)),
            seconds=seconds,
        )
    unfinished.rename(kept)
    return f"{number:3d} {asked.place}, {goal_share.shape[1]} places, {seconds:.0f} s"


def everywhere(asked: Asked) -> Floats:
    """Return what every place alone does in every plausible wound, (wounds, places, 4)."""
    every = tuple((place,) for place in range(len(asked.sought.places)))
    errands = [(wound, every) for wound in range(len(asked.measures))]
    return np.array(
        [tried.goal_share for tried in run_all(asked.sought, asked.measures, None, errands, lambda _: None)]
    )


@dataclass(frozen=True, slots=True, eq=False)
class Studied:
    """What is kept of one wound: goals (wounds, places, 4), the rule's and the opening's place, what the race gave.

    ``leaders`` are the places that the race found, one for each goal; ``run_share`` is how many of all runs it took,
    and ``all_s`` how many seconds of one core all runs took.
    """

    place: str
    goal_share: Floats
    rule: int
    opening: int
    leaders: tuple[int, ...]
    run_share: float
    all_s: float


def studied(folder: Path) -> list[Studied]:
    """Race every wound that is kept in a folder; a run is looked up there."""
    found: list[Studied] = []
    for kept in sorted(folder.glob("*.npz")):
        made = invented(int(kept.stem) + 1, SEED)[-1]
        with np.load(kept) as told:
            if str(told["wound"]) != fingerprint((made,)):
                print(f"{kept.name}: another wound, left out")
                continue
            asked, goal_share = ask(made), told["goal_share"]
            found.append(raced(asked, goal_share, int(told["rule"]), int(told["opening"]), float(told["seconds"])))
    return found


def raced(asked: Asked, goal_share: Floats, rule: int, opening: int, all_s: float) -> Studied:
    """Race the places of a wound whose every run is known."""

    def look_up(errands: Sequence[Errand], _told: Callable[[float], None]) -> list[Tried]:
        nothing = np.zeros((0, 0), dtype=np.uint8), np.zeros(0)
        return [Tried(goal_share[wound][[place for (place,) in layouts]], *nothing) for wound, layouts in errands]

    found = race(asked.sought, len(goal_share), look_up, seed=SEED)
    leaders = tuple(found.leader(1, goal)[0] for goal in range(len(GOALS)))
    return Studied(asked.place, goal_share, rule, opening, leaders, found.run_count / goal_share[..., 0].size, all_s)


def tell(wounds: Sequence[Studied]) -> None:
    """Print how the race does beside trying everything, and what the ports found gain over rule and opening."""
    print(f"{len(wounds)} wounds, grid {SPACING_CM * 10:g} mm, load {getloadavg()[0]:.1f}")
    spent = np.array([wound.run_share for wound in wounds])
    print(f"runs of the race, share of all: median {np.median(spent):.2f}, most {spent.max():.2f}")
    core_s = np.array([wound.run_share * wound.all_s for wound in wounds])
    few, middle, many = np.percentile(core_s, (5.0, 50.0, 95.0))
    print(f"seconds of one core for the race: median {middle:.0f} [{few:.0f}..{many:.0f}], most {core_s.max():.0f}")
    for goal, words in enumerate(GOALS):
        worst = [worst_tenth(wound.goal_share)[:, goal] for wound in wounds]
        regret = np.array([100.0 * (w.max() - w[wound.leaders[goal]]) for w, wound in zip(worst, wounds, strict=True)])
        same = sum(
            leader(worst_tenth(wound.goal_share), goal) == wound.leaders[goal] or regret[k] <= 100.0 * EVEN_SHARE
            for k, wound in enumerate(wounds)
        )
        span = np.array([100.0 * (w.max() - np.median(w)) for w in worst])
        print(
            f"{words}: same port or within half a point in {same} of {len(wounds)}; regret at most "
            f"{regret.max():.2f} points; highest minus median port {np.median(span):.1f} "
            f"[{np.percentile(span, 5):.1f}..{np.percentile(span, 95):.1f}]"
        )
    print("worst tenth of plausible wounds, points: median [5..95 %] over invented wounds, and how many above 5")
    for goal in (1, 0):
        for words, other in (("the rule", "rule"), ("the opening", "opening")):
            for place in (None, *dict.fromkeys(wound.place for wound in wounds)):
                here = [wound for wound in wounds if place in {None, wound.place}]
                line(f"{GOALS[goal]}: leader minus {words}, {place or 'all'}", [lead(w, goal, other) for w in here])
    line("the port that wets most: floor soaked below the most", [cost(w, 1, 0) for w in wounds])
    line("the port that soaks most: floor wetted below the most", [cost(w, 0, 1) for w in wounds])


def lead(wound: Studied, goal: int, other: str) -> float:
    """Return by how many points the leader in a goal lies above the rule's port or the opening's, worst tenths."""
    worst = worst_tenth(wound.goal_share)[:, goal]
    return 100.0 * float(worst[wound.leaders[goal]] - worst[getattr(wound, other)])


def cost(wound: Studied, goal: int, other: int) -> float:
    """Return by how many points the leader in one goal lies below the highest port in another."""
    worst = worst_tenth(wound.goal_share)[:, other]
    return 100.0 * float(worst.max() - worst[wound.leaders[goal]])


def line(words: str, values: Sequence[float]) -> None:
    """Print a median with its 5 to 95 % range."""
    low, middle, high = np.round(np.percentile(values, (5.0, 50.0, 95.0)), 1) + 0.0
    print(f"  {words:62} {middle:5.1f} [{low:.1f}..{high:.1f}], {sum(v > 5.0 for v in values)} of {len(values)}")


def draw(wounds: Sequence[Studied]) -> None:
    """Draw what the leader gains over rule and opening, and what wetting costs in soaking, wound by wound."""
    look = {"font.family": "sans-serif", "font.size": 9.0, "axes.spines.top": False, "axes.spines.right": False}
    with rc_context(look):
        figure = Figure(figsize=(8.6, 3.6), dpi=100, layout="constrained")
        left, right = figure.subplots(1, 2)
        for face, mark, other in (("white", "o", "rule"), ("black", "s", "opening")):
            gains = np.sort([lead(wound, 1, other) for wound in wounds])
            left.plot(
                gains, np.arange(1, len(gains) + 1), mark, color="black", mfc=face, ms=3.5, label=f"over the {other}"
            )
        left.set(xlabel="floor wetted, worst tenth: points that\nthe leading port gains", ylabel="invented wounds")
        for face, mark, goal, words in (("black", "o", 1, "wets most"), ("white", "s", 0, "soaks most")):
            at = 100.0 * np.array([worst_tenth(wound.goal_share)[wound.leaders[goal]] for wound in wounds])
            right.plot(at[:, 1], at[:, 0], mark, color="black", mfc=face, ms=3.5, label=f"port that {words}")
        right.set(xlabel="floor wetted, worst tenth, %", ylabel="floor soaked, worst tenth, %")
        for axes in (left, right):
            axes.legend(frameon=False)
        PICTURE.parent.mkdir(exist_ok=True)
        figure.savefig(PICTURE, metadata={"Software": None})


def pairs(folder: Path, count: int, fill_share: float) -> None:
    """Keep, for each wound that is not there yet, how far below the highest of all pairs the found one lies."""
    folder.mkdir(parents=True, exist_ok=True)
    for number, made in enumerate(invented(count, SEED)):
        kept = folder / f"pairs-{number:03d}.npy"
        if not kept.exists():
            np.save(kept, pair_regret(made, fill_share))
    behind = np.array([np.load(kept) for kept in sorted(folder.glob("pairs-*.npy"))])
    for goal, words in enumerate(GOALS):
        even = int((behind[:, goal] <= 100.0 * EVEN_SHARE).sum())
        print(
            f"pairs, {words}: same or within half a point in {even} of {len(behind)}, regret at most "
            f"{behind[:, goal].max():.2f}"
        )


def pair_regret(made: InventedWound, fill_share: float) -> Floats:
    """Return for each goal how many points the pair found lies below the highest of all pairs of 15 places, (4,)."""
    asked = ask(made, 8, fill_share)
    every = asked.sought.places
    few = tuple(every[k] for k in np.unique(np.linspace(0, len(every) - 1, 15).astype(int)))
    sought = replace(asked.sought, places=few, most_port_count=2)
    layouts = tuple(combinations(range(len(few)), 2))
    errands = [(wound, layouts) for wound in range(len(asked.measures))]
    known = run_all(sought, asked.measures, None, errands, lambda _: None)

    def look_up(wanted: Sequence[Errand], told: Callable[[float], None]) -> list[Tried]:
        # One place alone, or all ports at it.
        if len(set(wanted[0][1][0])) == 1:
            return run_all(sought, asked.measures, None, wanted, told)
        rows = [[layouts.index(layout) for layout in chosen] for _, chosen in wanted]
        return [
            replace(known[wound], goal_share=known[wound].goal_share[row])
            for (wound, _), row in zip(wanted, rows, strict=True)
        ]

    found = race(sought, len(asked.measures), look_up, seed=SEED)
    worst = worst_tenth(np.array([tried.goal_share for tried in known]))
    leaders = [layouts.index(found.leader(2, goal)) for goal in range(len(GOALS))]
    return np.array([100.0 * (worst[:, goal].max() - worst[k, goal]) for goal, k in enumerate(leaders)])


def main() -> None:
    """Study, tell what is kept, or look at a few wounds."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--study", type=Path, metavar="FOLDER", help="keep what every port does")
    parser.add_argument("--count", type=int, default=STUDIED, help="how many invented wounds")
    parser.add_argument("--tell", type=Path, metavar="FOLDER", help="print and draw what is kept")
    parser.add_argument("--pairs", type=Path, metavar="FOLDER", help="try every pair of 15 places in 20 wounds")
    parser.add_argument("--fill", type=float, default=USUAL, metavar="SHARE", help="each fill of a pair, of the room")
    given = parser.parse_args()
    if given.pairs:
        pairs(given.pairs, min(given.count, 20), given.fill)
    elif given.study:
        study(given.study, given.count)
    elif given.tell:
        wounds = studied(given.tell)
        tell(wounds)
        draw(wounds)
    else:
        look_at_few()


def look_at_few() -> None:
    """Try everything in two small wounds with few plausible wounds, and race beside it."""
    asked = [ask(made, draws=8) for made in invented(10, SEED)]
    few = sorted(asked, key=lambda one: len(one.sought.places))[:2]
    tell([look_at(one) for one in few])


def look_at(asked: Asked) -> Studied:
    """Try everything in one wound, and race beside it."""
    began_s = process_time()
    goal_share = everywhere(asked)
    return raced(asked, goal_share, asked.rule, asked.opening, process_time() - began_s)


if __name__ == "__main__":
    sys.exit(main())
