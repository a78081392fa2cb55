"""Numbers with doubt, conversions and the rounding used when a number is shown."""

from __future__ import annotations

import math
from dataclasses import dataclass

MMHG_PER_CM_WATER = 0.7356
KG_PER_LB = 0.45359237
DEG_PER_HOUR = 30.0


@dataclass(frozen=True, slots=True)
class Range:
    """A number known between ``low`` and ``high``; ``likely`` is its median. The unit is its holder's.

    Raises ValueError when the three are not finite and in order.

    >>> Range(1.0, 1.5, 2.0).likely
    1.5
    """

    low: float
    likely: float
    high: float

    def __post_init__(self) -> None:
        """Hold the order low ≤ likely ≤ high."""
        if not all(map(math.isfinite, (self.low, self.likely, self.high))):
            msg = f"low {self.low}, likely {self.likely}, high {self.high}: each must be a finite number"
            raise ValueError(msg)
        if not self.low <= self.likely <= self.high:
            msg = f"low {self.low}, likely {self.likely}, high {self.high}: must rise from low to high"
            raise ValueError(msg)


@dataclass(frozen=True, slots=True)
class Extremes:
    """The smallest and the largest that a number can be where nothing says what is likely. The unit is its holder's."""

    low: float
    high: float
    likely: None = None


@dataclass(frozen=True, slots=True)
class Sum:
    """A sum to redo by hand: what it gives, the working with its numbers, and the result with its unit."""

    what: str
    working: str
    result: str


Measured = float | Range | None
"""What a person wrote for a measure: one number, a range, or nothing (not measured)."""


def likely(value: float | Range) -> float:
    """Return the number itself, or the middle of its range, in the unit of ``value``.

    >>> likely(Range(1, 2, 4)), likely(3)
    (2, 3)
    """
    return value.likely if isinstance(value, Range) else value


def as_range(value: float | Range) -> Range:
    """Return ``value`` as a range; a plain number becomes one without width.

    >>> as_range(2)
    Range(low=2, likely=2, high=2)
    """
    return value if isinstance(value, Range) else Range(value, value, value)


def step_ml(volume_ml: float) -> int:
    """Return the step in mL to which a volume of this size is shown: 1, 5 or 10 mL.

    >>> step_ml(12), step_ml(90), step_ml(150)
    (1, 5, 5)
    """
    size = abs(volume_ml)
    return 1 if size < 20 else 5 if size < 200 else 10


def show_ml(volume: Range | Extremes) -> str:
    """Write a volume in mL with its range, rounded to what is known; extremes have no middle.

    >>> show_ml(Range(116.2, 150.8, 190.1)), show_ml(Extremes(38.1, 183.0))
    ('about 150 mL, 115–190', 'between 35 and 185 mL')
    """
    if isinstance(volume, Extremes):
        step = step_ml(volume.high)
        return f"between {step * math.floor(volume.low / step)} and {step * math.ceil(volume.high / step)} mL"
    low, likely_, high = (_to_step(v, step_ml(volume.likely)) for v in (volume.low, volume.likely, volume.high))
    return f"about {likely_} mL, {low}–{high}" if low != high else f"about {likely_} mL"


def show_number(value: float, digits: int = 1) -> str:
    """Write a number with at most ``digits`` decimals, a leading zero, no trailing zero and a true minus sign.

    >>> show_number(2.50), show_number(0.5), show_number(-125.0)
    ('2.5', '0.5', '−125')
    """
    text = f"{value:.{digits}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text in {"-0", ""} else text.replace("-", "−")


def _to_step(value: float, step: int) -> int:
    return int(step * math.floor(value / step + 0.5))
