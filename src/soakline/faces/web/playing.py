"""A trial played out, as numbers for the workspace to draw."""

from __future__ import annotations

import numpy as np
from fastapi import APIRouter, Depends, Request
from fastapi.responses import JSONResponse, Response
from numpy.typing import NDArray
from starlette.exceptions import HTTPException

from soakline.errors import InputRefused
from soakline.faces.web.answers import Answered
from soakline.faces.web.asked import answer_to, answers_of, kept_case
from soakline.faces.web.solid import PER_CM, as_bytes, packed, tenths
from soakline.faces.web.workspace import SentTrial, drawable, from_here, trial_of
from soakline.layout.ports import Port, column_of, in_tunnel
from soakline.workflows.play_out import Played, play_out
from soakline.workflows.try_out import Ground, Trial
from soakline.wound.body import frame_of

playing = APIRouter()

# Of the whole numbers that are sent the least stands for a column without liquid.
_FARTHEST, _NO_HEAD = 32_767, -32_768


@playing.post("/cases/{case_id}/try/frames", response_class=JSONResponse, dependencies=[Depends(from_here)])
def frames(request: Request, case_id: int, sent: SentTrial) -> Response:
    """Play a trial out: each moment in words, state and head of each column, where ports lie, which way is up."""
    said, ground = _asked(request, case_id)
    trial = trial_of(drawable(said)[0], sent)
    try:
        played = play_out(ground, trial)
    except InputRefused as refused:
        return JSONResponse({"refused": [found.says for found in refused.findings]})
    return packed(_frames(played, ground, trial))


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
        "state": as_bytes(played.state[:, :, 0] + 3 * played.state[:, :, 1], "u1"),
        "head": as_bytes(_tenths_or_none(played.head_cm), "<i2"),
        "gone": as_bytes(played.gone, "u1"),
        "needed": [round(needed * PER_CM) for needed in played.needed_cm],
        "cells": as_bytes(cavity.cells, "<i2"),
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
    return {"name": port.name, "kind": port.kind, "at": tenths(at)}


def _tenths_or_none(head_cm: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.where(np.isfinite(head_cm), np.clip(np.round(head_cm * PER_CM), -_FARTHEST, _FARTHEST), _NO_HEAD)
