"""The workspace: ports and fill moved by hand over the wound map, answered at once, taken over into the case file."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from functools import lru_cache
from typing import Annotated, Literal

import numpy as np
from fastapi import APIRouter, Depends, Query, Request
from fastapi.responses import JSONResponse, Response
from pydantic import BaseModel, ConfigDict, Field, ValidationError
from starlette.exceptions import HTTPException

from soakline.casefile.case import Case
from soakline.casefile.write import Value, write_case
from soakline.errors import InputRefused, StaleRecord
from soakline.faces.web.answers import Answered
from soakline.faces.web.asked import Form, answer_to, answers_of, kept_case, needs, version_read
from soakline.faces.web.choice import map_scale
from soakline.faces.web.described import LED_ON, takes
from soakline.faces.web.doors import refuse_other_sites
from soakline.faces.web.entering import take_in
from soakline.faces.web.pages import file_page, see
from soakline.faces.web.render import page
from soakline.fluid.posture import Posture
from soakline.fluid.reach import ReachCurve
from soakline.fluid.spread import Soak
from soakline.layout.placing import foam_outline
from soakline.layout.ports import Port
from soakline.pictures.frame import Frame, map_frame
from soakline.pictures.orientation import sides_of
from soakline.pictures.soaked import Shown, Surface, columns_path, shown_of
from soakline.pictures.svg import line_through
from soakline.pictures.wound_map import draw_map
from soakline.record.cases import NewCase, save_case
from soakline.therapy.cycle import TherapyUnit
from soakline.units import Range
from soakline.workflows.answers import Picture
from soakline.workflows.as_json import as_json
from soakline.workflows.in_words import as_sentence
from soakline.workflows.layout_answers import LayoutAnswer
from soakline.workflows.liquid_in_words import say_beyond, say_surface
from soakline.workflows.try_out import Ground, Trial, Tried, doubt_over, try_out
from soakline.workflows.where_liquid_goes import USUAL_POSTURES, soak_of
from soakline.workflows.workings import work_trial
from soakline.wound.measurements import Wound
from soakline.wound.sheet import STEP_DEG

workspace = APIRouter()

# The chart of reach against fill, in its own units: as wide and high as its view box.
_CHART = (300.0, 100.0)
_MOST_PORTS = 12
# The end of the fill slider where the case does not say how much the wound takes.
_USUAL_MOST_ML = 100
_PIECE = Annotated[str, Field(min_length=1, max_length=20)]


class _Sent(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


class SentPort(_Sent):
    """One port as the page has it."""

    name: _PIECE
    kind: Literal["instillation", "suction"]
    clock: Annotated[float, Field(ge=1.0, lt=13.0)]
    from_edge_cm: Annotated[float, Field(ge=-60.0, le=60.0)]
    unit: _PIECE | None = None


class SentTrial(_Sent):
    """What the page tries: all ports, mL by port that pours, posture by name, model, and whether ranges are asked."""

    ports: Annotated[list[SentPort], Field(max_length=_MOST_PORTS)]
    poured_ml: dict[_PIECE, Annotated[float, Field(ge=0.0, le=5000.0)]]
    posture: str
    model: Literal["settled", "spread"]
    with_ranges: bool = False


class SentLayout(_Sent):
    """What is taken over into the case file: all ports, and mL by therapy unit."""

    ports: Annotated[list[SentPort], Field(max_length=_MOST_PORTS)]
    fill_ml: dict[_PIECE, Annotated[float, Field(gt=0.0, le=5000.0)]]


def from_here(request: Request) -> None:
    """Refuse what another site sends."""
    refuse_other_sites(request)


@workspace.get("/cases/{case_id}/try")
def try_page(request: Request, case_id: int, layout: Annotated[str, Query(max_length=20)] = "") -> Response:
    """Show the wound map with ports to move and a fill to change; ``layout`` is the letter of a found one to open."""
    kept = kept_case(request, case_id)
    said = answer_to(request, kept)
    if said.case is None or said.plan is None or not said.plan.reach:
        return page(request, "try.html", kept=kept, data="")
    opened = next((one for one in said.plan.layouts if one.letter == layout), None)
    shown = _shown(said, answers_of(request).ground_of(kept.text), opened)
    return page(request, "try.html", 200, kept=kept, asked_for=layout, opened=opened, **shown)


@workspace.post("/cases/{case_id}/try", response_class=JSONResponse, dependencies=[Depends(from_here)])
def try_once(request: Request, case_id: int, sent: SentTrial) -> Response:
    """Answer one trial: paths to draw, shares in words, what stands against it."""
    kept = kept_case(request, case_id)
    said = answer_to(request, kept)
    if said.case is None or said.plan is None or not said.plan.reach:
        raise HTTPException(409)
    ground = answers_of(request).ground_of(kept.text)
    trial = trial_of(said.case, sent)
    try:
        tried = try_out(ground, trial)
        if sent.with_ranges:
            tried = doubt_over(ground, trial, tried)
    except InputRefused as refused:
        return JSONResponse({"refused": [found.says for found in refused.findings]})
    return JSONResponse(_drawn(tried, ground, trial, drawable(said)[2]))


@workspace.post(
    "/cases/{case_id}/try/keep", openapi_extra=takes("version", "layout"), dependencies=[needs("plan")], **LED_ON
)
def keep(request: Request, case_id: int, form: Form) -> Response:
    """Take ports and fills over into the case file; a save by somebody else meanwhile shows both texts."""
    kept = kept_case(request, case_id)
    said = answer_to(request, kept)
    try:
        layout = SentLayout.model_validate_json(str(form.get("layout", "")))
    except ValidationError as error:
        raise HTTPException(400) from error
    if said.case is None:
        raise HTTPException(409)
    text = write_case(kept.text, _changes(said.case, layout))
    new = take_in(text, answers_of(request))
    if not isinstance(new, NewCase):
        return file_page(request, kept, text, findings=new, status=422)
    try:
        return see(save_case(request.app.state.record, kept.id, new, version_read(form), datetime.now(UTC)))
    except StaleRecord as stale:
        return file_page(request, kept_case(request, kept.id), text, stale=str(stale), status=409)


def trial_of(case: Case, sent: SentTrial) -> Trial:
    """Return the trial that was sent; a posture that the case does not have is no trial."""
    posture = next((one for one in _postures(case) if one.name == sent.posture), None)
    if posture is None:
        raise HTTPException(422)
    ports = tuple(Port(**one.model_dump()) for one in sent.ports)
    poured = tuple(sent.poured_ml.items())
    pouring = [port for port in ports if sent.poured_ml.get(port.name, 0.0) > 0.0]
    return Trial(ports, poured, posture, sent.model, _soak_of(case.unit, pouring))


def _soak_of(units: Sequence[TherapyUnit], pouring: Sequence[Port]) -> Soak | None:
    """Return the times of the first unit that pours; the others are taken to run in step with it."""
    names = {port.unit for port in pouring}
    return next((soak_of(unit) for unit in units if unit.name in names), None)


def _postures(case: Case) -> tuple[Posture, ...]:
    return case.posture or USUAL_POSTURES


def _changes(case: Case, layout: SentLayout) -> dict[str, Value]:
    ports: list[Value] = [port.model_dump(exclude_none=True) for port in layout.ports]
    fills: dict[str, Value] = {
        f"unit.{number}.fill_ml": layout.fill_ml[unit.name]
        for number, unit in enumerate(case.unit)
        if unit.name in layout.fill_ml and layout.fill_ml[unit.name] != unit.fill_ml
    }
    return {"port": ports or None, **fills}


def _shown(said: Answered, ground: Ground, opened: LayoutAnswer | None) -> dict[str, object]:
    """Return what the page is filled with: the map without ports, and as JSON all that its module moves."""
    case, picture, frame = drawable(said)
    size = said.plan.wound if said.plan else None
    void_ml, capacity_ml = (size.void_ml, size.capacity_ml) if size else (None, None)
    a_degree = round(1.0 / STEP_DEG)
    data = {
        "ports": [as_json(port) for port in case.port],
        "units": [{"name": unit.name, "fill_ml": unit.fill_ml} for unit in case.unit],
        "opened": opened and _opened(opened).model_dump(),
        "origin_mm": frame.origin_mm,
        "mm_per_cm": frame.mm_per_cm,
        # One number for each whole degree clockwise from 12 is as fine as a hand on a map.
        "edge_cm": np.round(ground.sheet.edge_cm[::a_degree], 2).tolist(),
        "reach_cm": np.round(ground.sheet.reach_cm[::a_degree], 2).tolist(),
        "lifts_drape_from_ml": void_ml.low if isinstance(void_ml, Range) else None,
    }
    one_to = map_scale(picture, wound_of(case))
    return {
        "lifts_ml": data["lifts_drape_from_ml"],
        "data": json.dumps(data).replace("<", "\\u003c"),
        "map_svg": draw_map(picture, wound_of(case), None, one_to=one_to, prefix="try", moved=case.port),
        "postures": [posture.name for posture in _postures(case)],
        "most_ml": round(capacity_ml.high) if isinstance(capacity_ml, Range) else _USUAL_MOST_ML,
    }


def _opened(layout: LayoutAnswer) -> SentLayout:
    """Return a found layout as the page would send it to be taken over."""
    names = SentPort.model_fields
    ports = [SentPort(**{name: getattr(port, name) for name in names}) for port in layout.ports]
    fill_ml = {port.unit: port.fill_ml for port in layout.ports if port.unit and port.fill_ml}
    return SentLayout(ports=ports, fill_ml=fill_ml)


# Asked at every move of a port: to find the scale, all labels are placed.
@lru_cache(16)
def drawable(said: Answered) -> tuple[Case, Picture, Frame]:
    """Return the case, its picture without ports, and the frame that the map stands in."""
    if said.case is None or said.plan is None or said.plan.picture is None:
        raise HTTPException(409)
    picture, wound = replace(said.plan.picture, ports=()), wound_of(said.case)
    sides = sides_of(wound.face, wound.part)
    return said.case, picture, map_frame(picture.sheet, sides, map_scale(picture, wound))


def wound_of(case: Case) -> Wound:
    """Return the wound that the workspace needs."""
    if case.wound is None:
        raise HTTPException(409)
    return case.wound


def _drawn(tried: Tried, ground: Ground, trial: Trial, frame: Frame) -> dict[str, object]:
    surfaces: dict[Surface, Shown] = {name: shown_of(tried.found, name) for name in ("floor", "roof")}
    sides = ((tried.floor, tried.floor_range), (tried.roof, tried.roof_range))
    told = [say_surface(tried.found.model, shares, ranges) for shares, ranges in sides]
    return {
        "paths": {
            name: [columns_path(ground.cavity, chosen, frame.to_mm) for chosen in (shown.soaked, shown.second)]
            for name, shown in surfaces.items()
        },
        "means": {name: [shown.soaked_says, shown.second_says] for name, shown in surfaces.items()},
        "soaked": [soaked for soaked, _ in told],
        "wetted": [wetted or "no kept skin" for _, wetted in told],
        "placed": dict(tried.placed),
        "foam": "".join(_foam_paths(trial, ground, frame)),
        "says": as_sentence(say_beyond(tried.found)),
        "working": work_trial(tried.found, ground.cavity),
        "curve": _curve_paths(tried.curve) if tried.curve else None,
    }


def _foam_paths(trial: Trial, ground: Ground, frame: Frame) -> Iterator[str]:
    """Give the outline of the pieces of foam under and over each instillation port under kept skin, as path data."""
    for port in trial.ports:
        corners = foam_outline(port, ground.sheet) if port.kind == "instillation" else ()
        if corners:
            yield line_through((frame.to_mm(ground.sheet.point_at(*corner)) for corner in corners), closed=True)


def _curve_paths(curve: ReachCurve) -> dict[str, object]:
    """Return floor and roof against fill as path data in the chart's own units, and the fill at its right edge."""
    most_ml = float(curve.fill_ml[-1])
    at_ml = np.linspace(0.0, most_ml, 61)
    lines = {
        surface: line_through(
            (ml / most_ml * _CHART[0], (1.0 - share) * _CHART[1])
            for ml, share in zip(at_ml, np.interp(at_ml, curve.fill_ml, shares), strict=True)
        )
        for surface, shares in (("floor", curve.floor_share), ("roof", curve.roof_share))
    }
    return {**lines, "most_ml": most_ml}
