"""How the figures of a plan were worked out: formula and numbers, line by line, and the source keys behind them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from soakline.fluid.reach import Model, ReachMap
from soakline.layout.ensemble import foam_of
from soakline.layout.suction import BESIDE_CM, LEFT_OUT_SHARE
from soakline.layout.turning import SOAKED_SHARE, WOUNDS_SHARE
from soakline.sources import source
from soakline.units import Extremes, Range, show_number
from soakline.workflows.answers import Plan, ReachAnswer, TurningAnswer, ValidityAnswer, WoundAnswer
from soakline.workflows.in_words import say_model, say_sum
from soakline.wound.cavity import Cavity
from soakline.wound.measurements import Assumptions
from soakline.wound.plausible import Measures

_DRAWN = ("measuring.error_model", "sampling.sobol")
_FOAM = ("foam.porosity", "foam.share", "foam.capillary_height")
_REACH: dict[Model, tuple[str, ...]] = {
    "settled": ("settling.barnes_2021", *_FOAM),
    "spread": ("spread.column", "foam.permeability", "foam.van_genuchten", "fluids.water", *_FOAM),
}


@dataclass(frozen=True, slots=True)
class Working:
    """The working of figures that stand together; raises LookupError for a key that is no source's.

    >>> Working("the opening", ("π ÷ 4 × 10 × 6 = 47.1 cm²",), ("measuring.ellipse",)).of
    'the opening'
    """

    of: str
    lines: tuple[str, ...]
    keys: tuple[str, ...]

    def __post_init__(self) -> None:
        """Hold each key against the sources."""
        for key in self.keys:
            source(key)


def work_size(size: WoundAnswer, assumptions: Assumptions) -> Working:
    """Return the working of the hidden size: areas, volume with its range, what it takes at a fill."""
    return Working(
        "the hidden size",
        tuple(_size_lines(size, assumptions)),
        (
            "measuring.ellipse",
            "measuring.length_width",
            "measuring.undermining",
            *(("measuring.height_unknown",) if isinstance(size.void_ml, Extremes) else _DRAWN),
            "foam.porosity",
            "foam.share",
            "doubt.sudret_2008",
        ),
    )


def work_fill(plan: Plan) -> Working | None:
    """Return the working of the fill range; None where nothing about a fill is told."""
    fill = plan.fill_ml
    if fill is None:
        return None
    lines = [say_sum(done) for done in fill.sums]
    if fill.useful_from is not None and fill.useful_to is not None:
        lines.append(
            "reach grows slowly beyond: in each plausible wound the fill at which the curve of soaked floor and roof "
            "lies farthest above the straight line from empty to full; 5–95 % of the wounds, not above the drape's = "
            f"{show_number(fill.useful_from)}–{show_number(fill.useful_to)} mL"
        )
    lines.append("share of the void: fill ÷ void at the likely measures")
    lines.append(f"may lift the drape from: low end of the void = {show_number(fill.lifts_drape_from)} mL")
    lines += [
        f"{seal.posture}: the least fill at which liquid stands above the lowest part of the seal, 5–95 % of the "
        f"plausible wounds in which it does = {show_number(seal.from_ml.low)}–{show_number(seal.from_ml.high)} mL"
        for seal in fill.above_seal
    ]
    return Working("the fill", tuple(lines), ("layout.knee", *_FOAM, *_DRAWN, "fluids.fills_below_void"))


def work_reach(plan: Plan, rows: Sequence[ReachAnswer], assumptions: Assumptions) -> Working | None:
    """Return the working of rows of the reach that are one fill; None where no map stands behind them."""
    picture = plan.picture
    if picture is None or not rows:
        return None
    behind = [next(k for k, one in enumerate(plan.reach) if one is row) for row in rows]
    models: tuple[Model, ...] = tuple(dict.fromkeys(row.model for row in rows))
    foam = foam_of(assumptions, Measures())
    lines = ["share = area reached ÷ area of that surface, both as they curve, at the likely values"]
    for k, row in zip(behind, rows, strict=True):
        lines += _areas(f"{row.posture}, {say_model(row.model)}", picture.maps[k], picture.cavities[row.model])
    lines += [_model_line(model) for model in models]
    judged = next((one for one in plan.validity if one.port == rows[0].port), None)
    if judged is not None and foam.porosity_share > 0.0:
        takes = judged.space_height_cm * foam.porosity_share
        lines.append(
            "beside it by hand, were all of it to stand from bed to skin at the mean height: "
            f"{show_number(rows[0].fill_ml)} mL ÷ ({show_number(judged.space_height_cm, 2)} cm × "
            f"{show_number(foam.porosity_share, 3)}, what the foam takes) = "
            f"{show_number(rows[0].fill_ml / takes)} cm² of floor"
        )
        lines += _settling_line(judged, assumptions)
    if any(row.floor_range for row in rows):
        lines.append("range: the same in wounds drawn from the measures' ranges, 5–95 % of them, in steps of 5 %")
    for row in rows:
        lines += _edge_lines(row, picture.cavities[row.model].void_ml)
    keys = [key for model in models for key in _REACH[model]]
    if judged is not None:
        keys += ["settling.validity", "foam.permeability", "fluids.water"]
    return Working("these shares", tuple(lines), tuple(dict.fromkeys([*keys, *_DRAWN, "cases.nobody_measured_reach"])))


def work_trial(found: ReachMap, cavity: Cavity) -> tuple[str, ...]:
    """Return the lines of the working of one trial of the workspace; its keys are ``trial_keys``."""
    return (*_areas(f"{found.posture}, {say_model(found.model)}", found, cavity), _model_line(found.model))


def trial_keys() -> tuple[str, ...]:
    """Return the source keys behind a trial, by either model."""
    return tuple(dict.fromkeys((*_REACH["settled"], *_REACH["spread"], *_DRAWN, "cases.nobody_measured_reach")))


def work_turning(turning: TurningAnswer) -> Working:
    """Return the working of what each posture adds and what none of them soaks."""
    lines = [
        "a patch counts as soaked when at least half of it is; each posture has a fresh fill",
        (
            f"the fewest postures: those that together soak {show_number(100 * SOAKED_SHARE, 0)} % of the area that "
            f"all soak, in {show_number(100 * WOUNDS_SHARE, 0)} % of plausible wounds"
        ),
    ]
    for posture in turning.adds:
        sides = [("floor", posture.floor), *([("roof", posture.roof)] if posture.roof else [])]
        adds = "; ".join(f"{side} {_percents(share)}" for side, share in sides)
        lines.append(f"{posture.posture}: area it soaks that those before it do not ÷ area of the surface = {adds}")
    left = [("floor", turning.floor_left), *([("roof", turning.roof_left)] if turning.roof_left else [])]
    lines += [f"{side} left: area that no posture soaks ÷ its area = {_percents(share)}" for side, share in left]
    return Working("turning", tuple(lines), ("layout.turning_share", "layout.set_cover", *_FOAM, *_DRAWN))


def work_suction(plan: Plan) -> Working | None:
    """Return the working of the suction side's shares; None where none is told."""
    if plan.suction is None:
        return None
    lines = [
        (
            "steady flow through foam that is everywhere alike: flow = conductivity × fall of pressure ÷ way; a share "
            "of flow needs no conductivity"
        ),
        (
            f"beside: up to {show_number(BESIDE_CM)} cm apart; a part of the bed is left out where less than a tenth "
            f"of the bed's mean flow passes; short circuit: {show_number(100 * LEFT_OUT_SHARE, 0)} % of the bed or "
            "more left out, or the ports beside each other"
        ),
        "times as slowly: time that a pocket's liquid takes to its port ÷ the mean of all liquid that is drawn",
    ]
    draws = plan.suction.ports
    if draws:
        each = " + ".join(f"{port.port} {show_number(100 * port.draws)} %" for port in draws)
        lines.append(f"of all liquid: {each} = {show_number(100 * sum(port.draws for port in draws))} %")
    keys = ("draw.closed_forms", "layout.beside", "foam.squeeze", "foam.permeability", "foam.capillary_height")
    return Working("the suction side", tuple(lines), keys)


def _size_lines(size: WoundAnswer, assumptions: Assumptions) -> Iterator[str]:
    yield from (say_sum(done) for done in size.sums)
    if size.length_x_width_cm2 is not None:
        yield f"length × width = {show_number(size.length_x_width_cm2)} cm²"
    if size.opening_cm2 is not None and size.pocket_cm2 and size.bed_cm2:
        opening, bed = show_number(size.opening_cm2), show_number(size.bed_cm2)
        yield f"opening and pocket: {opening} + {show_number(size.pocket_cm2)} = {bed} cm²"
        yield f"times the opening: {bed} ÷ {opening} = {show_number(size.bed_cm2 / size.opening_cm2)}"
    if isinstance(size.void_ml, Range):
        yield f"void: well + pockets + tunnels at the likely measures = {show_number(size.void_ml.likely)} mL"
        yield (
            "its range: the same in plausible wounds, each measure drawn between its ends; 5–95 % of them = "
            f"{show_number(size.void_ml.low)}–{show_number(size.void_ml.high)} mL"
        )
    elif size.void_ml is not None:
        yield (
            "void between its extremes: every unknown height at its least and at its most, undermining that was not "
            "measured hour by hour tapering and not = "
            f"{show_number(size.void_ml.low)}–{show_number(size.void_ml.high)} mL"
        )
    if isinstance(size.void_ml, Range) and size.capacity_ml is not None and size.capacity_ml.likely is not None:
        share = foam_of(assumptions, Measures()).porosity_share
        yield (
            f"takes at a fill: {show_number(size.void_ml.likely)} mL × {show_number(share, 3)}, porosity × share that "
            f"fills = {show_number(size.capacity_ml.likely)} mL; its range over plausible wounds and foams"
        )
    if size.driven_by:
        each = "; ".join(f"{driver.what} {show_number(100 * driver.share, 0)} %" for driver in size.driven_by[:3])
        yield f"driven by: variance of the void that one measure alone explains ÷ all of it: {each}"
        yield "known exactly, a measure leaves: 5–95 % of the void with that measure's own part taken out"


def _areas(title: str, found: ReachMap, cavity: Cavity) -> Iterator[str]:
    sides = [("floor", found.floor_share, cavity.floor_cm2)]
    if cavity.roof_cm2.sum() > 0.0:
        sides.append(("roof", found.roof_share, cavity.roof_cm2))
    passed = "passed" if found.model == "spread" else "soaked or moist"
    told: list[str] = []
    for side, share, area in sides:
        whole = float(area.sum())
        soaked, wetted = float(area @ share[:, 0]), float(area @ share.sum(axis=1))
        told += [f"{side} {word} {_share_of(cm2, whole)}" for word, cm2 in (("soaked", soaked), (passed, wetted))]
    yield f"{title}: {'; '.join(told)}"


def _share_of(part_cm2: float, whole_cm2: float) -> str:
    percent = show_number(100.0 * part_cm2 / whole_cm2)
    return f"{show_number(part_cm2)} ÷ {show_number(whole_cm2)} cm² = {percent} %"


def _model_line(model: Model) -> str:
    if model == "settled":
        return (
            "once settled: liquid runs to the lowest place it can, fills it to one level and spills on; the level is "
            "that at which what stands below it and what foam holds above it add up to the fill"
        )
    return (
        "as it spreads: between neighbouring places flow = conductivity × wetted height × width × fall of the liquid's "
        "level ÷ distance, step by step through fill and dwell"
    )


def _settling_line(judged: ValidityAnswer, assumptions: Assumptions) -> Iterator[str]:
    foam = foam_of(assumptions, Measures())
    if judged.settling_s is None or foam.conductivity_cm_per_s <= 0.0:
        return
    flow = foam.conductivity_cm_per_s * judged.space_height_cm
    way_cm = (judged.settling_s * flow / foam.porosity_share) ** 0.5
    yield (
        f"time to find its level: {show_number(foam.porosity_share, 3)} × ({show_number(way_cm)} cm, the farthest way "
        f"from a port)² ÷ ({show_number(foam.conductivity_cm_per_s, 2)} cm/s × "
        f"{show_number(judged.space_height_cm, 2)} cm) = {show_number(judged.settling_s)} s"
    )


def _edge_lines(row: ReachAnswer, void_ml: float) -> Iterator[str]:
    if row.seal is not None:
        over = show_number(row.seal.over_cm, 2)
        yield f"{row.posture}: level of the liquid − height of the opening's edge, where it is most = {over} cm"
    if row.gas is not None:
        share = show_number(100.0 * row.gas.void_share)
        yield (
            f"{row.posture}: gas cut off by liquid ÷ void = {show_number(row.gas.held_ml)} ÷ {show_number(void_ml)} mL "
            f"= {share} %"
        )


def _percents(share: Range) -> str:
    low, middle, high = (show_number(100.0 * part, 0) for part in (share.low, share.likely, share.high))
    return f"{middle} %, {low}–{high} % over plausible wounds"
