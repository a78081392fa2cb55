"""The web application as a list of parts: the record behind it, the doors before it, the pages between."""

from __future__ import annotations

from collections.abc import AsyncGenerator
from contextlib import asynccontextmanager
from datetime import UTC, datetime
from pathlib import Path
from threading import Thread

from fastapi import FastAPI
from fastapi.responses import HTMLResponse
from starlette.middleware import Middleware
from starlette.middleware.trustedhost import TrustedHostMiddleware
from starlette.staticfiles import StaticFiles

from soakline import __version__
from soakline.faces.web.answers import Answers
from soakline.faces.web.change import change_pages
from soakline.faces.web.day import Days, day_pages
from soakline.faces.web.described import ERRORS
from soakline.faces.web.doors import HOSTS, SaidToBrowsers, SizeLimit
from soakline.faces.web.entering import demo_case
from soakline.faces.web.errors import ERROR_PAGES
from soakline.faces.web.history import history
from soakline.faces.web.layouts import layout_pages
from soakline.faces.web.measure import measure
from soakline.faces.web.pages import pages
from soakline.faces.web.playing import playing
from soakline.faces.web.searches import Searches
from soakline.faces.web.shift import shift_pages
from soakline.faces.web.trouble import trouble_pages
from soakline.faces.web.workspace import workspace
from soakline.record.cases import NewCase, import_demo, list_cases
from soakline.record.opening import open_record
from soakline.settings import Settings

STATIC = Path(__file__).with_name("static")
# A form has some bytes of its own around the case file.
FORM_BYTES = 10_000


def create_app(settings: Settings) -> FastAPI:
    """Return the application on the record that ``settings`` names, demo cases brought in where it is empty."""
    record = open_record(settings.database_url)
    import_demo(record, _demo_cases(settings.examples_folder), datetime.now(UTC))
    answers = Answers(settings)

    @asynccontextmanager
    async def lifespan(_app: FastAPI) -> AsyncGenerator[None, None]:
        texts = [kept.text for kept in list_cases(record)]
        Thread(target=answers.prepare, args=(texts,), daemon=True, name="prepare answers").start()
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
            Middleware(SaidToBrowsers),
            Middleware(TrustedHostMiddleware, allowed_hosts=list(HOSTS), www_redirect=False),
            Middleware(SizeLimit, most_bytes=settings.largest_case_bytes + FORM_BYTES),
        ],
    )
    app.state.record = record
    app.state.answers = answers
    app.state.searches = Searches(settings, answers)
    app.state.days = Days()
    app.state.settings = settings
    app.include_router(pages)
    app.include_router(layout_pages)
    app.include_router(day_pages)
    app.include_router(workspace)
    app.include_router(change_pages)
    app.include_router(history)
    app.include_router(playing)
    app.include_router(measure)
    app.include_router(trouble_pages)
    app.include_router(shift_pages)
    app.mount("/static", StaticFiles(directory=STATIC), name="static")
    return app


def _demo_cases(folder: Path) -> list[NewCase]:
    read = (demo_case(file.read_bytes()) for file in sorted(folder.glob("*.toml")))
    return [new for new in read if new]
