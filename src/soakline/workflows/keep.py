"""A plan kept as it was given out, and worked out again later from its own text, settings and seed."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from hashlib import sha256
from typing import Any, cast

from soakline import __version__
from soakline.errors import InputRefused
from soakline.guard.gate import STOPS
from soakline.record.plans import KeptPlan, NewPlan, settings_text
from soakline.settings import Settings
from soakline.sources import SOURCES
from soakline.workflows.answers import Plan
from soakline.workflows.as_json import plan_json, refused_json
from soakline.workflows.plan import plan_text

_RESTS_ON = ("canister_share", "anaesthetic_window_h", "seed", "draws", "spacing_cm", "memory_mb")


@dataclass(frozen=True, slots=True)
class Recomputed:
    """A kept plan beside the same worked out now: the top keys of the answer that differ, none where it is the same.

    ``program_version`` and ``rules_version`` are those that gave the kept one.
    """

    plan_id: int
    case_id: int
    version_id: int
    program_version: str
    rules_version: str
    same_rules: bool
    differing_keys: tuple[str, ...]


def plan_to_keep(plan: Plan, settings: Settings) -> NewPlan:
    """Return a plan with all that it rests on, as the record keeps it."""
    rests_on = {name: getattr(settings, name) for name in _RESTS_ON}
    return NewPlan(__version__, rules_version(), settings_text(**rests_on), plan_json(plan))


def recompute(kept: KeptPlan, settings: Settings) -> Recomputed:
    """Work a kept plan out again with the program as it is now, and compare the whole answer, key by key."""
    names = cast("dict[str, Any]", json.loads(kept.settings))
    now = _answer(kept.text, replace(settings, **{name: names[name] for name in _RESTS_ON if name in names}))
    before = cast("dict[str, Any]", json.loads(kept.answer))
    differing = tuple(key for key in dict.fromkeys([*before, *now]) if before.get(key) != now.get(key))
    same_rules = (kept.program_version, kept.rules_version) == (__version__, rules_version())
    return Recomputed(
        kept.id, kept.case_id, kept.version_id, kept.program_version, kept.rules_version, same_rules, differing
    )


def rules_version() -> str:
    """Return a mark that changes with any outside value, its source or a stop of the gate.

    >>> len(rules_version())
    16
    """
    rules = [*(repr(fact) for fact in SOURCES.values()), *(repr(stop) for stop in STOPS)]
    return sha256("\n".join(rules).encode()).hexdigest()[:16]


def _answer(text: str, settings: Settings) -> dict[str, Any]:
    try:
        answer = plan_json(plan_text(text, settings))
    except InputRefused as refused:
        answer = refused_json(refused.findings)
    return json.loads(answer)
