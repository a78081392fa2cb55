"""Spread model beside its fully implicit twin: the same columns and links, the same answer, the same run."""

from __future__ import annotations

import resource
import sys
import tracemalloc
from collections.abc import Callable
from os import getloadavg
from pathlib import Path
from time import process_time
from typing import Any

import numpy as np
from numpy.typing import NDArray

from soakline.fluid.posture import parse_posture
from soakline.fluid.spread import Foam, FoamSheet, Soak, lay_foam, spread
from soakline.wound.cavity import Cavity

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
from tests.truth.fluid.twins.beds import flank, reached_points
from tests.truth.fluid.twins.implicit import spread_implicit

POSTURES = ("supine", "left 30", "right 90")
FOAMS = {"k 3e-9, hc 1": Foam(3e-9, 1.0, 0.776), "k 1e-8, hc 0.3": Foam(1e-8, 0.3, 0.776)}
# Where the port lies on the sheet, in cm: half-way into the pocket, high on the far side, and high at the head end.
PORTS = ((8.0, 0.0), (-9.0, -6.0), (0.0, 12.0))
SOAK, POURED_ML = Soak(120.0, 600.0), 80.0
SPACINGS_CM = (0.75, 0.5)
REPEATS = 11

Poured = list[tuple[int, float]]


def main() -> None:
    """Compare answers, then time both; end with memory."""
    print(f"load {getloadavg()[0]:.1f}; flank pocket, 80 mL in 2 min, 10 min dwell; points are % of floor or roof")
    for spacing_cm in SPACINGS_CM:
        cavity = flank(spacing_cm)
        print(f"\n{spacing_cm * 10:.1f} mm, {len(cavity.u_cm)} columns, {cavity.floor_cm2.sum():.0f} cm2 of floor")
        print(f"  {'':45} soaked/moist/wetted: floor, roof    ours ms (least), steps    twin ms, steps")
        for name, foam in FOAMS.items():
            for port in PORTS:
                for posture in POSTURES:
                    case = f"{name}, port {port[0]:+.0f} {port[1]:+.0f}, {posture}"
                    print(f"  {case:45} {beside(*laid(cavity, posture, foam, port))}")
    memory()


def laid(cavity: Cavity, posture: str, foam: Foam, port: tuple[float, float]) -> tuple[FoamSheet, Poured]:
    """Return the sheet in a posture and what is poured where."""
    return lay_foam(cavity, parse_posture(posture).up(), foam), [(cavity.nearest(*port), POURED_ML)]


def beside(sheet: FoamSheet, poured: Poured) -> str:
    """Say how far ours lies from the twin, and how long each takes."""
    twin_ms, twin = timed_ms(lambda: spread_implicit(sheet, poured, SOAK, change_share=0.15))
    ours = spread(sheet, poured, SOAK)
    times = [timed_ms(lambda: spread(sheet, poured, SOAK))[0] for _ in range(REPEATS)]
    away: NDArray[np.float64] = reached_points(ours) - reached_points(twin)
    floor, roof = ("/".join(f"{p:+.1f}" for p in part) for part in (away[:3], away[3:]))
    return (
        f"{floor}, {roof}   {np.median(times):6.1f} ({min(times):.1f}), {ours.step_count:4}   "
        f"{twin_ms:6.0f}, {twin.step_count:4}: {twin_ms / float(np.median(times)):.0f} times ours"
    )


def memory() -> None:
    """Print what one run holds at its most, on a fine grid too, and what the process held."""
    print("\nmemory of laying and running, at most")
    for spacing_cm in (*SPACINGS_CM, 0.25):
        cavity = flank(spacing_cm)
        tracemalloc.start()
        spread(*laid(cavity, "supine", FOAMS["k 3e-9, hc 1"], PORTS[0]), SOAK)
        _, most = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        print(f"  {spacing_cm * 10:.1f} mm, {len(cavity.u_cm)} columns: {most / 1e6:.1f} MB")
    print(f"  whole process with compiler and twin: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")


def timed_ms(run: Callable[[], Any]) -> tuple[float, Any]:
    """Return what one call takes of a core, in ms, and what it gives."""
    start_s = process_time()
    given = run()
    return (process_time() - start_s) * 1e3, given


if __name__ == "__main__":
    main()
