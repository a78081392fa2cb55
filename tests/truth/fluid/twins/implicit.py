"""A slow twin of the spread model: all columns at once, fully implicit, solved by Newton with a sparse factor.

It stands on the same columns and links; how they are led through time is its own: no lines, no sweeps, no limits, the
conductance taken at the end of the step. Its step is as short as asked.
"""

from dataclasses import dataclass, replace

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.linalg import splu

from soakline.fluid import spread as model
from soakline.fluid.capillary import SLOT_SHARE, column_table, free_table
from soakline.fluid.conduct import conduct_cm, over_disc
from soakline.fluid.spread import Spread, dry_share

_TOLERANCE_SHARE = 1e-9
_TINY = 1e-7


@dataclass(frozen=True, slots=True, eq=False)
class Columns:
    """Head, its rise with filling, conductance share and its rise, of all columns at once, from the shared table."""

    foot: np.ndarray
    extent: np.ndarray
    capillary_height: float
    row: np.ndarray
    between: np.ndarray
    table: object

    def only(self, these):
        return replace(
            self, foot=self.foot[these], extent=self.extent[these], row=self.row[these], between=self.between[these]
        )

    def at(self, filling):
        """Give (head, head's rise, conductance, conductance's rise), each (n,)."""
        knots, values, extent = self.table.filling_share, self.table.values_share, self.extent
        k = np.clip(np.searchsorted(knots, filling, side="right") - 1, 0, len(knots) - 2)
        gap = knots[k + 1] - knots[k]
        r, f = self.row, self.between[:, None]
        low = values[r, k] * (1 - f) + values[r + 1, k] * f
        high = values[r, k + 1] * (1 - f) + values[r + 1, k + 1] * f
        slope = (high - low) / gap[:, None]
        held = low + slope * (filling - knots[k])[:, None]
        scale = extent + self.capillary_height
        head, rise = self.foot + scale * held[:, 0], scale * slope[:, 0]
        tee, tee_rise = np.maximum(held[:, 1], 0.0), np.where(held[:, 1] > 0.0, slope[:, 1], 0.0)
        over = filling - (1.0 + SLOT_SHARE)
        full = over >= 0.0
        rise = np.where(full, extent / SLOT_SHARE, rise)
        # Pressure goes on from the table's own end: a jump of a hundredth of a mm there lets Newton run in a ring.
        end = values[r, -1, 0] * (1 - self.between) + values[r + 1, -1, 0] * self.between
        head = np.where(full, self.foot + scale * end + extent * over / SLOT_SHARE, head)
        return head, rise, np.where(full, 1.0, tee), np.where(full, 0.0, tee_rise)


def columns_of(sheet):
    table = column_table() if sheet.foam.capillary_height_cm > 0.0 else free_table()
    place = model._table_place(sheet, table.log_ratio_share)
    return Columns(sheet.foot_cm, sheet.extent_cm, sheet.foam.capillary_height_cm, *place, table)


def spread_implicit(sheet, poured_ml, soak, *, change_share=0.05, filling_share=None):
    """Return what ``spread`` returns, with steps in which no column's filling changes by more than ``change_share``."""
    cavity, count = sheet.cavity, len(sheet.cavity.u_cm)
    columns, first, second = columns_of(sheet), cavity.link[:, 0], cavity.link[:, 1]
    pull = sheet.foam.conductivity_cm_per_s * conduct_cm(cavity)
    inflow = sum(
        (over_disc(cavity, c) * ml / soak.fill_s for c, ml in poured_ml), start=np.zeros(count)
    )  # fmt: skip
    filling = np.zeros(count) if filling_share is None else filling_share.copy()
    ends = model._frame_times(soak)
    heads, highest = np.empty((len(ends), count)), np.full(count, -np.inf)
    dry, now, step, steps = dry_share(sheet), 0.0, 1e-3, 0
    for frame, until in enumerate(ends):
        while now < until - 1e-9:
            pouring = now < soak.fill_s - 1e-9
            dt = min(step, (min(soak.fill_s, until) if pouring else until) - now)
            gained = dt * inflow if pouring else np.zeros(count)
            led, tries = _near_liquid(columns, sheet.full_ml, filling, gained, dt * pull, first, second)
            change = 2.0 if led is None else float(np.abs(led - filling).max())
            if change > 1.5 * change_share and dt > 1e-7:
                step = dt / 2.0
                continue
            assert led is not None, "the twin found no step"
            filling, now, steps = led, now + dt, steps + 1
            head = columns.at(filling)[0]
            highest = np.where((filling > dry) & (head > highest), head, highest)
            step = max(step, dt) * min(max(change_share / max(change, 1e-9), 0.5), 1.4 if tries < 8 else 1.0)
        heads[frame] = np.where(filling > dry, columns.at(filling)[0], -np.inf)
    none = np.zeros(0)
    return Spread(sheet, ends, heads, highest, none, none, none, filling, 0.0, model.DWELL_FRAMES, steps)


def _near_liquid(columns, full_ml, old, gained, pull, first, second):
    """Solve for the columns that hold liquid and a few round them; wider when it reaches the outermost of these."""
    rings = 3
    while True:
        near = (old > _TINY) | (gained > 0.0)
        for _ in range(rings):
            inner = near.copy()
            near[first[inner[second]]] = near[second[inner[first]]] = True
        links = near[first] & near[second]
        number = np.cumsum(near) - 1
        part, tries = _newton(
            columns.only(near), full_ml[near], old[near], gained[near], pull[links],
            number[first[links]], number[second[links]],
        )  # fmt: skip
        if part is None:
            return None, tries
        led = old.copy()
        led[near] = part
        if near.all() or np.abs(led[near & ~inner]).max(initial=0.0) < _TINY:
            return led, tries
        rings *= 2


def _newton(columns, full_ml, old, gained, pull, first, second):
    """Return (filling at the end of the step or None, tries)."""
    filling, count = old + gained / full_ml, len(old)
    for tries in range(25):
        head, rise, tee, tee_rise = columns.at(filling)
        flow, by_first, by_second = _flows(columns, head, rise, tee, tee_rise, pull, first, second)
        off = full_ml * (filling - old) - gained
        off += np.bincount(first, flow, count) - np.bincount(second, flow, count)
        if np.abs(off).max() < _TOLERANCE_SHARE * full_ml.mean() and tries:
            return filling, tries
        every = np.arange(count)
        jacobian = coo_matrix(
            (
                np.concatenate([full_ml, by_first, by_second, -by_first, -by_second]),
                (
                    np.concatenate([every, first, first, second, second]),
                    np.concatenate([every, first, second, first, second]),
                ),
            ),
            shape=(count, count),
        ).tocsc()
        change = splu(jacobian, permc_spec="MMD_AT_PLUS_A", options={"SymmetricMode": True}).solve(-off)
        filling = filling + np.clip(change, -0.3, 0.3)
    return None, 25


def _flows(columns, head, rise, tee, tee_rise, pull, first, second):
    """Return flow over each link and how it hangs on the filling of its first and second column, each (m,)."""
    downhill = head[first] > head[second]
    donor, taker = np.where(downhill, first, second), np.where(downhill, second, first)
    fall, slope = head[donor] - head[taker], columns.foot[donor] - columns.foot[taker]
    gap, least = tee[donor] - tee[taker], np.minimum(columns.extent[donor], columns.extent[taker])
    evens, most = np.maximum(fall - np.maximum(slope, 0.0), 0.0), least * np.maximum(gap, 0.0)
    held = evens >= most
    evens = np.minimum(evens, most)
    passes = tee[donor] - 0.5 * gap * (~held & (evens > 0.0))
    part = np.where(held, 1.0, 0.5) * evens
    flow = pull * (tee[donor] * fall - 0.5 * gap * evens)
    by_donor = pull * (passes * rise[donor] + (fall - part) * tee_rise[donor])
    by_taker = pull * (-passes * rise[taker] + part * tee_rise[taker])
    sign = np.where(downhill, 1.0, -1.0)
    return sign * flow, sign * np.where(downhill, by_donor, by_taker), sign * np.where(downhill, by_taker, by_donor)
