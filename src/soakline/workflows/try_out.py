"""Trying out: what ports and a fill would do, answered while they are moved, on a coarse grid at the likely values."""

from __future__ import annotations

from dataclasses import dataclass, replace

from soakline.casefile.case import Case
from soakline.errors import Finding, InputRefused
from soakline.fluid.basins import basins_of
from soakline.fluid.posture import Posture
from soakline.fluid.reach import Model, ReachCurve, ReachMap, ShareRanges, Shares, settled_curve, shares_of
from soakline.fluid.rest import room_of
from soakline.fluid.spread import Foam, Soak
from soakline.layout.ensemble import Filling, Question, foam_of, maps_of, ranges_of, reach_over
from soakline.layout.placing import say_tube
from soakline.layout.ports import Port, check_ports, column_of, say_zone
from soakline.settings import Settings
from soakline.workflows.hidden_size import doubt_of, lay_out
from soakline.wound.body import frame_of
from soakline.wound.cavity import Cavity, build_cavity
from soakline.wound.measurements import Assumptions, Wound
from soakline.wound.plausible import Measures
from soakline.wound.sheet import Sheet

# Coarse enough to answer under a moving finger; the plan answers on a finer grid (docs/fluid.md).
_SPACING_CM = 0.75
# Few wounds tell sure from unsure while somebody waits; the plan's ranges come from more.
_DRAWS = 24


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
    """What stays while ports move: the wound laid flat, its cavity on the coarse grid, its foam, plausible measures."""

    wound: Wound
    assumptions: Assumptions
    sheet: Sheet
    cavity: Cavity
    foam: Foam
    measures: tuple[Measures, ...]


@dataclass(frozen=True, slots=True)
class Trial:
    """What is tried: all ports as they lie, mL through each instillation port that pours, one posture, one model.

    ``soak`` None is not known: the settled model alone can answer then.
    """

    ports: tuple[Port, ...]
    poured_ml: tuple[tuple[str, float], ...]
    posture: Posture
    model: Model
    soak: Soak | None

    @property
    def fill_ml(self) -> float:
        """All that is poured in, in mL."""
        return sum(fill_ml for _, fill_ml in self.poured_ml)


@dataclass(frozen=True, slots=True, eq=False)
class Tried:
    """What the trial does: shares of floor and roof (None without a roof), and the map behind them.

    ``placed`` says by port where it lies, as a zone, and how its tube leaves.
    ``curve`` is reach against fill of a single pouring port once settled; None for several.
    """

    found: ReachMap
    floor: Shares
    roof: Shares | None
    placed: tuple[tuple[str, str], ...]
    curve: ReachCurve | None
    floor_range: ShareRanges | None = None
    roof_range: ShareRanges | None = None


def ground_of(case: Case, settings: Settings) -> Ground:
    """Return what stays while ports move; the case's wound must be known well enough to be planned."""
    sheet = lay_out(case.wound) if case.wound is not None else None
    if case.wound is None or sheet is None:
        raise InputRefused([Finding("refuse", "wound", "no opening in the file: measure it before ports are tried")])
    cavity = build_cavity(sheet, frame_of(case.wound, case.assumptions), _SPACING_CM, closed=case.assumptions.closed)
    measures = doubt_of(case.wound, case.assumptions, settings.draws, settings.seed).measures[:_DRAWS]
    foam = foam_of(case.assumptions, Measures())
    return Ground(case.wound, case.assumptions, sheet, cavity, foam, tuple(measures))


def try_out(ground: Ground, trial: Trial) -> Tried:
    """Return what a trial does at the likely values; raises InputRefused where a port or the times do not allow it."""
    question = question_of(ground, trial)
    found = maps_of(question, ground.cavity, ground.sheet, ground.foam)[0]
    floor, roof = shares_of(ground.cavity, found)
    sheet = ground.sheet
    placed = tuple((port.name, f"{say_zone(port, sheet)}; tube {say_tube(port, sheet)}") for port in trial.ports)
    return Tried(found, floor, roof, placed, _curve(ground, trial))


def doubt_over(ground: Ground, trial: Trial, tried: Tried) -> Tried:
    """Return the same answer with its ranges over plausible wounds, and in how many of them each column is reached."""
    over = reach_over(question_of(ground, trial), ground.measures, ground.cavity)
    floor, roof = (over.wound_share[:, 0, 0, side] for side in (0, 1))
    return replace(
        tried,
        found=tried.found.over_wounds(*over.patch_share[0, 0]),
        floor_range=ranges_of(floor),
        roof_range=ranges_of(roof) if tried.roof else None,
    )


def question_of(ground: Ground, trial: Trial) -> Question:
    """Return the question that a trial puts to the models; raises InputRefused where it cannot be put."""
    refused = [found for found in check_ports(trial.ports, ground.sheet) if found.level == "refuse"]
    if refused:
        raise InputRefused(refused)
    placed = {port.name: port for port in trial.ports if port.kind == "instillation"}
    poured = tuple((placed[name], fill_ml) for name, fill_ml in trial.poured_ml if name in placed and fill_ml > 0.0)
    if not poured:
        raise InputRefused([Finding("refuse", "port", "no fill goes in: choose an instillation port and a fill in mL")])
    if trial.model == "spread" and trial.soak is None:
        says = "fill and dwell times are not known: give fill_min and dwell_min of the unit, or look at settled"
        raise InputRefused([Finding("refuse", "unit", says)])
    filling = Filling(" + ".join(port.name for port, _ in poured), poured, trial.soak)
    return Question(ground.wound, ground.assumptions, (filling,), (trial.posture,), trial.model, _SPACING_CM)


def _curve(ground: Ground, trial: Trial) -> ReachCurve | None:
    pouring = [name for name, fill_ml in trial.poured_ml if fill_ml > 0.0]
    port = next((port for port in trial.ports if port.name == pouring[0]), None) if len(pouring) == 1 else None
    if port is None:
        return None
    room = room_of(basins_of(ground.cavity, trial.posture.up()), ground.foam)
    return settled_curve(room, trial.posture.name, port.name, column_of(port, ground.sheet, ground.cavity))
