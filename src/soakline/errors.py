"""What can be said against an entry, and the errors the program raises.

SoaklineError
├── InputRefused     the case file or an entry cannot be used; carries all findings at once
├── GateShut         a stop is yes or unknown and nobody has answered for it
├── GridRefused      the wound needs more cells than memory is given for
├── StaleRecord      somebody else saved since this copy was read
│   └── CaseClosed   the case is closed: it is read, and reopened before it is changed
├── RecordUnavailable the database cannot be read or written now
└── NotAllowed       whoever acts may not do this
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

Level = Literal["refuse", "ask", "warn", "note"]


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing to say about one entry: how serious, which dotted key, and in words what was given, allowed, to do."""

    level: Level
    where: str
    says: str


class SoaklineError(Exception):
    """The root of every error the program raises on purpose; its text is fit to show."""


class InputRefused(SoaklineError):
    """The entry cannot be used; ``findings`` holds every reason, not the first alone."""

    def __init__(self, findings: Sequence[Finding]) -> None:
        """Keep all findings; the message joins those that refuse."""
        self.findings = tuple(findings)
        super().__init__("; ".join(f"{f.where}: {f.says}" for f in self.findings if f.level == "refuse"))


class GateShut(SoaklineError):
    """A stop is yes or unknown and no named role has answered for it."""


class GridRefused(SoaklineError):
    """The grid asked for would not fit the memory given to one case."""


class StaleRecord(SoaklineError):
    """The record changed since this copy was read."""


class CaseClosed(StaleRecord):
    """The case is closed: it is read, and reopened before it is changed."""


class RecordUnavailable(SoaklineError):
    """The database cannot be read or written now; what was acknowledged before is kept."""


class NotAllowed(SoaklineError):
    """Whoever acts may not do this."""
