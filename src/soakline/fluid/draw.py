"""Suction: which port draws which part of the liquid, how slowly, and what no port draws.

Foam squeezed by suction is full of liquid that flows to the suction ports down a potential; ports on one suction stand
at one pressure (``equal_pressure``). Gravity is left out: it is small beside suction.

Which port draws what depends neither on how permeable the foam is nor on how far it is squeezed, as long as both are
the same everywhere; times and pressures do, and so does what stays (``left_behind``). Source keys ``foam.squeeze``,
``foam.permeability``, ``foam.porosity``: all from memory, so every answer in minutes, mmHg or mL is a range and
exploratory.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numba
import numpy as np
from numpy import bool_, float64
from numpy.typing import NDArray

from soakline.fluid.equal_pressure import balance
from soakline.fluid.factor import potentials_per_cm
from soakline.fluid.spread import Foam
from soakline.fluid.suction_sheet import SuctionSheet, mean_over_discs, port_numbers
from soakline.units import MMHG_PER_CM_WATER, Extremes

EXPLORATORY = "exploratory: squeeze, permeability and capillary height of foam are from memory, not measured"
# What foam keeps of its free volume under suction (source key ``foam.squeeze``).
SQUEEZE_SHARE = Extremes(0.2, 0.5)
# Permeability of foam in a wound (source key ``foam.permeability``).
PERMEABILITY_M2 = Extremes(1e-9, 1e-8)
# Pores of foam that is not squeezed (source key ``foam.porosity``); squeezing takes from pores alone.
POROSITY_SHARE = 0.97
# Less than this share of all flow is none: what rounding leaves in a dead arm.
_STILL_SHARE = 1e-10


@dataclass(frozen=True, slots=True, eq=False)
class Held:
    """Liquid at rest before suction, (n,) in mL, and what it does by itself: potentials as in ``SuctionSheet``.

    ``potential_per_cm`` (n,) of all of it as an inflow of one, ``at_ports_per_cm`` (p,) its mean over each port's disc,
    ``part_share`` the share of it in each connected part.
    """

    sheet: SuctionSheet
    held_ml: NDArray[float64]
    potential_per_cm: NDArray[float64]
    at_ports_per_cm: NDArray[float64]
    part_share: NDArray[float64]


@dataclass(frozen=True, slots=True, eq=False)
class Drawn:
    """What suction at k ports draws of liquid at rest.

    ``port_share`` (k,) is the share of all liquid that each port draws and ``column_share`` (n, k) its share of each
    column's (0 where nothing moves). ``undrawn`` (n,) are columns from which no way leads to a suction port, and
    ``undrawn_ml`` what stands there. ``travel_ratio`` (n,) is how long liquid takes to a port over the time in which
    the drawn parts' pores flow out once: its mean over drawn liquid is 1; infinite where nothing moves.
    ``potential_per_cm`` (n,) lies above that of the ports, for a drawn flow of one; 0 where nothing is drawn.
    """

    sheet: SuctionSheet
    held_ml: NDArray[float64]
    port_column: tuple[int, ...]
    port_share: NDArray[float64]
    column_share: NDArray[float64]
    undrawn: NDArray[bool_]
    undrawn_ml: float
    travel_ratio: NDArray[float64]
    potential_per_cm: NDArray[float64]


@dataclass(frozen=True, slots=True, eq=False)
class Blocked:
    """What a blocked port or branch changes: mL that nothing draws any more, and mL that another port now draws.

    ``undrawn`` (n,) are the columns that were drawn before and are not now.
    """

    undrawn_ml: float
    rerouted_ml: float
    undrawn: NDArray[bool_]


def hold(sheet: SuctionSheet, held_ml: NDArray[float64]) -> Held:
    """Return liquid at rest, (n,) in mL, ready to be drawn; raises ValueError where there is none or less than that."""
    total = float(held_ml.sum())
    if not (np.isfinite(total) and total > 0.0 and float(held_ml.min()) >= 0.0):
        msg = f"{total:g} mL held: each column must hold 0 mL or more, and some column more"
        raise ValueError(msg)
    count = len(held_ml)
    share = held_ml / total
    every = np.arange(count, dtype=np.int32)
    potential = potentials_per_cm(sheet.factor, np.array([0, count], dtype=np.int32), every, share)
    at_ports = mean_over_discs(sheet.disc_start, sheet.disc_column, sheet.disc_share, potential)[:, 0]
    by_part: NDArray[float64] = np.bincount(sheet.part, weights=share, minlength=sheet.part_count).astype(float64)
    return Held(sheet, held_ml, potential[0], at_ports, by_part)


def draw(held: Held, suction_column: Sequence[int]) -> Drawn:
    """Return what suction at ports (columns, by index, of those that the sheet was laid for) draws of held liquid."""
    sheet = held.sheet
    chosen = port_numbers(sheet, suction_column)
    flow = balance(sheet, held.potential_per_cm, held.at_ports_per_cm, held.part_share, chosen)
    undrawn = ~flow.has_port[sheet.part]
    column_share, through, time = _sweep(
        sheet.graph.start, sheet.graph.to, sheet.graph.conduct_cm, flow.potential_per_cm, sheet.disc_start,
        sheet.disc_column, sheet.disc_share, chosen, flow.port_share, undrawn, sheet.cavity.volume_ml,
    )  # fmt: skip
    pores = float(sheet.cavity.volume_ml[~undrawn].sum())
    return Drawn(
        sheet,
        held.held_ml,
        tuple(suction_column),
        flow.port_share * flow.drawn_share,
        column_share,
        undrawn,
        float(held.held_ml[undrawn].sum()),
        np.where(through > 0.0, time / max(pores, 1e-12), np.inf),
        flow.potential_per_cm,
    )


def travel_min(drawn: Drawn, flow_ml_per_min: float, squeeze_share: float) -> NDArray[float64]:
    """Return how many minutes liquid of each column, (n,), takes to a port when so much is drawn a minute.

    ``squeeze_share`` is what the foam keeps of its free volume: the tighter, the fewer minutes.
    """
    pores_ml = float(drawn.sheet.cavity.volume_ml[~drawn.undrawn].sum()) * pore_share(squeeze_share)
    return drawn.travel_ratio * pores_ml / flow_ml_per_min


def slowest(drawn: Drawn, liquid_share: float) -> NDArray[bool_]:
    """Return the columns (n,), true or false, from which that share of the drawn liquid comes last."""
    holds = ~drawn.undrawn & (drawn.held_ml > 0.0)
    held = np.where(holds, drawn.held_ml, 0.0)
    order = np.argsort(-drawn.travel_ratio, kind="stable")
    order = order[holds[order]]
    last = np.zeros(len(held), dtype=np.bool_)
    before = np.cumsum(held[order]) - held[order]
    last[order[before < liquid_share * held.sum()]] = True
    return last


def head_loss_mmhg(drawn: Drawn, flow_ml_per_min: float, permeability_m2: Extremes = PERMEABILITY_M2) -> Extremes:
    """Return the least and most suction in mmHg that is lost between the farthest liquid and the ports.

    The least is in foam of the highest permeability that is squeezed least. Infinite where foam lets nothing pass.
    """
    holds = ~drawn.undrawn & (drawn.held_ml > 0.0)
    farthest = max(float(np.max(drawn.potential_per_cm, where=holds, initial=0.0)), 0.0)
    flow_ml_per_s = flow_ml_per_min / 60.0

    def loss_mmhg(permeability: float, squeeze: float) -> float:
        passes = Foam(permeability, 0.0, POROSITY_SHARE).conductivity_cm_per_s * squeeze
        return farthest * flow_ml_per_s / passes * MMHG_PER_CM_WATER if passes > 0.0 else np.inf

    return Extremes(
        loss_mmhg(permeability_m2.high, SQUEEZE_SHARE.high), loss_mmhg(permeability_m2.low, SQUEEZE_SHARE.low)
    )


def what_is_blocked(before: Drawn, after: Drawn) -> Blocked:
    """Return what changed, in mL, from one answer to the next.

    The next is of fewer ports, or of a sheet laid with a blocked branch; ports are matched by their columns.
    """
    lost = after.undrawn & ~before.undrawn
    still = np.where(lost, 0.0, before.held_ml)
    gained = np.zeros(len(still))
    for number, port in enumerate(after.port_column):
        had = before.column_share[:, before.port_column.index(port)] if port in before.port_column else 0.0
        gained += np.maximum(after.column_share[:, number] - had, 0.0)
    return Blocked(float(before.held_ml[lost].sum()), float((still * gained).sum()), lost)


def pore_share(squeeze_share: float) -> float:
    """Return the pores of squeezed foam as a share of its free volume: the struts keep theirs."""
    return max(squeeze_share - (1.0 - POROSITY_SHARE), 0.0)


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _sweep(
    start: Any, to: Any, conduct: Any, potential: Any, disc_start: Any, disc_column: Any, disc_share: Any, chosen: Any,
    takes: Any, undrawn: Any, volume: Any,
) -> Any:  # fmt: skip
    """Go up from the ports against the flow: whose each column's outflow is, how much it is, how long it takes.

    A column is looked at when all that lie below it have been: flow down a potential never goes round.
    """
    n, ports = len(potential), len(chosen)
    share, time, through = np.zeros((n, ports)), np.zeros(n), np.zeros(n)
    for k in range(ports):
        for e in range(disc_start[chosen[k]], disc_start[chosen[k] + 1]):
            amount = disc_share[e] * takes[k]
            share[disc_column[e], k] += amount
            through[disc_column[e]] += amount
    waits, queue, size = _lowest(start, to, conduct, potential, undrawn)
    done = 0
    while done < size:
        i = queue[done]
        done += 1
        if through[i] > 0.0:
            time[i] = (time[i] + volume[i]) / through[i]
            for k in range(ports):
                share[i, k] /= through[i]
        for e in range(start[i], start[i + 1]):
            j = to[e]
            flow = conduct[e] * (potential[j] - potential[i])
            if flow > _STILL_SHARE:
                through[j] += flow
                time[j] += flow * time[i]
                for k in range(ports):
                    share[j, k] += flow * share[i, k]
                waits[j] -= 1
                if waits[j] == 0:
                    queue[size] = j
                    size += 1
    return share, through, time


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _lowest(start: Any, to: Any, conduct: Any, potential: Any, undrawn: Any) -> Any:
    """Count for each column the ways that lead on from it, and queue the columns from which none does."""
    n = len(potential)
    waits, queue = np.zeros(n, dtype=np.int32), np.empty(n, dtype=np.int32)
    size = 0
    for i in range(n):
        if undrawn[i]:
            continue
        for e in range(start[i], start[i + 1]):
            if conduct[e] * (potential[i] - potential[to[e]]) > _STILL_SHARE:
                waits[i] += 1
        if waits[i] == 0:
            queue[size] = i
            size += 1
    return waits, queue, size
