"""Pages about where ports go: start a search for layouts, see how it stands, stop it, read what it found."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Annotated

from fastapi import APIRouter, Query, Request
from fastapi.responses import RedirectResponse, Response

from soakline.faces.web.answers import Answered
from soakline.faces.web.asked import Form, answer_to, kept_case, needs
from soakline.faces.web.choice import map_scale
from soakline.faces.web.described import LED_ON, takes
from soakline.faces.web.render import page
from soakline.faces.web.searches import Running, Searches
from soakline.layout.ports import Port
from soakline.pictures.wound_map import draw_map
from soakline.record.cases import KeptCase
from soakline.workflows.layout_answers import LayoutAnswer

layout_pages = APIRouter()

Letter = Annotated[str, Query(max_length=20)]


@layout_pages.get("/cases/{case_id}/layouts")
def layouts_page(request: Request, case_id: int, one: Letter = "", other: Letter = "") -> Response:
    """Show the layouts that were found, how a search stands, or a way to start one; two side by side if asked for."""
    kept = kept_case(request, case_id)
    said = answer_to(request, kept)
    shown = show_layouts(request, kept, said)
    if not shown.running:
        shown = replace(shown, compared=_side_by_side(said, (one, other)))
    return page(request, "layouts_page.html", kept=kept, said=said, plan=said.plan, layouts=shown)


@layout_pages.post("/cases/{case_id}/layouts", openapi_extra=takes(), dependencies=[needs("plan")], **LED_ON)
def start(request: Request, case_id: int, form: Form) -> Response:
    """Start a search for layouts."""
    del form
    kept = kept_case(request, case_id)
    said = answer_to(request, kept)
    if said.plan is not None and said.plan.wound is not None:
        _searches(request).start(kept.text)
    return _see(kept)


@layout_pages.post("/cases/{case_id}/layouts/stop", openapi_extra=takes(), dependencies=[needs("plan")], **LED_ON)
def stop(request: Request, case_id: int, form: Form) -> Response:
    """Stop the search for layouts."""
    del form
    kept = kept_case(request, case_id)
    _searches(request).stop(kept.text)
    return _see(kept)


@dataclass(frozen=True, slots=True)
class ShownLayouts:
    """What the section about layouts shows: the map with their letters, how a search stands, two with their maps."""

    map_svg: str
    running: Running | None
    compared: tuple[tuple[LayoutAnswer, str], ...] = ()


def show_layouts(request: Request, kept: KeptCase, said: Answered) -> ShownLayouts:
    """Return what the section about layouts shows for a case."""
    return ShownLayouts(draw_layouts(said), _searches(request).running(kept.text))


def draw_layouts(said: Answered) -> str:
    """Return the wound map with the letters of the layouts at their instillation ports; empty where there are none."""
    if said.plan is None:
        return ""
    letters: dict[tuple[float, float], list[str]] = {}
    for layout in said.plan.layouts:
        for port in layout.ports:
            if port.kind == "instillation":
                letters.setdefault((port.clock, port.from_edge_cm), []).append(layout.letter)
    if not letters:
        return ""
    ports = tuple(Port(" ".join(at), "instillation", *place) for place, at in letters.items())
    return _draw(said, ports, "layouts")


def _side_by_side(said: Answered, letters: Sequence[str]) -> tuple[tuple[LayoutAnswer, str], ...]:
    """Return the layouts of two letters, each with the map of its ports; empty unless both are known."""
    by_letter = {layout.letter: layout for layout in said.plan.layouts} if said.plan else {}
    chosen = [by_letter[letter] for letter in letters if letter in by_letter]
    if len(chosen) < len(letters):
        return ()
    drawn = [tuple(Port(p.name, p.kind, p.clock, p.from_edge_cm, p.unit) for p in layout.ports) for layout in chosen]
    return tuple((layout, _draw(said, drawn[k], f"compared-{k}")) for k, layout in enumerate(chosen))


def _draw(said: Answered, ports: tuple[Port, ...], prefix: str) -> str:
    if said.plan is None or said.plan.picture is None or said.case is None or said.case.wound is None:
        return ""
    picture, wound = replace(said.plan.picture, ports=ports), said.case.wound
    return draw_map(picture, wound, None, one_to=map_scale(picture, wound), prefix=prefix)


def _searches(request: Request) -> Searches:
    return request.app.state.searches


def _see(kept: KeptCase) -> Response:
    return RedirectResponse(f"/cases/{kept.id}/layouts", status_code=303)
