"""The cavity as columns that stand on the bed: a grid that follows the bed, with tunnels as short lengths of tube."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numba
import numpy as np
from numpy import bool_, float64, int8, int32
from numpy.typing import NDArray

from soakline.wound.body import BodyFrame
from soakline.wound.cells import FINE_COUNT, Cells, cells_of
from soakline.wound.sheet import DIRECTIONS, MIDS_DEG, STEP_DEG, Sheet, Track
from soakline.wound.volume import well_depth_cm

# Which way a link leads.
ALONG_U, ALONG_V, IN_A_CELL, IN_A_TUNNEL = range(4)
_STEP_RAD = math.radians(STEP_DEG)
# The opening's edge at the skin is kept at every degree; hours fall on them.
_RIM_DEG: NDArray[float64] = np.arange(360, dtype=np.float64)
_RIM_SINE, _RIM_COSINE = np.sin(np.radians(_RIM_DEG)), np.cos(np.radians(_RIM_DEG))
_ROUND_DEG = np.concatenate([MIDS_DEG[-1:] - 360.0, MIDS_DEG, MIDS_DEG[:1] + 360.0])
# A uniform box with the same spread as a disc of diameter d is √3/2 · d wide.
_DISC_AS_BOX = math.sqrt(3.0) / 2.0


@dataclass(frozen=True, slots=True, eq=False)
class Cavity:
    """All columns of a cavity, arrays of shape (n,) or (n, 3); lengths in cm, areas in cm², volumes in mL.

    ``cells`` (2, rows, columns of the grid) gives for each cell its column under the opening and its column in the
    pocket, −1 for none; the first cell's outer corner is ``corner_cm``. The first ``grid_count`` columns stand on the
    grid; the rest are lengths of tunnel. ``centre_cm`` is a column's middle, ``spans_cm`` (3, n, 3) its edges as
    vectors; ``floor_cm`` and ``roof_cm`` the middles of its two faces with ``floor_spans_cm`` (2, n, 3) and
    ``spans_cm[:2]`` as edges. Neighbours are pairs ``link`` (m, 2) that share a face, ``link_way`` (m,) which way they
    lead (``ALONG_U`` and so on); ``link_low_cm`` and ``link_high_cm`` (m, 3) are that face's lower and upper ends,
    ``link_bore_cm`` (m,) its radius and ``link_axis`` (m, 3) its axis where it is a tube's. ``rim_cm`` (k, 3) is
    the opening's edge at the skin in the directions ``rim_deg`` (k,) clockwise from 12, and ``rim_column`` (k,) the
    column under it; all are empty where the opening is closed.
    """

    spacing_cm: float
    corner_cm: tuple[float, float]
    cells: NDArray[int32]
    grid_count: int
    u_cm: NDArray[float64]
    v_cm: NDArray[float64]
    in_opening: NDArray[bool_]
    height_cm: NDArray[float64]
    volume_ml: NDArray[float64]
    floor_cm2: NDArray[float64]
    roof_cm2: NDArray[float64]
    centre_cm: NDArray[float64]
    spans_cm: NDArray[float64]
    floor_cm: NDArray[float64]
    floor_spans_cm: NDArray[float64]
    roof_cm: NDArray[float64]
    link: NDArray[int32]
    link_way: NDArray[int8]
    link_low_cm: NDArray[float64]
    link_high_cm: NDArray[float64]
    link_bore_cm: NDArray[float64]
    link_axis: NDArray[float64]
    rim_cm: NDArray[float64]
    rim_column: NDArray[int32]
    rim_deg: NDArray[float64]

    @property
    def void_ml(self) -> float:
        """The volume of all columns in mL."""
        return float(self.volume_ml.sum())

    def nearest(self, u_cm: float, v_cm: float, *, in_opening: bool | None = None) -> int:
        """Return the index of the column whose middle is nearest to a sheet point in cm; tunnels are not asked."""
        asked = self.in_opening[: self.grid_count] == in_opening
        if in_opening is None or not asked.any():
            asked = np.ones(self.grid_count, dtype=np.bool_)
        return int(_nearest(self.u_cm, self.v_cm, asked, u_cm, v_cm))

    def columns_at(self, u_cm: NDArray[float64], v_cm: NDArray[float64], in_opening: NDArray[bool_]) -> NDArray[int32]:
        """Return the columns that stand at sheet points (n,) in cm, under the opening or in the pocket; −1 for none."""
        row = np.floor((v_cm - self.corner_cm[1]) / self.spacing_cm).astype(np.intp)
        place = np.floor((u_cm - self.corner_cm[0]) / self.spacing_cm).astype(np.intp)
        rows, places = self.cells.shape[1:]
        inside = (row >= 0) & (row < rows) & (place >= 0) & (place < places)
        side = np.where(in_opening, 0, 1)
        found = self.cells[side, np.where(inside, row, 0), np.where(inside, place, 0)]
        return np.where(inside, found, -1).astype(np.int32)


def build_cavity(
    sheet: Sheet, frame: BodyFrame, spacing_cm: float, *, closed: bool = False, most_count: int = 1_000_000
) -> Cavity:
    """Return the columns of a sheet on a grid of ``spacing_cm``, placed in the body by ``frame``.

    Volumes are area × height: sheet lengths are taken at the pocket's mid-height, so the slab summed by hand is the
    volume. Raises ValueError when depth or a pocket height is missing, GridRefused when more than ``most_count`` cells
    are needed.
    """
    depth = well_depth_cm(sheet, closed=closed)
    if depth is None or any(part.height_cm is None for part in sheet.sectors):
        msg = "depth and every pocket height must be known before the cavity can be built"
        raise ValueError(msg)
    cells = cells_of(sheet, spacing_cm, depth, most_count)
    grid = _grid_columns(sheet, frame, spacing_cm, cells, roofed=closed)
    links = _grid_links(frame, grid, cells.index)
    rim = _rim_of(sheet, frame, spacing_cm, cells, depth, roofed=closed)
    return _join_tunnels(sheet, frame, spacing_cm, cells, grid, links, rim)


@numba.njit(cache=True, nogil=True)
def _nearest(u: Any, v: Any, asked: Any, at_u: float, at_v: float) -> int:
    found, least = -1, np.inf
    for i in range(len(asked)):
        if asked[i]:
            apart = (u[i] - at_u) ** 2 + (v[i] - at_v) ** 2
            if apart < least:
                found, least = i, apart
    return found


@dataclass(frozen=True, slots=True, eq=False)
class _Columns:
    """Columns as they stand in the body, before tunnels are joined: the fields of ``Cavity`` for the grid alone."""

    u: NDArray[float64]
    v: NDArray[float64]
    in_opening: NDArray[bool_]
    floor_height: NDArray[float64]
    height: NDArray[float64]
    volume: NDArray[float64]
    floor_area: NDArray[float64]
    roof_area: NDArray[float64]
    centre: NDArray[float64]
    spans: NDArray[float64]
    floor: NDArray[float64]
    floor_spans: NDArray[float64]
    roof: NDArray[float64]


def _grid_columns(sheet: Sheet, frame: BodyFrame, spacing_cm: float, cells: Cells, *, roofed: bool) -> _Columns:
    bed, top = _bed_of(sheet, spacing_cm, cells), cells.height_cm
    floor, slope_u, slope_v = bed.height, bed.slope_u, bed.slope_v
    area = cells.share * spacing_cm**2
    outward, towards_u = frame.axes(cells.u_cm)
    side = np.sqrt(cells.share) * spacing_cm
    spans, floor_spans = _spans(side, top - floor, slope_u, slope_v, outward, towards_u, frame.towards_12)
    roof_area = np.where(cells.in_opening & (not roofed), 0.0, area)
    centre, on_floor, on_roof = frame.place(cells.u_cm, cells.v_cm, np.stack([(floor + top) / 2.0, floor, top]))
    return _Columns(
        cells.u_cm,
        cells.v_cm,
        cells.in_opening,
        floor,
        top - floor,
        area * (top - floor),
        area * bed.stretch,
        roof_area,
        centre,
        spans,
        on_floor,
        floor_spans,
        on_roof,
    )


@numba.njit(cache=True, nogil=True)
def _spans(side: Any, height: Any, slope_u: Any, slope_v: Any, outward: Any, towards_u: Any, towards_12: Any) -> Any:
    """Edges of columns as vectors, (3, n, 3), and of their floors, which rise by their slopes, (2, n, 3)."""
    n = len(side)
    spans, floor_spans = np.empty((3, n, 3)), np.empty((2, n, 3))
    for i in range(n):
        for axis in range(3):
            spans[0, i, axis] = side[i] * towards_u[i, axis]
            spans[1, i, axis] = side[i] * towards_12[axis]
            spans[2, i, axis] = height[i] * outward[i, axis]
            floor_spans[0, i, axis] = spans[0, i, axis] + slope_u[i] * side[i] * outward[i, axis]
            floor_spans[1, i, axis] = spans[1, i, axis] + slope_v[i] * side[i] * outward[i, axis]
    return spans, floor_spans


@dataclass(frozen=True, slots=True, eq=False)
class _Bed:
    """The bed under each cell, (n,): height above its deepest point, slopes, and its surface for each cm² of sheet."""

    height: NDArray[float64]
    slope_u: NDArray[float64]
    slope_v: NDArray[float64]
    stretch: NDArray[float64]


def _bed_of(sheet: Sheet, spacing_cm: float, cells: Cells) -> _Bed:
    if sheet.bed == "flat":
        flat = np.zeros(len(cells.u_cm))
        return _Bed(flat, flat, flat, flat + 1.0)
    # A bowl curves within a cell and stands upright at its rim: a cell is the mean of its sub-cells inside the edge.
    fine = spacing_cm / FINE_COUNT
    rows, places = np.nonzero(cells.index[0] >= 0)
    off_v, off_u = (x.ravel() for x in np.mgrid[0:FINE_COUNT, 0:FINE_COUNT] * fine + fine / 2.0)
    u = cells.corner_cm[0] + (places * spacing_cm)[:, None] + off_u
    v = cells.corner_cm[1] + (rows * spacing_cm)[:, None] + off_v
    bins = (np.degrees(np.arctan2(u, v)) % 360.0 / STEP_DEG).astype(int) % DIRECTIONS
    turned = (np.roll(sheet.edge_cm, -1) - np.roll(sheet.edge_cm, 1)) / (2.0 * _STEP_RAD)
    edge, radius, swell = sheet.edge_cm[bins], np.maximum(np.hypot(u, v), 1e-9), turned[bins] / sheet.edge_cm[bins] ** 2
    near = radius / edge
    toward_u, toward_v = u / radius, v / radius
    # How ``near`` changes along the sheet, and the bed's mean slope over the width of a sub-cell.
    near_u, near_v = toward_u / edge - toward_v * swell, toward_v / edge + toward_u * swell
    half = np.hypot(near_u, near_v) * fine / 2.0
    inner, outer = np.clip(near - half, 0.0, 1.0 - 1e-9), np.clip(near + half, 1e-9, 1.0)
    depth = cells.height_cm[:, None]
    steep = depth * (np.sqrt(1.0 - inner**2) - np.sqrt(1.0 - outer**2)) / (outer - inner)
    inside = near < 1.0
    share = inside / np.maximum(inside.sum(axis=1), 1)[:, None]
    height = depth * (1.0 - np.sqrt(np.clip(1.0 - near**2, 0.0, 1.0)))
    return _Bed(
        (share * height).sum(axis=1),
        (share * steep * near_u).sum(axis=1),
        (share * steep * near_v).sum(axis=1),
        (share * np.hypot(1.0, steep * np.hypot(near_u, near_v))).sum(axis=1),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Links:
    pair: NDArray[int32]
    way: NDArray[int8]
    low: NDArray[float64]
    high: NDArray[float64]


def _grid_links(frame: BodyFrame, grid: _Columns, index: NDArray[int32]) -> _Links:
    pair, way, middle, ends = _shared_faces(index, grid.u, grid.v, grid.in_opening, grid.floor_height, grid.height)
    return _Links(pair, way, *frame.place(middle[0], middle[1], ends))


@numba.njit(cache=True, nogil=True)
def _shared_faces(index: Any, u: Any, v: Any, in_opening: Any, floor: Any, height: Any) -> Any:
    """List pairs of columns (m, 2) that share a face, which way each leads (m,), and the face.

    Of a face: its middle, (u, v) by (2, m), and the heights of its two ends above the bed, (2, m). Along u and along v
    the links form lines: no column has more than one neighbour on a side.
    """
    rows, columns = index.shape[1:]
    most = 5 * rows * columns
    pair, way = np.empty((most, 2), dtype=np.int32), np.empty(most, dtype=np.int8)
    middle, ends = np.empty((2, most)), np.empty((2, most))
    m = 0
    for leads in (ALONG_U, ALONG_V, IN_A_CELL):
        right, up = int(leads == ALONG_U), int(leads == ALONG_V)
        for a, b in ((0, 0), (1, 1), (0, 1), (1, 0)):
            if leads == IN_A_CELL and (a, b) != (0, 1):
                continue
            for i in range(rows - up):
                for j in range(columns - right):
                    p, q = index[a, i, j], index[b, i + up, j + right]
                    if p < 0 or q < 0:
                        continue
                    # Opening and pocket meet across a face only where neither side is cut; else they meet inside the
                    # cut cell.
                    if leads != IN_A_CELL and a != b and (index[b, i, j] >= 0 or index[a, i + up, j + right] >= 0):
                        continue
                    both_open = in_opening[p] and in_opening[q]
                    low = (floor[p] + floor[q]) / 2.0 if both_open else max(floor[p], floor[q])
                    high = min(floor[p] + height[p], floor[q] + height[q])
                    if high > low:
                        pair[m, 0], pair[m, 1], way[m] = p, q, leads
                        middle[0, m], middle[1, m] = (u[p] + u[q]) / 2.0, (v[p] + v[q]) / 2.0
                        ends[0, m], ends[1, m] = low, high
                        m += 1
    return pair[:m].copy(), way[:m].copy(), middle[:, :m].copy(), ends[:, :m].copy()


@dataclass(frozen=True, slots=True, eq=False)
class _Rim:
    point: NDArray[float64]
    column: NDArray[int32]
    direction: NDArray[float64]


def _rim_of(sheet: Sheet, frame: BodyFrame, spacing_cm: float, cells: Cells, depth_cm: float, *, roofed: bool) -> _Rim:
    edge = np.interp(_RIM_DEG, _ROUND_DEG, np.concatenate([sheet.edge_cm[-1:], sheet.edge_cm, sheet.edge_cm[:1]]))
    column = np.full(len(edge), -1, dtype=np.int32)
    # The edge may cut off less of a cell than is counted: what lies under it is then the next cell inward.
    for inward_cm in (0.0, spacing_cm / 2.0, spacing_cm, np.inf):
        radius = np.maximum(edge - inward_cm, 0.0)
        place = np.floor((radius * _RIM_SINE - cells.corner_cm[0]) / spacing_cm).astype(np.intp)
        row = np.floor((radius * _RIM_COSINE - cells.corner_cm[1]) / spacing_cm).astype(np.intp)
        column = np.where(column < 0, cells.index[0, row, place], column)
    u, v = edge * _RIM_SINE, edge * _RIM_COSINE
    kept = (column >= 0) & (not roofed)
    return _Rim(frame.place(u, v, np.full(len(edge), depth_cm))[kept], column[kept], _RIM_DEG[kept])


def _join_tunnels(
    sheet: Sheet, frame: BodyFrame, spacing_cm: float, cells: Cells, grid: _Columns, links: _Links, rim: _Rim
) -> Cavity:
    tubes = [_tube(track, frame, spacing_cm) for track in sheet.tunnels]
    count = len(grid.u)
    parts: dict[str, list[NDArray[Any]]] = {
        "u": [grid.u], "v": [grid.v], "open": [grid.in_opening], "height": [grid.height], "volume": [grid.volume],
        "floor2": [grid.floor_area], "roof2": [grid.roof_area], "centre": [grid.centre], "spans": [grid.spans],
        "floor": [grid.floor], "floor_spans": [grid.floor_spans], "roof": [grid.roof], "pair": [links.pair],
        "way": [links.way], "low": [links.low], "high": [links.high], "bore": [np.zeros(len(links.pair))],
        "axis": [np.zeros((len(links.pair), 3))],
    }  # fmt: skip
    for track, tube in zip(sheet.tunnels, tubes, strict=True):
        pieces = len(tube.centre)
        mouth = int(((grid.u - track.start_cm[0]) ** 2 + (grid.v - track.start_cm[1]) ** 2).argmin())
        chain = np.concatenate([[mouth], np.arange(count, count + pieces)]).astype(np.int32)
        none = np.zeros(pieces)
        parts["u"].append(np.full(pieces, track.start_cm[0]))
        parts["v"].append(np.full(pieces, track.start_cm[1]))
        parts["open"].append(np.zeros(pieces, dtype=bool))
        parts["height"].append(np.full(pieces, track.diameter_cm))
        parts["volume"].append(tube.volume)
        parts["floor2"].append(none)
        parts["roof2"].append(none)
        for name in ("centre", "floor", "roof"):
            parts[name].append(tube.centre)
        parts["spans"].append(tube.spans)
        parts["floor_spans"].append(tube.spans[:2])
        parts["pair"].append(np.stack([chain[:-1], chain[1:]], axis=1))
        parts["way"].append(np.full(pieces, IN_A_TUNNEL, dtype=np.int8))
        parts["low"].append(tube.faces)
        parts["high"].append(tube.faces)
        parts["bore"].append(np.full(pieces, track.diameter_cm / 2.0))
        parts["axis"].append(np.broadcast_to(tube.axis, (pieces, 3)))
        count += pieces
    joined = {name: np.concatenate(p, axis=1 if "spans" in name else 0) for name, p in parts.items()}
    return Cavity(
        spacing_cm, cells.corner_cm, cells.index, len(grid.u), joined["u"], joined["v"], joined["open"],
        joined["height"], joined["volume"], joined["floor2"], joined["roof2"], joined["centre"], joined["spans"],
        joined["floor"], joined["floor_spans"], joined["roof"], joined["pair"], joined["way"], joined["low"],
        joined["high"], joined["bore"], joined["axis"], rim.point, rim.column,
        rim.direction,
    )  # fmt: skip


@dataclass(frozen=True, slots=True, eq=False)
class _Tube:
    axis: NDArray[float64]
    centre: NDArray[float64]
    faces: NDArray[float64]
    spans: NDArray[float64]
    volume: NDArray[float64]


def _tube(track: Track, frame: BodyFrame, spacing_cm: float) -> _Tube:
    pieces = max(1, math.ceil(track.length_cm / spacing_cm))
    step = track.length_cm / pieces
    u = np.array([track.start_cm[0]])
    outward, towards_u = (axis[0] for axis in frame.axes(u))
    turn, dip = math.radians(track.direction_deg), math.radians(track.down_deg)
    along = math.sin(turn) * towards_u + math.cos(turn) * frame.towards_12
    axis = math.cos(dip) * along - math.sin(dip) * outward
    start = frame.place(u, np.array([track.start_cm[1]]), np.array([track.start_height_cm]))[0]
    faces: NDArray[float64] = start + (np.arange(pieces, dtype=np.float64) * step)[:, None] * axis
    across = np.cross(axis, frame.towards_12 if abs(math.sin(turn)) > 0.5 else towards_u)
    across /= np.linalg.norm(across)
    wide = _DISC_AS_BOX * track.diameter_cm
    spans = np.stack([across * wide, np.cross(axis, across) * wide, axis * step])
    return _Tube(
        axis,
        faces + axis * (step / 2.0),
        faces,
        np.broadcast_to(spans[:, None, :], (3, pieces, 3)),
        np.full(pieces, math.pi / 4.0 * track.diameter_cm**2 * step),
    )
