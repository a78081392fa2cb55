"""Suction: which port draws which part of the liquid, how slowly, what no port draws, and what stays behind.

Foam squeezed by suction is full of liquid that flows to the suction ports down a potential. Ports on one suction stand
at one pressure. Flow adds up: what one port alone does to every column is solved once (``factor``), and any set of
ports is a sum of those with the weights that bring all of them to that pressure; ports whose discs overlap act as one.
Gravity is left out: it is small beside suction.

Which port draws what depends neither on how permeable the foam is nor on how far it is squeezed, as long as both are
the same everywhere; times, pressures and what stays do. Source keys ``foam.squeeze``, ``foam.permeability``,
``foam.capillary_height``, ``foam.porosity``: all from memory, so every answer in minutes, mmHg or mL is a range and
exploratory.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numba
import numpy as np
from numpy import bool_, float64, int32
from numpy.typing import NDArray

from soakline.errors import GridRefused
from soakline.fluid.capillary import saturation_share
from soakline.fluid.conduct import PORT_RADIUS_CM, conduct_cm, disc_at
from soakline.fluid.factor import Factor, Graph, factor_of, graph_of, parts_of, potentials_per_cm
from soakline.fluid.spread import Foam
from soakline.units import MMHG_PER_CM_WATER, Extremes
from soakline.wound.cavity import ALONG_U, ALONG_V, Cavity

EXPLORATORY = "exploratory: squeeze, permeability and capillary height of foam are from memory, not measured"
# What foam keeps of its free volume under suction (source key ``foam.squeeze``).
SQUEEZE_SHARE = Extremes(0.2, 0.5)
# Permeability of foam in a wound (source key ``foam.permeability``).
PERMEABILITY_M2 = Extremes(1e-9, 1e-8)
# How high foam holds liquid against gravity (source key ``foam.capillary_height``).
CAPILLARY_HEIGHT_CM = Extremes(0.3, 3.0)
# Pores of foam that is not squeezed (source key ``foam.porosity``); squeezing takes from pores alone.
_POROSITY = 0.97
# A column that lets less than this share of the mean flow through each cm of its width is passed over.
PASSED_OVER_SHARE = 0.1
# Less than this share of all flow is none: what rounding leaves in a dead arm.
_STILL_SHARE = 1e-10
# What a draw may take, and what a column takes without its ports: 950 bytes were seen with 55,000 columns, and larger
# sheets take more.
_MEMORY_MB, _BYTES_A_COLUMN, _BYTES_A_POTENTIAL = 200, 1_600, 8
# A column's height is cut into so many layers to sum what it holds.
_LAYERS = 16


@dataclass(frozen=True, slots=True, eq=False)
class SuctionSheet:
    """A cavity made ready for suction at any of p ports, each a column.

    ``part`` (n,) is the connected part of each column. A port works over ``disc_column`` cut by ``disc_start`` (p + 1,)
    by ``disc_share``. ``potential_per_cm`` (p, n) is what one unit of inflow at a port alone does to every column, in
    1/cm: times flow ÷ conductivity it is a head in cm; ``between_per_cm`` (p, p) is its mean over each port's disc.
    """

    cavity: Cavity
    graph: Graph
    factor: Factor
    part: NDArray[int32]
    part_count: int
    port_column: tuple[int, ...]
    disc_start: NDArray[int32]
    disc_column: NDArray[int32]
    disc_share: NDArray[float64]
    potential_per_cm: NDArray[float64]
    between_per_cm: NDArray[float64]


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


@dataclass(frozen=True, slots=True, eq=False)
class Passed:
    """What a steady flow from an instillation port to k suction ports passes over.

    ``flow_ratio`` (n,) is the flow through each cm of a column's width over the bed's mean; ``passed_over`` (n,) are
    columns below a tenth of it and ``passed_over_share`` their share of the bed. ``port_share`` (k,) is the share of
    the flow that each suction port takes.
    """

    port_column: tuple[int, ...]
    port_share: NDArray[float64]
    flow_ratio: NDArray[float64]
    passed_over: NDArray[bool_]
    passed_over_share: float


@dataclass(frozen=True, slots=True)
class Stays:
    """What suction leaves, as the two ends of what can be: mL, share of the liquid, share of what full foam holds.

    ``kept_share`` counts drawn parts alone; what is undrawn stays whole and is in the other two.
    """

    stays_ml: Extremes
    liquid_share: Extremes
    kept_share: Extremes
    says: str = EXPLORATORY


def lay_suction(cavity: Cavity, port_column: Sequence[int], *, blocked: NDArray[bool_] | None = None) -> SuctionSheet:
    """Return a cavity made ready for suction or instillation at any of the ports in ``port_column`` (by index).

    Through ``blocked`` columns (n,) nothing passes. Raises ValueError for a port that is no column, GridRefused when
    columns and ports need more memory than a draw may take.
    """
    count = len(cavity.u_cm)
    _refuse_too_large(count, len(port_column))
    if any(not 0 <= port < count for port in port_column):
        msg = f"ports {list(port_column)}: each must be a column, 0 to {count - 1}"
        raise ValueError(msg)
    conduct = conduct_cm(cavity)
    leads = np.isfinite(conduct) & (conduct > 0.0)
    if blocked is not None:
        leads &= ~blocked[cavity.link].any(axis=1)
    graph = graph_of(count, cavity.link[leads], cavity.link_way[leads], conduct[leads])
    part, firsts = parts_of(graph)
    # Any tie to zero will do: what flows in leaves through the ports, and nothing through the tie.
    tied = np.zeros(count)
    tied[firsts] = 1.0
    factor = factor_of(graph, tied)
    start, column, share = _discs(cavity, cavity.link[leads], port_column)
    potential = potentials_per_cm(factor, start, column, share)
    between = _mean_over_discs(start, column, share, potential)
    return SuctionSheet(
        cavity, graph, factor, part, len(firsts), tuple(port_column), start, column, share, potential, between
    )


def _refuse_too_large(count: int, port_count: int) -> None:
    needed_mb = count * (_BYTES_A_COLUMN + _BYTES_A_POTENTIAL * port_count) / 1e6
    if needed_mb > _MEMORY_MB:
        msg = (
            f"suction on {count:,} columns with {port_count:,} ports needs about {needed_mb:,.0f} MB; at most "
            f"{_MEMORY_MB} MB are given to it: take a wider grid or fewer ports"
        )
        raise GridRefused(msg)


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
    at_ports = _mean_over_discs(sheet.disc_start, sheet.disc_column, sheet.disc_share, potential)[:, 0]
    by_part: NDArray[float64] = np.bincount(sheet.part, weights=share, minlength=sheet.part_count).astype(float64)
    return Held(sheet, held_ml, potential[0], at_ports, by_part)


def draw(held: Held, suction_column: Sequence[int]) -> Drawn:
    """Return what suction at ports (columns, by index, of those that the sheet was laid for) draws of held liquid."""
    sheet = held.sheet
    chosen = _chosen(sheet, suction_column)
    flow = _balance(sheet, held.potential_per_cm, held.at_ports_per_cm, held.part_share, chosen)
    undrawn = ~flow.has_port[sheet.part]
    column_share, through, time = _sweep(
        sheet.graph.start, sheet.graph.to, sheet.graph.conduct_cm, flow.potential, sheet.disc_start, sheet.disc_column,
        sheet.disc_share, chosen, flow.port_share, undrawn, sheet.cavity.volume_ml,
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
        flow.potential,
    )


def travel_min(drawn: Drawn, flow_ml_per_min: float, squeeze_share: float) -> NDArray[float64]:
    """Return how many minutes liquid of each column, (n,), takes to a port when so much is drawn a minute.

    ``squeeze_share`` is what the foam keeps of its free volume: the tighter, the fewer minutes.
    """
    pores_ml = float(drawn.sheet.cavity.volume_ml[~drawn.undrawn].sum()) * _pore_share(squeeze_share)
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
        passes = Foam(permeability, 0.0, _POROSITY).conductivity_cm_per_s * squeeze
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


def passed_over(sheet: SuctionSheet, instillation_column: int, suction_column: Sequence[int]) -> Passed:
    """Return which share (0–1) of the bed the steady flow from an instillation port to suction ports passes over.

    A column is passed over when less than a tenth of the bed's mean flow goes through each cm of its width; ports are
    columns by index, of those that the sheet was laid for.
    """
    source, chosen = int(_chosen(sheet, [instillation_column])[0]), _chosen(sheet, suction_column)
    part_share = np.zeros(sheet.part_count)
    part_share[sheet.part[instillation_column]] = 1.0
    flow = _balance(sheet, sheet.potential_per_cm[source], sheet.between_per_cm[:, source], part_share, chosen)
    graph = sheet.graph
    through = _through(
        graph.start, graph.to, graph.way, graph.conduct_cm, flow.potential, sheet.disc_start, sheet.disc_column,
        sheet.disc_share, source, chosen, flow.port_share, ~flow.has_port[sheet.part],
    )  # fmt: skip
    density = through / np.linalg.norm(sheet.cavity.spans_cm[0], axis=1)
    bed = sheet.cavity.floor_cm2 / sheet.cavity.floor_cm2.sum()
    mean = float((density * bed).sum())
    ratio = density / mean if mean > 0.0 else density
    over = ratio < PASSED_OVER_SHARE
    return Passed(tuple(suction_column), flow.port_share, ratio, over, float(bed[over].sum()))


def room_ml(drawn: Drawn, up: NDArray[float64]) -> tuple[NDArray[float64], NDArray[float64]]:
    """Return what each drawn column, (n,) in mL, has room for under suction, least and most as in ``what_stays``."""
    return (
        _room_ml(drawn, up, SQUEEZE_SHARE.low, CAPILLARY_HEIGHT_CM.low, pools_stay=False),
        _room_ml(drawn, up, SQUEEZE_SHARE.high, CAPILLARY_HEIGHT_CM.high, pools_stay=True),
    )


def what_stays(drawn: Drawn, up: NDArray[float64]) -> Stays:
    """Return what suction leaves of the liquid when ``up`` (3,), a unit vector, points against gravity: mL and shares.

    Least: suction draws all that the most squeezed, least wicking foam does not hold by capillarity. Most: air breaks
    through at once, gravity alone drains, and all below the top of the lowest port stays, as far as liquid goes round.
    """
    low, high = room_ml(drawn, up)
    held = np.where(drawn.undrawn, 0.0, drawn.held_ml)
    part, count = drawn.sheet.part, drawn.sheet.part_count
    total, undrawn = float(drawn.held_ml.sum()), drawn.undrawn_ml
    goes_round = (np.bincount(part, weights=amount, minlength=count) for amount in (held, high))
    least = min(float(np.minimum(held, low).sum()) + undrawn, total)
    most = min(float(np.minimum(*goes_round).sum()) + undrawn, total)
    full = max(float(drawn.sheet.cavity.volume_ml[~drawn.undrawn].sum()) * _POROSITY, 1e-12)
    return Stays(
        Extremes(least, most),
        Extremes(least / total, most / total),
        Extremes(float(low.sum()) / full, float(high.sum()) / full),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Flow:
    """A balanced flow of one to k ports: ``potential`` (n,) above that of the ports, ``has_port`` by part."""

    port_share: NDArray[float64]
    drawn_share: float
    potential: NDArray[float64]
    has_port: NDArray[bool_]


def _discs(
    cavity: Cavity, link: NDArray[int32], ports: Sequence[int]
) -> tuple[NDArray[int32], NDArray[int32], NDArray[float64]]:
    """Return where each port's disc begins (p + 1,), its columns and their shares, by what they hold."""
    discs = [disc_at(cavity, port, link) for port in ports]
    start = np.cumsum([0, *(len(near) for near, _ in discs)], dtype=np.int32)
    columns = [np.zeros(0, dtype=np.int32), *(near for near, _ in discs)]
    return start, np.concatenate(columns), np.concatenate([np.zeros(0), *(share for _, share in discs)])


def _chosen(sheet: SuctionSheet, ports: Sequence[int]) -> NDArray[int32]:
    missing = [port for port in ports if port not in sheet.port_column]
    if missing:
        msg = f"columns {missing} are none of the ports that the sheet was laid for: {list(sheet.port_column)}"
        raise ValueError(msg)
    return np.array([sheet.port_column.index(port) for port in ports], dtype=np.int32)


def _balance(
    sheet: SuctionSheet,
    potential: NDArray[float64],
    at_ports: NDArray[float64],
    part_share: NDArray[float64],
    chosen: NDArray[int32],
) -> _Flow:
    """Share an inflow among chosen ports so that all stand at one potential, part by part."""
    column = np.array(sheet.port_column, dtype=np.int32)[chosen]
    part_of_port, group = sheet.part[column], _groups(sheet, column)
    has_port = np.zeros(sheet.part_count, dtype=np.bool_)
    has_port[part_of_port] = True
    share, level = np.zeros(len(chosen)), np.zeros(sheet.part_count)
    for part in np.unique(part_of_port):
        here = np.flatnonzero(part_of_port == part)
        of_part = chosen[here]
        share[here], level[part] = _equal_pressure(
            sheet.between_per_cm[np.ix_(of_part, of_part)], at_ports[of_part], group[here], float(part_share[part])
        )
    drawn = float(share.sum())
    scale = 1.0 / drawn if drawn > 0.0 else 0.0
    above = _superpose(potential, sheet.potential_per_cm, chosen, share, level, has_port, sheet.part, scale)
    return _Flow(share * scale, drawn, above, has_port)


def _equal_pressure(
    between: NDArray[float64], at_ports: NDArray[float64], group: NDArray[int32], inflow: float
) -> tuple[NDArray[float64], float]:
    """Return what each port of one part takes, (k,), and their common potential.

    Ports of one group act as one and share evenly. A group that would have to give liquid back takes none: suction does
    not push.
    """
    _, number, size = np.unique(group, return_inverse=True, return_counts=True)
    evenly = np.zeros((len(group), len(size)))
    evenly[np.arange(len(group)), number] = 1.0 / size[number]
    takes, kept = np.zeros(len(size)), np.arange(len(size))
    while True:
        k, mean = len(kept), evenly[:, kept]
        matrix, right = np.ones((k + 1, k + 1)), np.empty(k + 1)
        matrix[:k, :k], matrix[k, k] = mean.T @ between @ mean, 0.0
        right[:k], right[k] = at_ports @ mean, inflow
        solved = np.linalg.solve(matrix, right)
        if k == 1 or solved[:k].min() >= 0.0:
            takes[kept] = solved[:k]
            return evenly @ takes, float(solved[k])
        kept = np.delete(kept, solved[:k].argmin())


def _groups(sheet: SuctionSheet, column: NDArray[int32]) -> NDArray[int32]:
    """Return a number for each of k ports, the same where their discs overlap: nothing tells such ports apart."""
    cavity, group = sheet.cavity, np.arange(len(column), dtype=np.int32)
    for one in range(len(column)):
        for other in range(one):
            a, b = column[one], column[other]
            on_grid = max(a, b) < cavity.grid_count
            apart_cm = np.hypot(cavity.u_cm[a] - cavity.u_cm[b], cavity.v_cm[a] - cavity.v_cm[b])
            if a == b or (on_grid and sheet.part[a] == sheet.part[b] and apart_cm <= 2.0 * PORT_RADIUS_CM):
                group[group == group[one]] = group[other]
    return group


def _room_ml(
    drawn: Drawn, up: NDArray[float64], squeeze: float, capillary_height: float, *, pools_stay: bool
) -> NDArray[float64]:
    """Return what each drawn column, (n,), holds in balance with the lowest port of its part.

    With ``pools_stay`` that port opens at the top of its foam, and all below stays; else each column also drains to its
    own foot.
    """
    cavity, part = drawn.sheet.cavity, drawn.sheet.part
    span_u, span_v, span_h = cavity.spans_cm @ up
    extent = np.sqrt(span_u**2 + span_v**2 + (squeeze * span_h) ** 2)
    foot = (cavity.floor_cm + squeeze * (cavity.centre_cm - cavity.floor_cm)) @ up - extent / 2.0
    level = np.full(drawn.sheet.part_count, np.inf)
    for port in drawn.port_column:
        opens = foot[port] + (extent[port] if pools_stay else 0.0)
        level[part[port]] = min(level[part[port]], opens)
    head = level[part] - foot
    if not pools_stay:
        head = np.minimum(head, 0.0)
    layer = (np.arange(_LAYERS) + 0.5) / _LAYERS
    full = saturation_share((head[:, None] - extent[:, None] * layer).ravel(), capillary_height)
    room = cavity.volume_ml * _pore_share(squeeze) * full.reshape(-1, _LAYERS).mean(axis=1)
    return np.where(drawn.undrawn, 0.0, room)


def _pore_share(squeeze: float) -> float:
    """Return the pores of squeezed foam as a share of its free volume: the struts keep theirs."""
    return max(squeeze - (1.0 - _POROSITY), 0.0)


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _mean_over_discs(start: Any, column: Any, share: Any, potential: Any) -> Any:
    ports = len(start) - 1
    mean = np.zeros((ports, len(potential)))
    for b in range(len(potential)):
        for a in range(ports):
            for e in range(start[a], start[a + 1]):
                mean[a, b] += share[e] * potential[b, column[e]]
    return mean


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _superpose(
    source: Any, green: Any, chosen: Any, takes: Any, level: Any, has_port: Any, part: Any, scale: float
) -> Any:
    out = np.zeros(len(source))
    for i in range(len(source)):
        if not has_port[part[i]]:
            continue
        value = source[i] - level[part[i]]
        for k in range(len(chosen)):
            value -= takes[k] * green[chosen[k], i]
        out[i] = value * scale
    return out


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


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _through(
    start: Any, to: Any, way: Any, conduct: Any, potential: Any, disc_start: Any, disc_column: Any, disc_share: Any,
    source: int, chosen: Any, takes: Any, undrawn: Any,
) -> Any:  # fmt: skip
    """Flow through each column: what crosses it along u and v, or what goes in or out another way if that is more."""
    n = len(potential)
    given = np.zeros((2, n))
    for e in range(disc_start[source], disc_start[source + 1]):
        given[0, disc_column[e]] += disc_share[e]
    for k in range(len(chosen)):
        for e in range(disc_start[chosen[k]], disc_start[chosen[k] + 1]):
            given[1, disc_column[e]] += disc_share[e] * takes[k]
    through = np.zeros(n)
    for i in range(n):
        if undrawn[i]:
            continue
        in_u = out_u = in_v = out_v = 0.0
        in_else, out_else = given[0, i], given[1, i]
        for e in range(start[i], start[i + 1]):
            flow = conduct[e] * (potential[i] - potential[to[e]])
            if way[e] == ALONG_U:
                in_u, out_u = in_u + max(-flow, 0.0), out_u + max(flow, 0.0)
            elif way[e] == ALONG_V:
                in_v, out_v = in_v + max(-flow, 0.0), out_v + max(flow, 0.0)
            else:
                in_else, out_else = in_else + max(-flow, 0.0), out_else + max(flow, 0.0)
        through[i] = max(np.hypot(max(in_u, out_u), max(in_v, out_v)), in_else, out_else)
    return through
