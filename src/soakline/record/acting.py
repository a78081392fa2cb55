"""Who acts on the record: the name that stands beside each entry, the wards they see, and what they may do."""

from __future__ import annotations

from collections.abc import Generator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from typing import Literal, get_args

from soakline.errors import NotAllowed

Role = Literal["specialist", "ward", "reader", "administrator"]
ROLES: tuple[Role, ...] = get_args(Role)
Deed = Literal["read", "run", "plan", "people"]
"""Read a case; run its therapy (shift entries, dressing changes); plan (measures, ports, files); look after people."""
MAY: Mapping[Role, frozenset[Deed]] = {
    "specialist": frozenset({"read", "run", "plan"}),
    "ward": frozenset({"read", "run"}),
    "reader": frozenset({"read"}),
    "administrator": frozenset({"people"}),
}
"""Whoever looks after people sees no case: the names and the wounds stay apart."""
_IN_WORDS: Mapping[Deed, str] = {
    "read": "read cases",
    "run": "write down shifts and dressing changes",
    "plan": "measure, plan, and keep or close cases",
    "people": "look after the people who sign in",
}


@dataclass(frozen=True, slots=True)
class Actor:
    """One who acts; ``wards`` None sees every case, ``role`` None may do nothing, ``person_id`` None has no account."""

    name: str
    role: Role | None
    wards: frozenset[str] | None
    person_id: int | None = None

    def may(self, deed: Deed) -> bool:
        """Say whether their role lets them do that."""
        return self.role is not None and deed in MAY[self.role]

    def sees(self, ward: str) -> bool:
        """Say whether a case of that ward is shown to them; one that names no ward is shown who sees every ward."""
        return self.may("read") and (self.wards is None or ward in self.wards)


AT_THIS_COMPUTER = Actor("this computer", "specialist", None)
"""Whoever runs a command here, or opened the address that the command printed: they hold the record itself."""
NOBODY = Actor("nobody signed in", None, frozenset())

_acting: ContextVar[Actor] = ContextVar("acting", default=AT_THIS_COMPUTER)


def acting() -> Actor:
    """Return who acts now."""
    return _acting.get()


def check_may(deed: Deed) -> None:
    """Raise NotAllowed where the role of whoever acts does not let them do that."""
    actor = acting()
    if not actor.may(deed):
        who = " or ".join(role for role in ROLES if deed in MAY[role])
        msg = (
            f"{actor.name}, in the role {actor.role or 'none'}, may not {_IN_WORDS[deed]}. Nothing was changed. "
            f"Who may: {who}"
        )
        raise NotAllowed(msg)


@contextmanager
def acting_as(actor: Actor) -> Generator[None, None, None]:
    """Let ``actor`` act until the block ends; the doors do this for each request."""
    before = _acting.set(actor)
    try:
        yield
    finally:
        _acting.reset(before)
