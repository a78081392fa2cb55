"""What was done with one case: who changed what and when, and every paper printed again byte for byte."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response
from starlette.exceptions import HTTPException

from soakline.casefile.differences import Difference, differences
from soakline.faces.web.answers import Answers
from soakline.faces.web.asked import answers_of, kept_case
from soakline.faces.web.described import Pdf
from soakline.faces.web.people import wards_to_choose
from soakline.faces.web.render import page
from soakline.pictures.trend import Measuring, draw_trend
from soakline.progress.trend import Change
from soakline.record.cases import ADDED, CLOSED, REOPENED, SAVED, list_versions
from soakline.record.log import Entry, list_entries
from soakline.record.plans import PAPER_PRINTED, find_paper, list_papers
from soakline.workflows.answers import WoundAnswer
from soakline.workflows.progress import PROGRESS_MEANS, step_between
from soakline.workflows.workings import Working, work_size

history = APIRouter()

_MOST_ID = 2**31 - 1


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a case's history: an entry of the log in words, with what a save changed."""

    entry_id: int
    at: datetime
    who: str
    says: str
    hash: str
    version_id: int | None
    changed: tuple[Difference, ...]


@history.get("/cases/{case_id}/history")
def history_page(request: Request, case_id: int) -> Response:
    """Show every entry of the log about one case, the last first, and the papers printed from it."""
    record, kept = request.app.state.record, kept_case(request, case_id)
    texts = list_versions(record, kept.id)
    lines = [*_lines(list_entries(record, kept.id), texts)]
    measured = [*_sizes(answers_of(request), lines, texts)]
    sizes = [size for size, *_ in measured]
    return page(
        request,
        "history.html",
        kept=kept,
        lines=lines[::-1],
        sizes=sizes,
        steps=[[one.says for one in steps] for *_, steps in measured],
        progress_means=PROGRESS_MEANS,
        workings=[(size.at, work) for size, work, _ in measured if work],
        trend_svg=draw_trend(sizes) if sum(one.bed_cm2 is not None for one in sizes) > 1 else "",
        papers=list_papers(record, kept.id),
        wards=wards_to_choose(request),
    )


@history.get("/papers/{paper_id}", response_class=Pdf)
def paper(request: Request, paper_id: int) -> Response:
    """Give a paper as it was printed, byte for byte, whatever version printed it."""
    kept = find_paper(request.app.state.record, paper_id) if 0 < paper_id <= _MOST_ID else None
    if kept is None:
        raise HTTPException(404)
    name = f'inline; filename="{kept.kind.replace(" ", "-")}-{kept.case_id}-version-{kept.version_id}.pdf"'
    return Response(kept.content, media_type=kept.media_type, headers={"content-disposition": name})


def _lines(entries: tuple[Entry, ...], texts: tuple[str, ...]) -> Iterator[Line]:
    for entry in entries:
        told: dict[str, Any] = json.loads(entry.content)
        version = told["version"] if entry.what in {ADDED, SAVED} else 0
        changed = differences(texts[version - 2], texts[version - 1]) if version > 1 else ()
        yield Line(entry.id, entry.at, entry.who, _in_words(entry, told), entry.hash, version or None, changed)


def _sizes(
    answers: Answers, lines: Sequence[Line], texts: tuple[str, ...]
) -> Iterator[tuple[Measuring, Working | None, Sequence[Change]]]:
    """Give the size at each save that changed the wound, as it would be told today, its working, and what changed.

    None is told while the gate is shut; a change is from the last size that was told.
    """
    before: WoundAnswer | None = None
    for line in lines:
        is_measured = line.version_id == 1 or any(one.key.startswith("wound") for one in line.changed)
        if line.version_id is None or not is_measured:
            continue
        said = answers.at_a_glance(texts[line.version_id - 1])
        size = said.plan.wound if said.plan else None
        if size is None or said.case is None:
            yield Measuring(line.at, None, None, None), None, ()
        else:
            work = work_size(size, said.case.assumptions)
            steps = [*step_between(before, size)] if before else []
            yield Measuring(line.at, size.opening_cm2, size.bed_cm2, size.void_ml), work, steps
            before = size


def _in_words(entry: Entry, told: dict[str, Any]) -> str:
    if entry.what in {ADDED, SAVED}:
        return f"{entry.what}, version {told['version']}"
    if entry.what in {CLOSED, REOPENED}:
        left = f"; not resolved: {'; '.join(told['left_open'])}" if told.get("left_open") else ""
        why = ": ".join(filter(None, (told.get("kind"), told["says"])))
        return f"{entry.what} at version {told['version']}: {why}; by: {told['by_role']}{left}"
    return f"{told['kind']} printed, paper {told['paper']}" if entry.what == PAPER_PRINTED else entry.what
