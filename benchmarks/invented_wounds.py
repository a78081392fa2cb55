"""Invented wounds on five parts of the body, the same for the same seed, on which benchmarks agree.

Frozen: documented figures rest on these draws. A new kind of wound goes into a new function; ``fingerprint`` tells
whether two runs looked at the same wounds. Nothing here comes from a patient.

Each wound is one opening with one undermining, written as a nurse would: hour by hour, to half a centimetre.

- opening 2–8 cm long and wide, neither less than half the other; flat bed
- undermining over 60–360°; it reaches 3–12 cm where it reaches farthest, less towards its ends, a little uneven
- pocket height 0.7–2.5 cm, one for the whole pocket, with a low (0.7 times) and a high (1.3 times) estimate
- depth 0.4–2.5 cm more than the pocket height
- girth 80–120 cm (trunk), 45–65 cm (thigh), 30–42 cm (lower leg); round the part no undermining reaches farther
  than three tenths of the girth from the opening's centre
- three allowed postures in which the wound is not lain on; the first is the one looked at where one is enough
"""

from __future__ import annotations

import math
import zlib
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from soakline.fluid.posture import Posture, parse_posture
from soakline.units import Range
from soakline.wound.measurements import Face, Opening, Part, Side, Undermining, Wound

_Draw = np.random.Generator


@dataclass(frozen=True, slots=True)
class Place:
    """A part of the body where a wound may be: its faces, its girth in cm, and postures that leave it free."""

    name: str
    part: Part
    faces: tuple[Face, ...]
    girth_cm: tuple[float, float]
    postures: dict[Face, tuple[str, ...]]


@dataclass(frozen=True, slots=True)
class InventedWound:
    """A wound, the name of its place, and three allowed postures."""

    place: str
    wound: Wound
    postures: tuple[Posture, ...]


_FREE: dict[Face, tuple[str, ...]] = {
    "front": ("supine", "left 30", "right 30", "head up 30"),
    "back": ("prone", "left 60", "right 60", "left 90"),
    "left": ("supine", "right 30", "right 60", "head up 30"),
    "right": ("supine", "left 30", "left 60", "head up 30"),
}
_LEG: dict[Face, tuple[str, ...]] = {
    **_FREE,
    "front": ("supine", "left 30", "right 30", "head down 10"),
    "back": ("prone", "left 60", "right 60", "head down 10 prone"),
}
PLACES = (
    Place("trunk, front", "trunk", ("front",), (80.0, 120.0), _FREE),
    Place("flank", "trunk", ("left", "right"), (80.0, 120.0), _FREE),
    Place("back", "trunk", ("back",), (80.0, 120.0), _FREE),
    Place("thigh", "thigh", ("front", "left", "right"), (45.0, 65.0), _FREE),
    Place("lower leg", "lower leg", ("front", "back", "left", "right"), (30.0, 42.0), _LEG),
)


def invented(count: int, seed: int) -> tuple[InventedWound, ...]:
    """Return ``count`` wounds, the places in turn; the first wounds of a seed are the same for every count."""
    return tuple(_wound(PLACES[k % len(PLACES)], np.random.default_rng((seed, k))) for k in range(count))


def fingerprint(wounds: Sequence[InventedWound]) -> str:
    """Return eight letters that differ when any measure or posture differs."""
    return f"{zlib.crc32(repr(tuple(wounds)).encode()):08x}"


def _wound(place: Place, draw: _Draw) -> InventedWound:
    face = place.faces[_pick(draw, len(place.faces))]
    girth_cm = round(_between(draw, *place.girth_cm))
    length_cm = _halves(_between(draw, 2.0, 8.0))
    width_cm = _halves(_between(draw, max(2.0, length_cm / 2.0), min(8.0, 2.0 * length_cm, 0.3 * girth_cm)))
    height_cm = round(_between(draw, 0.7, 2.5), 1)
    depth_cm = round(height_cm + _between(draw, 0.4, 2.5), 1)
    side: Side | None = None
    if place.part != "trunk":
        side = ("left", "right")[_pick(draw, 2)]
    wound = Wound(
        face,
        place.part,
        Opening(length_cm, width_cm, depth_cm),
        girth_cm=float(girth_cm),
        midline_offset_cm=round(girth_cm * _between(draw, -0.08, 0.08), 1),
        limb_side=side,
        undermining=_undermining(draw, height_cm, round_cm=0.3 * girth_cm - width_cm / 2.0),
    )
    free = place.postures[face]
    chosen = sorted(range(len(free)), key=lambda _: float(draw.random()))[:3]
    return InventedWound(place.name, wound, tuple(parse_posture(free[k]) for k in chosen))


def _undermining(draw: _Draw, height_cm: float, *, round_cm: float) -> tuple[Undermining, ...]:
    """Return one entry an hour; ``round_cm`` is how far the pocket may run round the part."""
    hours = 2 + _pick(draw, 11)
    start = _pick(draw, 12)
    farthest = _between(draw, 3.0, 12.0)
    uneven = [(_between(draw, 0.0, 0.15), _between(draw, 0.0, math.tau)) for _ in range(3)]
    shape: list[float] = []
    for k in range(hours):
        angle = math.radians(30.0 * (start + k) + 15.0)
        # All round there are no ends towards which the reach falls.
        ends = 1.0 if hours == 12 else 0.6 + 0.4 * math.sin(math.pi * (k + 0.5) / hours)
        shape.append(ends * (1.0 + sum(a * math.sin((n + 1) * angle + b) for n, (a, b) in enumerate(uneven))))
    entries: list[Undermining] = []
    for k, share in enumerate(shape):
        sideways = abs(math.sin(math.radians(30.0 * (start + k) + 15.0)))
        reach_cm = max(1.0, _halves(min(farthest * share / max(shape), round_cm / sideways)))
        height = Range(round(0.7 * height_cm, 2), height_cm, round(1.3 * height_cm, 2))
        entries.append(Undermining(_hour(start + k), _hour(start + k + 1), reach_cm=reach_cm, height_cm=height))
    return tuple(entries)


def _between(draw: _Draw, low: float, high: float) -> float:
    # Only plain uniform numbers are drawn: their stream is the one that library releases keep.
    return low + (high - low) * float(draw.random())


def _pick(draw: _Draw, count: int) -> int:
    return min(int(draw.random() * count), count - 1)


def _halves(value: float) -> float:
    return round(2.0 * value) / 2.0


def _hour(count: int) -> float:
    return float(count % 12 or 12)


def main() -> None:
    """Print what the first wounds of a seed look like."""
    wounds = invented(10, seed=1)
    print(f"wounds {fingerprint(wounds)}")
    for invented_wound in wounds:
        wound = invented_wound.wound
        opening, entries = wound.opening, wound.undermining
        hours = f"{entries[0].from_clock:g} to {entries[-1].to_clock:g}"
        reach = max(float(str(entry.reach_cm)) for entry in entries)
        print(
            f"  {invented_wound.place:12} {wound.face:5} opening {opening.length_cm} x {opening.width_cm}, depth "
            f"{opening.depth_cm}; undermining {hours}, up to {reach:.1f} cm; "
            f"{', '.join(p.name for p in invented_wound.postures)}"
        )


if __name__ == "__main__":
    main()
