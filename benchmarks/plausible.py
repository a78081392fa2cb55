"""Settled reach in 200 plausible wounds, six postures and 35 ports, beside the same by general graph components.

The peer finds levels, so the two are set side by side in foam that holds nothing; foam that holds liquid is timed too.
"""

from __future__ import annotations

from concurrent.futures import Executor, ProcessPoolExecutor
from dataclasses import replace
from multiprocessing import get_context
from os import getloadavg
from time import perf_counter, process_time

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from soakline.fluid.basins import Basins, basins_of
from soakline.fluid.posture import parse_posture
from soakline.layout.ensemble import Filling, Over, Question, reach_over
from soakline.layout.ports import Port, column_of
from soakline.units import Range
from soakline.wound.body import frame_of
from soakline.wound.cavity import Cavity, build_cavity
from soakline.wound.measurements import Assumptions, Opening, Undermining, Wound
from soakline.wound.plausible import Measures, draw_measures, foam_at, wound_at
from soakline.wound.sheet import lay_flat

WOUNDS, PORTS, FILL_ML = 200, 35, 80.0
POSTURES = ("supine", "left 30", "right 30", "head up 30", "right 60", "right 30 head up 20")
# The grid on which the plan works out ranges.
SPACING_CM = 0.5
REPEATS = 5
# The peer answers every so many wounds and ports.
WOUND_STRIDE, PORT_STRIDE = 40, 7

Floats = NDArray[np.float64]

WOUND = Wound(
    "left",
    "trunk",
    Opening(6.0, 5.0, 2.5),
    girth_cm=104.0,
    undermining=(
        Undermining(from_clock=10, to_clock=2, reach_cm=13.0, height_cm=Range(1.0, 1.5, 2.0)),
        Undermining(from_clock=2, to_clock=6, reach_cm=10.0, height_cm=Range(0.8, 1.2, 1.8), basis="estimated"),
        Undermining(from_clock=6, to_clock=10, reach_cm=13.0, height_cm=Range(1.0, 1.5, 2.0)),
    ),
)


def main() -> None:
    """Compare answers, then time ours alone and on two processes that are already running."""
    sheet, assumptions = lay_flat(WOUND), Assumptions(capillary_height_cm=0.0)
    likely = build_cavity(sheet, frame_of(WOUND, assumptions), SPACING_CM)
    fillings = tuple(Filling(port.name, ((port, FILL_ML),)) for port in ports())
    asked = Question(WOUND, assumptions, fillings, tuple(map(parse_posture, POSTURES)), "settled", SPACING_CM)
    measures = draw_measures(WOUND, assumptions, 256, seed=1)[:WOUNDS]
    print(
        f"load {getloadavg()[0]:.1f}; bed of {likely.floor_cm2.sum():.0f} cm², {len(likely.u_cm)} columns of ", end=""
    )
    print(
        f"{SPACING_CM * 10:.0f} mm; {WOUNDS} wounds x {len(POSTURES)} postures x {len(fillings)} ports, {FILL_ML:g} mL"
    )
    alone = reach_over(asked, measures, likely)
    compare(asked, measures, alone)
    print(f"s, median (least) of {REPEATS}: wounds, cavities, trees, pours, reach by wound and by patch")
    begun = process_time()
    tell("one process", times_s(asked, measures, likely, None))
    print(f"  of the processor's time: {(process_time() - begun) / REPEATS:.2f}")
    begun = process_time()
    holding = replace(asked, assumptions=Assumptions())
    tell("one process, foam that holds liquid", times_s(holding, measures, likely, None))
    print(f"  of the processor's time: {(process_time() - begun) / REPEATS:.2f}")
    begun = perf_counter()
    with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as executor:
        shared = reach_over(asked, measures, likely, executor=executor)
        print(f"  first answer of two processes, their start included: {perf_counter() - begun:.2f}")
        tell("two processes, running", times_s(asked, measures, likely, executor))
    same = np.array_equal(shared.wound_share, alone.wound_share, equal_nan=True)
    print(f"  the same on one process and on two: {same and np.array_equal(shared.patch_share, alone.patch_share)}")


def ports() -> list[Port]:
    """Return one port over the opening and 34 in the pocket, hour by hour."""
    deep = [(hour, from_edge_cm) for hour in range(1, 13) for from_edge_cm in (1.5, 5.0, 8.5)]
    places = [(12, -2.0), *deep][:PORTS]
    return [Port(f"{hour}, {cm:g} cm", "instillation", float(hour), cm) for hour, cm in places]


def compare(asked: Question, measures: list[Measures], ours: Over) -> None:
    """Print how far a few answers lie from the peer's, and how long the peer takes for one."""
    apart: list[float] = []
    spilled, spent_s = 0, 0.0
    for number in range(0, len(measures), WOUND_STRIDE):
        wound = wound_at(asked.wound, measures[number])
        sheet = lay_flat(wound)
        cavity = build_cavity(sheet, frame_of(wound, asked.assumptions), asked.spacing_cm)
        void_ml = FILL_ML / foam_at(asked.assumptions, measures[number])[0]
        for place, posture in enumerate(asked.postures):
            basins = basins_of(cavity, posture.up())
            for filling in range(0, len(asked.fillings), PORT_STRIDE):
                column = column_of(asked.fillings[filling].poured_ml[0][0], sheet, cavity)
                begun = perf_counter()
                soaked = peer_soaked(basins, column, void_ml)
                spent_s += perf_counter() - begun
                if soaked is None:
                    spilled += 1
                else:
                    apart.append(abs(soaked - ours.wound_share[number, place, filling, 0, 0]))
    runs = len(apart) + spilled
    print(f"peer on {runs} of them: soaked floor apart by {max(apart) * 100:.3f} points at most, ", end="")
    print(f"{np.mean(apart) * 100:.3f} on average; {spilled} not compared, liquid runs over a sill there")
    ms = spent_s / runs * 1e3
    asked_runs = len(measures) * len(asked.postures) * len(asked.fillings)
    print(f"peer: {ms:.1f} ms an answer (heights given), {ms * asked_runs / 1e3:.0f} s for all")


def peer_soaked(basins: Basins, column: int, void_ml: float) -> float | None:
    """Return the soaked share of the floor by halving the level until its connected part holds the void.

    None where no level does: the part at a port jumps in size at a sill.
    """
    cavity = basins.cavity
    level = np.minimum(cavity.link_low_cm @ basins.up, cavity.link_high_cm @ basins.up)
    start = peer_bottom(cavity, level, column)
    low, high = float(basins.low_cm[start]), float((basins.low_cm + basins.width_cm).max())
    for _ in range(40):
        middle = (low + high) / 2.0
        inside = peer_part(cavity, level <= middle, start)
        if ramp(basins.low_cm, basins.width_cm, middle)[inside] @ cavity.volume_ml[inside] < void_ml:
            low = middle
        else:
            high = middle
    inside = peer_part(cavity, level <= low, start)
    held_ml = ramp(basins.low_cm, basins.width_cm, low)[inside] @ cavity.volume_ml[inside]
    if abs(held_ml / void_ml - 1.0) > 1e-6:
        return None
    floor = ramp(basins.floor_low_cm, basins.floor_width_cm, low)[inside] @ cavity.floor_cm2[inside]
    return float(floor / cavity.floor_cm2.sum())


def peer_bottom(cavity: Cavity, level: Floats, column: int) -> int:
    """Follow the lowest links down from a column until they lead back."""
    ends = np.concatenate([cavity.link, cavity.link[:, ::-1]])
    order = np.lexsort((np.tile(level, 2), ends[:, 0]))
    lowest = np.full((len(cavity.u_cm), 2), (-1.0, np.inf))
    first = order[np.flatnonzero(np.diff(ends[order, 0], prepend=-1))]
    lowest[ends[first, 0], 0], lowest[ends[first, 0], 1] = ends[first, 1], np.tile(level, 2)[first]
    while lowest[(ahead := int(lowest[column, 0])), 1] < lowest[column, 1]:
        column = ahead
    return column


def peer_part(cavity: Cavity, is_open: NDArray[np.bool_], start: int) -> NDArray[np.bool_]:
    """Return the columns that open links join to one."""
    count = len(cavity.u_cm)
    first, second = cavity.link[is_open].T
    _, part = connected_components(
        coo_array((np.ones(len(first)), (first, second)), shape=(count, count)), directed=False
    )
    return part == part[start]


def ramp(low: Floats, width: Floats, level: float) -> Floats:
    """Return the share of each ramp that lies under a level."""
    return np.clip((level - low) / width, 0.0, 1.0)


def times_s(asked: Question, measures: list[Measures], likely: Cavity, executor: Executor | None) -> list[float]:
    """Return how long the whole answer takes, in s, run after run."""
    spent: list[float] = []
    for _ in range(REPEATS):
        begun = perf_counter()
        reach_over(asked, measures, likely, executor=executor)
        spent.append(perf_counter() - begun)
    return spent


def tell(what: str, spent_s: list[float]) -> None:
    """Print a median and the least."""
    print(f"  {what}: {np.median(spent_s):.2f} ({min(spent_s):.2f})")


if __name__ == "__main__":
    main()
