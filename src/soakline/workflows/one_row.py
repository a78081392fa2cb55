"""One row of the reach looked at again: its curve over every fill."""

from __future__ import annotations

from soakline.fluid.basins import basins_of
from soakline.fluid.posture import Posture
from soakline.fluid.reach import ReachCurve, ReachMap, settled_curve
from soakline.fluid.rest import room_of
from soakline.layout.ensemble import Filling, Question, foam_of
from soakline.layout.ports import column_of
from soakline.workflows.answers import Picture
from soakline.wound.plausible import Measures


def curve_of_row(picture: Picture, row: int) -> ReachCurve | None:
    """Return what every fill soaks once settled, for the port and posture of one row of the reach.

    None where there is no such row, several ports are filled together, or no settled answer is shown.
    """
    found = _asked_of(picture, row)
    cavity = picture.cavities.get("settled")
    if found is None or cavity is None or len(found[1].poured_ml) != 1:
        return None
    posture, filling, question = found
    room = room_of(basins_of(cavity, posture.up()), foam_of(question.assumptions, Measures()))
    port = filling.poured_ml[0][0]
    return settled_curve(room, posture.name, filling.name, column_of(port, picture.sheet, cavity))


def _asked_of(picture: Picture, row: int) -> tuple[Posture, Filling, Question] | None:
    question = picture.question
    if question is None or not 0 <= row < len(picture.maps):
        return None
    shown: ReachMap = picture.maps[row]
    posture = next(posture for posture in question.postures if posture.name == shown.posture)
    asked = (shown.port, shown.fill_ml)
    return posture, next(f for f in question.fillings if (f.name, f.fill_ml) == asked), question
