"""How the units run: cycle, windows, and what the ordered fill means for this wound."""

from __future__ import annotations

from collections.abc import Sequence

from soakline.errors import Finding
from soakline.therapy.cycle import (
    Exudate,
    TherapyUnit,
    cycles_per_day,
    period_min,
    solution_ml_per_day,
    work_cycle,
)
from soakline.therapy.logbook import Logbook
from soakline.therapy.windows import bag_times, canister_times, share_exudate
from soakline.units import Range, show_ml
from soakline.workflows.answers import BagWindow, CanisterWindow, FillAnswer, TherapyAnswer, UnitAnswer


def run_units(
    units: Sequence[TherapyUnit], exudate: Exudate, time_zone: str | None, canister_share: float, book: Logbook
) -> TherapyAnswer | None:
    """Return how each unit runs; None without units."""
    shares = share_exudate(units, exudate)
    told = [_run(unit, rate, time_zone, canister_share, book) for unit, rate in zip(units, shares, strict=True)]
    return TherapyAnswer(tuple(told)) if told else None


def judge_fill(units: Sequence[TherapyUnit], void_ml: Range | None) -> tuple[FillAnswer | None, list[Finding]]:
    """Return what speaks about the fill, and what to say of each unit's; None where the void is not known."""
    if void_ml is None:
        return None, []
    findings = [
        found
        for number, unit in enumerate(units)
        if unit.fill_ml is not None
        for found in _against_void(f"unit.{number}.fill_ml", f"{unit.fill_ml:g} mL", unit.fill_ml, void_ml)
    ]
    fills = [unit.fill_ml for unit in units if unit.fill_ml is not None]
    if len(fills) > 1 and sum(fills) > void_ml.low:
        findings += _against_void("unit", f"all units together, {sum(fills):g} mL,", sum(fills), void_ml)
    # Source key ``cases.vola_2020``: published fills lie far below the void.
    says = "published fills lie far below the void: wetting foam, not filling a cavity, is usual"
    return FillAnswer(None, None, void_ml.low, (), says, (), ()), findings


def _against_void(where: str, given: str, fill_ml: float, void_ml: Range) -> list[Finding]:
    share = f"{given} is {100.0 * fill_ml / void_ml.likely:.0f} % of the void ({show_ml(void_ml)})"
    if fill_ml > void_ml.high:
        says = f"{share}: above the high estimate of the void: may lift the drape; check the order and the measures"
        return [Finding("warn", where, says)]
    if fill_ml > void_ml.low:
        return [Finding("warn", where, f"{share}: above the low estimate of the void: may lift the drape")]
    return [Finding("note", where, share)]


def _run(
    unit: TherapyUnit,
    exudate_ml_per_h: float | Range | None,
    time_zone: str | None,
    canister_share: float,
    book: Logbook,
) -> UnitAnswer:
    canister = canister_times(unit, exudate_ml_per_h, planned_share=canister_share, time_zone=time_zone, book=book)
    bag = bag_times(unit, time_zone, book)
    return UnitAnswer(
        name=unit.name,
        period_min=period_min(unit),
        cycles_per_day=cycles_per_day(unit),
        solution_ml_per_day=solution_ml_per_day(unit),
        canister=canister and CanisterWindow(canister.due, canister.earliest, canister.latest),
        bag=bag and BagWindow(bag.cycle_count, bag.short_at, bag.short_ml),
        sums=(*work_cycle(unit), *(canister.sums if canister else ()), *(bag.sums if bag else ())),
    )
