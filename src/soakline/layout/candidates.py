"""Places where a port may be tried: zones of the pocket, the opening and tunnels, and why other zones are left out."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from soakline.fluid.conduct import PORT_RADIUS_CM
from soakline.fluid.posture import Posture
from soakline.layout.ports import Port, say_zone
from soakline.wound.body import BodyFrame
from soakline.wound.clock import angle_deg
from soakline.wound.sheet import Sheet, edge_at, inner_reach_at, reach_at

# Skin that faces down this steeply carries the body (source key ``layout.lain_on``).
LAIN_ON_DEG = 25.0
# The middle third is where a port goes when the pocket is too short to tell thirds apart.
_THREE_ZONES_CM = 2.5
# An opening this wide has room for ports away from its middle.
_WIDE_CM = 3.0
_MIDDLE = Port("over the middle of the opening", "instillation", 12.0, 0.0)


@dataclass(frozen=True, slots=True)
class Excluded:
    """A zone in which no port is tried, and why, in words."""

    zone: str
    why: str


@dataclass(frozen=True, slots=True)
class Places:
    """All zones of a wound: ports to try, each named by its zone, and the zones left out; the first is the opening."""

    ports: tuple[Port, ...]
    excluded: tuple[Excluded, ...]

    @property
    def at_opening(self) -> Port | None:
        """The port over the middle of the opening; None where it is left out."""
        return next((port for port in self.ports if port.name == _MIDDLE.name), None)


def find_places(sheet: Sheet, frame: BodyFrame, postures: Sequence[Posture]) -> Places:
    """Return about 60 places at which a port can be tried, and why the other zones are left out.

    Hours and half hours by thirds of the reach (nearest the opening hours alone: they lie close together there), the
    middle of the opening and, in a wide one, around it, and the middle of each tunnel. A place is given to half a
    centimetre: no probe places a tube more closely. Left out are places that touch a structure to keep clear, places
    on which the patient lies in one of the ``postures``, and hours at which the pocket is too short for a port.
    """
    ports: list[Port] = []
    excluded: list[Excluded] = []
    for port in _zones(sheet):
        why = _why_not(port, sheet, frame, postures)
        if why:
            excluded.append(Excluded(port.name, why))
        else:
            ports.append(port)
    return Places(tuple(ports), (*excluded, *_no_pocket(sheet)))


def shown_ports(sheet: Sheet) -> tuple[Port, ...]:
    """Return ports to look at when none was given: over the opening, and deep where the pocket runs farthest."""
    at_opening = Port("at the opening", "instillation", 12.0, -edge_at(sheet, 0.0))
    reach = sheet.reach_cm
    if not reach.max() > 0.0:
        return (at_opening,)
    # The middle of the directions in which the pocket runs farthest.
    far = [k for k, r in enumerate(reach) if r >= reach.max() - 1e-9]
    middle = far[len(far) // 2]
    clock = round((middle + 0.5) / len(reach) * 24.0) / 2.0 or 12.0
    deep = Port("deep in the pocket", "instillation", clock, round(float(reach[middle]) * 5.0 / 6.0, 1))
    return at_opening, deep


def _zones(sheet: Sheet) -> Iterator[Port]:
    yield replace(_MIDDLE, from_edge_cm=-edge_at(sheet, 0.0))
    for hour in (12.0, 3.0, 6.0, 9.0):
        edge = edge_at(sheet, angle_deg(hour))
        if edge >= _WIDE_CM:
            yield _named(Port("", "instillation", hour, _halves(-edge / 2.0)), sheet)
    for half_hour in range(24):
        yield from _zones_at(half_hour / 2.0 or 12.0, sheet)
    for track in sheet.tunnels:
        from_edge = reach_at(sheet, track.direction_deg) + track.length_cm / 2.0
        yield _named(Port("", "instillation", track.clock, from_edge), sheet)


def _zones_at(clock: float, sheet: Sheet) -> Iterator[Port]:
    reach = inner_reach_at(sheet, angle_deg(clock))
    if reach <= 0.0:
        return
    shares = (1.0, 3.0, 5.0) if reach >= _THREE_ZONES_CM else (3.0,)
    for sixths in shares:
        # Half hours near the opening lie as close together as a tube is thick.
        if sixths > 1.0 or clock == int(clock):
            yield _named(Port("", "instillation", clock, _in_its_third(sixths * reach / 6.0, reach)), sheet)


def _in_its_third(from_edge_cm: float, reach_cm: float) -> float:
    """Return a depth to half a centimetre, unless that would lie in another third."""
    rounded = _halves(from_edge_cm)
    third = reach_cm / 3.0
    stays = 0.0 < rounded < reach_cm and int(rounded / third) == int(from_edge_cm / third)
    return rounded if stays else round(from_edge_cm, 1)


def _no_pocket(sheet: Sheet) -> Iterator[Excluded]:
    hours = [hour for hour in range(1, 13) if reach_at(sheet, angle_deg(hour)) <= 0.0]
    if hours and len(hours) < 12:
        yield Excluded(f"under the skin at {', '.join(map(str, hours))} o'clock", "no pocket there")
    elif hours:
        yield Excluded("under the skin", "no pocket at any hour")


def _why_not(port: Port, sheet: Sheet, frame: BodyFrame, postures: Sequence[Posture]) -> str:
    u, v = sheet.point_at(port.clock, port.from_edge_cm)
    reach = inner_reach_at(sheet, angle_deg(port.clock))
    if port.from_edge_cm > 0.0 and reach < PORT_RADIUS_CM:
        return f"the pocket runs {reach:.1f} cm there: smaller than the foam round a port"
    for zone in sheet.keep_clear:
        if math.hypot(u - zone.centre_cm[0], v - zone.centre_cm[1]) < zone.radius_cm + PORT_RADIUS_CM:
            return f"port or its foam would touch a structure to keep clear ({zone.what})"
    lain_on = [posture.name for posture in postures if down_deg(u, frame, posture) < LAIN_ON_DEG]
    return f"lain on when {' and when '.join(lain_on)}" if lain_on else ""


def down_deg(u_cm: float, frame: BodyFrame, posture: Posture) -> float:
    """Return how far in degrees the skin over a place ``u_cm`` along the sheet faces from straight down; 180 is up."""
    outward, _ = frame.axes(np.array([u_cm]))
    return math.degrees(math.acos(float(np.clip(-outward[0] @ posture.up(), -1.0, 1.0))))


def _named(port: Port, sheet: Sheet) -> Port:
    return replace(port, name=say_zone(port, sheet))


def _halves(value_cm: float) -> float:
    return math.copysign(math.floor(2.0 * abs(value_cm) + 0.5) / 2.0, value_cm)
