"""Ports found by racing beside every port tried in every plausible wound; and the gain over the rule and the opening.

Without an argument a few wounds, for a first look. ``--study FOLDER`` keeps what every port does in every plausible
wound of 100 invented wounds in FOLDER, one file a wound, and goes on where it was stopped; ``--tell FOLDER`` prints the
figures of docs/layout.md from what is kept there, and ``--picture FOLDER`` draws them too.
"""

from __future__ import annotations

import argparse
import sys
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path
from time import process_time

import numpy as np
from invented_wounds import InventedWound, fingerprint, invented
from numpy.typing import NDArray

from soakline.fluid.spread import Soak
from soakline.layout.candidates import find_places
from soakline.layout.ensemble import Question, foam_of
from soakline.layout.rule import rule_port
from soakline.layout.search import Sought, UnitFill, run_all
from soakline.wound.body import frame_of
from soakline.wound.cavity import build_cavity
from soakline.wound.measurements import Assumptions
from soakline.wound.plausible import Measures, draw_measures
from soakline.wound.sheet import lay_flat

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


def ask(made: InventedWound, draws: int = DRAWS) -> Asked:
    """Make an invented wound ready for a search of single ports."""
    sheet, frame = lay_flat(made.wound), frame_of(made.wound, ASSUMED)
    cavity = build_cavity(sheet, frame, SPACING_CM)
    places = find_places(sheet, frame, made.postures).ports
    fill_ml = USUAL * cavity.void_ml * foam_of(ASSUMED, Measures()).porosity_share
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


def main() -> None:
    """Study, tell or look."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--study", type=Path, metavar="FOLDER")
    parser.add_argument("--count", type=int, default=STUDIED)
    given = parser.parse_args()
    if given.study:
        study(given.study, given.count)


if __name__ == "__main__":
    sys.exit(main())
