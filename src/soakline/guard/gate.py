"""The gate: contraindications that stop a plan until a named role has answered for each."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from difflib import get_close_matches
from typing import Literal

from soakline.errors import Finding
from soakline.units import likely, show_number
from soakline.wound.clock import say_clock
from soakline.wound.measurements import Tunnel

Answer = Literal["yes", "no", "unknown"]

RULES_DATED = date(2026, 11, 25)
"""The day on which the gate's lists and the sources were last gone through."""


@dataclass(frozen=True, slots=True)
class AnsweredStop:
    """A stop that a named role took upon itself, with a reason and a time."""

    stop: str
    by_role: str
    reason: str
    at: datetime


@dataclass(frozen=True, slots=True)
class GateAnswers:
    """What was answered: one answer per stop or caution key (an absent key is unknown), and the stops answered for."""

    answers: dict[str, Answer]
    answered: tuple[AnsweredStop, ...] = ()


@dataclass(frozen=True, slots=True)
class Stop:
    """One stop as it stands: its key, in words, the answer given, and who answered for it, if anybody.

    ``before`` are those who answered for it earlier, in their order: each stays printed beside the last one.
    ``is_not_known`` says of an unknown one that this was the answer; else nobody answered.
    """

    key: str
    says: str
    answer: Answer
    source: str
    by_role: str | None = None
    reason: str | None = None
    at: datetime | None = None
    before: tuple[AnsweredStop, ...] = ()
    is_not_known: bool = False


@dataclass(frozen=True, slots=True)
class Caution:
    """One risk factor that is yes or unknown: its key, in words, the answer given, and what to watch, if cited.

    ``is_not_known`` as in ``Stop``.
    """

    key: str
    says: str
    answer: Answer
    source: str
    watch: str = ""
    is_not_known: bool = False


@dataclass(frozen=True, slots=True)
class GateState:
    """The gate, open or shut; the stops that stand or were ever answered for; the cautions that are not "no"."""

    state: Literal["open", "shut"]
    stops: tuple[Stop, ...]
    cautions: tuple[Caution, ...]


@dataclass(frozen=True, slots=True)
class Asked:
    """One question of the gate, put so that "yes" is the concern: its key, its words, its source key."""

    key: str
    says: str
    source: str


STOPS = (
    Asked("eschar", "necrotic tissue with eschar present", "gate.fda"),
    Asked("untreated_osteomyelitis", "untreated osteomyelitis", "gate.fda"),
    Asked("unexplored_fistula", "non-enteric and unexplored fistula", "gate.fda"),
    Asked("malignancy", "malignancy in the wound", "gate.fda"),
    Asked("exposed_vessels", "exposed vasculature", "gate.fda"),
    Asked("exposed_nerves", "exposed nerves", "gate.fda"),
    Asked("exposed_anastomosis", "exposed anastomotic site", "gate.fda"),
    Asked("exposed_organs", "exposed organs", "gate.fda"),
    Asked("opens_into_cavity", "the wound opens into chest, belly or a joint", "gate.opens_into_cavity"),
)

FIRST_CALL = (
    Asked("unstable", "first call: the patient is unstable", "gate.first_call"),
    Asked("bleeding_now", "first call: the wound is bleeding", "gate.first_call"),
    Asked("bowel_content", "first call: bowel content comes from the wound", "gate.first_call"),
    Asked("unexplored_track", "first call: a track is not explored", "gate.first_call"),
)
"""Red flags: each that is yes is a stop, called about before anything else; one nobody answered is a caution."""

SITE_ASKS = (
    Asked("consent_missing", "consent, as the site asks for it, is missing", "gate.site_asks"),
    Asked("photographs_missing", "photographs, as the site asks for them, are missing", "gate.site_asks"),
)
"""What a site may ask for beside the cited questions; it says which of them in its settings."""

_RISKS = (
    Asked("bleeding_risk", "high risk of bleeding", "gate.fda_risk_factors"),
    Asked("anticoagulant", "anticoagulants or platelet inhibitors", "gate.fda_risk_factors"),
    Asked("fragile_vessels", "friable or infected blood vessels", "gate.fda_risk_factors"),
    Asked("vascular_anastomosis", "vascular anastomosis", "gate.fda_risk_factors"),
    Asked("infected_wound", "infected wound", "gate.fda_risk_factors"),
    Asked("osteomyelitis", "osteomyelitis", "gate.fda_risk_factors"),
    Asked("exposed_tendon", "exposed tendon", "gate.fda_risk_factors"),
    Asked("exposed_ligament", "exposed ligament", "gate.fda_risk_factors"),
    Asked("sharp_edges", "sharp edges (bone fragments)", "gate.fda_risk_factors"),
    Asked("spinal_cord_injury", "spinal cord injury", "gate.fda_risk_factors"),
    Asked("enteric_fistula", "enteric fistula", "gate.fda_risk_factors"),
    Asked("needs_mri", "will need magnetic resonance imaging", "gate.fda_risk_factors"),
    Asked("needs_hyperbaric_chamber", "will need a hyperbaric chamber", "gate.fda_risk_factors"),
    Asked("needs_defibrillation", "may need defibrillation", "gate.fda_risk_factors"),
    Asked("size_and_weight", "patient size and weight of concern", "gate.fda_risk_factors"),
    Asked("near_vagus_nerve", "near the vagus nerve", "gate.fda_risk_factors"),
    Asked("circumferential_dressing", "dressing all round the limb or trunk", "gate.fda_risk_factors"),
    Asked(
        "mode_of_therapy",
        "mode of therapy (intermittent or continuous) of concern",
        "gate.fda_risk_factors",
    ),
    Asked("kept_skin_doubtful", "the kept skin may not be viable", "gate.asked_beside"),
    Asked("dead_tissue_left", "dead tissue is left", "gate.asked_beside"),
    Asked("source_not_controlled", "the source of infection is not controlled", "gate.asked_beside"),
    Asked("allergies", "allergies to solution, dressing or film", "gate.asked_beside"),
)

CAUTIONS = (*FIRST_CALL, *_RISKS, *SITE_ASKS)

_BLEEDING = "bleeding: in all 6 deaths of the 2009 notice (gate.fda_counts); bleeding stops the therapy (therapy.stop)"
_OUTPUT = "output by class: under 200, 200 to 500, over 500 mL a day (fluids.enteric_output)"
_PRACTICE = "(gate.watch, practice)"
# What to watch beside each caution: in the words of a cited fact, or marked as practice.
_WATCH = {
    **dict.fromkeys(("bleeding_risk", "anticoagulant", "fragile_vessels", "vascular_anastomosis"), _BLEEDING),
    "enteric_fistula": _OUTPUT,
    "infected_wound": "no progress stops the therapy (therapy.stop)",
    "kept_skin_doubtful": "in 162 undermined pressure ulcers opening the pocket did better (cases.opening_did_better)",
    "osteomyelitis": f"pus, new pain, fever; is it treated? Untreated it is a stop {_PRACTICE}",
    "exposed_tendon": f"colour and dryness of the tendon at each change; foam not against it {_PRACTICE}",
    "exposed_ligament": f"colour and dryness of the ligament at each change; foam not against it {_PRACTICE}",
    "sharp_edges": f"new bleeding; edges that cut vessels or tubes {_PRACTICE}",
    "spinal_cord_injury": f"sudden sweating, headache, high pressure, slow pulse: stop and call {_PRACTICE}",
    "needs_mri": f"ask whether unit and dressing may go in; who stops and restarts, time off {_PRACTICE}",
    "needs_hyperbaric_chamber": f"ask whether unit and dressing may go in; who stops and restarts {_PRACTICE}",
    "needs_defibrillation": f"whether the dressing lies where the pads go; who takes it off {_PRACTICE}",
    "size_and_weight": f"volume lost in a small body; pressure and turning in a heavy one {_PRACTICE}",
    "near_vagus_nerve": f"slow pulse when suction starts: stop and call {_PRACTICE}",
    "circumferential_dressing": f"colour, warmth, pulse and feeling beyond the dressing {_PRACTICE}",
    "mode_of_therapy": f"pain and seal when suction starts anew {_PRACTICE}",
    "dead_tissue_left": f"colour and smell of the bed; the surgeon's next look {_PRACTICE}",
    "source_not_controlled": f"fever, pulse, spreading redness; the surgeon's next look {_PRACTICE}",
    "allergies": f"rash, itching, breathing during the first fills {_PRACTICE}",
    "consent_missing": f"ask before the next step {_PRACTICE}",
    "photographs_missing": f"taken when the dressing is open {_PRACTICE}",
}

NOT_CONSIDERED = (
    "examination and diagnosis",
    "whether this therapy suits this patient",
    "whether the kept skin lives, and whether it is better kept or opened",
    "choice and strength of the solution, and pairs that nobody tested",
    "doses of any drug but the ceiling of lidocaine",
    "bleeding, infection and how the patient is",
    "foam that nobody entered",
    "the equipment, its alarms and its instructions",
    "nutrition, pressure relief and pain",
    "gas bubbles, clots and blocked foam or tubes",
)

_TUNNEL_KEY = "unexplored_tunnel_at_"
_STOP_KEYS = tuple(asked.key for asked in (*STOPS, *FIRST_CALL))


def judge(
    answers: GateAnswers, found: Sequence[Stop] = (), site_asks: Collection[str] = ("consent", "photographs")
) -> GateState:
    """Return how the gate stands, with ``found`` the stops seen in the wound itself; unanswered is unknown, and shut.

    ``site_asks`` are those of consent and photographs that the site asks for. Sources ``gate.fda``,
    ``gate.fda_risk_factors``, ``gate.opens_into_cavity``, ``gate.asked_beside``, ``gate.first_call``.

    >>> every_stop_no = GateAnswers({asked.key: "no" for asked in STOPS})
    >>> judge(every_stop_no).state, judge(GateAnswers({})).state
    ('open', 'shut')
    """
    taken: dict[str, list[AnsweredStop]] = {}
    for entry in answers.answered:
        if _is_whole(entry):
            taken.setdefault(entry.stop, []).append(entry)
    standing = [*_asked_stops(answers), *found]
    names = {stop.key for stop in standing}
    shut = bool(names - taken.keys())
    # What somebody took upon themselves stays printed, also where the answer or the wound was changed afterwards.
    standing += [_stop_once(key) for key in taken if key not in names and _is_stop(key)]
    stops = tuple(_take_up(stop, taken.get(stop.key, [])) for stop in standing)
    return GateState("shut" if shut else "open", stops, _standing_cautions(answers, site_asks))


def lost_overrides(before: GateAnswers, after: GateAnswers) -> tuple[Finding, ...]:
    """Return what to say of each stop that was answered for before and is not any more, in the same words.

    >>> taken = AnsweredStop("exposed_organs", "surgeon", "covered", datetime(2026, 11, 20, 13))
    >>> lost_overrides(GateAnswers({}, (taken,)), GateAnswers({}))[0].where
    'gate.answered'
    """
    return tuple(
        Finding(
            "refuse",
            "gate.answered",
            f'{entry.by_role} answered for "{entry.stop}" at {entry.at:%Y-%m-%d %H:%M} ({entry.reason}), and that is '
            "gone or changed; such an answer stays printed: put it back as it was, and add a new one below it",
        )
        for entry in before.answered
        if entry not in after.answered
    )


def find_stops(tunnels: Sequence[Tunnel]) -> tuple[Stop, ...]:
    """Return one stop for each hour with a tunnel whose end was not felt, or was not stated to be.

    The key carries the hour (``unexplored_tunnel_at_5``): who answers for one tunnel has not answered for another.
    Source ``therapy.explore_first``.

    >>> find_stops([Tunnel(clock=5, length_cm=9, end_felt=False)])[0].says
    "tunnel at 5 o'clock, 9 cm, end not felt: unexplored: surgeon"
    """
    words: dict[str, list[str]] = {}
    answer: dict[str, Answer] = {}
    for tunnel in tunnels:
        if tunnel.end_felt:
            continue
        key = f"{_TUNNEL_KEY}{tunnel.clock:g}"
        words.setdefault(key, []).append(_say_tunnel(tunnel))
        answer[key] = "yes" if tunnel.end_felt is False else answer.get(key, "unknown")
    return tuple(
        Stop(key, f"{'; '.join(says)}: unexplored: surgeon", answer[key], "therapy.explore_first")
        for key, says in words.items()
    )


def check_gate(answers: GateAnswers, found: Sequence[Stop] = ()) -> tuple[Finding, ...]:
    """Return what to say about the gate's entries: keys nobody asks for, and answers that answer for nothing.

    >>> check_gate(GateAnswers({"escar": "no"}))[0].says
    '"escar" is not asked at the gate; the nearest key is "eschar"'
    """
    asked = [question.key for question in (*STOPS, *CAUTIONS)]
    findings = [
        Finding("refuse", f"gate.{key}", f'"{key}" is not asked at the gate; {_nearest(key, asked)}')
        for key in answers.answers
        if key not in asked
    ]
    findings += [
        Finding("warn", f"gate.{flag.key}", f"STOP and call before anything else; {flag.says}")
        for flag in FIRST_CALL
        if _given(answers, flag) == "yes"
    ]
    standing = {stop.key for stop in (*_asked_stops(answers), *found)}
    for index, entry in enumerate(answers.answered):
        findings += _check_entry(entry, f"gate.answered.{index}", standing)
    return (*findings, *_check_twice(answers.answered))


def _asked_stops(answers: GateAnswers) -> tuple[Stop, ...]:
    flags = [flag for flag in FIRST_CALL if _given(answers, flag) == "yes"]
    asked = [stop for stop in STOPS if _given(answers, stop) != "no"]
    return tuple(
        Stop(one.key, one.says, _given(answers, one), one.source, is_not_known=_is_not_known(answers, one))
        for one in (*flags, *asked)
    )


def _standing_cautions(answers: GateAnswers, site_asks: Collection[str]) -> tuple[Caution, ...]:
    not_asked = {asked.key for asked in SITE_ASKS if asked.key.removesuffix("_missing") not in site_asks}
    listed = [a for a in CAUTIONS if not (a in FIRST_CALL and _given(answers, a) == "yes")]
    return tuple(
        Caution(a.key, a.says, given, a.source, _WATCH[a.key] if given == "yes" else "", _is_not_known(answers, a))
        for a in listed
        if (given := _given(answers, a)) == "yes" or (given == "unknown" and a.key not in not_asked)
    )


def _given(answers: GateAnswers, asked: Asked) -> Answer:
    return answers.answers.get(asked.key, "unknown")


def _is_not_known(answers: GateAnswers, asked: Asked) -> bool:
    return answers.answers.get(asked.key) == "unknown"


def _take_up(stop: Stop, entries: Sequence[AnsweredStop]) -> Stop:
    if not entries:
        return stop
    *before, last = entries
    return replace(stop, by_role=last.by_role, reason=last.reason, at=last.at, before=tuple(before))


def _is_stop(key: str) -> bool:
    return key in _STOP_KEYS or key.startswith(_TUNNEL_KEY)


def _stop_once(key: str) -> Stop:
    """Return a stop that was answered for and does not stand any more."""
    asked = next((asked for asked in (*STOPS, *FIRST_CALL) if asked.key == key), None)
    if asked is not None:
        return Stop(key, asked.says, "no", asked.source)
    hour = key.removeprefix(_TUNNEL_KEY)
    return Stop(key, f"tunnel at {hour} o'clock, unexplored when it was answered for", "no", "therapy.explore_first")


def _is_whole(entry: AnsweredStop) -> bool:
    return bool(entry.by_role.strip() and entry.reason.strip())


def _say_tunnel(tunnel: Tunnel) -> str:
    length = "length not measured" if tunnel.length_cm is None else f"{show_number(likely(tunnel.length_cm))} cm"
    felt = "end not felt" if tunnel.end_felt is False else "not stated whether its end was felt"
    return f"tunnel at {say_clock(tunnel.clock)}, {length}, {felt}"


def _check_entry(entry: AnsweredStop, where: str, standing: Collection[str]) -> list[Finding]:
    findings: list[Finding] = []
    if entry.stop in standing:
        pass
    elif _is_stop(entry.stop):
        says = f'answered for "{entry.stop}", which does not stand as a stop: it stays printed; which holds?'
        findings.append(Finding("ask", f"{where}.stop", says))
    else:
        says = f'"{entry.stop}" is not a stop; {_nearest(entry.stop, [*_STOP_KEYS, *sorted(standing)])}'
        findings.append(Finding("refuse", f"{where}.stop", says))
    for key, word, text in (("by_role", "role", entry.by_role), ("reason", "reason", entry.reason)):
        if not text.strip():
            says = f"a stop is answered for by a named role with a reason; the {word} is empty: write it"
            findings.append(Finding("refuse", f"{where}.{key}", says))
    return findings


def _check_twice(answered: Sequence[AnsweredStop]) -> list[Finding]:
    last = {entry.stop: index for index, entry in enumerate(answered)}
    return [
        Finding(
            "note",
            f"gate.answered.{index}",
            f'"{entry.stop}" is answered for again in gate.answered.{last[entry.stop]}: the last stands, all printed',
        )
        for index, entry in enumerate(answered)
        if last[entry.stop] != index
    ]


def _nearest(key: str, known: Sequence[str]) -> str:
    return f'the nearest key is "{get_close_matches(key, known, n=1, cutoff=0.0)[0]}"'
