"""What must be counted and what must stop beside the gate: anaesthetic, foam, solutions."""

from __future__ import annotations

from dataclasses import fields
from functools import lru_cache
from pathlib import Path

from soakline.casefile.case import Case
from soakline.casefile.formulary import read_formulary
from soakline.casefile.site_file import text_of
from soakline.errors import Finding
from soakline.guard.anaesthetic import Allowance, allowance, check_anaesthetic
from soakline.guard.change import check_changes
from soakline.guard.foam import check_foam, history, label_text, reconcile
from soakline.guard.solutions import SHIPPED, Formulary, check_solutions, meetings
from soakline.settings import Settings
from soakline.workflows.answers import FoamAnswer, SolutionsAnswer


def check_guards(case: Case, settings: Settings) -> list[Finding]:
    """Return what to say about doses, foam and solutions of a case."""
    has_pocket = case.wound is not None and bool(case.wound.undermining or case.wound.pocket or case.wound.tunnel)
    solutions = [unit.solution for unit in case.unit]
    in_tunnels = [piece.name for piece in case.foam if piece.place and _is_in_tunnel(piece.place)]
    return [
        *check_anaesthetic(case.patient, case.anaesthetic, settings.anaesthetic_window_h),
        *(check_foam(case.foam, case.foam_count, in_tunnels) if case.foam else ()),
        *check_changes(case.change, case.foam),
        *check_solutions(solutions, case.dressing, has_pocket=has_pocket, formulary=formulary_of(settings)),
    ]


def formulary_of(settings: Settings) -> Formulary:
    """Return the site's formulary, read once from its file, or what is cited where the site has none.

    Raises InputRefused for a file that cannot be read or used.
    """
    return SHIPPED if settings.formulary is None else _read_formulary(settings.formulary)


def dose_of(case: Case, settings: Settings) -> Allowance | None:
    """Return what is left under the ceiling of the local anaesthetic; None where none is entered."""
    if not case.anaesthetic:
        return None
    return allowance(case.patient, case.anaesthetic, settings.anaesthetic_window_h)


def foam_of(case: Case) -> FoamAnswer | None:
    """Return how the foam ledger stands; None where no piece was ever entered, which says nothing of the wound."""
    if not case.foam:
        return None
    found = reconcile(case.foam, case.foam_count)
    kept = {field.name: getattr(found, field.name) for field in fields(found)}
    return FoamAnswer(**kept, label=label_text(case.foam), history=history(case.foam))


def solutions_of(case: Case, settings: Settings) -> SolutionsAnswer | None:
    """Return each pair that meets and what is known of it; None where no unit has a solution."""
    named = [unit.solution for unit in case.unit if unit.solution]
    formulary = formulary_of(settings)
    return SolutionsAnswer(formulary.version, meetings(named, case.dressing, formulary)) if named else None


def not_entered(case: Case) -> tuple[str, ...]:
    """Return what this case leaves out, so that nothing was looked at."""
    gaps = (
        ("foam inside: no piece is entered", not case.foam),
        ("local anaesthetic: no dose is entered", not case.anaesthetic),
        ("what the skin was prepared with, so which pairs meet", not case.dressing.skin_preparation),
    )
    return tuple(says for says, missing in gaps if missing)


@lru_cache(maxsize=4)
def _read_formulary(file: Path) -> Formulary:
    return read_formulary(text_of(file, "SOAKLINE_FORMULARY"))


def _is_in_tunnel(place: str) -> bool:
    words = place.lower()
    return "tunnel" in words and "not into" not in words and "outside" not in words
