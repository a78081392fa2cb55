"""The chart beside the map: how much each fill volume soaks, in the page's colours, and the same in words."""

from __future__ import annotations

from threading import Lock

import numpy as np
from numpy import float64
from numpy.typing import NDArray

from soakline.fluid.reach import ReachCurve
from soakline.pictures.charts import Colours, draw_curve
from soakline.units import Extremes, show_number, step_ml
from soakline.workflows.answers import Plan
from soakline.workflows.one_row import curve_of_row

LIGHT = Colours("#ffffff", "#1f1c18", "#7a3d12")
DARK = Colours("#1e1b18", "#eee8de", "#f0b27a")

# The drawing library keeps its look in one place for the whole process.
_DRAWING = Lock()


def curve_of(plan: Plan, row: int) -> ReachCurve | None:
    """Return the curve of a row of the reach, or None where there is no such row or no curve."""
    return None if plan.picture is None else curve_of_row(plan.picture, row)


def draw_chart(plan: Plan, row: int, curve: ReachCurve, colours: Colours) -> str:
    """Return the chart of one row as an SVG file, with its fill and the low estimate of the void marked."""
    void_ml = plan.wound.void_ml if plan.wound else None
    low_ml = None if void_ml is None or isinstance(void_ml, Extremes) else void_ml.low
    with _DRAWING:
        return draw_curve(curve, proposed_ml=plan.reach[row].fill_ml, void_low_ml=low_ml, colours=colours)


def say_curve(curve: ReachCurve) -> str:
    """Write what the chart shows, for whoever cannot see it."""
    floor = _say_surface("floor", curve.floor_share, curve)
    roof = _say_surface("roof", curve.roof_share, curve)
    return f"{floor}; {roof}"


def _say_surface(surface: str, share: NDArray[float64], curve: ReachCurve) -> str:
    reached = [(word, np.flatnonzero(share >= least)) for least, word in ((0.5, "half"), (0.98, "all"))]
    parts = [f"{word} from about {_volume(float(curve.fill_ml[at[0]]))} mL" for word, at in reached if at.size]
    return f"{surface} soaked: {', '.join(parts)}" if parts else f"{surface} soaked: less than half at every fill"


def _volume(fill_ml: float) -> str:
    step = step_ml(fill_ml)
    return show_number(step * round(fill_ml / step), 0)
