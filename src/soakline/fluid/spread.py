"""Liquid on its way: a sheet of foam that fills through a port, soaks by flow and by wicking, and comes to rest.

Every column of the cavity is in capillary equilibrium over its height (``capillary``); between columns liquid flows
down the head. A step goes along all lines of columns one after the other, first along u, then along v, then inside cut
cells and tunnels, each line solved implicitly in the volumes that cross its links: mass is exact, and a step may be as
long as the liquid moves slowly. Source keys ``foam.permeability``, ``foam.capillary_height``; all foam values are from
memory.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numba
import numpy as np
from numpy import float64, int32
from numpy.typing import NDArray

from soakline.fluid.capillary import (
    KNOTS,
    MOIST_HEAD_SHARE,
    SLOT_SHARE,
    SOAKED_HEAD_SHARE,
    column_table,
    free_table,
)
from soakline.fluid.conduct import conduct_cm, over_disc
from soakline.wound.cavity import ALONG_U, ALONG_V, IN_A_CELL, IN_A_TUNNEL, Cavity

# Water at 37 °C (source key ``fluids.water``): density in g/cm³, viscosity in g/(cm s), gravity in cm/s².
_DENSITY, _VISCOSITY, _GRAVITY = 0.993, 0.007, 981.0
# A film thinner than this wets nothing.
FILM_CM = 0.02
# How far the filling of any column may change in one step, as a share of the fullest, unless told otherwise.
CHANGE_SHARE = 0.15
# The bounds of a step.
_LONGEST_S, _SHORTEST_S = 20.0, 0.002
_NOTHING = 1e-9
# Foam that holds nothing keeps less than this share of a column for hours: a trace that wets no floor.
_TRACE = 1e-3
# Liquid that fills less of a column than this share stays where it is.
_STILL = 1e-5
# A line is solved again until no filling in it moves by more than this share, or so many times.
_AGREES_SHARE, _MOST_TRIES = 0.003, 8
FILL_FRAMES, DWELL_FRAMES = 12, 24

Progress = Callable[[float], None]


@dataclass(frozen=True, slots=True)
class Foam:
    """The foam as the model takes it: permeability in m², capillary height in cm, share of the void that fills."""

    permeability_m2: float
    capillary_height_cm: float
    porosity_share: float

    @property
    def conductivity_cm_per_s(self) -> float:
        """How fast water runs straight down through full foam, in cm/s."""
        return self.permeability_m2 * 1e4 * _DENSITY * _GRAVITY / _VISCOSITY


@dataclass(frozen=True, slots=True)
class Soak:
    """One fill and its dwell, in seconds."""

    fill_s: float
    dwell_s: float


@dataclass(frozen=True, slots=True, eq=False)
class Lines:
    """The columns as lines along each way: ``order`` lists columns line by line, ``start`` cuts it into lines.

    ``conduct_cm`` is the link behind each place in ``order`` as width × height ÷ distance; ``sweep`` cuts lines by way.
    """

    order: NDArray[int32]
    start: NDArray[int32]
    conduct_cm: NDArray[float64]
    sweep: NDArray[int32]


@dataclass(frozen=True, slots=True, eq=False)
class FoamSheet:
    """The sheet of foam in one posture, per column (n,): what it holds when full in mL, and heights in cm.

    ``foot_cm`` and ``extent_cm`` are a column's foot and its extent along gravity; ``floor_`` and ``roof_`` are as in
    ``settle.Basins``.
    """

    cavity: Cavity
    lines: Lines
    foam: Foam
    full_ml: NDArray[float64]
    foot_cm: NDArray[float64]
    extent_cm: NDArray[float64]
    floor_low_cm: NDArray[float64]
    floor_width_cm: NDArray[float64]
    roof_low_cm: NDArray[float64]
    roof_width_cm: NDArray[float64]


@dataclass(frozen=True, slots=True, eq=False)
class Spread:
    """A run: heads (frames, n) in cm at ``frame_s``, the highest head (n,), and what each column let pass in mL (n,).

    ``fresh_ml`` (n,) is how much of it came with this fill (empty where it was not followed).
    ``arrival_s`` (n,) is when the floor was first moist, infinity where never; ``filling_share`` (n,) is how full each
    column is at the end. ``dwell_frame_count`` is how many of the last frames lie in the dwell.
    """

    sheet: FoamSheet
    frame_s: NDArray[float64]
    head_cm: NDArray[float64]
    highest_cm: NDArray[float64]
    arrival_s: NDArray[float64]
    through_ml: NDArray[float64]
    fresh_ml: NDArray[float64]
    filling_share: NDArray[float64]
    dwell_frame_count: int
    step_count: int


def lay_foam(cavity: Cavity, up: NDArray[float64], foam: Foam) -> FoamSheet:
    """Return the sheet of foam of a cavity when ``up`` (3,), a unit vector in body axes, points against gravity."""
    span_u, span_v, span_h = cavity.spans_cm @ up
    extent = np.maximum(np.sqrt(span_u**2 + span_v**2 + span_h**2), 1e-3)
    roof_width = np.maximum(np.hypot(span_u, span_v), 1e-5)
    floor_u, floor_v = cavity.floor_spans_cm @ up
    floor_width = np.maximum(np.hypot(floor_u, floor_v), 1e-5)
    return FoamSheet(
        cavity,
        lines_of(cavity),
        foam,
        cavity.volume_ml * foam.porosity_share,
        cavity.centre_cm @ up - extent / 2.0,
        extent,
        cavity.floor_cm @ up - floor_width / 2.0,
        floor_width,
        cavity.roof_cm @ up - roof_width / 2.0,
        roof_width,
    )


def spread(
    sheet: FoamSheet,
    poured_ml: Sequence[tuple[int, float]],
    soak: Soak,
    *,
    filling_share: NDArray[float64] | None = None,
    track_fresh: bool = False,
    change_share: float = CHANGE_SHARE,
    progress: Progress | None = None,
) -> Spread:
    """Return how each (column, liquid in mL) of ``poured_ml``, poured evenly over the fill, spreads until the end.

    ``filling_share`` (n,) is what stood in the columns before; None is dry. ``track_fresh`` follows how much of what a
    column holds came with this fill. ``change_share`` sets how long a step may be: how far any column's filling may
    change in it, as a share of the fullest. ``progress`` is told the share done (0–1) and may raise to stop.
    Raises ValueError for foam, times or volumes that are none.
    """
    _refuse_what_is_none(sheet.foam, poured_ml, soak)
    cavity, count = sheet.cavity, len(sheet.cavity.u_cm)
    table = column_table() if sheet.foam.capillary_height_cm > 0.0 else free_table()
    row, between = _table_place(sheet, table.log_ratio_share)
    inflow = np.zeros(count)
    for column, liquid_ml in poured_ml:
        inflow += over_disc(cavity, column) * liquid_ml / soak.fill_s
    filling = np.zeros(count) if filling_share is None else filling_share.copy()
    highest, arrival, through = np.full(count, -np.inf), np.full(count, np.inf), np.zeros(count)
    ends, dry = _frame_times(soak), dry_share(sheet)
    heads = np.empty((len(ends), count))
    fresh = np.zeros(count if track_fresh else 0)
    floor_at = sheet.floor_low_cm + sheet.floor_width_cm / 2.0 + needed_head_cm(sheet.foam, MOIST_HEAD_SHARE)
    now, step, steps = 0.0, _SHORTEST_S, 0
    for frame, until in enumerate(ends):
        now, step, done = _advance(
            now, float(until), step, soak.fill_s, inflow, filling, heads[frame], highest, arrival, through, fresh,
            floor_at, dry, sheet.full_ml, sheet.foot_cm, sheet.extent_cm, row, between, sheet.foam.capillary_height_cm,
            table.values_share, table.filling_share, sheet.foam.conductivity_cm_per_s,
            sheet.lines.order, sheet.lines.start, sheet.lines.conduct_cm, sheet.lines.sweep, change_share,
        )  # fmt: skip
        steps += done
        heads[frame][filling <= dry] = -np.inf
        if progress is not None:
            progress(float(until / ends[-1]))
    return Spread(sheet, ends, heads, highest, arrival, through, fresh, filling, DWELL_FRAMES, steps)


def dry_share(sheet: FoamSheet) -> NDArray[float64]:
    """Return the filling (n,) up to which a column counts as dry: more where foam holds nothing and drains slowly."""
    # A tilted column's foot lies above its floor's lower corner: traces at the foot would else count as soaked floor.
    holds = sheet.foam.capillary_height_cm >= FILM_CM
    return np.full(len(sheet.full_ml), _NOTHING if holds else _TRACE)


def _refuse_what_is_none(foam: Foam, poured_ml: Sequence[tuple[int, float]], soak: Soak) -> None:
    """Raise ValueError for what no run can start from: compiled loops would lose it or never end."""
    given = (
        ("permeability in m²", foam.permeability_m2, 0.0 <= foam.permeability_m2 < np.inf),
        ("capillary height in cm", foam.capillary_height_cm, 0.0 <= foam.capillary_height_cm < np.inf),
        ("fill time in s", soak.fill_s, 0.0 < soak.fill_s < np.inf),
        ("dwell in s", soak.dwell_s, 0.0 <= soak.dwell_s < np.inf),
        *(("liquid in mL", ml, 0.0 <= ml < np.inf) for _, ml in poured_ml),
    )
    for what, value, can_be in given:
        if not can_be:
            least = "above 0" if what.startswith("fill") else "0 or more"
            msg = f"the {what} is {value:g}: it must be a number, {least}"
            raise ValueError(msg)


def needed_head_cm(foam: Foam, head_share: float) -> float:
    """Return the head in cm from which a surface counts as soaked or moist: ``head_share`` of hc, and a film."""
    return head_share * foam.capillary_height_cm + FILM_CM


def wetness(run: Spread) -> tuple[NDArray[float64], NDArray[float64]]:
    """Return per column (n, 3) the shares 0–1 of its floor and of its roof that are soaked, moist and rinsed.

    Soaked: saturation above 0.9 for at least half of the dwell; moist: above 0.3 for as long; rinsed: above 0.3 at any
    time of fill or dwell.
    """
    sheet = run.sheet
    in_dwell = np.sort(run.head_cm[-run.dwell_frame_count :], axis=0)
    # The head that was reached or passed in at least half of the frames.
    half = in_dwell[len(in_dwell) // 2]
    return (
        _states(half, run.highest_cm, sheet.floor_low_cm, sheet.floor_width_cm, sheet.foam),
        _states(half, run.highest_cm, sheet.roof_low_cm, sheet.roof_width_cm, sheet.foam),
    )


def lines_of(cavity: Cavity) -> Lines:
    """Return the links of a cavity as lines along u, along v, inside cut cells and along tunnels.

    Where a line ends in one part of a cut cell and another begins in its other part, the two are one line: what runs
    through the opening's edge would else wait there for the next step.
    """
    conduct, ways = conduct_cm(cavity), _ways_through_cut_cells(cavity)
    times_used = np.bincount(np.concatenate([links for links, _ in ways]), minlength=len(conduct))
    conduct = conduct / np.maximum(times_used, 1)
    order: list[NDArray[int32]] = []
    start: list[NDArray[int32]] = []
    behind: list[NDArray[float64]] = []
    sweep = [0]
    places = 0
    for chosen, pairs in ways:
        lined, cuts, links = _line_up(len(cavity.u_cm), pairs, chosen)
        order.append(lined)
        start.append(cuts[:-1] + places)
        behind.append(np.where(links >= 0, conduct[links], 0.0))
        places += len(lined)
        sweep.append(sweep[-1] + len(cuts) - 1)
    return Lines(
        np.concatenate(order),
        np.append(np.concatenate(start), places).astype(np.int32),
        np.concatenate(behind),
        np.array(sweep, dtype=np.int32),
    )


def _ways_through_cut_cells(cavity: Cavity) -> list[tuple[NDArray[int32], NDArray[int32]]]:
    """Return for each way its links (m,) and their columns as they lead on, (m, 2).

    A link inside a cut cell goes along u and along v where it joins two ends of lines, and stands by itself elsewhere.
    """
    inside = np.flatnonzero(cavity.link_way == IN_A_CELL).astype(np.int32)
    alone = np.ones(len(inside), dtype=bool)
    ways: list[tuple[NDArray[int32], NDArray[int32]]] = []
    for way in (ALONG_U, ALONG_V):
        chosen = np.flatnonzero(cavity.link_way == way).astype(np.int32)
        pairs, one, other = cavity.link[chosen], cavity.link[inside, 0], cavity.link[inside, 1]
        leads, led = (np.isin(np.arange(len(cavity.u_cm)), pairs[:, side]) for side in (0, 1))
        onward, back = ~leads[one] & ~led[other], ~leads[other] & ~led[one]
        joins = onward | back
        joined = np.where(onward[:, None], cavity.link[inside], cavity.link[inside][:, ::-1])[joins]
        ways.append((np.concatenate([chosen, inside[joins]]), np.concatenate([pairs, joined])))
        alone &= ~joins
    tunnels = np.flatnonzero(cavity.link_way == IN_A_TUNNEL).astype(np.int32)
    return [*ways, *((links, cavity.link[links]) for links in (inside[alone], tunnels))]


def _table_place(sheet: FoamSheet, log_ratio: NDArray[float64]) -> tuple[NDArray[int32], NDArray[float64]]:
    """Return the row of the table below each column's extent over capillary height, and how far it is to the next."""
    if sheet.foam.capillary_height_cm <= 0.0:
        return np.zeros(len(sheet.extent_cm), dtype=np.int32), np.zeros(len(sheet.extent_cm))
    place = np.interp(
        np.log(sheet.extent_cm / sheet.foam.capillary_height_cm), log_ratio, np.arange(len(log_ratio), dtype=float)
    )
    row = np.minimum(place.astype(np.int32), len(log_ratio) - 2)
    return row.astype(np.int32), place - row


def _frame_times(soak: Soak) -> NDArray[float64]:
    filling = soak.fill_s * np.arange(1, FILL_FRAMES + 1) / FILL_FRAMES
    return np.concatenate([filling, soak.fill_s + soak.dwell_s * np.arange(1, DWELL_FRAMES + 1) / DWELL_FRAMES])


def _states(
    half: NDArray[float64], highest: NDArray[float64], low: NDArray[float64], width: NDArray[float64], foam: Foam
) -> NDArray[float64]:
    def share(head: NDArray[float64], head_share: float) -> NDArray[float64]:
        return np.clip((head - needed_head_cm(foam, head_share) - low) / width, 0.0, 1.0)

    soaked = share(half, SOAKED_HEAD_SHARE)
    moist = np.maximum(share(half, MOIST_HEAD_SHARE), soaked)
    rinsed = np.maximum(share(highest, MOIST_HEAD_SHARE), moist)
    return np.stack([soaked, moist - soaked, rinsed - moist], axis=1)


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _line_up(count: int, link: Any, number: Any) -> Any:
    """Lay links that lead on from one another into lines: columns line by line, cuts, and the link behind each."""
    after, link_after = np.full(count, -1, dtype=np.int32), np.full(count, -1, dtype=np.int32)
    headed = np.zeros(count, dtype=np.bool_)
    used = np.zeros(count, dtype=np.bool_)
    for e in range(len(link)):
        after[link[e, 0]] = link[e, 1]
        link_after[link[e, 0]] = number[e]
        headed[link[e, 1]] = True
        used[link[e, 0]] = used[link[e, 1]] = True
    order, behind = np.empty(count, dtype=np.int32), np.full(count, -1, dtype=np.int32)
    cuts = np.zeros(count + 1, dtype=np.int32)
    n = lines = 0
    for i in range(count):
        if not used[i] or headed[i]:
            continue
        at = i
        while at >= 0:
            order[n], behind[n] = at, link_after[at]
            n += 1
            at = after[at]
        lines += 1
        cuts[lines] = n
    return order[:n], cuts[: lines + 1], behind[:n]


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _look_up(
    i: int, filling: Any, foot: Any, extent: Any, row: Any, between: Any, hc: float, values: Any, knots: Any
) -> Any:
    """Head, its rise with filling, and conductance share of a column."""
    full = 1.0 + SLOT_SHARE
    value = filling[i]
    if value >= full:
        rise = extent[i] / SLOT_SHARE
        return foot[i] + extent[i] + (value - full) * rise, rise, 1.0
    t = max(value, 0.0) / full
    x = np.sqrt(t / 2.0) if t < 0.5 else 1.0 - np.sqrt((1.0 - t) / 2.0)
    k = min(int(x * KNOTS), KNOTS - 1)
    gap = knots[k + 1] - knots[k]
    part = (value - knots[k]) / gap
    r, f = row[i], between[i]
    low = values[r, k, 0] * (1.0 - f) + values[r + 1, k, 0] * f
    high = values[r, k + 1, 0] * (1.0 - f) + values[r + 1, k + 1, 0] * f
    tee_low = values[r, k, 1] * (1.0 - f) + values[r + 1, k, 1] * f
    tee_high = values[r, k + 1, 1] * (1.0 - f) + values[r + 1, k + 1, 1] * f
    scale = extent[i] + hc
    return (
        foot[i] + scale * (low + (high - low) * part),
        scale * (high - low) / gap,
        tee_low + (tee_high - tee_low) * part,
    )


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _advance(
    now: float, until: float, step: float, fill_s: float, inflow: Any, filling: Any, head: Any, highest: Any,
    arrival: Any, through: Any, fresh: Any, floor_at: Any, dry: Any, full_ml: Any, foot: Any, extent: Any, row: Any,
    between: Any, hc: float, values: Any, knots: Any, conductivity: float, order: Any, start: Any, conduct: Any,
    sweep: Any, change_share: float,
) -> Any:  # fmt: skip
    """Take steps from ``now`` to ``until``; changes filling, head and the records; returns time, step, their number."""
    n = len(filling)
    tee, rise, before, stood = np.empty(n), np.empty(n), np.empty(n), np.empty(n)
    work = np.empty((7, n + 1))
    for i in range(n):
        head[i], rise[i], tee[i] = _look_up(i, filling, foot, extent, row, between, hc, values, knots)
    count = 0
    sweeps = len(sweep) - 1
    while now < until - 1e-9:
        filling_up = now < fill_s - 1e-9
        dt = min(step, min(fill_s if filling_up else until, until) - now)
        before[:], stood[:] = filling, head
        for i in range(n):
            if filling_up and inflow[i] > 0.0:
                filling[i] += inflow[i] * dt / full_ml[i]
                if len(fresh) > 0:
                    fresh[i] += inflow[i] * dt
                head[i], rise[i], tee[i] = _look_up(i, filling, foot, extent, row, between, hc, values, knots)
        for turn in range(sweeps):
            # Every other step goes along v first, so that neither direction is favoured.
            s = turn if turn > 1 or count % 2 == 0 else 1 - turn
            for line in range(sweep[s], sweep[s + 1]):
                _along(
                    start[line], start[line + 1], order, conduct, dt * conductivity, filling, head, rise, tee, through,
                    fresh, full_ml, foot, extent, row, between, hc, values, knots, work,
                )  # fmt: skip
        now += dt
        count += 1
        change = _record(now, filling, before, full_ml, head, stood, highest, arrival, floor_at, dry)
        step = min(max(dt * min(max(change_share / max(change, 1e-9), 0.5), 1.5), _SHORTEST_S), _LONGEST_S)
    return now, step, count


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _record(
    now: float, filling: Any, before: Any, full_ml: Any, head: Any, stood: Any, highest: Any, arrival: Any,
    floor_at: Any, dry: Any,
) -> float:  # fmt: skip
    """Keep the highest heads and first arrivals; return the largest change of filling as a share of the fullest."""
    change, most = 0.0, 1e-9
    # Slivers that the opening's or pocket's edge cuts off fill and empty at once and move next to nothing.
    whole_ml = full_ml.mean() / 2.0
    for i in range(len(filling)):
        most = max(most, min(filling[i], 1.0))
        moved = abs(min(filling[i], 1.0) - min(before[i], 1.0))
        change = max(change, moved * min(full_ml[i] / whole_ml, 1.0))
        # Lines that are led one after the other toss a head up for a step: what counts stood for two.
        kept = min(head[i], stood[i])
        if kept > highest[i] and before[i] > dry[i]:
            highest[i] = kept
            if kept >= floor_at[i]:
                arrival[i] = min(arrival[i], now)
    return change / most


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _along(
    begin: int, end: int, order: Any, conduct: Any, reach: float, filling: Any, head: Any, rise: Any, tee: Any,
    through: Any, fresh: Any, full_ml: Any, foot: Any, extent: Any, row: Any, between: Any, hc: float, values: Any,
    knots: Any, work: Any,
) -> None:  # fmt: skip
    """Let liquid move along one line for one step: the volumes over its links are solved for together."""
    first, last = _wet_part(begin, end, order, filling)
    links = last - first - 1
    if links < 1:
        return
    pull, flow, upper, moved, a, slope, trial = work
    for k in range(links):
        i, j = order[first + k], order[first + k + 1]
        pull[k] = reach * conduct[first + k] * tee[i if head[i] > head[j] else j]
    for k in range(links + 1):
        i = order[first + k]
        a[k], slope[k], trial[k] = head[i], rise[i] / full_ml[i], filling[i]
    for _ in range(_MOST_TRIES):
        _solve(links, pull, flow, upper, a, slope)
        # Newton: take heads and slopes again where the answer led to, until it leads there again.
        _gains(links, flow, moved)
        apart = 0.0
        for k in range(links + 1):
            i = order[first + k]
            old = filling[i]
            led = max(old + moved[k] / full_ml[i], 0.0)
            apart = max(apart, abs(led - trial[k]))
            trial[k] = filling[i] = led
            h, d, _ = _look_up(i, filling, foot, extent, row, between, hc, values, knots)
            a[k] = h + d * (old - led)
            slope[k] = d / full_ml[i]
            filling[i] = old
        if apart < _AGREES_SHARE:
            break
    _limit(links, first, order, flow, filling, full_ml)
    if len(fresh) > 0:
        _carry(links, first, order, flow, filling, full_ml, fresh, upper, a)
    _gains(links, flow, moved)
    for k in range(links + 1):
        i = order[first + k]
        filling[i] += moved[k] / full_ml[i]
        head[i], rise[i], tee[i] = _look_up(i, filling, foot, extent, row, between, hc, values, knots)
        through[i] += ((abs(flow[k - 1]) if k > 0 else 0.0) + (abs(flow[k]) if k < links else 0.0)) / 2.0


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _wet_part(begin: int, end: int, order: Any, filling: Any) -> Any:
    """Return the places of a line between which anything moves: the wet ones and one dry one on either side."""
    first, last = begin, end
    while first < end and filling[order[first]] <= _STILL:
        first += 1
    while last > first and filling[order[last - 1]] <= _STILL:
        last -= 1
    if first == last:
        return first, last
    return max(first - 1, begin), min(last + 1, end)


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _carry(
    links: int, first: int, order: Any, flow: Any, filling: Any, full_ml: Any, fresh: Any, upper: Any, share: Any
) -> None:
    """Carry fresh liquid with the flows of a line: each place mixes, and gives away what it then holds."""
    for k in range(links + 1):
        i = order[first + k]
        given = (max(-flow[k - 1], 0.0) if k > 0 else 0.0) + (max(flow[k], 0.0) if k < links else 0.0)
        taken = (max(flow[k - 1], 0.0) if k > 0 else 0.0) + (max(-flow[k], 0.0) if k < links else 0.0)
        # share · (held + taken) = fresh + what comes from either side with its own share; a tridiagonal system.
        held = max(filling[i], 0.0) * full_ml[i]
        centre = max(held + taken, given, 1e-12)
        right = fresh[i]
        if k > 0:
            lower = -max(flow[k - 1], 0.0)
            centre -= lower * upper[k - 1]
            right -= lower * share[k - 1]
        upper[k] = -max(-flow[k], 0.0) / centre if k < links else 0.0
        share[k] = right / centre
    for k in range(links - 1, -1, -1):
        share[k] -= upper[k] * share[k + 1]
    for k in range(links):
        moved = flow[k] * (share[k] if flow[k] > 0.0 else share[k + 1])
        fresh[order[first + k]] -= moved
        fresh[order[first + k + 1]] += moved


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _gains(links: int, flow: Any, moved: Any) -> None:
    """Sum what each place of a line gains, in mL, from the volumes over its links."""
    moved[: links + 1] = 0.0
    for k in range(links):
        moved[k] -= flow[k]
        moved[k + 1] += flow[k]


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _solve(links: int, pull: Any, flow: Any, upper: Any, a: Any, slope: Any) -> None:
    """Solve flow[k] = pull[k] · (head behind − head ahead) with heads after the flows, a tridiagonal system."""
    for k in range(links):
        p = pull[k]
        lower = -p * slope[k] if k > 0 else 0.0
        centre = 1.0 + p * (slope[k] + slope[k + 1])
        right = p * (a[k] - a[k + 1])
        if k > 0:
            centre -= lower * upper[k - 1]
            right -= lower * flow[k - 1]
        upper[k] = -p * slope[k + 1] / centre
        flow[k] = right / centre
    for k in range(links - 2, -1, -1):
        flow[k] -= upper[k] * flow[k + 1]


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _limit(links: int, first: int, order: Any, flow: Any, filling: Any, full_ml: Any) -> None:
    """Let no column give away more than it holds and is given along the line."""
    for k in range(links + 1):
        i = order[first + k]
        if k < links and flow[k] > 0.0:
            left = max(-flow[k - 1], 0.0) if k > 0 else 0.0
            held = max(filling[i], 0.0) * full_ml[i] + (max(flow[k - 1], 0.0) if k > 0 else 0.0)
            flow[k] *= min(held / (left + flow[k]), 1.0)
    for k in range(links, 0, -1):
        i = order[first + k]
        if flow[k - 1] < 0.0:
            right = max(flow[k], 0.0) if k < links else 0.0
            held = max(filling[i], 0.0) * full_ml[i] + (max(-flow[k], 0.0) if k < links else 0.0)
            flow[k - 1] *= min(max(held - right, 0.0) / -flow[k - 1], 1.0)
