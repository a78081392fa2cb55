"""A plan as JSON: the field names of ``answers`` are the keys; a shut gate leaves findings and gate alone."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from dataclasses import fields, is_dataclass
from datetime import datetime
from typing import TYPE_CHECKING, cast

if TYPE_CHECKING:
    from soakline.errors import Finding
    from soakline.workflows.answers import Plan

Json = dict[str, "Json"] | list["Json"] | str | float | int | bool | None

_NOT_JSON = frozenset({"picture", "map"})
_WHEN_SHUT = ("label", "purpose", "findings", "gate")


def plan_json(plan: Plan) -> str:
    """Write a plan as JSON text; where the gate is shut and nothing was planned, findings and gate alone."""
    keys = cast("dict[str, Json]", as_json(plan))
    if plan.gate.state == "shut" and plan.wound is None:
        keys = {key: keys[key] for key in _WHEN_SHUT}
    return _text(keys)


def refused_json(findings: Sequence[Finding]) -> str:
    """Write the findings of a refused entry as JSON text, under the one key that is left: ``findings``."""
    return _text({"findings": as_json(findings)})


def as_json(value: object) -> Json:
    """Turn dataclasses, sequences, times and numbers into what JSON holds; times as ISO 8601.

    Raises ValueError for a number that is not finite, TypeError for anything that has no place in an answer.

    >>> from soakline.units import Range
    >>> as_json((Range(1.0, 1.5, 2.0), None))
    [{'low': 1.0, 'likely': 1.5, 'high': 2.0}, None]
    """
    if value is None or isinstance(value, str | bool | int):
        return value
    if isinstance(value, float):
        return _finite(value)
    if isinstance(value, datetime):
        return value.isoformat()
    if is_dataclass(value):
        return {f.name: as_json(getattr(value, f.name)) for f in fields(value) if f.name not in _NOT_JSON}
    if isinstance(value, list | tuple):
        return [as_json(item) for item in cast("Sequence[object]", value)]
    msg = f"{type(value).__name__} has no place in an answer"
    raise TypeError(msg)


def _finite(value: float) -> float:
    if not math.isfinite(value):
        msg = f"{value}: an answer holds finite numbers only"
        raise ValueError(msg)
    return float(value)


def _text(keys: Json) -> str:
    return json.dumps(keys, ensure_ascii=False, indent=2, allow_nan=False)
