"""Where a fill goes: each posture, each instillation port, by both models, with its range over plausible wounds."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from concurrent.futures import Executor
from dataclasses import asdict, dataclass, replace

import numpy as np
from numpy import float64
from numpy.typing import NDArray

from soakline.fluid.gas import opening_vents, trapped_gas
from soakline.fluid.posture import Posture, parse_posture
from soakline.fluid.reach import Model, ReachMap, Shares, say_share, shares_of
from soakline.fluid.spread import Soak
from soakline.fluid.validity import judge_models, space_of
from soakline.layout.candidates import shown_ports
from soakline.layout.ensemble import Filling, Over, Progress, Question, foam_of, maps_of, ranges_of, reach_over
from soakline.layout.ports import Port, column_of, say_zone
from soakline.therapy.cycle import TherapyUnit
from soakline.workflows.answers import GasAnswer, ReachAnswer, SealAnswer, ValidityAnswer
from soakline.workflows.liquid_in_words import say_gas, say_left_over, say_reached, say_seal, seal_at_hours
from soakline.wound.body import frame_of
from soakline.wound.cavity import Cavity, build_cavity
from soakline.wound.measurements import Assumptions, Wound
from soakline.wound.plausible import Measures
from soakline.wound.sheet import Sheet

USUAL_POSTURES = tuple(parse_posture(words) for words in ("supine", "prone", "left 30", "right 30"))
BOTH: tuple[Model, ...] = ("settled", "spread")
# Plausible wounds are coarser and fewer than the answer itself: the doubt is larger than the grid (see docs/fluid.md).
_RANGE_SPACING_CM: dict[Model, float] = {"settled": 0.5, "spread": 0.75}
_RANGE_DRAWS: dict[Model, int] = {"settled": 48, "spread": 32}
# The grid of the spread answer, and that for several fillings: finer changes either by less than the measures do.
_SPREAD_SPACING_CM, _SPREAD_OF_MANY_CM = 0.5, 0.75
# Many postures and fillings share the time of one answer: fewer wounds each, but never less than these.
_RANGE_RUNS, _FEWEST_DRAWS = 480, 32
# Through what gas is taken to leave: under the drape, over the opening.
_VENT = "the whole opening"
# Fills that are shown where none was given, as shares of what the wound takes.
_SHOWN_SHARES = (0.25, 0.5)


@dataclass(frozen=True, slots=True)
class Looking:
    """How closely to look: which models, the grid in cm, the most cells, and whether spread gets ranges too."""

    models: tuple[Model, ...]
    spacing_cm: float
    most_cell_count: int
    spread_ranges: bool
    executor: Executor | None = None
    progress: Progress | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Reached:
    """Rows of reach, and behind each its map; the cavities they were worked out on; which model may be believed."""

    question: Question
    rows: tuple[ReachAnswer, ...]
    maps: tuple[ReachMap, ...]
    cavities: dict[Model, Cavity]
    validity: tuple[ValidityAnswer, ...]


def fillings(
    ports: Sequence[Port], units: Sequence[TherapyUnit], sheet: Sheet, capacity_ml: float
) -> tuple[Filling, ...]:
    """Return what to look at: each instillation port with its unit's fill, then all at once; candidates without."""
    fill_of = {unit.name: unit for unit in units if unit.fill_ml is not None}
    placed = [
        Filling(port.name, ((port, unit.fill_ml),), soak_of(unit))
        for port in ports
        if port.kind == "instillation" and (unit := fill_of.get(port.unit or "")) is not None and unit.fill_ml
    ]
    if placed:
        together = Filling(
            " + ".join(filling.name for filling in placed),
            tuple(poured for filling in placed for poured in filling.poured_ml),
            placed[0].soak,
        )
        return (*placed, together) if len(placed) > 1 else tuple(placed)
    shown = [p for p in ports if p.kind == "instillation"] or list(shown_ports(sheet))
    given = [(unit.fill_ml, soak_of(unit)) for unit in units if unit.fill_ml is not None]
    wanted = given or [(_round(share * capacity_ml), None) for share in _SHOWN_SHARES]
    return tuple(Filling(port.name, ((port, volume),), soak) for port in shown for volume, soak in dict(wanted).items())


def look(
    wound: Wound,
    sheet: Sheet,
    assumptions: Assumptions,
    postures: Sequence[Posture],
    looked_at: Sequence[Filling],
    measures: Sequence[Measures],
    how: Looking,
) -> Reached:
    """Return the reach of every filling in every posture by each model asked for, at the likely values, with ranges.

    ``how.progress`` is told the share done (0–1) of the ranges and may raise to stop. Raises GridRefused when memory is
    too small.
    """
    asked = Question(wound, assumptions, tuple(looked_at), tuple(postures), "settled", how.spacing_cm)
    frame = frame_of(wound, assumptions)
    reached = Reached(asked, (), (), {}, ())
    if not looked_at or not how.models:
        return reached
    fine = build_cavity(sheet, frame, how.spacing_cm, closed=assumptions.closed, most_count=how.most_cell_count)
    reached = replace(reached, validity=_judge(asked, fine, sheet))
    for model in how.models:
        if model == "settled" and not all(judged.settled for judged in reached.validity):
            continue
        question = asked if model == "settled" else _spread_question(asked)
        cavity = (
            fine if model == "settled" else build_cavity(sheet, frame, question.spacing_cm, closed=assumptions.closed)
        )
        reached = _add(reached, question, cavity, sheet, measures, how)
    return reached


def say_changed_fill(
    reached: Reached, sheet: Sheet, ports: Sequence[Port], units: Sequence[TherapyUnit]
) -> tuple[str, ...]:
    """Say what a fill that differs from the ordered one does to the settled reach, where it changes the word for it."""
    cavity = reached.cavities.get("settled")
    said: list[str] = []
    for unit in units:
        if cavity is None or unit.fill_ml is None or unit.ordered_fill_ml in {None, unit.fill_ml}:
            continue
        volumes = (unit.ordered_fill_ml or 0.0, unit.fill_ml)
        placed = [port for port in ports if port.unit == unit.name and port.kind == "instillation"]
        changed = [words for port in placed for words in _say_changes(reached.question, cavity, sheet, port, volumes)]
        words = "; ".join(changed) or "no posture's reach changes by a word"
        said.append(f"unit {unit.name}: {unit.fill_ml:g} mL instead of {unit.ordered_fill_ml:g} (settled): {words}")
    return tuple(said)


def say_places(looked_at: Sequence[Filling], sheet: Sheet) -> str:
    """Say where the ports that were looked at lie, as zones."""
    ports = {port.name: port for filling in looked_at for port, _ in filling.poured_ml}
    return "; ".join(f"{name}: {say_zone(port, sheet)}" for name, port in ports.items())


def spread_spacing_cm(filling_count: int) -> float:
    """Return the grid in cm on which so many fillings are told by the spread model.

    >>> spread_spacing_cm(1), spread_spacing_cm(3)
    (0.5, 0.75)
    """
    return _SPREAD_SPACING_CM if filling_count <= 1 else _SPREAD_OF_MANY_CM


def _judge(asked: Question, cavity: Cavity, sheet: Sheet) -> tuple[ValidityAnswer, ...]:
    """Return for each filling which model may be believed; fillings of one name differ in nothing that counts here."""
    space, foam = space_of(cavity), foam_of(asked.assumptions, Measures())
    judged: dict[str, ValidityAnswer] = {}
    for filling in asked.fillings:
        columns = [column_of(port, sheet, cavity) for port, _ in filling.poured_ml]
        soak_s = None if filling.soak is None else filling.soak.fill_s + filling.soak.dwell_s
        judged[filling.name] = ValidityAnswer(
            **asdict(judge_models(cavity, space, columns, foam, soak_s)), port=filling.name
        )
    return tuple(judged.values())


def _spread_question(asked: Question) -> Question:
    timed = tuple(filling for filling in asked.fillings if filling.soak is not None)
    return replace(asked, model="spread", fillings=timed, spacing_cm=spread_spacing_cm(len(timed)))


def _add(
    reached: Reached, question: Question, cavity: Cavity, sheet: Sheet, measures: Sequence[Measures], how: Looking
) -> Reached:
    """Return what was reached with one more model's rows and maps."""
    if not question.fillings:
        return reached
    maps = maps_of(question, cavity, sheet, foam_of(question.assumptions, Measures()))
    over = _over_plausible(question, cavity, measures, how)
    if over is not None:
        patches = over.patch_share.reshape(-1, 2, len(cavity.u_cm), 2)
        maps = [found.over_wounds(*patch) for found, patch in zip(maps, patches, strict=True)]
    shares = None if over is None else np.moveaxis(over.wound_share.reshape(len(over.wound_share), -1, 2, 4), 0, 2)
    gas = _gas_by_posture(question, cavity) if question.model == "settled" else {}
    rows = [
        _row(found, *shares_of(cavity, found), None if shares is None else shares[number], gas.get(found.posture))
        for number, found in enumerate(maps)
    ]
    return replace(
        reached,
        rows=(*reached.rows, *rows),
        maps=(*reached.maps, *maps),
        cavities={**reached.cavities, question.model: cavity},
    )


def _over_plausible(question: Question, cavity: Cavity, measures: Sequence[Measures], how: Looking) -> Over | None:
    """Return reach over plausible wounds, or None where none was asked for."""
    if question.model == "spread" and not how.spread_ranges:
        return None
    coarse = replace(question, spacing_cm=_RANGE_SPACING_CM[question.model])
    shared = _RANGE_RUNS // (len(question.postures) * len(question.fillings))
    drawn = measures[: min(max(shared, _FEWEST_DRAWS), _RANGE_DRAWS[question.model])]
    return reach_over(coarse, drawn, cavity, executor=how.executor, progress=how.progress)


def _gas_by_posture(question: Question, cavity: Cavity) -> dict[str, GasAnswer]:
    """Return the gas that cannot leave in each posture; none where the opening is closed and no vent is known."""
    if question.assumptions.closed:
        return {}
    vents = opening_vents(cavity)
    found = {posture.name: trapped_gas(cavity, posture.up(), vents) for posture in question.postures}
    return {name: GasAnswer(gas.void_share, gas.held_ml, _VENT) for name, gas in found.items()}


def _row(
    found: ReachMap, floor: Shares, roof: Shares | None, over: NDArray[float64] | None, gas: GasAnswer | None
) -> ReachAnswer:
    seal = seal_at_hours(found.seal)
    return ReachAnswer(
        posture=found.posture,
        model=found.model,
        fill_ml=found.fill_ml,
        port=found.port,
        floor=floor,
        roof=roof,
        floor_range=None if over is None else ranges_of(over[0]),
        roof_range=None if over is None or roof is None else ranges_of(over[1]),
        seal=seal,
        gas=gas,
        says="; ".join(filter(None, _say_row(found, floor, roof, seal, gas))),
    )


def _say_row(
    found: ReachMap, floor: Shares, roof: Shares | None, seal: SealAnswer | None, gas: GasAnswer | None
) -> Iterator[str]:
    yield say_reached(found, floor, roof)
    if found.model == "settled":
        yield say_seal(seal)
    if gas is not None:
        yield say_gas(gas)
    yield say_left_over(found)


def _say_changes(
    asked: Question, cavity: Cavity, sheet: Sheet, port: Port, volumes_ml: tuple[float, float]
) -> Iterator[str]:
    """Say for each posture which word changes from the first of two fills through a port to the second."""
    fillings = tuple(Filling(port.name, ((port, ml),)) for ml in volumes_ml)
    maps = maps_of(replace(asked, fillings=fillings), cavity, sheet, foam_of(asked.assumptions, Measures()))
    word = "falls" if volumes_ml[1] < volumes_ml[0] else "rises"
    for before, after in zip(maps[::2], maps[1::2], strict=True):
        sides = zip(("floor", "roof"), shares_of(cavity, before), shares_of(cavity, after), strict=True)
        said = [
            f"the {surface} {word} from {say_share(was.soaked)} to {say_share(now.soaked)}"
            for surface, was, now in sides
            if was is not None and now is not None and say_share(was.soaked) != say_share(now.soaked)
        ]
        if said:
            yield f"{before.posture}: {', '.join(said)}"


def soak_of(unit: TherapyUnit) -> Soak | None:
    """Return a unit's fill and dwell times, or None where either is not known."""
    if unit.fill_min is None or unit.dwell_min is None or unit.fill_min <= 0.0:
        return None
    return Soak(60.0 * unit.fill_min, 60.0 * unit.dwell_min)


def _round(volume_ml: float) -> float:
    return float(max(5, round(volume_ml / 5.0) * 5))
