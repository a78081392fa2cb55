"""Liquid on its way: a sheet of foam that fills through a port, soaks by flow and by wicking, and comes to rest.

Every column of the cavity is in capillary equilibrium over its height (``capillary``); between columns liquid flows
down the head, along the lines of ``lines`` in the steps of ``stepping``. Source keys ``foam.permeability``,
``foam.capillary_height``; all foam values are from memory.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy import float64, int32
from numpy.typing import NDArray

from soakline.fluid import stepping
from soakline.fluid.capillary import MOIST_HEAD_SHARE, SOAKED_HEAD_SHARE, ColumnTable, column_table, free_table
from soakline.fluid.conduct import over_disc
from soakline.fluid.lines import Lines, lines_of
from soakline.wound.cavity import Cavity

# Water at 37 °C (source key ``fluids.water``): density in g/cm³, viscosity in g/(cm s), gravity in cm/s².
_DENSITY, _VISCOSITY, _GRAVITY = 0.993, 0.007, 981.0
# A film thinner than this wets nothing.
FILM_CM = 0.02
# How far the filling of any column may change in one step, as a share of the fullest, unless told otherwise.
CHANGE_SHARE = 0.3
_NOTHING = 1e-9
# Foam that holds nothing keeps less than this share of a column for hours: a trace that wets no floor.
_TRACE = 1e-3
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
    column is at the end, and ``left_over_ml`` what was to be poured and found no room. ``dwell_frame_count`` is how
    many of the last frames lie in the dwell.
    """

    sheet: FoamSheet
    frame_s: NDArray[float64]
    head_cm: NDArray[float64]
    highest_cm: NDArray[float64]
    arrival_s: NDArray[float64]
    through_ml: NDArray[float64]
    fresh_ml: NDArray[float64]
    filling_share: NDArray[float64]
    left_over_ml: float
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
    change in it, as a share of the fullest. ``progress`` is told the share done (0–1) and may raise to stop. What finds
    no room is not poured: it is told as left over. Raises ValueError for foam, times, volumes or columns that are none.
    """
    _refuse_what_is_none(sheet, poured_ml, soak)
    count, foam = len(sheet.full_ml), sheet.foam
    table = column_table() if foam.capillary_height_cm > 0.0 else free_table()
    filling = np.zeros(count) if filling_share is None else filling_share.copy()
    wanted_ml, taken_ml = _room_for(sheet, poured_ml, filling)
    head = np.full(count, -np.inf)
    highest, arrival, through = np.full(count, -np.inf), np.full(count, np.inf), np.zeros(count)
    ends, dry = _frame_times(soak), dry_share(sheet)
    heads = np.empty((len(ends), count))
    fresh = np.zeros(count if track_fresh else 0)
    floor_at = sheet.floor_low_cm + sheet.floor_width_cm / 2.0 + needed_head_cm(foam, MOIST_HEAD_SHARE)
    columns = _columns(sheet, table)
    lines = sheet.lines
    rate = np.zeros(len(lines.order))
    now, step, steps = 0.0, stepping.SHORTEST_S, 0
    for frame, until in enumerate(ends):
        now, step, done = stepping.take_steps(
            now, float(until), step, soak.fill_s, foam.conductivity_cm_per_s, change_share, taken_ml / soak.fill_s,
            columns, filling, head, table.pieces_share, table.filling_share, lines.order, lines.start,
            lines.conduct_cm, lines.sweep, rate, highest, arrival, through, fresh, floor_at, dry,
        )  # fmt: skip
        steps += done
        heads[frame] = np.where(filling > dry, head, -np.inf)
        if progress is not None:
            progress(float(until / ends[-1]))
    left_over_ml = float((wanted_ml - taken_ml).sum())
    return Spread(sheet, ends, heads, highest, arrival, through, fresh, filling, left_over_ml, DWELL_FRAMES, steps)


def dry_share(sheet: FoamSheet) -> float:
    """Return the filling up to which a column counts as dry: more where foam holds nothing and drains slowly."""
    # A tilted column's foot lies above its floor's lower corner: traces at the foot would else count as soaked floor.
    holds = sheet.foam.capillary_height_cm >= FILM_CM
    return _NOTHING if holds else _TRACE


def _refuse_what_is_none(sheet: FoamSheet, poured_ml: Sequence[tuple[int, float]], soak: Soak) -> None:
    """Raise ValueError for what no run can start from: compiled loops would lose it or never end."""
    foam, last = sheet.foam, len(sheet.full_ml) - 1
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
    for column, _ in poured_ml:
        if not 0 <= column <= last:
            msg = f"a port stands in column {column}, and the cavity has columns 0 to {last}: place it in the cavity"
            raise ValueError(msg)


def _room_for(
    sheet: FoamSheet, poured_ml: Sequence[tuple[int, float]], filling: NDArray[float64]
) -> tuple[NDArray[float64], NDArray[float64]]:
    """Return per column (n,) in mL what the ports are to pour into it, and what of it finds room.

    A part of the cavity takes no more than it can hold; foam that lets nothing pass, no more than the columns at the
    port.
    """
    count = len(filling)
    wanted = np.zeros(count)
    for column, liquid_ml in poured_ml:
        wanted += over_disc(sheet.cavity, column) * liquid_ml
    part = sheet.lines.part if sheet.foam.permeability_m2 > 0.0 else np.arange(count)
    room = np.maximum(np.bincount(part, (1.0 - filling) * sheet.full_ml), 0.0)
    asked = np.bincount(part, wanted)
    return wanted, wanted * np.minimum(room / np.maximum(asked, 1e-12), 1.0)[part]


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


def _columns(sheet: FoamSheet, table: ColumnTable) -> NDArray[float64]:
    """Return the columns as ``stepping`` takes them, (n, 7)."""
    row, between = _table_place(sheet, table.log_ratio_share)
    extent, full = sheet.extent_cm, sheet.full_ml
    scale = extent + sheet.foam.capillary_height_cm
    return np.stack((sheet.foot_cm, scale, extent, 1.0 / full, row.astype(float), between, full), axis=1)


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
