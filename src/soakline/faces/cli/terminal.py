"""A plan as lines for the terminal: ranges first, the sum by hand beside each figure, legible without colour."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from soakline.faces.cli.layouts import say_layouts
from soakline.guard.gate import GateState
from soakline.pictures.timeline import say_row
from soakline.units import Sum, show_ml, show_number
from soakline.workflows.answers import (
    FillAnswer,
    Plan,
    ReachAnswer,
    SuctionAnswer,
    SuppliesAnswer,
    TherapyAnswer,
    TurningAnswer,
    UnitAnswer,
    WoundAnswer,
)
from soakline.workflows.day_answer import DayAnswer
from soakline.workflows.in_words import (
    CAUTION_LINE,
    MOIST_MEANS,
    NO_NEXT_DAY,
    PASSED_MEANS,
    POCKET_HEIGHT_MEANS,
    REACH_MEANS,
    as_sentence,
    cautions_present,
    say_area,
    say_at_hand,
    say_doubt,
    say_fill_range,
    say_from_ml,
    say_gate,
    say_model,
    say_piece,
    say_possible,
    say_seals,
    say_span,
    say_stop,
    say_sum,
    say_time,
    say_unanswered,
)
from soakline.workflows.liquid_in_words import say_gases, say_minutes, say_new, say_surface, tell_fills
from soakline.workflows.progress import say_progress


def plan_text(plan: Plan) -> str:
    """Return the plan as text of the terminal's width, 80 columns where there is none."""
    console = Console(highlight=False, markup=False, emoji=False)
    with console.capture() as captured:
        _say_head(console, plan)
        if plan.wound:
            _say_wound(console, plan.wound, plan.fill_ml)
        if plan.reach:
            _say_reach(console, plan)
        if plan.search:
            say_layouts(console, plan.layouts, plan.search, plan.picture)
        if plan.turning:
            _say_turning(console, plan.turning)
        if plan.suction:
            _say_suction(console, plan.suction)
        _say_counted(console, plan)
        if plan.day:
            _say_day(console, plan.day)
        if plan.supplies:
            _say_supplies(console, plan.supplies)
        _say_list(console, "Measure next", (f"{m.what}: {m.narrows_by}" for m in plan.next_measurement))
        _say_list(console, "Smaller than before?", say_progress(plan.progress))
        if plan.therapy:
            _say_therapy(console, plan.therapy)
            _say_shift(console, plan.therapy)
        _say_list(console, "What came back", (f"{day.day}: {day.says}" for day in plan.balance))
        _say_gate(console, plan.gate)
        if plan.wound or plan.therapy:
            _say_list(console, "Not considered", plan.not_considered)
    return "\n".join(line.rstrip() for line in captured.get().rstrip().splitlines())


def _say_head(console: Console, plan: Plan) -> None:
    purpose = " · TEACHING, NOT FOR CARE" if plan.purpose == "teaching" else ""
    console.print(Text(f"{plan.label}{purpose}", style="bold"))
    console.print(Text(CAUTION_LINE))


def _say_wound(console: Console, wound: WoundAnswer, fill: FillAnswer | None) -> None:
    _heading(console, "The hidden size")
    table = _pairs()
    for name, value in _wound_rows(wound, fill):
        table.add_row(name, value)
    console.print(Padding(table, (0, 0, 0, 2)))
    _say_sums(console, (*wound.sums, *(fill.sums if fill else ())))
    for line in (*fill.why, *say_seals(fill)) if fill else ():
        _item(console, as_sentence(line))
    _line(console, POCKET_HEIGHT_MEANS)


def _wound_rows(wound: WoundAnswer, fill: FillAnswer | None) -> Iterable[tuple[str, str]]:
    if wound.void_ml:
        yield "Void", "; ".join([show_ml(wound.void_ml), *say_doubt(wound)])
    else:
        yield "Void", "no answer yet; see what to measure or to confirm"
    if wound.capacity_ml:
        yield "Takes at a fill", f"{show_ml(wound.capacity_ml)}, with the foam in place"
    if wound.opening_cm2 is not None:
        rough = wound.length_x_width_cm2
        yield "Opening", say_area(wound.opening_cm2) + (f"; length × width gives {say_area(rough)}" if rough else "")
    if wound.pocket_cm2:
        side = f", towards the {wound.pocket_side}" if wound.pocket_side else ""
        yield "Pocket", f"{say_area(wound.pocket_cm2)} under kept skin{side}"
    if wound.bed_cm2 is not None and wound.pocket_cm2:
        times = f", {show_number(wound.bed_to_opening)} times the opening" if wound.bed_to_opening else ""
        yield "Bed", f"{say_area(wound.bed_cm2)}{times}"
    if fill:
        useful = say_fill_range(fill)
        yield "Fill range", f"reach grows slowly beyond {useful}" if useful else "no answer yet"
        yield "Lifts the drape", f"maybe, from {say_from_ml(fill.lifts_drape_from)} a fill. {as_sentence(fill.says)}"


def _say_reach(console: Console, plan: Plan) -> None:
    _heading(console, "Reach: how much is soaked")
    told = tell_fills(plan.reach, plan.validity)
    for fill in told:
        for model, rows in fill.by_model:
            _line(console, f"{fill.title}, {say_model(model)}")
            console.print(Padding(_reach_table(rows), (0, 0, 1, 2)))
        # Of the fills of single ports beside that of all, only what presses on the drape.
        for line in (fill.believe, *(fill.at_edge if fill is told[0] else fill.presses)):
            _item(console, as_sentence(line))
        console.print()
    if gases := say_gases(plan.reach):
        _item(console, as_sentence(gases))
    models = {row.model for row in plan.reach}
    means = ((MOIST_MEANS, "settled" in models), (PASSED_MEANS, "spread" in models))
    _line(console, " ".join([REACH_MEANS, *(meaning for meaning, asked in means if asked)]))


def _reach_table(rows: Sequence[ReachAnswer]) -> Table:
    table = Table(box=SIMPLE_HEAD, show_edge=False, pad_edge=False, header_style="")
    for name in ("Lying", "Floor", "Roof"):
        table.add_column(name, min_width=18)
    for row in rows:
        surfaces = (
            say_surface(row.model, row.floor, row.floor_range),
            say_surface(row.model, row.roof, row.roof_range),
        )
        table.add_row(row.posture, *("\n".join(filter(None, surface)) for surface in surfaces))
    return table


def _say_turning(console: Console, turning: TurningAnswer) -> None:
    _heading(console, "Turning: the fewest postures")
    for line in turning.says:
        _item(console, as_sentence(line))
    for posture in turning.adds:
        _item(console, as_sentence(posture.says) + ("" if posture.needed else " Not among the fewest."))


def _say_suction(console: Console, suction: SuctionAnswer) -> None:
    _heading(console, "Suction side, exploratory")
    for line in (*suction.short_circuits, *suction.pockets, *suction.if_blocked):
        _item(console, as_sentence(line))


def _say_counted(console: Console, plan: Plan) -> None:
    if plan.foam:
        on_label = f"for the label on the drape: {plan.foam.label}"
        _say_list(console, "Foam inside", (plan.foam.says, *map(say_piece, plan.foam.inside), as_sentence(on_label)))
    if plan.solutions and plan.solutions.meetings:
        met = (as_sentence(pair.says) for pair in plan.solutions.meetings)
        _say_list(console, f"What meets the solution, by the formulary: {plan.solutions.formulary}", met)
    if plan.anaesthetic:
        _say_list(console, "Local anaesthetic", (plan.anaesthetic.says, *plan.anaesthetic.published))
        _say_sums(console, plan.anaesthetic.sums)


def _say_day(console: Console, day: DayAnswer) -> None:
    _heading(console, "A whole day, exploratory")
    for line in day.says:
        _item(console, as_sentence(line))
    table = Table(box=SIMPLE_HEAD, show_edge=False, pad_edge=False, header_style="")
    for name in ("Zone", "Floor soaked", "Roof soaked", "Liquid"):
        table.add_column(name)
    for zone in day.zones:
        minutes = (say_minutes(zone.floor_soaked_min), say_minutes(zone.roof_soaked_min))
        table.add_row(zone.zone, *minutes, say_new(zone.new_share))
    console.print(Padding(table, (0, 0, 0, 2)))
    _line(console, as_sentence(day.exploratory))


def _say_supplies(console: Console, supplies: SuppliesAnswer) -> None:
    _heading(console, "What it takes")
    table = _pairs()
    for needed in supplies.need:
        table.add_row(as_sentence(needed.part).rstrip("."), f"{say_at_hand(needed)} ({needed.why})")
    console.print(Padding(table, (0, 0, 0, 2)))
    until = (f"order by {say_time(supplies.order_by)} for the next change",) if supplies.order_by else ()
    for line in (*(short.says for short in supplies.short), *until, *supplies.says):
        _item(console, as_sentence(line))
    for title, lines in say_possible(supplies):
        _line(console, f"{title}:")
        for line in lines:
            _item(console, line)


def _say_therapy(console: Console, therapy: TherapyAnswer) -> None:
    _heading(console, "Settings and windows")
    for unit in therapy.units:
        console.print(Text(f"  Unit {unit.name}"))
        table = _pairs()
        for name, value in _unit_rows(unit):
            table.add_row(name, value)
        console.print(Padding(table, (0, 0, 0, 4)))
        _say_sums(console, unit.sums)


def _say_shift(console: Console, therapy: TherapyAnswer) -> None:
    day, met = therapy.next_day, therapy.in_step
    if day is None:
        _heading(console, "The next 24 hours")
        _line(console, NO_NEXT_DAY)
        return
    _heading(console, f"The next 24 hours, from {say_time(day.begins)}")
    for shift in day.shifts:
        told = [row for row in shift.rows if row.what != "suction"]
        if told:
            _line(console, f"{'Night' if shift.is_night else 'Shift'} {shift.starts:%H:%M} to {shift.ends:%H:%M}")
            for row in told:
                _item(console, say_row(row))
    for line in (*therapy.soaked_says, *(met.says if met else ()), *day.says):
        _item(console, as_sentence(line))
    for off in therapy.off_time:
        _item(console, as_sentence(off.says))


def _unit_rows(unit: UnitAnswer) -> Iterable[tuple[str, str]]:
    if unit.period_min is not None:
        cycles = f", {show_number(unit.cycles_per_day, 2)} cycles a day" if unit.cycles_per_day else ""
        yield "Cycle", f"{show_number(unit.period_min)} min{cycles}"
    if unit.solution_ml_per_day is not None:
        yield "Solution", f"{show_number(unit.solution_ml_per_day, 0)} mL a day"
    if unit.canister:
        window = say_span(unit.canister.earliest, unit.canister.latest)
        yield "Canister", f"change {window}; likely {say_time(unit.canister.due)}; plan on the early edge"
    if unit.bag:
        short = f"{show_number(unit.bag.short_ml, 0)} mL short at {say_time(unit.bag.short_at)}"
        yield "Bag", f"{unit.bag.whole_cycles} whole cycles; {short}"


def _say_gate(console: Console, gate: GateState) -> None:
    _heading(console, "Gate")
    _line(console, say_gate(gate))
    for stop in gate.stops:
        key = "" if stop.by_role else f" [{stop.key}]"
        _line(console, f"STOP  {say_stop(stop)}{key}")
    cautions = [f"{caution.says}: yes. Watch: {caution.watch}" for caution in cautions_present(gate)]
    _say_list(console, "Cautions", filter(None, [*cautions, say_unanswered(gate)]))


def _say_list(console: Console, title: str, lines: Iterable[str]) -> None:
    items = tuple(lines)
    if items:
        _heading(console, title)
    for item in items:
        _item(console, item)


def _item(console: Console, text: str) -> None:
    _hanging(console, "  ·  ", text)


def _say_sums(console: Console, sums: tuple[Sum, ...]) -> None:
    for done in sums:
        _hanging(console, "    by hand  ", say_sum(done))


def _heading(console: Console, title: str) -> None:
    console.print()
    console.print(Text(title.upper(), style="bold"))


def _line(console: Console, text: str) -> None:
    console.print(Padding(Text(text), (0, 0, 0, 2)))


def _hanging(console: Console, mark: str, text: str) -> None:
    lines = Text(text).wrap(console, console.width - len(mark))
    console.print(Text(mark + f"\n{' ' * len(mark)}".join(line.plain for line in lines)))


def _pairs() -> Table:
    table = Table.grid(padding=(0, 2, 0, 0))
    table.add_column(no_wrap=True)
    table.add_column()
    return table
