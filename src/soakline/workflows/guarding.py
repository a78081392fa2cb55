"""What must be counted and what must stop beside the gate: anaesthetic, foam, solutions."""

from __future__ import annotations

from soakline.casefile.case import Case
from soakline.errors import Finding
from soakline.guard.anaesthetic import Allowance, allowance, check_anaesthetic
from soakline.guard.change import check_changes
from soakline.guard.foam import Reconciled, check_foam, reconcile
from soakline.guard.solutions import check_solutions
from soakline.settings import Settings


def check_guards(case: Case, settings: Settings) -> list[Finding]:
    """Return what to say about doses, foam and solutions of a case."""
    has_pocket = case.wound is not None and bool(case.wound.undermining or case.wound.pocket or case.wound.tunnel)
    solutions = [unit.solution for unit in case.unit]
    in_tunnels = [piece.name for piece in case.foam if piece.place and _is_in_tunnel(piece.place)]
    return [
        *check_anaesthetic(case.patient, case.anaesthetic, settings.anaesthetic_window_h),
        *(check_foam(case.foam, case.foam_count, in_tunnels) if case.foam else ()),
        *check_changes(case.change, case.foam),
        *check_solutions(solutions, case.dressing, has_pocket=has_pocket),
    ]


def dose_of(case: Case, settings: Settings) -> Allowance | None:
    """Return what is left under the ceiling of the local anaesthetic; None where none is entered."""
    if not case.anaesthetic:
        return None
    return allowance(case.patient, case.anaesthetic, settings.anaesthetic_window_h)


def foam_of(case: Case) -> Reconciled | None:
    """Return how the foam ledger stands; None where no piece was ever entered, which says nothing of the wound."""
    return reconcile(case.foam, case.foam_count) if case.foam else None


def not_entered(case: Case) -> tuple[str, ...]:
    """Return what this case leaves out, so that nothing was looked at."""
    gaps = (
        ("foam inside: no piece is entered", not case.foam),
        ("local anaesthetic: no dose is entered", not case.anaesthetic),
        ("what the skin was prepared with, so which pairs meet", not case.dressing.skin_preparation),
    )
    return tuple(says for says, missing in gaps if missing)


def _is_in_tunnel(place: str) -> bool:
    words = place.lower()
    return "tunnel" in words and "not into" not in words and "outside" not in words
