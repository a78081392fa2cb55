"""The shift: what the next 24 hours bring, unit by unit, whether units keep in step, and what the log adds up to."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

from numpy import float64
from numpy.typing import NDArray

from soakline.errors import Finding
from soakline.layout.ports import Port
from soakline.layout.zones import say_zones
from soakline.settings import Settings, say_origin
from soakline.therapy.balance import Bounds, DayBalance, balances
from soakline.therapy.clock import say_day, say_hour, say_hours
from soakline.therapy.clock_table import Row, in_shifts, on_the_clock, pain_rows, rows_of_unit
from soakline.therapy.cycle import TherapyUnit
from soakline.therapy.in_step import InStep, in_step
from soakline.therapy.logbook import Logbook
from soakline.therapy.off_time import off_time
from soakline.therapy.rhythm import Rhythm, rhythm_of
from soakline.therapy.shared import Shared, shared_cavities
from soakline.therapy.turns import Fill, Lain, Turning, TurnPlan, longest_min, plan_turns, soaked_min
from soakline.therapy.windows import bag_times
from soakline.units import Range, show_number
from soakline.workflows.answers import (
    DrawnOn,
    InStepAnswer,
    NextDay,
    PostureInSoak,
    TherapyAnswer,
    TurningAnswer,
    UnitAnswer,
)
from soakline.workflows.drawn_on import drawn_on
from soakline.workflows.where_liquid_goes import Reached
from soakline.wound.cavity import Cavity
from soakline.wound.sheet import Sheet

_AHEAD = timedelta(hours=24)


@dataclass(frozen=True, slots=True)
class Running:
    """What runs and how it is lain with: the units, the log, the case's zone, the pressure-relief order."""

    units: tuple[TherapyUnit, ...]
    book: Logbook
    time_zone: str | None
    turning: Turning
    ports: tuple[Port, ...]


def keep_in_step(running: Running, sheet: Sheet | None, reached: Reached | None) -> InStepAnswer | None:
    """Return how the units lie over each other, and whether they share a cavity; None for fewer than two that run."""
    met = in_step(_rhythms(running))
    if met is None:
        return None
    cavity = next(iter(reached.cavities.values()), None) if reached else None
    shared = () if sheet is None or cavity is None else shared_cavities(met.names, running.ports, sheet, cavity)
    drawn = () if sheet is None or reached is None else tuple(_drawn_on(shared, met, running, sheet, reached))
    return InStepAnswer(
        names=met.names,
        shared_cavity=_share(shared),
        first_day_overlap_min=met.first_day_overlap_min,
        first_day_dwell_min=met.first_day_dwell_min,
        next_overlap_min=met.next_overlap_min,
        next_overlap_lasts_min=met.next_overlap_lasts_min,
        coincide_every_min=met.coincide_every_min,
        drawn_on=drawn,
        says=(*met.says, *_say_shared(shared, met), *(one.says for one in drawn)),
    )


def in_order_of_soaking(turning: Turning, found: TurningAnswer | None) -> Turning:
    """Return the order with the fewest postures that soak what can be soaked first, then the rest as they were allowed.

    None is left out and none is added: pressure relief takes them all in turn.
    """
    first = [name for name in found.for_both if name in turning.postures] if found else []
    return replace(turning, postures=(*first, *(name for name in turning.postures if name not in first)))


def next_day(running: Running, windows: Sequence[UnitAnswer], settings: Settings) -> NextDay | None:
    """Return what happens in the 24 h after the last entry, or the first start, shift by shift; None where unknown."""
    rhythms = _rhythms(running)
    begin = _from_when(running, rhythms)
    if begin is None:
        return None
    end = _on(begin, _AHEAD)
    fills = [row for rhythm in rhythms for row in rows_of_unit(_unit(running, rhythm), rhythm, begin, end)]
    turns = plan_turns(running.turning, list(_soaks(running, fills)), begin, end)
    rows = [*fills, *_turn_rows(turns), *_change_rows(windows, begin), *_hang_rows(running, begin, settings)]
    rows += _fetch_rows(rows, begin, settings)
    if settings.pain_check_h is not None:
        rows += pain_rows([row for row in fills if row.what == "fill"], settings.pain_check_h * 60.0)
    return NextDay(
        begins=begin,
        ends=end,
        shifts=in_shifts(rows, begin, end, settings.shift_starts),
        soaks=() if turns is None else tuple(PostureInSoak(s.unit, s.at, s.posture) for s in turns.soaks),
        says=(*_say_night(running, windows, begin, end), *_say_day(running, turns, begin, end, settings)),
    )


def soaked_today(day: NextDay | None, running: Running, reached: Reached | None, sheet: Sheet) -> tuple[str, ...]:
    """Say for how long floor and roof are soaked in those 24 h, and which zones not at all; empty where not known."""
    dwell_min = {unit.name: unit.dwell_min or 0.0 for unit in running.units}
    if day is None or reached is None or not day.soaks:
        return ()
    soaks = [Lain(soak.unit, soak.at, soak.posture, dwell_min[soak.unit]) for soak in day.soaks]
    model = "spread" if "spread" in reached.cavities else "settled"
    cavity = reached.cavities.get(model)
    if cavity is None:
        return ()
    said: list[str] = []
    for name, side, area in (("floor", 0, cavity.floor_cm2), ("roof", 1, cavity.roof_cm2)):
        minutes = soaked_min(soaks, _share_by_soak(running, reached, model, side))
        if minutes is not None and area.sum() > 0.0:
            said.append(_say_minutes(name, minutes, area, sheet, cavity))
    return tuple(said)


def balance_of(
    running: Running,
    largest_void_ml: float | None,
    settings: Settings,
    exudate_ml_per_h: float | Range | None,
    confirmed: frozenset[str],
) -> tuple[tuple[DayBalance, ...], tuple[Finding, ...]]:
    """Return the balance of each day in the log, held against the largest the void can be, and what has to be asked."""
    bounds = Bounds(settings.reading_error_ml, largest_void_ml, exudate_ml_per_h)
    days, asked = balances(running.book, running.units, running.time_zone, bounds, confirmed)
    origin = [Finding("note", "log", f"balance: {say_origin('reading_error_ml')}")] if days else []
    return days, (*asked, *origin)


def with_shift(
    therapy: TherapyAnswer, running: Running, met: InStepAnswer | None, day: NextDay | None, settings: Settings
) -> TherapyAnswer:
    """Return the answer to how the units run, with how they keep in step, the next day, and the time they were off."""
    limit_min = None if settings.off_time_limit_h is None else settings.off_time_limit_h * 60.0
    off = (off_time(running.book, unit, limit_min) for unit in running.units)
    return TherapyAnswer(
        units=therapy.units,
        in_step=met,
        next_day=day,
        off_time=tuple(found for found in off if found is not None),
    )


def _rhythms(running: Running) -> list[Rhythm]:
    found = (rhythm_of(unit, running.time_zone, running.book) for unit in running.units)
    return [rhythm for rhythm in found if rhythm is not None]


def _unit(running: Running, rhythm: Rhythm) -> TherapyUnit:
    return next(unit for unit in running.units if unit.name == rhythm.name)


def _from_when(running: Running, rhythms: Sequence[Rhythm]) -> datetime | None:
    """Return from when the day is told: the last entry of the log, or before any the first start."""
    if not rhythms:
        return None
    starts = min((rhythm.start for rhythm in rhythms), key=_utc)
    return max([starts, *(event.at for event in running.book.events)], key=_utc)


def _on(moment: datetime, by: timedelta) -> datetime:
    """Return the moment so much elapsed time later, on the same wall clock."""
    return (moment.astimezone(UTC) + by).astimezone(moment.tzinfo)


def _utc(moment: datetime) -> datetime:
    return moment.astimezone(UTC)


def _soaks(running: Running, rows: Sequence[Row]) -> Iterator[Fill]:
    dwell_min = {unit.name: unit.dwell_min or 0.0 for unit in running.units}
    for row in sorted((row for row in rows if row.what == "fill"), key=lambda row: _utc(row.at)):
        if row.unit is not None:
            yield Fill(row.unit, row.at, dwell_min[row.unit])


def _turn_rows(turns: TurnPlan | None) -> Iterator[Row]:
    for turn in turns.turns if turns else ():
        why = "pressure relief falls due" if turn.relief else "with the fill"
        yield Row(turn.at, None, None, "turn", f"turn: {turn.posture} ({why})")


def _change_rows(windows: Sequence[UnitAnswer], begin: datetime) -> Iterator[Row]:
    for unit in windows:
        if unit.canister is not None:
            # A window that has opened is due now: it must not fall out of the table.
            at = max(unit.canister.earliest, begin, key=_utc)
            latest = _moment(unit.canister.latest)
            yield Row(at, None, unit.name, "canister", f"change the canister from now, at the latest {latest}")
        if unit.bag is not None:
            at = max(unit.bag.short_at, begin, key=_utc)
            yield Row(
                at,
                None,
                unit.name,
                "bag",
                f"the bag is {unit.bag.short_ml:.0f} mL short for this fill: hang a new one before",
            )


def _hang_rows(running: Running, begin: datetime, settings: Settings) -> Iterator[Row]:
    """Yield when each unit's bag has hung as long as the site lets it; one that already has is due now."""
    if settings.hang_time_h is None:
        return
    hours = f"{settings.hang_time_h:g} h"
    for unit in running.units:
        bag = bag_times(unit, running.time_zone, running.book)
        if bag is not None:
            ends = _on(bag.hung_at, timedelta(hours=settings.hang_time_h))
            says = f"the bag hung at {_moment(bag.hung_at)} has hung {hours}, the site's limit: hang a new one"
            yield Row(max(ends, begin, key=_utc), None, unit.name, "hang time", says)


def _fetch_rows(rows: Sequence[Row], begin: datetime, settings: Settings) -> list[Row]:
    """Return when to fetch the solution for each bag to come, so that it is as warm as the site asks by then."""
    if settings.warm_min is None:
        return []
    ahead = timedelta(minutes=settings.warm_min)
    says = f"fetch the next bag: {show_number(settings.warm_min)} min before it hangs"
    if settings.solution_c is not None:
        says += f", to hang at {show_number(settings.solution_c)} °C"
    return [
        Row(max(_on(row.at, -ahead), begin, key=_utc), None, row.unit, "fetch solution", f"{says}, by site policy")
        for row in rows
        if row.what in {"bag", "hang time"}
    ]


def _moment(moment: datetime) -> str:
    return f"{say_hour(moment)} on {say_day(moment)}"


def _say_night(running: Running, windows: Sequence[UnitAnswer], begin: datetime, end: datetime) -> Iterator[str]:
    """Say of each bag and canister whether it lasts through those 24 h, or where it does not."""
    for unit, window in zip(running.units, windows, strict=True):
        if window.bag is not None:
            bag = bag_times(unit, running.time_zone, running.book)
            short = f"short on cycle {window.bag.whole_cycles + 1} by {window.bag.short_ml:.0f} mL"
            if bag is not None and _utc(window.bag.short_at) < _utc(end):
                yield f"unit {unit.name}: the bag hung at {_moment(bag.hung_at)} is {short}, {_moment(bag.short_at)}"
            else:
                yield f"unit {unit.name}: the bag lasts through these 24 h; {short}, {_moment(window.bag.short_at)}"
        if window.canister is not None:
            if _utc(window.canister.earliest) < _utc(end):
                at = max(window.canister.earliest, begin, key=_utc)
                yield f"unit {unit.name}: the canister does not surely last these 24 h; change it by {_moment(at)}"
            else:
                yield f"unit {unit.name}: the canister lasts through these 24 h at the highest exudate given"


def _say_day(
    running: Running, turns: TurnPlan | None, begin: datetime, end: datetime, settings: Settings
) -> Iterator[str]:
    for unit in running.units:
        clock = on_the_clock(unit)
        if clock is not None:
            yield f"unit {unit.name}: {clock.says}"
    if turns is None:
        yield "no turns told: give how often to turn (posture.turn_every_min), by the pressure-relief order"
    else:
        longest = say_hours(longest_min(turns, begin, end))
        yield f"pressure relief goes first: at most {longest} in one posture; turns fall on a fill where they can"
    if settings.pain_check_h is None:
        yield "no pain checks told: this site has set no time between them (SOAKLINE_PAIN_CHECK_H)"
    if settings.hang_time_h is None:
        yield "no hang time told: this site has set none for a bag (SOAKLINE_HANG_TIME_H); read the solution's label"
    if settings.solution_c is None:
        yield "no temperature of the solution told: this site has set none (SOAKLINE_SOLUTION_C); ask the pharmacy"
    else:
        yield f"solution at {show_number(settings.solution_c)} °C, by site policy (SOAKLINE_SOLUTION_C)"


def _drawn_on(
    shared: Sequence[Shared], met: InStep, running: Running, sheet: Sheet, reached: Reached
) -> Iterator[DrawnOn]:
    """Yield what is left of each unit's soaks on which another unit draws."""
    cavity = reached.cavities.get("spread")
    drawn_count = dict(zip(met.names, met.soaks_drawn_count, strict=True))
    for pair in shared:
        for draws, soaks in (pair.names, pair.names[::-1]):
            if cavity is None or not pair.shared or not drawn_count[soaks]:
                continue
            found = drawn_on((draws, soaks), running.ports, reached.question, cavity, sheet)
            if found is not None:
                yield found


def _share(shared: Sequence[Shared]) -> bool | None:
    """Return whether any two units share a cavity; None where that is not known of any that might."""
    if any(pair.shared for pair in shared):
        return True
    return None if not shared or any(pair.shared is None for pair in shared) else False


def _say_shared(shared: Sequence[Shared], met: InStep) -> Iterator[str]:
    if not shared:
        yield "whether they share a cavity is not known: the wound cannot be drawn"
    for pair in shared:
        names = " and ".join(pair.names)
        if pair.shared is None:
            yield f"units {names}: {pair.says}"
        elif pair.shared:
            counts = dict(zip(met.names, zip(met.soaks_drawn_count, met.soaks_count, strict=True), strict=True))
            drawn = "; ".join(f"of unit {n} {counts[n][0]} of {counts[n][1]} soaks" for n in pair.names)
            yield (
                f"units {names} share a cavity: {pair.says}. One draws while the other soaks, in the first 24 h "
                f"{drawn}: what is drawn then is lost to that soak"
            )
        else:
            yield f"units {names} lie apart: {pair.says}. Out of step they are a matter of the clock alone"


def _share_by_soak(
    running: Running, reached: Reached, model: str, side: int
) -> Mapping[tuple[str, str], NDArray[float64]]:
    """Return what one fill of a unit soaks of each column, by unit and posture."""
    unit_of = {port.name: port.unit for port in running.ports}
    return {
        (unit, found.posture): (found.floor_share, found.roof_share)[side][:, 0]
        for found in reached.maps
        if found.model == model and (unit := unit_of.get(found.port)) is not None
    }


def _say_minutes(name: str, minutes: NDArray[float64], area: NDArray[float64], sheet: Sheet, cavity: Cavity) -> str:
    mean_min = float(minutes @ area / area.sum())
    never = say_zones(sheet, cavity, minutes < 1.0, area)
    none_today = f"; none today: {'; '.join(never)}" if never else ""
    return f"{name}: each patch is soaked for {say_hours(mean_min)} of the 24 h on average{none_today}"
