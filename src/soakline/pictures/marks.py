"""What stands on the wound map, one mark each: outlines, hours, tunnels, structures, ports and their labels."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, pairwise

from soakline.guard.change import Looks
from soakline.layout.ports import Port
from soakline.pictures.frame import TEXT_MM, Frame, side_spots, tunnel_end
from soakline.pictures.hours import HourState, hour_states
from soakline.pictures.in_words import say_length
from soakline.pictures.labels import Box, Label, Placed, place, text_box, wrap
from soakline.pictures.orientation import Sides
from soakline.pictures.soaked import Surface, columns_path, shown_at
from soakline.pictures.svg import XY, element, line_through, text_lines
from soakline.workflows.answers import Picture
from soakline.workflows.day_answer import DayMap
from soakline.wound.clock import HOURS, angle_deg, clock_of, unit_vector
from soakline.wound.measurements import Undermining, Wound
from soakline.wound.sheet import Points, Track, Zone, bin_of, hours_of, reach_at

PORT_MM = 1.8
TUBE_DASHES = "2 1.2"
TUBE_LINE_MM = 0.6
_BEAD_MM = 2.0
_PATCH = 0.92
_LEGIBLE_STEP_MM = 10.0
_BAND_MM = 4.0
_WALL_MM = 1.6
_WALL_TURNS_DEG = range(-10, 11, 2)


@dataclass(frozen=True, slots=True)
class Inks:
    """What the picture is drawn with: ink, the ground behind letters, the tint of liquid, the letters' family.

    ``bar`` asks for a bar in cm; paper has its own of 100 mm.
    """

    ink: str
    ground: str
    liquid: str
    font: str
    bar: bool


PAPER = Inks("#000", "#fff", "#000", "DejaVu Sans", bar=False)
# A page may set both properties for light and dark; alone, the picture follows the reader's own colours.
PAGE = Inks(
    "currentColor", "var(--map-ground, Canvas)", "var(--map-liquid, currentColor)", "system-ui, sans-serif", bar=True
)


@dataclass(frozen=True, slots=True)
class Drawing:
    """One map being drawn: what is drawn, the frame it stands in, the inks, and what its ids begin with."""

    picture: Picture
    wound: Wound
    frame: Frame
    sides: Sides
    inks: Inks
    prefix: str
    # Ports that the page draws itself, to be moved: words keep off them where they stand first.
    moved: tuple[Port, ...] = ()

    def ref(self, name: str) -> str:
        """Return the reference to a pattern or a clip of this map."""
        return f"url(#{self.prefix}-{name})"

    def stroke(self, data: str, width_mm: float, **more: str | float) -> str:
        """Return a line in ink along path data in mm."""
        return element("path", d=data, fill="none", stroke=self.inks.ink, stroke_width=width_mm, **more)


def patterns(drawing: Drawing) -> str:
    """Return dots for soaked, hatching for unsure and for not probed, and the outline that areas are cut to."""
    ink, shape = drawing.inks.ink, {"patternUnits": "userSpaceOnUse"}
    dots = (
        element("rect", width=1.7, height=1.7, fill=drawing.inks.liquid, fill_opacity=0.16),
        element("circle", cx=0.5, cy=0.5, r=0.3, fill=ink),
    )
    sparse = element("path", d="M0 0H2.6", stroke=ink, stroke_width=0.3)
    hatch = element("path", d="M0 0V1.5", stroke=ink, stroke_width=0.55)
    lines = (drawing.picture.sheet.opening_cm, *drawing.picture.sheet.pocket_cm)
    # One path each: together in one path, lines that run against each other would cut holes.
    shapes = (element("path", d=_closed(drawing, line)) for line in lines)
    return element(
        "defs",
        element("pattern", *dots, id=f"{drawing.prefix}-soaked", width=1.7, height=1.7, **shape),
        element("pattern", sparse, id=f"{drawing.prefix}-second", width=2.6, height=2.6, **_HATCH, **shape),
        element("pattern", hatch, id=f"{drawing.prefix}-unsure", width=1.5, height=1.5, **_HATCH, **shape),
        element("clipPath", *shapes, id=f"{drawing.prefix}-cavity"),
    )


def soaked_area(drawing: Drawing, reach_index: int | DayMap, surface: Surface) -> str:
    """Return the soaked columns of one surface, cut to the cavity's outline; empty when there are no columns."""
    cavity, areas = shown_at(drawing.picture, reach_index, surface)
    if cavity is None:
        return ""
    return "".join(
        element("path", d=data, fill=drawing.ref(fill), clip_path=drawing.ref("cavity"))
        for fill, chosen in (("second", areas.second), ("soaked", areas.soaked))
        if (data := columns_path(cavity, chosen, drawing.frame.to_mm))
    )


def outlines(drawing: Drawing) -> Iterator[str]:
    """Give the pocket's edge under the skin, and the opening's edge heavier."""
    for line in drawing.picture.sheet.pocket_cm:
        yield drawing.stroke(_closed(drawing, line), 0.4)
    yield drawing.stroke(_closed(drawing, drawing.picture.sheet.opening_cm), 1.0)


def probed_hours(drawing: Drawing) -> Iterator[str]:
    """Give a hatched band where the hour is unknown, and a wall where it was probed and none was found."""
    states = hour_states(drawing.wound)
    unsure = [_band(drawing, hour) for hour in _in_state(states, "not probed", "reach not measured")]
    walls = [line_through(_wall(drawing, hour)) for hour in _in_state(states, "none found")]
    if unsure:
        yield element("path", d="".join(unsure), fill=drawing.ref("unsure"))
    if walls:
        yield drawing.stroke("".join(walls), 1.2)


def looked(drawing: Drawing, looks: Mapping[int, Looks]) -> Iterator[str]:
    """Give the cavity hour by hour: clean plain and tinted, not clean crossed, and clear where nobody looked."""
    tint = element("rect", width=2.2, height=2.2, fill=drawing.inks.liquid, fill_opacity=0.16)
    cross = element("path", d="M0 0L2.2 2.2M2.2 0L0 2.2", stroke=drawing.inks.ink, stroke_width=0.4)
    named = (("clean", tint), ("not-clean", cross))
    size = {"width": 2.2, "height": 2.2, "patternUnits": "userSpaceOnUse"}
    yield element("defs", *(element("pattern", sign, id=f"{drawing.prefix}-{name}", **size) for name, sign in named))
    for hour in HOURS:
        how = looks.get(hour)
        fill = {None: "transparent", "clean": drawing.ref("clean"), "not clean": drawing.ref("not-clean")}[how]
        yield element("path", d=_wedge(drawing, hour), fill=fill, data_hour=hour, class_="looks")


def extent(drawing: Drawing, entry: Undermining) -> str:
    """Return the line from the opening's edge to the pocket's edge in the middle of one undermining."""
    if entry.reach_cm is None:
        return ""
    near, far = _extent_ends(drawing, entry)
    across = _scaled(_normal(near, far), 1.2)
    ticks = (line_through([_minus(end, across), _plus(end, across)]) for end in (near, far))
    return drawing.stroke(line_through([near, far]) + "".join(ticks), 0.3)


def tunnel(drawing: Drawing, track: Track) -> str:
    """Return a tunnel as a dashed tube of its own width, closed at its far end."""
    return drawing.stroke(line_through(_tube(drawing, track)), TUBE_LINE_MM, stroke_dasharray=TUBE_DASHES)


def structure(drawing: Drawing, zone: Zone) -> str:
    """Return a structure to keep clear as a crossed circle."""
    return crossed_circle(drawing, drawing.frame.to_mm(zone.centre_cm), zone.radius_cm * drawing.frame.mm_per_cm)


def crossed_circle(drawing: Drawing, at: XY, radius_mm: float) -> str:
    """Return the sign of a structure to keep clear about a point in mm."""
    (x, y), arm = at, radius_mm * math.sqrt(0.5)
    arms = [[(x - arm, y - arm), (x + arm, y + arm)], [(x - arm, y + arm), (x + arm, y - arm)]]
    ring = element("circle", cx=x, cy=y, r=radius_mm, fill="none", stroke=drawing.inks.ink, stroke_width=0.6)
    return ring + drawing.stroke("".join(map(line_through, arms)), 0.3)


def port(drawing: Drawing, placed: Port) -> str:
    """Return a port's sign where it lies: instillation a filled circle, suction a hollow square."""
    return port_sign(drawing, placed.kind, drawing.frame.to_mm(_port_cm(drawing, placed)))


def port_sign(drawing: Drawing, kind: str, at: XY) -> str:
    """Return the sign of a kind of port at a point in mm."""
    look = {"stroke": drawing.inks.ink, "stroke_width": 0.7}
    if kind == "instillation":
        return element("circle", cx=at[0], cy=at[1], r=PORT_MM, fill=drawing.inks.ink, **look)
    corner = {"x": at[0] - PORT_MM, "y": at[1] - PORT_MM}
    return element("rect", **corner, width=2.0 * PORT_MM, height=2.0 * PORT_MM, fill=drawing.inks.ground, **look)


def clock(drawing: Drawing) -> Iterator[str]:
    """Give the numerals 1–12 with their ticks, and the words at the sides."""
    bold = {"font_weight": "bold", "fill": drawing.inks.ink}
    for hour, spot in drawing.frame.numerals().items():
        yield drawing.stroke(_tick(spot, hour), 0.3)
        yield text_lines((str(hour),), spot, TEXT_MM, **bold)
    for lines, spot in side_spots(drawing.frame, drawing.sides):
        yield text_lines(lines, spot, TEXT_MM, **bold)


def labels(drawing: Drawing) -> Iterator[str]:
    """Give every label in a free place, with a line back to its point where it had to move away."""
    for placed in _placed(drawing):
        yield _label(drawing, placed)


def is_legible(drawing: Drawing) -> bool:
    """Say whether every label stands free and near its point, and no port covers another."""
    ports = [drawing.frame.to_mm(_port_cm(drawing, placed)) for placed in drawing.picture.ports]
    apart = all(math.dist(*pair) > 2.0 * PORT_MM for pair in combinations(ports, 2))
    return apart and all(placed.free and placed.step_mm <= _LEGIBLE_STEP_MM for placed in _placed(drawing))


def has_state(drawing: Drawing, *states: HourState) -> bool:
    """Say whether any hour of the wound is in one of these states."""
    return bool(_in_state(hour_states(drawing.wound), *states))


_HATCH = {"patternTransform": "rotate(45)"}


def _placed(drawing: Drawing) -> tuple[Placed, ...]:
    half_width, half_height = drawing.frame.width_mm / 2.0, drawing.frame.height_mm / 2.0
    room = Box(half_width, half_height, half_width, half_height)
    return place(list(_wanted(drawing)), list(_taken(drawing)), list(_lines(drawing)), room, TEXT_MM)


def _in_state(states: dict[int, HourState], *wanted: HourState) -> list[int]:
    return [hour for hour in HOURS if states[hour] in wanted]


def _closed(drawing: Drawing, line: Points) -> str:
    return line_through(_in_mm(drawing, line), closed=True)


def _in_mm(drawing: Drawing, line: Points) -> list[XY]:
    return [drawing.frame.to_mm((float(point[0]), float(point[1]))) for point in line]


def _wedge(drawing: Drawing, hour: int) -> str:
    sheet, middle = drawing.picture.sheet, angle_deg(hour)
    # Just inside its own 30°: at its ends a range of undermining belongs to two hours.
    turns = (-14.9, -10.0, -5.0, 0.0, 5.0, 10.0, 14.9)
    outer = [sheet.point_at(clock_of(middle + turn), reach_at(sheet, middle + turn)) for turn in turns]
    return line_through([drawing.frame.to_mm(point) for point in [(0.0, 0.0), *outer]], closed=True)


def _band(drawing: Drawing, hour: int) -> str:
    turns = range(-15, 16, 5)
    inner = [_beyond(drawing, angle_deg(hour) + turn, 0.0) for turn in turns]
    outer = [_beyond(drawing, angle_deg(hour) + turn, _BAND_MM) for turn in reversed(turns)]
    return line_through([*inner, *outer], closed=True)


def _wall(drawing: Drawing, hour: int) -> list[XY]:
    return [_beyond(drawing, angle_deg(hour) + turn, _WALL_MM) for turn in _WALL_TURNS_DEG]


def _beyond(drawing: Drawing, direction_deg: float, beyond_mm: float) -> XY:
    from_edge_cm = beyond_mm / drawing.frame.mm_per_cm
    return drawing.frame.to_mm(drawing.picture.sheet.point_at(clock_of(direction_deg), from_edge_cm))


def _tick(spot: XY, hour: int) -> str:
    dx, up = unit_vector(angle_deg(hour))
    return line_through([(spot[0] - dx * far, spot[1] + up * far) for far in (3.4, 5.4)])


def _wanted(drawing: Drawing) -> Iterator[Label]:
    for placed in drawing.picture.ports:
        name = f"{placed.name} ({placed.unit})" if placed.unit else placed.name
        yield replace(_label_at(drawing, wrap(name, 14), _port_cm(drawing, placed), PORT_MM + 1.0), bold=True)
    for track in drawing.picture.sheet.tunnels:
        yield _label_at(drawing, (f"tunnel {say_length(track.length_cm)}",), tunnel_end(track), 1.5)
    for zone in drawing.picture.sheet.keep_clear:
        gap_mm = zone.radius_cm * drawing.frame.mm_per_cm + 0.5
        yield _label_at(drawing, wrap(f"keep clear: {zone.what}", 18, 4), zone.centre_cm, gap_mm)
    for entry in drawing.wound.undermining:
        yield _extent_label(drawing, entry)


def _label_at(drawing: Drawing, lines: tuple[str, ...], point_cm: XY, gap_mm: float) -> Label:
    outward_deg = math.degrees(math.atan2(point_cm[0], point_cm[1]))
    return Label(lines, drawing.frame.to_mm(point_cm), outward_deg, gap_mm)


def _extent_label(drawing: Drawing, entry: Undermining) -> Label:
    direction_deg = _middle_deg(entry)
    basis = "" if entry.basis == "measured" else f", {entry.basis}"
    if entry.reach_cm is None:
        return Label(("reach not measured",), _beyond(drawing, direction_deg, _BAND_MM), direction_deg, 1.0)
    near, far = _extent_ends(drawing, entry)
    middle = ((near[0] + far[0]) / 2.0, (near[1] + far[1]) / 2.0)
    return Label((f"{say_length(entry.reach_cm)}{basis}",), middle, direction_deg + 90.0, 1.0)


def _extent_ends(drawing: Drawing, entry: Undermining) -> tuple[XY, XY]:
    direction_deg = _middle_deg(entry)
    reach_cm = float(drawing.picture.sheet.reach_cm[bin_of(direction_deg)])
    return _beyond(drawing, direction_deg, 0.0), _beyond(drawing, direction_deg, reach_cm * drawing.frame.mm_per_cm)


def _middle_deg(entry: Undermining) -> float:
    start_deg, wide_deg = hours_of(entry)
    return start_deg + wide_deg / 2.0


def _taken(drawing: Drawing) -> Iterator[Box]:
    for hour, spot in drawing.frame.numerals().items():
        yield text_box((str(hour),), spot, TEXT_MM * 1.1)
    for lines, spot in side_spots(drawing.frame, drawing.sides):
        yield text_box(lines, spot, TEXT_MM * 1.2)
    for placed in (*drawing.picture.ports, *drawing.moved):
        x, y = drawing.frame.to_mm(_port_cm(drawing, placed))
        yield Box(x, y, PORT_MM + 0.4, PORT_MM + 0.4)
    for placed in drawing.moved:
        # The page writes its name beside it, to the right.
        x, y = drawing.frame.to_mm(_port_cm(drawing, placed))
        half_mm = text_box((placed.name,), (x, y), TEXT_MM).half_width_mm
        yield Box(x + PORT_MM + 0.4 + half_mm, y, half_mm, TEXT_MM / 2.0)
    for zone in drawing.picture.sheet.keep_clear:
        half_mm = 0.85 * zone.radius_cm * drawing.frame.mm_per_cm
        yield Box(*drawing.frame.to_mm(zone.centre_cm), half_mm, half_mm)


def _lines(drawing: Drawing) -> Iterator[Box]:
    for line in (drawing.picture.sheet.opening_cm, *drawing.picture.sheet.pocket_cm):
        yield from _beads(_in_mm(drawing, line))
    for hour in _in_state(hour_states(drawing.wound), "none found"):
        yield from _beads(_wall(drawing, hour))
    for track in drawing.picture.sheet.tunnels:
        yield from _beads(_tube(drawing, track))
    for entry in drawing.wound.undermining:
        if entry.reach_cm is not None:
            yield from _beads(_extent_ends(drawing, entry))


def _tube(drawing: Drawing, track: Track) -> list[XY]:
    start, end = drawing.frame.to_mm(track.start_cm), drawing.frame.to_mm(tunnel_end(track))
    side = _scaled(_normal(start, end), track.diameter_cm * drawing.frame.mm_per_cm / 2.0)
    return [_plus(start, side), _plus(end, side), _minus(end, side), _minus(start, side)]


def _beads(ends: Sequence[XY]) -> Iterator[Box]:
    for start, end in pairwise(ends):
        count = math.ceil(math.dist(start, end) / _BEAD_MM)
        for i in range(count):
            share = (i + 0.5) / count
            yield Box(start[0] + (end[0] - start[0]) * share, start[1] + (end[1] - start[1]) * share, 0.3, 0.3)


def _port_cm(drawing: Drawing, placed: Port) -> XY:
    return drawing.picture.sheet.point_at(placed.clock, placed.from_edge_cm)


def _label(drawing: Drawing, placed: Placed) -> str:
    box, inks = placed.box, drawing.inks
    # A patch of ground keeps letters readable where they cross lines or dots.
    patch = element(
        "rect",
        x=box.x_mm - box.half_width_mm * _PATCH,
        y=box.y_mm - box.half_height_mm,
        width=2.0 * box.half_width_mm * _PATCH,
        height=2.0 * box.half_height_mm,
        fill=inks.ground,
        fill_opacity=0.85,
    )
    weight = "bold" if placed.label.bold else "normal"
    letters = text_lines(placed.label.lines, (box.x_mm, box.y_mm), TEXT_MM, fill=inks.ink, font_weight=weight)
    if placed.step_mm == 0.0:
        return patch + letters
    return drawing.stroke(line_through([placed.label.at, (box.x_mm, box.y_mm)]), 0.25) + patch + letters


def _normal(start: XY, end: XY) -> XY:
    length = math.dist(start, end) or 1.0
    return (start[1] - end[1]) / length, (end[0] - start[0]) / length


def _scaled(step: XY, by: float) -> XY:
    return step[0] * by, step[1] * by


def _plus(point: XY, step: XY) -> XY:
    return point[0] + step[0], point[1] + step[1]


def _minus(point: XY, step: XY) -> XY:
    return point[0] - step[0], point[1] - step[1]
