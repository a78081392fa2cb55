"""Trouble: one question at a time until what it may be, what to do and whom to call; the questions are data.

Source key ``site.trouble``: common practice, which a site replaces with its own.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from soakline.errors import Finding
from soakline.sources import SOURCES

Beside = Literal["signs", "off time", "balance", "canister", "bag", "suction ports"]
"""What of the case itself may stand beside a question."""


@dataclass(frozen=True, slots=True)
class Reply:
    """One reply to a question, in words, and the question or end that it leads to."""

    says: str
    to: str


@dataclass(frozen=True, slots=True)
class Question:
    """One question, its replies, and what of the case stands beside it, if anything."""

    id: str
    asks: str
    answers: tuple[Reply, ...]
    beside: Beside | None = None


@dataclass(frozen=True, slots=True)
class End:
    """Where questions end: what it may be, what to do, whom to call."""

    id: str
    says: str
    do: tuple[str, ...]
    call: str
    source: str | None = None


@dataclass(frozen=True, slots=True)
class Trouble:
    """All questions and ends of a site, with version and origin; ``card`` are its lines for the bedside card."""

    version: str
    source: str | None
    first: str
    card: tuple[str, ...]
    questions: tuple[Question, ...]
    ends: tuple[End, ...]


@dataclass(frozen=True, slots=True)
class Step:
    """One question that was answered, and by which of its replies."""

    question: Question
    reply: Reply


def follow(trouble: Trouble, replies_index: Sequence[int]) -> tuple[tuple[Step, ...], Question | End]:
    """Return the way that replies, each by its place from 0, lead, and where it leads to.

    Raises ValueError for a reply that its question does not have, or one after the end.

    >>> from soakline.therapy.trouble import End, Question, Reply, Trouble, follow
    >>> asked = Question("a", "Is it red?", (Reply("yes", "z"), Reply("no", "z")))
    >>> follow(Trouble("1", None, "a", (), (asked,), (End("z", "done", (), "nobody"),)), [1])[1].says
    'done'
    """
    places: dict[str, Question | End] = {place.id: place for place in (*trouble.questions, *trouble.ends)}
    now, steps = places[trouble.first], list[Step]()
    for reply_index in replies_index:
        if isinstance(now, End) or not 0 <= reply_index < len(now.answers):
            at = "nothing is asked any more" if isinstance(now, End) else f"allowed are 0 to {len(now.answers) - 1}"
            msg = f"reply {reply_index} after {len(steps)} replies: {at}"
            raise ValueError(msg)
        reply = now.answers[reply_index]
        steps.append(Step(now, reply))
        now = places[reply.to]
    return tuple(steps), now


def check_trouble(trouble: Trouble) -> tuple[Finding, ...]:
    """Return what stands against a site's questions: ways that lead nowhere, round and round, or past the signs."""
    names = [place.id for place in (*trouble.questions, *trouble.ends)]
    findings = [
        _against(f"{name}.id", f'"{name}" names two places; one each: rename one')
        for name in sorted({name for name in names if names.count(name) > 1})
    ]
    by_id = {question.id: question for question in trouble.questions}
    first = by_id.get(trouble.first)
    if first is None:
        findings.append(_against("first", f'"{trouble.first}" is no question; questions are {_list(by_id)}'))
    elif first.beside != "signs":
        says = 'colour, gas and blood are asked before all else: the first question has beside = "signs"'
        findings.append(_against(f"question.{first.id}.beside", says))
    for question in trouble.questions:
        findings += _check_question(question, names)
    findings += [
        _against(f"end.{end.id}.source", f'"{end.source}" is no source of Soakline; leave it out, or name one')
        for end in trouble.ends
        if end.source is not None and end.source not in SOURCES
    ]
    return tuple(findings) or _check_ways(trouble, by_id)


def _check_question(question: Question, names: Sequence[str]) -> list[Finding]:
    where = f"question.{question.id}.answers"
    findings = [
        _against(where, f'"{reply.says}" leads to "{reply.to}", which is neither question nor end')
        for reply in question.answers
        if reply.to not in names
    ]
    if len(question.answers) < 2:
        findings.append(_against(where, f"{len(question.answers)} given; a question has at least two"))
    return findings


def _check_ways(trouble: Trouble, by_id: dict[str, Question]) -> tuple[Finding, ...]:
    """Walk every way from the first question; a site has few enough."""
    reached: set[str] = set()
    loops: list[str] = []

    def walk(name: str, before: tuple[str, ...]) -> None:
        if name in before:
            loops.append(" → ".join((*before[before.index(name) :], name)))
            return
        if name in reached:
            return
        for reply in by_id[name].answers if name in by_id else ():
            walk(reply.to, (*before, name))
        reached.add(name)

    walk(trouble.first, ())
    lost = [place.id for place in (*trouble.questions, *trouble.ends) if place.id not in reached]
    return (
        *(_against("question", f"the questions go round: {loop}; let one of them lead on") for loop in loops),
        *(_against(f"{name}", f'nothing leads to "{name}": lead to it, or take it out') for name in lost),
    )


def _against(where: str, says: str) -> Finding:
    return Finding("refuse", f"trouble.{where}", says)


def _list(names: Iterable[str]) -> str:
    return ", ".join(f'"{name}"' for name in names) or "none"
