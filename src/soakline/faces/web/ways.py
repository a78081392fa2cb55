"""Which page of a case answers a finding, and where on it."""

from __future__ import annotations

from soakline.record.acting import Deed

# By the start of the dotted key, the longer before the shorter: the page, and who may save it.
_PAGES: tuple[tuple[str, str, Deed], ...] = (
    ("wound.face", "file", "plan"),
    ("wound.part", "file", "plan"),
    ("wound.limb_side", "file", "plan"),
    ("wound.midline_offset_cm", "file", "plan"),
    ("wound.opening.outline_cm", "file", "plan"),
    ("wound.opening.bed", "file", "plan"),
    ("wound.pocket", "file", "plan"),
    ("wound", "measure", "plan"),
    ("gate", "gate", "plan"),
    ("unit", "order", "plan"),
    ("exudate", "order", "plan"),
    ("posture", "order", "plan"),
    ("foam", "dressing", "run"),
    ("foam_count", "dressing", "run"),
    ("dressing", "dressing", "run"),
    ("patient", "patient", "plan"),
    ("anaesthetic", "patient", "plan"),
    ("change", "change", "run"),
    ("log", "shift", "run"),
    ("port", "try", "plan"),
)
_QUESTIONS = frozenset({"gate", "order", "dressing", "patient"})


def way_to(where: str) -> tuple[str, Deed]:
    """Return the address, below that of the case, at which the finding at a dotted key is answered, and the deed.

    >>> way_to("unit.0.fill_ml"), way_to("foam"), way_to("store.0.count")
    (('order#unit.0.fill_ml', 'plan'), ('dressing#foam', 'run'), ('file', 'plan'))
    """
    for start, page, deed in _PAGES:
        if f"{where}.".startswith(f"{start}."):
            return f"{page}#{where}" if page in _QUESTIONS else page, deed
    return "file", "plan"
