"""The page that asks in trouble: one question at a time, the way so far in its address, so that back goes back."""

from __future__ import annotations

import re
from typing import Annotated

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response
from starlette.exceptions import HTTPException

from soakline.casefile.trouble import trouble_of
from soakline.faces.web.asked import answer_to, kept_case
from soakline.faces.web.render import page
from soakline.therapy.trouble import End
from soakline.workflows.in_trouble import ask, say_beside

trouble_pages = APIRouter()
_REPLIES = re.compile(r"\d{1,2}(\.\d{1,2}){0,30}")


@trouble_pages.get("/cases/{case_id}/trouble")
def trouble_page(request: Request, case_id: int, replies: Annotated[str, Query(max_length=100)] = "") -> Response:
    """Ask the next question after ``replies`` (places from 0, with points between), or say where they lead."""
    kept = kept_case(request, case_id)
    said = answer_to(request, kept)
    settings = request.app.state.settings
    if replies and not _REPLIES.fullmatch(replies):
        raise HTTPException(404)
    try:
        steps, now = ask(settings, [int(part) for part in replies.split(".") if part])
    except ValueError as error:
        raise HTTPException(404) from error
    beside = () if isinstance(now, End) or said.case is None else say_beside(said.case, said.plan, now.beside)
    return page(
        request,
        "trouble.html",
        kept=kept,
        has_unit=said.case is not None and bool(said.case.unit),
        steps=steps,
        now=now,
        ended=isinstance(now, End),
        beside=beside,
        replies=replies,
        origin=trouble_of(settings.trouble).version,
    )
