"""Beds laid by hand for runs with a known answer: plain rectangles without an opening, and the flank of the figures."""

from dataclasses import replace

import numpy as np

from soakline.fluid.settle import levels
from soakline.fluid.spread import wetness
from soakline.wound.body import frame_of
from soakline.wound.cavity import ALONG_U, ALONG_V, build_cavity
from soakline.wound.measurements import Assumptions, Opening, Pocket, Undermining, Wound
from soakline.wound.sheet import lay_flat

LEVEL = np.array([0.0, 1.0, 0.0])
_SQUARE = ((-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0))


def tilted(angle_deg):
    """Return up when a bed's u runs downhill at an angle."""
    return np.array([np.sin(np.radians(angle_deg)), np.cos(np.radians(angle_deg)), 0.0])


def rectangle(across, along, spacing_cm, height_cm):
    """Return a flat closed pocket of ``across`` × ``along`` cells (u, v), both from 0, without an opening."""
    wound = Wound("front", "trunk", Opening(0.5, 0.5, 2.0), pocket=Pocket(_SQUARE, 1.0))
    flat = Assumptions(curvature="flat", closed=True)
    frame = frame_of(wound, flat)
    any_cavity = build_cavity(lay_flat(wound), frame, 1.0, closed=True)
    index = np.arange(across * along, dtype=np.int32).reshape(along, across)
    v, u = ((place.ravel() + 0.5) * spacing_cm for place in np.indices(index.shape))
    sides = ((index[:, :-1], index[:, 1:], ALONG_U), (index[:-1], index[1:], ALONG_V))
    link = np.concatenate([np.stack([a.ravel(), b.ravel()], axis=1) for a, b, _ in sides])
    way = np.concatenate([np.full(a.size, way, dtype=np.int8) for a, _, way in sides])
    count, none = index.size, np.zeros(index.size)
    spans = np.zeros((3, count, 3))
    spans[0] += spacing_cm * frame.towards_3
    spans[1] += spacing_cm * frame.towards_12
    spans[2] += height_cm * frame.normal
    face_u, face_v = u[link].mean(axis=1), v[link].mean(axis=1)
    area = np.full(count, spacing_cm**2)
    return replace(
        any_cavity, spacing_cm=spacing_cm, corner_cm=(0.0, 0.0), cells=np.stack([np.full_like(index, -1), index]),
        grid_count=count, u_cm=u, v_cm=v, in_opening=np.zeros(count, dtype=bool), height_cm=none + height_cm,
        volume_ml=area * height_cm, floor_cm2=area, roof_cm2=area, centre_cm=frame.place(u, v, none + height_cm / 2),
        spans_cm=spans, floor_cm=frame.place(u, v, none), floor_spans_cm=spans[:2],
        roof_cm=frame.place(u, v, none + height_cm), link=link, link_way=way,
        link_low_cm=frame.place(face_u, face_v, np.zeros(len(link))),
        link_high_cm=frame.place(face_u, face_v, np.full(len(link), height_cm)),
        link_bore_cm=np.zeros(len(link)), link_axis=np.zeros((len(link), 3)),
    )  # fmt: skip


def flank(spacing_cm):
    """Return the pocket of 707 cm² on a left flank of which the figures of time and error are told."""
    wound = Wound("left", "trunk", Opening(6.0, 5.0, 2.0), 104.0, undermining=(Undermining(1, 1, None, 12.2, 1.5),))
    return build_cavity(lay_flat(wound), frame_of(wound, Assumptions()), spacing_cm)


def under_liquid(pools):
    """Return the share 0–1 of each column's floor, and of its roof, that lies under liquid at rest, each (n,)."""
    basins, level = pools.basins, levels(pools)
    floor = np.clip((level - basins.floor_low_cm) / basins.floor_width_cm, 0.0, 1.0)
    roof = np.clip((level - basins.roof_low_cm) / basins.roof_width_cm, 0.0, 1.0)
    return floor, roof


def reached_points(run):
    """Return soaked, at least moist, and wetted at any time, of the floor and of the roof, each in % (6,)."""
    cavity = run.sheet.cavity
    floor, roof = wetness(run)
    parts = [(state * area[:, None]).sum(axis=0) / area.sum()
             for state, area in ((floor, cavity.floor_cm2), (roof, cavity.roof_cm2))]  # fmt: skip
    return 100.0 * np.concatenate([np.cumsum(part) for part in parts])
