"""Local anaesthetic: the most that the label allows, what was given by every route, and what is left of it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Literal

from soakline.errors import Finding
from soakline.guard.gate import Answer
from soakline.sources import source
from soakline.units import KG_PER_LB, Sum, show_number

DoseState = Literal["given", "asked"]

# As a name of the drug is written: the two generic names of one drug.
_LIDOCAINE = ("lidocaine", "lignocaine")
# Source keys ``anaesthetic.lidocaine_plain``, ``anaesthetic.lidocaine_epinephrine``: mg for each kg, and mg in all.
_PLAIN = (4.5, 300.0, "anaesthetic.lidocaine_plain")
_EPINEPHRINE = (7.0, 500.0, "anaesthetic.lidocaine_epinephrine")
_TOPICAL = "anaesthetic.lidocaine_topical"
# Two entries of one weight may differ by this share and still be one weight (``anaesthetic.two_weights``).
_SAME_WEIGHT_SHARE = 0.05
# A body mass index, kg/m², from which a weight is asked about (``anaesthetic.pounds_by_height``).
_INDEX_ODD, _INDEX_OF_ADULTS = 40.0, 15.0
_MG_PER_ML_OF_PERCENT = 10.0


@dataclass(frozen=True, slots=True)
class Patient:
    """What is known of the patient that speaks for or against a ceiling.

    ``weight_again_kg`` is a second entry; ``weight_confirmed`` says that a person confirmed the weight to be in kg.
    """

    adult: bool | None = None
    pregnant: Answer = "unknown"
    weight_kg: float | None = None
    weight_lb: float | None = None
    weight_again_kg: float | None = None
    weight_confirmed: bool = False
    weighed_on: date | None = None
    height_cm: float | None = None
    conduction_disease: Answer = "unknown"
    liver_failure: Answer = "unknown"
    heart_failure: Answer = "unknown"
    other_anaesthetic: Answer = "unknown"
    elderly_or_debilitated: Answer = "unknown"


@dataclass(frozen=True, slots=True)
class Dose:
    """A local anaesthetic that was given, or is asked for; one whose state nobody wrote counts as given."""

    drug: str
    strength_mg_per_ml: float | None = None
    volume_ml: float | None = None
    epinephrine: bool | None = None
    route: str | None = None
    at: datetime | None = None
    state: DoseState | None = None
    wait_min: float | None = None

    @property
    def dose_mg(self) -> float | None:
        """Return how many mg it holds, all of it counted as absorbed; None where strength or volume is not known.

        Source key ``anaesthetic.absorbed``. What suction brings back is never taken off.
        """
        if self.strength_mg_per_ml is None or self.volume_ml is None:
            return None
        return self.strength_mg_per_ml * self.volume_ml


@dataclass(frozen=True, slots=True)
class Allowance:
    """What is left under the ceiling: whole mg, and whole mL of the strength asked for, both rounded down.

    None throughout where there is no number; ``says`` then tells why. While ``unanswered`` holds anything, exclusions
    that nobody answered or a weight that nothing holds against pounds, the figures are an upper bound alone: above it
    is a stop whatever the answers, below it nothing is allowed before they are given, and no figure stands by itself.
    ``published`` are trials, shown as such.
    """

    ceiling_mg: int | None
    given_mg: int | None
    left_mg: int | None
    left_ml: int | None
    says: str
    unanswered: tuple[str, ...]
    sums: tuple[Sum, ...]
    source: str
    published: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Exclusion:
    key: str
    says: str


_EXCLUSIONS = (
    _Exclusion("conduction_disease", "disease of the heart's conduction"),
    _Exclusion("liver_failure", "liver failure"),
    _Exclusion("heart_failure", "heart failure"),
    _Exclusion("other_anaesthetic", "another local anaesthetic of unknown dose"),
)


def allowance(patient: Patient, doses: Sequence[Dose], window_h: float) -> Allowance:
    """Return the ceiling, what counts against it, and what is left in mg and in whole mL of the strength asked for.

    Doses within ``window_h`` hours before the one asked for (or the last one) are added up, whatever their route; one
    without a time counts. Source keys ``anaesthetic.lidocaine_plain``, ``anaesthetic.lidocaine_epinephrine`` and
    ``anaesthetic.lidocaine_topical``.

    >>> thin = Patient(adult=True, pregnant="no", weight_lb=99, weighed_on=date(2026, 11, 19))
    >>> left = allowance(thin, [Dose("lidocaine", 10, 60, state="asked")], window_h=24)
    >>> left.ceiling_mg, left.left_mg, left.left_ml
    (202, 202, 20)
    """
    against = [says for _, says in no_number(patient, doses)]
    weight_kg = _weight_kg(patient)
    per_kg_mg, most_mg, key = _ceiling_of(doses)
    if against or weight_kg is None:
        return Allowance(None, None, None, None, f"No number: {'; '.join(against)}.", (), (), key, _published())
    ceiling_mg = _down(min(per_kg_mg * weight_kg, most_mg))
    counted = _counted(doses, window_h)
    given_mg = math.ceil(round(sum(dose.dose_mg or 0.0 for dose in counted), 6))
    left_mg = max(0, ceiling_mg - given_mg)
    strength = asked_strength_mg_per_ml(doses)
    left_ml = None if strength is None else _down(left_mg / strength)
    unanswered = (*_unanswered(patient), *(("weight in kg or in lb",) if _may_be_pounds(patient) else ()))
    sums = _work(patient, weight_kg, (per_kg_mg, most_mg), counted, (ceiling_mg, given_mg, left_mg), strength)
    says = " ".join(_say(doses, (ceiling_mg, given_mg, left_mg, left_ml), strength, unanswered, window_h, key))
    return Allowance(ceiling_mg, given_mg, left_mg, left_ml, says, unanswered, tuple(sums), key, _published())


def no_number(patient: Patient, doses: Sequence[Dose]) -> tuple[tuple[str, str], ...]:
    """Return each reason why no number is given, with the key that it rests on; empty where there is none.

    Source key ``anaesthetic.no_number``.

    >>> no_number(Patient(adult=False, pregnant="no", weight_kg=20, weighed_on=date(2026, 11, 19)), [])
    (('patient.adult', 'not an adult'),)
    """
    return (*_against_patient(patient), *_against_weight(patient), *_against_doses(doses))


def check_anaesthetic(patient: Patient, doses: Sequence[Dose], window_h: float) -> tuple[Finding, ...]:
    """Return what to say about the doses: why there is no number, what stops, what is not answered.

    ``window_h`` is in hours, as in ``allowance``.
    """
    return tuple(_findings(patient, doses, window_h)) if doses else ()


def parse_strength(text: str) -> float | str:
    """Return a strength in mg/mL as typed with its unit, or in words why it cannot be read.

    Source key ``anaesthetic.strength``: 1 % is 10 mg/mL.

    >>> parse_strength("0.2 %"), parse_strength("10 mg/mL")
    (2.0, 10.0)
    >>> parse_strength("1")
    '"1" has no unit: 1 % is 10 mg/mL, 1 mg/mL is 0.1 %; write which'
    """
    words = " ".join(text.split())
    for unit, mg_per_ml in (("%", _MG_PER_ML_OF_PERCENT), ("mg/ml", 1.0)):
        if words.lower().endswith(unit):
            value = _positive(words[: -len(unit)])
            return f'"{words}" is not a strength; write it as 1 % or 10 mg/mL' if value is None else value * mg_per_ml
    value = _positive(words)
    if value is None:
        return f'"{words}" is not a strength; write it as 1 % or 10 mg/mL'
    percent, low = show_number(value * _MG_PER_ML_OF_PERCENT), show_number(value / _MG_PER_ML_OF_PERCENT, 3)
    return f'"{words}" has no unit: {words} % is {percent} mg/mL, {words} mg/mL is {low} %; write which'


def say_strength(strength_mg_per_ml: float) -> str:
    """Write a strength as per cent and mg/mL together.

    >>> say_strength(2.0)
    '0.2 % (2 mg/mL)'
    """
    return (
        f"{show_number(strength_mg_per_ml / _MG_PER_ML_OF_PERCENT, 3)} % ({show_number(strength_mg_per_ml, 2)} mg/mL)"
    )


def asked_strength_mg_per_ml(doses: Sequence[Dose]) -> float | None:
    """Return the strength in mg/mL of the last dose asked for, in which what is left is told; None where none is."""
    asked = [dose.strength_mg_per_ml for dose in doses if dose.state == "asked"]
    return next((strength for strength in reversed(asked) if strength), None)


def _against_patient(patient: Patient) -> Iterator[tuple[str, str]]:
    if not patient.adult:
        says = "not stated whether an adult" if patient.adult is None else "not an adult"
        yield "patient.adult", says
    if patient.pregnant != "no":
        yield "patient.pregnant", "pregnant" if patient.pregnant == "yes" else "not stated whether pregnant"
    for exclusion in _EXCLUSIONS:
        if getattr(patient, exclusion.key) == "yes":
            yield f"patient.{exclusion.key}", exclusion.says


def _against_weight(patient: Patient) -> Iterator[tuple[str, str]]:
    where, weight_kg = _weight_key(patient), _weight_kg(patient)
    if weight_kg is None:
        yield where, "no weight with its unit, in kg or in lb"
        return
    if patient.weighed_on is None:
        yield "patient.weighed_on", "no date of weighing"
    for again_kg in _other_entries_kg(patient):
        if abs(again_kg - weight_kg) > _SAME_WEIGHT_SHARE * weight_kg:
            yield where, f"{_kg(weight_kg)} and {_kg(again_kg)} are two weights: kg or lb, which holds?"
    if _fits_pounds(patient) and _may_be_pounds(patient):
        yield where, "the height speaks for a weight in lb; confirm it in kg, or weigh again"


def _unanswered(patient: Patient) -> list[str]:
    return [exclusion.says for exclusion in _EXCLUSIONS if getattr(patient, exclusion.key) == "unknown"]


def _published() -> tuple[str, ...]:
    trials = (source(key) for key in ("anaesthetic.franczyk_2009", "anaesthetic.crossover"))
    return tuple(f"{trial.says} ({trial.citation})" for trial in trials)


def _against_doses(doses: Sequence[Dose]) -> Iterator[tuple[str, str]]:
    for i, dose in enumerate(doses):
        if not _is_lidocaine(dose):
            says = f'"{dose.drug}": no ceiling is cited for it, and none for lidocaine beside it'
            yield f"anaesthetic.{i}.drug", says
        elif dose.state != "asked" and dose.dose_mg is None:
            yield f"anaesthetic.{i}", "a dose was given whose strength or volume is not written"


def _findings(patient: Patient, doses: Sequence[Dose], window_h: float) -> Iterator[Finding]:
    against = no_number(patient, doses)
    yield from (Finding("warn", where, f"no number for a local anaesthetic: {says}") for where, says in against)
    yield from _ask_about_pounds(patient)
    left = allowance(patient, doses, window_h)
    if left.ceiling_mg is None or left.given_mg is None or left.left_mg is None:
        return
    yield from (Finding("warn", where, says) for where, over, says in _judged(doses, left.left_mg) if over)
    for i, dose in enumerate(doses):
        if dose.state is None:
            yield Finding("warn", f"anaesthetic.{i}.state", "given, or asked for? Not written: counted as given")
        if dose.epinephrine is None:
            says = "with epinephrine? Not written: the lower ceiling is taken, without"
            yield Finding("warn", f"anaesthetic.{i}.epinephrine", says)
    if left.given_mg > left.ceiling_mg:
        says = f"STOP: {left.given_mg} mg were given, above the ceiling of {left.ceiling_mg} mg: call. {_first_signs()}"
        yield Finding("warn", "anaesthetic", says)
    if unanswered := _unanswered(patient):
        says = (
            f"not answered: {'; '.join(unanswered)}. Until then the ceiling only stops, it allows nothing; answer "
            "under [patient]"
        )
        yield Finding("warn", "patient", says)
    last = max((dose.at.date() for dose in doses if dose.at), default=None)
    if last and patient.weighed_on and patient.weighed_on > last:
        says = f"weighed {patient.weighed_on:%Y-%m-%d}, after the last dose of {last:%Y-%m-%d}: which day holds?"
        yield Finding("ask", "patient.weighed_on", says)
    if patient.elderly_or_debilitated != "no":
        says = "elderly or debilitated: the label says to reduce, and gives no figure (anaesthetic.lidocaine_topical)"
        yield Finding("warn", "patient.elderly_or_debilitated", says)


def _ask_about_pounds(patient: Patient) -> Iterator[Finding]:
    if patient.weight_kg is None or list(_other_entries_kg(patient)):
        return
    as_pounds = patient.weight_kg * KG_PER_LB
    said = f"{_kg(patient.weight_kg)}: read in kg? In lb it would be {_kg(as_pounds)}"
    if patient.height_cm is None:
        says = f"{said}; write height_cm or a second weighing (weight_again_kg, weight_lb), or confirm"
        yield Finding("ask", "patient.weight_kg", says)
        return
    if _fits_pounds(patient):
        index, index_in_lb = (_index(kg, patient.height_cm) for kg in (patient.weight_kg, as_pounds))
        says = f"{said}; at {show_number(patient.height_cm)} cm that is {index:.0f} or {index_in_lb:.0f} kg/m²"
        yield Finding("ask", "patient.weight_kg", says)


def _may_be_pounds(patient: Patient) -> bool:
    return not patient.weight_confirmed and any(_ask_about_pounds(patient))


def _fits_pounds(patient: Patient) -> bool:
    """Say whether the height speaks for pounds. Source key ``anaesthetic.pounds_by_height``."""
    if patient.weight_kg is None or patient.height_cm is None:
        return False
    index, index_in_lb = (_index(kg, patient.height_cm) for kg in (patient.weight_kg, patient.weight_kg * KG_PER_LB))
    return index >= _INDEX_ODD and index_in_lb >= _INDEX_OF_ADULTS


def _ceiling_of(doses: Sequence[Dose]) -> tuple[float, float, str]:
    """Return mg per kg, mg at most, and the source; the higher ceiling only where every dose has epinephrine."""
    if any("topical" in (dose.route or "").lower() for dose in doses):
        return *_PLAIN[:2], _TOPICAL
    return _EPINEPHRINE if doses and all(dose.epinephrine for dose in doses) else _PLAIN


def _counted(doses: Sequence[Dose], window_h: float) -> list[Dose]:
    given = [dose for dose in doses if dose.state != "asked"]
    times = [dose.at for dose in doses if dose.at is not None and dose.state == "asked"]
    until = max(times or [dose.at for dose in given if dose.at is not None], default=None)
    if until is None or any(dose.at is None for dose in doses if dose.state == "asked"):
        return given
    return [dose for dose in given if dose.at is None or dose.at > until - timedelta(hours=window_h)]


def _work(
    patient: Patient,
    weight_kg: float,
    limits_mg: tuple[float, float],
    counted: Sequence[Dose],
    whole_mg: tuple[int, int, int],
    strength: float | None,
) -> Iterator[Sum]:
    (per_kg_mg, most_mg), (ceiling_mg, given_mg, left_mg) = limits_mg, whole_mg
    if patient.weight_kg is None and patient.weight_lb is not None:
        yield Sum("weight", f"{show_number(patient.weight_lb)} lb × 0.4536", _kg(weight_kg))
    weighed = f", weighed {patient.weighed_on:%Y-%m-%d}" if patient.weighed_on else ""
    by_weight = (
        f"{show_number(per_kg_mg)} mg/kg × {show_number(weight_kg)} kg{weighed} = {per_kg_mg * weight_kg:.0f} mg"
    )
    yield Sum("ceiling", f"the lower of {by_weight} and {most_mg:.0f} mg, rounded down", f"{ceiling_mg} mg")
    for dose in counted:
        yield Sum("given", *_say_dose(dose).rsplit(" = ", 1))
    if counted:
        yield Sum("left", f"{ceiling_mg} − {given_mg}, not below 0", f"{left_mg} mg")
    if strength is not None:
        working = f"{left_mg} mg ÷ {show_number(strength, 2)} mg/mL, rounded down"
        yield Sum("left in the strength asked for", working, f"{_down(left_mg / strength)} mL")


def _say(
    doses: Sequence[Dose],
    whole: tuple[int, int, int, int | None],
    strength: float | None,
    unanswered: Sequence[str],
    window_h: float,
    key: str,
) -> Iterator[str]:
    ceiling_mg, given_mg, left_mg, left_ml = whole
    if unanswered:
        yield f"Not answered: {', '.join(unanswered)}. Until each is, this only stops and allows nothing."
    yield f"Ceiling {ceiling_mg} mg, never a target ({source(key).citation})."
    at_most = "at most " if unanswered else ""
    counted = f"{given_mg} mg given by all routes in {show_number(window_h)} h; {at_most}{left_mg} mg left"
    yield f"{counted}, {left_ml} mL of {say_strength(strength)}." if strength else f"{counted}."
    yield from (f"{says}." for _, _, says in _judged(doses, left_mg))
    yield "Nothing that suction brings back is taken off."
    yield _first_signs()


def _judged(doses: Sequence[Dose], left_mg: int) -> Iterator[tuple[str, bool, str]]:
    """Give each dose asked for, and all together where there are several: its key, whether it is over, and words."""
    asked = [(i, dose, dose.dose_mg) for i, dose in enumerate(doses) if dose.state == "asked" and dose.dose_mg]
    for i, dose, dose_mg in asked:
        yield f"anaesthetic.{i}", dose_mg > left_mg, _against_left(_say_dose(dose), dose_mg, left_mg)
    if len(asked) > 1:
        total_mg = sum(dose_mg for _, _, dose_mg in asked)
        said = f"all that is asked for, {show_number(total_mg)} mg"
        yield "anaesthetic", total_mg > left_mg, _against_left(said, total_mg, left_mg)


def _against_left(said: str, dose_mg: float, left_mg: int) -> str:
    over = dose_mg > left_mg
    return f"STOP: {said}, above the {left_mg} mg left" if over else f"Asked for: {said}, of the {left_mg} mg left"


def _first_signs() -> str:
    return f"First signs: {source('anaesthetic.first_signs').says}."


def _say_dose(dose: Dose) -> str:
    if dose.dose_mg is None or dose.strength_mg_per_ml is None or dose.volume_ml is None:
        return f"{dose.drug}, dose not known"
    return (
        f"{show_number(dose.volume_ml)} mL of {say_strength(dose.strength_mg_per_ml)} = {show_number(dose.dose_mg)} mg"
    )


def _is_lidocaine(dose: Dose) -> bool:
    return any(name in dose.drug.lower() for name in _LIDOCAINE)


def _weight_kg(patient: Patient) -> float | None:
    if patient.weight_kg is not None:
        return patient.weight_kg
    return None if patient.weight_lb is None else patient.weight_lb * KG_PER_LB


def _weight_key(patient: Patient) -> str:
    return "patient.weight_lb" if patient.weight_kg is None and patient.weight_lb is not None else "patient.weight_kg"


def _other_entries_kg(patient: Patient) -> Iterator[float]:
    if patient.weight_again_kg is not None:
        yield patient.weight_again_kg
    if patient.weight_kg is not None and patient.weight_lb is not None:
        yield patient.weight_lb * KG_PER_LB


def _index(weight_kg: float, height_cm: float) -> float:
    return weight_kg / (height_cm / 100.0) ** 2


def _kg(weight_kg: float) -> str:
    return f"{show_number(weight_kg)} kg"


def _down(value: float) -> int:
    # A product such as 0.7 × 10 ends in a last digit of its own: it must not cost a whole mL.
    return math.floor(round(value, 6))


def _positive(text: str) -> float | None:
    try:
        value = float(text.strip())
    except ValueError:
        return None
    return value if math.isfinite(value) and value > 0.0 else None
