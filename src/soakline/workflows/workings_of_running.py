"""How the figures of therapy, dose, store, layouts and the whole day were worked out, with their source keys."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from soakline.guard.anaesthetic import Allowance
from soakline.therapy.balance import DayBalance
from soakline.units import Extremes, show_number
from soakline.workflows.answers import Plan, SuppliesAnswer, TherapyAnswer, UnitAnswer
from soakline.workflows.day_answer import DayAnswer
from soakline.workflows.in_words import say_at_hand, say_sum, say_time
from soakline.workflows.workings import Working

_OF_A_UNIT = ("worked.cycle", "worked.night", "fluids.canister_share")


def work_unit(unit: UnitAnswer) -> Working:
    """Return the working of one therapy unit: its cycle, what it takes, canister and bag."""
    lines = tuple(say_sum(done) for done in unit.sums)
    return Working(f"unit {unit.name}", lines, _OF_A_UNIT)


def work_units(units: Sequence[UnitAnswer]) -> Working:
    """Return the working of canisters and bags of all units."""
    lines = [f"unit {unit.name}, {say_sum(done)}" for unit in units for done in unit.sums]
    return Working("canisters and bags", tuple(lines), _OF_A_UNIT)


def work_next_day(therapy: TherapyAnswer) -> Working:
    """Return the working of the next 24 hours: fills, how units lie over each other, how long they were off."""
    lines = ["fills: start of the unit + whole number of cycles, pauses of the log added; no suction: fill + dwell"]
    lines += [
        f"unit {unit.name}: a cycle = fill + dwell + suction = {show_number(unit.period_min)} min"
        for unit in therapy.units
        if unit.period_min is not None
    ]
    if therapy.in_step is not None:
        step = therapy.in_step
        lines.append(
            "without suction together in the first 24 h: minutes in which fill or dwell of all units lie over each "
            f"other = {show_number(step.first_day_overlap_min)} min, dwell alone "
            f"{show_number(step.first_day_dwell_min)} min"
        )
        if step.coincide_every_min is not None:
            every = show_number(step.coincide_every_min)
            lines.append(f"fills start together: least common multiple of the cycles = {every} min")
    lines += [
        f"unit {off.name} off: minutes paused in the 24 h that hold most, to {say_time(off.most_until)} = "
        f"{show_number(off.most_min)} min; in the last 24 h of the log {show_number(off.last_day_min)} min"
        for off in therapy.off_time
    ]
    return Working("these times", tuple(lines), ("worked.night", "worked.drift", "site.shifts", "fluids.off_time"))


def work_balance(balance: DayBalance) -> Working:
    """Return the working of one day's balance; a mark is read no closer than its error."""
    lines = [say_sum(done) for done in balance.sums]
    lines.append(
        "what a reading may be off: error of one mark × √(number of canisters that day) = "
        f"{show_number(balance.error_ml, 0)} mL"
    )
    return Working("this balance", tuple(lines), ("worked.balance", "fluids.reading_error", "fluids.exudate"))


def work_dose(dose: Allowance) -> Working:
    """Return the working of what is left under the ceiling."""
    keys = (dose.source, "anaesthetic.strength", "anaesthetic.absorbed", "anaesthetic.window")
    lines = tuple(say_sum(done) for done in dose.sums)
    return Working("the ceiling and what is left", lines, tuple(key for key in keys if key))


def work_supplies(supplies: SuppliesAnswer) -> Working:
    """Return the working of what a layout takes against the store."""
    lines = [f"{need.part}: {need.why}; {say_at_hand(need)}" for need in supplies.need]
    lines.append("short = needed − at hand, not below 0; a part that the store does not list is not known")
    lines += [
        f"foam sheets of {cut.kind}: the rectangle round the opening and round each pocket, laid in rows; left over: "
        f"area of the sheets − area of the rectangles = {show_number(cut.cuts.left_cm2)} cm²"
        for cut in supplies.cuts
    ]
    return Working("what it takes", tuple(lines), ("worked.kit",))


def work_layouts(plan: Plan) -> Working | None:
    """Return the working of the table of layouts; None where none was searched."""
    if plan.search is None:
        return None
    wounds = plan.search.wound_count
    lines = [
        (
            f"for each layout in each of {wounds} plausible wounds: area reached lying in any allowed posture, a fresh "
            "fill in each ÷ area of the surface"
        ),
        f"all but the worst tenth: the share that nine tenths of the {wounds} wounds reach or pass; steps of 5 %",
        "gain: that share − the share of the rule of thumb, wound by wound; middle wound, 5–95 % of them, in points",
        "flow leaves out: area of the bed where less than a tenth of its mean flow passes ÷ area of the bed",
    ]
    for layout in plan.layouts:
        shares = [("floor", layout.worst_tenth), ("roof", layout.roof_worst_tenth)]
        each = "; ".join(
            f"{side} wetted {show_number(100 * worst.wetted)} %, soaked {show_number(100 * worst.soaked)} %"
            for side, worst in shares
            if worst is not None
        )
        lines.append(f"layout {layout.letter}: {each}")
    keys = ("cases.nobody_measured_reach", "layout.lain_on", "layout.beside", "measuring.error_model", "sampling.sobol")
    return Working("these layouts", tuple(lines), (*keys, "foam.permeability", "foam.capillary_height", "foam.share"))


def work_day(day: DayAnswer) -> Working:
    """Return the working of a whole day, zone by zone."""
    return Working(
        "the day",
        tuple(_day_lines(day)),
        ("foam.squeeze", "foam.permeability", "foam.capillary_height", "foam.share", "spread.column", "fluids.water"),
    )


def _day_lines(day: DayAnswer) -> Iterator[str]:
    each = " + ".join(f"{stretch.fills} {stretch.posture}" for stretch in day.stretches)
    count = sum(stretch.fills for stretch in day.stretches)
    yield f"fills: {each} = {count}, {show_number(day.fill_ml)} mL each through {day.port}"
    yield f"suction leaves: {_span(day.stays_share, 100.0)} % of what is held = {_span(day.stays_ml, 1.0)} mL"
    yield (
        "minutes: over all soaks of the day the time in which a place is soaked (moist or more), averaged over the "
        "zone by area; both ends of what suction may leave; steps of 5 min"
    )
    yield "new: mL of that fill in the zone ÷ all mL in it at the end of the soak; steps of 5 %"


def _span(value: Extremes, times: float) -> str:
    return f"{show_number(times * value.low)}–{show_number(times * value.high)}"
