"""The wound map: opening, pocket, clock, tunnels, ports and soaked area, drawn to scale as the examiner sees them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from soakline.guard.change import Looks
from soakline.layout.ports import Port
from soakline.pictures import marks
from soakline.pictures.frame import map_frame
from soakline.pictures.in_words import describe_map
from soakline.pictures.legend import legend, legend_height
from soakline.pictures.marks import PAGE, PAPER, Drawing, Inks
from soakline.pictures.orientation import sides_of
from soakline.pictures.soaked import Surface
from soakline.pictures.svg import XY, element, number, words
from soakline.workflows.answers import Picture
from soakline.workflows.day_answer import DayMap
from soakline.wound.measurements import Wound

__all__ = ["PAGE", "PAPER", "SCALES", "describe_map", "draw_map", "is_legible", "map_size"]

SCALES = (1, 2, 3, 4, 5, 6, 8, 10)
"""The scales 1 : n in which a map is drawn."""


def draw_map(
    picture: Picture,
    wound: Wound,
    reach_index: int | DayMap | None,
    *,
    surface: Surface = "floor",
    one_to: int = 1,
    inks: Inks = PAGE,
    prefix: str = "map",
    room_cm: float = 0.0,
    looks: Mapping[int, Looks] | None = None,
    moved: tuple[Port, ...] = (),
) -> str:
    """Return the map at 1 : ``one_to`` as one SVG in mm, with the soaked columns of one reach map, or none of them.

    ``reach_index`` counts in ``picture.maps``, or is a day's map; ``prefix`` begins every id, so that several maps can
    stand on one page.
    ``looks`` paints how each hour looked at a change of dressing, each as a path of its own to be painted over.
    ``room_cm`` is kept free round the opening's centre. Words keep off ``moved`` ports, which the page draws.
    """
    drawing = replace(_drawing(picture, wound, one_to, inks, prefix, room_cm), moved=moved)
    return _document(
        drawing,
        drawing.frame.height_mm + legend_height(drawing, reach_index, surface),
        element("title", words(_title(reach_index, surface)), id=f"{prefix}-title"),
        element("desc", words(describe_map(picture, wound, reach_index, surface=surface)), id=f"{prefix}-desc"),
        marks.patterns(drawing),
        "" if reach_index is None else marks.soaked_area(drawing, reach_index, surface),
        *(() if looks is None else marks.looked(drawing, looks)),
        *marks.probed_hours(drawing),
        *marks.outlines(drawing),
        *(marks.structure(drawing, zone) for zone in picture.sheet.keep_clear),
        *(marks.tunnel(drawing, track) for track in picture.sheet.tunnels),
        *(marks.extent(drawing, entry) for entry in wound.undermining),
        *marks.clock(drawing),
        *(marks.port(drawing, port) for port in picture.ports),
        *marks.labels(drawing),
        legend(drawing, reach_index, surface),
    )


def map_size(picture: Picture, wound: Wound, reach_index: int | None, one_to: int) -> XY:
    """Return width and height in mm of the map on paper at 1 : ``one_to``, legend included."""
    drawing = _drawing(picture, wound, one_to, PAPER, "size")
    return drawing.frame.width_mm, drawing.frame.height_mm + legend_height(drawing, reach_index, "floor")


def is_legible(picture: Picture, wound: Wound, one_to: int) -> bool:
    """Say whether at 1 : ``one_to`` every label stands free beside what it names."""
    return marks.is_legible(_drawing(picture, wound, one_to, PAPER, "size"))


def _drawing(picture: Picture, wound: Wound, one_to: int, inks: Inks, prefix: str, room_cm: float = 0.0) -> Drawing:
    sides = sides_of(wound.face, wound.part)
    return Drawing(picture, wound, map_frame(picture.sheet, sides, one_to, room_cm), sides, inks, prefix)


def _title(reach_index: int | DayMap | None, surface: Surface) -> str:
    return "Wound map to scale" if reach_index is None else f"Wound map to scale, {surface}"


def _document(drawing: Drawing, height_mm: float, *content: str) -> str:
    width = number(drawing.frame.width_mm)
    height = number(height_mm)
    return element(
        "svg",
        *content,
        xmlns="http://www.w3.org/2000/svg",
        width=f"{width}mm",
        height=f"{height}mm",
        viewBox=f"0 0 {width} {height}",
        role="img",
        aria_labelledby=f"{drawing.prefix}-title {drawing.prefix}-desc",
        font_family=drawing.inks.font,
    )
