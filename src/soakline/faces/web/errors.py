"""What went wrong, as a page in words: what was asked, why it was not done, what to do."""

from __future__ import annotations

from collections.abc import Callable, Coroutine
from typing import Any

from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from soakline.errors import NotAllowed, RecordUnavailable, SoaklineError
from soakline.faces.web.doors import SAID
from soakline.faces.web.render import page
from soakline.workflows.in_words import as_sentence

_WORDS: dict[int, tuple[str, str]] = {
    400: ("Not understood", "The request could not be read. Go back and send it again."),
    401: (
        "Not open to this browser",
        (
            "This browser was not let in, or was let in too long ago, and nothing was changed. At the computer itself, "
            "open the address that the command printed last. Where people sign in, open the list of cases, sign in and "
            "come back; what a page keeps as a draft is still there."
        ),
    ),
    403: (
        "Not taken",
        (
            "The change did not come from a page of this application, so nothing was changed. Open the "
            "page again and send it from there."
        ),
    ),
    404: ("Not found", "There is nothing at this address. The list of cases shows what there is."),
    405: ("Not possible here", "This address cannot be used in that way. The list of cases shows what there is."),
    413: (
        "Too large",
        (
            "A case file holds at most one million bytes, and this one is larger, so it was not read and "
            "nothing was changed. Check that it is a case file."
        ),
    ),
    422: (
        "Not understood",
        (
            "A part of the address is not what this page expects, such as a word where a number "
            "belongs. The list of cases leads to each page."
        ),
    ),
    500: (
        "A fault of the application",
        (
            "Something went wrong in the application itself, not in what you entered. "
            "What was saved before is kept. Go back and try once more; if it happens again, tell whoever looks after "
            "this computer, with the time and the page."
        ),
    ),
}


def error_page(request: Request, status: int) -> Response:
    """Return the page for one status."""
    title, says = _WORDS.get(status, _WORDS[400 if status < 500 else 500])
    return page(request, "error.html", status, code=status, title=title, says=says)


async def _http(request: Request, error: Exception) -> Response:
    if not isinstance(error, HTTPException):
        return error_page(request, 500)
    response = error_page(request, error.status_code)
    # Such as the ways in which an address can be used.
    response.headers.update(error.headers or {})
    return response


async def _not_done(request: Request, error: Exception) -> Response:
    return page(request, "error.html", 409, code=409, title="Not done", says=as_sentence(str(error)))


async def _unavailable(request: Request, error: Exception) -> Response:
    return page(request, "error.html", 503, code=503, title="The record is not to be had", says=as_sentence(str(error)))


async def _not_allowed(request: Request, error: Exception) -> Response:
    return page(request, "error.html", 403, code=403, title="Not allowed", says=as_sentence(str(error)))


async def _unreadable(request: Request, _error: Exception) -> Response:
    return error_page(request, 422)


async def _fault(request: Request, _error: Exception) -> Response:
    # This answer is given outside the other doors, so it carries their words itself.
    response = error_page(request, 500)
    response.headers.update(SAID)
    return response


ERROR_PAGES: dict[int | type[Exception], Callable[[Request, Any], Coroutine[Any, Any, Response]]] = {
    HTTPException: _http,
    RequestValidationError: _unreadable,
    RecordUnavailable: _unavailable,
    NotAllowed: _not_allowed,
    SoaklineError: _not_done,
    Exception: _fault,
}
