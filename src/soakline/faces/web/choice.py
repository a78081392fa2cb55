"""Which posture, port and surface the map shows, and the ways to the others."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from soakline.faces.web.answers import Answered
from soakline.faces.web.chart import curve_of, say_curve
from soakline.pictures.wound_map import draw_map
from soakline.workflows.answers import ReachAnswer

Surface = Literal["floor", "roof"]
SURFACES: tuple[tuple[Surface, str], ...] = (("floor", "floor: the wound bed"), ("roof", "roof: under the kept skin"))


@dataclass(frozen=True, slots=True)
class Way:
    """A link to another view: its words, the row of the reach and the surface that it shows, and whether it is this."""

    says: str
    row: int
    surface: Surface
    is_this: bool


@dataclass(frozen=True, slots=True)
class Choice:
    """What the map shows: the row of the reach (None where there is none), the surface, the ways, and the drawing.

    ``curve_says`` is the chart of that row in words, empty where there is no chart.
    """

    row: int | None
    surface: Surface
    postures: tuple[Way, ...]
    ports: tuple[Way, ...]
    surfaces: tuple[Way, ...]
    map_svg: str
    curve_says: str


def choose(said: Answered, row: int, surface: Surface) -> Choice:
    """Return the view of one row of the reach; a row that is not there shows the first."""
    reach = said.plan.reach if said.plan else ()
    shown = row if 0 <= row < len(reach) else 0 if reach else None
    return Choice(
        row=shown,
        surface=surface,
        postures=_ways(reach, shown, surface, "posture"),
        ports=_ways(reach, shown, surface, "port"),
        surfaces=tuple(Way(says, shown or 0, name, name == surface) for name, says in SURFACES if reach),
        map_svg=_map(said, shown, surface),
        curve_says=_curve(said, shown),
    )


def _ways(
    reach: tuple[ReachAnswer, ...], row: int | None, surface: Surface, along: Literal["posture", "port"]
) -> tuple[Way, ...]:
    if row is None:
        return ()
    other = "port" if along == "posture" else "posture"
    same = [i for i, answer in enumerate(reach) if getattr(answer, other) == getattr(reach[row], other)]
    return tuple(Way(getattr(reach[i], along), i, surface, i == row) for i in same)


def _curve(said: Answered, row: int | None) -> str:
    curve = curve_of(said.plan, row) if said.plan and row is not None else None
    return say_curve(curve) if curve else ""


def _map(said: Answered, row: int | None, surface: Surface) -> str:
    if said.plan is None or said.plan.picture is None or said.case is None or said.case.wound is None:
        return ""
    drawable = row if row is not None and row < len(said.plan.picture.maps) else None
    return draw_map(said.plan.picture, said.case.wound, drawable, surface=surface)
