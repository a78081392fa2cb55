"""How the patient lies, and which way is down for it."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from numpy import array, float64
from numpy.typing import NDArray

_PART = re.compile(r"(supine|prone|left|right|head up|head down)(?:\s+(\d+(?:\.\d+)?))?")


@dataclass(frozen=True, slots=True)
class Posture:
    """A posture: roll (+ left side down, − right side down) and bed tilt (+ head up) in degrees, prone or not."""

    name: str
    roll_deg: float = 0.0
    tilt_deg: float = 0.0
    prone: bool = False

    def up(self) -> NDArray[float64]:
        """Return the unit vector against gravity, shape (3,), no unit, in body axes (right, front, head).

        >>> [round(float(x), 3) for x in Posture("left 30", roll_deg=30).up()]
        [0.5, 0.866, 0.0]
        """
        roll, tilt = math.radians(self.roll_deg), math.radians(self.tilt_deg)
        front = -math.cos(roll) if self.prone else math.cos(roll)
        return array([math.cos(tilt) * math.sin(roll), math.cos(tilt) * front, math.sin(tilt)])


def parse_posture(words: str) -> Posture:
    """Read a posture such as "supine", "left 30", "head up 20" or a pair; degrees follow all but supine and prone.

    Raises ValueError with what is allowed when the words are none of these, or an angle is not in 0–90.

    >>> parse_posture("left 30 head up 20")
    Posture(name='left 30 head up 20', roll_deg=30.0, tilt_deg=20.0, prone=False)
    """
    text = " ".join(words.lower().split())
    parts = [(m.group(1), m.group(2)) for m in _PART.finditer(text)]
    if not parts or " ".join(f"{k} {n}" if n else k for k, n in parts) != text:
        raise ValueError(_allowed(words, "not a posture"))
    values = {"roll": 0.0, "tilt": 0.0}
    lying: str | None = None
    seen: set[str] = set()
    for kind, number in parts:
        axis = "lying" if kind in {"supine", "prone"} else "roll" if kind in {"left", "right"} else "tilt"
        if axis in seen:
            raise ValueError(_allowed(words, f"{kind} contradicts what stands before it"))
        seen.add(axis)
        if axis == "lying":
            if number:
                raise ValueError(_allowed(words, f"{kind} takes no degrees"))
            lying = kind
            continue
        if number is None:
            raise ValueError(_allowed(words, f"{kind} needs degrees"))
        degrees = float(number)
        if not 0 < degrees <= 90:
            raise ValueError(_allowed(words, f"{degrees:g} degrees is outside 1 to 90"))
        values[axis] = degrees if kind in {"left", "head up"} else -degrees
    return Posture(name=text, roll_deg=values["roll"], tilt_deg=values["tilt"], prone=lying == "prone")


def _allowed(words: str, why: str) -> str:
    return (
        f'"{words}": {why}; allowed are supine, prone, left N, right N (that side down), head up N, head down N '
        '(the whole bed), N in degrees from 1 to 90, and pairs such as "left 30 head up 20"'
    )
