"""Ports as people place them: an hour, and so far from the edge into the pocket."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from soakline.errors import Finding
from soakline.units import show_number
from soakline.wound.cavity import Cavity
from soakline.wound.clock import angle_deg, say_clock
from soakline.wound.sheet import Sheet, Track, edge_at, inner_reach_at, reach_at

_THIRDS = ("nearest third", "middle third", "deepest third")
# A port this far towards the opening's centre has no hour.
_NEAR_MIDDLE_SHARE = 0.75


@dataclass(frozen=True, slots=True)
class Port:
    """One port: ``from_edge_cm`` into the pocket at ``clock``; 0 is the edge, negative lies over the opening.

    ``unit`` is the letter of the therapy unit that it belongs to.
    """

    name: str
    kind: Literal["instillation", "suction"]
    clock: float
    from_edge_cm: float
    unit: str | None = None


def check_ports(ports: Sequence[Port], sheet: Sheet) -> list[Finding]:
    """Return what stands against where the ports lie: outside the wound, or in a structure to keep clear."""
    return [found for number, port in enumerate(ports) for found in _check_place(f"port.{number}", port, sheet)]


def check_units(ports: Sequence[Port], units: Sequence[str]) -> list[Finding]:
    """Return what stands against how ports and therapy units (by name) go together: one instillation port a unit."""
    findings: list[Finding] = []
    held: dict[str, str] = {}
    for number, port in enumerate(ports):
        where = f"port.{number}.unit"
        if port.unit is None:
            findings.append(Finding("warn", where, f"port {port.name} has no therapy unit: write the unit's name"))
        elif units and port.unit not in units:
            named = ", ".join(units)
            says = f'port {port.name} is on unit "{port.unit}", which is not in the file; units are {named}'
            findings.append(Finding("refuse", where, says))
        elif port.kind == "instillation" and port.unit in held:
            says = (
                f"ports {held[port.unit]} and {port.name} are both instillation ports on unit {port.unit}: each "
                "instillation port needs a therapy unit of its own"
            )
            findings.append(Finding("refuse", where, says))
        elif port.kind == "instillation":
            held[port.unit] = port.name
    for number, name in enumerate(units):
        if ports and name not in held:
            says = f"unit {name} has no instillation port in the file: its fill is not placed in the wound"
            findings.append(Finding("warn", f"unit.{number}.name", says))
    return findings


def column_of(port: Port, sheet: Sheet, cavity: Cavity) -> int:
    """Return the column of the cavity in which a port lies; a port beyond the pocket lies in the tunnel at its hour."""
    track = _tunnel_under(port, sheet)
    if track is not None:
        reach = reach_at(sheet, angle_deg(port.clock))
        before = sum(_pieces(t, cavity) for t in sheet.tunnels[: sheet.tunnels.index(track)])
        along = (port.from_edge_cm - reach) / track.length_cm
        return cavity.grid_count + before + min(int(along * _pieces(track, cavity)), _pieces(track, cavity) - 1)
    u, v = sheet.point_at(port.clock, port.from_edge_cm)
    return cavity.nearest(u, v, in_opening=port.from_edge_cm <= 0.0)


def say_zone(port: Port, sheet: Sheet) -> str:
    """Say where a port lies as a zone: its hour and the third of the pocket's depth, never a coordinate."""
    if in_tunnel(port, sheet):
        return f"{say_clock(port.clock)}, in the tunnel"
    third = third_of(port, sheet)
    if third is not None:
        return f"{say_clock(port.clock)}, {_THIRDS[third]}"
    if port.from_edge_cm <= _NEAR_MIDDLE_SHARE * -edge_at(sheet, angle_deg(port.clock)):
        return "over the middle of the opening"
    return f"over the opening, at {say_clock(port.clock)}"


def third_of(port: Port, sheet: Sheet) -> int | None:
    """Return the third of the pocket's reach in which a port lies, by index; None over the opening or in a tunnel."""
    direction = angle_deg(port.clock)
    reach = inner_reach_at(sheet, direction) or reach_at(sheet, direction)
    if port.from_edge_cm <= 0.0 or reach <= 0.0 or in_tunnel(port, sheet):
        return None
    return min(int(3.0 * port.from_edge_cm / reach), 2)


def in_tunnel(port: Port, sheet: Sheet) -> bool:
    """Say whether a port lies in a tunnel."""
    return _tunnel_under(port, sheet) is not None


def _check_place(where: str, port: Port, sheet: Sheet) -> list[Finding]:
    key = f"{where}.from_edge_cm"
    direction = angle_deg(port.clock)
    edge, reach = edge_at(sheet, direction), reach_at(sheet, direction)
    given = f"port {port.name} at {say_clock(port.clock)}, {show_number(port.from_edge_cm)} cm from the edge"
    if port.from_edge_cm < -edge - 1e-9:
        says = f"{given}: past the opening's centre; down to {show_number(-edge)} lies over the opening at this hour"
        return [Finding("refuse", key, says)]
    if port.from_edge_cm > reach + 1e-9 and _tunnel_under(port, sheet) is None:
        room = (
            f"the pocket ends {show_number(reach)} cm from the edge there"
            if reach > 0.0
            else "there is no pocket there"
        )
        return [Finding("refuse", key, f"{given}: {room}; move the port or correct the undermining")]
    u, v = sheet.point_at(port.clock, port.from_edge_cm)
    return [
        Finding("refuse", key, f"{given}: lies in a structure to keep clear ({zone.what}); move the port")
        for zone in sheet.keep_clear
        if math.hypot(u - zone.centre_cm[0], v - zone.centre_cm[1]) < zone.radius_cm
    ]


def _tunnel_under(port: Port, sheet: Sheet) -> Track | None:
    if not sheet.tunnels:
        return None
    reach = reach_at(sheet, angle_deg(port.clock))
    beyond = port.from_edge_cm - reach
    same_hour = (track for track in sheet.tunnels if track.clock == port.clock)
    return next((track for track in same_hour if 0.0 < beyond <= track.length_cm), None)


def _pieces(track: Track, cavity: Cavity) -> int:
    return max(1, math.ceil(track.length_cm / cavity.spacing_cm))
