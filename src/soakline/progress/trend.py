"""Is it smaller? Two measurings of one size held against each other, with what measuring errors alone make of them."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from soakline.units import show_number
from soakline.wound.plausible import SIZE_ERROR_CM

# From here on a decimal of a size tells nothing.
_IN_WHOLES = 50.0
Method = Literal["length x width", "ellipse", "traced", "by this case file"]
_BY: dict[Method, str] = {
    "length x width": "length × width",
    "ellipse": "as an ellipse",
    "traced": "traced",
    "by this case file": "as this file has it",
}


@dataclass(frozen=True, slots=True)
class Earlier:
    """An area of the opening in cm² that was measured before, None where only the method was written."""

    at: datetime
    method: Method
    area_cm2: float | None


@dataclass(frozen=True, slots=True)
class Reading:
    """One size as it was measured, ``size`` in its own unit, which ``unit`` names; ``error_share`` (0–1) either way."""

    what: str
    method: Method
    size: float
    unit: str
    error_share: float


@dataclass(frozen=True, slots=True)
class Change:
    """What became of one size: ``change`` as a share of the first, below zero where it is smaller.

    ``noise`` is the share that measuring errors alone make. Both are None where the two were not measured alike.
    """

    measure: str
    change: float | None
    noise: float | None
    says: str


def area_error_share(area_cm2: float) -> float:
    """Return the error of a flat area as a share of it: half a centimetre on length and on width, as if square.

    Source key ``measuring.error_model`` (our own proposal).

    >>> round(area_error_share(36.0), 3)
    0.167
    """
    return 2.0 * SIZE_ERROR_CM / math.sqrt(area_cm2)


def compare(before: Reading, after: Reading, when: str = "") -> Change:
    """Return how a size went from one measuring to the next; ``when`` are words for the first.

    The two errors are taken as independent, as of two hands: they add as squares. A difference within them tells
    nothing. Sizes by different methods are not joined: length × width alone is some 27 % over an ellipse (source key
    ``measuring.rogers_2010``). Checked against ``worked.healing``.

    >>> one, other = (Reading("void", "by this case file", ml, "mL", 0.2) for ml in (151.0, 128.0))
    >>> compare(one, other).says
    'void 151 mL, then 128 mL: −15 %; measuring errors alone ±28 %: cannot tell'
    """
    then = f"{before.what} {_say(before)}{f' {when}' if when else ''}"
    if before.method != after.method:
        says = (
            f"{then} ({_BY[before.method]}), then {_say(after)} ({_BY[after.method]}): not compared, the method alone "
            "can make such a difference; measure it again as before"
        )
        return Change(before.what, None, None, says)
    change = after.size / before.size - 1.0
    noise = math.hypot(before.error_share, after.error_share)
    step = f"{then}, then {_say(after)}: {_percent(change)}; measuring errors alone ±{_percent(noise)}"
    if abs(change) <= noise:
        return Change(before.what, change, noise, f"{step}: cannot tell")
    return Change(before.what, change, noise, f"{step}: {'smaller' if change < 0.0 else 'larger'}")


def _say(reading: Reading) -> str:
    return f"{show_number(reading.size, 0 if reading.size >= _IN_WHOLES else 1)} {reading.unit}"


def _percent(share: float) -> str:
    return f"{show_number(100.0 * share, 0)} %"
