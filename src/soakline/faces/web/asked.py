"""What a request asks about: the kept case, its answer, the form that was sent and the version it was read from."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import Depends, Request
from starlette.datastructures import FormData
from starlette.exceptions import HTTPException

from soakline.faces.web.answers import Answered, Answers
from soakline.faces.web.doors import is_own_form, refuse_other_sites
from soakline.record.acting import Deed, check_may
from soakline.record.cases import KeptCase, find_case

_MOST_ID = 2**31 - 1
# The change page has a few fields for each piece and each dose of a case.
_MOST_FIELDS = 1_000


def kept_case(request: Request, case_id: int) -> KeptCase:
    """Return the case of that number as the record holds it; raises HTTPException 404 where there is none."""
    kept = find_case(request.app.state.record, case_id) if 0 < case_id <= _MOST_ID else None
    if kept is None:
        raise HTTPException(404)
    return kept


def answers_of(request: Request) -> Answers:
    """Return the answers that the application keeps."""
    return request.app.state.answers


def answer_to(request: Request, kept: KeptCase) -> Answered:
    """Return the whole answer to a kept case."""
    return answers_of(request).to(kept.text)


def version_read(form: FormData) -> int:
    """Return the version of the case that a form was filled in from; raises HTTPException 400 where it says none."""
    written = str(form.get("version", ""))
    if not (written.isascii() and written.isdigit() and len(written) < 10):
        raise HTTPException(400)
    return int(written)


async def _own_form(request: Request) -> FormData:
    refuse_other_sites(request)
    most_bytes = request.app.state.settings.largest_case_bytes
    form = await request.form(max_files=1, max_fields=_MOST_FIELDS, max_part_size=most_bytes + 1)
    if not is_own_form(request, str(form.get("token", ""))):
        raise HTTPException(403)
    return form


def needs(deed: Deed) -> Any:  # noqa: ANN401 - as the framework types it
    """Return the dependency of an address that only those may use whose role lets them do that."""

    def check() -> None:
        check_may(deed)

    return Depends(check)


Form = Annotated[FormData, Depends(_own_form)]
"""A form that a page of this application sent."""
