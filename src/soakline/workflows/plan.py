"""The plan: from one case file to the whole answer, or to what stops it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from soakline.casefile.case import Case
from soakline.casefile.read import read_case
from soakline.errors import Finding, GridRefused, InputRefused
from soakline.guard.gate import NOT_CONSIDERED, GateState, Stop, check_gate, find_stops, judge
from soakline.layout.ports import check_ports
from soakline.layout.ports import check_units as check_port_units
from soakline.settings import Settings
from soakline.therapy.cycle import check_units
from soakline.therapy.windows import check_windows
from soakline.units import Range
from soakline.workflows.answers import Picture, Plan, WoundAnswer
from soakline.workflows.hidden_size import (
    Doubt,
    doubt_of,
    lay_out,
    measure_next,
    say_clipped,
    size_of,
    without_doubtful,
)
from soakline.workflows.running import judge_fill, run_units
from soakline.workflows.where_liquid_goes import (
    USUAL_POSTURES,
    Progress,
    Settled,
    fillings,
    say_places,
    settle_all,
)
from soakline.wound.entry import check_wound, with_answers
from soakline.wound.measurements import Wound
from soakline.wound.sheet import Sheet

# What one cell of a grid takes in memory while basins are worked out, measured at about 1 kB.
_BYTES_A_CELL = 1500


def plan_text(text: str | bytes, settings: Settings, progress: Progress | None = None) -> Plan:
    """Read a case file and plan it; raises InputRefused with every finding when it cannot be used."""
    reading = read_case(text)
    if reading.case is None:
        raise InputRefused(reading.findings)
    return plan_case(reading.case, reading.findings, settings, progress)


def check_text(text: str | bytes) -> tuple[Finding, ...]:
    """Return all findings of a case file, refused or not, without planning anything."""
    reading = read_case(text)
    if reading.case is None:
        return reading.findings
    sheet = _sheet_of(reading.case, reading.findings)
    return (*reading.findings, *_check(reading.case, sheet, _found_stops(reading.case)))


def plan_case(
    case: Case, read_findings: Sequence[Finding], settings: Settings, progress: Progress | None = None
) -> Plan:
    """Plan a case that was read: findings and gate first; a shut gate (but for teaching) leaves those alone.

    ``progress`` is told the share done (0–1) and may raise to stop. Raises InputRefused with every finding.
    """
    stops = _found_stops(case)
    sheet = _sheet_of(case, read_findings)
    findings = [*read_findings, *_check(case, sheet, stops)]
    if any(found.level == "refuse" for found in findings):
        raise InputRefused(findings)
    gate = judge(case.gate, stops)
    if gate.state == "shut" and case.purpose == "care":
        return _shut(case, findings, gate)
    return _planned(case, sheet, findings, gate, settings, progress)


def _check(case: Case, sheet: Sheet | None, stops: Sequence[Stop]) -> list[Finding]:
    findings = [*check_gate(case.gate, stops), *_check_shape(case, sheet)]
    findings += check_port_units(case.port, [unit.name for unit in case.unit])
    findings += check_units(case.unit, case.exudate)
    findings += check_windows(case.unit, case.exudate, case.time_zone)
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
    return Plan(case.label, case.purpose, tuple(findings), gate, None, (), None, (), None, NOT_CONSIDERED, None)


def _planned(
    case: Case,
    sheet: Sheet | None,
    findings: list[Finding],
    gate: GateState,
    settings: Settings,
    progress: Progress | None,
) -> Plan:
    plan = _shut(case, findings, gate)
    plan = replace(plan, therapy=run_units(case.unit, case.exudate, case.time_zone, settings.canister_share))
    if case.wound is None or sheet is None:
        return plan
    doubt = _doubt(case.wound, sheet, case, settings)
    size = size_of(case.wound, sheet, case.assumptions, doubt)
    doubtful = any(found.level == "ask" and found.where.startswith("wound.") for found in findings)
    if doubtful:
        size = without_doubtful(size)
    fill, about_fill = judge_fill(case.unit, size.void_ml if isinstance(size.void_ml, Range) else None)
    settled, about_reach = (None, []) if doubtful else _settled(case, sheet, doubt, size, settings, progress)
    picture = Picture(
        sheet,
        settled.cavity if settled else None,
        case.port,
        settled.maps if settled else (),
        settled.curves if settled else (),
    )
    return replace(
        plan,
        findings=(*findings, *with_answers([*about_fill, *about_reach], case.confirmed)),
        wound=size,
        reach=settled.rows if settled else (),
        fill_ml=fill,
        next_measurement=measure_next(case.wound, doubt, case.assumptions),
        not_considered=(*NOT_CONSIDERED, *_not_computed(case)),
        picture=picture,
    )


def _doubt(wound: Wound, sheet: Sheet, case: Case, settings: Settings) -> Doubt | None:
    """Return plausible wounds, where depth and every pocket height and reach are known; none for a half-known wound."""
    known = sheet.depth_cm is not None and all(part.height_cm is not None for part in sheet.sectors)
    complete = all(entry.reach_cm is not None for entry in wound.undermining)
    return doubt_of(wound, case.assumptions, settings.draws, settings.seed) if known and complete else None


def _settled(
    case: Case, sheet: Sheet, doubt: Doubt | None, size: WoundAnswer, settings: Settings, progress: Progress | None
) -> tuple[Settled | None, list[Finding]]:
    curved = case.assumptions.curvature == "flat" or (case.wound is not None and case.wound.girth_cm is not None)
    if doubt is None or case.wound is None or not curved or not isinstance(size.capacity_ml, Range):
        return None, []
    looked_at = fillings(case.port, case.unit, sheet, size.capacity_ml.likely)
    most_count = settings.memory_mb * 1_000_000 // _BYTES_A_CELL
    try:
        settled = settle_all(
            case.wound, sheet, case.assumptions, case.posture or USUAL_POSTURES, looked_at, doubt.measures,
            settings.spacing_cm, most_count, progress,
        )  # fmt: skip
    except GridRefused as too_large:
        return None, [Finding("warn", "wound", str(too_large))]
    says = (
        "settled model: liquid finds its level through open foam, and wicking is not counted; where the port lies "
        f"matters only where pools do not join. Ports: {say_places(looked_at, sheet)}"
    )
    return settled, [Finding("note", "model", says)]


def _not_computed(case: Case) -> tuple[str, ...]:
    return tuple(f"[{section}] in the case file: read and kept, not computed on" for section in case.carried)
