"""Measure: the dial of the wound is the form; the cavity is told at once, and taken over into the case file."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from typing import Annotated, Literal

from fastapi import APIRouter, Depends, Request
from fastapi.responses import JSONResponse, Response
from pydantic import BaseModel, ConfigDict, Field, ValidationError
from starlette.exceptions import HTTPException

from soakline.casefile.case import Case
from soakline.casefile.read import read_case
from soakline.casefile.write import write_case
from soakline.errors import Finding, StaleRecord
from soakline.faces.web.answers import Answered, answer_with
from soakline.faces.web.asked import Form, answers_of, kept_case, needs, version_read
from soakline.faces.web.described import LED_ON, takes
from soakline.faces.web.doors import refuse_other_sites
from soakline.faces.web.entering import take_in
from soakline.faces.web.pages import file_page, see
from soakline.faces.web.render import page
from soakline.pictures.frame import map_frame
from soakline.pictures.orientation import sides_of
from soakline.pictures.wound_map import SCALES, draw_map
from soakline.record.cases import KeptCase, NewCase, save_case
from soakline.settings import Settings
from soakline.units import Measured, Range, show_ml, show_number
from soakline.workflows.answers import Measurement, Picture, WoundAnswer
from soakline.workflows.as_json import Json, as_json
from soakline.workflows.hidden_size import lay_out, measure_next, size_of
from soakline.workflows.in_words import in_order, say_area, say_doubt, say_level
from soakline.workflows.measuring import BedsideMeasures, changes_of, measures_of, say_held
from soakline.workflows.plan import Asked
from soakline.workflows.workings import work_size
from soakline.wound.clock import HOURS, angle_deg
from soakline.wound.dial import Covers, DialHour, Found
from soakline.wound.measurements import Basis, KeepClear, Tunnel, Wound
from soakline.wound.sheet import Sheet, edge_at, hours_words

measure = APIRouter()

_MOST_ROWS = 20
# While the hand moves, fewer plausible wounds answer sooner; when it rests, the case's own number does.
_MOVING_DRAWS = 32
_ROOM_STEP_CM = 3.0
_LEAST_ROOM_CM = 4.0
_WIDEST_MM = 170.0
_Number = Annotated[float, Field(ge=-1e4, le=1e4)]
_Clock = Annotated[float, Field(ge=1.0, lt=13.0)]
_SPANS = frozenset({"length_cm", "width_cm", "depth_cm", "reach_cm", "height_cm", "diameter_cm"})
_FIELDS = {
    "girth_cm": "girth",
    "reach_cm": "reach",
    "height_cm": "pocket height",
    "length_cm": "length",
    "width_cm": "width",
    "depth_cm": "depth",
    "diameter_cm": "width across",
    "from_edge_cm": "distance from the edge",
    "radius_cm": "half its width",
    "down_deg": "degrees down",
}


class _Sent(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


class SentSpan(_Sent):
    """A measure as three fields hold it: all empty is "not measured", the middle alone a plain number."""

    low: _Number | None = None
    likely: _Number | None = None
    high: _Number | None = None

    def fault(self) -> str | None:
        """Say why the three are no measure, or None where they are one."""
        given = (self.low, self.likely, self.high)
        if given in {(None, None, None), (None, self.likely, None)}:
            return None
        if self.low is None or self.likely is None or self.high is None:
            return "part of a range given; write low, likely and high, or likely alone"
        if not self.low <= self.likely <= self.high:
            written = ", ".join(show_number(one, 2) for one in (self.low, self.likely, self.high))
            return f"{written} given; low, likely and high go upwards"
        return None

    def measured(self) -> Measured:
        """Return the measure; ``fault`` must be None."""
        if self.low is None or self.likely is None or self.high is None:
            return self.likely
        return Range(self.low, self.likely, self.high)


class SentHour(_Sent):
    """One hour of the dial."""

    found: Found
    reach_cm: SentSpan
    height_cm: SentSpan
    basis: Basis
    covers: Covers


class SentTunnel(_Sent):
    """One tunnel."""

    clock: _Clock
    length_cm: SentSpan
    diameter_cm: SentSpan
    down_deg: _Number
    end_felt: bool | None


class SentStructure(_Sent):
    """One structure to keep clear."""

    what: Annotated[str, Field(min_length=1, max_length=80)]
    clock: _Clock
    from_edge_cm: _Number
    radius_cm: _Number


class SentMeasures(_Sent):
    """All that the page holds; ``moving`` while the hand still moves."""

    girth_cm: _Number | None
    length_cm: SentSpan
    width_cm: SentSpan
    depth_cm: SentSpan
    hours: Annotated[list[SentHour], Field(min_length=12, max_length=12)]
    tunnel: Annotated[list[SentTunnel], Field(max_length=_MOST_ROWS)]
    keep_clear: Annotated[list[SentStructure], Field(max_length=_MOST_ROWS)]
    moving: bool = False


def _from_here(request: Request) -> None:
    refuse_other_sites(request)


@measure.get("/cases/{case_id}/measure")
def measure_page(request: Request, case_id: int) -> Response:
    """Show the dial of a case with what its file holds."""
    kept = kept_case(request, case_id)
    case = read_case(kept.text).case
    if case is None or case.wound is None or answers_of(request).at_a_glance(kept.text).case is None:
        return page(request, "measure.html", kept=kept, data="")
    data = {
        "measures": _spans(as_json(measures_of(case.wound))),
        "traced": case.wound.opening.outline_cm is not None,
        "part": case.wound.part,
        "echo": _echo(kept.text, request.app.state.settings),
    }
    return page(
        request,
        "measure.html",
        kept=kept,
        data=json.dumps(data).replace("<", "\\u003c"),
        held=say_held(case.wound),
        part=case.wound.part,
        head="the head" if case.wound.part == "trunk" else "proximal",
    )


@measure.post("/cases/{case_id}/measure", response_class=JSONResponse, dependencies=[Depends(_from_here)])
def measure_once(request: Request, case_id: int, sent: SentMeasures) -> Response:
    """Answer what is entered: the cavity in words, what stands against it, what to measure next, the dial drawn."""
    kept = kept_case(request, case_id)
    faults = list(_faults(sent))
    if faults:
        return JSONResponse(_refused(faults))
    settings: Settings = request.app.state.settings
    settings = replace(settings, draws=min(settings.draws, _MOVING_DRAWS)) if sent.moving else settings
    return JSONResponse(_echo(text_with(kept, sent), settings))


@measure.post(
    "/cases/{case_id}/measure/keep", openapi_extra=takes("version", "measures"), dependencies=[needs("plan")], **LED_ON
)
def keep_measures(request: Request, case_id: int, form: Form) -> Response:
    """Take the measures over into the case file; a save by somebody else meanwhile shows both texts."""
    kept = kept_case(request, case_id)
    try:
        sent = SentMeasures.model_validate_json(str(form.get("measures", "")))
    except ValidationError as error:
        raise HTTPException(400) from error
    faults = tuple(Finding("refuse", place, says) for place, says in _faults(sent))
    if faults:
        return file_page(request, kept, kept.text, findings=faults, status=422)
    text = text_with(kept, sent)
    new = take_in(text, answers_of(request))
    if not isinstance(new, NewCase):
        return file_page(request, kept, text, findings=new, status=422)
    try:
        return see(save_case(request.app.state.record, kept.id, new, version_read(form), datetime.now(UTC)))
    except StaleRecord as stale:
        return file_page(request, kept_case(request, kept.id), text, stale=str(stale), status=409)


def has_fault(sent: SentMeasures) -> bool:
    """Say whether three fields that were sent make no measure."""
    return any(_faults(sent))


def text_with(kept: KeptCase, sent: SentMeasures) -> str:
    """Return the text of a case with the measures that were sent in place of its own; ``has_fault`` must be False."""
    case = read_case(kept.text).case
    if case is None or case.wound is None:
        raise HTTPException(409)
    return write_case(kept.text, changes_of(case, case.wound, _measures(sent)))


def _measures(sent: SentMeasures) -> BedsideMeasures:
    return BedsideMeasures(
        sent.girth_cm,
        sent.length_cm.measured(),
        sent.width_cm.measured(),
        sent.depth_cm.measured(),
        tuple(_hour(hour) for hour in sent.hours),
        tuple(
            Tunnel(row.clock, row.length_cm.measured(), row.diameter_cm.measured(), row.down_deg, row.end_felt)
            for row in sent.tunnel
        ),
        tuple(KeepClear(row.what, row.clock, row.from_edge_cm, row.radius_cm) for row in sent.keep_clear),
    )


def _hour(sent: SentHour) -> DialHour:
    if sent.found != "undermined":
        return DialHour(sent.found)
    return DialHour(sent.found, sent.reach_cm.measured(), sent.height_cm.measured(), sent.basis, sent.covers)


def _faults(sent: SentMeasures) -> Iterator[tuple[str, str]]:
    spans = [("length of the opening", sent.length_cm), ("width of the opening", sent.width_cm)]
    spans.append(("depth", sent.depth_cm))
    for hour, one in zip(HOURS, sent.hours, strict=True):
        if one.found == "undermined":
            spans += [(f"{hour} o'clock, reach", one.reach_cm), (f"{hour} o'clock, pocket height", one.height_cm)]
    for number, row in enumerate(sent.tunnel, 1):
        spans += [(f"tunnel {number}, length", row.length_cm), (f"tunnel {number}, width across", row.diameter_cm)]
    for place, span in spans:
        if says := span.fault():
            yield place, says


def _refused(faults: Sequence[tuple[str, str]]) -> dict[str, Json]:
    findings: list[Json] = [{"level": "refuse", "word": say_level("refuse"), "place": p, "says": s} for p, s in faults]
    return {"refused": True, "findings": findings}


def _echo(text: str, settings: Settings) -> dict[str, Json]:
    """Return all that the page shows of one case text; a refused one shows its findings alone."""
    said = answer_with(text, settings, Asked(models=()))
    reading = read_case(text)
    wound = (reading.case or reading.rest or Case("", "care", None, None, frozenset(), None)).wound
    found = [one for one in in_order(said.findings) if one.where.startswith("wound") or one.level == "refuse"]
    findings: list[Json] = [
        {"level": one.level, "word": say_level(one.level), "place": _place(one.where, wound), "says": one.says}
        for one in found
    ]
    if said.case is None or said.plan is None or said.case.wound is None:
        return {"refused": True, "findings": findings}
    sheet = lay_out(said.case.wound)
    return {
        "refused": False,
        "findings": findings,
        "says": _says(said, said.case, said.case.wound, sheet),
        "next": [{"what": one.what, "narrows_by": one.narrows_by} for one in _next(said, said.case, said.case.wound)],
        "lines": list(_lines(said)),
        "working": _working(said.plan.wound, said.case),
        "gate_shut": said.plan.wound is None and said.plan.gate.state == "shut",
        **_drawn(said.case.wound, sheet),
    }


def _next(said: Answered, case: Case, wound: Wound) -> Sequence[Measurement]:
    asked = said.plan.next_measurement if said.plan else ()
    return asked or measure_next(wound, None, case.assumptions)


def _says(said: Answered, case: Case, wound: Wound, sheet: Sheet | None) -> str:
    size = said.plan.wound if said.plan else None
    volume = show_ml(size.void_ml) if size and size.void_ml else "no volume yet"
    if said.plan and said.plan.wound is None and said.plan.gate.state == "shut":
        volume = "no volume while the gate is shut"
    if sheet is None:
        return f"{volume}; measure the opening's length and width first"
    known = size or size_of(wound, sheet, case.assumptions, None)
    return "; ".join(part for part in (volume, _share(known, wound), _side(known)) if part)


def _share(size: WoundAnswer, wound: Wound) -> str:
    if not size.bed_to_opening or not size.pocket_cm2:
        return ""
    least = "at least " if any(entry.reach_cm is None for entry in wound.undermining) else ""
    return f"{least}{show_number(size.bed_to_opening)} times the opening"


def _side(size: WoundAnswer) -> str:
    side = size.pocket_side
    return "" if side is None else side if side.startswith("all") else "to the " + side.replace("; ", "; to the ")


def _lines(said: Answered) -> Iterator[str]:
    size = said.plan.wound if said.plan else None
    if size is None:
        return
    if size.void_ml is not None:
        yield "; ".join(say_doubt(size))
    if size.opening_cm2 is not None:
        pocket = f", pocket under kept skin {say_area(size.pocket_cm2)}" if size.pocket_cm2 else ""
        yield f"opening {say_area(size.opening_cm2)}{pocket}"


def _working(size: WoundAnswer | None, case: Case) -> Json:
    if size is None:
        return None
    work = work_size(size, case.assumptions)
    return {"lines": list(work.lines), "keys": list(work.keys)}


def _drawn(wound: Wound, sheet: Sheet | None) -> dict[str, Json]:
    if sheet is None:
        return {"map": None, "frame": None}
    sides = sides_of(wound.face, wound.part)
    room_cm = _room_cm(sheet)
    one_to = next((n for n in SCALES if map_frame(sheet, sides, n, room_cm).width_mm <= _WIDEST_MM), SCALES[-1])
    frame = map_frame(sheet, sides, one_to, room_cm)
    picture = Picture(sheet, {}, (), ())
    return {
        "map": draw_map(picture, wound, None, one_to=one_to, prefix="dial", room_cm=room_cm),
        "frame": {
            "origin_mm": list(frame.origin_mm),
            "mm_per_cm": frame.mm_per_cm,
            "edge_cm": [round(edge_at(sheet, angle_deg(hour)), 3) for hour in HOURS],
            "room_cm": room_cm,
        },
    }


def _room_cm(sheet: Sheet) -> float:
    farthest = float((sheet.edge_cm + sheet.reach_cm).max()) + 2.0
    least = float(sheet.edge_cm.max()) + _LEAST_ROOM_CM
    return _ROOM_STEP_CM * math.ceil(max(farthest, least) / _ROOM_STEP_CM)


def _place(where: str, wound: Wound | None) -> str:
    """Write a dotted key as the field of the page it belongs to.

    >>> _place("wound.opening.depth_cm", None), _place("wound.tunnel.0.length_cm", None)
    ('depth of the opening', 'tunnel 1, length')
    >>> _place("wound.girth_cm", None), _place("wound.probed.none_found", None)
    ('girth', 'hour by hour')
    """
    parts = where.split(".")
    field = _FIELDS.get(parts[-1], "")
    if where.startswith("wound.probed"):
        return "hour by hour"
    if where == "wound.girth_cm":
        return field
    if where.startswith("wound.opening.") and field:
        return f"{field} of the opening"
    kind = parts[1] if len(parts) > 2 and parts[2].isdecimal() else ""
    names: dict[str, Literal["tunnel", "structure"]] = {"tunnel": "tunnel", "keep_clear": "structure"}
    if kind in names:
        return ", ".join(part for part in (f"{names[kind]} {int(parts[2]) + 1}", field) if part)
    if kind == "undermining" and wound is not None and int(parts[2]) < len(wound.undermining):
        return ", ".join(part for part in (hours_words(wound.undermining[int(parts[2])]), field) if part)
    return where


def _spans(value: Json) -> Json:
    """Return the measures with each measured number as the three fields that the page has for it."""
    if isinstance(value, list):
        return [_spans(one) for one in value]
    if not isinstance(value, dict):
        return value
    return {key: _span(one) if key in _SPANS else _spans(one) for key, one in value.items()}


def _span(value: Json) -> Json:
    return value if isinstance(value, dict) else {"low": None, "likely": value, "high": None}
