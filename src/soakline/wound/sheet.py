"""The wound laid flat: where edge, pocket, tunnels and structures lie on the sheet (u towards 3, v towards 12)."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy import float64
from numpy.typing import NDArray

from soakline.units import Measured, likely
from soakline.wound.clock import angle_deg, say_clock, span_deg, unit_vector
from soakline.wound.measurements import Bed, Ends, KeepClear, Opening, Outline, Tunnel, Undermining, Wound

Points = NDArray[float64]

# Directions radiate from the opening's centre; hours and half hours fall on the borders of these bins.
DIRECTIONS = 1440
STEP_DEG = 360.0 / DIRECTIONS
MIDS_DEG: NDArray[float64] = (np.arange(DIRECTIONS, dtype=np.float64) + 0.5) * STEP_DEG
_SINE, _COSINE = np.sin(np.radians(MIDS_DEG)), np.cos(np.radians(MIDS_DEG))


@dataclass(frozen=True, slots=True, eq=False)
class Sector:
    """One stretch of pocket: per direction the share covered and the reach in cm, (1440,), and its height in cm."""

    start_deg: float
    span_deg: float
    ends: Ends
    cover_share: NDArray[float64]
    reach_cm: NDArray[float64]
    height_cm: float | None


@dataclass(frozen=True, slots=True, eq=False)
class Track:
    """A tunnel on the sheet: its hour, its start (u, v) and height above the bed in cm, direction, size and dip."""

    clock: float
    start_cm: tuple[float, float]
    start_height_cm: float
    direction_deg: float
    length_cm: float
    diameter_cm: float
    down_deg: float


@dataclass(frozen=True, slots=True, eq=False)
class Zone:
    """A structure to keep clear on the sheet: a disc round (u, v) in cm."""

    what: str
    centre_cm: tuple[float, float]
    radius_cm: float


@dataclass(frozen=True, slots=True, eq=False)
class Sheet:
    """One wound with every measure a plain number, laid flat about the opening's centre.

    ``edge_cm`` (1440,) is the opening's edge by direction; ``half_cm`` the half-axes (u, v) of the ellipse, or of the
    circle of equal area when the edge was traced. ``depth_cm`` None is not measured.
    """

    edge_cm: NDArray[float64]
    opening_cm2: float
    half_cm: tuple[float, float]
    traced_cm: Points | None
    depth_cm: float | None
    bed: Bed
    sectors: tuple[Sector, ...]
    tunnels: tuple[Track, ...]
    keep_clear: tuple[Zone, ...]

    @property
    def opening_cm(self) -> Points:
        """The opening's edge as a closed line of (u, v) in cm, shape (n, 2)."""
        if self.traced_cm is not None:
            return np.vstack([self.traced_cm, self.traced_cm[:1]])
        angle = np.radians(np.arange(0.0, 361.0, 3.0))
        return np.column_stack([self.half_cm[0] * np.sin(angle), self.half_cm[1] * np.cos(angle)])

    @property
    def pocket_cm(self) -> tuple[Points, ...]:
        """The pocket's outer edge beyond the opening, one closed line of (u, v) in cm per sector, each (n, 2)."""
        return tuple(_ring_line(self, sector) for sector in self.sectors)

    @property
    def reach_cm(self) -> NDArray[float64]:
        """How far the pocket runs beyond the opening's edge in each direction, in cm, shape (1440,)."""
        reach = np.zeros(DIRECTIONS)
        for sector in self.sectors:
            np.maximum(reach, np.where(sector.cover_share >= 0.5, sector.reach_cm, 0.0), out=reach)
        return reach

    def point_at(self, clock: float, from_edge_cm: float) -> tuple[float, float]:
        """Return (u, v) in cm of a point ``from_edge_cm`` beyond the edge at ``clock``; negative is inward."""
        radius = edge_at(self, angle_deg(clock)) + from_edge_cm
        towards_u, towards_v = unit_vector(angle_deg(clock))
        return radius * towards_u, radius * towards_v


def lay_flat(wound: Wound) -> Sheet:
    """Return the sheet of a wound at its likely values; a measure that is missing leaves its part out or None.

    Raises ValueError when the opening itself was not measured.
    """
    opening = wound.opening
    if opening.outline_cm is None and (opening.length_cm is None or opening.width_cm is None):
        msg = "the opening was not measured: give its length and width, or trace its edge"
        raise ValueError(msg)
    centre = _centroid(opening.outline_cm) if opening.outline_cm else (0.0, 0.0)
    edge, area, half, traced = _opening_edge(opening, centre)
    sectors = [_sector_of(entry) for entry in wound.undermining if entry.reach_cm is not None]
    if wound.pocket is not None:
        sectors.append(_sector_of_outline(wound.pocket.outline_cm, centre, edge, _maybe(wound.pocket.height_cm)))
    sheet = Sheet(edge, area, half, traced, _maybe(opening.depth_cm), opening.bed, tuple(sectors), (), ())
    tunnels = tuple(track for tunnel in wound.tunnel if (track := _track_of(tunnel, sheet)) is not None)
    zones = tuple(_zone_of(structure, sheet) for structure in wound.keep_clear)
    return Sheet(edge, area, half, traced, sheet.depth_cm, opening.bed, sheet.sectors, tunnels, zones)


def edge_at(sheet: Sheet, direction_deg: float) -> float:
    """Return the distance in cm from the opening's centre to its edge in a direction (degrees clockwise from 12)."""
    if sheet.traced_cm is None:
        half_u, half_v = sheet.half_cm
        towards_u, towards_v = unit_vector(direction_deg)
        return 1.0 / math.hypot(towards_u / half_u, towards_v / half_v)
    return float(np.interp(direction_deg % 360.0, MIDS_DEG, sheet.edge_cm, period=360.0))


def reach_at(sheet: Sheet, direction_deg: float) -> float:
    """Return how far in cm the pocket runs beyond the edge in a direction; at a range's first and last hour it does.

    >>> pocket = (Undermining(from_clock=12, to_clock=6, reach_cm=4.0),)
    >>> sheet = lay_flat(Wound("front", "trunk", Opening(6.0, 6.0), undermining=pocket))
    >>> [reach_at(sheet, angle_deg(clock)) for clock in (12, 3, 6, 9)]
    [4.0, 4.0, 4.0, 0.0]
    """
    return float(sheet.reach_cm[_bins_at(direction_deg)].max())


def inner_reach_at(sheet: Sheet, direction_deg: float) -> float:
    """Return how far in cm the pocket runs on both sides of a direction: 0 at a range's first and last hour."""
    return float(sheet.reach_cm[_bins_at(direction_deg)].min())


def bin_of(direction_deg: float) -> int:
    """Return the index of the bin that holds a direction in degrees clockwise from 12."""
    return int((direction_deg % 360.0) / STEP_DEG) % DIRECTIONS


def hours_of(entry: Undermining) -> tuple[float, float]:
    """Return (start, span) in degrees clockwise from 12 of one undermining entry; a single hour stands for ±15°.

    Source key ``measuring.undermining``.

    >>> hours_of(Undermining(clock=3)), hours_of(Undermining(from_clock=12, to_clock=6))
    ((75.0, 30.0), (0.0, 180.0))
    """
    if entry.clock is not None:
        return (angle_deg(entry.clock) - 15.0) % 360.0, 30.0
    if entry.from_clock is None or entry.to_clock is None:
        msg = "undermining needs a clock hour, or from and to"
        raise ValueError(msg)
    return angle_deg(entry.from_clock), span_deg(entry.from_clock, entry.to_clock)


def hours_words(entry: Undermining) -> str:
    """Say which hours an undermining entry covers.

    >>> hours_words(Undermining(clock=3)), hours_words(Undermining(from_clock=10, to_clock=2))
    ("at 3 o'clock", "from 10 to 2 o'clock")
    """
    if entry.clock is not None:
        return f"at {say_clock(entry.clock)}"
    if entry.from_clock is None or entry.to_clock is None or entry.from_clock == entry.to_clock:
        return "all round"
    return f"from {entry.from_clock:g} to {say_clock(entry.to_clock)}"


def sector(start_deg: float, wide_deg: float, reach_cm: float, height_cm: float | None, ends: Ends) -> Sector:
    """Return a stretch of pocket from ``start_deg`` over ``wide_deg`` clockwise, in cm and degrees.

    ``ends`` "taper" reaches ``reach_cm`` in the middle and falls linearly to nothing at both ends.
    """
    behind, cover = _covered(start_deg, wide_deg)
    reach = np.full(DIRECTIONS, reach_cm)
    if ends == "taper":
        reach = reach * np.clip(1.0 - np.abs(2.0 * behind / wide_deg - 1.0), 0.0, 1.0)
    return Sector(start_deg, wide_deg, ends, cover, reach, height_cm)


# Plausible wounds differ in how far a stretch reaches far more often than in where it lies.
@lru_cache(256)
def _covered(start_deg: float, wide_deg: float) -> tuple[NDArray[float64], NDArray[float64]]:
    """Return by direction how many degrees it lies behind the start of a stretch, and the share covered, 0–1."""
    behind = (MIDS_DEG - start_deg) % 360.0
    # A bin cut by the border counts by the share that lies inside.
    cover = np.maximum((wide_deg - behind) / STEP_DEG + 0.5, (behind - 360.0) / STEP_DEG + 0.5)
    cover = np.minimum(np.maximum(cover, 0.0), 1.0)
    for shared in (behind, cover):
        shared.flags.writeable = False
    return behind, cover


def _sector_of(entry: Undermining) -> Sector:
    start, wide = hours_of(entry)
    reach = entry.reach_cm
    return sector(start, wide, 0.0 if reach is None else likely(reach), _maybe(entry.height_cm), entry.ends)


def _opening_edge(
    opening: Opening, centre: tuple[float, float]
) -> tuple[NDArray[float64], float, tuple[float, float], Points | None]:
    if opening.outline_cm is not None:
        traced = np.asarray(opening.outline_cm, dtype=float) - centre
        area = _shoelace(traced)
        radius = math.sqrt(area / math.pi)
        return _farthest_edge(traced), area, (radius, radius), traced
    half_u = likely(opening.width_cm or 0.0) / 2.0
    half_v = likely(opening.length_cm or 0.0) / 2.0
    edge = 1.0 / np.hypot(_SINE / half_u, _COSINE / half_v)
    return edge, math.pi * half_u * half_v, (half_u, half_v), None


def _sector_of_outline(
    outline: Outline, centre: tuple[float, float], edge: NDArray[float64], height_cm: float | None
) -> Sector:
    reach = np.maximum(_farthest_edge(np.asarray(outline, dtype=float) - centre) - edge, 0.0)
    return Sector(0.0, 360.0, "full", (reach > 0.0).astype(float), reach, height_cm)


def _farthest_edge(line: Points) -> NDArray[float64]:
    """Return by direction how far in cm from the centre a closed line (n, 2) is last crossed; 0 where it is not."""
    towards = np.column_stack([_SINE, _COSINE])[:, None, :]
    start, along = line[None, :, :], np.roll(line, -1, axis=0)[None, :, :] - line[None, :, :]
    across = towards[..., 0] * along[..., 1] - towards[..., 1] * along[..., 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        distance = (start[..., 0] * along[..., 1] - start[..., 1] * along[..., 0]) / across
        place = (start[..., 0] * towards[..., 1] - start[..., 1] * towards[..., 0]) / across
    hit = (across != 0.0) & (place >= 0.0) & (place <= 1.0) & (distance > 0.0)
    return np.where(hit, distance, 0.0).max(axis=1)


def _track_of(tunnel: Tunnel, sheet: Sheet) -> Track | None:
    if tunnel.length_cm is None or tunnel.diameter_cm is None:
        return None
    direction = angle_deg(tunnel.clock)
    reach, bins = reach_at(sheet, direction), _bins_at(direction)
    heights = [s.height_cm for s in sheet.sectors if s.cover_share[bins].max() >= 0.5 and s.height_cm]
    ceiling = max(heights) if reach > 0.0 and heights else sheet.depth_cm or 0.0
    return Track(
        clock=tunnel.clock,
        start_cm=sheet.point_at(tunnel.clock, reach),
        start_height_cm=ceiling / 2.0,
        direction_deg=direction,
        length_cm=likely(tunnel.length_cm),
        diameter_cm=likely(tunnel.diameter_cm),
        down_deg=tunnel.down_deg,
    )


def _zone_of(structure: KeepClear, sheet: Sheet) -> Zone:
    return Zone(structure.what, sheet.point_at(structure.clock, structure.from_edge_cm), structure.radius_cm)


def _ring_line(sheet: Sheet, part: Sector) -> Points:
    inside = np.flatnonzero(part.cover_share >= 0.5)
    if len(inside) < DIRECTIONS:
        # Start the line where the covered stretch starts, so that it does not jump across the opening.
        gap = np.flatnonzero(np.diff(inside) > 1)
        inside = np.roll(inside, -(gap[0] + 1)) if len(gap) else inside
    angle = np.radians(MIDS_DEG[inside])[::4]
    edge, outer = sheet.edge_cm[inside][::4], (sheet.edge_cm + part.reach_cm)[inside][::4]
    far = np.column_stack([outer * np.sin(angle), outer * np.cos(angle)])
    if len(inside) == DIRECTIONS:
        return np.vstack([far, far[:1]])
    near = np.column_stack([edge * np.sin(angle), edge * np.cos(angle)])[::-1]
    return np.vstack([far, near, far[:1]])


def _bins_at(direction_deg: float) -> list[int]:
    # An hour lies on the border of two bins: the range that ends there and the one that begins there both hold it.
    return [bin_of(direction_deg - STEP_DEG / 4.0), bin_of(direction_deg + STEP_DEG / 4.0)]


def _maybe(value: Measured) -> float | None:
    return None if value is None else likely(value)


def _shoelace(line: Points) -> float:
    u, v = line[:, 0], line[:, 1]
    return abs(float(np.dot(u, np.roll(v, -1)) - np.dot(v, np.roll(u, -1)))) / 2.0


def _centroid(outline: Sequence[tuple[float, float]]) -> tuple[float, float]:
    line = np.asarray(outline, dtype=float)
    ahead = np.roll(line, -1, axis=0)
    cross = line[:, 0] * ahead[:, 1] - ahead[:, 0] * line[:, 1]
    centre = ((line + ahead) * cross[:, None]).sum(axis=0) / (3.0 * cross.sum())
    return float(centre[0]), float(centre[1])
