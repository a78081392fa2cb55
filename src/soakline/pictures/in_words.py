"""The wound map in words, for whoever cannot see it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from soakline.layout.ports import Port
from soakline.pictures.hours import HourState, hour_states
from soakline.pictures.orientation import sides_of, view_of
from soakline.pictures.soaked import Surface, shown_at
from soakline.units import Measured, Range, show_number
from soakline.workflows.answers import Picture
from soakline.workflows.day_answer import DayMap
from soakline.wound.body import side_words
from soakline.wound.clock import HOURS, clock_of, say_clock
from soakline.wound.measurements import KeepClear, Opening, Tunnel, Undermining, Wound
from soakline.wound.sheet import hours_of, hours_words


def describe_map(
    picture: Picture, wound: Wound, reach_index: int | DayMap | None, *, surface: Surface = "floor"
) -> str:
    """Return all that the map shows as one paragraph; ``reach_index`` counts in ``picture.maps``."""
    sides = sides_of(wound.face, wound.part)
    said = [
        f"View: {view_of(wound.face, wound.part, wound.limb_side)}.",
        f"12 o'clock is {sides.twelve}, 3 o'clock is {sides.three}, 9 o'clock is {sides.nine}.",
        _say_opening(wound.opening),
        *_say_pocket(wound),
        *_say_hours(hour_states(wound)),
        *map(_say_tunnel, wound.tunnel),
        *map(_say_structure, wound.keep_clear),
        *map(_say_port, picture.ports),
    ]
    if reach_index is not None:
        _, areas = shown_at(picture, reach_index, surface)
        second = f"; hatched as {areas.second_says}" if areas.second.any() else ""
        said.append(f"Drawn: {say_reach_shown(picture, reach_index, surface)}; dotted as {areas.soaked_says}{second}.")
    return " ".join(said)


def say_reach_shown(picture: Picture, reach_index: int | DayMap, surface: Surface) -> str:
    """Write which reach is drawn: surface, volume, port, posture and model, or that it is a day's."""
    if isinstance(reach_index, DayMap):
        return f"{surface}: a whole day of fills, exploratory"
    shown = picture.maps[reach_index]
    return f"{surface}: {show_number(shown.fill_ml)} mL from {shown.port}, {shown.posture}, {shown.model} model"


def say_pockets(wound: Wound) -> str:
    """Write at which hours and on which side of the patient the pockets lie; empty where none was found.

    >>> say_pockets(Wound("front", "trunk", Opening(), undermining=(Undermining(from_clock=12, to_clock=6),)))
    "Pocket from 12 to 6 o'clock, on the PATIENT'S LEFT."
    """
    if wound.pocket is not None:
        return "Pocket as marked on the skin."
    said = [f"{hours_words(entry)}, {_say_side(wound, entry)}" for entry in wound.undermining]
    return f"{'Pocket' if len(said) == 1 else 'Pockets'} {'; '.join(said)}." if said else ""


def say_length(value: Measured) -> str:
    """Write a length in cm with its range, or that nobody measured it.

    >>> say_length(4.0), say_length(Range(3, 4, 5.5)), say_length(None)
    ('4 cm', '4 cm (3–5.5)', 'not measured')
    """
    if value is None:
        return "not measured"
    if isinstance(value, Range):
        spread = f" ({show_number(value.low)}–{show_number(value.high)})" if value.low < value.high else ""
        return f"{show_number(value.likely)} cm{spread}"
    return f"{show_number(value)} cm"


def _say_opening(opening: Opening) -> str:
    depth = f"depth {say_length(opening.depth_cm)}"
    if opening.outline_cm is not None:
        return f"Opening as traced, {depth}."
    return f"Opening {say_length(opening.length_cm)} along 12–6, {say_length(opening.width_cm)} along 9–3, {depth}."


def _say_pocket(wound: Wound) -> Iterator[str]:
    if wound.pocket is not None:
        yield f"Pocket's edge as marked on the skin, pocket height {say_length(wound.pocket.height_cm)}."
    for entry in wound.undermining:
        yield f"Pocket {_say_hours_of(entry)}, {_say_reach(entry)}, {_say_side(wound, entry)}."


def _say_hours_of(entry: Undermining) -> str:
    start_deg, wide_deg = hours_of(entry)
    if wide_deg >= 360.0:
        return "all round"
    if entry.clock is not None:
        return f"at {say_clock(entry.clock)}"
    start, end = (say_clock(clock_of(deg)) for deg in (start_deg, start_deg + wide_deg))
    middle = say_clock(clock_of(30.0 * round((start_deg + wide_deg / 2.0) / 30.0)))
    return f"from {start} through {middle} to {end}" if wide_deg > 60.0 else f"from {start} to {end}"


def _say_reach(entry: Undermining) -> str:
    basis = "" if entry.basis == "measured" else f", {entry.basis}"
    ends = ", tapering to both ends" if entry.ends == "taper" else ""
    if entry.reach_cm is None:
        return "how far beyond the edge not measured"
    return f"{say_length(entry.reach_cm)} beyond the edge{ends}{basis}, pocket height {say_length(entry.height_cm)}"


def _say_side(wound: Wound, entry: Undermining) -> str:
    start_deg, wide_deg = hours_of(entry)
    if wide_deg >= 360.0:
        return "to every side"
    side = side_words(wound, start_deg + wide_deg / 2.0)
    return f"on the {side}" if side.startswith("PATIENT") else side


def _say_hours(states: dict[int, HourState]) -> Iterator[str]:
    for state, words in (("none found", "Probed, none found"), ("not probed", "Not probed")):
        hours = [hour for hour in HOURS if states[hour] == state]
        if hours:
            yield f"{words}: {_list(hours)} o'clock."


def _say_tunnel(tunnel: Tunnel) -> str:
    down = f", {show_number(tunnel.down_deg)}° below the skin's plane" if tunnel.down_deg else ""
    end = {True: "end felt", False: "end NOT felt", None: "whether the end was felt is not noted"}[tunnel.end_felt]
    return (
        f"Tunnel at {say_clock(tunnel.clock)}: length {say_length(tunnel.length_cm)}, "
        f"diameter {say_length(tunnel.diameter_cm)}{down}, {end}."
    )


def _say_structure(structure: KeepClear) -> str:
    return (
        f"Keep clear: {structure.what}, at {say_clock(structure.clock)}, {show_number(structure.from_edge_cm)} cm "
        f"from the edge, radius {show_number(structure.radius_cm)} cm."
    )


def _say_port(port: Port) -> str:
    unit = f", unit {port.unit}" if port.unit else ""
    return f"{port.kind.capitalize()} port {port.name}{unit} at {say_clock(port.clock)}, {_say_from_edge(port)}."


def _say_from_edge(port: Port) -> str:
    if port.from_edge_cm == 0.0:
        return "at the edge"
    where = "into the pocket" if port.from_edge_cm > 0.0 else "inside the edge, over the opening"
    return f"{show_number(abs(port.from_edge_cm))} cm {where}"


def _list(hours: Sequence[int]) -> str:
    return ", ".join(map(str, hours))
