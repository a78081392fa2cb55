"""What else is wrong with a wound when part of its entry cannot be used, so that all is said at once."""

from __future__ import annotations

import copy
from collections.abc import Sequence
from typing import Any

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from soakline.casefile.build import build
from soakline.casefile.places import dotted, leave_out
from soakline.casefile.schema import CaseIn
from soakline.errors import Finding
from soakline.wound.entry import check_wound


def remainder(data: dict[str, Any], errors: Sequence[ErrorDetails]) -> list[Finding]:
    """Return what refuses, or is asked about, in the wound that is left when all that ``errors`` name is taken out."""
    left = copy.deepcopy(data)
    for error in errors:
        loc = error["loc"][:-1] if error["type"] == "missing" else error["loc"]
        leave_out(left, loc)
    left.setdefault("format", "soakline-case/1")
    try:
        case = build(CaseIn.model_validate(left), "")
    except ValidationError:
        return []
    if case.wound is None:
        return []
    taken_out = [dotted(error["loc"]) for error in errors]
    found = check_wound(case.wound, case.assumptions, case.confirmed)
    return [f for f in found if f.level in {"refuse", "ask"} and not _touches(f.where, taken_out)]


def _touches(where: str, taken_out: Sequence[str]) -> bool:
    return any(f"{key}.".startswith(f"{where}.") or f"{where}.".startswith(f"{key}.") for key in taken_out)
