"""How the size went from one measuring to the next: areas above, the volume with its range below, along the days."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from soakline.pictures.svg import element, line_through, text_lines
from soakline.units import Extremes, Range, show_number

_WIDTH, _LEFT, _RIGHT, _PANEL, _TOP, _TEXT = 960.0, 60.0, 24.0, 130.0, 30.0, 14.0
_INK = "currentColor"
_SIGN = 5.0


@dataclass(frozen=True, slots=True)
class Measuring:
    """What one kept text gives of the size: areas in cm², the void in mL; None is not known, and not drawn."""

    at: datetime
    opening_cm2: float | None
    bed_cm2: float | None
    void_ml: Range | Extremes | None


@dataclass(frozen=True, slots=True)
class _Panel:
    """One scale from 0 up, and the days along the width, in the picture's own units."""

    begins: datetime
    lasts_s: float
    most: float
    top: float

    def x(self, at: datetime) -> float:
        return _LEFT + (at - self.begins).total_seconds() / self.lasts_s * (_WIDTH - _LEFT - _RIGHT)

    def y(self, value: float) -> float:
        return self.top + _TOP + (1.0 - value / self.most) * (_PANEL - _TOP)


def draw_trend(measured: Sequence[Measuring], prefix: str = "trend") -> str:
    """Return the sizes over time as one SVG, at least two measurings long; ids begin with ``prefix``."""
    begins, lasts_s = measured[0].at, max((measured[-1].at - measured[0].at).total_seconds(), 1.0)
    areas = [area for one in measured for area in (one.opening_cm2, one.bed_cm2) if area is not None]
    volumes = [one.void_ml.high for one in measured if one.void_ml]
    area = _Panel(begins, lasts_s, max(areas, default=1.0), 0.0)
    volume = _Panel(begins, lasts_s, max(volumes, default=1.0), _PANEL + 34.0)
    return element(
        "svg",
        element("title", "The size from one measuring to the next", id=f"{prefix}-title"),
        element("desc", "The table beside it holds every figure.", id=f"{prefix}-desc"),
        *_scale(area, "cm²: opening (dots), opening and pocket together (squares)"),
        *_line(area, [(one.at, one.opening_cm2) for one in measured], is_round=True),
        *_line(area, [(one.at, one.bed_cm2) for one in measured], is_round=False),
        *_scale(volume, "mL: what opening and pocket hold, bars are its range"),
        *_bars(volume, measured),
        *_line(volume, [(one.at, one.void_ml.likely if one.void_ml else None) for one in measured], is_round=True),
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {_WIDTH:g} {2.0 * _PANEL + 44.0:g}",
        role="img",
        aria_labelledby=f"{prefix}-title {prefix}-desc",
        font_family="system-ui, sans-serif",
    )


def _scale(panel: _Panel, says: str) -> Iterator[str]:
    yield text_lines([says], (_LEFT, panel.top + 12.0), _TEXT, fill=_INK, text_anchor="start")
    for value in (0.0, panel.most):
        at = panel.y(value)
        yield element(
            "path", d=line_through([(_LEFT - 6.0, at), (_WIDTH - _RIGHT + 10.0, at)]), stroke=_INK, opacity=0.4
        )
        said = show_number(value, 0)
        yield text_lines([said], (_LEFT - 12.0, at), _TEXT, fill=_INK, text_anchor="end")


def _line(panel: _Panel, values: Sequence[tuple[datetime, float | None]], *, is_round: bool) -> Iterator[str]:
    known = [(panel.x(at), panel.y(value)) for at, value in values if value is not None]
    if len(known) > 1:
        dashed = {} if is_round else {"stroke_dasharray": "7 5"}
        yield element("path", d=line_through(known), fill="none", stroke=_INK, stroke_width=1.6, **dashed)
    for x, y in known:
        if is_round:
            yield element("circle", cx=x, cy=y, r=_SIGN, fill=_INK)
        else:
            side = 2.0 * _SIGN
            yield element("rect", x=x - _SIGN, y=y - _SIGN, width=side, height=side, fill="none", stroke=_INK)


def _bars(panel: _Panel, measured: Sequence[Measuring]) -> Iterator[str]:
    for one in measured:
        if one.void_ml:
            x, low, high = panel.x(one.at), panel.y(one.void_ml.low), panel.y(one.void_ml.high)
            yield element("path", d=line_through([(x, low), (x, high)]), stroke=_INK, stroke_width=6, opacity=0.35)
