"""The frame of the wound map: how centimetres on the wound become millimetres on paper, and where the clock stands."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from soakline.pictures.labels import Box
from soakline.pictures.orientation import Sides
from soakline.pictures.svg import XY
from soakline.wound.clock import HOURS, angle_deg, unit_vector
from soakline.wound.sheet import Sheet, Track

TEXT_MM = 3.9
"""Height of all letters in mm, whatever the scale: 11 points."""

LEAST_WIDTH_MM = 100.0
_CLOCK_MARGIN_MM = 7.0
_LEAST_CLOCK_MM = 17.0
_EDGE_MM = 1.0
# Bold capitals, as the words at the sides are set.
_WIDTH_PER_CAPITAL = 0.8
_NUMERAL_MM = TEXT_MM * 0.8


@dataclass(frozen=True, slots=True)
class Frame:
    """The picture's measures in mm: paper per cm of wound, the sheet's (0, 0), the clock's box, the whole."""

    mm_per_cm: float
    origin_mm: XY
    clock: Box
    width_mm: float
    height_mm: float

    def to_mm(self, point_cm: XY) -> XY:
        """Return the place in mm on the picture of (u, v) in cm on the sheet."""
        return (
            self.origin_mm[0] + float(point_cm[0]) * self.mm_per_cm,
            self.origin_mm[1] - float(point_cm[1]) * self.mm_per_cm,
        )

    def numerals(self) -> dict[int, XY]:
        """Return where each hour's numeral stands, in mm: on its ray from the opening's centre, on the clock's box."""
        return {hour: self._on_clock(angle_deg(hour)) for hour in HOURS}

    def _on_clock(self, direction_deg: float) -> XY:
        dx, up = unit_vector(direction_deg)
        clock = self.clock
        across_mm = _until(self.origin_mm[0], dx, clock.x_mm, clock.half_width_mm)
        down_mm = _until(self.origin_mm[1], -up, clock.y_mm, clock.half_height_mm)
        far = min(across_mm, down_mm)
        return self.origin_mm[0] + dx * far, self.origin_mm[1] - up * far


def map_frame(sheet: Sheet, sides: Sides, one_to: int, room_cm: float = 0.0) -> Frame:
    """Return the frame at scale 1 : ``one_to``, with room around the clock for the words at the sides.

    ``room_cm`` is kept free in each direction from the opening's centre, for what is still to be measured.
    """
    mm_per_cm = 10.0 / one_to
    low, high = _reach_of(sheet, room_cm)
    left, down = (max(-c * mm_per_cm + _CLOCK_MARGIN_MM, _LEAST_CLOCK_MM) for c in low)
    right, up = (max(c * mm_per_cm + _CLOCK_MARGIN_MM, _LEAST_CLOCK_MM) for c in high)
    beside = max(_beside_mm(sides), (LEAST_WIDTH_MM - left - right) / 2.0)
    above = _EDGE_MM + 1.2 * TEXT_MM + _NUMERAL_MM
    return Frame(
        mm_per_cm,
        origin_mm=(beside + left, above + up),
        clock=Box(beside + (left + right) / 2.0, above + (up + down) / 2.0, (left + right) / 2.0, (up + down) / 2.0),
        width_mm=2.0 * beside + left + right,
        height_mm=2.0 * above + up + down,
    )


def side_spots(frame: Frame, sides: Sides) -> Iterator[tuple[tuple[str, ...], XY]]:
    """Give the words at 12, 6, 9 and 3 o'clock as lines, each with its middle in mm, outside the numerals."""
    x, y = frame.origin_mm
    top = _EDGE_MM + 0.5 * TEXT_MM
    beside = (frame.width_mm - 2.0 * frame.clock.half_width_mm) / 2.0 - _NUMERAL_MM
    middle = beside - _width_mm(sides.nine) / 2.0, frame.width_mm - beside + _width_mm(sides.three) / 2.0
    yield (sides.twelve,), (x, top)
    yield (sides.six,), (x, frame.height_mm - top)
    yield tuple(sides.nine.split()), (middle[0], y)
    yield tuple(sides.three.split()), (middle[1], y)


def tunnel_end(track: Track) -> XY:
    """Return (u, v) in cm of a tunnel's far end as seen from above the skin."""
    along_cm = track.length_cm * math.cos(math.radians(track.down_deg))
    u, v = unit_vector(track.direction_deg)
    return track.start_cm[0] + u * along_cm, track.start_cm[1] + v * along_cm


def _beside_mm(sides: Sides) -> float:
    return _EDGE_MM + max(_width_mm(sides.three), _width_mm(sides.nine)) + _NUMERAL_MM


def _width_mm(words: str) -> float:
    return max(map(len, words.split())) * TEXT_MM * _WIDTH_PER_CAPITAL


def _reach_of(sheet: Sheet, room_cm: float) -> tuple[XY, XY]:
    room = [(-room_cm, -room_cm), (room_cm, room_cm)]
    points = np.array([*_extremes(sheet), *room], dtype=float)
    low, high = points.min(axis=0), points.max(axis=0)
    return (float(low[0]), float(low[1])), (float(high[0]), float(high[1]))


def _extremes(sheet: Sheet) -> Iterator[XY]:
    for line in (sheet.opening_cm, *sheet.pocket_cm):
        yield (float(line[:, 0].min()), float(line[:, 1].min()))
        yield (float(line[:, 0].max()), float(line[:, 1].max()))
    for track in sheet.tunnels:
        yield tunnel_end(track)
    for zone in sheet.keep_clear:
        u, v = zone.centre_cm
        yield (u - zone.radius_cm, v - zone.radius_cm)
        yield (u + zone.radius_cm, v + zone.radius_cm)


def _until(start: float, step: float, middle: float, half: float) -> float:
    if abs(step) < 1e-9:
        return math.inf
    return (middle + math.copysign(half, step) - start) / step
