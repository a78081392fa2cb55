"""A slow twin of a sloping section of foam: Richards' equation over length and height, fully implicit.

No sheet, no columns in equilibrium: each cell of the section has its own head, liquid falls and wicks up and down as
well as along. Van Genuchten's curves are written out anew. The section is closed all round; air leaves freely.
"""

from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.linalg import splu

_N, _M = 4.0, 0.75
_DRY = -6.0
# A closed section that is full somewhere must yield a little, per cm of head.
_YIELD_PER_CM = 1e-4


@dataclass(frozen=True, slots=True)
class Section:
    """A section ``long_cm`` × ``high_cm`` of foam that falls by ``tilt_deg`` along its length; one cm wide."""

    long_cm: float
    high_cm: float
    tilt_deg: float
    conductivity_cm_per_s: float
    held_cm: float
    porosity: float
    along: int
    upward: int

    @property
    def place_cm(self):
        """Where the middles of the cells lie along the length, (along,)."""
        return (np.arange(self.along) + 0.5) * self.long_cm / self.along

    @property
    def height_cm(self):
        """Height of the middles of the cells along gravity, (upward, along), 0 at the upper end of the floor."""
        tilt = np.radians(self.tilt_deg)
        up = (np.arange(self.upward) + 0.5) * self.high_cm / self.upward
        return up[:, None] * np.cos(tilt) - self.place_cm * np.sin(tilt)


@dataclass(frozen=True, slots=True, eq=False)
class Wet:
    """Heads in the section, (times, upward, along) in cm, and mL per cm of width in each length of it, (times, along).

    ``lost_share`` is what poured-in and held differ by at the end, as a share of the poured.
    """

    head_cm: np.ndarray
    held_ml: np.ndarray
    lost_share: float
    step_count: int


def soak_section(section, port_cm, poured_ml, fill_s, times_s, *, change_share=0.05, port_radius_cm=1.0):
    """Return the section at ``times_s`` after ``poured_ml`` per cm of width went in evenly over ``fill_s``."""
    cell_ml = section.long_cm / section.along * section.high_cm / section.upward * section.porosity
    first, second, pull = _links(section)
    above = section.height_cm.ravel()
    near = np.abs(section.place_cm - port_cm) <= port_radius_cm
    inflow = np.tile(near / near.sum() / section.upward, section.upward) * poured_ml / fill_s
    head = np.full(above.size, _DRY * section.held_cm)
    start = _held(section, head)
    heads, held, now, step, steps = [], [], 0.0, 1e-3, 0
    for until in times_s:
        while now < until - 1e-9:
            pouring = now < fill_s - 1e-9
            dt = min(step, (min(fill_s, until) if pouring else until) - now)
            led, tries = _newton(
                section, head, above, dt * inflow * pouring / cell_ml, dt * pull / cell_ml, first, second
            )  # fmt: skip
            change = 2.0 if led is None else float(np.abs(_held(section, led) - _held(section, head)).max())
            if change > 2.0 * change_share and dt > 1e-7:
                step = dt / 2.0
                continue
            assert led is not None, "the section found no step"
            head, now, steps = led, now + dt, steps + 1
            step = max(step, dt) * min(max(change_share / max(change, 1e-9), 0.5), 1.4 if tries < 9 else 1.0)
        heads.append(head.reshape(section.upward, section.along))
        held.append(cell_ml * (_held(section, head) - start).reshape(heads[-1].shape).sum(axis=0))
    poured = poured_ml * min(times_s[-1] / fill_s, 1.0)
    return Wet(np.array(heads), np.array(held), abs(float(held[-1].sum()) / poured - 1.0), steps)


def _held(section, head):
    full = np.maximum(head, 0.0)
    return (1.0 + (np.maximum(-head, 0.0) / section.held_cm) ** _N) ** -_M + _YIELD_PER_CM * full


def _passed(section, head):
    held = (1.0 + (np.maximum(-head, 0.0) / section.held_cm) ** _N) ** -_M
    return np.sqrt(held) * (1.0 - (1.0 - held ** (1.0 / _M)) ** _M) ** 2


def _slope(curve, section, head):
    tiny = 1e-6
    return (curve(section, head + tiny) - curve(section, head - tiny)) / (2.0 * tiny)


def _links(section):
    """Return pairs of cells that touch, and conductivity × face ÷ distance of each, per cm of width."""
    index = np.arange(section.along * section.upward).reshape(section.upward, section.along)
    wide, tall = section.long_cm / section.along, section.high_cm / section.upward
    along, upward = (index[:, :-1].ravel(), index[:, 1:].ravel()), (index[:-1].ravel(), index[1:].ravel())
    pull = np.concatenate([np.full(along[0].size, tall / wide), np.full(upward[0].size, wide / tall)])
    first, second = (np.concatenate([along[end], upward[end]]) for end in (0, 1))
    return first, second, section.conductivity_cm_per_s * pull


def _newton(section, old, above, gained, pull, first, second):
    """Return (heads at the end of the step or None, tries)."""
    head, before, count = old.copy(), _held(section, old), len(old)
    for tries in range(30):
        total = head + above
        downhill = total[first] > total[second]
        donor = np.where(downhill, first, second)
        passed, steep = _passed(section, head), _slope(_passed, section, head)
        through, drop = pull * passed[donor], total[first] - total[second]
        flow = through * drop
        off = _held(section, head) - before - gained
        off += np.bincount(first, flow, count) - np.bincount(second, flow, count)
        if tries and np.abs(off).max() < 1e-9:
            return head, tries
        turned = pull * steep[donor] * drop
        by_first = through + np.where(downhill, turned, 0.0)
        by_second = -through + np.where(downhill, 0.0, turned)
        every = np.arange(count)
        jacobian = coo_matrix(
            (
                np.concatenate([_slope(_held, section, head), by_first, by_second, -by_first, -by_second]),
                (
                    np.concatenate([every, first, first, second, second]),
                    np.concatenate([every, first, second, first, second]),
                ),
            ),
            shape=(count, count),
        ).tocsc()
        change = splu(jacobian).solve(-off)
        if not np.isfinite(change).all():
            return None, tries
        # Dry foam takes a long step in head for a drop of liquid: it is walked there.
        head = head + np.clip(change, -section.held_cm, section.held_cm)
    return None, 30
