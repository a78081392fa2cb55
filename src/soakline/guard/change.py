"""The change of the dressing: what is done in which order, and what is not done yet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from soakline.guard.anaesthetic import Dose


@dataclass(frozen=True, slots=True)
class Change:
    """One change: pain scores from 0 to 10 before, during and after, and what was seen and probed; None is not done."""

    at: datetime
    by_role: str | None = None
    pain_before: float | None = None
    pain_during: float | None = None
    pain_after: float | None = None
    looked: str | None = None
    probed: str | None = None


def wait_ends(doses: Sequence[Dose]) -> datetime | None:
    """Return when the ordered wait after the last dose given is over; None where no wait or no time was written.

    The wait is the prescriber's: trials differ (``anaesthetic.franczyk_2009``, ``anaesthetic.crossover``).
    """
    ends = [
        dose.at + timedelta(minutes=dose.wait_min)
        for dose in doses
        if dose.state == "given" and dose.at is not None and dose.wait_min is not None
    ]
    return max(ends, default=None)


def not_done(change: Change) -> tuple[str, ...]:
    """Return what of a change has not been written down yet, in its order."""
    steps = (
        ("pain before", change.pain_before),
        ("pain during", change.pain_during),
        ("look", change.looked),
        ("probe", change.probed),
        ("pain after", change.pain_after),
    )
    return tuple(name for name, done in steps if done is None)
