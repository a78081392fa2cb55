"""Where ports go: layouts searched over plausible wounds, beside the file's, the opening's and the rule of thumb."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from itertools import cycle, islice

import numpy as np
from numpy import float64
from numpy.typing import NDArray

from soakline.errors import Finding
from soakline.fluid.posture import Posture
from soakline.fluid.reach import ReachMap, Shares, say_share, shares_of
from soakline.fluid.spread import Soak
from soakline.layout.candidates import Places, find_places, shown_ports
from soakline.layout.compare import Gains, does_as_well, gain_over, name_layouts, say_beside
from soakline.layout.drawing import MOST_SUCTION_PORTS, share_passed_over, suction_sets
from soakline.layout.ensemble import Question, foam_of, maps_of
from soakline.layout.front import worst_tenth
from soakline.layout.joins import joins_of
from soakline.layout.placing import place_port
from soakline.layout.ports import Port, in_tunnel, say_zone
from soakline.layout.rule import rule_port
from soakline.layout.search import MOST_PORTS, Found, Layout, Sought, Standing, UnitFill, search
from soakline.layout.zones import pocket_of_column, pockets_of
from soakline.therapy.cycle import TherapyUnit
from soakline.workflows.layout_answers import (
    LayoutAnswer,
    LayoutKind,
    LayoutReach,
    PocketWetted,
    PortAnswer,
    SearchAnswer,
    WorstTenth,
    ZoneLeftOut,
)
from soakline.workflows.where_liquid_goes import spread_spacing_cm
from soakline.wound.body import BodyFrame, frame_of
from soakline.wound.cavity import Cavity, build_cavity
from soakline.wound.measurements import Assumptions, Wound
from soakline.wound.plausible import Measures
from soakline.wound.sheet import Sheet

# The grid of a search, and how many plausible wounds it looks at: layouts differ by more than either changes.
_SPACING_CM, _DRAWS = 0.75, 32
_USUAL_SUCTION_PORTS = 2
# A pocket less of which is wetted is told as mostly dry.
_MOSTLY_DRY_SHARE = 0.4
_LETTERS = "abcdefghijklmnopqrstuvwxyz"

Told = Callable[[Standing], None]


@dataclass(frozen=True, slots=True)
class Searched:
    """The layouts to show, what was searched, and what stands against the search; nothing where it cannot be done."""

    layouts: tuple[LayoutAnswer, ...]
    search: SearchAnswer | None
    findings: tuple[Finding, ...]


NOT_SEARCHED = Searched((), None, ())


@dataclass(frozen=True, slots=True)
class Searching:
    """How to search: where random numbers start, who shares the work, and who hears how it stands."""

    seed: int
    executor: Executor | None = None
    told: Told | None = None


def search_layouts(
    wound: Wound,
    assumptions: Assumptions,
    sheet: Sheet,
    postures: Sequence[Posture],
    ports: Sequence[Port],
    units: Sequence[TherapyUnit],
    measures: Sequence[Measures],
    how: Searching,
) -> Searched:
    """Return the layouts that lead over plausible wounds and, beside them, the rule, the opening and the file's.

    What keeps it from searching is told as findings. ``how.told`` may raise to stop.
    """
    frame = frame_of(wound, assumptions)
    places = find_places(sheet, frame, postures)
    fills, against = _fills(ports, units)
    against += _check(places, postures)
    if against:
        return Searched((), None, tuple(against))
    cavity = build_cavity(sheet, frame, _SPACING_CM, closed=assumptions.closed)
    in_file = _in_file(ports, [fill.unit for fill, _ in fills])
    question = Question(wound, assumptions, (), tuple(postures), "spread", _SPACING_CM)
    most = min(MOST_PORTS, max(2, len(fills)), len(places.ports))
    opening = places.at_opening or shown_ports(sheet)[0]
    sought = Sought(question, places.ports, tuple(fill for fill, _ in fills), fills[0][1], most, (opening, *in_file))
    beside = _beside(places, rule_port(places.ports, sheet, cavity, postures), len(in_file))
    found = search(
        sought, measures[:_DRAWS], seed=how.seed, always=list(beside.values()), executor=how.executor, told=how.told
    )
    laid = _Laid(sheet, frame, cavity, sought, found, beside, tuple(ports))
    return Searched(tuple(_layouts(laid)), _say_search(laid, places), tuple(_check_count(ports)))


@dataclass(frozen=True, slots=True, eq=False)
class _Laid:
    """A finished search with what its words are made from; ``beside`` are the layouts shown beside the searched."""

    sheet: Sheet
    frame: BodyFrame
    cavity: Cavity
    sought: Sought
    found: Found
    beside: dict[LayoutKind, Layout]
    ports: tuple[Port, ...]

    @property
    def unit_count(self) -> int:
        """How many units the file has a fill for."""
        return len(self.sought.fills)

    def goals(self, layout: Layout) -> NDArray[float64]:
        return self.found.goal_share[layout]

    def zone(self, layout: Layout) -> str:
        return " + ".join(say_zone(port, self.sheet) for port in self.sought.ports_of(layout))


def _check(places: Places, postures: Sequence[Posture]) -> list[Finding]:
    if not postures:
        says = (
            "no layouts searched: they depend on how the patient may lie; write the postures that are allowed, such as "
            '"supine", "left 30"'
        )
        return [Finding("warn", "posture.allowed", says)]
    if not places.ports:
        # A wound has some sixty places: the reasons, each with how many it takes, tell more than all of them.
        counted = Counter(one.why for one in places.excluded)
        why = "; ".join(f"{one} ({count} places)" if count > 1 else one for one, count in counted.items())
        says = (
            f"no layouts searched: no place is left for a port: {why}. Look again at the structures to keep clear, at "
            "the reach, and at the postures that are allowed"
        )
        return [Finding("warn", "posture.allowed", says)]
    return []


def _check_count(ports: Sequence[Port]) -> Iterator[Finding]:
    count = sum(port.kind == "instillation" for port in ports)
    if count > MOST_PORTS:
        says = f"{count} instillation ports in the file: layouts with up to {MOST_PORTS} were searched"
        yield Finding("warn", "port", says)


def _fills(ports: Sequence[Port], units: Sequence[TherapyUnit]) -> tuple[list[tuple[UnitFill, Soak]], list[Finding]]:
    """Return what each unit instils, those with an instillation port in the file first, or what is missing."""
    placed = {port.unit for port in ports if port.kind == "instillation"}
    fills = [
        (UnitFill(unit.name, unit.fill_ml), Soak(60.0 * unit.fill_min, 60.0 * unit.dwell_min))
        for unit in sorted(units, key=lambda unit: unit.name not in placed)
        if unit.fill_ml and unit.fill_min and unit.dwell_min is not None
    ]
    if fills:
        return fills, []
    needed = "fill_ml, fill_min and dwell_min of a unit are needed; liquid goes by them"
    if not units:
        needed = f"no therapy unit is in the file, and each instillation port needs one; write [[unit]]: {needed}"
    return [], [Finding("warn", "unit", f"no layouts searched: {needed}")]


def _in_file(ports: Sequence[Port], units: Sequence[str]) -> tuple[Port, ...]:
    """Return the file's instillation ports in the order of the units, as far as each unit in turn has one."""
    by_unit = {port.unit: port for port in ports if port.kind == "instillation"}
    found: list[Port] = []
    for unit in units[:MOST_PORTS]:
        if unit not in by_unit:
            break
        found.append(by_unit[unit])
    return tuple(found)


def _beside(places: Places, rule: int, in_file_count: int) -> dict[LayoutKind, Layout]:
    first = len(places.ports)
    opening = places.ports.index(places.at_opening) if places.at_opening else first
    beside: dict[LayoutKind, Layout] = {"rule of thumb": (rule,), "at the opening": (opening,)}
    if in_file_count:
        beside["in the file"] = tuple(range(first + 1, first + 1 + in_file_count))
    return beside


def _layouts(laid: _Laid) -> Iterator[LayoutAnswer]:
    """Give what the units of the file can do first, then fewer and more units, then what is shown beside."""
    named: list[tuple[LayoutKind, tuple[str, ...], Layout]] = []
    most = laid.sought.most_port_count
    at_hand = min(laid.unit_count, most)
    familiar = list(laid.beside.values())
    good_at: dict[Layout, tuple[str, ...]] = {}
    for count in [at_hand, *(n for n in range(1, most + 1) if n != at_hand)]:
        leading = dict(islice(name_layouts(laid.found, count, familiar).items(), 4 if count == at_hand else 2))
        good_at |= leading
        named.extend(("searched", words, layout) for layout, words in leading.items() if layout not in familiar)
    first = {layout: kind for kind, layout in reversed(laid.beside.items())}
    named.extend(
        (kind, good_at.get(layout, ()) if first[layout] == kind else (), layout) for kind, layout in laid.beside.items()
    )
    reached = _likely(laid, [layout for _, _, layout in named])
    for letter, (kind, words, layout), at in zip(_LETTERS, named, reached, strict=False):
        yield _layout(laid, letter, kind, words, layout, at)


@dataclass(frozen=True, slots=True, eq=False)
class _Reached:
    """What a layout does at the likely values: shares over all postures, and lying each way.

    ``wetted`` is the share of each column's floor of ``cavity`` that is wetted in any posture, shape (n,).
    """

    floor: Shares
    roof: Shares | None
    lying: tuple[LayoutReach, ...]
    cavity: Cavity
    wetted: NDArray[float64]


def _likely(laid: _Laid, layouts: Sequence[Layout]) -> list[_Reached]:
    """Return what layouts do, each on the grid on which the plan tells it: a single port's on a finer one."""
    question = laid.sought.question
    foam = foam_of(question.assumptions, Measures())
    reached: dict[Layout, _Reached] = {}
    for alone in (True, False):
        chosen = [layout for layout in layouts if (len(layout) == 1) == alone]
        if not chosen:
            continue
        spacing_cm = spread_spacing_cm(1 if alone else len(chosen[0]) + 1)
        cavity = build_cavity(laid.sheet, laid.frame, spacing_cm, closed=question.assumptions.closed)
        fillings = tuple(laid.sought.filling(layout) for layout in chosen)
        maps = maps_of(replace(question, fillings=fillings, spacing_cm=spacing_cm), cavity, laid.sheet, foam)
        reached |= {layout: _together(cavity, maps[k :: len(chosen)]) for k, layout in enumerate(chosen)}
    return [reached[layout] for layout in layouts]


def _together(cavity: Cavity, maps: Sequence[ReachMap]) -> _Reached:
    lying = tuple(LayoutReach(found.posture, *shares_of(cavity, found)) for found in maps)
    floor = np.max([np.cumsum(found.floor_share, axis=1) for found in maps], axis=0)
    roof = np.max([np.cumsum(found.roof_share, axis=1) for found in maps], axis=0)
    over = cavity.roof_cm2.sum() > 0.0
    return _Reached(
        _shares(cavity.floor_cm2, floor),
        _shares(cavity.roof_cm2, roof) if over else None,
        lying,
        cavity,
        np.minimum(floor[:, 2], 1.0),
    )


def _shares(area_cm2: NDArray[float64], at_least: NDArray[float64]) -> Shares:
    soaked, moist, rinsed = (float(x) for x in area_cm2 @ at_least / area_cm2.sum())
    return Shares(soaked, moist - soaked, rinsed - moist, max(1.0 - rinsed, 0.0))


def _layout(
    laid: _Laid, letter: str, kind: LayoutKind, words: tuple[str, ...], layout: Layout, reached: _Reached
) -> LayoutAnswer:
    goals = laid.goals(layout)
    worst = worst_tenth(goals[:, None])[0]
    suction, passed = _suction(laid, kind, layout)
    joins = joins_of((*laid.sought.ports_of(layout), *suction), laid.sheet)
    return LayoutAnswer(
        letter=letter,
        kind=kind,
        good_at=words,
        ports=tuple(_ports(laid, kind, layout, suction)),
        postures=tuple(posture.name for posture in laid.sought.question.postures),
        floor=reached.floor,
        roof=reached.roof,
        reach=reached.lying,
        worst_tenth=WorstTenth(float(worst[0]), float(worst[1])),
        roof_worst_tenth=WorstTenth(float(worst[2]), float(worst[3])) if reached.roof else None,
        units_needed=joins.unit_count,
        y_connectors_needed=joins.y_count,
        deep_tubes_needed=joins.deep_count,
        zone=laid.zone(layout),
        pockets=tuple(_pockets(laid, reached)),
        gain_over_rule=None if kind == "rule of thumb" else _gain(laid, layout),
        passed_over=passed,
        says=". ".join(_say(laid, kind, layout, reached)) + ".",
    )


def _pockets(laid: _Laid, reached: _Reached) -> Iterator[PocketWetted]:
    of_column = pocket_of_column(laid.sheet, reached.cavity)
    for number, pocket in enumerate(pockets_of(laid.sheet)):
        area = np.where(of_column == number, reached.cavity.floor_cm2, 0.0)
        yield PocketWetted(pocket.says, float(area @ reached.wetted / max(area.sum(), 1e-12)))


def _gain(laid: _Laid, layout: Layout) -> Gains:
    return gain_over(laid.goals(layout), laid.goals(laid.beside["rule of thumb"]))


def _suction(laid: _Laid, kind: LayoutKind, layout: Layout) -> tuple[tuple[Port, ...], float | None]:
    """Return the suction ports of a layout, and the share of the bed that the flow to them passes over."""
    placed = tuple(port for port in laid.ports if port.kind == "suction")
    instillation = laid.sought.ports_of(layout)
    if kind == "in the file":
        passed = share_passed_over(laid.cavity, laid.sheet, instillation, placed) if placed else None
        return placed, passed
    a_unit = len(placed) / laid.unit_count or _USUAL_SUCTION_PORTS
    most = min(math.ceil(a_unit * len(layout)), MOST_SUCTION_PORTS)
    # Suction needs foam round its port, and none is pushed blind into a tunnel.
    places = [port for port in laid.sought.places if not in_tunnel(port, laid.sheet)]
    sets = suction_sets(laid.cavity, laid.sheet, instillation, places, most)
    # Each unit draws: never fewer suction ports than units, where the places allow it.
    chosen = next((one for one in sets[len(layout) - 1 :] if one.passed_over_share < 0.01), sets[-1])
    return tuple(replace(places[k], kind="suction") for k in chosen.place_index), chosen.passed_over_share


def _ports(laid: _Laid, kind: LayoutKind, layout: Layout, suction: Sequence[Port]) -> Iterator[PortAnswer]:
    instillation = laid.sought.ports_of(layout)
    units = [fill.unit for fill in laid.sought.fills[: len(instillation)]]
    units += [None] * (len(instillation) - len(units))
    for number, (port, unit) in enumerate(zip(instillation, units, strict=True)):
        yield _port(laid, port, f"I{number + 1}", unit, laid.sought.fill_of(number).fill_ml)
    # What the file says of its own suction ports stands.
    drawn_by = (
        [port.unit for port in suction] if kind == "in the file" else _drawn_by(laid, instillation, units, suction)
    )
    for number, (port, unit) in enumerate(zip(suction, drawn_by, strict=True)):
        yield _port(laid, port, f"S{number + 1}", unit, None)


def _drawn_by(
    laid: _Laid, instillation: Sequence[Port], units: Sequence[str | None], suction: Sequence[Port]
) -> list[str | None]:
    """Return the unit that draws each suction port: the units in turn take the port nearest to where they instil."""
    drawn_by: dict[int, str | None] = {}
    for port, unit in islice(cycle(zip(instillation, units, strict=True)), len(suction)):
        free = [k for k in range(len(suction)) if k not in drawn_by]
        drawn_by[min(free, key=lambda k, to=port: _apart_cm(laid.sheet, suction[k], to))] = unit
    return [drawn_by[k] for k in range(len(suction))]


def _apart_cm(sheet: Sheet, one: Port, other: Port) -> float:
    return math.dist(sheet.point_at(one.clock, one.from_edge_cm), sheet.point_at(other.clock, other.from_edge_cm))


def _port(laid: _Laid, port: Port, name: str, unit: str | None, fill_ml: float | None) -> PortAnswer:
    placing = place_port(port, laid.sheet, laid.frame, laid.sought.question.postures)
    return PortAnswer(
        name if port.unit is None else port.name,
        port.kind,
        unit,
        port.clock,
        port.from_edge_cm,
        say_zone(port, laid.sheet),
        fill_ml,
        placing.tube,
        placing.keeps_clear,
        placing.lying,
        placing.foam,
        placing.outline,
    )


def _say(laid: _Laid, kind: LayoutKind, layout: Layout, reached: _Reached) -> Iterator[str]:
    others: dict[LayoutKind, str] = {
        "at the opening": "the port at the opening",
        "in the file": "the layout in the file",
        "rule of thumb": "the rule of thumb",
    }
    if kind == "searched":
        for other, words in others.items():
            if other in laid.beside and laid.beside[other] != layout:
                yield _sentence(say_beside(laid.goals(layout), laid.goals(laid.beside[other]), words))
        if len(layout) == 1 and does_as_well(_gain(laid, layout)):
            yield "The rule of thumb does as well"
    elif kind == "rule of thumb":
        yield "The floor under it lies highest for the postures allowed"
    dry = [one.pocket for one in _pockets(laid, reached) if one.wetted < _MOSTLY_DRY_SHARE]
    if dry:
        yield _sentence(f"{' and '.join(dry)}: mostly dry at the likely values")
    if len(layout) > 1 and kind == "searched":
        fewer = laid.found.leader(len(layout) - 1, 1)
        beside = say_beside(laid.goals(fewer), laid.goals(layout), "this layout")
        yield f"With one unit fewer ({laid.zone(fewer)}): {beside}"
    yield _sentence(f"floor: {say_share(1.0 - reached.floor.dry)} wetted, {say_share(reached.floor.soaked)} soaked")


def _say_search(laid: _Laid, places: Places) -> SearchAnswer:
    left_out: dict[str, list[str]] = {}
    for one in places.excluded:
        left_out.setdefault(one.why, []).append(one.zone)
    return SearchAnswer(
        wound_count=len(laid.goals(laid.beside["rule of thumb"])),
        place_count=len(places.ports),
        left_out=tuple(ZoneLeftOut(tuple(zones), why) for why, zones in left_out.items()),
        says=tuple(_say_overall(laid)),
    )


def _say_overall(laid: _Laid) -> Iterator[str]:
    fills = {laid.sought.fill_of(k).fill_ml for k in range(laid.sought.most_port_count)}
    amounts = " or ".join(f"{ml:g} mL" for ml in sorted(fills))
    yield f"each port with {amounts}; each posture with a fresh fill; what is reached in any posture counts"
    leader = laid.found.leader(1, 1)
    rule = laid.beside["rule of thumb"]
    if does_as_well(_gain(laid, leader)):
        yield f"with one port the rule of thumb does as well as any searched: {laid.zone(rule)}"
    parts = pockets_of(laid.sheet)
    if len(parts) > laid.unit_count:
        named = "; ".join(part.says for part in parts)
        yield (
            f"{len(parts)} pockets that join through the opening alone ({named}), fills for {laid.unit_count}: see "
            "which pocket each layout leaves dry; an option is to alternate the pockets at successive changes of the "
            "dressing, so that each is reached in turn"
        )
    if laid.unit_count < laid.sought.most_port_count:
        yield f"more instillation ports than {laid.unit_count} need more therapy units than the file has fills for"
    yield "no paper measures how far liquid reaches under spared skin: this is physics on typed numbers"


def _sentence(words: str) -> str:
    return words[:1].upper() + words[1:]
