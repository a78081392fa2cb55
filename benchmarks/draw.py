"""Suction beside its sparse solver called as usual, all inflows at once: the same links, the same run."""

from __future__ import annotations

import math
import os
from collections.abc import Callable
from os import getloadavg
from time import process_time
from typing import Any

# Time is that of a core: the peer's dense algebra would leave threads that wait busily, and count in what comes next.
os.environ["OPENBLAS_NUM_THREADS"] = "1"

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array, csc_array, diags_array
from scipy.sparse.linalg import splu

from soakline.fluid.conduct import conduct_cm
from soakline.fluid.draw import draw, hold
from soakline.fluid.passed_over import passed_over
from soakline.fluid.suction_sheet import SuctionSheet, lay_suction
from soakline.wound.body import frame_of
from soakline.wound.cavity import Cavity, build_cavity
from soakline.wound.measurements import Assumptions, Opening, Pocket, Wound
from soakline.wound.sheet import lay_flat

SPACING_CM = 0.2
PORTS = 100
REPEATS = 15

Floats = NDArray[np.float64]


def main() -> None:
    """Compare potentials and shares, then time both in turn."""
    cavity = pocket(SPACING_CM)
    ports = [int(column) for column in np.linspace(0, cavity.grid_count - 1, PORTS)]
    sheet = lay_suction(cavity, ports)
    held = hold(sheet, cavity.volume_ml * 0.3)
    chosen = ports[20:90:20]
    inflow = inflows(sheet)
    print(f"load {getloadavg()[0]:.1f}; 30 x 23 cm at {SPACING_CM * 10:.0f} mm, ", end="")
    print(f"{len(cavity.u_cm)} columns, {len(cavity.link)} links, {PORTS} ports; ms, median (least) of {REPEATS}")
    system = matrix(cavity)
    theirs = peer(system, inflow, "MMD_AT_PLUS_A").T
    print(f"largest difference of potentials: {np.abs(theirs - sheet.potential_per_cm).max() / np.ptp(theirs):.1e}")
    share, from_zero = by_peer(system, sheet, theirs, held.held_ml, chosen)
    found = draw(held, chosen)
    print(f"largest difference of a port's share: {np.abs(share - found.port_share).max():.1e}, ", end="")
    print(f"of the potential then: {np.abs(from_zero - found.potential_per_cm).max() / np.ptp(from_zero):.1e}")
    compare(
        {
            "ours: links, factor, 100 ports alone": lambda: lay_suction(cavity, ports),
            "as usual: factor, 100 ports alone (links given)": lambda: peer(system, inflow, "MMD_AT_PLUS_A"),
            "as usual, and in its own order of columns": lambda: peer(system, inflow, "COLAMD"),
        }
    )
    print("then, for any set of four ports")
    compare(
        {
            "ours: shares by port and column, times, potentials": lambda: draw(held, chosen),
            "ours: what a steady flow passes over": lambda: passed_over(sheet, ports[50], chosen),
            "ours: other liquid, made ready once": lambda: hold(sheet, cavity.volume_ml),
        }
    )


def pocket(spacing_cm: float) -> Cavity:
    """Return a pocket of 30 x 23 cm on a flank that curves."""
    angle = np.radians(np.arange(0, 360, 2))
    wave = 1.0 + 0.1 * np.sin(3 * angle)
    line = tuple((15.0 * math.sin(a) * w, 11.5 * math.cos(a) * w) for a, w in zip(angle, wave, strict=True))
    wound = Wound("left", "trunk", Opening(6.0, 5.0, 2.0), girth_cm=104.0, pocket=Pocket(line, 1.5))
    return build_cavity(lay_flat(wound), frame_of(wound, Assumptions()), spacing_cm)


def matrix(cavity: Cavity) -> csc_array:
    """Return the links as the peer takes them: one matrix, the first column tied to zero."""
    count, conduct = len(cavity.u_cm), conduct_cm(cavity)
    i, j = cavity.link.T
    meets = coo_array((np.tile(conduct, 2), (np.r_[i, j], np.r_[j, i])), shape=(count, count)).tocsr()
    tied = np.zeros(count)
    tied[0] = 1.0
    return csc_array(diags_array(np.asarray(meets.sum(axis=1)).ravel() + tied) - meets)


def inflows(sheet: SuctionSheet) -> Floats:
    """Return each port's inflow over its disc, (n, p)."""
    inflow = np.zeros((len(sheet.part), len(sheet.port_column)))
    for number in range(len(sheet.port_column)):
        disc = slice(sheet.disc_start[number], sheet.disc_start[number + 1])
        inflow[sheet.disc_column[disc], number] = sheet.disc_share[disc]
    return inflow


def peer(system: csc_array, inflow: Floats, order: str) -> Floats:
    """Factor and solve as a user of the library would for a symmetric matrix."""
    factor = splu(system, permc_spec=order, diag_pivot_thresh=0.0, options={"SymmetricMode": True})
    return factor.solve(inflow)


def by_peer(
    system: csc_array, sheet: SuctionSheet, potential: Floats, held_ml: Floats, chosen: list[int]
) -> tuple[Floats, Floats]:
    """Return shares of ports and potentials above them, worked out anew from the peer's potentials."""
    numbers = [sheet.port_column.index(port) for port in chosen]
    disc, green = inflows(sheet)[:, numbers], potential[numbers].T
    own = splu(system).solve(held_ml / held_ml.sum())
    square = np.ones((len(chosen) + 1, len(chosen) + 1))
    square[:-1, :-1], square[-1, -1] = disc.T @ green, 0.0
    solved = np.linalg.solve(square, np.append(disc.T @ own, 1.0))
    return solved[:-1], own - green @ solved[:-1] - solved[-1]


def compare(ways: dict[str, Callable[[], Any]]) -> None:
    """Time all in turn, so that all see the same load."""
    spent: dict[str, list[float]] = {way: [] for way in ways}
    for way, run in [*ways.items()] * REPEATS:
        spent[way].append(timed_ms(run))
    mine = min(next(iter(spent.values())))
    for way, times in spent.items():
        print(f"  {way:52} {np.median(times):7.2f} ({min(times):.2f}), {min(times) / mine:.1f} times the first")


def timed_ms(run: Callable[[], Any]) -> float:
    """Return how long one call takes a core, in ms."""
    start_s = process_time()
    run()
    return (process_time() - start_s) * 1e3


if __name__ == "__main__":
    main()
