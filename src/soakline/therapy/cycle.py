"""One therapy unit's cycle: fill, dwell, suction, around the clock."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction

from soakline.errors import Finding
from soakline.therapy._figures import exact, show_count
from soakline.units import Range, Sum, show_number

MIN_PER_DAY = 1440


@dataclass(frozen=True, slots=True)
class Exudate:
    """What the wound gives of itself, in mL an hour."""

    ml_per_h: float | Range | None = None


@dataclass(frozen=True, slots=True)
class TherapyUnit:
    """One unit as charted: what it fills, for how long each phase runs, what hangs on it. None is "not given".

    ``started_at`` is local wall-clock time in the case's time zone; ``started_again`` says of a time that the clocks
    give twice that it was the second.
    """

    name: str
    solution: str | None = None
    fill_ml: float | None = None
    ordered_fill_ml: float | None = None
    fill_min: float | None = None
    dwell_min: float | None = None
    suction_min: float | None = None
    pressure_mmhg: float | None = None
    canister_ml: float | None = None
    bag_ml: float | None = None
    priming_ml: float | None = None
    started_at: datetime | None = None
    started_again: bool | None = None
    exudate: Exudate | None = None


@dataclass(frozen=True, slots=True)
class _Bound:
    """What an entry may be at all, in its own unit: it catches slips of pen and unit and is no clinical limit."""

    unit_word: str
    low: float
    high: float
    above_low: bool = False

    def holds(self, value: float) -> bool:
        high_enough = value > self.low if self.above_low else value >= self.low
        return high_enough and value <= self.high

    def says(self) -> str:
        low, high = show_count(self.low), f"{show_count(self.high)} {self.unit_word}"
        return f"above {low}, up to {high}" if self.above_low else f"{low} to {high}"


_ENTRY_BOUNDS = {
    "fill_ml": _Bound("mL", 1, 2000),
    "ordered_fill_ml": _Bound("mL", 1, 2000),
    "fill_min": _Bound("min", 0, 240),
    "dwell_min": _Bound("min", 0, 1440, above_low=True),
    "suction_min": _Bound("min", 0, 2880, above_low=True),
    "pressure_mmhg": _Bound("mmHg", -300, -1),
    "canister_ml": _Bound("mL", 0, 5000, above_low=True),
    "bag_ml": _Bound("mL", 0, 10000, above_low=True),
    "priming_ml": _Bound("mL", 0, 500),
}
_EXUDATE_BOUND = _Bound("mL an hour", 0, 1000)

_WORDS = {
    "solution": "solution",
    "fill_ml": "fill",
    "ordered_fill_ml": "ordered fill",
    "fill_min": "fill time",
    "dwell_min": "dwell",
    "suction_min": "suction time",
    "pressure_mmhg": "negative pressure",
    "canister_ml": "canister",
    "bag_ml": "solution bag",
    "priming_ml": "priming volume",
}


def period_min(unit: TherapyUnit) -> float | None:
    """Return how long one cycle takes, in minutes, or None when a phase was not given.

    >>> period_min(TherapyUnit("A", fill_min=2, dwell_min=8, suction_min=170))
    180
    """
    if unit.fill_min is None or unit.dwell_min is None or unit.suction_min is None:
        return None
    return unit.fill_min + unit.dwell_min + unit.suction_min


def cycles_per_day(unit: TherapyUnit) -> float | None:
    """Return the cycles in 24 h, a plain count, or None when a phase was not given or the cycle has no length.

    >>> cycles_per_day(TherapyUnit("A", fill_min=2, dwell_min=8, suction_min=170))
    8.0
    """
    period = period_min(unit)
    return MIN_PER_DAY / period if period is not None and period > 0 else None


def solution_ml_per_day(unit: TherapyUnit) -> float | None:
    """Return the solution used in 24 h, in mL, or None when a phase or the fill was not given.

    >>> solution_ml_per_day(TherapyUnit("A", fill_ml=60, fill_min=2, dwell_min=8, suction_min=170))
    480.0
    """
    cycle_count = cycles_per_day(unit)
    return cycle_count * unit.fill_ml if cycle_count is not None and unit.fill_ml is not None else None


def work_cycle(unit: TherapyUnit) -> tuple[Sum, ...]:
    """Write period, cycles and solution a day as sums to redo by hand; what cannot be worked is left out.

    >>> [w.working for w in work_cycle(TherapyUnit("A", fill_ml=60, fill_min=2, dwell_min=8, suction_min=170))]
    ['2 + 8 + 170', '1,440 ÷ 180', '8 × 60']
    """
    period, cycle_count, solution_ml = period_min(unit), cycles_per_day(unit), solution_ml_per_day(unit)
    if period is None or cycle_count is None:
        return ()
    phases = " + ".join(show_count(phase or 0) for phase in (unit.fill_min, unit.dwell_min, unit.suction_min))
    length, count = show_count(period), show_count(cycle_count, 3)
    rows = [
        Sum("fill + dwell + suction", phases, f"{length} min"),
        Sum("cycles a day", f"1,440 ÷ {length}", f"{count} cycles"),
    ]
    if solution_ml is not None and unit.fill_ml is not None:
        amount = show_count(solution_ml, 0)
        rows.append(Sum("solution a day", f"{count} × {show_count(unit.fill_ml)}", f"{amount} mL a day"))
    return tuple(rows)


def check_units(units: Sequence[TherapyUnit], exudate: Exudate) -> tuple[Finding, ...]:
    """Return everything to say about the units and the exudate as entered, each under its dotted key."""
    findings = [*_check_exudate("exudate.ml_per_h", exudate), *_check_names(units)]
    for index, unit in enumerate(units):
        findings += check_unit(unit, f"unit.{index}")
    return tuple(findings)


def check_unit(unit: TherapyUnit, where: str) -> tuple[Finding, ...]:
    """Return everything to say about one unit, its dotted keys beginning with ``where``.

    >>> for f in check_unit(TherapyUnit("A", fill_ml=20, ordered_fill_ml=60), "unit.0"): print(f.level, f.where, f.says)
    ask unit.0.fill_ml 20 mL is one third of the ordered 60 mL: who agreed?
    note unit.0 unit A: not given: fill time, dwell, suction time, solution, negative pressure; no cycle without fill \
time, dwell and suction time
    """
    return (
        *_check_bounds(unit, where),
        *(_check_exudate(f"{where}.exudate.ml_per_h", unit.exudate) if unit.exudate else ()),
        *_check_order(unit, where),
        *_check_bag(unit, where),
        *_name_missing(unit, where),
    )


def _check_bounds(unit: TherapyUnit, where: str) -> list[Finding]:
    findings: list[Finding] = []
    for key, bound in _ENTRY_BOUNDS.items():
        value: float | None = getattr(unit, key)
        if value is None or (math.isfinite(value) and bound.holds(value)):
            continue
        sign_slipped = key == "pressure_mmhg" and 0 < value < math.inf
        says = _ask_sign(value) if sign_slipped else _outside(_WORDS[key], value, bound)
        findings.append(Finding("refuse", f"{where}.{key}", says))
    return findings


def _ask_sign(pressure_mmhg: float) -> str:
    given = show_count(pressure_mmhg)
    return (
        f"+{given}: suction is written with a minus sign; −{given} mmHg? "
        f"Allowed: {_ENTRY_BOUNDS['pressure_mmhg'].says()}; write the pressure as ordered"
    )


def _outside(word: str, value: float, bound: _Bound) -> str:
    given = f"{show_count(value)} {bound.unit_word}" if math.isfinite(value) else "not a finite number"
    allowed = f"an entry is {bound.says()} (a bound on typing, not a clinical limit)"
    return f"{word}: {given}; {allowed}: look at the chart again"


def _check_exudate(where: str, exudate: Exudate) -> list[Finding]:
    rate = exudate.ml_per_h
    ends = () if rate is None else (rate.low, rate.high) if isinstance(rate, Range) else (rate,)
    outside = [end for end in ends if not (math.isfinite(end) and _EXUDATE_BOUND.holds(end))]
    return [Finding("refuse", where, _outside("exudate", end, _EXUDATE_BOUND)) for end in outside[:1]]


def _check_names(units: Sequence[TherapyUnit]) -> list[Finding]:
    findings: list[Finding] = []
    first: dict[str, int] = {}
    for index, unit in enumerate(units):
        name = unit.name.strip()
        if not name:
            findings.append(Finding("refuse", f"unit.{index}.name", "a unit without a name: give it a letter"))
        elif name in first:
            says = f'"{name}" also names unit.{first[name]}: each unit needs a letter of its own'
            findings.append(Finding("refuse", f"unit.{index}.name", says))
        first.setdefault(name, index)
    return findings


def _check_order(unit: TherapyUnit, where: str) -> list[Finding]:
    fill, ordered = unit.fill_ml, unit.ordered_fill_ml
    both = [v for v in (fill, ordered) if v is not None and math.isfinite(v) and v > 0]
    if fill is None or ordered is None or len(both) < 2 or fill == ordered:
        return []
    share = _share_of(fill, ordered)
    says = f"{show_count(fill)} mL is {share} the ordered {show_count(ordered)} mL: who agreed?"
    return [Finding("ask", f"{where}.fill_ml", says)]


def _share_of(part: float, whole: float) -> str:
    """Write how much ``part`` is of ``whole`` (same unit, both above 0): a simple fraction, so many times, or per cent.

    >>> _share_of(20, 60), _share_of(180, 60), _share_of(50, 60)
    ('one third of', '3 times', '83 % of')
    """
    ratio = exact(part) / exact(whole)
    simple = {Fraction(1, 2): "half of", Fraction(1, 3): "one third of", Fraction(1, 4): "a quarter of"}
    if ratio in simple:
        return simple[ratio]
    if ratio.denominator == 1 and ratio > 1:
        return f"{ratio} times"
    percent = float(ratio * 100)
    whole_percent_hides_it = round(percent) in {0, 100}
    return f"{show_number(percent, 2 if whole_percent_hides_it else 0)} % of"


def _check_bag(unit: TherapyUnit, where: str) -> list[Finding]:
    if unit.bag_ml is None or unit.priming_ml is None or not 0 < unit.bag_ml <= unit.priming_ml:
        return []
    given = f"priming {show_count(unit.priming_ml)} mL out of a bag of {show_count(unit.bag_ml)} mL"
    return [Finding("refuse", f"{where}.priming_ml", f"{given} leaves nothing to fill with: look at both again")]


def _name_missing(unit: TherapyUnit, where: str) -> list[Finding]:
    phases = [key for key in ("fill_min", "dwell_min", "suction_min") if getattr(unit, key) is None]
    others = [key for key in ("fill_ml", "solution", "pressure_mmhg") if getattr(unit, key) is None]
    if not phases and not others:
        return []
    says = f"unit {unit.name}: not given: {', '.join(_WORDS[key] for key in (*phases, *others))}"
    if phases:
        says += f"; no cycle without {_join(phases)}"
    elif unit.fill_ml is None:
        says += "; no solution a day without fill"
    return [Finding("note", where, says)]


def _join(keys: Sequence[str]) -> str:
    words = [_WORDS[key] for key in keys]
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
