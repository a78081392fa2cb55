"""The web application as a list of parts: the record behind it, the doors before it, the pages between."""

from __future__ import annotations

from collections.abc import AsyncGenerator
from contextlib import asynccontextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from threading import Thread

from fastapi import FastAPI
from fastapi.responses import HTMLResponse
from sqlalchemy import Engine
from starlette.middleware import Middleware
from starlette.middleware.trustedhost import TrustedHostMiddleware
from starlette.staticfiles import StaticFiles
from uvicorn.middleware.proxy_headers import ProxyHeadersMiddleware

from soakline import __version__
from soakline.faces.web.admission import Admission
from soakline.faces.web.answers import Answers
from soakline.faces.web.change import change_pages
from soakline.faces.web.closing import closing_pages
from soakline.faces.web.day import Days, day_pages
from soakline.faces.web.demo import demo_cases, demo_stories
from soakline.faces.web.described import ERRORS
from soakline.faces.web.doors import OnlyFrom, SaidToBrowsers, Site, SizeLimit
from soakline.faces.web.errors import ERROR_PAGES
from soakline.faces.web.form import form_pages
from soakline.faces.web.history import history
from soakline.faces.web.key import Key
from soakline.faces.web.layouts import layout_pages
from soakline.faces.web.measure import measure
from soakline.faces.web.pages import pages
from soakline.faces.web.people import people_pages
from soakline.faces.web.playing import playing
from soakline.faces.web.provider import provider_of, provider_pages
from soakline.faces.web.searches import Searches
from soakline.faces.web.shift import shift_pages
from soakline.faces.web.solid import solid
from soakline.faces.web.trouble import trouble_pages
from soakline.faces.web.workspace import workspace
from soakline.record.cases import import_demo, is_empty, list_cases
from soakline.record.sessions import Lasting
from soakline.settings import Settings

STATIC = Path(__file__).with_name("static")
# A form has some bytes of its own around the case file.
FORM_BYTES = 10_000
# Whoever opens the address at once is given the list of cases before the long sums take the processor.
_LIST_FIRST_S = 1.0


def create_app(settings: Settings, record: Engine, key: Key) -> FastAPI:
    """Return the application on a record, demo cases brought in where it is empty; ``key`` opens it at this computer.

    A site's record is left as it is: invented cases do not stand among those of its patients.
    """
    if settings.site_address is None and is_empty(record):
        folder, now = settings.examples_folder, datetime.now(UTC)
        import_demo(record, demo_cases(folder, now), now, demo_stories(folder))
    answers = Answers(settings)
    stays = Lasting(timedelta(minutes=settings.session_idle_min), timedelta(hours=settings.session_h))
    site = Site(settings.site_address, stays)

    @asynccontextmanager
    async def lifespan(_app: FastAPI) -> AsyncGenerator[None, None]:
        texts = [kept.text for kept in list_cases(record) if kept.closing is None]
        Thread(target=answers.prepare, args=(texts, _LIST_FIRST_S), daemon=True, name="prepare answers").start()
        yield
        record.dispose()

    app = FastAPI(
        title="Soakline",
        version=__version__,
        docs_url=None,
        redoc_url=None,
        default_response_class=HTMLResponse,
        responses=ERRORS,
        lifespan=lifespan,
        exception_handlers=ERROR_PAGES,
        middleware=[
            Middleware(SaidToBrowsers, site=site),
            *_behind(settings.proxy),
            Middleware(TrustedHostMiddleware, allowed_hosts=list(site.hosts), www_redirect=False),
            Middleware(Admission),
            Middleware(SizeLimit, most_bytes=settings.largest_case_bytes + FORM_BYTES),
        ],
    )
    app.state.record = record
    app.state.answers = answers
    app.state.searches = Searches(settings, answers)
    app.state.days = Days()
    app.state.settings = settings
    app.state.site = site
    app.state.key = key
    app.state.provider = provider_of(settings)
    # Before the pages of one case: "closed" is no number.
    app.include_router(closing_pages)
    app.include_router(pages)
    app.include_router(layout_pages)
    app.include_router(day_pages)
    app.include_router(workspace)
    app.include_router(change_pages)
    app.include_router(form_pages)
    app.include_router(history)
    app.include_router(playing)
    app.include_router(solid)
    app.include_router(measure)
    app.include_router(trouble_pages)
    app.include_router(shift_pages)
    app.include_router(people_pages)
    app.include_router(provider_pages)
    app.mount("/static", StaticFiles(directory=STATIC), name="static")
    return app


def _behind(proxy: str | None) -> list[Middleware]:
    """Return the doors that stand behind another computer: nobody else asks, and it says on whose behalf."""
    if proxy is None:
        return []
    return [Middleware(OnlyFrom, proxy=proxy), Middleware(ProxyHeadersMiddleware, trusted_hosts=proxy)]
