"""Areas and volumes of the cavity, each with the sum a nurse can redo by hand."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy import intp
from numpy.typing import NDArray

from soakline.units import Sum, show_number
from soakline.wound.sheet import STEP_DEG, Sector, Sheet

_STEP_RAD = math.radians(STEP_DEG)


@dataclass(frozen=True, slots=True)
class Areas:
    """Areas along the bed's surface in cm²: the opening, the pocket beyond it, and the bed of both together."""

    opening_cm2: float
    pocket_cm2: float
    bed_cm2: float


@dataclass(frozen=True, slots=True)
class Void:
    """The geometric void in mL: the well under the opening, the pocket, the tunnels."""

    well_ml: float
    pocket_ml: float
    tunnel_ml: float

    @property
    def total_ml(self) -> float:
        """The whole void in mL."""
        return self.well_ml + self.pocket_ml + self.tunnel_ml


def areas(sheet: Sheet) -> Areas:
    """Return the areas in cm² of a sheet; overlapping stretches of pocket count once.

    >>> from soakline.wound.measurements import *
    >>> from soakline.wound.sheet import lay_flat
    >>> pocket = (Undermining(from_clock=12, to_clock=6, reach_cm=4.0, height_cm=1.5),)
    >>> found = areas(lay_flat(Wound("front", "trunk", Opening(6.0, 6.0, 2.0), undermining=pocket)))
    >>> round(found.opening_cm2, 1), round(found.pocket_cm2, 1), round(found.bed_cm2, 1)
    (28.3, 62.8, 91.1)
    """
    pocket = _over_rings(sheet, use_height=False)
    return Areas(sheet.opening_cm2, pocket, _bed_under_opening_cm2(sheet) + pocket)


def void(sheet: Sheet, *, closed: bool = False) -> Void | None:
    """Return the void in mL, or None where the depth or a pocket height was not measured; ``closed`` roofs the opening.

    >>> from soakline.wound.measurements import *
    >>> from soakline.wound.sheet import lay_flat
    >>> pocket = (Undermining(from_clock=12, to_clock=6, reach_cm=4.0, height_cm=1.5),)
    >>> found = void(lay_flat(Wound("front", "trunk", Opening(6.0, 6.0, 2.0), undermining=pocket)))
    >>> round(found.well_ml, 1), round(found.pocket_ml, 1), round(found.total_ml, 1)
    (56.5, 94.2, 150.8)
    """
    depth = well_depth_cm(sheet, closed=closed)
    if depth is None or any(part.height_cm is None for part in sheet.sectors):
        return None
    well = sheet.opening_cm2 * depth * (2.0 / 3.0 if sheet.bed == "bowl" else 1.0)
    tunnels = sum(math.pi / 4.0 * track.diameter_cm**2 * track.length_cm for track in sheet.tunnels)
    return Void(well, _over_rings(sheet, use_height=True), tunnels)


def well_depth_cm(sheet: Sheet, *, closed: bool) -> float | None:
    """Return the height in cm of the space under the opening; None is not measured.

    A closed wound is roofed at the pocket's height, as far as it has a pocket.
    """
    heights = [part.height_cm for part in sheet.sectors if part.height_cm is not None]
    return max(heights) if closed and heights else sheet.depth_cm


def pocket_sides_deg(sheet: Sheet) -> tuple[float, ...]:
    """Return the direction in degrees clockwise from 12 in which each separate pocket mainly lies.

    Empty where there is none, or where one pocket runs round the opening and no side stands out.
    """
    return tuple(side for arc in pocket_arcs(sheet) if (side := _middle_deg(sheet, arc)) is not None)


def pocket_arcs(sheet: Sheet) -> list[NDArray[intp]]:
    """Return the directions of each separate pocket, as indices of bins clockwise; pockets that touch are one."""
    open_way = sheet.reach_cm > 0.0
    if not open_way.any():
        return []
    turned = int(np.flatnonzero(~open_way)[0]) if not open_way.all() else 0
    order = (np.arange(len(open_way)) + turned) % len(open_way)
    chosen = order[open_way[order]]
    breaks = np.flatnonzero(np.diff(np.flatnonzero(open_way[order])) > 1) + 1
    return list(np.split(chosen, breaks))


def hand_sums(sheet: Sheet, *, closed: bool = False) -> tuple[Sum, ...]:
    """Return the sums behind areas and volumes, in the order a person would do them."""
    sums = [_opening_sum(sheet)]
    sums += [_ring_sum(sheet, part) for part in sheet.sectors]
    depth = well_depth_cm(sheet, closed=closed)
    if depth is not None:
        sums.append(_well_sum(sheet, depth))
    for part in sheet.sectors:
        if part.height_cm is not None:
            ring = _ring_cm2(sheet, part)
            working = f"{show_number(ring)} cm² × pocket height {show_number(part.height_cm)} cm"
            sums.append(Sum("pocket as a slab", working, f"{show_number(ring * part.height_cm)} mL"))
    for track in sheet.tunnels:
        volume = math.pi / 4.0 * track.diameter_cm**2 * track.length_cm
        working = f"π ÷ 4 × {show_number(track.diameter_cm)}² × {show_number(track.length_cm)} cm"
        sums.append(Sum("tunnel as a tube", working, f"{show_number(volume)} mL"))
    return tuple(sums)


def _middle_deg(sheet: Sheet, arc: NDArray[intp]) -> float | None:
    """Return the direction of the middle of the pocket in these directions; None when it is the opening's middle."""
    inner = sheet.edge_cm[arc]
    outer = inner + sheet.reach_cm[arc]
    angle = np.radians((arc + 0.5) * STEP_DEG)
    moment, area = (outer**3 - inner**3) / 3.0, float(((outer**2 - inner**2) / 2.0).sum())
    u, v = float((moment * np.sin(angle)).sum()) / area, float((moment * np.cos(angle)).sum()) / area
    # Nearer to the middle than a tenth of the pocket's size: no side stands out.
    return math.degrees(math.atan2(u, v)) % 360.0 if math.hypot(u, v) > 0.1 * float(outer.max()) else None


def _over_rings(sheet: Sheet, *, use_height: bool) -> float:
    # Where stretches overlap the higher one counts as far as it reaches, the other beyond.
    parts = sorted(sheet.sectors, key=lambda part: part.height_cm or 0.0, reverse=True)
    total, done = 0.0, np.zeros_like(sheet.edge_cm)
    for part in parts:
        height = (part.height_cm or 0.0) if use_height else 1.0
        more = np.maximum(part.reach_cm, done)
        ring = ((sheet.edge_cm + more) ** 2 - (sheet.edge_cm + done) ** 2) / 2.0
        total += height * float((part.cover_share * ring).sum()) * _STEP_RAD
        done = np.where(part.cover_share >= 0.5, more, done)
    return total


def _ring_cm2(sheet: Sheet, part: Sector) -> float:
    ring = ((sheet.edge_cm + part.reach_cm) ** 2 - sheet.edge_cm**2) / 2.0
    return float((part.cover_share * ring).sum()) * _STEP_RAD


def _bed_under_opening_cm2(sheet: Sheet) -> float:
    if sheet.bed == "flat" or sheet.depth_cm is None:
        return sheet.opening_cm2
    (a, b), c = sheet.half_cm, sheet.depth_cm
    # Loading it takes a quarter of a second, which a flat bed need not wait for.
    from scipy.special import elliprg  # noqa: PLC0415

    # Half of an ellipsoid's surface (Carlson's symmetric form; source key ``arithmetic.ellipsoid``).
    return 2.0 * math.pi * float(elliprg((a * b) ** 2, (a * c) ** 2, (b * c) ** 2))


def _opening_sum(sheet: Sheet) -> Sum:
    result = f"{show_number(sheet.opening_cm2)} cm²"
    if sheet.traced_cm is not None:
        return Sum("opening as traced", f"area inside the {len(sheet.traced_cm)} marked points", result)
    half_u, half_v = sheet.half_cm
    if math.isclose(half_u, half_v):
        return Sum("opening as a circle", f"π × {show_number(half_u, 2)}²", result)
    return Sum("opening as an ellipse", f"π ÷ 4 × {show_number(2 * half_v)} × {show_number(2 * half_u)}", result)


def _well_sum(sheet: Sheet, depth_cm: float) -> Sum:
    area, depth = show_number(sheet.opening_cm2), show_number(depth_cm)
    if sheet.bed == "bowl":
        volume = sheet.opening_cm2 * depth_cm * 2.0 / 3.0
        return Sum("well as half an ellipsoid", f"2 ÷ 3 × {area} cm² × {depth} cm", f"{show_number(volume)} mL")
    return Sum("well", f"{area} cm² × {depth} cm", f"{show_number(sheet.opening_cm2 * depth_cm)} mL")


def _ring_sum(sheet: Sheet, part: Sector) -> Sum:
    result = f"{show_number(_ring_cm2(sheet, part))} cm²"
    inside = part.cover_share >= 0.5
    reach = float(part.reach_cm[inside].max()) if inside.any() else 0.0
    edge = float(sheet.edge_cm[inside].mean()) if inside.any() else 0.0
    share = f"{show_number(part.span_deg, 0)} ÷ 360"
    if part.span_deg == 360.0 and float(np.ptp(part.reach_cm)) > 0.0:
        return Sum("pocket as marked", "area between its edge and the opening's edge, direction by direction", result)
    near, far = show_number(edge, 2), show_number(reach)
    if part.ends == "taper":
        working = f"{share} × 2π × ({near} × {far} ÷ 2 + {far}² ÷ 6), {near} cm the mean distance of the edge"
        return Sum("pocket as a tapering ring", working, result)
    if sheet.traced_cm is None and math.isclose(*sheet.half_cm):
        outer = show_number(edge + reach, 2)
        return Sum("pocket as part of a ring", f"{share} × π × ({outer}² − {near}²)", result)
    working = f"{share} × 2π × ({near} × {far} + {far}² ÷ 2), {near} cm the mean distance of the edge"
    return Sum("pocket as part of a ring", working, result)
