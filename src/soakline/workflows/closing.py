"""What a case leaves open when it is closed, and what closing and opening again may not lack."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import get_args

from soakline.casefile.case import Case
from soakline.errors import Finding
from soakline.guard.foam import reconcile
from soakline.record.cases import ClosedKind
from soakline.workflows.answers import Plan
from soakline.workflows.in_words import say_answer

_MOST_LETTERS = 2_000


def left_open(case: Case | None, plan: Plan | None) -> tuple[str, ...]:
    """Return what is not resolved, in words, foam first; empty says that foam is out and counted and the gate open.

    >>> left_open(None, None)
    ('the case file is refused: neither foam nor gate could be looked at',)
    """
    if case is None or plan is None:
        return ("the case file is refused: neither foam nor gate could be looked at",)
    return (*_foam(case), *_stops(plan))


def against_closing(kind: str, says: str, by_role: str, still: Sequence[str], *, is_known: bool) -> tuple[Finding, ...]:
    """Return what keeps a case from being closed, under ``kind``, ``known``, ``says`` and ``by_role``.

    What is ``still`` open is never closed over unsaid: it must be known, and the words say why all the same.

    >>> [found.where for found in against_closing("died", "", "", ["foam"], is_known=False)]
    ['known', 'says', 'by_role']
    """
    found: list[Finding] = []
    if kind not in get_args(ClosedKind):
        says_kind = f"no reason chosen: choose one of {', '.join(get_args(ClosedKind))}"
        found.append(Finding("refuse", "kind", says_kind))
    if still and not is_known:
        says_known = "something is left open: read it above, then tick that it is known, or resolve it first"
        found.append(Finding("refuse", "known", says_known))
    return (*found, *_against_words(says, is_needed=bool(still) or kind == "other"), *_against_role(by_role))


def against_reopening(says: str, by_role: str) -> tuple[Finding, ...]:
    """Return what keeps a case from being opened again, under ``says`` and ``by_role``.

    >>> against_reopening("the edge came apart", "surgeon")
    ()
    """
    return (*_against_words(says, is_needed=True), *_against_role(by_role))


def _against_words(says: str, *, is_needed: bool) -> Iterator[Finding]:
    if is_needed and not says:
        yield Finding("refuse", "says", "no words: say why, for whoever opens the case later")
    if len(says) > _MOST_LETTERS:
        yield Finding("refuse", "says", f"{len(says):,} letters given; at most {_MOST_LETTERS:,} are kept: shorten it")


def _against_role(by_role: str) -> Iterator[Finding]:
    if not by_role:
        yield Finding("refuse", "by_role", "nobody named: write the role of whoever decides it")
    if len(by_role) > _MOST_LETTERS:
        yield Finding("refuse", "by_role", f"{len(by_role):,} letters given: a role is a word or two")


def _foam(case: Case) -> Iterator[str]:
    if not case.foam:
        yield "no piece of foam was ever entered: it is not known what lies inside"
        return
    found = reconcile(case.foam, case.foam_count)
    if found.state == "unresolved":
        yield f"foam count unresolved: {found.says}"
    elif found.inside:
        yield f"foam still written as inside: {', '.join(piece.name for piece in found.inside)}"


def _stops(plan: Plan) -> Iterator[str]:
    for stop in plan.gate.stops:
        if stop.by_role is None:
            yield f"gate shut: {stop.says}: {say_answer(stop)}, not answered for"
