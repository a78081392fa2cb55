"""Compiled steps of the spread model: liquid moves along lines of columns, each line solved for its links together.

A step lets liquid go on as it ran across the lines that are led later, then leads line after line, each solved for what
it passes more or less than that: liquid that runs steadily runs the same however long the step. In each line heads and
conductances are those at the step's end, so that a film may run down a slope by long steps.
"""

from __future__ import annotations

from typing import Any

import numba
import numpy as np

from soakline.fluid.capillary import KNOTS, SLOT_SHARE

# The bounds of a step.
LONGEST_S, SHORTEST_S = 20.0, 0.002
# Liquid that fills less of a column than this share stays where it is.
_STILL = 1e-5
# How much of what ran in the step before goes on: all of it would let liquid at rest swing to and fro for ever.
_GOES_ON_SHARE = 0.8
# How much of what later ways undo of the first counts as change when the length of the next step is chosen.
_UNDONE_WEIGHT = 0.8
# A line is solved again until no filling in it moves by more than this share, or so many times.
_AGREES_SHARE, _MOST_TRIES = 0.0003, 8
# What ``columns`` (n, 5) holds: foot, extent with capillary height, extent, room, and how far it is to the next row.
_FOOT, _SCALE, _EXTENT, _FULL_ML, _BETWEEN = range(5)


@numba.njit(cache=True, nogil=True, error_model="numpy")
def take_steps(
    now_s: float, until_s: float, step_s: float, fill_s: float, conductivity_cm_per_s: float, change_share: float,
    inflow: Any, columns: Any, row: Any, filling: Any, head: Any, values: Any, knots: Any, order: Any, start: Any,
    conduct: Any, sweep: Any, rate: Any, highest: Any, arrival: Any, through: Any, fresh: Any, floor_at: Any,
    dry: float,
) -> Any:  # fmt: skip
    """Take steps from ``now_s`` to ``until_s``; return the time, the next step, and how many were taken.

    Filling, head, rate and the records are changed in place; ``rate`` is what ran over the link behind each place of
    ``order`` in mL/s.
    """
    per_gap = 1.0 / (knots[1:] - knots[:-1])
    before, midway, stood = np.empty_like(filling), np.empty_like(filling), np.empty_like(head)
    work = np.empty((7, len(filling) + 1))
    for i in range(len(filling)):
        head[i] = _look_up(i, filling[i], columns, row, values, knots, per_gap)[0]
    count = 0
    while now_s < until_s - 1e-9:
        filling_up = now_s < fill_s - 1e-9
        dt = min(step_s, min(fill_s if filling_up else until_s, until_s) - now_s)
        before[:], stood[:] = filling, head
        if filling_up:
            _pour(dt, inflow, columns, filling, fresh)
        _lead(
            dt, conductivity_cm_per_s, columns, row, filling, head, values, knots, per_gap, order, start, conduct,
            sweep, rate, midway, fresh, work,
        )  # fmt: skip
        for k in range(len(order)):
            if rate[k] != 0.0:
                through[order[k]] += abs(rate[k]) / 2.0
                through[order[k + 1]] += abs(rate[k]) / 2.0
                rate[k] /= dt
        now_s += dt
        count += 1
        for i in range(len(filling)):
            if filling[i] > _STILL or before[i] > _STILL:
                led, head[i] = head[i], _look_up(i, filling[i], columns, row, values, knots, per_gap)[0]
                # Ways that are led one after the other toss a head up: what counts stood at either end and midway.
                _record(i, now_s, min(head[i], stood[i], led), before[i] > dry, highest, arrival, floor_at)
        change = max(_change(filling, before, columns), _UNDONE_WEIGHT * _change(filling, midway, columns))
        step_s = min(max(dt * min(max(change_share / max(change, 1e-9), 0.5), 1.5), SHORTEST_S), LONGEST_S)
    return now_s, step_s, count


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _lead(
    dt: float, conductivity: float, columns: Any, row: Any, filling: Any, head: Any, values: Any, knots: Any,
    per_gap: Any, order: Any, start: Any, conduct: Any, sweep: Any, rate: Any, midway: Any, fresh: Any, work: Any,
) -> None:  # fmt: skip
    """Lead liquid along all lines for one step; rates become volumes moved, ``midway`` the fillings after one way."""
    ways = len(sweep) - 1
    for line in range(sweep[1], sweep[ways]):
        _go_on(start[line], start[line + 1], dt, order, columns, filling, rate, fresh, work)
    rate[: start[sweep[1]]] = 0.0
    for way in range(ways):
        for line in range(sweep[way], sweep[way + 1]):
            _along(
                start[line], start[line + 1], dt * conductivity, order, conduct, columns, row, filling, head, values,
                knots, per_gap, rate, fresh, work,
            )  # fmt: skip
        if way == 0:
            midway[:] = filling


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _record(i: int, now: float, kept: float, wet: Any, highest: Any, arrival: Any, floor_at: Any) -> None:
    """Keep the highest head of a column, and when its floor was first moist."""
    if wet and kept > highest[i]:
        highest[i] = kept
        if kept >= floor_at[i]:
            arrival[i] = min(arrival[i], now)


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _pour(dt: float, inflow: Any, columns: Any, filling: Any, fresh: Any) -> None:
    for i in range(len(filling)):
        if inflow[i] > 0.0:
            filling[i] += inflow[i] * dt / columns[i, _FULL_ML]
            if len(fresh) > 0:
                fresh[i] += inflow[i] * dt


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _change(filling: Any, before: Any, columns: Any) -> float:
    """Return the largest change of filling as a share of the fullest."""
    change, most = 0.0, 1e-9
    # Slivers that the opening's or pocket's edge cuts off fill and empty at once and move next to nothing.
    whole_ml = columns[:, _FULL_ML].mean() / 2.0
    for i in range(len(filling)):
        most = max(most, min(filling[i], 1.0))
        moved = abs(min(filling[i], 1.0) - min(before[i], 1.0))
        change = max(change, moved * min(columns[i, _FULL_ML] / whole_ml, 1.0))
    return change / most


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _look_up(i: int, value: float, columns: Any, row: Any, values: Any, knots: Any, per_gap: Any) -> Any:
    """Head of a column and its rise with filling, conductance share and its rise."""
    full = 1.0 + SLOT_SHARE
    if value >= full:
        rise = columns[i, _EXTENT] / SLOT_SHARE
        return columns[i, _FOOT] + columns[i, _EXTENT] + (value - full) * rise, rise, 1.0, 0.0
    t = max(value, 0.0) / full
    x = np.sqrt(t / 2.0) if t < 0.5 else 1.0 - np.sqrt((1.0 - t) / 2.0)
    k = min(int(x * KNOTS), KNOTS - 1)
    part = (value - knots[k]) * per_gap[k]
    r, f = row[i], columns[i, _BETWEEN]
    low = values[r, k, 0] + (values[r + 1, k, 0] - values[r, k, 0]) * f
    high = values[r, k + 1, 0] + (values[r + 1, k + 1, 0] - values[r, k + 1, 0]) * f
    tee_low = values[r, k, 1] + (values[r + 1, k, 1] - values[r, k, 1]) * f
    tee_high = values[r, k + 1, 1] + (values[r + 1, k + 1, 1] - values[r, k + 1, 1]) * f
    scale = columns[i, _SCALE]
    return (
        columns[i, _FOOT] + scale * (low + (high - low) * part),
        scale * (high - low) * per_gap[k],
        tee_low + (tee_high - tee_low) * part,
        (tee_high - tee_low) * per_gap[k],
    )


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _along(
    begin: int, end: int, reach: float, order: Any, conduct: Any, columns: Any, row: Any, filling: Any, head: Any,
    values: Any, knots: Any, per_gap: Any, moved: Any, fresh: Any, work: Any,
) -> None:  # fmt: skip
    """Let liquid move along one line for one step: the volumes over its links are solved for together."""
    first, last = _wet_part(begin, end, order, filling)
    links = last - first - 1
    if links < 1:
        return
    flow, _, high, rise, tee, tee_rise, led = work
    for k in range(links + 1):
        i = order[first + k]
        led[k] = filling[i]
        high[k], rise[k], tee[k], tee_rise[k] = _look_up(i, led[k], columns, row, values, knots, per_gap)
        # The head that the lines of the other way led to.
        head[i] = high[k]
    for _ in range(_MOST_TRIES):
        _solve(links, first, reach, order, conduct, columns, filling, moved, work)
        # Newton: take heads and slopes again where the answer led to, until it leads there again.
        apart, came = 0.0, 0.0
        for k in range(links + 1):
            i = order[first + k]
            gone = flow[k] if k < links else 0.0
            then = max(filling[i] + (came - gone) / columns[i, _FULL_ML], 0.0)
            came = gone
            apart = max(apart, abs(then - led[k]))
            led[k] = then
        if apart < _AGREES_SHARE:
            break
        for k in range(links + 1):
            i = order[first + k]
            high[k], rise[k], tee[k], tee_rise[k] = _look_up(i, led[k], columns, row, values, knots, per_gap)
    _move(links, first, order, columns, filling, moved, fresh, work)


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _go_on(
    begin: int, end: int, dt: float, order: Any, columns: Any, filling: Any, moved: Any, fresh: Any, work: Any
) -> None:
    """Let liquid go on along a line at the rates it had, as far as there is any; rates become volumes moved."""
    first, last = _wet_part(begin, end, order, filling)
    links, flow, runs = last - first - 1, work[0], False
    for k in range(links):
        flow[k] = _GOES_ON_SHARE * dt * moved[first + k]
        runs = runs or flow[k] != 0.0
    moved[begin:end] = 0.0
    if runs:
        _move(links, first, order, columns, filling, moved, fresh, work)


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _move(links: int, first: int, order: Any, columns: Any, filling: Any, moved: Any, fresh: Any, work: Any) -> None:
    """Move what flows over the links of a line, no more than there is."""
    flow = work[0]
    _limit(links, first, order, flow, columns, filling)
    if len(fresh) > 0:
        _carry(links, first, order, flow, columns, filling, fresh, work)
    for k in range(links):
        i, j = order[first + k], order[first + k + 1]
        filling[i] -= flow[k] / columns[i, _FULL_ML]
        filling[j] += flow[k] / columns[j, _FULL_ML]
        moved[first + k] += flow[k]


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _solve(
    links: int, first: int, reach: float, order: Any, conduct: Any, columns: Any, filling: Any, moved: Any, work: Any
) -> None:
    """Solve moved + flow = pull · conductance of the upper column · fall of head, all after the flow: tridiagonal.

    Heads and conductances are straight lines from where they were looked up.
    """
    flow, onward, high, rise, tee, tee_rise, led = work
    i = order[first]
    per_ml = 1.0 / columns[i, _FULL_ML]
    off = filling[i] - led[0]
    came, back = 0.0, 0.0
    for k in range(links):
        j = order[first + k + 1]
        per_ml_j = 1.0 / columns[j, _FULL_ML]
        off_j = filling[j] - led[k + 1]
        pull, fall = reach * conduct[first + k], high[k] - high[k + 1]
        down = fall > 0.0
        passes = pull * (tee[k] if down else tee[k + 1])
        turned = pull * fall * (tee_rise[k] if down else tee_rise[k + 1])
        by_one = passes * rise[k] + (turned if down else 0.0)
        by_other = passes * rise[k + 1] - (0.0 if down else turned)
        behind, ahead = by_one * per_ml, by_other * per_ml_j
        per_centre = 1.0 / (1.0 + behind + ahead - behind * back)
        came = (passes * fall - moved[first + k] + by_one * off - by_other * off_j + behind * came) * per_centre
        back = ahead * per_centre
        flow[k], onward[k] = came, back
        per_ml, off = per_ml_j, off_j
    for k in range(links - 2, -1, -1):
        came = flow[k] + onward[k] * came
        flow[k] = came


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
def _carry(links: int, first: int, order: Any, flow: Any, columns: Any, filling: Any, fresh: Any, work: Any) -> None:
    """Carry fresh liquid with the flows of a line: each place mixes, and gives away what it then holds."""
    upper, share = work[1], work[2]
    for k in range(links + 1):
        i = order[first + k]
        given = (max(-flow[k - 1], 0.0) if k > 0 else 0.0) + (max(flow[k], 0.0) if k < links else 0.0)
        taken = (max(flow[k - 1], 0.0) if k > 0 else 0.0) + (max(-flow[k], 0.0) if k < links else 0.0)
        # share · (held + taken) = fresh + what comes from either side with its own share; a tridiagonal system.
        held = max(filling[i], 0.0) * columns[i, _FULL_ML]
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
        carried = flow[k] * (share[k] if flow[k] > 0.0 else share[k + 1])
        fresh[order[first + k]] -= carried
        fresh[order[first + k + 1]] += carried


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _limit(links: int, first: int, order: Any, flow: Any, columns: Any, filling: Any) -> None:
    """Let no column give away more than it holds and is given along the line."""
    for k in range(links + 1):
        i = order[first + k]
        if k < links and flow[k] > 0.0:
            left = max(-flow[k - 1], 0.0) if k > 0 else 0.0
            held = max(filling[i], 0.0) * columns[i, _FULL_ML] + (max(flow[k - 1], 0.0) if k > 0 else 0.0)
            if left + flow[k] > held:
                flow[k] *= held / (left + flow[k])
    for k in range(links, 0, -1):
        i = order[first + k]
        if flow[k - 1] < 0.0:
            right = max(flow[k], 0.0) if k < links else 0.0
            held = max(filling[i], 0.0) * columns[i, _FULL_ML] + (max(-flow[k], 0.0) if k < links else 0.0)
            if held - right < -flow[k - 1]:
                flow[k - 1] *= max(held - right, 0.0) / -flow[k - 1]
