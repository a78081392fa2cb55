"""How big the wound really is: areas, volumes with their doubt, and what to measure next."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy import float64
from numpy.typing import NDArray

from soakline.errors import Finding
from soakline.units import Extremes, Range, likely, show_ml
from soakline.workflows.answers import Driver, Measurement, WoundAnswer
from soakline.wound.body import side_words
from soakline.wound.clock import HOURS
from soakline.wound.hours import hours_not_probed
from soakline.wound.measurements import Assumptions, Undermining, Wound
from soakline.wound.plausible import (
    THINNEST_SKIN_CM,
    Measures,
    at_quantile,
    draw_measures,
    drivers,
    foam_at,
    percentiles,
    wound_at,
)
from soakline.wound.sheet import Sheet, hours_words, lay_flat
from soakline.wound.volume import areas, hand_sums, pocket_sides_deg, void

# Where nobody measured the pocket height it may be anything between these (source key ``measuring.height_unknown``).
UNKNOWN_HEIGHT_CM = (0.5, 2.0)
# A measure that drives less of the doubt than this is not worth a second reading by itself.
_WORTH_MEASURING_SHARE = 0.2
# The corner at which every measure errs towards the larger wound.
_LARGEST = Measures(
    size_quantile=1.0,
    depth_quantile=1.0,
    reach_quantile=1.0,
    height_quantile=1.0,
    from_quantile=0.0,
    to_quantile=1.0,
    tunnel_quantile=1.0,
)


@dataclass(frozen=True, slots=True, eq=False)
class Doubt:
    """The plausible wounds of a case: how each was drawn, and the void of each in mL, shape (draws,)."""

    measures: list[Measures]
    void_ml: NDArray[float64]


def lay_out(wound: Wound) -> Sheet | None:
    """Return the sheet of a wound at its likely values, or None where even the opening was not measured."""
    opening = wound.opening
    known = opening.outline_cm is not None or (opening.length_cm is not None and opening.width_cm is not None)
    return lay_flat(wound_at(wound, Measures())) if known else None


def doubt_of(wound: Wound, assumptions: Assumptions, draws: int, seed: int) -> Doubt:
    """Draw plausible wounds and work out the void of each in mL; the wound's depth and heights must be known."""
    measures = draw_measures(wound, assumptions, draws, seed)
    return Doubt(measures, np.array([_void_ml(wound_at(wound, m), assumptions) for m in measures]))


def size_of(wound: Wound, sheet: Sheet, assumptions: Assumptions, doubt: Doubt | None) -> WoundAnswer:
    """Return what is known of the hidden size; without ``doubt`` (depth or a height missing) the volume is open."""
    found = areas(sheet)
    traced = sheet.traced_cm is not None
    volume: Range | Extremes | None
    if doubt is not None:
        volume = percentiles(doubt.void_ml, _void_ml(wound_at(wound, Measures()), assumptions))
    else:
        volume = extremes_ml(wound, assumptions)
    return WoundAnswer(
        opening_cm2=found.opening_cm2,
        length_x_width_cm2=None if traced else 4.0 * sheet.half_cm[0] * sheet.half_cm[1],
        pocket_cm2=found.pocket_cm2,
        bed_cm2=found.bed_cm2,
        bed_to_opening=found.bed_cm2 / found.opening_cm2,
        void_ml=volume,
        capacity_ml=None if doubt is None else _capacity_ml(wound, assumptions, doubt),
        pocket_side=_side(wound, sheet),
        void_basis=None if volume is None else "extremes" if doubt is None else "5–95 % over plausible wounds",
        sums=hand_sums(sheet, closed=assumptions.closed),
        driven_by=_driven_by(doubt),
        not_probed=hours_not_probed(wound),
    )


def without_doubtful(answer: WoundAnswer) -> WoundAnswer:
    """Return the answer with nothing that rests on an entry nobody has confirmed yet."""
    nothing = replace(answer, void_ml=None, capacity_ml=None, void_basis=None, driven_by=(), sums=())
    return replace(nothing, pocket_cm2=None, bed_cm2=None, bed_to_opening=None)


def extremes_ml(wound: Wound, assumptions: Assumptions) -> Extremes | None:
    """Return the smallest and the largest void in mL of a half-known wound; None where depth or a reach is missing.

    An unknown height runs from 0.5 to 2 cm; undermining that was not measured hour by hour may taper or not.
    """
    if wound.opening.depth_cm is None or any(entry.reach_cm is None for entry in wound.undermining):
        return None
    depth = likely(wound.opening.depth_cm)
    low, high = UNKNOWN_HEIGHT_CM
    ends = (low, min(high, max(depth - THINNEST_SKIN_CM, low)))
    small = _with_heights(wound, ends[0], tapered=True)
    large = _with_heights(wound, ends[1], tapered=False)
    return Extremes(_void_ml(small, assumptions), _void_ml(large, assumptions))


def largest_void_ml(wound: Wound, assumptions: Assumptions) -> float | None:
    """Return the void in mL with every measure at its large end; None where depth or a reach is missing.

    What cannot be inside is held against this, not against a 95 % bound: "at least" must hold for the largest wound.
    Checked against ``worked.balance``.
    """
    depth = wound.opening.depth_cm
    if depth is None or any(entry.reach_cm is None for entry in wound.undermining):
        return None
    low, high = UNKNOWN_HEIGHT_CM
    height = min(high, max(likely(depth) - THINNEST_SKIN_CM, low))
    undermining = tuple(
        replace(
            entry,
            height_cm=height if entry.height_cm is None else entry.height_cm,
            ends=entry.ends if entry.basis == "measured" else "full",
        )
        for entry in wound.undermining
    )
    pocket = wound.pocket
    if pocket is not None and pocket.height_cm is None:
        pocket = replace(pocket, height_cm=height)
    return _void_ml(wound_at(replace(wound, undermining=undermining, pocket=pocket), _LARGEST), assumptions)


def measure_next(wound: Wound, doubt: Doubt | None, assumptions: Assumptions) -> tuple[Measurement, ...]:
    """Return what to measure first: what is missing, or else what drives most of the doubt and what it would leave.

    Hours that nobody probed are named beside either: no range tells what may lie there.
    """
    missing = _missing(wound, assumptions)
    unprobed = _unprobed(wound)
    if missing or doubt is None:
        return (*missing, *unprobed)
    low, high = (float(x) for x in np.percentile(doubt.void_ml, [5.0, 95.0]))
    driving = [
        Measurement(
            driver.what,
            f"known exactly, it leaves {_span(driver.left_low, driver.left_high)} of the {_span(low, high)} mL",
        )
        for driver in drivers(doubt.measures, doubt.void_ml)[:2]
        if driver.share >= _WORTH_MEASURING_SHARE
    ]
    return (*unprobed, *driving)


def say_clipped(wound: Wound) -> list[Finding]:
    """Return a note where a height's upper end would reach through the skin of the likely depth."""
    depth = wound.opening.depth_cm
    if depth is None:
        return []
    most = likely(depth) - THINNEST_SKIN_CM
    named = [(f"wound.undermining.{i}.height_cm", entry.height_cm) for i, entry in enumerate(wound.undermining)]
    if wound.pocket is not None:
        named.append(("wound.pocket.height_cm", wound.pocket.height_cm))
    return [
        Finding(
            "note",
            where,
            f"its high end, {height.high:g} cm, leaves less than {THINNEST_SKIN_CM:g} cm of skin over the pocket: in "
            "plausible wounds where it would, height is clipped and depth raised by half of what is missing each",
        )
        for where, height in named
        if isinstance(height, Range) and height.high > most
    ]


def _void_ml(wound: Wound, assumptions: Assumptions) -> float:
    found = void(lay_flat(wound), closed=assumptions.closed)
    if found is None:
        msg = "depth and every pocket height must be known before the void can be worked out"
        raise ValueError(msg)
    return found.total_ml


def _capacity_ml(wound: Wound, assumptions: Assumptions, doubt: Doubt) -> Range:
    shares = np.array([foam_at(assumptions, m)[0] for m in doubt.measures])
    middle = _void_ml(wound_at(wound, Measures()), assumptions) * foam_at(assumptions, Measures())[0]
    return percentiles(doubt.void_ml * shares, middle)


def _side(wound: Wound, sheet: Sheet) -> str | None:
    if not float(sheet.reach_cm.max()) > 0.0:
        return None
    sides = dict.fromkeys(side_words(wound, side_deg) for side_deg in pocket_sides_deg(sheet))
    return "; ".join(sides) or "all round the opening"


def _driven_by(doubt: Doubt | None) -> tuple[Driver, ...]:
    if doubt is None:
        return ()
    return tuple(Driver(found.what, found.share) for found in drivers(doubt.measures, doubt.void_ml))


def _with_heights(wound: Wound, height_cm: float, *, tapered: bool) -> Wound:
    quantile = 0.0 if tapered else 1.0
    undermining = tuple(_end_of(entry, height_cm, quantile, tapered=tapered) for entry in wound.undermining)
    pocket = wound.pocket
    if pocket is not None:
        known = at_quantile(pocket.height_cm, quantile)
        pocket = replace(pocket, height_cm=height_cm if known is None else known)
    return replace(wound_at(wound, Measures()), undermining=undermining, pocket=pocket)


def _end_of(entry: Undermining, height_cm: float, quantile: float, *, tapered: bool) -> Undermining:
    known = at_quantile(entry.height_cm, quantile)
    unsure = entry.basis != "measured"
    return replace(
        entry,
        reach_cm=at_quantile(entry.reach_cm, quantile),
        height_cm=height_cm if known is None else known,
        ends=("taper" if tapered else "full") if unsure else entry.ends,
    )


def _missing(wound: Wound, assumptions: Assumptions) -> list[Measurement]:
    needed: list[Measurement] = []
    opening = wound.opening
    if opening.outline_cm is None and (opening.length_cm is None or opening.width_cm is None):
        needed.append(Measurement("length and width of the opening", "without them nothing can be worked out"))
    if opening.depth_cm is None:
        needed.append(Measurement("depth, straight in", "without it no volume can be worked out"))
    between = extremes_ml(wound, assumptions)
    doubtful = f"until then the volume lies {show_ml(between)}" if between else "without it no volume can be worked out"
    for entry in wound.undermining:
        place = hours_words(entry)
        if entry.reach_cm is None:
            needed.append(Measurement(f"reach of the undermining {place}", "without it no area can be worked out"))
        if entry.height_cm is None:
            needed.append(Measurement(f"pocket height {place}", doubtful))
        if entry.height_cm is None and entry.basis != "measured":
            needed.append(Measurement(f"reach hour by hour {place}", "tells whether the undermining tapers"))
    if wound.pocket is not None and wound.pocket.height_cm is None:
        needed.append(Measurement("pocket height", doubtful))
    if wound.girth_cm is None and assumptions.curvature == "girth":
        needed.append(Measurement(f"girth of the {wound.part} at the opening", "gives the curve that liquid runs down"))
    return needed


def _unprobed(wound: Wound) -> list[Measurement]:
    hours = hours_not_probed(wound)
    if not hours:
        return []
    what = "the hours of the clock" if len(hours) == len(HOURS) else f"{', '.join(map(str, hours))} o'clock"
    why = "until then worked out as without undermining; the wound may be larger than any range here"
    return [Measurement(f"undermining at {what}", why)]


def _span(low_ml: float, high_ml: float) -> str:
    return show_ml(Range(low_ml, (low_ml + high_ml) / 2.0, high_ml)).split(", ")[-1]
