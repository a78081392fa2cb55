"""Let most drawn forms pass the door, and some of them hold a whole case: what lies behind is drawn upon too."""

from __future__ import annotations

from pathlib import Path
from random import Random
from typing import Any

import schemathesis
from served import TOKEN

_TEXTS = [file.read_text("utf-8") for file in sorted((Path(__file__).parents[1] / "examples").glob("*.toml"))]
_RANDOM = Random(7)  # noqa: S311 - a choice of texts, no secret


@schemathesis.hook
def map_case(_context: object, case: Any) -> Any:  # noqa: ANN401 - the tool's own types
    """Give most forms this browser's token, every second text that of an example or its beginning, most a case."""
    if isinstance(case.body, dict) and "token" in case.body:
        if _RANDOM.random() < 0.75:
            case.body["token"] = TOKEN
        if "text" in case.body and _RANDOM.random() < 0.5:
            text = _RANDOM.choice(_TEXTS)
            case.body["text"] = text if _RANDOM.random() < 0.5 else text[: _RANDOM.randrange(len(text))]
        if "version" in case.body and _RANDOM.random() < 0.75:
            case.body["version"] = str(_RANDOM.randrange(1, 12))
    if case.path_parameters and "case_id" in case.path_parameters and _RANDOM.random() < 0.75:
        case.path_parameters["case_id"] = _RANDOM.randrange(1, 12)
    return case
