"""What each address takes and gives, as `/openapi.json` tells it: papers and pictures, forms, and pages of errors."""

from __future__ import annotations

from typing import Any

from fastapi.responses import JSONResponse, RedirectResponse, Response

_HTML = {"text/html": {"schema": {"type": "string"}}}
# A request that names another host, or is no request at all, is refused before there is a page to answer it.
_HTML_OR_TEXT = {**_HTML, "text/plain": {"schema": {"type": "string"}}}

ERRORS: dict[int | str, dict[str, Any]] = {
    400: {"description": "The request could not be read", "content": _HTML_OR_TEXT},
    401: {"description": "Nobody is signed in; nothing was changed", "content": _HTML},
    403: {"description": "Sent from elsewhere, or not allowed; nothing was changed", "content": _HTML},
    404: {"description": "Nothing is at this address", "content": _HTML},
    405: {"description": "The address cannot be used in that way", "content": _HTML},
    409: {"description": "The case as it stands does not allow it, or somebody saved meanwhile", "content": _HTML},
    413: {"description": "Larger than a case file may be", "content": _HTML},
    422: {"description": "Refused, with what was given and what is allowed", "content": _HTML},
    503: {"description": "The record cannot be read or written now", "content": _HTML},
}
"""Every address may answer with these pages; none answers with another error."""

REFUSED_AS_JSON: dict[int | str, dict[str, Any]] = {
    422: {**ERRORS[422], "content": {**_HTML, "application/json": {"schema": {"type": "object"}}}}
}
"""A program that asks for a plan is refused as JSON; a number that is none is still told by a page."""

LED_ON: dict[str, Any] = {"status_code": 303, "response_class": RedirectResponse}
"""A form that was taken leads the browser on to the page that shows what is kept."""


class Pdf(Response):
    """A paper."""

    media_type = "application/pdf"


class Svg(Response):
    """A picture."""

    media_type = "image/svg+xml"


class Calendar(Response):
    """A calendar file."""

    media_type = "text/calendar"


class Json(JSONResponse):
    """An answer for programs, given as text that is JSON already."""

    def render(self, content: str) -> bytes:
        """Return the text as it is sent."""
        return content.encode()


def takes(*fields: str, others: bool = False) -> dict[str, Any]:
    """Describe the form that an address takes: these text fields, and the token that every form carries.

    >>> takes()["requestBody"]["content"]["multipart/form-data"]["schema"]["required"]
    ['token']
    """
    of_text = {name: {"type": "string"} for name in ("token", *fields)}
    schema = {"type": "object", "properties": of_text, "required": ["token"], "additionalProperties": others}
    return {"requestBody": {"required": True, "content": {"multipart/form-data": {"schema": schema}}}}
