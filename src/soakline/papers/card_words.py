"""What the bedside card says: one idea a line, verb first, blanks where a hand has to write."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from soakline.casefile.case import Case
from soakline.errors import Finding
from soakline.fluid.posture import Posture
from soakline.guard.anaesthetic import asked_strength_mg_per_ml, say_strength
from soakline.guard.foam import Piece
from soakline.guard.gate import Caution
from soakline.pictures.in_words import say_length, say_pockets
from soakline.pictures.orientation import sides_of, view_of
from soakline.therapy.clock import say_hour
from soakline.therapy.cycle import TherapyUnit
from soakline.units import show_ml, show_number
from soakline.workflows.answers import Plan, UnitAnswer
from soakline.workflows.in_words import (
    as_sentence,
    cautions_unanswered,
    say_from_ml,
    say_level,
    say_not_probed,
    say_stop,
    say_time,
)
from soakline.wound.measurements import Wound

ORDERED_BY = "Ordered by ________"
NOT_AN_ORDER = "Draft for clinician review. Not an order until signed."
TEACHING = "TEACHING — NOT FOR CARE"
_FAR_SIDE = {"left": "; the PATIENT RIGHT is the far side", "right": "; the PATIENT LEFT is the far side"}


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a card: its words, whether they are set strong, and whether a blank to write in follows."""

    words: str
    strong: bool = False
    blank: bool = False


@dataclass(frozen=True, slots=True)
class Section:
    """One numbered section of a card."""

    title: str
    lines: tuple[Line, ...]


def sections(case: Case, plan: Plan, printed_at: datetime) -> dict[str, Section]:
    """Return sections 2 to 15 of the card, but for the picture, by their names in the template."""
    return {
        "stop": Section("2 STOP AND CALL: stop the unit, then call, for any of these", _STOP),
        "size": Section("3 The hidden size", tuple(_size(case, plan))),
        "settings": Section("4 Settings", tuple(_settings(case, plan))),
        "foam": Section("6 Foam inside", tuple(_foam(plan))),
        "lying": Section("7 Lying", tuple(_lying(case, plan))),
        "clock": Section("8 Clock of this shift", tuple(_clock(plan, printed_at))),
        "see": Section("9 What you will see", tuple(_see(plan))),
        "alarm": Section("10 If it alarms", tuple(map(Line, plan.if_it_alarms))),
        "write": Section("11 Write down", _WRITE),
        "off": Section("12 Off time", _OFF),
        "before": Section("13 Before scan, theatre, transport", _BEFORE),
        "change": Section("14 Next change", tuple(_change(case, plan))),
        "call": Section("15 Whom to call", _CALL),
    }


def view_lines(wound: Wound) -> tuple[str, ...]:
    """Return from where the wound is looked at and what lies at 3 and 9 o'clock: the head of every page."""
    sides = sides_of(wound.face, wound.part)
    view = view_of(wound.face, wound.part, wound.limb_side)
    return (
        f"{view[0].upper()}{view[1:]}{_FAR_SIDE.get(wound.face, '')}.",
        f"3 o'clock = {sides.three}.",
        f"9 o'clock = {sides.nine}.",
    )


def written_lines(case: Case, printed_at: datetime) -> tuple[Line, ...]:
    """Return when the card was written, in the case's own zone, and the blank for how long it is valid."""
    zone = ZoneInfo(case.time_zone) if case.time_zone and printed_at.tzinfo else None
    place = f" ({case.time_zone if zone else printed_at.tzname()})" if printed_at.tzinfo else ""
    written = _full_time(printed_at.astimezone(zone) if zone else printed_at)
    return (Line(f"Written {written}{place}. Valid until", blank=True),)


def map_title(one_to: int | None) -> str:
    """Return the title of section 5 with the scale 1 : ``one_to`` that the map is printed at.

    >>> map_title(2)
    '5 The picture: map at 1 : 2'
    """
    return f"5 The picture: map at 1 : {one_to}" if one_to else "5 The picture: no map, the opening is not measured"


def bar_words(one_to: int | None) -> str:
    """Return what stands under the bar of 100 mm, and what it measures on the wound at 1 : ``one_to``."""
    return f"Bar 100 mm (print at 100 %){f' = {10 * one_to} cm of wound' if one_to else ''}"


def gate_lines(plan: Plan) -> tuple[Line, ...]:
    """Return what stays printed of the gate: stops and who answered for them, cautions, how many lack an answer."""
    stops = plan.gate.stops
    open_stops = [stop for stop in stops if not stop.by_role]
    lines = [Line(f"Gate: {say_stop(stop)}.") for stop in stops if stop.by_role]
    if open_stops:
        lines.append(Line(f"GATE NOT ANSWERED: {'; '.join(stop.says for stop in open_stops)}.", strong=True))
    present = [_say_caution(caution) for caution in plan.gate.cautions if caution.answer == "yes"]
    if plan.gate.cautions:
        unanswered = cautions_unanswered(plan.gate).items()
        said = [*present, *(f"{len(which)} {how}, listed in the plan" for how, which in unanswered)]
        lines.append(Line(f"Cautions: {'; '.join(said)}."))
    return tuple(lines)


def _say_caution(caution: Caution) -> str:
    """Write a caution, with what to watch at the bedside where section 2 does not say it in any case."""
    watch = caution.watch.removesuffix(" (gate.watch, practice)")
    return caution.says if watch == caution.watch else f"{caution.says}: watch {watch}"


def _size(case: Case, plan: Plan) -> Iterator[Line]:
    if case.wound is not None:
        yield Line(f"{_say_opening(case.wound)} {say_pockets(case.wound)}")
    if plan.wound is None or plan.wound.void_ml is None:
        yield Line("How much it holds is not known: a measure is missing.", strong=True)
    else:
        extremes = " (extremes, not everything is measured)" if plan.wound.void_basis == "extremes" else ""
        under = "With the pocket under the skin it" if plan.wound.pocket_cm2 else "It"
        unprobed = say_not_probed(plan.wound)
        more = f"; {unprobed}" if unprobed else ""
        yield Line(f"{under} holds {show_ml(plan.wound.void_ml)}{extremes}{more}.", strong=True)
    lift = f"From {say_from_ml(plan.fill_ml.lifts_drape_from)} a fill may lift the drape. " if plan.fill_ml else ""
    yield Line(f"{lift}Change the fill only by order. In doubt pause and call.")


def _say_opening(wound: Wound) -> str:
    opening, depth = wound.opening, f"depth {say_length(wound.opening.depth_cm)}"
    if opening.outline_cm is not None:
        return f"Opening: traced edge, {depth}."
    return f"Opening: length {say_length(opening.length_cm)}, width {say_length(opening.width_cm)}, {depth}."


def _settings(case: Case, plan: Plan) -> Iterator[Line]:
    for index, unit in enumerate(case.unit):
        yield Line(f"{_say_fill(unit)}. {ORDERED_BY}", strong=True)
        yield Line(f"{_say_phases(unit)}. {ORDERED_BY}")
        yield from (
            Line(f"{say_level(said.level)}: {said.says}") for said in plan.findings if _is_open(said, f"unit.{index}")
        )
    yield from (
        Line(f"{say_level(said.level)}: {said.says}", strong=True)
        for said in plan.findings
        if _is_open(said, "dressing")
    )
    if not case.unit:
        yield Line("No unit is charted. Unit, solution, fill, times, suction:", blank=True)
        yield Line(ORDERED_BY)


def _say_fill(unit: TherapyUnit) -> str:
    differs = unit.ordered_fill_ml is not None and unit.ordered_fill_ml != unit.fill_ml
    signed = f" (order signed: {_blank_or(unit.ordered_fill_ml, 'mL')})" if differs else ""
    return (
        f"{_blank_or(unit.fill_ml, 'mL')} each fill{signed}, unit {unit.name}: {unit.solution or 'solution ________'}"
    )


def _say_phases(unit: TherapyUnit) -> str:
    times = (("fill", unit.fill_min), ("dwell", unit.dwell_min), ("suction", unit.suction_min))
    phases = ", ".join(f"{name} {_blank_or(minutes, 'min')}" for name, minutes in times)
    return f"Unit {unit.name}: {phases}, {_blank_or(unit.pressure_mmhg, 'mmHg')} suction"


def _lying(case: Case, plan: Plan) -> Iterator[Line]:
    fewest = plan.turning.for_both if plan.turning else ()
    marked = fewest if len(fewest) < len(case.posture) else ()
    if case.posture:
        said = [f"{_say_posture(posture)}{'*' if posture.name in marked else ''}" for posture in case.posture]
        yield Line(f"Lie: {'; '.join(said)}.{' * fewest for soaking.' if marked else ''}")
    else:
        yield Line("Ask which sides are allowed:", blank=True)
    yield Line("This soak, side:", blank=True)
    yield Line("Next soak, side:", blank=True)
    yield Line("Pressure relief goes before soaking.")


def _say_posture(posture: Posture) -> str:
    said = ["prone"] if posture.prone else []
    if posture.roll_deg:
        said.append(f"{'left' if posture.roll_deg > 0 else 'right'} side down {show_number(abs(posture.roll_deg))}°")
    if posture.tilt_deg:
        said.append(f"head {'up' if posture.tilt_deg > 0 else 'down'} {show_number(abs(posture.tilt_deg))}°")
    return " and ".join(said) or "supine"


def _clock(plan: Plan, printed_at: datetime) -> Iterator[Line]:
    for unit in plan.therapy.units if plan.therapy else ():
        yield from _windows(unit, printed_at)
    yield from _fills(plan, printed_at)


def _fills(plan: Plan, printed_at: datetime) -> Iterator[Line]:
    """Give the fills of the shift in which the card is printed; a blank where the log does not reach it."""
    day = plan.therapy.next_day if plan.therapy else None
    in_zone = printed_at.astimezone(day.begins.tzinfo) if day and printed_at.tzinfo else printed_at
    shift = next((s for s in day.shifts if printed_at.tzinfo and s.starts <= in_zone < s.ends), None) if day else None
    told: dict[str, list[str]] = {}
    for row in shift.rows if shift else ():
        if row.what == "fill" and row.unit:
            told.setdefault(row.unit, []).append(say_hour(row.at))
    for unit, hours in told.items():
        yield Line(f"Unit {unit} fills {', '.join(hours)}.")
    if not told:
        yield Line("Fills start (unit, time):", blank=True)
        yield Line("", blank=True)


def _windows(unit: UnitAnswer, printed_at: datetime) -> Iterator[Line]:
    if unit.canister is not None:
        yield _change_by(f"canister {unit.name}", unit.canister.earliest, printed_at)
    if unit.bag is not None:
        yield _change_by(f"bag {unit.name}", unit.bag.short_at, printed_at)


def _change_by(what: str, moment: datetime, printed_at: datetime) -> Line:
    if printed_at.tzinfo and moment <= printed_at:
        return Line(f"Look at {what} now: its change was due by {say_time(moment)}.", strong=True)
    return Line(f"Change {what} by {say_time(moment)}.")


def _see(plan: Plan) -> Iterator[Line]:
    yield Line("Fill, dwell: no suction, soft foam.")
    yield Line("Suction: the foam draws down; the fill comes back at once, exudate slowly.")
    for unit in plan.therapy.units if plan.therapy else ():
        if unit.solution_ml_per_day is not None:
            yield Line(f"Unit {unit.name} gives {show_number(unit.solution_ml_per_day, 0)} mL in 24 h.")


def _foam(plan: Plan) -> Iterator[Line]:
    if plan.foam is None:
        yield from _FOAM
        return
    if plan.foam.state == "unresolved":
        yield Line(f"STOP: {plan.foam.says}", strong=True)
    names = "; ".join(map(_say_inside, plan.foam.inside))
    yield Line(f"{len(plan.foam.inside)} by name: {names or 'none'}.")
    yield Line("Count out, whole:", blank=True)


def _say_inside(piece: Piece) -> str:
    kind = "" if piece.kind == "foam" else f"{piece.kind}, "
    return f"{piece.name} {kind}{piece.place or 'place not written'}"


def _change(case: Case, plan: Plan) -> Iterator[Line]:
    at = case.dressing.next_change_at
    yield Line(f"{say_time(at)}, by:" if at else "On, by:", blank=True)
    yield from _anaesthetic(case, plan)
    yield from (Line(f"{as_sentence(short.says)}") for short in (plan.supplies.short if plan.supplies else ()))
    if plan.supplies and plan.supplies.order_by:
        yield Line(f"Order by {say_time(plan.supplies.order_by)}.")


def _anaesthetic(case: Case, plan: Plan) -> Iterator[Line]:
    """Give the ceiling where it holds as it stands; where it only stops, or there is none, that and no figure."""
    dose = plan.anaesthetic
    if dose is None:
        return
    if dose.ceiling_mg is None or dose.unanswered:
        yield Line("Local anaesthetic: no ceiling is printed; the plan says why. Ask the prescriber.")
    else:
        strength = asked_strength_mg_per_ml(case.anaesthetic)
        in_ml = f", {dose.left_ml} mL of {say_strength(strength)}" if strength else ""
        yield Line(f"Lidocaine ceiling {dose.ceiling_mg} mg, left {dose.left_mg} mg{in_ml}.")
    yield from (
        Line(as_sentence(said.says), strong=True)
        for said in plan.findings
        if said.where.startswith("anaesthetic") and said.says.startswith("STOP")
    )
    wait_min = next((one.wait_min for one in reversed(case.anaesthetic) if one.wait_min is not None), None)
    if wait_min is not None:
        yield Line(f"Wait ordered: {show_number(wait_min)} min after it is given.")


_STOP = (
    Line("Bright red blood: stop the unit, press, do not pull out the foam, call.", strong=True),
    *(
        Line(words)
        for words in (
            "Green, brown or stool-like fluid",
            "New gas",
            "Suddenly unwell",
            "Numb lips, ringing ears",
            "Black or cold skin",
            "A foam piece missing",
        )
    ),
)
_FOAM = (
    Line("Count in (name, place):", blank=True),
    Line("", blank=True),
    Line("", blank=True),
    Line("Count out, whole:", blank=True),
)
_WRITE = (
    Line("Canister mark, colour, time."),
    Line("Fills missed or changed, pauses, leaks: why."),
)
_OFF = (
    Line("Off so far (h):", blank=True),
    Line("Local limit (h in 24 h):", blank=True),
    Line("Past it: call; dressing off, moist gauze, by policy."),
)
_BEFORE = (
    Line("Say how many foam pieces are inside."),
    Line("Ask who stops and who restarts the unit."),
)
_CALL = (
    Line("Wound nurse:", blank=True),
    Line("Surgeon:", blank=True),
    Line("At night:", blank=True),
)


def _is_open(finding: Finding, where: str) -> bool:
    return finding.level in {"ask", "warn"} and f"{finding.where}.".startswith(f"{where}.")


def _blank_or(value: float | None, unit: str) -> str:
    return f"{'____' if value is None else show_number(value)} {unit}"


def _full_time(moment: datetime) -> str:
    return moment.strftime("%Y-%m-%d %H:%M")
