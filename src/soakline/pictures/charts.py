"""The reach curve: how much of floor and roof each fill volume soaks in one posture."""

from __future__ import annotations

from dataclasses import dataclass
from io import StringIO
from typing import TYPE_CHECKING, Any

from soakline.fluid.reach import ReachCurve
from soakline.units import show_number

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


@dataclass(frozen=True, slots=True)
class Colours:
    """What a chart is drawn with: ground, ink, and the one accent."""

    ground: str
    ink: str
    accent: str


LIGHT = Colours("#ffffff", "#1b1f24", "#0b5c8a")
DARK = Colours("#14181d", "#e8ebee", "#7cc4ee")

# Ids in the file are made from this, so that the same curve gives the same file.
_SALT = "soakline"
_SIZE_IN = (6.4, 4.2)
_LEVELS = (0.0, 0.25, 0.5, 0.75, 1.0)
_LEVEL_WORDS = ("none", "25 %", "half", "75 %", "all")


def draw_curve(
    curve: ReachCurve, *, proposed_ml: float | None, void_low_ml: float | None, colours: Colours = LIGHT
) -> str:
    """Return an SVG file of soaked floor and roof against fill volume, with the proposed fill and the low void marked.

    ``proposed_ml`` and ``void_low_ml`` in mL are left out where nobody gave or knows them. Show it as an image file.
    """
    import matplotlib as mpl  # noqa: PLC0415  # slow to load, and most commands draw no chart

    with mpl.rc_context(_look(colours)):
        figure, axes = _axes(curve, max(proposed_ml or 0.0, void_low_ml or 0.0))
        _draw_lines(axes, curve, colours)
        _mark(axes, proposed_ml, "proposed fill", color=colours.accent, linestyle="-.")
        _mark(axes, void_low_ml, "low estimate of the void", color=colours.ink, linestyle=":")
        figure.legend(loc="outside lower center", ncols=2, frameon=False)
        return _as_svg(figure)


def _look(colours: Colours) -> dict[Any, Any]:
    ink = dict.fromkeys(("text.color", "axes.labelcolor", "axes.edgecolor", "xtick.color", "ytick.color"), colours.ink)
    return {
        **ink,
        "svg.hashsalt": _SALT,
        "svg.fonttype": "none",
        "font.family": "sans-serif",
        "font.size": 11.0,
        # A port may be called anything: "$" in its name is no formula.
        "text.parse_math": False,
        "figure.facecolor": colours.ground,
        "axes.facecolor": colours.ground,
        "axes.spines.top": False,
        "axes.spines.right": False,
    }


def _axes(curve: ReachCurve, marked_ml: float) -> tuple[Figure, Axes]:
    from matplotlib.figure import Figure  # noqa: PLC0415  # as above

    figure = Figure(figsize=_SIZE_IN, layout="constrained")
    axes = figure.add_subplot()
    axes.set_xlim(0.0, max(float(curve.fill_ml[-1]), 1.05 * marked_ml))
    axes.set_ylim(0.0, 1.02)
    axes.set_yticks(_LEVELS, _LEVEL_WORDS)
    axes.set_xlabel(f"fill through {curve.port}, mL")
    axes.set_ylabel("soaked share of the surface")
    axes.set_title(f"Lying: {curve.posture}", loc="left", fontsize=11.0)
    return figure, axes


def _draw_lines(axes: Axes, curve: ReachCurve, colours: Colours) -> None:
    # Solid and dashed, so that the two are told apart without colour.
    axes.plot(curve.fill_ml, curve.floor_share, color=colours.accent, linewidth=2.2, label="floor (bed)")
    axes.plot(
        curve.fill_ml, curve.roof_share, color=colours.ink, linewidth=2.2, linestyle="--", label="roof (under the skin)"
    )


def _mark(axes: Axes, volume_ml: float | None, words: str, *, color: str, linestyle: str) -> None:
    if volume_ml is not None:
        said = f"{words}, {show_number(volume_ml, 0)} mL"
        axes.axvline(volume_ml, color=color, linestyle=linestyle, linewidth=1.6, label=said)


def _as_svg(figure: Figure) -> str:
    file = StringIO()
    figure.savefig(file, format="svg", metadata={"Date": None, "Creator": "Soakline"})
    return file.getvalue()
