"""The words every face and paper shares: the caution, shares of a surface, findings, gate, times."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from soakline.errors import Finding, Level
from soakline.guard.foam import Piece
from soakline.guard.gate import Answer, Caution, GateState, Stop
from soakline.layout.compare import Gain
from soakline.layout.search import Standing
from soakline.supplies.stock import Need
from soakline.therapy.clock import say_hours
from soakline.units import Sum, show_number, step_ml
from soakline.workflows.answers import FillAnswer, SuppliesAnswer, WoundAnswer
from soakline.workflows.layout_answers import LayoutAnswer, LayoutKind, WorstTenth
from soakline.wound.clock import HOURS

CAUTION_LINE = "Arithmetic and geometry on typed numbers, tested on no patient. A draft for review, not an order."
CAUTION = (
    (
        "It does arithmetic and geometry on numbers a clinician types in, and shows its working. It is not cleared or "
        "certified by any regulator and has not been tested on patients."
    ),
    (
        "It does not examine, diagnose, prescribe or control equipment. The examining clinician, the prescriber's "
        "order, the hospital's policy and the equipment maker's instructions come first."
    ),
    "Whether a use of it is a regulated medical device is for the organisation to settle before use.",
    (
        "No paper measures how far liquid reaches under spared skin: reach is physics on typed numbers, not evidence "
        "of healing."
    ),
)
REACH_MEANS = (
    "Reach (our word) is how much of the hidden surface a fill soaks: the floor is the wound bed, "
    "the roof the underside of the kept skin."
)
PASSED_MEANS = "Passed: liquid was there at some time of fill or dwell, whether or not it stayed."
MOIST_MEANS = "Or moist: the foam against it holds liquid, though less than soaked."
POCKET_HEIGHT_MEANS = "Pocket height (our word) is the gap between the bed and the underside of the kept skin."

LEVELS: tuple[Level, ...] = ("refuse", "ask", "warn", "note")
NO_NEXT_DAY = "Not told: it needs a unit's fill, dwell and suction times, and when its first cycle started."
_LEVEL_WORDS: dict[Level, str] = {"refuse": "Refused", "ask": "Please confirm", "warn": "Take care", "note": "Note"}
_ANSWER_WORDS: dict[Answer, str] = {"yes": "yes", "no": "no", "unknown": "not answered"}


def say_level(level: Level) -> str:
    """Write how serious a finding is, in words.

    >>> say_level("ask")
    'Please confirm'
    """
    return _LEVEL_WORDS[level]


def in_order(findings: Sequence[Finding]) -> tuple[Finding, ...]:
    """Return the findings with the most serious level first, otherwise in their order."""
    return tuple(sorted(findings, key=lambda finding: LEVELS.index(finding.level)))


def say_model(model: str) -> str:
    """Write how the liquid is taken to move.

    >>> say_model("settled")
    'once settled'
    """
    return "once settled" if model == "settled" else "as it spreads in time"


def step_percent(share: float) -> int:
    """Return a share 0–1 in per cent, in steps of 5: nothing is known closer.

    >>> step_percent(0.47)
    45
    """
    return 5 * int(share * 20 + 0.5)


def say_area(area_cm2: float) -> str:
    """Write an area in cm², to one decimal below 100.

    >>> say_area(28.27), say_area(441.2)
    ('28.3 cm²', '441 cm²')
    """
    return f"{show_number(area_cm2, 1 if area_cm2 < 100 else 0)} cm²"


def say_time(moment: datetime) -> str:
    """Write a local time as a day and a clock reading.

    >>> say_time(datetime(2026, 11, 21, 4, 10))
    'Sat 21 Nov, 04:10'
    """
    return moment.strftime("%a %d %b, %H:%M")


def say_elapsed(elapsed_min: float) -> str:
    """Write a length of time in hours and minutes.

    >>> say_elapsed(135)
    '2 h 15 min'
    """
    return say_hours(elapsed_min)


def say_span(from_time: datetime, to_time: datetime) -> str:
    """Write a window of time; a day that both ends share is written once.

    >>> say_span(datetime(2026, 11, 21, 1, 45), datetime(2026, 11, 21, 7, 10))
    'Sat 21 Nov, 01:45 to 07:10'
    """
    same_day = from_time.date() == to_time.date()
    return f"{say_time(from_time)} to {to_time:%H:%M}" if same_day else f"{say_time(from_time)} to {say_time(to_time)}"


def say_from_ml(volume_ml: float) -> str:
    """Write a volume in mL above which something begins, rounded down to what is known.

    >>> say_from_ml(116.2)
    'about 115 mL'
    """
    step = step_ml(volume_ml)
    return f"about {show_number(volume_ml // step * step, 0)} mL"


def say_fill_range(fill: FillAnswer) -> str | None:
    """Write the range of fills in which reach stops growing, in mL rounded to what is known; None is no answer."""
    if fill.useful_from is None or fill.useful_to is None:
        return None
    step = step_ml(fill.useful_to)
    low, high = (int(step * (volume_ml // step)) for volume_ml in (fill.useful_from + step / 2.0, fill.useful_to))
    return f"{low}–{high} mL" if low < high else f"about {high} mL"


def say_seals(fill: FillAnswer) -> tuple[str, ...]:
    """Write from which fill on liquid stands above the seal, posture by posture, on one line."""
    if len(fill.above_seal) < 2:
        return ()
    return ("above the lowest part of the seal: " + "; ".join(seal.says for seal in fill.above_seal),)


def say_at_hand(needed: Need) -> str:
    """Write what is needed of one part and what is at hand; a part that is not listed is not known.

    >>> say_at_hand(Need("Y connector", 2, 1, "")), say_at_hand(Need("therapy unit", 2, None, ""))
    ('2 needed, 1 at hand', '2 needed, at hand: not listed')
    """
    there = "at hand: not listed" if needed.at_hand_count is None else f"{needed.at_hand_count} at hand"
    return f"{needed.count} needed, {there}"


def say_possible(supplies: SuppliesAnswer) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """Write what is possible with what is there and with one unit fewer: a title each, and its lines."""
    fewer = supplies.one_unit_fewer
    if fewer is not None and supplies.possible is not None and fewer.units == supplies.possible.units:
        fewer = None
    parts = (("With what is there", supplies.possible), ("With one unit fewer", fewer))
    return tuple(
        (title, (*(as_sentence(line) for line in part.says), *(as_sentence(left.says) for left in part.left)))
        for title, part in parts
        if part is not None
    )


def say_doubt(wound: WoundAnswer) -> tuple[str, ...]:
    """Write what the range of the void rests on, what it leaves out, and which measures drive it, two at most."""
    basis = "the extremes, no fill volume follows" if wound.void_basis == "extremes" else wound.void_basis
    named = sorted(wound.driven_by, key=lambda driver: -driver.share)[:2]
    drivers = "driven by " + " and ".join(driver.what for driver in named) if named else None
    return tuple(note for note in (basis, say_not_probed(wound), drivers) if note)


def say_not_probed(wound: WoundAnswer) -> str | None:
    """Write which hours the figures leave out because nobody probed them; None where all were probed."""
    if not wound.not_probed:
        return None
    if len(wound.not_probed) == len(HOURS):
        return "larger if there is undermining: no hour was probed"
    hours = ", ".join(map(str, wound.not_probed))
    return f"larger if there is undermining at {hours} o'clock, not probed"


def say_sum(done: Sum) -> str:
    """Write a sum on one line, so that it can be redone by hand.

    >>> say_sum(Sum("opening", "π × 3²", "28.3 cm²"))
    'opening: π × 3² = 28.3 cm²'
    """
    return f"{done.what}: {done.working} = {done.result}"


def say_answer(asked: Stop | Caution) -> str:
    """Write the answer to a question of the gate; what is not known was answered so, and neither is ever "no".

    >>> say_answer(Stop("eschar", "", "unknown", "")), say_answer(Stop("eschar", "", "unknown", "", is_not_known=True))
    ('not answered', 'not known')
    """
    return "not known" if asked.is_not_known else _ANSWER_WORDS[asked.answer]


def say_stop(stop: Stop) -> str:
    """Write one stop: what it is, what was answered, and each who took it upon themselves, with reason and time."""
    taken = say_answered_for(stop)
    return f"{stop.says}: {say_answer(stop)}" + (f". Answered for by {taken}" if taken else "")


def say_answered_for(stop: Stop) -> str:
    """Write who answered for a stop, the last first; nobody is empty.

    >>> say_answered_for(Stop("eschar", "eschar", "no", "", "surgeon", "dry heel", datetime(2026, 11, 20, 13)))
    'surgeon: dry heel (2026-11-20 13:00)'
    """
    entries = [(stop.by_role, stop.reason, stop.at)] if stop.by_role else []
    entries += [(entry.by_role, entry.reason, entry.at) for entry in reversed(stop.before)]
    return "; before that ".join(
        f"{role}: {reason}" + (f" ({at:%Y-%m-%d %H:%M})" if at else "") for role, reason, at in entries
    )


def say_piece(piece: Piece) -> str:
    """Write one piece inside: its name, its kind, its place, what was trimmed, and who left it in.

    >>> say_piece(Piece("A1", "foam", "left pocket", trimmed="2 cm off"))
    'A1, foam: left pocket; trimmed: 2 cm off'
    """
    said = f"{piece.name}, {piece.kind}: {piece.place or 'place not written'}"
    trimmed = f"; trimmed: {piece.trimmed}" if piece.trimmed else ""
    left = f"; left in by {piece.left_by_role}: {piece.left_reason}" if piece.left_by_role else ""
    return f"{said}{trimmed}{left}"


def say_gate(gate: GateState) -> str:
    """Write how the gate stands, in one sentence."""
    if gate.state == "shut":
        return "Shut: a stop is yes, not known or not answered, and nobody has answered for it."
    if gate.stops:
        return "Open: each stop below was answered for by a named role."
    return "Open: no stop found among the questions asked."


def say_unanswered(gate: GateState) -> str:
    """Write the cautions nobody answered, and those that are not known; empty where each was answered."""
    said = {how: "; ".join(caution.says for caution in which) for how, which in cautions_unanswered(gate).items()}
    return " ".join(f"Cautions {how}, which is not a no: {which}." for how, which in said.items())


def cautions_unanswered(gate: GateState) -> dict[str, tuple[Caution, ...]]:
    """Return the cautions that are "not answered" and those that are "not known", each where there are any."""
    unknown = [caution for caution in gate.cautions if caution.answer == "unknown"]
    by_answer = {how: tuple(one for one in unknown if say_answer(one) == how) for how in ("not answered", "not known")}
    return {how: which for how, which in by_answer.items() if which}


def cautions_present(gate: GateState) -> tuple[Caution, ...]:
    """Return the cautions answered with yes."""
    return tuple(caution for caution in gate.cautions if caution.answer == "yes")


def say_standing(standing: Standing) -> str:
    """Write how a search for layouts stands: what was seen, and who leads in wetted and in soaked floor.

    >>> say_standing(Standing(0.1, 2, 17, (("floor soaked", "at 3"), ("floor wetted", "at 9"))))
    'layouts, 2 wounds seen, 17 places left; wets most: at 9; soaks most: at 3'
    """
    if not standing.leaders:
        return "layouts, first wound"
    leads = dict(standing.leaders)
    seen = f"{standing.wound_count} wound{'s' if standing.wound_count > 1 else ''} seen"
    left = f"{standing.place_count} places left"
    return f"layouts, {seen}, {left}; wets most: {leads['floor wetted']}; soaks most: {leads['floor soaked']}"


def say_layout_name(layout: LayoutAnswer) -> str:
    """Write what a layout is: what it is good at, or what it is shown for."""
    shown: dict[LayoutKind, str] = {
        "searched": "",
        "rule of thumb": "rule of thumb: highest floor",
        "at the opening": "port at the opening",
        "in the file": "layout in the file",
    }
    return "; ".join(filter(None, (shown[layout.kind], *layout.good_at)))


def say_takes(layout: LayoutAnswer) -> str:
    """Write what a layout takes: therapy units, Y connectors, tubes that go under kept skin."""
    counts = (
        (layout.units_needed, "therapy unit", "therapy units"),
        (layout.y_connectors_needed, "Y connector", "Y connectors"),
        (layout.deep_tubes_needed, "tube placed deep", "tubes placed deep"),
    )
    return "takes " + ", ".join(f"{count} {one if count == 1 else more}" for count, one, more in counts if count)


def say_unfed(layout: LayoutAnswer) -> list[str]:
    """Write which instillation ports of a layout no therapy unit of the file fills, and what that means."""
    unfed = [port.name for port in layout.ports if port.kind == "instillation" and port.unit is None]
    if not unfed:
        return []
    says = "it has no unit with a fill in the file and pours nothing until the file has one and the port is on it"
    return [as_sentence(f"{name}: {says}") for name in unfed]


def say_gain(gain: Gain) -> str:
    """Write a gain over plausible wounds in points of the surface: the middle wound, and 5 to 95 %.

    >>> say_gain(Gain(-0.012, 0.21, 0.41))
    '+21 (−1 to +41)'
    """
    low, middle, high = (_points(share) for share in (gain.low, gain.likely, gain.high))
    return f"{middle} ({low} to {high})"


def say_worst(worst: WorstTenth | None) -> tuple[str, str]:
    """Write what is wetted and soaked in all but the worst tenth of plausible wounds, in steps of 5 %."""
    if worst is None:
        return "no kept skin", "no kept skin"
    return f"{step_percent(worst.wetted)} %", f"{step_percent(worst.soaked)} %"


def as_sentence(text: str) -> str:
    """Return words as a sentence: a capital first, a full stop last.

    >>> as_sentence("60 mL is much"), as_sentence("wetting foam is usual.")
    ('60 mL is much.', 'Wetting foam is usual.')
    """
    return text[:1].upper() + text[1:].rstrip(".") + "." if text else ""


def _points(share: float) -> str:
    points = round(100.0 * share)
    return f"{'+' if points > 0 else ''}{show_number(points, 0)}"
