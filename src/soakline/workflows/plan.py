"""The plan: from one case file to the whole answer, or to what stops it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace

from soakline.casefile.case import Case
from soakline.casefile.catalogue import catalogue_of
from soakline.casefile.read import Reading, read_case
from soakline.casefile.trouble import trouble_of
from soakline.errors import Finding, GridRefused, InputRefused, Level
from soakline.fluid.posture import Posture
from soakline.fluid.reach import Model
from soakline.fluid.spread import Soak
from soakline.guard.gate import NOT_CONSIDERED, GateState, Stop, check_gate, find_stops, judge
from soakline.layout.ensemble import Filling, Progress
from soakline.layout.ports import check_ports
from soakline.layout.ports import check_units as check_port_units
from soakline.settings import Settings
from soakline.supplies.catalogue import check_offers, with_catalogue
from soakline.supplies.stock import check_store
from soakline.therapy.cycle import check_units
from soakline.therapy.logbook import read_log
from soakline.therapy.turns import Turning
from soakline.therapy.windows import check_windows
from soakline.units import Range
from soakline.workflows.answers import Measurement, Picture, Plan, WoundAnswer
from soakline.workflows.guarding import check_guards, dose_of, foam_of, not_entered, solutions_of
from soakline.workflows.hidden_size import (
    Doubt,
    doubt_of,
    largest_void_ml,
    lay_out,
    measure_next,
    say_clipped,
    size_of,
    without_doubtful,
)
from soakline.workflows.lying_and_filling import fill_all, refuse_fill, turn_about, with_fill_range
from soakline.workflows.progress import progress_of
from soakline.workflows.running import judge_fill, run_units
from soakline.workflows.shift import (
    Running,
    balance_of,
    in_order_of_soaking,
    keep_in_step,
    next_day,
    soaked_today,
    with_shift,
)
from soakline.workflows.suction_side import suction_side
from soakline.workflows.what_is_left import Tried
from soakline.workflows.what_it_takes import (
    check_order_by,
    check_port_count,
    supply,
    supply_layout,
    with_order,
)
from soakline.workflows.where_liquid_goes import (
    BOTH,
    USUAL_POSTURES,
    Looking,
    Reached,
    fillings,
    look,
    say_changed_fill,
    say_places,
)
from soakline.workflows.where_ports_go import NOT_SEARCHED, Searched, Searching, Told, search_layouts
from soakline.workflows.whole_day import whole_day
from soakline.wound.entry import check_wound, with_answers
from soakline.wound.measurements import Assumptions, Wound
from soakline.wound.sheet import Sheet

# What one cell of a grid takes in memory while basins are worked out, measured at about 1 kB.
_BYTES_A_CELL = 1500


@dataclass(frozen=True, slots=True)
class Asked:
    """What is asked of a plan beyond the usual: which models, and whether to work long for ranges of spread.

    ``executor`` shares the work on plausible wounds; ``progress`` is told the share done (0–1) of the ranges and
    ``told`` how the search for layouts stands; both may raise to stop.
    """

    models: tuple[Model, ...] = BOTH
    search: bool = False
    executor: Executor | None = None
    progress: Progress | None = None
    told: Told | None = None


def plan_text(text: str | bytes, settings: Settings, asked: Asked = Asked()) -> Plan:
    """Read a case file and plan it; raises InputRefused with every finding when it cannot be used."""
    reading = read_case(text)
    if reading.case is None:
        raise InputRefused(refused_findings(reading))
    return plan_case(reading.case, reading.findings, settings, asked)


def check_text(text: str | bytes) -> tuple[Finding, ...]:
    """Return all findings of a case file, refused or not, without planning anything."""
    reading = read_case(text)
    if reading.case is None:
        return refused_findings(reading)
    sheet = _sheet_of(reading.case, reading.findings)
    return (*reading.findings, *_check(reading.case, sheet, _found_stops(reading.case)))


def refused_findings(reading: Reading) -> tuple[Finding, ...]:
    """Return every finding of a refused reading: why it was refused, and what refuses or is asked in the rest."""
    if reading.rest is None:
        return reading.findings
    sheet = _sheet_of(reading.rest, ())
    found = _check(reading.rest, sheet, _found_stops(reading.rest))
    more = [f for f in found if f.level in {"refuse", "ask"} and not _touches(f.where, reading.refused_keys)]
    return (*reading.findings, *(f for f in more if f not in reading.findings))


def plan_case(case: Case, read_findings: Sequence[Finding], settings: Settings, asked: Asked = Asked()) -> Plan:
    """Plan a case that was read: findings and gate first; a shut gate (but for teaching) leaves those and foam inside.

    Raises InputRefused with every finding when the case cannot be used.
    """
    case = replace(case, store=with_catalogue(case.store, catalogue_of(settings.catalogue)))
    stops = _found_stops(case)
    sheet = _sheet_of(case, read_findings)
    findings = [*read_findings, *_check(case, sheet, stops)]
    findings += with_answers(check_guards(case, settings), case.confirmed)
    findings += check_order_by(case.dressing.next_change_at, settings.delivery_h)
    if any(found.level == "refuse" for found in findings):
        raise InputRefused(findings)
    gate = judge(case.gate, stops, settings.site_asks)
    if gate.state == "shut" and case.purpose == "care":
        return _shut(case, findings, gate)
    plan = _planned(case, sheet, findings, gate, settings, asked)
    plan = replace(plan, if_it_alarms=trouble_of(settings.trouble).card)
    # Without reach, as for a glance, nothing is ordered: the cheapest way takes a solver.
    if plan.supplies and asked.models:
        plan = replace(plan, supplies=with_order(plan.supplies, case, settings))
    return replace(plan, findings=(*plan.findings, *_answers_to_nothing(case, plan.findings)))


def _answers_to_nothing(case: Case, findings: Sequence[Finding]) -> list[Finding]:
    """Point out the keys under ``confirmed`` that no question of this case stands at."""
    asked = {found.where for found in findings}
    says = '"{}": no question of this case stands at this key; look at its spelling, or take it out'
    return [Finding("note", "confirmed", says.format(key)) for key in sorted(case.confirmed - asked)]


def _touches(where: str, keys: Sequence[str]) -> bool:
    return any(f"{key}.".startswith(f"{where}.") or f"{where}.".startswith(f"{key}.") for key in keys)


def _check(case: Case, sheet: Sheet | None, stops: Sequence[Stop]) -> list[Finding]:
    findings = [*check_gate(case.gate, stops), *_check_shape(case, sheet)]
    findings += check_port_units(case.port, [unit.name for unit in case.unit])
    findings += [*check_port_count(case.port), *check_store(case.store), *check_offers(case.store)]
    findings += check_units(case.unit, case.exudate)
    findings += check_windows(case.unit, case.exudate, case.time_zone)
    findings += read_log(case.log, case.unit, case.time_zone).findings
    if not case.posture:
        names = ", ".join(posture.name for posture in USUAL_POSTURES)
        findings.append(Finding("warn", "posture.allowed", f"no posture given: shown are {names}; allow what applies"))
    return with_answers(findings, case.confirmed)


def _check_shape(case: Case, sheet: Sheet | None) -> list[Finding]:
    if case.wound is None:
        return [Finding("warn", "wound", "no wound in the file: measure the opening, its depth and the undermining")]
    findings = [*check_wound(case.wound, case.assumptions, case.confirmed), *say_clipped(case.wound)]
    return [*findings, *check_ports(case.port, sheet)] if sheet is not None else findings


def _sheet_of(case: Case, read_findings: Sequence[Finding]) -> Sheet | None:
    """Return the sheet, where the wound can be drawn at all; a refused measure is not drawn."""
    if case.wound is None:
        return None
    findings = [*read_findings, *check_wound(case.wound, case.assumptions, case.confirmed)]
    return None if any(found.level == "refuse" for found in findings) else lay_out(case.wound)


def _found_stops(case: Case) -> tuple[Stop, ...]:
    return find_stops(case.wound.tunnel) if case.wound is not None else ()


def _shut(case: Case, findings: Sequence[Finding], gate: GateState) -> Plan:
    return Plan(
        label=case.label,
        purpose=case.purpose,
        findings=tuple(findings),
        gate=gate,
        wound=None,
        reach=(),
        validity=(),
        fill_ml=None,
        layouts=(),
        search=None,
        next_measurement=(),
        turning=None,
        suction=None,
        day=None,
        solutions=None,
        anaesthetic=None,
        # What is inside a patient is told whatever stops the therapy.
        foam=foam_of(case),
        supplies=None,
        therapy=None,
        balance=(),
        progress=(),
        not_considered=NOT_CONSIDERED,
        if_it_alarms=(),
        picture=None,
    )


def _planned(
    case: Case,
    sheet: Sheet | None,
    findings: list[Finding],
    gate: GateState,
    settings: Settings,
    asked: Asked,
) -> Plan:
    plan = _shut(case, findings, gate)
    running = _running(case)
    therapy = run_units(case.unit, case.exudate, case.time_zone, settings.canister_share, running.book)
    plan = replace(
        plan,
        therapy=therapy,
        solutions=solutions_of(case, settings),
        anaesthetic=dose_of(case, settings),
    )
    if case.wound is None or sheet is None:
        return _with_shift(replace(plan, supplies=supply(case.port, case.store, None, None)), case, running, settings)
    doubt = _doubt(case.wound, sheet, case, settings)
    size = size_of(case.wound, sheet, case.assumptions, doubt)
    doubtful = [found.where for found in findings if found.level == "ask" and found.where.startswith("wound.")]
    if doubtful:
        size = without_doubtful(size)
    fill, about_fill = judge_fill(case.unit, size.void_ml if isinstance(size.void_ml, Range) else None)
    # The search first: who waits for it sees soon which places lead, while the rest is still worked out.
    searched = _searched(case, sheet, None if doubtful else doubt, size, settings, asked)
    reached, about_reach = (None, []) if doubtful else _reached(case, sheet, doubt, size, settings, asked)
    about_reach = [*about_reach, *_changed_fill(case, sheet, reached)]
    picture = Picture(
        sheet,
        reached.cavities if reached else {},
        case.port,
        reached.maps if reached else (),
        reached.question if reached else None,
    )
    plan = replace(
        plan,
        findings=(
            *findings,
            *with_answers([*about_fill, *about_reach], case.confirmed),
            *searched.findings,
        ),
        wound=size,
        reach=reached.rows if reached else (),
        validity=reached.validity if reached else (),
        fill_ml=fill,
        layouts=searched.layouts,
        search=searched.search,
        next_measurement=_confirm_first(doubtful) or measure_next(case.wound, doubt, case.assumptions),
        not_considered=(*NOT_CONSIDERED, *not_entered(case)),
        progress=progress_of(case.measured, case.wound, size),
        picture=picture,
    )
    laid = _with_layout(plan, case, sheet, None if doubtful else doubt, reached, asked)
    if asked.search and "spread" in asked.models:
        laid = _with_day(laid, case, picture)
    return _with_shift(laid, case, running, settings, reached)


def _running(case: Case) -> Running:
    turning = Turning(tuple(posture.name for posture in case.posture), case.turn_every_min)
    return Running(case.unit, read_log(case.log, case.unit, case.time_zone), case.time_zone, turning, case.port)


def _with_shift(plan: Plan, case: Case, running: Running, settings: Settings, reached: Reached | None = None) -> Plan:
    """Return the plan with the next 24 h, how the units keep in step, and what the log adds up to."""
    largest = None
    if case.wound is not None and plan.wound is not None and plan.wound.void_ml is not None:
        largest = largest_void_ml(case.wound, case.assumptions)
    days, asked = balance_of(running, largest, settings, case.exudate.ml_per_h, case.confirmed)
    if days and largest is not None and plan.wound is not None and plan.wound.not_probed:
        says = "balance: held against the wound as it was probed; it can hold more where nobody probed"
        asked = (*asked, Finding("note", "log", says))
    plan = replace(plan, findings=(*plan.findings, *with_answers([*asked], case.confirmed)), balance=days)
    if plan.therapy is None:
        return plan
    running = replace(running, turning=in_order_of_soaking(running.turning, plan.turning))
    picture = plan.picture
    met = keep_in_step(running, picture.sheet if picture else None, reached)
    day = next_day(running, plan.therapy.units, settings)
    therapy = with_shift(plan.therapy, running, met, day, settings)
    says = soaked_today(day, running, reached, picture.sheet) if picture else ()
    return replace(plan, therapy=replace(therapy, soaked_says=says))


def _with_day(plan: Plan, case: Case, picture: Picture) -> Plan:
    """Return the plan with a whole day of fills, or the reason why there is none."""
    day = whole_day(case, picture, plan.turning)
    if isinstance(day, str):
        return replace(plan, findings=(*plan.findings, Finding("note", "unit", f"no whole day: {day}")))
    return replace(plan, day=day)


def _with_layout(
    plan: Plan, case: Case, sheet: Sheet, doubt: Doubt | None, reached: Reached | None, asked: Asked
) -> Plan:
    """Return the plan with what lies round the ports: fill range, turning, the suction side, what it takes."""
    wound, assumptions = case.wound, case.assumptions
    if wound is None or plan.wound is None or not asked.models:
        return replace(plan, supplies=supply(case.port, case.store, sheet, None))
    tried, filled, about = None, None, refuse_fill(plan.next_measurement) if plan.fill_ml is None else None
    if doubt is not None and reached is not None and isinstance(plan.wound.capacity_ml, Range):
        looked_at = fillings(case.port, case.unit, sheet, plan.wound.capacity_ml.likely)
        postures = case.posture or USUAL_POSTURES
        tried = _tried(wound, assumptions, looked_at, postures, reached)
        if all(judged.settled for judged in reached.validity):
            filled = fill_all(wound, assumptions, looked_at, postures, doubt.measures, asked.executor)
    fill = plan.fill_ml
    return replace(
        plan,
        findings=(*plan.findings, *([about] if about else [])),
        fill_ml=fill and with_fill_range(fill, filled, sheet, assumptions, plan.wound),
        turning=None if filled is None else turn_about(filled, wound, assumptions, sheet),
        suction=None if reached is None else suction_side(case.port, sheet, wound, assumptions),
        supplies=supply(case.port, case.store, sheet, tried),
    )


def _tried(
    wound: Wound,
    assumptions: Assumptions,
    looked_at: tuple[Filling, ...],
    postures: Sequence[Posture],
    reached: Reached,
) -> Tried | None:
    """Return what other layouts are tried on: the spread model's cavity and maps, or else the settled one's."""
    models: tuple[Model, ...] = ("spread", "settled")
    for model in models:
        if model in reached.cavities:
            cavity = reached.cavities[model]
            return Tried(wound, assumptions, looked_at, tuple(postures), model, cavity, reached.maps)
    return None


def _confirm_first(doubtful: Sequence[str]) -> tuple[Measurement, ...]:
    """Return the measures that nobody has confirmed: what the others would settle rests on them."""
    return tuple(Measurement(f"{key}: confirm it, or measure again", "no volume until then") for key in doubtful)


def _doubt(wound: Wound, sheet: Sheet, case: Case, settings: Settings) -> Doubt | None:
    """Return plausible wounds, where depth and every pocket height and reach are known; none for a half-known wound."""
    known = sheet.depth_cm is not None and all(part.height_cm is not None for part in sheet.sectors)
    complete = all(entry.reach_cm is not None for entry in wound.undermining)
    return doubt_of(wound, case.assumptions, settings.draws, settings.seed) if known and complete else None


def _reached(
    case: Case, sheet: Sheet, doubt: Doubt | None, size: WoundAnswer, settings: Settings, asked: Asked
) -> tuple[Reached | None, list[Finding]]:
    if doubt is None or case.wound is None or not isinstance(size.capacity_ml, Range) or not _is_curved(case):
        return None, []
    looked_at = fillings(case.port, case.unit, sheet, size.capacity_ml.likely)
    most_count = settings.memory_mb * 1_000_000 // _BYTES_A_CELL
    how = Looking(asked.models, settings.spacing_cm, most_count, asked.search, asked.executor, asked.progress)
    postures = case.posture or USUAL_POSTURES
    try:
        reached = look(case.wound, sheet, case.assumptions, postures, looked_at, doubt.measures, how)
    except GridRefused as too_large:
        return None, [Finding("warn", "wound", str(too_large))]
    return reached, list(_about(reached, asked, [filling.soak for filling in looked_at], say_places(looked_at, sheet)))


def _is_curved(case: Case) -> bool:
    """Say whether it is known how the body curves under the wound."""
    return case.assumptions.curvature == "flat" or (case.wound is not None and case.wound.girth_cm is not None)


def _searched(
    case: Case, sheet: Sheet, doubt: Doubt | None, size: WoundAnswer, settings: Settings, asked: Asked
) -> Searched:
    """Return the layouts, where they were asked for and reach can be worked out at all."""
    if not asked.search:
        return NOT_SEARCHED
    if doubt is None or case.wound is None or not isinstance(size.capacity_ml, Range) or not _is_curved(case):
        return replace(NOT_SEARCHED, findings=(_too_little_known(case, sheet),))
    how = Searching(settings.seed, asked.executor, asked.told)
    try:
        found = search_layouts(
            case.wound, case.assumptions, sheet, case.posture, case.port, case.unit, doubt.measures, how
        )
    except GridRefused as too_large:
        return replace(NOT_SEARCHED, findings=(Finding("warn", "wound", f"no layouts searched: {too_large}"),))
    held = (replace(layout, supplies=supply_layout(layout, case.store, sheet)) for layout in found.layouts)
    return replace(found, layouts=tuple(held))


def _too_little_known(case: Case, sheet: Sheet) -> Finding:
    """Say what a search for layouts waits for, by its keys."""
    entries = case.wound.undermining if case.wound else ()
    missing = [
        *(["depth_cm of the opening"] if sheet.depth_cm is None else []),
        *(["reach_cm of an undermining"] if any(entry.reach_cm is None for entry in entries) else []),
        *(["height_cm of a pocket"] if any(part.height_cm is None for part in sheet.sectors) else []),
        *(["girth_cm"] if not _is_curved(case) else []),
    ]
    waits = (
        f"{', '.join(missing)} not known" if missing else "a range for the void, which an entry to confirm holds back"
    )
    return Finding("warn", "wound", f"no layouts searched: they wait for {waits}; see the other findings")


def _changed_fill(case: Case, sheet: Sheet, reached: Reached | None) -> list[Finding]:
    if reached is None:
        return []
    return [Finding("note", "unit", says) for says in say_changed_fill(reached, sheet, case.port, case.unit)]


def _about(reached: Reached, asked: Asked, soaks: Sequence[Soak | None], places: str) -> Iterator[Finding]:
    yield Finding("note", "port", f"looked at: {places}")
    for judged in reached.validity:
        level: Level = "note" if judged.settled else "warn"
        yield Finding(level, "model", f"{judged.port}: {'; '.join(judged.says)}")
    if "spread" in asked.models and None in soaks:
        says = "fill and dwell times are not known: no spread answer; give fill_min and dwell_min of the unit"
        yield Finding("warn", "unit", says)
    if "settled" in asked.models:
        yield Finding(
            "note", "model", "settled: liquid has come to rest, wicking counted; what was rinsed on the way is not told"
        )
    if "spread" in asked.models:
        yield Finding(
            "note", "model", "spread: flow and wicking in time; its foam values are from memory (foam.permeability)"
        )
