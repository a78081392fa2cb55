"""A whole day: fill, soak and suction one after the other until they repeat, and what that soaks where.

Exploratory: what suction leaves for the next fill is told as a range, and everything is worked out at both of its ends.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from itertools import groupby

import numpy as np
from numpy import float64
from numpy.typing import NDArray

from soakline.casefile.case import Case
from soakline.fluid.day import Day, Left, Progress, Stretch, TurnInside, soak_day
from soakline.fluid.draw import EXPLORATORY, draw, hold
from soakline.fluid.left_behind import room_ml
from soakline.fluid.posture import Posture
from soakline.fluid.spread import Foam, Soak
from soakline.fluid.suction_sheet import lay_suction
from soakline.layout.ensemble import Filling, Question, foam_of
from soakline.layout.ports import column_of
from soakline.layout.zones import THIRDS, hours_and_thirds, say_zones
from soakline.therapy.clock import elapsed_min, later, say_hours
from soakline.therapy.cycle import MIN_PER_DAY, cycles_per_day
from soakline.therapy.turns import Fill, Turning, TurnPlan, plan_turns
from soakline.units import Extremes, show_number, step_ml
from soakline.workflows.answers import Picture, TurningAnswer
from soakline.workflows.day_answer import DayAnswer, DayMap, DayStretch, DayTurn, DayZone
from soakline.workflows.shift import in_order_of_soaking
from soakline.wound.cavity import Cavity
from soakline.wound.clock import say_clock
from soakline.wound.plausible import Measures

# Less than this on average over a zone is none.
_NONE_MIN = 1.0
# Liquid of which less than this is new in each cycle is named as old.
_OLD_SHARE = 0.5
# A zone with less surface than this is a sliver of the grid.
_LEAST_CM2 = 0.2
_OPENING = "under the opening"
# Turns are planned on a clock; a day of the same is the same on any date.
_BEGIN = datetime(2001, 1, 1, tzinfo=UTC)


def whole_day(
    case: Case, picture: Picture, turning: TurningAnswer | None = None, progress: Progress | None = None
) -> DayAnswer | str:
    """Return what a day of fills soaks, turned by the shift's order; or why there is none.

    The order is that of the next 24 h: what ``turning`` found first, no posture longer than the case allows. Where how
    often to turn is not given, the allowed postures are lain in equal stretches. ``progress`` is told the share done
    (0–1) and may raise to stop.
    """
    asked = picture.question
    cavity = picture.cavities.get("spread")
    filling = None if asked is None else _joint(asked)
    if asked is None or cavity is None or filling is None or filling.soak is None:
        return "the wound, a fill or its times are too little known for a day: see the findings"
    suction = [port for port in case.port if port.kind == "suction"]
    if not suction:
        return (
            "no suction port in the file: what suction leaves for the next fill is not known; enter the suction ports"
        )
    units = [unit for unit in case.unit if any(port.unit == unit.name for port, _ in filling.poured_ml)]
    cycles = [found for unit in units if (found := cycles_per_day(unit)) is not None]
    if len(cycles) < len(units) or not cycles:
        return "suction times are not known: how many fills a day has is not known; give suction_min of each unit"
    turns = _turns(case, turning, filling.soak, min(cycles))
    stretches = _equal(asked.postures, int(min(cycles))) if turns is None else _by_order(asked.postures, turns)
    foam = foam_of(asked.assumptions, Measures())
    columns = {port: column_of(port, picture.sheet, cavity) for port in {*suction, *(p for p, _ in filling.poured_ml)}}
    poured = [(columns[port], fill_ml) for port, fill_ml in filling.poured_ml]
    ends: list[Day] = []
    for number, left_in in enumerate(_left(cavity, asked.postures, foam, [columns[port] for port in suction])):
        part = None if progress is None else _part(progress, number)
        ends.append(soak_day(cavity, stretches, foam, poured, filling.soak, left_in, progress=part))
    beside = (*_say_turning(stretches, None if turns is None else case.turn_every_min), *_say_in_step(cycles))
    return _answer(picture, cavity, filling, stretches, ends, beside)


def _joint(asked: Question) -> Filling | None:
    """Return what is filled in a day: all ports at once, which is told last; None without a port's own fill."""
    timed = [filling for filling in asked.fillings if filling.soak is not None]
    return timed[-1] if timed else None


def _turns(case: Case, turning: TurningAnswer | None, soak: Soak, cycle_count: float) -> TurnPlan | None:
    """Return the turns and soaks of a day with so many cycles, begun with a fill; None without an order."""
    names = tuple(posture.name for posture in case.posture)
    fills = [
        Fill("", later(_BEGIN, number * MIN_PER_DAY / cycle_count), (soak.fill_s + soak.dwell_s) / 60.0)
        for number in range(max(int(cycle_count), 1))
    ]
    order = in_order_of_soaking(Turning(names, case.turn_every_min), turning)
    return plan_turns(order, fills, _BEGIN, later(_BEGIN, MIN_PER_DAY))


def _by_order(postures: Sequence[Posture], plan: TurnPlan) -> tuple[Stretch, ...]:
    """Return the day's fills as the turns let them be lain, those that follow alike as one stretch."""
    named = {posture.name: posture for posture in postures}
    turns = plan.turns if len(named) > 1 else ()
    each: list[Stretch] = []
    for lain in plan.soaks:
        after_min = ((float(elapsed_min(lain.at, turn.at)), named[turn.posture]) for turn in turns)
        inside = (TurnInside(after * 60.0, into) for after, into in after_min if 0.0 < after < lain.dwell_min)
        each.append(Stretch(named[lain.posture], 1, tuple(inside)))
    return tuple(replace(one, fill_count=len(list(same))) for one, same in groupby(each))


def _equal(postures: Sequence[Posture], fill_count: int) -> tuple[Stretch, ...]:
    each, more = divmod(max(fill_count, 1), len(postures))
    counts = [each + (number < more) for number in range(len(postures))]
    return tuple(Stretch(posture, count) for posture, count in zip(postures, counts, strict=True) if count)


def _left(
    cavity: Cavity, postures: Sequence[Posture], foam: Foam, suction_column: Sequence[int]
) -> Iterator[dict[str, Left]]:
    """Give what suction leaves in each posture: the least, then the most."""
    full_ml = cavity.volume_ml * foam.porosity_share
    drawn = draw(hold(lay_suction(cavity, suction_column), full_ml), suction_column)
    rooms = [room_ml(drawn, posture.up()) for posture in postures]
    for end in (0, 1):
        yield {
            posture.name: Left(np.minimum(room[end] / full_ml, 1.0), drawn.undrawn)
            for posture, room in zip(postures, rooms, strict=True)
        }


def _part(progress: Progress, number: int) -> Progress:
    return lambda share: progress((number + share) / 2.0)


def _say_turning(stretches: Sequence[Stretch], every_min: float | None) -> Iterator[str]:
    if every_min is None:
        yield (
            "postures in equal stretches, not in the shift's order: give how often to turn (posture.turn_every_min), "
            "by the pressure-relief order"
        )
        return
    yield f"turned by the shift's order: at most {say_hours(every_min)} in one posture, on a fill where it can"
    turned = sum(one.fill_count for one in stretches if one.turns)
    if turned:
        first = next(one for one in stretches if one.turns)
        into = ", ".join(f"{turn.posture.name} after {say_hours(turn.after_s / 60.0)}" for turn in first.turns)
        yield f"{turned} of the soaks are turned inside; the first: {first.posture.name}, then {into}"


def _say_in_step(cycles: Sequence[float]) -> Iterator[str]:
    if max(cycles) - min(cycles) >= 1e-9:
        yield "the units run different cycles: taken as filling together, as often as the slower one"


def _answer(
    picture: Picture,
    cavity: Cavity,
    filling: Filling,
    stretches: Sequence[Stretch],
    ends: Sequence[Day],
    beside: Sequence[str],
) -> DayAnswer:
    held = max(end.held_ml for end in ends)
    shown = DayMap(
        floor_soaked_min=np.stack([end.floor_soaked_min for end in ends]),
        roof_soaked_min=np.stack([np.where(cavity.roof_cm2 > 0.0, end.roof_soaked_min, 0.0) for end in ends]),
        exchanged_share=np.stack([end.exchanged_share for end in ends]),
    )
    stays = _extremes([end.stays_ml for end in ends])
    answer = DayAnswer(
        fill_ml=filling.fill_ml,
        port=filling.name,
        stretches=tuple(_told(one) for one in stretches),
        stays_ml=stays,
        stays_share=_extremes([end.stays_ml / max(end.held_ml, 1e-9) for end in ends]),
        zones=tuple(_zones(picture, cavity, ends)),
        says=(),
        exploratory=EXPLORATORY,
        map=shown,
    )
    says = (_say_day(answer), *beside, _say_stays(stays, held), *_say_places(picture, cavity, ends))
    return replace(answer, says=says)


def _told(stretch: Stretch) -> DayStretch:
    turns = (DayTurn(turn.after_s / 60.0, turn.posture.name) for turn in stretch.turns)
    return DayStretch(stretch.posture.name, stretch.fill_count, tuple(turns))


def _zones(picture: Picture, cavity: Cavity, ends: Sequence[Day]) -> Iterator[DayZone]:
    hour, third = hours_and_thirds(picture.sheet, cavity)
    key = hour * len(THIRDS) + third
    for zone in np.unique(key):
        here = key == zone
        if float(cavity.floor_cm2[here].sum()) < _LEAST_CM2:
            continue
        roofed = float(cavity.roof_cm2[here].sum()) >= _LEAST_CM2
        name = _OPENING if zone < len(THIRDS) else f"{say_clock(zone // len(THIRDS))}, {THIRDS[zone % len(THIRDS)]}"
        floor, roof = cavity.floor_cm2 * here, cavity.roof_cm2 * here
        yield DayZone(
            zone=name,
            floor_soaked_min=_over(floor, [end.floor_soaked_min for end in ends]),
            floor_moist_min=_over(floor, [end.floor_moist_min for end in ends]),
            roof_soaked_min=_over(roof, [end.roof_soaked_min for end in ends]) if roofed else None,
            roof_moist_min=_over(roof, [end.roof_moist_min for end in ends]) if roofed else None,
            new_share=_over(cavity.volume_ml * here, [end.exchanged_share for end in ends]),
        )


def _over(weight: NDArray[float64], ends: Sequence[NDArray[float64]]) -> Extremes:
    """Return the least and most of the two ends' means over a zone, in their unit."""
    return _extremes([float(np.average(end, weights=weight)) for end in ends])


def _extremes(values: Sequence[float]) -> Extremes:
    return Extremes(min(values), max(values))


def _say_day(answer: DayAnswer) -> str:
    counts = Counter[str]()
    for one in answer.stretches:
        counts[one.posture] += one.fills
    lain = ", ".join(f"{posture} {fills}" for posture, fills in counts.items())
    return (
        f"{counts.total()} fills of {show_number(answer.fill_ml, 0)} mL through {answer.port} in 24 h, lying in turn "
        f"({lain}), after a day of the same"
    )


def _say_stays(stays: Extremes, held_ml: float) -> str:
    step = step_ml(held_ml)
    low, high = (round(ml / step) * step for ml in (stays.low, stays.high))
    return f"suction leaves about {show_number(low, 0)}–{show_number(high, 0)} mL in the foam for the next fill"


def _say_places(picture: Picture, cavity: Cavity, ends: Sequence[Day]) -> Iterator[str]:
    faces = [("floor", cavity.floor_cm2, "floor_soaked_min")]
    if cavity.roof_cm2.sum() > 0.0:
        faces.append(("roof", cavity.roof_cm2, "roof_soaked_min"))
    for face, area, name in faces:
        minutes = np.stack([getattr(end, name) for end in ends])
        never, unsure = minutes.max(axis=0) < _NONE_MIN, minutes.min(axis=0) < _NONE_MIN
        for meant, words in ((never, "none today"), (unsure & ~never, "unsure, by what suction leaves")):
            where = say_zones(picture.sheet, cavity, meant, area)
            if where:
                yield f"{face} soaked: {'; '.join(where)}: {words}"
    old = np.stack([end.exchanged_share for end in ends]).min(axis=0) < _OLD_SHARE
    where = say_zones(picture.sheet, cavity, old, cavity.floor_cm2)
    if where:
        yield f"old liquid: {'; '.join(where)}: it may be that less than half is new in each cycle"
