"""A trial played out and the cavity in three dimensions, as numbers for the workspace to draw."""

from __future__ import annotations

import gzip
import json
from base64 import b64encode
from typing import Any

import numpy as np
from fastapi import APIRouter, Depends, Request
from fastapi.responses import JSONResponse, Response
from numpy.typing import NDArray
from starlette.exceptions import HTTPException

from soakline.errors import InputRefused
from soakline.faces.web.answers import Answered
from soakline.faces.web.asked import answer_to, answers_of, kept_case
from soakline.faces.web.workspace import SentTrial, drawable, from_here, trial_of, wound_of
from soakline.layout.ports import Port, column_of, in_tunnel
from soakline.pictures.in_words import describe_map
from soakline.pictures.mesh import Net, mesh_of
from soakline.pictures.orientation import sides_of
from soakline.units import show_number
from soakline.workflows.play_out import Played, play_out
from soakline.workflows.try_out import Ground, Trial
from soakline.wound.body import frame_of

playing = APIRouter()

# Points are sent as whole tenths of a millimetre.
_PER_CM = 100.0
# Of the whole numbers that are sent the least stands for a column without liquid.
_FARTHEST, _NO_HEAD = 32_767, -32_768
# Words at the sides of the body stand this far outside the wound.
_BESIDE_CM = 2.5


@playing.post("/cases/{case_id}/try/frames", response_class=JSONResponse, dependencies=[Depends(from_here)])
def frames(request: Request, case_id: int, sent: SentTrial) -> Response:
    """Play a trial out: each moment in words, state and head of each column, where ports lie, which way is up."""
    said, ground = _asked(request, case_id)
    trial = trial_of(drawable(said)[0], sent)
    try:
        played = play_out(ground, trial)
    except InputRefused as refused:
        return JSONResponse({"refused": [found.says for found in refused.findings]})
    return _packed(_frames(played, ground, trial))


@playing.get("/cases/{case_id}/try/solid", response_class=JSONResponse)
def solid(request: Request, case_id: int) -> Response:
    """Return the cavity in three dimensions: rings of points, the words at the body's sides, and all of it in words."""
    said, ground = _asked(request, case_id)
    return _packed(_solid(said, ground))


def _asked(request: Request, case_id: int) -> tuple[Answered, Ground]:
    kept = kept_case(request, case_id)
    said = answer_to(request, kept)
    if said.case is None or said.plan is None or not said.plan.reach:
        raise HTTPException(409)
    return said, answers_of(request).ground_of(kept.text)


def _frames(played: Played, ground: Ground, trial: Trial) -> dict[str, object]:
    cavity = ground.cavity
    return {
        "says": played.says,
        "state": _bytes(played.state[:, :, 0] + 3 * played.state[:, :, 1], "u1"),
        "head": _bytes(_tenths_or_none(played.head_cm), "<i2"),
        "gone": _bytes(played.gone, "u1"),
        "needed": [round(needed * _PER_CM) for needed in played.needed_cm],
        "cells": _bytes(cavity.cells, "<i2"),
        "cells_shape": cavity.cells.shape,
        "corner_cm": cavity.corner_cm,
        "spacing_cm": cavity.spacing_cm,
        "posture": trial.posture.name,
        "up": trial.posture.up().tolist(),
        "ports": [_mark(port, ground) for port in trial.ports],
    }


def _mark(port: Port, ground: Ground) -> dict[str, object]:
    if in_tunnel(port, ground.sheet):
        at = ground.cavity.centre_cm[column_of(port, ground.sheet, ground.cavity)]
    else:
        frame = frame_of(ground.wound, ground.assumptions)
        u, v = ground.sheet.point_at(port.clock, port.from_edge_cm)
        at = frame.place(np.array([u]), np.array([v]), np.zeros(1))[0]
    return {"name": port.name, "kind": port.kind, "at": _tenths(at)}


def _solid(said: Answered, ground: Ground) -> dict[str, object]:
    case, picture, _ = drawable(said)
    wound, sheet = wound_of(case), ground.sheet
    nets = mesh_of(sheet, frame_of(wound, ground.assumptions), ground.cavity, closed=ground.assumptions.closed)
    return {
        "nets": [_net(net) for net in nets],
        "tunnels": [
            {"name": f"tunnel, {show_number(track.length_cm)} cm", "at": _tenths(net.point_cm[-1, 0])}
            for track, net in zip(sheet.tunnels, nets[1:], strict=True)
        ],
        "sides": _sides(ground),
        "outward": frame_of(wound, ground.assumptions).normal.tolist(),
        "says": describe_map(picture, wound, None),
    }


def _net(net: Net) -> dict[str, object]:
    return {
        "point": _bytes(np.round(net.point_cm * _PER_CM), "<i2"),
        "column": _bytes(net.column, "<u2"),
        "rings": net.column.shape[0],
        "around": net.column.shape[1],
        "part": net.part,
    }


def _sides(ground: Ground) -> list[dict[str, object]]:
    """Return the words around the clock, each with its place at the skin beyond the wound."""
    sheet, wound = ground.sheet, ground.wound
    frame, sides = frame_of(wound, ground.assumptions), sides_of(wound.face, wound.part)
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
        {"name": word, "at": _tenths(frame.place(np.full(1, at_u), np.full(1, at_v), height)[0])}
        for word, at_u, at_v in spots
    ]


def _tenths(at_cm: NDArray[np.float64]) -> list[int]:
    return [round(float(x) * _PER_CM) for x in at_cm]


def _tenths_or_none(head_cm: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.where(np.isfinite(head_cm), np.clip(np.round(head_cm * _PER_CM), -_FARTHEST, _FARTHEST), _NO_HEAD)


def _bytes(values: NDArray[Any], kind: str) -> str:
    return b64encode(values.astype(kind).tobytes()).decode()


def _packed(told: dict[str, object]) -> Response:
    body = gzip.compress(json.dumps(told, separators=(",", ":")).encode(), compresslevel=6, mtime=0)
    return Response(body, media_type="application/json", headers={"content-encoding": "gzip"})
