"""What is asked of people about a case, subject by subject: each key of the case file in words, and what it takes."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Literal, cast, get_args
from zoneinfo import ZoneInfo

from soakline.casefile.case import Case
from soakline.casefile.write import Value
from soakline.errors import Finding, InputRefused
from soakline.guard.anaesthetic import Dose, DoseState
from soakline.guard.foam import Entry, Piece, PieceKind, enter
from soakline.guard.gate import CAUTIONS, FIRST_CALL, SITE_ASKS, STOPS, AnsweredStop, Asked, find_stops
from soakline.therapy.clock import comes_twice
from soakline.therapy.cycle import TherapyUnit
from soakline.workflows.change import count_of_dressing

Takes = Literal["answer", "number", "words", "range", "time", "day", "yes or no", "one of", "list"]
ENDS = ("low", "likely", "high")
# As many new pieces as one save takes; saving brings empty lines.
_NEW_PIECES = range(6)
_COUNT_KEYS = ("label_count", "note_count", "at", "resolved_by_role")


@dataclass(frozen=True, slots=True)
class Question:
    """One key of the case file in words; ``among`` are the words that a "one of" takes.

    ``is_of_another`` says that what the file holds there is of something else, and is no answer to this.
    """

    key: str
    says: str
    takes: Takes = "words"
    among: tuple[str, ...] = ()
    is_of_another: bool = False

    @property
    def names(self) -> tuple[str, ...]:
        """The fields that it is asked in: one, or three for a range.

        >>> Question("exudate.ml_per_h", "exudate", "range").names[0]
        'exudate.ml_per_h.low'
        """
        return tuple(f"{self.key}.{end}" for end in ENDS) if self.takes == "range" else (self.key,)


@dataclass(frozen=True, slots=True)
class Group:
    """Questions about one thing, under one heading; ``told`` are lines that stand there and are not asked.

    What the file does not hold yet has a ``name`` that its keys begin with here, ``adds_to``, the list it is added to,
    and the ``fixed`` keys that it then gets. ``is_folded`` is opened by who needs it.
    """

    says: str
    questions: tuple[Question, ...]
    told: tuple[str, ...] = ()
    name: str = ""
    adds_to: str = ""
    fixed: Mapping[str, Value] = field(default_factory=dict[str, Value])
    is_folded: bool = False


@dataclass(frozen=True, slots=True)
class Part:
    """One part of a page of questions, with what to know before they are answered."""

    says: str
    groups: tuple[Group, ...]
    note: str = ""


def ask_gate(case: Case, site_asks: Collection[str]) -> tuple[Part, ...]:
    """Return the questions of the gate, the gravest first; of the site's own those it asks for or has answered."""
    found = find_stops(case.wound.tunnel) if case.wound else ()
    site = [one for one in SITE_ASKS if one.key.removesuffix("_missing") in site_asks or one.key in case.gate.answers]
    risks = [one for one in CAUTIONS if one not in FIRST_CALL and one not in SITE_ASKS]
    in_wound = [(_answer_for(case, stop.key), stop.says) for stop in found]
    in_wound = tuple(replace(group, told=(says, *group.told)) for group, says in in_wound)
    parts = (
        Part("First call", tuple(_stop_groups(case, FIRST_CALL)), "One that is yes is called about before all else."),
        Part("Stops", tuple(_stop_groups(case, STOPS)), "One that is yes or not known shuts the gate."),
        Part("Found in the wound", in_wound, "Until its end is felt, or somebody answers for it. Measure asks for it."),
        Part("Cautions", (_answers(risks),), "None of them shuts the gate; each that is yes or not known is listed."),
        Part("What the site asks for", (_answers(site),)),
    )
    return tuple(part for part in parts if any(group.questions for group in part.groups))


def settle_gate(case: Case, changes: dict[str, Value]) -> dict[str, Value]:
    """Return the changes as they are; raises InputRefused where somebody answers for a stop whose answer is no."""
    refused = [
        Finding("refuse", f"{key.removesuffix('.stop')}.by_role", f'"{stop}" is a no: nothing to answer for')
        for key, stop in changes.items()
        if key.startswith("gate.answered.")
        and key.endswith(".stop")
        and changes.get(f"gate.{stop}", case.gate.answers.get(str(stop))) == "no"
    ]
    if refused:
        raise InputRefused(refused)
    return changes


def ask_order(case: Case) -> tuple[Part, ...]:
    """Return the questions of the order: each unit, one more, what the wound gives, how the patient may lie."""
    own = len(case.unit) > 1
    units = [
        Group(f"Unit {unit.name}", tuple(_of_unit(f"unit.{i}", unit, case.time_zone, own=own)))
        for i, unit in enumerate(case.unit)
    ]
    name = Question("new.unit.name", "Its letter")
    more = Group(
        "One more unit" if units else "The unit",
        (name, *_of_unit("new.unit", None, None, own=False)),
        name="new.unit",
        adds_to="unit",
        is_folded=bool(units),
    )
    exudate = Question("exudate.ml_per_h", "Exudate of the whole wound, mL an hour", "range")
    lying = (
        Question("posture.allowed", "Postures allowed, with commas between", "list"),
        Question("posture.turn_every_min", "Longest time in one posture, min", "number"),
    )
    return (
        Part("Therapy units", (*units, more), "As signed. Empty is not given, which is not 0."),
        Part("What the wound gives", (Group("", (exudate,)),), "One number alone goes under likely."),
        Part(
            "How the patient may lie",
            (Group("", lying),),
            "supine, prone, left N and right N (that side down), head up N, head down N, pairs; N in degrees.",
        ),
    )


def ask_dressing(case: Case) -> tuple[Part, ...]:
    """Return the questions of the dressing as it was laid: pieces inside, new ones, label and note, what it meets."""
    inside = [
        Group(piece.name, tuple(_of_piece(f"foam.{i}", piece)))
        for i, piece in enumerate(case.foam)
        if piece.state in {"in", None}
    ]
    laid = (
        Question("laid.placed_at", "Laid at", "time"),
        Question("laid.placed_by_role", "By (role, and whether in theatre)"),
    )
    new = [
        Group(
            f"New piece {row + 1}",
            tuple(_of_new_piece(f"new.foam.{row}")),
            name=f"new.foam.{row}",
            adds_to="foam",
            fixed={"state": "in"},
        )
        for row in _NEW_PIECES
    ]
    counts = (
        Question("foam_count.label_count", "Pieces by the label on the drape", "number"),
        Question("foam_count.note_count", "Pieces by the note", "number"),
        Question("foam_count.at", "Dressing closed at", "time"),
        Question("foam_count.resolved_by_role", "Who settled a difference, by the names (role)"),
    )
    meets = (
        Question("dressing.skin_preparation", "Skin prepared with"),
        Question("dressing.previous_solution", "Instilled before"),
        Question("dressing.foam_material", "Foam is made of"),
        Question("dressing.hung_at", "Solution hung at", "time"),
        Question("dressing.next_change_at", "Next change at", "time"),
        Question("dressing.to_come_count", "Dressings to come in this stay, the next included", "number"),
    )
    parts = (
        Part("Inside by this file", tuple(inside), "What comes out is counted out at the change of dressing."),
        Part(
            "Laid now, piece by piece",
            (Group("For each new piece", laid), *new),
            "Each by a name of its own, contact layers and gauze too. A name is used once in a case.",
        ),
        Part(
            "Label and note",
            (Group("", tuple(replace(one, is_of_another=_is_count_of_another(case)) for one in counts)),),
            "Of label, note and names the highest holds until it is settled.",
        ),
        Part("What the solution meets", (Group("", meets),)),
    )
    return tuple(part for part in parts if part.groups)


def settle_dressing(case: Case, changes: dict[str, Value]) -> dict[str, Value]:
    """Return what is written of a dressing: each new piece gets time and role, counts of an earlier dressing go.

    Raises InputRefused as the ledger does (``guard.foam.enter``), or where no time is given.
    """
    at, by_role = changes.pop("laid.placed_at", None), changes.pop("laid.placed_by_role", None)
    rows = sorted({int(key.split(".")[1]) for key in changes if key.startswith("foam.")} - {*range(len(case.foam))})
    refused: list[Finding] = []
    if rows and not isinstance(at, datetime):
        refused.append(Finding("refuse", "laid.placed_at", "new pieces and no time: write when they were laid"))
    if rows and not by_role:
        refused.append(Finding("refuse", "laid.placed_by_role", "new pieces and no role: write who laid them"))
    if not refused and isinstance(at, datetime):
        refused += _against_ledger(case, changes, rows, at, str(by_role))
        changes |= {
            f"foam.{row}.{key}": now for row in rows for key, now in (("placed_at", at), ("placed_by_role", by_role))
        }
    if refused:
        raise InputRefused(refused)
    if _is_count_of_another(case) and any(key.startswith("foam_count.") for key in changes):
        changes = dict.fromkeys((f"foam_count.{key}" for key in _COUNT_KEYS), None) | changes
    return changes


def _against_ledger(
    case: Case, changes: Mapping[str, Value], rows: Sequence[int], at: datetime, by_role: str
) -> Iterator[Finding]:
    ledger = case.foam
    for row in rows:
        name, kind, place = (changes.get(f"foam.{row}.{key}") for key in ("name", "kind", "place"))
        entry = Entry("placed", str(name or ""), at, by_role, cast("PieceKind", kind), str(place or ""))
        try:
            ledger = enter(ledger, entry)
        except InputRefused as against:
            yield from (replace(one, where=one.where.replace("foam.", f"foam.{row}.")) for one in against.findings)


def _is_count_of_another(case: Case) -> bool:
    return count_of_dressing(case, None) != case.foam_count


def ask_patient(case: Case) -> tuple[Part, ...]:
    """Return what the ceiling of a local anaesthetic waits for: the patient, the weight, each dose, one more."""
    excluded = (
        Question("patient.adult", "18 years or older", "yes or no"),
        Question("patient.pregnant", "Pregnant", "answer"),
        Question("patient.conduction_disease", "Disease of the heart's conduction", "answer"),
        Question("patient.liver_failure", "Liver failure", "answer"),
        Question("patient.heart_failure", "Heart failure", "answer"),
        Question("patient.other_anaesthetic", "Another local anaesthetic of unknown dose was given", "answer"),
        Question("patient.elderly_or_debilitated", "Elderly or debilitated", "answer"),
    )
    weight = (
        Question("patient.weight_kg", "Weight, kg", "number"),
        Question("patient.weight_again_kg", "Weighed again, by another hand or scale, kg", "number"),
        Question("patient.weight_lb", "Weight as a scale in pounds shows it, lb", "number"),
        Question("patient.weighed_on", "Weighed on", "day"),
        Question("patient.height_cm", "Height, cm", "number"),
    )
    doses = [Group(_say_dose(dose), tuple(_of_dose(f"anaesthetic.{i}"))) for i, dose in enumerate(case.anaesthetic)]
    more = Group(
        "One more dose" if doses else "A dose",
        tuple(_of_dose("new.anaesthetic")),
        name="new.anaesthetic",
        adds_to="anaesthetic",
        is_folded=True,
    )
    return (
        Part("Asked before a ceiling is told", (Group("", excluded),), "Neither not known nor not answered is a no."),
        Part("Weight", (Group("", weight),), "A second entry or the height tells kg from lb."),
        Part("Local anaesthetic", (*doses, more), "By all routes, given and asked for."),
    )


def _stop_groups(case: Case, stops: Sequence[Asked]) -> Iterator[Group]:
    for stop in stops:
        yield _answers([stop])
        yield _answer_for(case, stop.key)


def _answers(asked: Sequence[Asked]) -> Group:
    return Group("", tuple(Question(f"gate.{one.key}", _says(one), "answer") for one in asked))


def _says(asked: Asked) -> str:
    """Return the words of a question without what its part says already."""
    words = asked.says.removeprefix("first call: ")
    return words[0].upper() + words[1:]


def _answer_for(case: Case, stop: str) -> Group:
    name = f"answered.{stop}"
    questions = (
        Question(f"{name}.by_role", "By (role, not a name)"),
        Question(f"{name}.reason", "Reason"),
        Question(f"{name}.at", "When", "time"),
    )
    says, told = "A named role answers for it", _told(case, stop)
    return Group(says, questions, told, name, "gate.answered", {"stop": stop}, is_folded=True)


def _told(case: Case, stop: str) -> tuple[str, ...]:
    return tuple(_say_entry(entry) for entry in case.gate.answered if entry.stop == stop)


def _say_entry(entry: AnsweredStop) -> str:
    return f"Answered for by {entry.by_role}: {entry.reason} ({entry.at:%Y-%m-%d %H:%M}); it stays printed"


def _of_unit(place: str, unit: TherapyUnit | None, zone: str | None, *, own: bool) -> Iterator[Question]:
    yield Question(f"{place}.solution", "Solution, with its strength")
    for key, says in (
        ("ordered_fill_ml", "Fill as signed, mL"),
        ("fill_ml", "Fill now, mL"),
        ("fill_min", "Fill runs, min"),
        ("dwell_min", "Soak (dwell), min"),
        ("suction_min", "Negative pressure, min"),
        ("pressure_mmhg", "Pressure, mmHg, with its minus"),
        ("canister_ml", "Canister fitted, mL"),
        ("bag_ml", "Solution bag, mL"),
        ("priming_ml", "Left in the tubing, mL"),
    ):
        yield Question(f"{place}.{key}", says, "number")
    yield Question(f"{place}.started_at", "First cycle started at", "time")
    if unit and (unit.started_again is not None or _comes_twice(unit, zone)):
        yield Question(f"{place}.started_again", "That time comes twice on this night: the second?", "yes or no")
    if unit and (own or unit.exudate):
        yield Question(f"{place}.exudate.ml_per_h", "Exudate of this unit alone, mL an hour", "range")


def _say_dose(dose: Dose) -> str:
    return f"{dose.drug}, {dose.at:%Y-%m-%d %H:%M}" if dose.at else dose.drug


def _of_dose(place: str) -> Iterator[Question]:
    yield Question(f"{place}.drug", "Drug, generic name")
    yield Question(f"{place}.percent", "Strength, %: 1 % is 10 mg/mL", "number")
    yield Question(f"{place}.volume_ml", "Volume, mL", "number")
    yield Question(f"{place}.epinephrine", "With epinephrine", "yes or no")
    yield Question(f"{place}.route", "Route")
    yield Question(f"{place}.at", "At (given, or planned)", "time")
    yield Question(f"{place}.state", "Given, or asked for", "one of", ("", *get_args(DoseState)))
    yield Question(f"{place}.wait_min", "Ordered wait, min", "number")


def _of_piece(place: str, piece: Piece) -> Iterator[Question]:
    yield Question(f"{place}.kind", "Kind", "one of", get_args(PieceKind))
    yield Question(f"{place}.place", "Place")
    yield Question(f"{place}.placed_at", "Laid at", "time")
    yield Question(f"{place}.placed_by_role", "By (role)")
    yield Question(f"{place}.trimmed", "Cut off it")
    if piece.state is None:
        yield Question(f"{place}.state", "Where it is", "one of", ("", "in"))


def _of_new_piece(place: str) -> Iterator[Question]:
    yield Question(f"{place}.name", "Name")
    yield Question(f"{place}.kind", "Kind", "one of", get_args(PieceKind))
    yield Question(f"{place}.place", "Place")
    yield Question(f"{place}.trimmed", "Cut off it")


def _comes_twice(unit: TherapyUnit, zone: str | None) -> bool:
    return bool(unit.started_at and zone and comes_twice(unit.started_at.replace(tzinfo=ZoneInfo(zone))))
