"""The legend under the wound map: every sign that occurs on it, with its words, and a bar in centimetres."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from soakline.pictures.frame import TEXT_MM
from soakline.pictures.in_words import say_reach_shown
from soakline.pictures.labels import wrap
from soakline.pictures.marks import TUBE_DASHES, TUBE_LINE_MM, Drawing, crossed_circle, has_state, port_sign
from soakline.pictures.soaked import Surface, shown_at
from soakline.pictures.svg import XY, element, line_through, text_lines
from soakline.workflows.day_answer import DayMap

ROW_MM = 5.6
_EDGE_MM = 1.0
_SIGN_MM = 9.0
_MIDDLE_MM = 3.5
_WIDTH_PER_CHAR = 0.6

Sign = Callable[[Drawing, XY], str]
Entry = tuple[Sign, str]


def legend(drawing: Drawing, reach_index: int | DayMap | None, surface: Surface) -> str:
    """Return the legend, set in rows below the frame: a bar in cm first, where the inks ask for one."""
    top, bar_mm = drawing.frame.height_mm, _bar_row_mm(drawing)
    bar = _bar(drawing, (_EDGE_MM, top + 0.5 * ROW_MM)) if drawing.inks.bar else ""
    rows = enumerate(_rows(drawing, reach_index, surface))
    return bar + "".join(_row(drawing, row, top + bar_mm + (i + 0.5) * ROW_MM) for i, row in rows)


def legend_height(drawing: Drawing, reach_index: int | DayMap | None, surface: Surface) -> float:
    """Return how many mm the legend adds below the frame."""
    return _bar_row_mm(drawing) + len(_rows(drawing, reach_index, surface)) * ROW_MM


def _bar_row_mm(drawing: Drawing) -> float:
    return ROW_MM if drawing.inks.bar else 0.0


def _bar(drawing: Drawing, start: XY) -> str:
    length_cm = bar_length(drawing)
    end = (start[0] + length_cm * drawing.frame.mm_per_cm, start[1])
    ends = (line_through([(x, start[1] - 1.3), (x, start[1] + 1.3)]) for x in (start[0], end[0]))
    said = text_lines(
        (f"{length_cm} cm on the wound",), (end[0] + 2.0, end[1]), TEXT_MM, fill=drawing.inks.ink, text_anchor="start"
    )
    return drawing.stroke(line_through([start, end]) + "".join(ends), 0.5) + said


def bar_length(drawing: Drawing) -> int:
    """Return the length of the bar in cm on the wound: the longest of 1, 2, 5 and 10 that takes at most 50 mm."""
    return max((cm for cm in (1, 2, 5, 10) if cm * drawing.frame.mm_per_cm <= 50.0), default=1)


def _rows(drawing: Drawing, reach_index: int | DayMap | None, surface: Surface) -> list[list[Entry]]:
    rows: list[list[Entry]] = [[]]
    for entry in _entries(drawing, reach_index, surface):
        if rows[-1] and sum(map(_width_mm, [*rows[-1], entry])) > drawing.frame.width_mm:
            rows.append([])
        rows[-1].append(entry)
    return rows


def _entries(drawing: Drawing, reach_index: int | DayMap | None, surface: Surface) -> Iterator[Entry]:
    sheet, kinds = drawing.picture.sheet, {port.kind for port in drawing.picture.ports}
    yield from ((_port(kind), f"{kind} port") for kind in ("instillation", "suction") if kind in kinds)
    if reach_index is not None:
        for line in wrap(say_reach_shown(drawing.picture, reach_index, surface), 56):
            yield _nothing, line
        _, areas = shown_at(drawing.picture, reach_index, surface)
        yield _soaked, areas.soaked_says
        if areas.second.any():
            yield _second, areas.second_says
    yield _line(1.0), "opening"
    if sheet.pocket_cm:
        yield _line(0.4), "pocket"
    if sheet.tunnels:
        yield _tunnel, "tunnel"
    if sheet.keep_clear:
        yield _crossed, "keep clear"
    if has_state(drawing, "none found"):
        yield _line(1.2), "probed, none found"
    if has_state(drawing, "not probed"):
        yield _unsure, "not probed"


def _row(drawing: Drawing, row: Sequence[Entry], y_mm: float) -> str:
    x_mm, parts = 0.0, list[str]()
    for sign, said in row:
        parts.append(sign(drawing, (x_mm + _MIDDLE_MM, y_mm)))
        parts.append(text_lines((said,), (x_mm + _SIGN_MM, y_mm), TEXT_MM, fill=drawing.inks.ink, text_anchor="start"))
        x_mm += _width_mm((sign, said))
    return "".join(parts)


def _width_mm(entry: Entry) -> float:
    return _SIGN_MM + len(entry[1]) * _WIDTH_PER_CHAR * TEXT_MM


def _nothing(_drawing: Drawing, _at: XY) -> str:
    return ""


def _port(kind: str) -> Sign:
    return lambda drawing, at: port_sign(drawing, kind, at)


def _line(width_mm: float) -> Sign:
    return lambda drawing, at: drawing.stroke(line_through([(at[0] - 3.0, at[1]), (at[0] + 3.0, at[1])]), width_mm)


def _soaked(drawing: Drawing, at: XY) -> str:
    return _swatch(at, fill=drawing.ref("soaked"), stroke=drawing.inks.ink, stroke_width=0.2)


def _second(drawing: Drawing, at: XY) -> str:
    return _swatch(at, fill=drawing.ref("second"), stroke=drawing.inks.ink, stroke_width=0.2)


def _unsure(drawing: Drawing, at: XY) -> str:
    return _swatch(at, fill=drawing.ref("unsure"))


def _swatch(at: XY, **look: str | float) -> str:
    return element("rect", x=at[0] - 3.0, y=at[1] - 1.8, width=6.0, height=3.6, **look)


def _tunnel(drawing: Drawing, at: XY) -> str:
    (x, y), half = at, 1.3
    tube = [(x - 3.0, y - half), (x + 3.0, y - half), (x + 3.0, y + half), (x - 3.0, y + half)]
    return drawing.stroke(line_through(tube), TUBE_LINE_MM, stroke_dasharray=TUBE_DASHES)


def _crossed(drawing: Drawing, at: XY) -> str:
    return crossed_circle(drawing, at, 1.9)
