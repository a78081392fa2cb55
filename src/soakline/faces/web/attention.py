"""What in a case needs somebody's attention, for the list of cases."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

from soakline.errors import Finding, Level
from soakline.faces.web.answers import Answered
from soakline.workflows.in_words import say_time
from soakline.wound.measurements import Wound

Sign = Literal["stop", "overdue", "due", "ask", "measure", "warn"]
# What is looked at first stands first.
_ORDER: tuple[Sign, ...] = ("stop", "overdue", "due", "ask", "measure", "warn")
# What falls due within a shift is told: it is this shift's work (source key ``site.shifts``).
_DUE_WITHIN = timedelta(hours=8)


@dataclass(frozen=True, slots=True)
class Need:
    """One thing that needs attention: its sign, which is a shape, and its words."""

    sign: Sign
    says: str


def needs_of(answered: Answered, now: datetime) -> tuple[Need, ...]:
    """Return what needs attention at an aware time, the gravest first; empty says that nothing was found, no more."""
    found = [*_needs(answered), *_due(answered, now)]
    return tuple(sorted(found, key=lambda need: _ORDER.index(need.sign)))


def urgency(needs: Sequence[Need]) -> tuple[int, ...]:
    """Return a key that sorts cases, what needs attention first.

    >>> urgency([Need("stop", "gate shut")]) < urgency([Need("measure", "depth")]) < urgency([])
    True
    """
    return tuple(-sum(need.sign == sign for need in needs) for sign in _ORDER)


def kind_of(answered: Answered) -> str:
    """Write what kind of wound a case is: part, face and purpose.

    >>> kind_of(Answered(None, None, ()))
    'not readable'
    """
    if answered.case is None:
        return "not readable"
    where = _place(answered.case.wound) if answered.case.wound else "no wound entered"
    return f"{where}, teaching" if answered.case.purpose == "teaching" else where


def _needs(answered: Answered) -> Iterator[Need]:
    plan, findings = answered.plan, answered.findings
    if plan is None:
        yield Need("stop", f"refused: {_count(findings, 'refuse', 'entry', 'entries')}")
        return
    if plan.gate.state == "shut":
        open_count = sum(stop.by_role is None for stop in plan.gate.stops)
        yield Need("stop", f"gate shut: {open_count} {'stop' if open_count == 1 else 'stops'} not answered for")
    if plan.foam and plan.foam.state == "unresolved":
        yield Need("stop", f"foam: {plan.foam.says}")
    if plan.balance:
        yield from (Need("stop", says) for says in plan.balance[-1].stop)
    if plan.next_measurement:
        yield Need("measure", f"measure next: {plan.next_measurement[0].what}")
    if any(finding.level == "ask" for finding in findings):
        yield Need("ask", f"{_count(findings, 'ask', 'entry', 'entries')} to confirm")
    if any(finding.level == "warn" for finding in findings):
        yield Need("warn", f"{_count(findings, 'warn', 'warning', 'warnings')}")


def _due(answered: Answered, now: datetime) -> Iterator[Need]:
    """Yield the canisters and bags whose change is overdue or due, by what was foretold from the last that was written.

    The early edge counts: a change foretold from 01:10 on is overdue at 01:15.
    """
    therapy = answered.plan.therapy if answered.plan else None
    changes = [
        (at, f"{what} {unit.name}")
        for unit in (therapy.units if therapy else ())
        for what, at in (
            ("canister", unit.canister and unit.canister.earliest),
            ("bag", unit.bag and unit.bag.short_at),
        )
        if at and at.tzinfo
    ]
    overdue = [(at, name) for at, name in changes if at <= now]
    due = [(at, name) for at, name in changes if now < at <= now + _DUE_WITHIN]
    if overdue:
        yield Need("overdue", f"overdue: {_names(overdue)}; since {say_time(min(overdue)[0])}")
    if due:
        yield Need("due", f"due: {_names(due)}; by {say_time(min(due)[0])}")


def _names(changes: Sequence[tuple[datetime, str]]) -> str:
    return ", ".join(name for _, name in changes)


def _count(findings: tuple[Finding, ...], level: Level, one: str, many: str) -> str:
    count = sum(finding.level == level for finding in findings)
    return f"{count} {one if count == 1 else many}"


def _place(wound: Wound) -> str:
    limb = f"{wound.limb_side} {wound.part}" if wound.limb_side else wound.part
    return f"{limb}, {wound.face}"
