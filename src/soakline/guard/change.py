"""The change of the dressing: what is done in which order, and what is not done yet."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

from soakline.errors import Finding
from soakline.guard.anaesthetic import Dose
from soakline.guard.foam import Piece

Looks = Literal["clean", "not clean"]
"""How bed, pocket and kept skin looked at an hour."""


@dataclass(frozen=True, slots=True)
class Probe:
    """What was found at one hour at a change: reach from the edge, pocket height, how it looked; None is not done."""

    clock: float
    reach_cm: float | None = None
    height_cm: float | None = None
    looks: Looks | None = None


@dataclass(frozen=True, slots=True)
class Change:
    """One change: pain scores from 0 to 10 before, during and after, and what was seen and probed; None is not done.

    ``objects_count`` is how many objects lay on the tray after the count out; ``closed_at`` when the new dressing was.
    """

    at: datetime
    by_role: str | None = None
    pain_before: float | None = None
    pain_during: float | None = None
    pain_after: float | None = None
    looked: str | None = None
    probed: str | None = None
    length_cm: float | None = None
    width_cm: float | None = None
    depth_cm: float | None = None
    probe: tuple[Probe, ...] = ()
    objects_count: int | None = None
    closed_at: datetime | None = None


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
    """Return what of a change has not been written down yet, in its order.

    >>> not_done(Change(datetime(2026, 11, 23, 9), pain_before=4, pain_during=6, looked="clean", probed="as before"))
    ('count of objects', 'pain after', 'time of closing')
    """
    steps = (
        ("pain before", change.pain_before),
        ("count of objects", change.objects_count),
        ("look", change.looked),
        ("probe", change.probed or (change.probe or None)),
        ("pain during", change.pain_during),
        ("pain after", change.pain_after),
        ("time of closing", change.closed_at),
    )
    return tuple(name for name, done in steps if done is None)


def check_changes(changes: Sequence[Change], pieces: Sequence[Piece]) -> tuple[Finding, ...]:
    """Return what to say about the objects counted at each change beside the pieces that came out by name.

    A torn piece may lie as several objects, so more objects are asked about only where none came out torn. Source key
    ``counting.rule``.
    """
    return tuple(finding for i, change in enumerate(changes) for finding in _about_objects(i, change, pieces))


def _about_objects(number: int, change: Change, pieces: Sequence[Piece]) -> Iterator[Finding]:
    out = [piece for piece in pieces if piece.out_at == change.at and piece.state in {"out whole", "out torn"}]
    counted = change.objects_count
    if counted is None:
        return
    said = f"{counted} objects counted, {len(out)} pieces out by name"
    where = f"change.{number}.objects_count"
    if counted < len(out):
        yield Finding(
            "warn", where, f"STOP: {said}: which of {', '.join(p.name for p in out)} is not there? Look again"
        )
    elif counted > len(out) and not any(piece.state == "out torn" for piece in out):
        yield Finding("ask", where, f"{said}: lay each object to a name; what has none, and what else went in with it?")
