"""From checked keys to the trade's own dataclasses."""

from __future__ import annotations

from soakline.casefile.case import Case
from soakline.casefile.kinds import RangeIn
from soakline.casefile.schema import (
    AnaestheticIn,
    CaseIn,
    ChangeIn,
    ExudateIn,
    GateIn,
    ModelIn,
    PatientIn,
    PocketIn,
    StoreIn,
    UnderminingIn,
    UnitIn,
    WoundIn,
)
from soakline.fluid.posture import parse_posture
from soakline.guard.anaesthetic import Dose, Patient
from soakline.guard.change import Change, Probe
from soakline.guard.foam import Counted, Piece
from soakline.guard.gate import AnsweredStop, GateAnswers
from soakline.guard.solutions import Dressing
from soakline.layout.ports import Port
from soakline.progress.trend import Earlier
from soakline.supplies.stock import Part, Stored
from soakline.therapy.cycle import Exudate, TherapyUnit
from soakline.therapy.logbook import LogEntry
from soakline.units import Range
from soakline.wound.measurements import (
    Assumptions,
    KeepClear,
    Opening,
    Outline,
    Pocket,
    Tunnel,
    Undermining,
    Wound,
)

NO_LABEL = "case without a label"


def build(file: CaseIn, content_hash: str) -> Case:
    """Return the case that a checked file says; a posture written twice stands once."""
    return Case(
        label=file.label or NO_LABEL,
        purpose=file.purpose,
        time_zone=file.time_zone,
        recorded_at=file.recorded_at,
        confirmed=frozenset(file.confirmed),
        wound=_wound(file.wound) if file.wound else None,
        port=tuple(Port(p.name, p.kind, p.clock, p.from_edge_cm, p.unit) for p in file.port),
        unit=tuple(_unit(unit) for unit in file.unit),
        exudate=_exudate(file.exudate),
        posture=tuple(dict.fromkeys(parse_posture(words) for words in file.posture.allowed)),
        turn_every_min=file.posture.turn_every_min,
        log=tuple(
            LogEntry(e.at, e.kind, e.unit, e.ml, e.colour, e.until, e.again, e.says, e.by_role) for e in file.log
        ),
        gate=_gate(file.gate),
        assumptions=_assumptions(file.model) if file.model else Assumptions(),
        store=tuple(_stored(kind) for kind in file.store),
        patient=_patient(file),
        anaesthetic=tuple(_dose(dose) for dose in file.anaesthetic),
        foam=tuple(Piece(**dict(piece)) for piece in file.foam),
        foam_count=Counted(**dict(file.foam_count)),
        dressing=Dressing(**dict(file.dressing)),
        change=tuple(_change(change) for change in file.change),
        measured=tuple(Earlier(one.at, one.method, one.area_cm2) for one in file.measured),
        content_hash=content_hash,
    )


def _wound(w: WoundIn) -> Wound:
    o = w.opening
    return Wound(
        face=w.face,
        part=w.part or "trunk",
        opening=Opening(
            _measured(o.length_cm), _measured(o.width_cm), _measured(o.depth_cm), o.bed, _points(o.outline_cm)
        ),
        girth_cm=w.girth_cm,
        midline_offset_cm=w.midline_offset_cm,
        limb_side=w.limb_side,
        undermining=tuple(_undermining(u) for u in w.undermining),
        none_found=tuple(w.probed.none_found),
        pocket=_pocket(w.pocket),
        tunnel=tuple(
            Tunnel(t.clock, _measured(t.length_cm), _measured(t.diameter_cm), t.down_deg, t.end_felt) for t in w.tunnel
        ),
        keep_clear=tuple(KeepClear(k.what, k.clock, k.from_edge_cm, k.radius_cm) for k in w.keep_clear),
    )


def _undermining(u: UnderminingIn) -> Undermining:
    return Undermining(
        u.from_clock, u.to_clock, u.clock, _measured(u.reach_cm), _measured(u.height_cm), u.ends, u.basis
    )


def _pocket(pocket: PocketIn | None) -> Pocket | None:
    return Pocket(_points(pocket.outline_cm) or (), _measured(pocket.height_cm)) if pocket else None


def _points(outline: list[list[float]] | None) -> Outline | None:
    return None if outline is None else tuple((x, y) for x, y in outline)


def _unit(unit: UnitIn) -> TherapyUnit:
    return TherapyUnit(
        name=unit.name,
        solution=unit.solution,
        fill_ml=unit.fill_ml,
        ordered_fill_ml=unit.ordered_fill_ml,
        fill_min=unit.fill_min,
        dwell_min=unit.dwell_min,
        suction_min=unit.suction_min,
        pressure_mmhg=unit.pressure_mmhg,
        canister_ml=unit.canister_ml,
        bag_ml=unit.bag_ml,
        priming_ml=unit.priming_ml,
        started_at=unit.started_at,
        started_again=unit.started_again,
        exudate=_exudate(unit.exudate) if unit.exudate else None,
    )


def _patient(file: CaseIn) -> Patient:
    return Patient(**dict(file.patient or PatientIn()), weight_confirmed="patient.weight_kg" in file.confirmed)


def _dose(dose: AnaestheticIn) -> Dose:
    mg_per_ml = None if dose.percent is None else 10.0 * dose.percent
    return Dose(dose.drug, mg_per_ml, dose.volume_ml, dose.epinephrine, dose.route, dose.at, dose.state, dose.wait_min)


def _change(change: ChangeIn) -> Change:
    probed = tuple(Probe(**dict(one)) for one in change.probe)
    return Change(**{key: value for key, value in change if key != "probe"}, probe=probed)


def _exudate(exudate: ExudateIn) -> Exudate:
    return Exudate(_measured(exudate.ml_per_h))


def _stored(kind: StoreIn) -> Stored:
    contents = tuple(Part(name, count) for name, count in kind.contents.items())
    return Stored(kind.kind, kind.count, contents, kind.price, kind.sheet_length_cm, kind.sheet_width_cm)


def _gate(gate: GateIn) -> GateAnswers:
    answered = tuple(AnsweredStop(a.stop, a.by_role, a.reason, a.at) for a in gate.answered)
    return GateAnswers(dict(gate.__pydantic_extra__ or {}), answered)


def _assumptions(model: ModelIn) -> Assumptions:
    usual = Assumptions()
    return Assumptions(
        curvature=model.curvature,
        closed=model.closed,
        foam_porosity=model.foam_porosity,
        foam_share=_or_usual(model.foam_share, usual.foam_share),
        capillary_height_cm=_or_usual(model.capillary_height_cm, usual.capillary_height_cm),
        permeability_m2=_or_usual(model.permeability_m2, usual.permeability_m2),
    )


def _or_usual(given: float | RangeIn | None, usual: float | Range) -> float | Range:
    value = _measured(given)
    return usual if value is None else value


def _measured(value: float | RangeIn | None) -> float | Range | None:
    return Range(value.low, value.likely, value.high) if isinstance(value, RangeIn) else value
