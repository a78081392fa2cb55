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
# A line is solved again until no filling in it moves by more than the first share, or so many times; and again only
# from where to where fillings moved by more than the second, and so many places beyond.
_AGREES_SHARE, _STAYS_SHARE, _MOST_TRIES, _BEYOND = 0.001, 0.0001, 8, 2
# What ``columns`` (n, 7) holds: foot, extent with capillary height, extent, one over the room, row of the table and how
# far it is to the next, and the room.
_FOOT, _SCALE, _EXTENT, _PER_ML, _ROW, _BETWEEN, _FULL_ML = range(7)
# What ``work`` (n + 1, 16) holds for each place of a line: what ``columns`` holds, but for the room; filling, filling
# led to, head and its rise, conductance and its rise; and of the link behind it the pull, what ran already, the flow,
# and how that hangs on the next flow.
_HELD, _LED, _HIGH, _RISE, _TEE, _TEE_RISE, _PULL, _RAN, _FLOW, _ONWARD = range(6, 16)
_PLACE_WIDTH = 16
_PER_FULL = 1.0 / (1.0 + SLOT_SHARE)


@numba.njit(cache=True, nogil=True, error_model="numpy")
def take_steps(
    now_s: float, until_s: float, step_s: float, fill_s: float, conductivity_cm_per_s: float, change_share: float,
    inflow: Any, columns: Any, filling: Any, head: Any, pieces: Any, knots: Any, order: Any, start: Any,
    conduct: Any, sweep: Any, rate: Any, highest: Any, arrival: Any, through: Any, fresh: Any, floor_at: Any,
    dry: float,
) -> Any:  # fmt: skip
    """Take steps from ``now_s`` to ``until_s``; return the time, the next step, and how many were taken.

    Filling, head, rate and the records are changed in place; ``rate`` is what ran over the link behind each place of
    ``order`` in mL/s.
    """
    before, midway, stood = np.empty_like(filling), np.empty_like(filling), np.empty_like(head)
    work = np.empty((len(filling) + 1, _PLACE_WIDTH))
    # Slivers that the opening's or pocket's edge cuts off fill and empty at once and move next to nothing.
    weight = np.minimum(columns[:, _FULL_ML] / (columns[:, _FULL_ML].mean() / 2.0), 1.0)
    for i in range(len(filling)):
        head[i] = _look_up(i, filling[i], columns, pieces, knots)[0]
    count = 0
    while now_s < until_s - 1e-9:
        filling_up = now_s < fill_s - 1e-9
        left_s = min(fill_s if filling_up else until_s, until_s) - now_s
        # In equal steps up to there: the last would else be a short one.
        dt = left_s / max(np.ceil(left_s / step_s - 1e-9), 1.0)
        before[:], stood[:] = filling, head
        if filling_up:
            _pour(dt, inflow, columns, filling, fresh)
        _lead(
            dt, conductivity_cm_per_s, columns, filling, head, pieces, knots, order, start, conduct, sweep, rate,
            midway, fresh, work,
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
                led, head[i] = head[i], _look_up(i, filling[i], columns, pieces, knots)[0]
                # Ways that are led one after the other toss a head up: what counts stood at either end and midway.
                _record(i, now_s, min(head[i], stood[i], led), before[i] > dry, highest, arrival, floor_at)
        longer = max(change_share / max(_change(filling, before, midway, weight), 1e-9), 0.5)
        # A step that had to end with a frame holds the next no shorter.
        step_s = min(max(min(dt * longer, max(step_s, 1.5 * dt)), SHORTEST_S), LONGEST_S)
    return now_s, step_s, count


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _lead(
    dt: float, conductivity: float, columns: Any, filling: Any, head: Any, pieces: Any, knots: Any,
    order: Any, start: Any, conduct: Any, sweep: Any, rate: Any, midway: Any, fresh: Any, work: Any,
) -> None:  # fmt: skip
    """Lead liquid along all lines for one step; rates become volumes moved, ``midway`` the fillings after one way."""
    ways = len(sweep) - 1
    for line in range(sweep[1], sweep[ways]):
        _go_on(start[line], start[line + 1], dt, order, columns, filling, rate, fresh, work)
    for way in range(ways):
        for line in range(sweep[way], sweep[way + 1]):
            _along(
                start[line], start[line + 1], way == 0, dt, conductivity, order, conduct, columns, filling, head,
                pieces, knots, rate, fresh, work,
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
def _change(filling: Any, before: Any, midway: Any, weight: Any) -> float:
    """Return the largest change of filling in a step, or by the later ways in it, as a share of the fullest."""
    change, most = 0.0, 1e-9
    for i in range(len(filling)):
        now = min(filling[i], 1.0)
        undone = _UNDONE_WEIGHT * abs(now - min(midway[i], 1.0))
        change = max(change, max(abs(now - min(before[i], 1.0)), undone) * weight[i])
        most = max(most, now)
    return change / most


# Compiled into their callers: a call costs as much as what is done. Multiplied and added at once where only rounding
# hangs on it: what moves is added and taken elsewhere.
@numba.njit(forceinline=True, cache=True, nogil=True, error_model="numpy", fastmath={"contract"})
def _look_up(i: int, value: float, columns: Any, pieces: Any, knots: Any) -> Any:
    """Head of a column filled to ``value`` and its rise with filling, conductance share and its rise."""
    full = 1.0 + SLOT_SHARE
    if value >= full:
        rise = columns[i, _EXTENT] / SLOT_SHARE
        return columns[i, _FOOT] + columns[i, _EXTENT] + (value - full) * rise, rise, 1.0, 0.0
    t = max(value, 0.0) * _PER_FULL
    near = np.sqrt(max(min(t, 1.0 - t), 0.0) * 0.5)
    x = near if t < 0.5 else 1.0 - near
    # Without a sign: no need to ask whether they count from the end.
    k, r = np.uint32(min(int(x * KNOTS), KNOTS - 1)), np.uint32(columns[i, _ROW])
    f, over, scale = columns[i, _BETWEEN], value - knots[k], columns[i, _SCALE]
    head, rise = pieces[r, k, 0] + f * pieces[r, k, 4], pieces[r, k, 1] + f * pieces[r, k, 5]
    tee, tee_rise = pieces[r, k, 2] + f * pieces[r, k, 6], pieces[r, k, 3] + f * pieces[r, k, 7]
    return columns[i, _FOOT] + scale * (head + rise * over), scale * rise, tee + tee_rise * over, tee_rise


@numba.njit(forceinline=True, cache=True, nogil=True, error_model="numpy")
def _along(
    begin: int, end: int, goes_first: Any, dt: float, conductivity: float, order: Any, conduct: Any, columns: Any,
    filling: Any, head: Any, pieces: Any, knots: Any, moved: Any, fresh: Any, work: Any,
) -> None:  # fmt: skip
    """Let liquid move along one line for one step: the volumes over its links are solved for together.

    ``moved`` is what went over each link in this step already; where the line goes first, the rate it had before.
    """
    first, last = _wet_part(begin, end, order, filling)
    links = last - first - 1
    came = 0.0
    for k in range(links + 1):
        i = order[first + k]
        for what in range(_HELD):
            work[k, what] = columns[i, what]
        # It begins from where liquid would stand had it run as in the step before.
        ran = moved[first + k] if k < links else 0.0
        gone = ran * (dt if goes_first else 1.0 / _GOES_ON_SHARE - 1.0)
        work[k, _HELD], work[k, _LED] = filling[i], max(filling[i] + (came - gone) * work[k, _PER_ML], 0.0)
        work[k, _PULL], work[k, _RAN] = dt * conductivity * conduct[first + k], 0.0 if goes_first else ran
        came = gone
    if goes_first:
        for k in range(begin, end):
            moved[k] = 0.0
    if links < 1:
        return
    low, high, short = 0, links, False
    for tried in range(_MOST_TRIES):
        # Newton: take heads and slopes again where the answer led to, until it leads there again.
        apart, low, high, lacks = _solve(low, high, links, pieces, knots, work)
        short = short or lacks
        if tried == 0 and not goes_first:
            # The head that the lines of the other way led to.
            for k in range(links + 1):
                head[order[first + k]] = work[k, _HIGH]
        if apart < _AGREES_SHARE:
            break
    _move(links, first, short, order, columns, filling, moved, fresh, work)


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _go_on(
    begin: int, end: int, dt: float, order: Any, columns: Any, filling: Any, moved: Any, fresh: Any, work: Any
) -> None:
    """Let liquid go on along a line at the rates it had, as far as there is any; rates become volumes moved."""
    first, last = _wet_part(begin, end, order, filling)
    links, runs, short, came = last - first - 1, False, False, 0.0
    for k in range(links + 1):
        gone = _GOES_ON_SHARE * dt * moved[first + k] if k < links else 0.0
        runs = runs or gone != 0.0
        i = order[first + k]
        short = short or filling[i] + (came - gone) * columns[i, _PER_ML] < 0.0
        work[k, _FLOW] = came = gone
    for k in range(begin, end):
        moved[k] = 0.0
    if runs:
        _move(links, first, short, order, columns, filling, moved, fresh, work)


@numba.njit(forceinline=True, cache=True, nogil=True, error_model="numpy")
def _move(
    links: int, first: int, short: Any, order: Any, columns: Any, filling: Any, moved: Any, fresh: Any, work: Any
) -> None:
    """Move what flows over the links of a line; where a column runs ``short``, no more than there is."""
    if short:
        _limit(links, first, order, columns, filling, work)
    if len(fresh) > 0:
        _carry(links, first, order, work[:, _FLOW], columns, filling, fresh, work)
    came = 0.0
    for k in range(links + 1):
        gone = work[k, _FLOW] if k < links else 0.0
        i = order[first + k]
        filling[i] += (came - gone) * columns[i, _PER_ML]
        if k < links:
            moved[first + k] += gone
        came = gone


@numba.njit(forceinline=True, cache=True, nogil=True, error_model="numpy", fastmath={"contract"})
def _solve(low: int, high: int, links: int, pieces: Any, knots: Any, work: Any) -> Any:
    """Solve what ran + flow = what a link passes after the flow, from place ``low`` to ``high``: tridiagonal.

    Heads and conductances are straight lines from where they are looked up, at the fillings that were led to. Return
    how far the fillings that the flow leads to lie from those, between which places they do, and whether a column
    would run short.
    """
    # Looked up by itself: the processor takes many columns at once, while each link waits for the one before.
    for k in range(low, high + 1):
        top, rise, tee, tee_rise = _look_up(k, work[k, _LED], work, pieces, knots)
        work[k, _HIGH], work[k, _RISE], work[k, _TEE], work[k, _TEE_RISE] = top, rise, tee, tee_rise
    came, back = work[low - 1, _FLOW] if low > 0 else 0.0, 0.0
    top, rise, tee, tee_rise = work[low, _HIGH], work[low, _RISE], work[low, _TEE], work[low, _TEE_RISE]
    foot, extent, per_ml = work[low, _FOOT], work[low, _EXTENT], work[low, _PER_ML]
    off = work[low, _HELD] - work[low, _LED]
    for k in range(low, high):
        n = k + 1
        top_n, rise_n, tee_n, tee_rise_n = work[n, _HIGH], work[n, _RISE], work[n, _TEE], work[n, _TEE_RISE]
        foot_n, extent_n, per_ml_n = work[n, _FOOT], work[n, _EXTENT], work[n, _PER_ML]
        off_n, pull = work[n, _HELD] - work[n, _LED], work[k, _PULL]
        flow, by_head, by_tee, by_tee_n = _passes(top - top_n, foot - foot_n, min(extent, extent_n), tee, tee_n)
        by_one = pull * (by_head * rise + by_tee * tee_rise)
        by_other = pull * (by_head * rise_n - by_tee_n * tee_rise_n)
        behind, ahead = by_one * per_ml, by_other * per_ml_n
        per_centre = 1.0 / (1.0 + behind + ahead - behind * back)
        came = (pull * flow - work[k, _RAN] + by_one * off - by_other * off_n + behind * came) * per_centre
        back = ahead * per_centre
        work[k, _FLOW], work[k, _ONWARD] = came, back
        top, rise, tee, tee_rise, off = top_n, rise_n, tee_n, tee_rise_n, off_n
        foot, extent, per_ml = foot_n, extent_n, per_ml_n
    apart, least, from_place, to_place = 0.0, 0.0, high + 1, low - 1
    gone = work[high, _FLOW] if high < links else 0.0
    for k in range(high, low - 1, -1):
        came = work[k - 1, _FLOW] if k > 0 else 0.0
        if k > low:
            came += work[k - 1, _ONWARD] * gone
            work[k - 1, _FLOW] = came
        then = work[k, _HELD] + (came - gone) * work[k, _PER_ML]
        least = min(least, then)
        then = max(then, 0.0)
        off = abs(then - work[k, _LED])
        apart = max(apart, off)
        if off > _STAYS_SHARE:
            from_place, to_place = k, max(to_place, k)
        work[k, _LED] = then
        gone = came
    return apart, max(from_place - _BEYOND, 0), min(to_place + _BEYOND, links), least < 0.0


@numba.njit(forceinline=True, cache=True, nogil=True, error_model="numpy", fastmath={"contract"})
def _passes(fall: float, slope: float, extent: float, tee: float, tee_n: float) -> Any:
    """Return conductance · fall of head over a link, and its rise with the fall and with the conductance at either end.

    What runs down the slope of the columns' feet goes by the conductance of the column it leaves; what deeper free
    liquid drives, by the mean of both, as in a current whose depth falls evenly. No more than conductances differ by,
    times the extent, goes by the mean: liquid that wicks would else be drawn the more, the fuller the far column is.
    """
    down = fall > 0.0
    drop, leaves, gap = abs(fall), tee if down else tee_n, tee - tee_n if down else tee_n - tee
    most = max(extent * gap, 0.0)
    evens = max(min(drop - max(slope if down else -slope, 0.0), most), 0.0)
    by_mean = 0.0 < evens < most
    by_head = leaves - 0.5 * gap if by_mean else leaves
    by_entered = 0.5 * evens if by_mean else evens
    runs, by_left = leaves * drop - 0.5 * gap * evens, drop - by_entered
    if down:
        return runs, by_head, by_left, by_entered
    return -runs, by_head, -by_entered, -by_left


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
    upper, share = work[:, _HIGH], work[:, _ONWARD]
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
def _limit(links: int, first: int, order: Any, columns: Any, filling: Any, work: Any) -> None:
    """Let no column give away more than it holds and is given along the line."""
    came = 0.0
    for k in range(links):
        flow = work[k, _FLOW]
        if flow > 0.0:
            i = order[first + k]
            left, held = max(-came, 0.0), max(filling[i], 0.0) * columns[i, _FULL_ML] + max(came, 0.0)
            if left + flow > held:
                flow *= held / (left + flow)
                work[k, _FLOW] = flow
        came = flow
    goes = 0.0
    for k in range(links - 1, -1, -1):
        flow = work[k, _FLOW]
        if flow < 0.0:
            i = order[first + k + 1]
            right, held = max(goes, 0.0), max(filling[i], 0.0) * columns[i, _FULL_ML] + max(-goes, 0.0)
            if held - right < -flow:
                flow *= max(held - right, 0.0) / -flow
                work[k, _FLOW] = flow
        goes = flow
