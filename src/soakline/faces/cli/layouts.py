"""Layouts on the terminal: a table, a small map with their letters, and each as people place it."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

import numpy as np
from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from soakline.units import show_number
from soakline.workflows.answers import Picture
from soakline.workflows.in_words import as_sentence, say_gain, say_layout_name, say_takes, say_worst
from soakline.workflows.layout_answers import LayoutAnswer, PortAnswer, SearchAnswer
from soakline.wound.clock import HOURS, angle_deg, unit_vector
from soakline.wound.sheet import Sheet, edge_at, reach_at

# A character is about twice as high as wide; the map is so many characters wide at most.
_MAP_WIDTH, _HIGH_TO_WIDE = 53, 2.0


def say_layouts(
    console: Console, layouts: Sequence[LayoutAnswer], search: SearchAnswer, picture: Picture | None
) -> None:
    """Print the layouts: what each reaches in all but the worst tenth of wounds, where it lies, how it compares."""
    console.print()
    console.print(Text("LAYOUTS: WHERE PORTS GO", style="bold"))
    _line(
        console,
        f"{search.place_count} places searched over {search.wound_count} plausible wounds. Shares of floor and roof "
        "reached in all but the worst tenth of them; gain over the rule of thumb in points, middle wound (5–95 %).",
    )
    console.print(Padding(_table(layouts), (0, 0, 1, 2)))
    if picture is not None:
        for row in map_rows(picture.sheet, layouts):
            console.print(Text(f"    {row}"))
        _line(console, "map: + opening's edge, · pocket, # keep clear, letters: instillation ports of the layouts")
    for layout in layouts:
        _say_layout(console, layout)
    for left_out in search.left_out:
        _line(console, f"Not searched: {_say_zones(left_out.zones)}: {left_out.why}.")
    for said in search.says:
        _line(console, as_sentence(said))


def map_rows(sheet: Sheet, layouts: Sequence[LayoutAnswer]) -> list[str]:
    """Return the wound as lines of characters, hours round it, a layout's letter where its instillation ports lie."""
    outer = sheet.edge_cm + sheet.reach_cm
    half_cm = float(outer.max()) * 1.25
    columns = _MAP_WIDTH
    rows = int(columns / _HIGH_TO_WIDE)
    signs = np.full((rows, columns), " ", dtype=object)
    for row in range(rows):
        for column in range(columns):
            u = (column / (columns - 1) * 2.0 - 1.0) * half_cm
            v = (1.0 - row / (rows - 1) * 2.0) * half_cm
            signs[row, column] = _sign_at(sheet, u, v)

    def write(u: float, v: float, text: str) -> None:
        row = round((1.0 - v / half_cm) / 2.0 * (rows - 1))
        column = round((u / half_cm + 1.0) / 2.0 * (columns - 1)) - (len(text) - 1) // 2
        for place, letter in enumerate(text):
            if 0 <= row < rows and 0 <= column + place < columns:
                signs[row, column + place] = letter

    for hour in HOURS:
        towards_u, towards_v = unit_vector(angle_deg(hour))
        far = min(half_cm / max(abs(towards_u), abs(towards_v)), half_cm * 1.05)
        write(far * towards_u, far * towards_v, str(hour))
    for (u, v), letters in _letters(sheet, layouts).items():
        write(u, v, letters)
    return [str("".join(line)).rstrip() for line in signs]


def _letters(sheet: Sheet, layouts: Sequence[LayoutAnswer]) -> dict[tuple[float, float], str]:
    found: dict[tuple[float, float], str] = {}
    for layout in layouts:
        for port in layout.ports:
            if port.kind == "instillation":
                at = sheet.point_at(port.clock, port.from_edge_cm)
                found[at] = found.get(at, "") + layout.letter
    return found


def _sign_at(sheet: Sheet, u: float, v: float) -> str:
    for zone in sheet.keep_clear:
        if math.hypot(u - zone.centre_cm[0], v - zone.centre_cm[1]) < zone.radius_cm:
            return "#"
    direction, far = math.degrees(math.atan2(u, v)), math.hypot(u, v)
    beyond = far - edge_at(sheet, direction)
    step = float((sheet.edge_cm + sheet.reach_cm).max()) * 2.5 / _MAP_WIDTH
    if -step <= beyond < 0.0:
        return "+"
    return "·" if 0.0 <= beyond <= reach_at(sheet, direction) else " "


def _table(layouts: Sequence[LayoutAnswer]) -> Table:
    table = Table(box=SIMPLE_HEAD, show_edge=False, pad_edge=False, header_style="")
    for name in ("", "What it is, and where", "Units", "Floor wets/soaks", "Roof wets/soaks", "Gain: wets, soaks"):
        table.add_column(name)
    for layout in layouts:
        gain = layout.gain_over_rule
        table.add_row(
            layout.letter,
            f"{say_layout_name(layout)}\n{layout.zone}",
            str(layout.units_needed),
            " / ".join(say_worst(layout.worst_tenth)),
            " / ".join(say_worst(layout.roof_worst_tenth)),
            f"{say_gain(gain.wetted)}\n{say_gain(gain.soaked)}" if gain else "",
        )
    return table


def _say_layout(console: Console, layout: LayoutAnswer) -> None:
    _line(console, f"{layout.letter}  {layout.says} {as_sentence(say_takes(layout))}")
    if layout.supplies is not None:
        for line in (layout.supplies.says, *layout.supplies.kits):
            console.print(Padding(Text(as_sentence(line)), (0, 0, 0, 5)))
    for port in layout.ports:
        console.print(Padding(Text("; ".join(_say_port(port)) + "."), (0, 0, 0, 5)))
    if layout.passed_over is not None:
        passed = show_number(100.0 * layout.passed_over, 0)
        words = f"Flow from instillation to suction ports leaves out {passed} % of the bed (exploratory)."
        console.print(Padding(Text(words), (0, 0, 0, 5)))


def _say_port(port: PortAnswer) -> Iterable[str]:
    fill = f", {port.fill_ml:g} mL" if port.fill_ml is not None else ""
    unit = f", unit {port.unit}" if port.unit else ""
    yield f"{port.name} ({port.kind}{unit}{fill}): {port.zone}"
    yield f"tube {port.tube}"
    yield from filter(None, (port.keeps_clear, port.lying, f"foam: {port.foam}"))


def _say_zones(zones: Sequence[str]) -> str:
    shown = ", ".join(zones[:3])
    return f"{shown} and {len(zones) - 3} more" if len(zones) > 3 else shown


def _line(console: Console, text: str) -> None:
    console.print(Padding(Text(text), (0, 0, 0, 2)))
