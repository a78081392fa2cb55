"""A port as people place it: its tube's way out, what it must stay away from, and the foam under and over it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from soakline.fluid.posture import Posture
from soakline.layout.candidates import LAIN_ON_DEG, down_deg
from soakline.layout.ports import Port, in_tunnel, third_of
from soakline.units import show_number
from soakline.wound.body import BodyFrame
from soakline.wound.clock import angle_deg, say_clock
from soakline.wound.sheet import Sheet, Zone, bin_of, inner_reach_at

# A tube passes a structure to keep clear at no less than this.
_TUBE_CLEAR_CM = 0.5
# A piece of foam reaches half an hour to either side of its port.
_HALF_HOUR = 0.5
# Under an arc this short a piece of foam is measured as if flat.
_LEAST_CM = 1.0


@dataclass(frozen=True, slots=True)
class Placing:
    """How one port is placed, in words; ``outline`` are the foam's corners as (hour, cm from the edge)."""

    tube: str
    keeps_clear: str
    lying: str
    foam: str
    outline: tuple[tuple[float, float], ...]


def place_port(port: Port, sheet: Sheet, frame: BodyFrame, postures: Sequence[Posture]) -> Placing:
    """Return how a port is placed: lengths to half a centimetre, since no hand places a tube more closely."""
    outline = foam_outline(port, sheet)
    return Placing(
        say_tube(port, sheet),
        _say_clear(port, sheet),
        _say_lying(port, sheet, frame, postures),
        _say_foam(port, sheet, outline),
        outline,
    )


def foam_outline(port: Port, sheet: Sheet) -> tuple[tuple[float, float], ...]:
    """Return the corners, as (hour, cm from the edge), of the foam under and over a port: its zone, inside the pocket.

    Empty over the opening, where the foam of the opening lies, and in a tunnel, into which no foam is pushed blind
    (source key ``counting.tears_in_tunnels``).
    """
    third = third_of(port, sheet)
    if third is None:
        return ()
    hours = (port.clock - _HALF_HOUR, port.clock, port.clock + _HALF_HOUR)
    reach = [inner_reach_at(sheet, angle_deg(hour)) for hour in hours]
    # At the pocket's side the piece ends at the port's own hour.
    kept = [(hour, far) for hour, far in zip(hours, reach, strict=True) if far > 0.0]
    far_side = [(_on_clock(hour), _halves((third + 1) * far / 3.0)) for hour, far in kept]
    near_side = [(_on_clock(hour), _halves(third * far / 3.0)) for hour, far in reversed(kept)]
    return (*far_side, *near_side)


def foam_size_cm(port: Port, sheet: Sheet, outline: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """Return how far a piece of foam reaches outward and sideways of its port, in cm, to half a centimetre.

    ``outline`` are the corners of ``foam_outline``, at least one.
    """
    points = np.array([sheet.point_at(clock, cm) for clock, cm in outline])
    direction = math.radians(angle_deg(port.clock))
    ways = ((math.sin(direction), math.cos(direction)), (math.cos(direction), -math.sin(direction)))
    outward_cm, sideways_cm = (max(_halves(float(np.ptp(points @ way))), _LEAST_CM) for way in ways)
    return outward_cm, sideways_cm


def say_tube(port: Port, sheet: Sheet) -> str:
    """Write how a port's tube leaves the wound: through the opening, or by an exit of its own past a structure."""
    if port.from_edge_cm <= 0.0:
        return "straight up through the opening"
    length = _say_cm(port.from_edge_cm)
    crossed = [zone.what for zone in sheet.keep_clear if _passes(port, zone, sheet) < zone.radius_cm + _TUBE_CLEAR_CM]
    if not crossed:
        along = "through the tunnel and " if in_tunnel(port, sheet) else ""
        return f"{length} {along}under the skin, straight to the opening's edge at {say_clock(port.clock)}"
    skin = _skin_cm(port, sheet)
    through = f", about {_say_cm(skin)} of skin and fat" if skin else ""
    return (
        f"not straight to the opening: that would pass {', '.join(crossed)}; an exit of its own, up through the kept "
        f"skin over it{through}"
    )


def _skin_cm(port: Port, sheet: Sheet) -> float | None:
    at = bin_of(angle_deg(port.clock))
    heights = [s.height_cm for s in sheet.sectors if s.cover_share[at] >= 0.5 and s.height_cm is not None]
    return sheet.depth_cm - max(heights) if heights and sheet.depth_cm else None


def _passes(port: Port, zone: Zone, sheet: Sheet) -> float:
    """Return how near in cm the straight way from a port to the edge comes to a structure's middle."""
    start, end = np.array(sheet.point_at(port.clock, port.from_edge_cm)), np.array(sheet.point_at(port.clock, 0.0))
    along = end - start
    at = np.clip((np.array(zone.centre_cm) - start) @ along / max(float(along @ along), 1e-12), 0.0, 1.0)
    return float(np.hypot(*(start + at * along - zone.centre_cm)))


def _say_clear(port: Port, sheet: Sheet) -> str:
    u, v = sheet.point_at(port.clock, port.from_edge_cm)
    away = [(math.hypot(u - z.centre_cm[0], v - z.centre_cm[1]) - z.radius_cm, z.what) for z in sheet.keep_clear]
    return "; ".join(f"{what}: {_say_cm(cm, down=True)} away" for cm, what in sorted(away))


def _say_lying(port: Port, sheet: Sheet, frame: BodyFrame, postures: Sequence[Posture]) -> str:
    u, _ = sheet.point_at(port.clock, port.from_edge_cm)
    nearest = min(postures, key=lambda posture: down_deg(u, frame, posture), default=None)
    if nearest is None:
        return ""
    beyond = down_deg(u, frame, nearest) - LAIN_ON_DEG
    if beyond <= 0.0:
        return f"lain on when {nearest.name}"
    if frame.radius_cm is None:
        return "not lain on in the postures allowed"
    return f"{_say_cm(math.radians(beyond) * frame.radius_cm, down=True)} from where the patient lies ({nearest.name})"


def _say_foam(port: Port, sheet: Sheet, outline: Sequence[tuple[float, float]]) -> str:
    if not outline:
        return "no foam pushed into the tunnel" if in_tunnel(port, sheet) else "inside the foam of the opening"
    long, wide = foam_size_cm(port, sheet, outline)
    hours = sorted({clock for clock, _ in outline}, key=lambda clock: (clock - outline[0][0]) % 12.0)
    return (
        f"one piece under the port and one over it, each {show_number(long)} × {show_number(wide)} cm, from "
        f"{say_clock(hours[0])} to {say_clock(hours[-1])}"
    )


def _say_cm(length_cm: float, *, down: bool = False) -> str:
    halves = math.floor(2.0 * length_cm) / 2.0 if down else _halves(length_cm)
    return f"about {show_number(max(halves, 0.5))} cm" if halves >= 0.5 else "less than 0.5 cm"


def _halves(value_cm: float) -> float:
    return math.floor(2.0 * value_cm + 0.5) / 2.0


def _on_clock(hour: float) -> float:
    return hour % 12.0 or 12.0
