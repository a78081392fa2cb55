"""What is left of a case when part of its entry cannot be used, so that all that is wrong is said at once."""

from __future__ import annotations

import copy
from collections.abc import Sequence
from typing import Any

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from soakline.casefile.build import build
from soakline.casefile.case import Case
from soakline.casefile.places import leave_out
from soakline.casefile.schema import CaseIn

# Taking out a key can leave its section without what it needs: then the section goes, then what holds it.
_MOST_ROUNDS = 4


def remainder(data: dict[str, Any], errors: Sequence[ErrorDetails]) -> Case | None:
    """Return the case that is left when all that ``errors`` name is taken out; None where nothing usable is."""
    left = copy.deepcopy(data)
    for _ in range(_MOST_ROUNDS):
        for error in errors:
            leave_out(left, error["loc"][:-1] if error["type"] == "missing" else error["loc"])
        left.setdefault("format", "soakline-case/1")
        try:
            return build(CaseIn.model_validate(left), "")
        except ValidationError as again:
            errors = again.errors(include_url=False)
    return None
