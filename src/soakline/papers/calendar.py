"""The changes and turns of the next 24 hours as a calendar file (iCalendar, RFC 5545)."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from hashlib import sha256

from soakline.pictures.timeline import say_row
from soakline.workflows.answers import NextDay

_TOLD = frozenset({"turn", "canister", "bag", "hang time", "fetch solution", "pain check"})
_LASTS = timedelta(minutes=10)


def make_calendar(label: str, day: NextDay, printed_at: datetime) -> bytes:
    """Return what there is to do in those 24 hours as an iCalendar file; fills run by themselves and are left out."""
    # Loaded where a calendar is asked for: the pages are up before.
    from icalendar import Calendar, Event  # noqa: PLC0415

    calendar = Calendar()
    calendar.add("prodid", "-//Soakline//EN")
    calendar.add("version", "2.0")
    for row in (row for shift in day.shifts for row in shift.rows if row.what in _TOLD):
        said = say_row(row)
        event = Event()
        event.add("uid", f"{sha256(f'{label} {row.at.isoformat()} {said}'.encode()).hexdigest()[:32]}@soakline.invalid")
        event.add("dtstamp", printed_at)
        # In universal time: a local hour that the clocks give twice would be read as its first.
        starts = row.at.astimezone(UTC)
        event.add("dtstart", starts)
        event.add("dtend", starts + _LASTS)
        event.add("summary", f"{label}: {row.says}" + (f" (unit {row.unit})" if row.unit else ""))
        event.add("description", "Draft for clinician review. Not an order until signed.")
        calendar.add_component(event)
    return calendar.to_ical()
