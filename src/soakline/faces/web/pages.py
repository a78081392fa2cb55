"""The pages: the list of cases, one case, its file, what to know first."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Annotated

from fastapi import APIRouter, Depends, Query, Request
from fastapi.responses import JSONResponse, PlainTextResponse, RedirectResponse, Response
from starlette.datastructures import UploadFile
from starlette.exceptions import HTTPException

from soakline import __version__
from soakline.casefile.differences import differences
from soakline.errors import CaseClosed, Finding, InputRefused, StaleRecord
from soakline.faces.web.asked import Form, answer_to, answers_of, kept_case, needs, version_read
from soakline.faces.web.attention import Need, kind_of, needs_of, urgency
from soakline.faces.web.chart import DARK, LIGHT, curve_of, draw_chart
from soakline.faces.web.choice import Surface, choose
from soakline.faces.web.described import LED_ON, REFUSED_AS_JSON, Calendar, Json, Pdf, Svg, takes
from soakline.faces.web.doors import site_of
from soakline.faces.web.entering import EMPTY, begun, shown, take_in, typed
from soakline.faces.web.layouts import show_layouts
from soakline.faces.web.people import ward_refused, wards_to_choose
from soakline.faces.web.render import page
from soakline.guard.gate import lost_overrides
from soakline.papers.calendar import make_calendar
from soakline.papers.card import make_card
from soakline.record.acting import acting
from soakline.record.cases import KeptCase, NewCase, add_case, list_cases, list_versions, save_case
from soakline.record.plans import NewPaper, keep_paper, keep_plan
from soakline.sources import SOURCES, Confidence
from soakline.workflows.as_json import refused_json
from soakline.workflows.in_words import in_order
from soakline.workflows.keep import plan_to_keep

pages = APIRouter()
NO_CARD = (
    "This case is closed, so no new card is printed from it. Its history gives every earlier paper; reopen it first"
)

_CONFIDENCE: dict[Confidence, str] = {
    "read": "read in the source, mostly its abstract or a table",
    "standard": "read in the standard's own files",
    "arithmetic": "arithmetic anyone can redo",
    "practice": "common practice, without a source",
    "memory": "from memory, not verified",
}


# What is told at a first call, by the name of its field.
_TOLD_FIRST = {
    "label": "label",
    "time_zone": "time_zone",
    "face": "wound.face",
    "part": "wound.part",
    "limb_side": "wound.limb_side",
    "girth_cm": "wound.girth_cm",
}


async def _sent(form: Form) -> str | bytes:
    file = form.get("file")
    if isinstance(file, UploadFile) and file.filename:
        return await file.read()
    told = {key: str(form[name]).strip() for name, key in _TOLD_FIRST.items() if form.get(name)}
    if told and "text" not in form:
        return begun(told)
    return typed(str(form.get("text", "")))


Sent = Annotated[str | bytes, Depends(_sent)]


@pages.get("/")
def caseload(request: Request, sought: Annotated[str, Query(max_length=100)] = "") -> Response:
    """List the open cases with what in each needs attention, the gravest first.

    ``sought`` leaves those that name it, closed ones among them.
    """
    now, words = datetime.now(UTC), sought.lower().split()
    every = list_cases(request.app.state.record)
    listed = every if words else [kept for kept in every if kept.closing is None]
    rows = [_row(request, kept, now) for kept in listed]
    shown = [row for row in rows if all(word in f"{row[0].label} {row[1]}".lower() for word in words)]
    shown.sort(key=lambda row: (row[0].closing is not None, urgency(row[2]), row[0].label.lower()))
    closed_count = sum(kept.closing is not None for kept in every)
    return page(request, "caseload.html", rows=shown, count=len(rows), closed_count=closed_count, sought=sought)


@pages.get("/cases/new")
def new_page(request: Request) -> Response:
    """Show an empty case file to fill in."""
    return file_page(request, None, EMPTY)


@pages.post("/cases", openapi_extra=takes("text", "file", "ward", *_TOLD_FIRST), dependencies=[needs("plan")], **LED_ON)
def add(request: Request, form: Form, sent: Sent) -> Response:
    """Keep a new case; where its file is refused, show it as it was typed."""
    ward = str(form.get("ward", ""))
    new = take_in(sent, answers_of(request))
    if not isinstance(new, NewCase):
        return file_page(request, None, shown(sent), findings=new, status=422, ward=ward)
    if site_of(request).address is not None:
        against = ward_refused(request, ward)
        if against:
            return file_page(request, None, shown(sent), findings=against, status=422)
    return see(add_case(request.app.state.record, new, datetime.now(UTC), ward=ward))


@pages.get("/cases/{case_id}")
def case_page(request: Request, case_id: int, row: int = 0, surface: Surface = "floor") -> Response:
    """Show one case: what was found, the hidden size, the reach, the settings, the gate."""
    kept = kept_case(request, case_id)
    said = answer_to(request, kept)
    choice = choose(said, row, surface)
    layouts = show_layouts(request, kept, said)
    return page(
        request, "case.html", kept=kept, said=said, plan=said.plan, kind=kind_of(said), choice=choice, layouts=layouts
    )


@pages.get("/cases/{case_id}/file")
def text_page(request: Request, case_id: int, of_version: Annotated[int, Query(ge=0)] = 0) -> Response:
    """Show the text of a case file, to be changed, with what is found in its entries.

    ``of_version`` shows that of an earlier version instead, with what saving it would change back.
    """
    kept = kept_case(request, case_id)
    text = kept.text
    if of_version:
        texts = list_versions(request.app.state.record, kept.id)
        if of_version > len(texts):
            raise HTTPException(404)
        text = texts[of_version - 1]
    findings = answers_of(request).at_a_glance(text).findings
    return file_page(request, kept, text, findings=findings, earlier=of_version)


@pages.post(
    "/cases/{case_id}/file", openapi_extra=takes("text", "file", "version"), dependencies=[needs("plan")], **LED_ON
)
def save(request: Request, case_id: int, form: Form, sent: Sent) -> Response:
    """Save a case file; where it is refused or somebody else saved meanwhile, show it as it was typed."""
    kept = kept_case(request, case_id)
    new = take_in(sent, answers_of(request))
    read_version = version_read(form)
    if not isinstance(new, NewCase):
        return file_page(request, kept, shown(sent), findings=new, status=422, version=read_version)
    lost = _lost_overrides(request, kept, sent)
    if lost:
        return file_page(request, kept, shown(sent), findings=lost, status=422, version=read_version)
    try:
        return see(save_case(request.app.state.record, kept.id, new, read_version, datetime.now(UTC)))
    except StaleRecord as stale:
        return file_page(request, kept_case(request, kept.id), shown(sent), stale=str(stale), status=409)


@pages.get("/cases/{case_id}/card.pdf", response_class=Pdf)
def card(request: Request, case_id: int) -> Response:
    """Print the bedside card and keep it; raises GateShut, InputRefused or CaseClosed where no card may leave."""
    kept = kept_case(request, case_id)
    if kept.closing:
        raise CaseClosed(NO_CARD)
    said = answer_to(request, kept)
    if said.case is None or said.plan is None:
        raise InputRefused(said.findings)
    now = datetime.now(UTC)
    pdf = make_card(said.case, said.plan, printed_at=now, version=__version__)
    paper = NewPaper("bedside card", "application/pdf", pdf)
    keep_paper(request.app.state.record, kept, plan_to_keep(said.plan, request.app.state.settings), paper, now)
    named = {"content-disposition": f'inline; filename="card-{kept.id}-version-{kept.version_id}.pdf"'}
    return Pdf(pdf, headers=named)


@pages.get("/cases/{case_id}/reach.svg", response_class=Svg)
def reach_chart(request: Request, case_id: int, *, row: int = 0, dark: bool = False) -> Response:
    """Give the chart of reach against fill volume for one row of the reach, as an image."""
    plan = answer_to(request, kept_case(request, case_id)).plan
    curve = curve_of(plan, row) if plan else None
    if plan is None or curve is None:
        raise HTTPException(404)
    return Svg(draw_chart(plan, row, curve, DARK if dark else LIGHT))


@pages.get("/cases/{case_id}/changes.ics", response_class=Calendar)
def calendar(request: Request, case_id: int) -> Response:
    """Give the changes and turns of the next 24 hours as a calendar file."""
    said = answer_to(request, kept_case(request, case_id))
    day = said.plan.therapy.next_day if said.plan and said.plan.therapy else None
    if said.plan is None or day is None:
        raise HTTPException(404)
    return Calendar(make_calendar(said.plan.label, day, datetime.now(UTC)))


@pages.get("/cases/{case_id}/case.toml", response_class=PlainTextResponse)
def case_file(request: Request, case_id: int) -> Response:
    """Give the case file as text."""
    return PlainTextResponse(kept_case(request, case_id).text)


@pages.get("/cases/{case_id}/plan.json", response_class=Json, responses=REFUSED_AS_JSON)
def plan_as_json(request: Request, case_id: int) -> Response:
    """Give the plan as JSON, with the keys of the command line, and keep it."""
    kept = kept_case(request, case_id)
    said = answer_to(request, kept)
    if said.plan is None:
        return Json(refused_json(said.findings), 422)
    new = plan_to_keep(said.plan, request.app.state.settings)
    keep_plan(request.app.state.record, kept, new, datetime.now(UTC))
    return Json(new.answer)


@pages.get("/about")
def about(request: Request) -> Response:
    """Say what to know first, and where each outside value comes from."""
    return page(request, "about.html", sources=SOURCES.values(), confidence=_CONFIDENCE)


@pages.get("/healthz", response_class=JSONResponse)
def healthz(request: Request) -> Response:
    """Say that pages are served and the record can be read; the number of cases only to who may read them."""
    count = len(list_cases(request.app.state.record))
    return JSONResponse({"status": "up", "cases": count} if acting().may("read") else {"status": "up"})


def _row(request: Request, kept: KeptCase, now: datetime) -> tuple[KeptCase, str, tuple[Need, ...]]:
    if kept.closing:
        return kept, kind_of(answers_of(request).unplanned(kept.text)), ()
    said = answers_of(request).at_a_glance(kept.text)
    return kept, kind_of(said), needs_of(said, now)


def _lost_overrides(request: Request, kept: KeptCase, sent: str | bytes) -> tuple[Finding, ...]:
    before, after = (answers_of(request).at_a_glance(text).case for text in (kept.text, sent))
    return lost_overrides(before.gate, after.gate) if before and after else ()


def file_page(
    request: Request,
    kept: KeptCase | None,
    text: str,
    *,
    findings: tuple[Finding, ...] = (),
    stale: str = "",
    status: int = 200,
    version: int | None = None,
    ward: str = "",
    earlier: int = 0,
) -> Response:
    """Return the page that shows the text of a case file, with what was found in it and what stands against saving."""
    read_version = version if version is not None else kept.version_id if kept else 0
    return page(
        request,
        "file.html",
        status,
        kept=kept,
        text=text,
        findings=in_order(findings),
        stale=stale,
        read_version=read_version,
        wards=wards_to_choose(request),
        ward=ward,
        earlier=earlier,
        changes_back=differences(kept.text, text) if kept and earlier else (),
    )


def see(kept: KeptCase) -> Response:
    """Lead the browser on to a kept case."""
    return RedirectResponse(f"/cases/{kept.id}", status_code=303)
