"""Where labels go: outward from what they name, moved on until they cover nothing."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from soakline.pictures.svg import LEADING, XY

_WIDTH_PER_CHAR = 0.64
_TURNS_DEG = (0, 30, -30, 60, -60, 90, -90, 120, -120, 150, -150, 180)
_NEAR_MM = 6.0
_STEPS_MM = (0.0, 3.0, 6.0, 10.0, 15.0, 21.0, 28.0)


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle in mm: its middle and its half sizes."""

    x_mm: float
    y_mm: float
    half_width_mm: float
    half_height_mm: float

    def overlaps(self, other: Box) -> bool:
        """Say whether two rectangles share any area.

        >>> Box(0, 0, 1, 1).overlaps(Box(1.5, 0, 1, 1)), Box(0, 0, 1, 1).overlaps(Box(2, 0, 1, 1))
        (True, False)
        """
        return (
            abs(self.x_mm - other.x_mm) < self.half_width_mm + other.half_width_mm
            and abs(self.y_mm - other.y_mm) < self.half_height_mm + other.half_height_mm
        )

    def within(self, other: Box) -> bool:
        """Say whether this rectangle lies wholly in another."""
        return (
            abs(self.x_mm - other.x_mm) <= other.half_width_mm - self.half_width_mm
            and abs(self.y_mm - other.y_mm) <= other.half_height_mm - self.half_height_mm
        )


@dataclass(frozen=True, slots=True)
class Label:
    """Words for a point in mm: its lines, the way outward in degrees clockwise from up, and the gap in mm."""

    lines: tuple[str, ...]
    at: XY
    outward_deg: float
    gap_mm: float
    bold: bool = False


@dataclass(frozen=True, slots=True)
class Placed:
    """A label where it stands, ``step_mm`` farther from its point than it would stand alone, free of others or not."""

    label: Label
    box: Box
    step_mm: float
    free: bool = True


def wrap(text: str, width_chars: int = 20, most_lines: int = 3) -> tuple[str, ...]:
    """Break words into short lines; what does not fit ends in "…".

    >>> wrap("keep clear: bowel under mesh")
    ('keep clear: bowel', 'under mesh')
    """
    return tuple(textwrap.wrap(text, width_chars, max_lines=most_lines, placeholder=" …")) or ("",)


def text_box(lines: Sequence[str], at: XY, size_mm: float) -> Box:
    """Return the room in mm that lines of text take around their middle."""
    longest = max(map(len, lines))
    half_height_mm = size_mm * (0.5 + (len(lines) - 1) * LEADING / 2.0)
    return Box(at[0], at[1], longest * size_mm * _WIDTH_PER_CHAR / 2.0, half_height_mm)


def place(
    labels: Sequence[Label], taken: Sequence[Box], lines: Sequence[Box], room: Box, size_mm: float
) -> tuple[Placed, ...]:
    """Put each label at the free place that hides least of the ``lines``, of even ones the first, outward and round.

    When no place is free, it stands at the first of all.
    """
    boxes = list(taken)
    placed: list[Placed] = []
    for label in labels:
        tried = [p for p in _places(label, size_mm) if p.box.within(room)] or [next(_places(label, size_mm))]
        free = [p for p in tried if not any(map(p.box.overlaps, boxes))] or [replace(tried[0], free=False)]
        placed.append(_clear_of(lines, free))
        boxes.append(placed[-1].box)
    return tuple(placed)


def _clear_of(lines: Sequence[Box], free: Sequence[Placed]) -> Placed:
    # Far from its point a label is harder to read than across a line.
    near = [p for p in free if p.step_mm <= _NEAR_MM] or [free[0]]
    clear = next((p for p in near if not any(map(p.box.overlaps, lines))), None)
    return clear or min(near, key=lambda p: sum(map(p.box.overlaps, lines)))


def _places(label: Label, size_mm: float) -> Iterator[Placed]:
    for step_mm in _STEPS_MM:
        for turn_deg in _TURNS_DEG:
            yield Placed(label, _box_at(label, turn_deg, step_mm, size_mm), step_mm)


def _box_at(label: Label, turn_deg: float, step_mm: float, size_mm: float) -> Box:
    angle = math.radians(label.outward_deg + turn_deg)
    dx, dy = math.sin(angle), -math.cos(angle)
    flat = text_box(label.lines, label.at, size_mm)
    # How far the middle of the text must go along this direction for its nearer side to clear the gap.
    along = min(flat.half_width_mm / max(abs(dx), 1e-9), flat.half_height_mm / max(abs(dy), 1e-9))
    far = label.gap_mm + along + step_mm
    return Box(label.at[0] + dx * far, label.at[1] + dy * far, flat.half_width_mm, flat.half_height_mm)
