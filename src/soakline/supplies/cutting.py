"""Cutting foam: the rectangle round each part of the wound, laid in rows on sheets of a given size."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from soakline.units import show_number
from soakline.wound.sheet import MIDS_DEG, Sheet
from soakline.wound.volume import pocket_arcs


@dataclass(frozen=True, slots=True)
class Cut:
    """One rectangle to cut, in cm, its longer side first."""

    what: str
    length_cm: float
    width_cm: float


@dataclass(frozen=True, slots=True)
class CutList:
    """The rectangles laid on so many sheets, those too large for one, and what is left over, in cm²."""

    sheet_count: int
    laid: tuple[Cut, ...]
    too_large: tuple[Cut, ...]
    left_cm2: float
    says: str


def cuts_of(sheet: Sheet) -> tuple[Cut, ...]:
    """Return the rectangle round the opening and round each pocket as it lies in the plane of the skin, in cm."""
    towards = np.column_stack([np.sin(np.radians(MIDS_DEG)), np.cos(np.radians(MIDS_DEG))])
    edge, far = towards * sheet.edge_cm[:, None], towards * (sheet.edge_cm + sheet.reach_cm)[:, None]
    pockets = [np.vstack([edge[arc], far[arc]]) for arc in pocket_arcs(sheet)]
    names = [f"pocket {number}" for number in range(1, len(pockets) + 1)]
    return (_cut("opening", sheet.opening_cm), *(_cut(*one) for one in zip(names, pockets, strict=True)))


def lay_out(cuts: Sequence[Cut], length_cm: float, width_cm: float) -> CutList:
    """Return the cuts laid in rows along the sheet's length, the widest first; a bounding layout, not the tightest.

    >>> lay_out([Cut("opening", 6, 5), Cut("pocket 1", 9, 4)], 20, 10).says.split(";")[0]
    '1 sheet of 20 × 10 cm: opening 6 × 5 cm, pocket 1 9 × 4 cm'
    """
    length_cm, width_cm = max(length_cm, width_cm), min(length_cm, width_cm)
    too_large = tuple(cut for cut in cuts if cut.length_cm > length_cm or cut.width_cm > width_cm)
    fitting = sorted((cut for cut in cuts if cut not in too_large), key=lambda cut: -cut.width_cm)
    sheet_count, used_cm, row_cm, row_width_cm = (1 if fitting else 0), 0.0, 0.0, 0.0
    for cut in fitting:
        if row_cm + cut.length_cm > length_cm or row_width_cm == 0.0:
            used_cm, row_cm, row_width_cm = used_cm + row_width_cm, 0.0, cut.width_cm
            if used_cm + row_width_cm > width_cm:
                sheet_count, used_cm = sheet_count + 1, 0.0
        row_cm += cut.length_cm
    left_cm2 = sheet_count * length_cm * width_cm - sum(cut.length_cm * cut.width_cm for cut in fitting)
    says = _say(sheet_count, (length_cm, width_cm), fitting, too_large, left_cm2)
    return CutList(sheet_count, tuple(fitting), too_large, left_cm2, says)


def _cut(what: str, points: np.ndarray) -> Cut:
    along, across = np.ptp(points, axis=0).round(1).tolist()
    return Cut(what, max(along, across), min(along, across))


def _say(
    count: int, size_cm: tuple[float, float], laid: Sequence[Cut], too_large: Sequence[Cut], left_cm2: float
) -> str:
    said = [
        f"{count} {'sheet' if count == 1 else 'sheets'} of {show_number(size_cm[0])} × {show_number(size_cm[1])} cm: "
        + ", ".join(map(_say_cut, laid)),
        f"{show_number(left_cm2)} cm² left over",
        "a bounding layout: rectangles in rows, before the shape is trimmed; one layer of foam",
    ]
    if too_large:
        said.insert(0, f"larger than a sheet, so several named pieces each: {', '.join(map(_say_cut, too_large))}")
    return "; ".join(said)


def _say_cut(cut: Cut) -> str:
    return f"{cut.what} {show_number(cut.length_cm)} × {show_number(cut.width_cm)} cm"
