"""Invented wounds to draw, each with its columns and one reach map: all of the side towards 3 o'clock is soaked."""

from collections.abc import Callable

import numpy as np
import pytest

from soakline.fluid.reach import ReachMap
from soakline.layout.ports import Port
from soakline.units import Range
from soakline.workflows.answers import Picture
from soakline.wound.body import frame_of
from soakline.wound.cavity import build_cavity
from soakline.wound.measurements import Assumptions, KeepClear, Opening, Tunnel, Undermining, Wound
from soakline.wound.sheet import lay_flat


@pytest.fixture
def half_pocket() -> Wound:
    """A round opening with a pocket from 12 through 3 to 6; 7 to 10 probed, 11 not."""
    return Wound(
        "front",
        "trunk",
        Opening(6, 6, 2),
        girth_cm=104,
        undermining=(Undermining(from_clock=12, to_clock=6, reach_cm=4, height_cm=Range(1, 1.5, 2)),),
        none_found=(7, 8, 9, 10),
    )


@pytest.fixture
def crowded() -> Wound:
    """Two pockets, two tunnels, a structure to keep clear, most hours not probed."""
    return Wound(
        "back",
        "trunk",
        Opening(9, 5, 3),
        girth_cm=104,
        undermining=(
            Undermining(from_clock=10, to_clock=2, reach_cm=6, height_cm=1, basis="estimated"),
            Undermining(clock=5, reach_cm=Range(3, 5, 7), height_cm=1),
        ),
        none_found=(4, 7),
        tunnel=(Tunnel(5, 6, 1, 15, end_felt=True), Tunnel(8, 4, 0.8)),
        keep_clear=(KeepClear("bowel under mesh", 9, 3, 2),),
    )


@pytest.fixture
def picture_of() -> Callable[..., Picture]:
    """Make the picture of a wound with ports."""

    def make(wound: Wound, *ports: Port) -> Picture:
        sheet = lay_flat(wound)
        cavity = build_cavity(sheet, frame_of(wound, Assumptions(curvature="flat")), 0.2)
        floor = (cavity.u_cm > 0.0).astype(float)
        nothing = np.zeros_like(floor)
        shown = ReachMap(
            posture="left 30",
            model="settled",
            port="I1",
            fill_ml=60.0,
            floor_share=np.column_stack([floor, nothing, nothing]),
            roof_share=np.column_stack([nothing, nothing, nothing]),
            level_cm=nothing,
            seal=None,
            left_over_ml=0.0,
        )
        return Picture(sheet, {"settled": cavity}, ports, (shown,))

    return make
