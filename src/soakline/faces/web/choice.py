"""Which posture, port and surface the map shows, and the ways to the others."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from soakline.faces.web.answers import Answered
from soakline.faces.web.chart import curve_of, say_curve
from soakline.pictures.wound_map import SCALES, draw_map, is_legible, map_size
from soakline.units import show_number
from soakline.workflows.answers import Picture, ReachAnswer
from soakline.workflows.in_words import say_model
from soakline.wound.measurements import Wound

Surface = Literal["floor", "roof"]
SURFACES: tuple[tuple[Surface, str], ...] = (("floor", "floor: the wound bed"), ("roof", "roof: under the kept skin"))

_TITLES = ("Lying", "Port", "Fill", "Liquid")
_FILL = 2
# A wider map would be shrunk to the page until its letters are too small to read.
_WIDEST_MM = 170.0


@dataclass(frozen=True, slots=True)
class Way:
    """A link to another view: its words, the row of the reach and the surface that it shows, and whether it is this."""

    says: str
    row: int
    surface: Surface
    is_this: bool


@dataclass(frozen=True, slots=True)
class Switch:
    """The ways along one of the things that can be chosen; one with a single way is not shown."""

    title: str
    ways: tuple[Way, ...]


@dataclass(frozen=True, slots=True)
class Choice:
    """What the map shows: the row of the reach (None where there is none), the switches, and the drawing.

    ``curve_says`` is the chart of that row in words, empty where there is no chart.
    """

    row: int | None
    switches: tuple[Switch, ...]
    map_svg: str
    curve_says: str


def choose(said: Answered, row: int, surface: Surface) -> Choice:
    """Return the view of one row of the reach; a row that is not there shows the first."""
    reach = said.plan.reach if said.plan else ()
    shown = row if 0 <= row < len(reach) else 0 if reach else None
    return Choice(
        row=shown,
        switches=tuple(_switches(reach, shown, surface)) if shown is not None else (),
        map_svg=_map(said, shown, surface),
        curve_says=_curve(said, shown),
    )


def _switches(reach: tuple[ReachAnswer, ...], row: int, surface: Surface) -> Iterator[Switch]:
    for along, title in enumerate(_TITLES):
        ways = tuple(_ways(reach, row, surface, along))
        if len(ways) > 1:
            yield Switch(title, ways)
    yield Switch("Surface", tuple(Way(says, row, name, name == surface) for name, says in SURFACES))


def _ways(reach: tuple[ReachAnswer, ...], row: int, surface: Surface, along: int) -> Iterator[Way]:
    """Give, for each value along one thing, the row that shares most of the others with the row shown."""
    here = _things(reach[row])
    # A fill belongs to its port: another port's fill is no way from here.
    open_rows = [i for i, answer in enumerate(reach) if along != _FILL or answer.port == reach[row].port]
    for value in dict.fromkeys(_things(reach[i])[along] for i in open_rows):
        wanted = (*here[:along], value, *here[along + 1 :])
        able = [i for i in open_rows if _things(reach[i])[along] == value]
        nearest = max(able, key=lambda i: sum(map(str.__eq__, _things(reach[i]), wanted)))
        yield Way(value, nearest, surface, value == here[along])


def _things(answer: ReachAnswer) -> tuple[str, str, str, str]:
    return answer.posture, answer.port, f"{show_number(answer.fill_ml, 0)} mL", say_model(answer.model)


def _curve(said: Answered, row: int | None) -> str:
    curve = curve_of(said.plan, row) if said.plan and row is not None else None
    return say_curve(curve) if curve else ""


def _map(said: Answered, row: int | None, surface: Surface) -> str:
    if said.plan is None or said.plan.picture is None or said.case is None or said.case.wound is None:
        return ""
    picture, wound = said.plan.picture, said.case.wound
    drawable = row if row is not None and row < len(picture.maps) else None
    return draw_map(picture, wound, drawable, surface=surface, one_to=map_scale(picture, wound))


def map_scale(picture: Picture, wound: Wound) -> int:
    """Return the scale 1 : n that fits the page, or the nearest larger drawing on which every label stands free."""
    fits = next((n for n in SCALES if map_size(picture, wound, None, n)[0] <= _WIDEST_MM), SCALES[-1])
    return next((n for n in reversed(SCALES) if n <= fits and is_legible(picture, wound, n)), fits)
