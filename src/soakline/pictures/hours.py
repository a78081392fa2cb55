"""What the probe found at each hour of the clock: undermining, none, or that nobody probed there."""

from __future__ import annotations

from typing import Literal

from soakline.wound.clock import HOURS, angle_deg
from soakline.wound.measurements import Undermining, Wound
from soakline.wound.sheet import hours_of

HourState = Literal["undermined", "reach not measured", "none found", "not probed", "marked on the skin"]


def hour_states(wound: Wound) -> dict[int, HourState]:
    """Return for each hour 1–12 what is known there; an hour in no list was not probed, which is not "none found".

    A pocket marked on the skin speaks for every hour.
    """
    return {hour: _state(wound, hour) for hour in HOURS}


def _state(wound: Wound, hour: int) -> HourState:
    if wound.pocket is not None:
        return "marked on the skin"
    found = [entry for entry in wound.undermining if _covers(entry, hour)]
    if found:
        return "undermined" if any(entry.reach_cm is not None for entry in found) else "reach not measured"
    return "none found" if hour in wound.none_found else "not probed"


def _covers(undermining: Undermining, hour: int) -> bool:
    start_deg, wide_deg = hours_of(undermining)
    return (angle_deg(hour) - start_deg) % 360.0 <= wide_deg
