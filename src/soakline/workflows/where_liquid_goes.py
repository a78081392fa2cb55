"""Where a fill goes: each posture, each instillation port, by both models, with its range over plausible wounds."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace

import numpy as np
from numpy import float64
from numpy.typing import NDArray

from soakline.fluid.posture import Posture, parse_posture
from soakline.fluid.reach import Model, ReachCurve, ReachMap, Shares, say_share, settled_curve, shares_of
from soakline.fluid.settle import basins_of
from soakline.fluid.spread import Soak
from soakline.fluid.validity import Validity, judge_models
from soakline.layout.candidates import shown_ports
from soakline.layout.ensemble import Filling, Over, Progress, Question, foam_of, maps_of, ranges_of, reach_over
from soakline.layout.ports import Port, column_of, say_zone
from soakline.therapy.cycle import TherapyUnit
from soakline.workflows.answers import ReachAnswer
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
    """Rows of reach, and behind each its map; curves per posture and port; the cavities they were worked out on."""

    rows: tuple[ReachAnswer, ...]
    maps: tuple[ReachMap, ...]
    curves: tuple[ReachCurve, ...]
    cavities: dict[Model, Cavity]
    validity: Validity | None


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
    foam = foam_of(assumptions, Measures())
    nothing = Reached((), (), (), {}, None)
    if not looked_at:
        return nothing
    fine = build_cavity(sheet, frame, how.spacing_cm, closed=assumptions.closed, most_count=how.most_cell_count)
    first_port = looked_at[0].poured_ml[0][0]
    soak = looked_at[0].soak
    validity = judge_models(
        fine, column_of(first_port, sheet, fine), foam, None if soak is None else soak.fill_s + soak.dwell_s
    )
    reached = replace(nothing, validity=validity)
    for model in how.models:
        if model == "settled" and not validity.settled:
            continue
        question = asked if model == "settled" else _spread_question(asked)
        cavity = (
            fine if model == "settled" else build_cavity(sheet, frame, question.spacing_cm, closed=assumptions.closed)
        )
        reached = _add(reached, question, cavity, sheet, measures, how)
    if "settled" in reached.cavities:
        reached = replace(reached, curves=_curves(asked, fine, sheet))
    return reached


def say_changed_fill(
    curves: Sequence[ReachCurve], ports: Sequence[Port], units: Sequence[TherapyUnit]
) -> tuple[str, ...]:
    """Say what a fill that differs from the ordered one does to the settled reach, where it changes the word for it."""
    said: list[str] = []
    for unit in units:
        if unit.fill_ml is None or unit.ordered_fill_ml in {None, unit.fill_ml}:
            continue
        names = {port.name for port in ports if port.unit == unit.name}
        changed = [_say_change(c, unit.fill_ml, unit.ordered_fill_ml or 0.0) for c in curves if c.port in names]
        words = "; ".join(filter(None, changed)) or "no posture's reach changes by a word"
        said.append(f"unit {unit.name}: {unit.fill_ml:g} mL instead of {unit.ordered_fill_ml:g} (settled): {words}")
    return tuple(said)


def say_beyond(found: ReachMap) -> str:
    """Say what a fill does beyond reaching floor and roof; empty where nothing."""
    says: list[str] = []
    if found.edge_margin_cm is not None and found.edge_margin_cm < 0.0:
        says.append("liquid stands against the drape at the lowest part of the opening's edge")
    if found.left_over_ml > 0.5:
        says.append(f"{found.left_over_ml:.0f} mL find no room")
    return "; ".join(says)


def say_places(looked_at: Sequence[Filling], sheet: Sheet) -> str:
    """Say where the ports that were looked at lie, as zones."""
    ports = {port.name: port for filling in looked_at for port, _ in filling.poured_ml}
    return "; ".join(f"{name}: {say_zone(port, sheet)}" for name, port in ports.items())


def _spread_question(asked: Question) -> Question:
    timed = tuple(filling for filling in asked.fillings if filling.soak is not None)
    spacing_cm = _SPREAD_SPACING_CM if len(timed) <= 1 else _SPREAD_OF_MANY_CM
    return replace(asked, model="spread", fillings=timed, spacing_cm=spacing_cm)


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
    rows = [
        _row(found, *shares_of(cavity, found), None if shares is None else shares[number])
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


def _curves(asked: Question, cavity: Cavity, sheet: Sheet) -> tuple[ReachCurve, ...]:
    porosity_share = foam_of(asked.assumptions, Measures()).porosity_share
    single = {filling.name: filling.poured_ml[0][0] for filling in asked.fillings if len(filling.poured_ml) == 1}
    found: list[ReachCurve] = []
    for posture in asked.postures:
        basins = basins_of(cavity, posture.up())
        for name, port in single.items():
            found.append(settled_curve(basins, posture.name, name, column_of(port, sheet, cavity), porosity_share))
    return tuple(found)


def _row(found: ReachMap, floor: Shares, roof: Shares | None, over: NDArray[float64] | None) -> ReachAnswer:
    return ReachAnswer(
        posture=found.posture,
        model=found.model,
        fill_ml=found.fill_ml,
        port=found.port,
        floor=floor,
        roof=roof,
        floor_range=None if over is None else ranges_of(over[0]),
        roof_range=None if over is None or roof is None else ranges_of(over[1]),
        says=_say_row(found, floor, roof),
    )


def _say_row(found: ReachMap, floor: Shares, roof: Shares | None) -> str:
    says = f"{found.posture}, {found.fill_ml:g} mL through {found.port}: soaks {say_share(floor.soaked)} of the floor"
    says += f", {say_share(roof.soaked)} of the roof" if roof else ""
    if found.model == "spread":
        says += f"; liquid passes {say_share(1.0 - floor.dry)} of the floor"
        says += f", {say_share(1.0 - roof.dry)} of the roof" if roof else ""
    beyond = say_beyond(found)
    return f"{says}; {beyond}" if beyond else says


def _say_change(curve: ReachCurve, fill_ml: float, ordered_ml: float) -> str:
    changes: list[str] = []
    for surface, share in (("floor", curve.floor_share), ("roof", curve.roof_share)):
        before, after = (say_share(float(np.interp(ml, curve.fill_ml, share))) for ml in (ordered_ml, fill_ml))
        if before != after:
            changes.append(f"the {surface} {'falls' if fill_ml < ordered_ml else 'rises'} from {before} to {after}")
    return f"{curve.posture}: {', '.join(changes)}" if changes else ""


def soak_of(unit: TherapyUnit) -> Soak | None:
    """Return a unit's fill and dwell times, or None where either is not known."""
    if unit.fill_min is None or unit.dwell_min is None or unit.fill_min <= 0.0:
        return None
    return Soak(60.0 * unit.fill_min, 60.0 * unit.dwell_min)


def _round(volume_ml: float) -> float:
    return float(max(5, round(volume_ml / 5.0) * 5))
