"""The cavity as a closed skin of triangles in body axes: floor, outer wall, roof, edge of the opening, and tunnels."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy import float64, int32
from numpy.typing import NDArray

from soakline.wound.body import BodyFrame
from soakline.wound.cavity import Cavity
from soakline.wound.sheet import DIRECTIONS, Sheet

Part = Literal["floor", "wall", "roof", "edge", "open", "tunnel"]
Points = NDArray[float64]

# Rays from the opening's centre; hours and half hours fall halfway between two of them.
_RAYS = 120
_OPENING_RINGS = 8
_POCKET_RINGS = 8
# Sides of a tunnel's tube, whose cross-section has the area of the true circle.
_SIDES = 10


@dataclass(frozen=True, slots=True, eq=False)
class Net:
    """Rings of points in cm in body axes (rings, around, 3), each ring joined to the next and closed on itself.

    ``part`` (rings − 1,) names the surface between a ring and the next; ``column`` (rings, around) is the column of the
    cavity that each point belongs to.
    """

    point_cm: Points
    part: tuple[Part, ...]
    column: NDArray[int32]

    def triangles(self, *parts: Part) -> NDArray[int32]:
        """Return corners (t, 3) as indices into the points, ring by ring, of the named parts, or of all."""
        rings, around = self.column.shape
        at = np.arange(rings * around, dtype=np.int32).reshape(rings, around)
        here, on, beyond, across = at[:-1], np.roll(at[:-1], -1, axis=1), at[1:], np.roll(at[1:], -1, axis=1)
        both = np.stack([np.stack([here, on, across], axis=2), np.stack([here, across, beyond], axis=2)], axis=2)
        chosen = [not parts or part in parts for part in self.part]
        return both[chosen].reshape(-1, 3)


def mesh_of(sheet: Sheet, frame: BodyFrame, cavity: Cavity, *, closed: bool = False) -> tuple[Net, ...]:
    """Return the cavity's own net and one for each tunnel, every one closed; depth and pocket heights must be known."""
    return (_cavity_net(sheet, frame, cavity, closed=closed), *_tunnel_nets(sheet, cavity))


def _cavity_net(sheet: Sheet, frame: BodyFrame, cavity: Cavity, *, closed: bool) -> Net:
    ray = ((np.arange(_RAYS) + 0.5) * DIRECTIONS / _RAYS).astype(int)
    # A ray runs along the border of two of the sheet's directions.
    angle = ray * 2.0 * np.pi / DIRECTIONS
    edge_cm = (sheet.edge_cm[ray - 1] + sheet.edge_cm[ray]) / 2.0
    depth_cm = float(sheet.depth_cm or 0.0)
    # Rings lie closer together near the edge, where a bowl stands upright.
    near = np.sin(np.linspace(0.0, np.pi / 2.0, _OPENING_RINGS + 1))
    bowl = depth_cm * (1.0 - np.sqrt(np.clip(1.0 - near**2, 0.0, 1.0))) if sheet.bed == "bowl" else 0.0 * near
    out_cm, height_cm = _pocket(sheet, ray)
    inside = np.ones((len(near), _RAYS), dtype=bool)
    # Where there is no pocket its rings lie on the opening's edge and belong to the opening.
    beside = np.broadcast_to(out_cm[-1] <= 0.0, out_cm.shape)
    lid: Part = "roof" if closed else "open"
    rings: list[_Rings] = [
        _Rings(near[:, None] * edge_cm, np.repeat(bowl[:, None], _RAYS, axis=1), "floor", inside),
        _Rings(edge_cm + out_cm, np.full_like(out_cm, bowl[-1]), "floor", beside),
        _Rings((edge_cm + out_cm)[::-1], bowl[-1] + height_cm[::-1], "roof", beside),
        _Rings(near[::-1, None] * edge_cm, np.full((len(near), _RAYS), depth_cm), lid, inside),
    ]
    radius, height = (np.concatenate([getattr(one, name) for one in rings]) for name in ("radius_cm", "height_cm"))
    in_opening = np.concatenate([one.in_opening for one in rings])
    joins: tuple[tuple[Part, ...], ...] = (("floor",), ("wall",), ("edge",), ())
    part: list[Part] = []
    for one, join in zip(rings, joins, strict=True):
        part += (one.part,) * (len(one.radius_cm) - 1) + join
    u, v = radius * np.sin(angle), radius * np.cos(angle)
    point = frame.place(u.ravel(), v.ravel(), height.ravel()).reshape(*u.shape, 3)
    return Net(point, tuple(part), _columns(cavity, u, v, in_opening))


@dataclass(frozen=True, slots=True, eq=False)
class _Rings:
    radius_cm: Points
    height_cm: Points
    part: Part
    in_opening: NDArray[np.bool_]


def _pocket(sheet: Sheet, ray: NDArray[np.intp]) -> tuple[Points, Points]:
    """Return how far beyond the edge each ring lies in cm, and how high the pocket is there, (rings, rays) each.

    Where a high pocket ends inside a lower one, two rings lie on each other and the roof steps down between them.
    """
    if not sheet.sectors:
        return np.zeros((1, len(ray))), np.zeros((1, len(ray)))
    reach = np.array([np.where(one.cover_share >= 0.5, one.reach_cm, 0.0)[ray] for one in sheet.sectors])
    heights = np.array([float(one.height_cm or 0.0) for one in sheet.sectors])
    most = max(int((reach > 0.0).sum(axis=0).max()), 1)
    ends = np.sort(reach, axis=0)[-most:]
    starts = np.concatenate([np.zeros((1, len(ray))), ends[:-1]])
    there = (reach > 0.0) & (reach >= ends[:, None] - 1e-9)
    height = np.where(there, heights[:, None], 0.0).max(axis=1)
    steps = np.linspace(0.0, 1.0, max(_POCKET_RINGS // most, 2) + 1)
    out = starts[:, None] + (ends - starts)[:, None] * steps[:, None]
    high = np.repeat(height[:, None], len(steps), axis=1)
    return out.reshape(-1, len(ray)), high.reshape(-1, len(ray))


def _columns(cavity: Cavity, u: Points, v: Points, in_opening: NDArray[np.bool_]) -> NDArray[int32]:
    """Return the nearest column on the same side of the opening's edge for each point, (rings, rays)."""
    found = np.empty(u.shape, dtype=np.int32)
    open_columns = cavity.in_opening[: cavity.grid_count]
    for ring, sides in enumerate(in_opening):
        apart = (u[ring, :, None] - cavity.u_cm[: cavity.grid_count]) ** 2
        apart += (v[ring, :, None] - cavity.v_cm[: cavity.grid_count]) ** 2
        found[ring] = np.where(sides[:, None] == open_columns, apart, np.inf).argmin(axis=1)
    return found


def _tunnel_nets(sheet: Sheet, cavity: Cavity) -> list[Net]:
    nets: list[Net] = []
    start = cavity.grid_count
    for track in sheet.tunnels:
        pieces = int(np.isclose(cavity.u_cm[start:], track.start_cm[0]).cumprod().sum())
        pieces = min(pieces, max(1, int(np.ceil(track.length_cm / cavity.spacing_cm))))
        columns = np.arange(start, start + pieces, dtype=np.int32)
        nets.append(_tube(cavity, columns, track.diameter_cm))
        start += pieces
    return nets


def _tube(cavity: Cavity, columns: NDArray[int32], diameter_cm: float) -> Net:
    across, beside, along = (cavity.spans_cm[way, columns[0]] for way in range(3))
    across, beside = across / np.linalg.norm(across), beside / np.linalg.norm(beside)
    first = cavity.centre_cm[columns[0]] - along / 2.0
    middles = first + np.arange(len(columns) + 1)[:, None] * along
    radius_cm = diameter_cm / 2.0 * np.sqrt(2.0 * np.pi / _SIDES / np.sin(2.0 * np.pi / _SIDES))
    turn = np.arange(_SIDES) * 2.0 * np.pi / _SIDES
    ring = radius_cm * (np.cos(turn)[:, None] * across + np.sin(turn)[:, None] * beside)
    body = middles[:, None] + ring
    ends = [np.broadcast_to(middles[[k], None], (1, _SIDES, 3)) for k in (0, -1)]
    point = np.concatenate([ends[0], body, ends[1]])
    at = np.concatenate([columns[:1], columns[:1], columns, columns[-1:]])
    return Net(point, ("tunnel",) * (len(point) - 1), np.repeat(at[:, None], _SIDES, axis=1).astype(np.int32))
