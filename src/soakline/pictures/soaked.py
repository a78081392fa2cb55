"""The soaked columns of one surface as a single path of runs; tunnels, which stand on no grid, are left out."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np
from numpy import bool_, float64
from numpy.typing import NDArray

from soakline.pictures.svg import XY, number
from soakline.wound.cavity import Cavity

SOAKED_SHARE = 0.5


def soaked_path(cavity: Cavity, wet: NDArray[float64], to_mm: Callable[[XY], XY]) -> str:
    """Return path data in mm of the columns whose surface is at least half soaked; ``wet`` (n,) holds shares 0–1.

    At the cavity's rim the area is let out by one column, to be clipped to the true outline by the drawing.
    """
    count, step_cm = cavity.grid_count, cavity.spacing_cm
    rows, bottom_cm = _index(cavity.v_cm[:count], step_cm)
    columns, left_cm = _index(cavity.u_cm[:count], step_cm)
    inside = np.zeros((rows.max() + 2, columns.max() + 2), dtype=bool_)
    soaked = inside.copy()
    inside[rows, columns] = True
    # A cell that the opening's edge cuts holds two columns.
    np.logical_or.at(soaked, (rows, columns), wet[:count] >= SOAKED_SHARE)
    soaked |= _grown(soaked) & ~inside
    return "".join(_run((left_cm, bottom_cm), step_cm, run, to_mm) for run in _runs(soaked))


def _index(middles_cm: NDArray[float64], step_cm: float) -> tuple[NDArray[np.int64], float]:
    # Whole cells have their middle on the grid, cut ones anywhere in their cell: the commonest offset is the grid's.
    offsets, counts = np.unique(np.round(middles_cm / step_cm % 1.0, 6), return_counts=True)
    corner = float(offsets[counts.argmax()]) - 0.5
    cell = np.floor(middles_cm / step_cm - corner).astype(np.int64)
    first = int(cell.min()) - 1
    return cell - first, (first + corner) * step_cm


def _grown(mask: NDArray[bool_]) -> NDArray[bool_]:
    wide = mask.copy()
    wide[:, 1:] |= mask[:, :-1]
    wide[:, :-1] |= mask[:, 1:]
    tall = wide.copy()
    tall[1:] |= wide[:-1]
    tall[:-1] |= wide[1:]
    return tall


def _runs(mask: NDArray[bool_]) -> Iterator[tuple[int, int, int]]:
    for row in np.flatnonzero(mask.any(axis=1)):
        edges = np.flatnonzero(np.diff(mask[row].astype(np.int8), prepend=0, append=0))
        for start, end in zip(edges[::2], edges[1::2], strict=True):
            yield int(row), int(start), int(end)


def _run(corner: XY, step_cm: float, run: tuple[int, int, int], to_mm: Callable[[XY], XY]) -> str:
    row, start, end = run
    left, top = to_mm((corner[0] + start * step_cm, corner[1] + (row + 1) * step_cm))
    right, bottom = to_mm((corner[0] + end * step_cm, corner[1] + row * step_cm))
    # Edges in absolute numbers: neighbouring rows then share them to the last digit and no hairline shows.
    return f"M{number(left)} {number(top)}H{number(right)}V{number(bottom)}H{number(left)}z"
