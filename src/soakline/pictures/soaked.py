"""The soaked columns of one surface as a single path of runs; tunnels, which stand on no grid, are left out."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy import bool_
from numpy.typing import NDArray

from soakline.fluid.reach import ReachMap
from soakline.pictures.svg import XY, number
from soakline.workflows.answers import Picture
from soakline.workflows.day_answer import DayMap
from soakline.wound.cavity import Cavity

Surface = Literal["floor", "roof"]

# A column counts as soaked when half of its surface is.
_HALF_SHARE = 0.5
# Soaked for less than this in a day is not soaked.
_SOME_MIN = 1.0
# Soaked in so many of the plausible wounds, a column is sure; in no more than so few, surely not.
_SURE_SHARE, _SURELY_NOT_SHARE = 0.9, 0.1


@dataclass(frozen=True, slots=True, eq=False)
class Shown:
    """Which columns are drawn, (n,) each: soaked, and those of a second kind, which ``second_says`` names."""

    soaked: NDArray[bool_]
    second: NDArray[bool_]
    soaked_says: str
    second_says: str


def shown_of(found: ReachMap, surface: Surface) -> Shown:
    """Return what to draw of a map: sure and unsure where plausible wounds were asked, else soaked and passed over."""
    share = found.floor_share if surface == "floor" else found.roof_share
    wounds = found.floor_wounds_share if surface == "floor" else found.roof_wounds_share
    if wounds is not None:
        sure, often = wounds[:, 0] >= _SURE_SHARE, wounds[:, 0] > _SURELY_NOT_SHARE
        return Shown(sure, often & ~sure, "soaked in at least 9 of 10 plausible wounds", "soaked in some: unsure")
    soaked = share[:, 0] >= _HALF_SHARE
    passed = (share.sum(axis=1) >= _HALF_SHARE) & ~soaked
    return Shown(soaked, passed, "soaked", "liquid passed, not soaked")


def shown_at(picture: Picture, which: int | DayMap, surface: Surface) -> tuple[Cavity | None, Shown]:
    """Return what to draw of one map of a picture, by its place, or of a day, and the cavity whose columns it is on."""
    if isinstance(which, DayMap):
        return picture.cavities.get("spread"), _shown_of_day(which, surface)
    found = picture.maps[which]
    return picture.cavities.get(found.model), shown_of(found, surface)


def columns_path(cavity: Cavity, chosen: NDArray[bool_], to_mm: Callable[[XY], XY]) -> str:
    """Return path data in mm of the columns that are ``chosen`` (n,).

    At the cavity's rim the area is let out by one column, to be clipped to the true outline by the drawing.
    """
    # One cell of margin on every side gives the rim room to be let out.
    cells = np.pad(cavity.cells, ((0, 0), (1, 1), (1, 1)), constant_values=-1)
    there, drawn = cells >= 0, (cells >= 0) & chosen[cells]
    # A cell that the opening's edge cuts holds two columns.
    inside, drawn = there[0] | there[1], drawn[0] | drawn[1]
    drawn |= _grown(drawn) & ~inside
    corner = cavity.corner_cm[0] - cavity.spacing_cm, cavity.corner_cm[1] - cavity.spacing_cm
    return "".join(_run(corner, cavity.spacing_cm, run, to_mm) for run in _runs(drawn))


def _shown_of_day(day: DayMap, surface: Surface) -> Shown:
    minutes = day.floor_soaked_min if surface == "floor" else day.roof_soaked_min
    sure = minutes.min(axis=0) >= _SOME_MIN
    unsure = (minutes.max(axis=0) >= _SOME_MIN) & ~sure
    return Shown(sure, unsure, "soaked at some time of the day", "unsure, by what suction leaves")


def _grown(mask: NDArray[bool_]) -> NDArray[bool_]:
    wide = mask.copy()
    wide[:, 1:] |= mask[:, :-1]
    wide[:, :-1] |= mask[:, 1:]
    tall = wide.copy()
    tall[1:] |= wide[:-1]
    tall[:-1] |= wide[1:]
    return tall


def _runs(mask: NDArray[bool_]) -> Iterator[tuple[int, int, int]]:
    for row in np.flatnonzero(mask.any(axis=1)):
        edges = np.flatnonzero(np.diff(mask[row].astype(np.int8), prepend=0, append=0))
        for start, end in zip(edges[::2], edges[1::2], strict=True):
            yield int(row), int(start), int(end)


def _run(corner: XY, step_cm: float, run: tuple[int, int, int], to_mm: Callable[[XY], XY]) -> str:
    row, start, end = run
    left, top = to_mm((corner[0] + start * step_cm, corner[1] + (row + 1) * step_cm))
    right, bottom = to_mm((corner[0] + end * step_cm, corner[1] + row * step_cm))
    # Edges in absolute numbers: neighbouring rows then share them to the last digit and no hairline shows.
    return f"M{number(left)} {number(top)}H{number(right)}V{number(bottom)}H{number(left)}z"
