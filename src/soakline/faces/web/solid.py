"""The cavity in three dimensions, as numbers for a page to draw: of the workspace, and of what is being measured."""

from __future__ import annotations

import gzip
import json
from base64 import b64encode
from dataclasses import replace
from typing import Any

import numpy as np
from fastapi import APIRouter, Depends, Request
from fastapi.responses import JSONResponse, Response
from numpy.typing import NDArray
from starlette.exceptions import HTTPException

from soakline.faces.web.answers import answer_with
from soakline.faces.web.asked import answer_to, answers_of, kept_case
from soakline.faces.web.measure import SentMeasures, has_fault, text_with
from soakline.faces.web.workspace import drawable, from_here
from soakline.pictures.in_words import describe_map
from soakline.pictures.mesh import Net, mesh_of
from soakline.pictures.orientation import sides_of
from soakline.settings import Settings
from soakline.units import show_number
from soakline.workflows.answers import Picture
from soakline.workflows.hidden_size import lay_out
from soakline.workflows.plan import Asked
from soakline.wound.body import frame_of
from soakline.wound.cavity import Cavity, build_cavity
from soakline.wound.measurements import Assumptions, Wound
from soakline.wound.sheet import Sheet

solid = APIRouter()

PER_CM = 100.0
"""Points are sent as whole tenths of a millimetre."""
# Words at the sides of the body stand this far outside the wound.
_BESIDE_CM = 2.5
# A shape to look at needs no finer grid than the workspace's.
_SPACING_CM = 0.75
# The shape is that of the likely values: no more plausible wounds than a plan takes at least.
_DRAWS = 16


@solid.get("/cases/{case_id}/try/solid", response_class=JSONResponse)
def in_the_workspace(request: Request, case_id: int) -> Response:
    """Return the cavity in three dimensions: rings of points, the words at the body's sides, and all of it in words."""
    kept = kept_case(request, case_id)
    said = answer_to(request, kept)
    if said.case is None or said.plan is None or not said.plan.reach:
        raise HTTPException(409)
    ground = answers_of(request).ground_of(kept.text)
    words = describe_map(drawable(said)[1], ground.wound, None)
    return packed(_shape(ground.wound, ground.sheet, ground.assumptions, ground.cavity) | {"says": words})


@solid.post("/cases/{case_id}/measure/solid", response_class=JSONResponse, dependencies=[Depends(from_here)])
def while_measured(request: Request, case_id: int, sent: SentMeasures) -> Response:
    """Return the same of the measures as they are entered, or what they lack for it."""
    kept = kept_case(request, case_id)
    if has_fault(sent):
        return JSONResponse({"lacks": "Not drawn: a measure is refused."})
    settings: Settings = request.app.state.settings
    said = answer_with(text_with(kept, sent), replace(settings, draws=_DRAWS), Asked(models=()))
    wound = said.case.wound if said.case else None
    sheet = lay_out(wound) if wound else None
    if said.case is None or said.plan is None or wound is None or sheet is None:
        return JSONResponse({"lacks": "Not drawn: a measure is refused, or the opening is not measured."})
    if said.plan.wound is None:
        return JSONResponse({"lacks": "Not drawn while the gate is shut."})
    if sheet.depth_cm is None or any(sector.height_cm is None for sector in sheet.sectors):
        return JSONResponse({"lacks": "Not drawn yet: measure depth and every pocket height, if only as a range."})
    assumptions, posture = said.case.assumptions, next(iter(said.case.posture), None)
    flat = wound.girth_cm is None and assumptions.curvature == "girth"
    if flat:
        assumptions = replace(assumptions, curvature="flat")
    cavity = build_cavity(sheet, frame_of(wound, assumptions), _SPACING_CM, closed=assumptions.closed)
    shape = _shape(wound, sheet, assumptions, cavity)
    shows = "Likely values; drawn flat, since the girth is not measured" if flat else "Likely values"
    return packed(
        shape
        | {
            "says": describe_map(Picture(sheet, {}, (), ()), wound, None),
            "up": posture.up().tolist() if posture else shape["outward"],
            "shows": f"{shows}; {f'lying {posture.name}' if posture else 'the wound upwards'}.",
        }
    )


def packed(told: dict[str, object]) -> Response:
    """Return numbers for a page as compressed JSON."""
    body = gzip.compress(json.dumps(told, separators=(",", ":")).encode(), compresslevel=6, mtime=0)
    return Response(body, media_type="application/json", headers={"content-encoding": "gzip"})


def as_bytes(values: NDArray[Any], kind: str) -> str:
    """Return an array of any shape as base64 of one kind of number."""
    return b64encode(values.astype(kind).tobytes()).decode()


def tenths(at_cm: NDArray[np.float64]) -> list[int]:
    """Return a point (3,) in cm as whole tenths of a millimetre."""
    return [round(float(x) * PER_CM) for x in at_cm]


def _shape(wound: Wound, sheet: Sheet, assumptions: Assumptions, cavity: Cavity) -> dict[str, object]:
    frame = frame_of(wound, assumptions)
    nets = mesh_of(sheet, frame, cavity, closed=assumptions.closed)
    return {
        "nets": [_net(net) for net in nets],
        "tunnels": [
            {"name": f"tunnel, {show_number(track.length_cm)} cm", "at": tenths(net.point_cm[-1, 0])}
            for track, net in zip(sheet.tunnels, nets[1:], strict=True)
        ],
        "sides": _sides(wound, sheet, assumptions),
        "outward": frame.normal.tolist(),
    }


def _net(net: Net) -> dict[str, object]:
    return {
        "point": as_bytes(np.round(net.point_cm * PER_CM), "<i2"),
        "column": as_bytes(net.column, "<u2"),
        "rings": net.column.shape[0],
        "around": net.column.shape[1],
        "part": net.part,
    }


def _sides(wound: Wound, sheet: Sheet, assumptions: Assumptions) -> list[dict[str, object]]:
    """Return the words around the clock, each with its place at the skin beyond the wound."""
    frame, sides = frame_of(wound, assumptions), sides_of(wound.face, wound.part)
    outer = sheet.edge_cm + sheet.reach_cm
    direction = 2.0 * np.pi * np.arange(len(outer)) / len(outer)
    u, v = outer * np.sin(direction), outer * np.cos(direction)
    spots = (
        (sides.twelve, 0.0, v.max() + _BESIDE_CM),
        (sides.three, u.max() + _BESIDE_CM, 0.0),
        (sides.six, 0.0, v.min() - _BESIDE_CM),
        (sides.nine, u.min() - _BESIDE_CM, 0.0),
    )
    height = np.full(1, sheet.depth_cm or 0.0)
    return [
        {"name": word, "at": tenths(frame.place(np.full(1, at_u), np.full(1, at_v), height)[0])}
        for word, at_u, at_v in spots
    ]
