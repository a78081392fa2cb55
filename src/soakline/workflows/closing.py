"""What a case leaves open when it is closed: foam that is not out or not counted, stops that nobody answered for."""

from __future__ import annotations

from collections.abc import Iterator

from soakline.casefile.case import Case
from soakline.guard.foam import reconcile
from soakline.workflows.answers import Plan
from soakline.workflows.in_words import say_answer


def left_open(case: Case | None, plan: Plan | None) -> tuple[str, ...]:
    """Return what is not resolved, in words, foam first; empty says that foam is out and counted and the gate open.

    >>> left_open(None, None)
    ('the case file is refused: neither foam nor gate could be looked at',)
    """
    if case is None or plan is None:
        return ("the case file is refused: neither foam nor gate could be looked at",)
    return (*_foam(case), *_stops(plan))


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
