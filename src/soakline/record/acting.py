"""Who acts on the record: the name that stands beside each entry, the wards they see, and whether they may write."""

from __future__ import annotations

from collections.abc import Generator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from typing import Literal

Role = Literal["specialist", "ward", "reader", "administrator"]
ROLES: tuple[Role, ...] = ("specialist", "ward", "reader", "administrator")


@dataclass(frozen=True, slots=True)
class Actor:
    """One who acts; ``wards`` None sees every case. An actor without a role has not signed in and sees nothing."""

    name: str
    role: Role | None
    wards: frozenset[str] | None
    account_id: int | None = None

    @property
    def may_write(self) -> bool:
        """Whether they may keep or change a case."""
        return self.role in {"specialist", "ward"}

    def sees(self, ward: str) -> bool:
        """Say whether a case of that ward is shown to them."""
        return self.wards is None or ward in self.wards


AT_THIS_COMPUTER = Actor("this computer", "specialist", None)
"""Whoever runs a command here, or opened the address that the command printed: they hold the record itself."""
NOBODY = Actor("nobody signed in", None, frozenset())

_acting: ContextVar[Actor] = ContextVar("acting", default=AT_THIS_COMPUTER)


def acting() -> Actor:
    """Return who acts now."""
    return _acting.get()


@contextmanager
def acting_as(actor: Actor) -> Generator[None, None, None]:
    """Let ``actor`` act until the block ends; the doors do this for each request."""
    before = _acting.set(actor)
    try:
        yield
    finally:
        _acting.reset(before)
