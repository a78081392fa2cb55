"""How much, lying how: where reach stops growing, what lifts the drape, and the fewest postures that soak."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace

import numpy as np
from numpy import float64
from numpy.typing import NDArray

from soakline.errors import Finding
from soakline.fluid.posture import Posture
from soakline.fluid.reach import say_share
from soakline.layout.ensemble import Filling
from soakline.layout.fill_range import Knee, SealReached, WoundFilled, fill_one, fill_wounds, knee_over, seal_over
from soakline.layout.turning import Soaked, never_reached, smallest_set, what_each_adds
from soakline.layout.zones import say_zones
from soakline.units import Range, Sum, show_number, step_ml
from soakline.workflows.answers import AboveSeal, FillAnswer, Measurement, PostureAdds, TurningAnswer, WoundAnswer
from soakline.wound.body import frame_of
from soakline.wound.cavity import build_cavity
from soakline.wound.measurements import Assumptions, Wound
from soakline.wound.plausible import Measures, foam_at
from soakline.wound.sheet import Sheet
from soakline.wound.volume import void

# The doubt of the measures is larger than these grids (see docs/fluid.md); many postures share the time of one answer.
_SPACING_CM, _LIKELY_SPACING_CM = 0.5, 0.35
_RUNS, _FEWEST_DRAWS, _MOST_DRAWS = 80, 8, 24


@dataclass(frozen=True, slots=True, eq=False)
class Filled:
    """The wounds filled in every posture: plausible ones, the likely one, for which fill and which postures."""

    filling: Filling
    postures: tuple[Posture, ...]
    wounds: tuple[WoundFilled, ...]
    likely: WoundFilled


def fill_all(
    wound: Wound,
    assumptions: Assumptions,
    looked_at: Sequence[Filling],
    postures: Sequence[Posture],
    measures: Sequence[Measures],
    executor: Executor | None,
) -> Filled | None:
    """Return the wounds filled by the last of the fillings (all ports at once, where there are several)."""
    if not looked_at or not postures:
        return None
    filling, lying = looked_at[-1], tuple(postures)
    drawn = measures[: max(_FEWEST_DRAWS, min(_MOST_DRAWS, _RUNS // len(lying)))]
    wounds = fill_wounds(wound, assumptions, filling, lying, drawn, _SPACING_CM, executor=executor)
    likely = fill_one(wound, assumptions, filling, lying, _LIKELY_SPACING_CM, Measures())
    return Filled(filling, lying, tuple(wounds), likely)


def with_fill_range(
    fill: FillAnswer, filled: Filled | None, sheet: Sheet, assumptions: Assumptions, size: WoundAnswer
) -> FillAnswer:
    """Return what speaks about the fill with the range in which reach stops growing, and what stands above the seal."""
    if filled is None:
        return replace(fill, why=(*fill.why, "where reach stops growing is not worked out: see what to measure first"))
    knee = knee_over(filled.wounds, filled.likely)
    seals = seal_over(filled.wounds, filled.likely, filled.postures)
    lifts_ml = fill.lifts_drape_from
    sums = tuple(_hand_sum(sheet, assumptions, size))
    above = tuple(AboveSeal(seal.posture, seal.fill_ml, _say_seal(seal)) for seal in seals)
    lowest = min(seals, key=lambda seal: seal.fill_ml.low, default=None)
    above_it = "liquid comes to stand above the lowest part of the seal, first lying"
    against = (f"{above_it} {_say_seal(lowest)}",) if lowest is not None else ()
    shown = replace(fill, above_seal=above, why=against, sums=sums)
    lifts = f"from about {_round_down(lifts_ml)} mL, the low estimate of the void, a fill may lift the drape"
    if knee is None:
        grows = "reach grows about evenly with the fill, so no volume stands out where it stops growing"
        return replace(shown, why=(grows, lifts, *against))
    if knee.fill_ml.low >= lifts_ml:
        grows = "reach still grows where a fill may lift the drape: no answer yet; measure what drives the void first"
        return replace(shown, why=(grows, lifts, *against))
    useful_to = min(knee.fill_ml.high, lifts_ml)
    if useful_to >= lifts_ml:
        lifts += "; in some plausible wounds reach still grows there"
    return replace(
        shown,
        useful_from=knee.fill_ml.low,
        useful_to=useful_to,
        why=(_say_knee(filled, knee, useful_to), lifts, *against),
    )


def refuse_fill(next_measurement: Sequence[Measurement]) -> Finding | None:
    """Return why no fill volume is told for a wound that is too little known, and what to measure first."""
    if not next_measurement:
        return None
    missing = "; ".join(measurement.what for measurement in next_measurement)
    says = f"no fill range: the wound is too little known for one; measure first: {missing}"
    return Finding("warn", "wound", says)


def turn_about(filled: Filled, wound: Wound, assumptions: Assumptions, sheet: Sheet) -> TurningAnswer:
    """Return the fewest of the allowed postures for one fill, what each adds, and what none of them reaches."""
    floors = [found.floor for found in filled.wounds]
    roofs = [found.roof for found in filled.wounds if found.roof is not None]
    there = filled.likely.roof is not None and bool(roofs)
    for_floor = smallest_set([[floor] for floor in floors])
    for_roof = smallest_set([[roof] for roof in roofs]) if there else ()
    both = [[found.floor, *([found.roof] if found.roof is not None and there else [])] for found in filled.wounds]
    for_both = smallest_set(both)
    names = [posture.name for posture in filled.postures]
    floor_left, roof_left = _left(floors, filled.likely.floor), None
    if there and filled.likely.roof is not None:
        roof_left = _left(roofs, filled.likely.roof)
    cavity = build_cavity(sheet, frame_of(wound, assumptions), _LIKELY_SPACING_CM, closed=assumptions.closed)
    floor_where = say_zones(sheet, cavity, never_reached(filled.likely.floor), cavity.floor_cm2)
    roof_where: tuple[str, ...] = ()
    if filled.likely.roof is not None and there:
        roof_where = say_zones(sheet, cavity, never_reached(filled.likely.roof), cavity.roof_cm2)
    answer = TurningAnswer(
        fill_ml=filled.filling.fill_ml,
        port=filled.filling.name,
        for_floor=tuple(names[k] for k in for_floor),
        for_roof=tuple(names[k] for k in for_roof),
        for_both=tuple(names[k] for k in for_both),
        adds=_adds(filled.wounds, for_both, names, roofed=there),
        floor_left=floor_left,
        roof_left=roof_left,
        floor_left_where=floor_where,
        roof_left_where=roof_where,
        says=(),
    )
    return replace(answer, says=tuple(_say_turning(answer)))


def _say_knee(filled: Filled, knee: Knee, useful_to: float) -> str:
    likely = filled.likely
    at = knee.fill_ml.likely
    total = float(likely.reach_share[-1])
    reached = float(np.interp(at, likely.fill_ml, likely.reach_share))
    before = 100.0 * reached / at * 10.0
    after = 100.0 * (total - reached) / max(float(likely.fill_ml[-1]) - at, 1e-9) * 10.0
    span = _say_ml_span(knee.fill_ml.low, useful_to)
    return (
        f"over plausible wounds and all allowed postures reach grows slowly beyond a fill of {span}: at the likely "
        f"measures each 10 mL soaks about {before:.0f} % more of floor and roof up to there, "
        f"{_small(after)} % beyond it, with liquid at rest in the foam"
    )


def _say_seal(seal: SealReached) -> str:
    often = "" if seal.wounds_share >= 0.95 else f", in about {round(10 * seal.wounds_share)} of 10 plausible wounds"
    return f"{seal.posture} from {_say_ml_span(seal.fill_ml.low, seal.fill_ml.high)} on{often}"


def _hand_sum(sheet: Sheet, assumptions: Assumptions, size: WoundAnswer) -> list[Sum]:
    found = void(sheet, closed=assumptions.closed)
    if found is None or found.pocket_ml <= 0.0 or size.capacity_ml is None:
        return []
    takes = foam_at(assumptions, Measures())[0]
    shares = f"{show_number(assumptions.foam_porosity, 2)} × {show_number(takes / assumptions.foam_porosity, 2)}"
    working = f"{show_number(found.pocket_ml)} mL × {shares} (porosity × share that fills)"
    return [Sum("what the foam takes in the pocket alone", working, f"{show_number(found.pocket_ml * takes)} mL")]


def _left(wounds: Sequence[Soaked], likely: Soaked) -> Range:
    every = range(len(likely.by_posture))
    left = np.array([1.0 - wound.soaked_share(every) for wound in wounds])
    middle = 1.0 - likely.soaked_share(every)
    return _range_about(left, middle)


def _range_about(values: NDArray[float64], middle: float) -> Range:
    low, high = (float(x) for x in np.percentile(values, [5.0, 95.0]))
    return Range(min(low, middle), middle, max(high, middle))


def _adds(
    wounds: Sequence[WoundFilled], chosen: Sequence[int], names: Sequence[str], *, roofed: bool
) -> tuple[PostureAdds, ...]:
    """Return what each posture adds, the needed ones first, each ordered by what it adds to floor and roof together."""
    counted = [(found.floor, found.roof) for found in wounds if found.roof is not None or not roofed]
    together = [floor if roof is None else _joined(floor, roof) for floor, roof in counted]
    first = [added.posture_index for added in what_each_adds(together, chosen)]
    order = [*first, *(k for k in range(len(names)) if k not in chosen)]
    floor = _in_turn([floor for floor, _ in counted], order)
    roof = _in_turn([roof for _, roof in counted if roof is not None], order) if roofed else [None] * len(order)
    return tuple(
        PostureAdds(names[k], on_floor, on_roof, k in chosen, _say_adds(names[k], on_floor, on_roof, first=place == 0))
        for place, (k, on_floor, on_roof) in enumerate(zip(order, floor, roof, strict=True))
    )


def _joined(floor: Soaked, roof: Soaked) -> Soaked:
    return Soaked(
        np.concatenate([floor.area_cm2, roof.area_cm2]), np.concatenate([floor.by_posture, roof.by_posture], axis=1)
    )


def _in_turn(wounds: Sequence[Soaked], order: Sequence[int]) -> list[Range]:
    """Return what each posture of ``order`` adds to those before it."""
    found: list[Range] = []
    before = np.zeros(len(wounds))
    for place in range(len(order)):
        now = np.array([wound.soaked_share(order[: place + 1]) for wound in wounds])
        gain = now - before
        found.append(_range_about(gain, float(np.median(gain))))
        before = now
    return found


def _say_adds(name: str, floor: Range, roof: Range | None, *, first: bool) -> str:
    verb = "soaks" if first else "adds"
    parts = [f"{_say_part(floor)} of the floor"]
    if roof is not None:
        parts.append(f"{_say_part(roof)} of the roof")
    return f"{name} {verb} {', '.join(parts)}"


def _say_part(share: Range) -> str:
    word = say_share(share.likely)
    low, high = (round(20.0 * part) * 5 for part in (share.low, share.high))
    return word if low == high else f"{word} ({low}–{high} %)"


def _say_turning(answer: TurningAnswer) -> list[str]:
    filled = f"worked out for {answer.fill_ml:g} mL through {answer.port}"
    said = [f"{filled}, a fresh fill in each posture, liquid at rest in the foam"]
    for surface, chosen in (("floor", answer.for_floor), ("roof", answer.for_roof)):
        if chosen:
            said.append(
                f"{surface}: {_say_names(chosen)} {'soaks' if len(chosen) == 1 else 'together soak'} what can be soaked"
            )
    for surface, left, where in (
        ("floor", answer.floor_left, answer.floor_left_where),
        ("roof", answer.roof_left, answer.roof_left_where),
    ):
        if left is None:
            continue
        if left.high < 0.02:
            said.append(f"{surface}: all is soaked in some allowed posture")
            continue
        place = f"; mainly {'; '.join(where)}" if where else ""
        said.append(f"{surface}: not soaked in any allowed posture: {_say_left(left)}{place}")
    return said


def _say_left(left: Range) -> str:
    if say_share(left.likely) == "none":
        return f"none at the likely measures, up to {round(20.0 * left.high) * 5} % in some plausible wounds"
    return f"{_say_part(left)} of it"


def _say_names(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _say_ml_span(low: float, high: float) -> str:
    step = step_ml(high)
    low_ml, high_ml = int(step * round(low / step)), int(step * (high // step))
    return f"about {high_ml} mL" if low_ml >= high_ml else f"{low_ml}–{high_ml} mL"


def _round_down(volume_ml: float) -> int:
    step = step_ml(volume_ml)
    return int(volume_ml // step * step)


def _small(share: float) -> str:
    return "less than 1" if share < 1.0 else f"about {share:.0f}"
