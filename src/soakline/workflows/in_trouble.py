"""In trouble: the site's questions one at a time, with what the case's own numbers say beside each."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from soakline.casefile.case import Case
from soakline.casefile.trouble import trouble_of
from soakline.settings import Settings
from soakline.therapy.trouble import Beside, End, Question, Step, follow
from soakline.units import show_number
from soakline.workflows.answers import Plan
from soakline.workflows.in_words import say_span, say_time

_NO_LOG = "nothing to add up: the log has no two readings of a canister"


def ask(settings: Settings, replies_index: Sequence[int]) -> tuple[tuple[Step, ...], Question | End]:
    """Return the way so far and where it leads; raises ValueError for a reply that is none, InputRefused for the file.

    ``replies_index`` is the place of each reply so far, from 0.
    """
    return follow(trouble_of(settings.trouble), replies_index)


def say_beside(case: Case, plan: Plan | None, what: Beside | None) -> tuple[str, ...]:
    """Return what the case says beside a question, in words; that nothing is known is said too."""
    if what is None or plan is None:
        return ()
    if what == "suction ports":
        return _say_branches(case)
    return _FROM_PLAN[what](plan)


def _say_signs(plan: Plan) -> tuple[str, ...]:
    return plan.balance[-1].stop if plan.balance else ()


def _say_off(plan: Plan) -> tuple[str, ...]:
    off = plan.therapy.off_time if plan.therapy else ()
    return tuple(one.says for one in off) or ("no pause is in the log: how long it was off is not known",)


def _say_canisters(plan: Plan) -> tuple[str, ...]:
    return tuple(
        f"unit {unit.name}: foretold full {say_span(unit.canister.earliest, unit.canister.latest)}"
        if unit.canister
        else f"unit {unit.name}: when the canister is full was not worked out"
        for unit in (plan.therapy.units if plan.therapy else ())
    )


def _say_bags(plan: Plan) -> tuple[str, ...]:
    return tuple(
        f"unit {unit.name}: {unit.bag.whole_cycles} whole cycles, then {show_number(unit.bag.short_ml, 0)} mL short at "
        f"{say_time(unit.bag.short_at)}"
        if unit.bag
        else f"unit {unit.name}: how long the bag lasts was not worked out"
        for unit in (plan.therapy.units if plan.therapy else ())
    )


def _say_balance(plan: Plan) -> tuple[str, ...]:
    return (plan.balance[-1].says.rstrip("."),) if plan.balance else (_NO_LOG,)


def _say_branches(case: Case) -> tuple[str, ...]:
    said: list[str] = []
    for unit in case.unit:
        names = [port.name for port in case.port if port.kind == "suction" and port.unit == unit.name]
        if len(names) > 1:
            said.append(
                f"unit {unit.name} draws through {' and '.join(names)}, joined by a Y connector: one may be shut "
                "while the other draws, without an alarm"
            )
        elif names:
            said.append(f"unit {unit.name} draws through {names[0]} alone")
    return tuple(said) or ("no suction port is in the file",)


_FROM_PLAN: dict[Beside, Callable[[Plan], tuple[str, ...]]] = {
    "signs": _say_signs,
    "balance": _say_balance,
    "off time": _say_off,
    "canister": _say_canisters,
    "bag": _say_bags,
}
