"""Which way the picture faces: the words that stand at 12, 3, 6 and 9 o'clock, and where the examiner looks from."""

from __future__ import annotations

from dataclasses import dataclass

from soakline.wound.body import NINE_OCLOCK, THREE_OCLOCK
from soakline.wound.measurements import Face, Part, Side


@dataclass(frozen=True, slots=True)
class Sides:
    """The words that stand at four hours of the clock on the wound."""

    twelve: str
    three: str
    six: str
    nine: str

    def towards(self, direction_deg: float) -> str:
        """Return the word nearest to a direction in degrees clockwise from 12 o'clock.

        >>> Sides("HEAD", "PATIENT LEFT", "FEET", "PATIENT RIGHT").towards(80.0)
        'PATIENT LEFT'
        """
        return (self.twelve, self.three, self.six, self.nine)[round(direction_deg / 90.0) % 4]


_SEEN_FROM: dict[Face, str] = {
    "front": "seen from the FRONT",
    "back": "seen from the BACK",
    "left": "seen from the PATIENT LEFT",
    "right": "seen from the PATIENT RIGHT",
}


def sides_of(face: Face, part: Part) -> Sides:
    """Return the words around the clock; 3 o'clock is the patient's left on the front and right on the back.

    Source keys ``measuring.handedness`` and ``measuring.clock``: 12 is the head on the trunk, proximal on a limb.

    >>> sides_of("back", "thigh")
    Sides(twelve='PROXIMAL', three='PATIENT RIGHT', six='DISTAL', nine='PATIENT LEFT')
    """
    twelve, six = ("HEAD", "FEET") if part == "trunk" else ("PROXIMAL", "DISTAL")
    return Sides(twelve, _short(THREE_OCLOCK[face]), six, _short(NINE_OCLOCK[face]))


def view_of(face: Face, part: Part, limb_side: Side | None) -> str:
    """Write what is looked at and from where.

    >>> view_of("front", "thigh", "left"), view_of("right", "trunk", None)
    ('left thigh, seen from the FRONT', 'trunk, seen from the PATIENT RIGHT')
    """
    limb = f"{limb_side} {part}" if limb_side and part != "trunk" else part
    return f"{limb}, {_SEEN_FROM[face]}"


def _short(side: str) -> str:
    word = side.removeprefix("PATIENT'S ")
    return f"PATIENT {word}" if word in {"LEFT", "RIGHT"} else word
