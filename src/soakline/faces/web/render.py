"""Fill a template, with the words of the trade at hand in it."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import cast

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from starlette.requests import Request
from starlette.responses import HTMLResponse

from soakline import __version__
from soakline.faces.web.doors import form_token, site_of
from soakline.faces.web.ways import way_to
from soakline.pictures.timeline import draw_timeline, say_row
from soakline.record.acting import acting
from soakline.record.cases import Closing
from soakline.units import show_ml, show_number
from soakline.workflows import in_words, liquid_in_words, workings, workings_of_running
from soakline.workflows.progress import say_progress

_TEMPLATES = Environment(
    loader=FileSystemLoader(Path(__file__).with_name("templates")),
    autoescape=True,
    undefined=StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
)


def page(request: Request, template: str, status: int = 200, **values: object) -> HTMLResponse:
    """Return a page; ``values`` are the names its template uses."""
    token = form_token(request)
    site = site_of(request)
    known = {"path": request.url.path, "token": token, "actor": acting(), "site": site}
    html = _TEMPLATES.get_template(template).render(**known, **values)
    response = HTMLResponse(html, status)
    site.keep(response, "form", token)
    return response


def say_moment(moment: datetime) -> str:
    """Write a kept moment as a day and a time, in UTC.

    >>> say_moment(datetime(2026, 11, 25, 9, 5, tzinfo=UTC))
    '25 Nov 2026, 09:05 UTC'
    """
    return moment.astimezone(UTC).strftime("%d %b %Y, %H:%M UTC")


def why_closed(closing: Closing) -> str:
    """Write why a case is closed, and by whom, in one line; what is left open stands beside it.

    >>> why_closed(Closing(datetime(2026, 11, 25, tzinfo=UTC), "here", "died", "At home", "wound nurse", ()))
    'Died: At home. By: wound nurse.'
    """
    kind = closing.kind[0].upper() + closing.kind[1:]
    return f"{kind}{f': {closing.says}' if closing.says else ''}".rstrip(".") + f". By: {closing.by_role}."


cast("dict[str, object]", _TEMPLATES.globals).update(
    words=in_words,
    say_progress=say_progress,
    draw_timeline=draw_timeline,
    say_row=say_row,
    why_closed=why_closed,
    way_to=way_to,
    liquid=liquid_in_words,
    work=workings,
    run=workings_of_running,
    show_ml=show_ml,
    show_number=show_number,
    say_moment=say_moment,
    version=__version__,
)
