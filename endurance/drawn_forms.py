"""Let most drawn forms pass the door, and some of them hold a whole case: what lies behind is drawn upon too."""

from __future__ import annotations

import json
from collections import deque
from pathlib import Path
from random import Random
from typing import Any

import schemathesis
from served import TOKEN

_TEXTS = [file.read_text("utf-8") for file in sorted((Path(__file__).parents[1] / "examples").glob("*.toml"))]
_RANDOM = Random(7)  # noqa: S311 - a choice of texts, no secret
# What was drawn for the addresses that take JSON; the forms beside them hold the same as text.
_MEASURES: deque[Any] = deque(maxlen=50)
_TRIALS: deque[Any] = deque(maxlen=50)


@schemathesis.hook
def map_case(_context: object, case: Any) -> Any:  # noqa: ANN401 - the tool's own types
    """Ask mostly for cases that are there, and fill forms mostly with what the application's own pages send."""
    if case.path_parameters and "case_id" in case.path_parameters and _mostly():
        case.path_parameters["case_id"] = _RANDOM.randrange(1, 12)
    if isinstance(case.body, dict):
        if case.path.endswith("/measure"):
            _MEASURES.append(case.body)
        elif case.path.endswith("/try"):
            _TRIALS.append(case.body)
        elif "token" in case.body:
            case.body |= {name: value for name, value in _as_sent(case.body).items() if _mostly()}
    return case


def _mostly() -> bool:
    return _RANDOM.random() < 0.8


def _as_sent(body: dict[str, Any]) -> dict[str, str]:
    text = _RANDOM.choice(_TEXTS)
    sent = {"token": TOKEN, "version": str(_RANDOM.randrange(1, 4))}
    if "text" in body:
        sent["text"] = text if _mostly() else text[: _RANDOM.randrange(len(text))]
    if "measures" in body and _MEASURES:
        sent["measures"] = json.dumps(_RANDOM.choice(_MEASURES))
    if "layout" in body and _TRIALS:
        trial = _RANDOM.choice(_TRIALS)
        sent["layout"] = json.dumps({"ports": trial.get("ports"), "fill_ml": trial.get("poured_ml")})
    return sent
