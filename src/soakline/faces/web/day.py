"""The page of a whole day: fill, soak and suction until they repeat, worked out when it is asked for."""

from __future__ import annotations

from collections import OrderedDict
from threading import Lock

from fastapi import APIRouter, Request
from fastapi.responses import Response

from soakline.casefile.case import Case
from soakline.faces.web.answers import Answered
from soakline.faces.web.asked import answer_to, kept_case
from soakline.faces.web.choice import SURFACES, map_scale
from soakline.faces.web.render import page
from soakline.pictures.wound_map import draw_map
from soakline.workflows.answers import Picture
from soakline.workflows.day_answer import DayAnswer
from soakline.workflows.whole_day import whole_day

day_pages = APIRouter()
_MOST_KEPT = 16
_NO_WOUND = "the wound is too little known, or the gate is shut: see the case"


class Days:
    """Days by case text, worked out one at a time and kept as long as there is room."""

    def __init__(self) -> None:
        """Keep none yet."""
        self._kept: OrderedDict[str, DayAnswer | str] = OrderedDict()
        self._lock = Lock()

    def of(self, text: str, said: Answered) -> DayAnswer | str:
        """Return the day of a case, or why there is none."""
        if said.plan is None or said.plan.picture is None or said.case is None:
            return _NO_WOUND
        with self._lock:
            if text not in self._kept:
                self._kept[text] = said.plan.day or whole_day(said.case, said.plan.picture, said.plan.turning)
            self._kept.move_to_end(text)
            while len(self._kept) > _MOST_KEPT:
                self._kept.popitem(last=False)
            return self._kept[text]


@day_pages.get("/cases/{case_id}/day")
def day_page(request: Request, case_id: int) -> Response:
    """Show what a whole day of fills soaks, zone by zone and on the map."""
    kept = kept_case(request, case_id)
    said = answer_to(request, kept)
    days: Days = request.app.state.days
    found = days.of(kept.text, said)
    why, day = (found, None) if isinstance(found, str) else ("", found)
    maps = () if day is None or said.case is None or said.plan is None else _maps(said.case, said.plan.picture, day)
    return page(request, "day.html", kept=kept, plan=said.plan, day=day, why=why, maps=maps)


def _maps(case: Case, picture: Picture | None, day: DayAnswer) -> tuple[str, ...]:
    wound = case.wound
    if picture is None or wound is None:
        return ()
    one_to = map_scale(picture, wound)
    return tuple(
        draw_map(picture, wound, day.map, surface=surface, one_to=one_to, prefix=f"day-{surface}")
        for surface, _ in SURFACES
    )
