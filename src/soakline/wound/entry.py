"""What can be said against a wound as entered: against the body it lies on, and of each measure against the others.

Bounds here are bounds of entry: beyond them a number is taken for a slip of the pen. They are no clinical limits.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from itertools import combinations

import numpy as np
from numpy import float64
from numpy.typing import NDArray

from soakline.errors import Finding
from soakline.units import Measured, Range, as_range, likely, show_number
from soakline.wound.clock import say_clock, span_deg, unit_vector
from soakline.wound.hours import hours_not_probed, place_of, say_hours, start_and_hours
from soakline.wound.measurements import (
    Assumptions,
    KeepClear,
    Opening,
    Outline,
    Part,
    Pocket,
    Tunnel,
    Undermining,
    Wound,
)
from soakline.wound.outline import LEAST_CM2, are_inside, area_cm2, centre_cm, crosses_itself, ring_of

LONGEST_CM: dict[Part, float] = {"trunk": 80, "thigh": 60, "lower leg": 50, "upper arm": 45, "forearm": 40}
DEEPEST_CM: dict[Part, float] = {"trunk": 25, "thigh": 15, "lower leg": 10, "upper arm": 10, "forearm": 8}
GIRTH_CM: dict[Part, tuple[float, float]] = {
    "trunk": (30, 250),
    "thigh": (20, 130),
    "lower leg": (12, 90),
    "upper arm": (10, 90),
    "forearm": (8, 60),
}
WIDEST_TUNNEL_CM = 10.0
_NARROW_TUNNEL_CM = 3.0
_WIDEST_STRUCTURE_CM = 20.0
_ENTRY = "a bound of entry, not a clinical limit"
_ModelBounds = tuple[tuple[str, float | Range, float, float, str], ...]


def check_wound(wound: Wound, assumptions: Assumptions, confirmed: frozenset[str]) -> list[Finding]:
    """Return all that can be said against a wound as entered, keyed ``wound.…`` or ``model.…``; never raises.

    An "ask" whose key is in ``confirmed`` comes back as a note. Source keys ``measuring.clock``,
    ``measuring.undermining``, ``measuring.handedness``.

    >>> wound = Wound("front", "trunk", Opening(6, 6, 2), girth_cm=96, undermining=(Undermining(12, 6, reach_cm=65),))
    >>> [f.says for f in check_wound(wound, Assumptions(), frozenset()) if f.level == "refuse"]
    ['65 cm is larger than half the girth (48 cm); measure again']
    """
    found = [
        *_on_the_body(wound, assumptions),
        *_opening(wound),
        *_underminings(wound),
        *_hours(wound),
        *_pocket(wound),
        *(f for i, tunnel in enumerate(wound.tunnel) for f in _tunnel(f"wound.tunnel.{i}", tunnel, wound)),
        *(f for i, thing in enumerate(wound.keep_clear) for f in _keep_clear(f"wound.keep_clear.{i}", thing)),
        *_model(assumptions),
    ]
    return with_answers(found, confirmed)


def with_answers(findings: Iterable[Finding], confirmed: frozenset[str]) -> list[Finding]:
    """Return the findings with each "ask" that a person has answered turned into a note that leaves the question out.

    >>> with_answers([Finding("ask", "unit.0.fill_ml", "20 of 60 mL: who agreed?")], frozenset({"unit.0.fill_ml"}))
    [Finding(level='note', where='unit.0.fill_ml', says='confirmed: 20 of 60 mL')]
    """
    return [
        Finding("note", f.where, f"confirmed: {_statement(f.says)}") if f.level == "ask" and f.where in confirmed else f
        for f in findings
    ]


def _statement(says: str) -> str:
    before, mark, _ = says.partition("?")
    return before.rsplit(": ", 1)[0] if mark else says


def clock_refusal(clock: float) -> str | None:
    """Return in words why an hour is not on the clock, or None when it is: 1–12, halves allowed.

    Source key ``measuring.clock``.

    >>> clock_refusal(13)
    '13 is not on the clock: clock positions are 1–12; write the hour as seen with 12 towards the head (limb: proximal)'
    """
    if clock == 0:
        return "0 is not on the clock: clock positions are 1–12; 12? Then write 12"
    if not 1 <= clock < 13:
        given = show_number(clock, 2)
        return (
            f"{given} is not on the clock: clock positions are 1–12; "
            "write the hour as seen with 12 towards the head (limb: proximal)"
        )
    if clock * 2 != math.floor(clock * 2):
        given = show_number(clock, 3)
        return f"{given} is not on the clock: clock positions are 1–12, whole or half hours; write the nearest"
    return None


def _on_the_body(wound: Wound, assumptions: Assumptions) -> Iterator[Finding]:
    if wound.part != "trunk" and wound.limb_side is None:
        yield Finding("ask", "wound.limb_side", f"its side is not told: which {wound.part}? Write left or right")
    if wound.part == "trunk" and wound.limb_side is not None:
        yield Finding("warn", "wound.limb_side", "is for limbs only; it is not used on the trunk")
    yield from _girth(wound, assumptions)
    yield from _offset(wound)


def _girth(wound: Wound, assumptions: Assumptions) -> Iterator[Finding]:
    low, high = GIRTH_CM[wound.part]
    if wound.girth_cm is None:
        if assumptions.curvature == "girth":
            says = (
                f"not measured: areas and volumes only, no reach; "
                f"measure the girth of the {wound.part} at the level of the opening"
            )
            yield Finding("warn", "wound.girth_cm", says)
    elif not low <= wound.girth_cm <= high:
        given = show_number(wound.girth_cm)
        says = f"{given} cm is not the girth of a {wound.part}: {low:g} to {high:g} cm ({_ENTRY}); write it in cm"
        yield Finding("refuse", "wound.girth_cm", says)


def _offset(wound: Wound) -> Iterator[Finding]:
    away, where = abs(wound.midline_offset_cm), "wound.midline_offset_cm"
    half_cm = wound.girth_cm / 2 if wound.girth_cm else LONGEST_CM[wound.part]
    if away > half_cm:
        most = f"at most {show_number(half_cm)} cm ({_ENTRY})"
        says = f"{show_number(away)} cm from {_middle(wound)} is beyond the body: {most}; measure it again"
        yield Finding("refuse", where, says)
    elif wound.girth_cm and away > wound.girth_cm / 4:
        side = f"{show_number(away)} cm from {_middle(wound)} lies past the {_side_line(wound)}"
        yield _ask(where, side, f"is {wound.face} the face that the opening faces")


def _opening(wound: Wound) -> Iterator[Finding]:
    opening, where = wound.opening, "wound.opening"
    longest = LONGEST_CM[wound.part]
    if opening.outline_cm is not None:
        if opening.length_cm is not None or opening.width_cm is not None:
            says = "a traced edge stands beside length or width; keep the one that was measured and delete the other"
            yield Finding("refuse", f"{where}.outline_cm", says)
        yield from _outline(f"{where}.outline_cm", opening.outline_cm, longest)
    else:
        yield from _side(f"{where}.length_cm", "length", opening.length_cm, longest, wound)
        yield from _side(f"{where}.width_cm", "width", opening.width_cm, longest, wound)
        yield from _around(wound)
    yield from _depth(wound)
    if opening.bed == "bowl" and (wound.undermining or wound.pocket):
        says = (
            "a bowl has no undermining: the pocket's floor continues a flat bed; write flat, or remove the undermining"
        )
        yield Finding("refuse", f"{where}.bed", says)


def _side(where: str, name: str, value: Measured, longest_cm: float, wound: Wound) -> Iterator[Finding]:
    if value is None:
        yield Finding("warn", where, f"not measured: no area and no volume; measure the {name} of the opening")
    yield from _size(where, value, longest_cm, wound.part)


def _around(wound: Wound) -> Iterator[Finding]:
    width = wound.opening.width_cm
    if width is None or not wound.girth_cm or likely(width) <= wound.girth_cm / 2:
        return
    given = f"width {show_number(likely(width))} cm of a girth of {show_number(wound.girth_cm)} cm"
    if likely(width) > wound.girth_cm:
        yield Finding(
            "refuse", "wound.opening.width_cm", f"{given}: wider than the {wound.part} is round; measure again"
        )
    else:
        yield _ask("wound.opening.width_cm", given, f"does it pass both sides of the {wound.part}")


def _depth(wound: Wound) -> Iterator[Finding]:
    where, depth = "wound.opening.depth_cm", wound.opening.depth_cm
    if depth is None:
        yield Finding(
            "warn", where, "not measured: no volume (not the same as 0); measure from the skin straight to the bed"
        )
        return
    if likely(depth) == 0 and (wound.undermining or wound.pocket):
        says = (
            "depth 0 contradicts undermining: the bed must lie below the kept skin; "
            "write the depth from skin to bed, or leave it out when it was not measured"
        )
        yield Finding("refuse", where, says)
        return
    yield from _size(where, depth, DEEPEST_CM[wound.part], wound.part)
    if wound.girth_cm and likely(depth) >= wound.girth_cm / (2 * math.pi):
        says = f"{show_number(likely(depth))} cm reaches the middle of a {wound.part} of that girth"
        yield Finding("refuse", where, f"{says}; measure depth and girth again")


def _underminings(wound: Wound) -> Iterator[Finding]:
    for i, undermining in enumerate(wound.undermining):
        where = f"wound.undermining.{i}"
        yield from _range_of_hours(where, undermining, wound)
        yield from _reach(where, undermining, wound)
        yield from _height(f"{where}.height_cm", undermining.height_cm, say_hours(undermining), wound)
    yield from _overlaps(wound)


def _range_of_hours(where: str, undermining: Undermining, wound: Wound) -> Iterator[Finding]:
    first, last = undermining.from_clock, undermining.to_clock
    if (undermining.clock is None) == (first is None and last is None) or (first is None) != (last is None):
        yield Finding("refuse", where, "give either clock for one hour, or both from and to for a range")
        return
    if first is None or last is None or first == last:
        return
    degrees = span_deg(first, last)
    through_12 = (12 - first) % 12 + (last % 12) == degrees / 30 and first != 12 and last != 12
    if not through_12 and degrees <= 180:
        return
    head, feet = ("head", "feet") if wound.part == "trunk" else ("proximal", "distal")
    place = f"12 ({head})" if through_12 else f"6 ({feet})"
    other = f"{say_clock(last)} to {say_clock(first)} would be {360 - degrees:g}°"
    yield Finding("note", f"{where}.from", f"runs through {place}, {degrees:g}°; {other}")


def _reach(where: str, undermining: Undermining, wound: Wound) -> Iterator[Finding]:
    reach, key = undermining.reach_cm, f"{where}.reach_cm"
    hours = say_hours(undermining)
    if reach is None:
        yield Finding("warn", key, f"not measured: no volume; measure the reach at {hours} from the wound edge first")
        return
    if likely(reach) == 0:
        says = f"0 at {hours}: an hour without undermining belongs in wound.probed.none_found"
        yield Finding("refuse", key, says)
        return
    half_cm = wound.girth_cm / 2 if wound.girth_cm else math.inf
    if likely(reach) > half_cm:
        says = (
            f"{show_number(likely(reach))} cm is larger than half the girth ({show_number(half_cm)} cm); measure again"
        )
        yield Finding("refuse", key, says)
        return
    if as_range(reach).high > half_cm:
        yield _ask(key, f"its high end is larger than half the girth ({show_number(half_cm)} cm)", "can it be so")
    yield from _size(key, reach, LONGEST_CM[wound.part], wound.part)
    yield from _past_the_side(key, undermining, wound)


def _past_the_side(where: str, undermining: Undermining, wound: Wound) -> Iterator[Finding]:
    edge = _edge(wound.opening)
    if edge is None or wound.girth_cm is None:
        return
    farthest_cm = max((_across(undermining, clock, edge, wound.midline_offset_cm) for clock in _quarters()), key=abs)
    if abs(farthest_cm) <= wound.girth_cm / 4:
        return
    toward = say_clock(3 if farthest_cm > 0 else 9)
    given = show_number(likely(undermining.reach_cm or 0.0))
    says = (
        f"{given} cm from the edge ends {show_number(abs(farthest_cm))} cm from {_middle(wound)} towards {toward}, "
        f"past the {_side_line(wound)}"
    )
    yield _ask(where, says, "does the pocket go that far round")


def _across(undermining: Undermining, clock: float, edge: NDArray[float64], offset_cm: float) -> float:
    """Return how far across the body, in cm from the midline, the pocket ends in the direction of an hour."""
    reach_cm = _reach_at(undermining, clock)
    if reach_cm <= 0:
        return 0.0
    toward = np.array(unit_vector(clock * 30))
    return offset_cm + float(toward[0]) * (_radius_cm(edge, toward) + reach_cm)


def _reach_at(undermining: Undermining, clock: float) -> float:
    reach_cm = likely(undermining.reach_cm or 0.0)
    first, hours = start_and_hours(undermining)
    along = (clock - first) % 12
    if hours == 0 or along > hours:
        return 0.0
    return reach_cm if undermining.ends == "full" else reach_cm * (1 - abs(2 * along / hours - 1))


def _height(where: str, height: Measured, hours: str, wound: Wound) -> Iterator[Finding]:
    depth = wound.opening.depth_cm
    if height is None:
        yield Finding("warn", where, f"not measured: no fill volume; measure the pocket height at {hours} first")
        return
    yield from _size(where, height, DEEPEST_CM[wound.part], wound.part)
    if depth is None or likely(depth) <= 0:
        return
    depth_cm = likely(depth)
    if likely(height) >= depth_cm:
        says = (
            f"pocket height {show_number(likely(height))} cm is not below the depth of {show_number(depth_cm)} cm: "
            "no kept skin would be left over it; measure both again"
        )
        yield Finding("refuse", where, says)


def _overlaps(wound: Wound) -> Iterator[Finding]:
    for (i, one), (j, other) in combinations(enumerate(wound.undermining), 2):
        if any(place_of(one, clock) == "inside" == place_of(other, clock) for clock in _between_halves()):
            says = (
                f"{say_hours(other)} overlaps {say_hours(one)} (wound.undermining.{i}); where both hold, "
                "the farther reach and the higher pocket height are taken"
            )
            yield Finding("warn", f"wound.undermining.{j}", says)


def _hours(wound: Wound) -> Iterator[Finding]:
    where = "wound.probed.none_found"
    if wound.pocket is not None:
        return
    if not wound.undermining and not wound.none_found:
        says = 'no hour was probed: "none found" is not "not measured"; probe each hour from the wound edge'
        yield Finding("warn", where, says)
        return
    yield from _contradictions(where, wound)
    unprobed = hours_not_probed(wound)
    if unprobed:
        hours = ", ".join(map(str, unprobed))
        says = f"not probed: {hours} o'clock: worked out as without undermining, may be larger: probe there"
        yield Finding("warn", where, says)


def _contradictions(where: str, wound: Wound) -> Iterator[Finding]:
    """Refuse an hour that lies inside undermining; ask about an hour at its very end, where 0 and the reach meet."""
    for clock in dict.fromkeys(wound.none_found):
        for i, undermining in enumerate(wound.undermining):
            place, key = place_of(undermining, clock), f"wound.undermining.{i}"
            if place == "inside":
                says = (
                    f"{say_clock(clock)} stands here and inside {key} ({say_hours(undermining)}): a contradiction; "
                    "probe that hour again and correct one of them"
                )
                yield Finding("refuse", where, says)
            elif place == "end" and undermining.ends == "full" and undermining.clock is None:
                says = f"{say_clock(clock)} stands here and is where {key} ends with its full reach"
                yield _ask(where, says, "is nothing found there")


def _pocket(wound: Wound) -> Iterator[Finding]:
    pocket, where = wound.pocket, "wound.pocket.outline_cm"
    if pocket is None:
        return
    if wound.undermining:
        says = (
            "a pocket marked on the skin stands beside undermining; keep the one that was measured and delete the other"
        )
        yield Finding("refuse", "wound.pocket", says)
    faults = [*_outline(where, pocket.outline_cm, LONGEST_CM[wound.part])]
    yield from faults
    yield from _height("wound.pocket.height_cm", pocket.height_cm, "each hour", wound)
    edge = _edge(wound.opening)
    if faults or edge is None:
        return
    if not are_inside(edge + _centre_cm(wound.opening), np.array(pocket.outline_cm)).any():
        says = "holds no part of the opening's edge: the pocket begins there; mark both in the same frame, in cm"
        yield Finding("refuse", where, says)
    yield from _pocket_past_the_side(where, pocket, wound)


def _pocket_past_the_side(where: str, pocket: Pocket, wound: Wound) -> Iterator[Finding]:
    if wound.girth_cm is None:
        return
    from_centre_cm = _centre_cm(wound.opening)[0]
    farthest_cm = max((x - from_centre_cm + wound.midline_offset_cm for x, _ in pocket.outline_cm), key=abs)
    if abs(farthest_cm) > wound.girth_cm / 4:
        toward = say_clock(3 if farthest_cm > 0 else 9)
        ends = f"ends {show_number(abs(farthest_cm))} cm from {_middle(wound)} towards {toward}"
        says = f"{ends}, past the {_side_line(wound)}"
        yield _ask(where, says, "does the pocket go that far round")


def _tunnel(where: str, tunnel: Tunnel, wound: Wound) -> Iterator[Finding]:
    hour = say_clock(tunnel.clock)
    for name, value, most in (
        ("length", tunnel.length_cm, LONGEST_CM[wound.part]),
        ("diameter", tunnel.diameter_cm, WIDEST_TUNNEL_CM),
    ):
        key = f"{where}.{name}_cm"
        if value is None:
            yield Finding(
                "warn", key, f"not measured: the tunnel's volume is not counted; measure its {name} at {hour}"
            )
        yield from _size(key, value, most, wound.part)
    if tunnel.diameter_cm is not None and _NARROW_TUNNEL_CM < likely(tunnel.diameter_cm) <= WIDEST_TUNNEL_CM:
        says = f"{show_number(likely(tunnel.diameter_cm))} cm across is wide for a tunnel"
        yield _ask(f"{where}.diameter_cm", says, "is it a tunnel, not undermining")
    if not 0 <= tunnel.down_deg <= 90:
        given = show_number(tunnel.down_deg)
        says = f"{given}° given; a tunnel runs 0 to 90° below the plane of the skin, 90° is straight down"
        yield Finding("refuse", f"{where}.down_deg", says)
    yield from _through_the_body(where, tunnel, wound)


def _through_the_body(where: str, tunnel: Tunnel, wound: Wound) -> Iterator[Finding]:
    if wound.girth_cm is None or tunnel.length_cm is None:
        return
    sunk_cm = likely(tunnel.length_cm) * math.sin(math.radians(tunnel.down_deg)) + likely(wound.opening.depth_cm or 0.0)
    across_cm = wound.girth_cm / math.pi
    if sunk_cm >= across_cm:
        says = f"ends {show_number(sunk_cm)} cm below the skin of a {wound.part} {show_number(across_cm)} cm thick"
        yield Finding("refuse", f"{where}.length_cm", f"{says}; measure length and direction again")


def _keep_clear(where: str, thing: KeepClear) -> Iterator[Finding]:
    yield from _size(f"{where}.radius_cm", thing.radius_cm, _WIDEST_STRUCTURE_CM, "trunk")
    if thing.from_edge_cm < 0:
        says = f"{thing.what}, {show_number(thing.from_edge_cm)} cm: its middle lies over the opening"
        yield _ask(f"{where}.from_edge_cm", says, "does it lie open in the wound, as told to the gate")
    if abs(thing.from_edge_cm) > LONGEST_CM["trunk"]:
        says = f"{show_number(thing.from_edge_cm)} cm from the edge is beyond the body ({_ENTRY}); write it in cm"
        yield Finding("refuse", f"{where}.from_edge_cm", says)


def _model(assumptions: Assumptions) -> Iterator[Finding]:
    bounds: _ModelBounds = (
        ("foam_porosity", assumptions.foam_porosity, 0.01, 1, "a share, 1 is an empty cavity"),
        ("foam_share", assumptions.foam_share, 0.01, 1, "a share, 1 is all of the void"),
        ("capillary_height_cm", assumptions.capillary_height_cm, 0, 20, "in cm, 0 is no wicking"),
        ("permeability_m2", assumptions.permeability_m2, 1e-14, 1e-5, "in m², open foam is near 1e-8"),
    )
    for name, value, low, high, says in bounds:
        span = as_range(value)
        if not low <= span.low <= span.high <= high:
            given = f"{span.low:g}" if span.low == span.high else f"{span.low:g} to {span.high:g}"
            yield Finding("refuse", f"model.{name}", f"{given} is outside {low:g} to {high:g}: {says}")


def _size(where: str, value: Measured, most_cm: float, part: Part) -> Iterator[Finding]:
    if value is None:
        return
    span = as_range(value)
    if span.low < 0 or span.likely <= 0:
        given = show_number(min(span.low, span.likely), 2)
        says = f"{given} cm is not a size: write more than 0, or leave the key out when it was not measured"
        yield Finding("refuse", where, says)
    elif span.high > most_cm:
        says = (
            f"{show_number(span.high)} cm is not possible on a {part}: up to {most_cm:g} cm is taken ({_ENTRY}). "
            "Millimetres? Then write every size again in cm; nothing is converted"
        )
        yield Finding("refuse", where, says)


def _outline(where: str, outline: Outline, longest_cm: float) -> Iterator[Finding]:
    points = ring_of(outline)
    if len(points) < 3:
        yield Finding("refuse", where, f"{len(points)} different points given; an edge needs at least 3, in order")
        return
    if (np.abs(points) > longest_cm).any():
        far = show_number(float(np.abs(points).max()))
        says = (
            f"a point lies {far} cm out; up to {longest_cm:g} cm is taken ({_ENTRY}). Millimetres? Then write it in cm"
        )
        yield Finding("refuse", where, says)
    elif crosses_itself(points):
        yield Finding("refuse", where, "the edge crosses or touches itself; list its points once round, in order")
    elif area_cm2(points) < LEAST_CM2:
        yield Finding("refuse", where, "the points lie on one line and hold no area; list them once round, in order")


def _edge(opening: Opening) -> NDArray[float64] | None:
    """Return the opening's edge about its centre, shape (n, 2) in cm, at the likely values; None where not known."""
    if opening.outline_cm is not None:
        points = ring_of(opening.outline_cm)
        return points - _centre_cm(opening) if len(points) > 2 else None
    if opening.length_cm is None or opening.width_cm is None:
        return None
    turn = np.linspace(0, 2 * math.pi, 96, endpoint=False)
    return np.column_stack((np.sin(turn) * likely(opening.width_cm), np.cos(turn) * likely(opening.length_cm))) / 2


def _centre_cm(opening: Opening) -> NDArray[float64]:
    return np.zeros(2) if opening.outline_cm is None else centre_cm(ring_of(opening.outline_cm))


def _radius_cm(edge: NDArray[float64], toward: NDArray[float64]) -> float:
    return float((edge @ toward).max())


def _quarters() -> list[float]:
    return [quarter / 4 for quarter in range(48)]


def _between_halves() -> list[float]:
    return [0.25 + half / 2 for half in range(24)]


def _side_line(wound: Wound) -> str:
    quarter = f"{show_number((wound.girth_cm or 0.0) / 4)} cm from {_middle(wound)}"
    if wound.part != "trunk":
        return f"side of the {wound.part} ({quarter})"
    return f"mid-flank ({quarter})" if wound.face in {"front", "back"} else f"middle of front or back ({quarter})"


def _middle(wound: Wound) -> str:
    on_midline = wound.part == "trunk" and wound.face in {"front", "back"}
    return "the midline" if on_midline else f"the middle of the {wound.face} side"


def _ask(where: str, statement: str, question: str) -> Finding:
    return Finding("ask", where, f'{statement}: {question}? If so, add "{where}" to confirmed; else measure again')
