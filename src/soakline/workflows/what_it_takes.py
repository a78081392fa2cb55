"""What the layout takes against what is at hand, and what is left with less: units, joins, pockets that stay dry."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np
from numpy import float64
from numpy.typing import NDArray

from soakline.casefile.case import Case
from soakline.casefile.catalogue import catalogue_of
from soakline.errors import Finding
from soakline.fluid.draw import EXPLORATORY
from soakline.fluid.posture import Posture
from soakline.fluid.reach import Model, ReachMap, say_share
from soakline.layout.candidates import shown_ports
from soakline.layout.ensemble import Filling, Question, foam_of, maps_of
from soakline.layout.joins import (
    MOST_PORTS_COUNT,
    AtHand,
    Joins,
    Left,
    Possible,
    is_deep,
    joins_of,
    layouts_left,
    what_can_be_placed,
)
from soakline.layout.placing import foam_size_cm
from soakline.layout.ports import Port
from soakline.layout.suction import SuctionSide, look_at_suction
from soakline.layout.zones import Pocket, pocket_of_column, pockets_of
from soakline.settings import Settings
from soakline.supplies.catalogue import not_in_store, offers_of
from soakline.supplies.cutting import Cut, cuts_of, lay_out
from soakline.supplies.order import order_by, order_for
from soakline.supplies.stock import (
    DEEP_TUBE,
    UNIT,
    Y_CONNECTOR,
    Need,
    Part,
    Short,
    Stored,
    at_hand_count,
    kits_with,
    need,
    need_in_stay,
    part_of,
    shortages,
)
from soakline.units import show_number
from soakline.workflows.answers import (
    CutAnswer,
    LeftAnswer,
    PocketAnswer,
    PossibleAnswer,
    SuctionAnswer,
    SuctionPortAnswer,
    SuppliesAnswer,
)
from soakline.workflows.layout_answers import LayoutAnswer, LayoutSupplies
from soakline.wound.body import frame_of
from soakline.wound.cavity import Cavity, build_cavity
from soakline.wound.clock import clock_of
from soakline.wound.measurements import Assumptions, Wound
from soakline.wound.plausible import Measures
from soakline.wound.sheet import Sheet
from soakline.wound.volume import pocket_arcs

_SPACING_CM = 0.75
# More alternatives than these are named by number alone.
_MOST_SHOWN = 4
# A pocket of which liquid reaches less than this share stays dry.
_DRY_SHARE = 0.9


@dataclass(frozen=True, slots=True, eq=False)
class Tried:
    """What it takes to try other layouts on the likely wound: its fillings, postures, and maps already worked out.

    ``maps`` and ``cavity`` are of ``model``.
    """

    wound: Wound
    assumptions: Assumptions
    looked_at: tuple[Filling, ...]
    postures: tuple[Posture, ...]
    model: Model
    cavity: Cavity
    maps: tuple[ReachMap, ...]


def wanted_ports(ports: Sequence[Port], sheet: Sheet | None) -> tuple[Port, ...]:
    """Return the ports of the file, or where it has none one of each kind deep in every pocket."""
    if ports or sheet is None:
        return tuple(ports)
    arcs = pocket_arcs(sheet)
    if not arcs:
        opening = shown_ports(sheet)[0]
        return (opening, Port("suction at the opening", "suction", opening.clock, opening.from_edge_cm))
    wanted: list[Port] = []
    for number, arc in enumerate(arcs, 1):
        middle = int(arc[len(arc) // 2])
        clock = round(clock_of(middle / 4.0) * 2.0) / 2.0 or 12.0
        deep = round(float(sheet.reach_cm[middle]) * 5.0 / 6.0, 1)
        wanted += [
            Port(f"instillation {number}", "instillation", clock, deep),
            Port(f"suction {number}", "suction", clock, round(deep / 5.0, 1)),
        ]
    return tuple(wanted)


def check_port_count(ports: Sequence[Port]) -> list[Finding]:
    """Return what stands against so many ports."""
    if len(ports) <= MOST_PORTS_COUNT:
        return []
    says = f"{len(ports)} ports given; at most {MOST_PORTS_COUNT} are compared: take out those that are not meant"
    return [Finding("refuse", "port", says)]


def supply(
    ports: Sequence[Port],
    store: Sequence[Stored],
    sheet: Sheet | None,
    tried: Tried | None,
) -> SuppliesAnswer | None:
    """Return what the layout takes against the store, with what is left; None where nothing is wanted."""
    wanted = wanted_ports(ports, sheet)
    if not wanted:
        return None
    joins = joins_of(wanted, sheet)
    for_ports = tuple(_needs(joins, store))
    cuts = _cuts(store, cuts_of(sheet) if sheet is not None else ())
    needs = (*for_ports, *_sheets(store, cuts))
    short = shortages(needs)
    look = None if tried is None or sheet is None else _looker(tried, sheet)
    there = at_hand_count(store)
    at_hand = AtHand(there.get(UNIT), there.get(Y_CONNECTOR), there.get(DEEP_TUBE))
    fewer = AtHand(joins.unit_count - 1, joins.y_count if at_hand.y_count is None else at_hand.y_count, None)
    several = joins.instillation_count > 1
    says = list(_say_needs(needs, store))
    says += [f"foam from {cut.kind}: {cut.cuts.says}" for cut in cuts]
    if not ports:
        says.insert(0, _say_taken(wanted))
    return SuppliesAnswer(
        need=needs,
        short=short,
        stay=None,
        buy=(),
        order=None,
        kits=tuple(f"{kit.kind}: {kit.count} at hand" for kit in kits_with(store, DEEP_TUBE)),
        possible=_possible(wanted, joins, at_hand, sheet, look) if shortages(for_ports) else None,
        one_unit_fewer=_possible(wanted, joins, fewer, sheet, look) if several else None,
        cuts=cuts,
        says=tuple(says),
    )


def supply_layout(layout: LayoutAnswer, store: Sequence[Stored], sheet: Sheet) -> LayoutSupplies:
    """Return what a found layout takes against the store: units, Y connectors, tubes, and foam where a size is known.

    Foam is one layer of the wound, and a piece under and one over each port under kept skin.
    """
    ports = [Port(one.name, one.kind, one.clock, one.from_edge_cm, one.unit) for one in layout.ports]
    pieces = [
        Cut(f"{side} {port.name}", *sorted(foam_size_cm(port, sheet, found.foam_outline), reverse=True))
        for port, found in zip(ports, layout.ports, strict=True)
        if found.foam_outline
        for side in ("under", "over")
    ]
    cuts = _cuts(store, [*cuts_of(sheet), *pieces])
    why = "by the cut list: one layer of the wound, a piece under and one over each port under kept skin"
    foam = tuple(_sheets(store, cuts, why))
    needs = (*_needs(joins_of(ports, sheet), store), *foam)
    short = shortages(needs)
    parts = [needed.part for needed in needs if needed.count]
    kits = tuple(
        f"{kind.kind}: {kind.count} at hand, each with {', '.join(held)}"
        for kind in store
        if kind.count and (held := _held(kind, parts))
    )
    return LayoutSupplies(needs, short, kits, "; ".join(_say_layout_takes(needs, short, store, cuts, foam)))


def _held(kind: Stored, parts: Sequence[str]) -> list[str]:
    """Return which of the parts a kit holds, with how many of each."""
    return [
        f"{part.count} × {part_of(part.name)}" for part in kind.contents if part.count and part_of(part.name) in parts
    ]


def _say_layout_takes(
    needs: Sequence[Need],
    short: Sequence[Short],
    store: Sequence[Stored],
    cuts: Sequence[CutAnswer],
    foam: Sequence[Need],
) -> Iterator[str]:
    if not store:
        yield "no store in the file, so what is at hand is not known"
        return
    yield from (one.says for one in short)
    unlisted = [needed.part for needed in needs if needed.count and needed.at_hand_count is None]
    if unlisted:
        yield f"not listed in the store, so not known: {', '.join(unlisted)}"
    if not short and not unlisted:
        yield "the store holds every part that is counted"
    for cut in cuts:
        yield f"foam from {cut.kind}: {cut.cuts.says}"
    if not foam:
        yield "foam sheets not counted: " + (
            "see the cut list" if cuts else "no sheet size in the store (sheet_length_cm, sheet_width_cm)"
        )


def with_order(supplies: SuppliesAnswer, case: Case, settings: Settings) -> SuppliesAnswer:
    """Return the same with what the stay's dressings take, what to order for them, and until when."""
    dressing_count, spare_count = case.dressing.to_come_count, settings.spare_count
    in_stay = None if dressing_count is None else need_in_stay(supplies.need, dressing_count, spare_count)
    missing = supplies.short if in_stay is None else shortages(in_stay)
    offers = offers_of([*case.store, *not_in_store(case.store, catalogue_of(settings.catalogue))])
    order = order_for([Part(one.part, one.count) for one in missing], offers) if missing and offers else None
    says = [*supplies.says, *(_say_stay(in_stay, dressing_count, spare_count) if case.store else ())]
    if missing:
        says.append(f"order: {order.says if order else 'no kind on offer has a price, so none is worked out'}")
    return replace(
        supplies,
        stay=in_stay,
        buy=order.buy if order else (),
        order=order,
        says=tuple(says),
        order_by=order_until(case.dressing.next_change_at, settings.delivery_h),
    )


def _say_stay(in_stay: Sequence[Need] | None, dressing_count: int | None, spare_count: int) -> list[str]:
    if in_stay is None:
        return ["for the stay: not counted, nobody said how many dressings are to come (dressing.to_come_count)"]
    taken = [needed for needed in in_stay if needed.part != UNIT and needed.count]
    if not taken:
        return []
    spares = f"{spare_count} spare of each" if spare_count else "no spares (SOAKLINE_SPARE_COUNT)"
    told = ", ".join(f"{needed.count} × {needed.part}, {_say_there(needed)}" for needed in taken)
    return [f"for {dressing_count} dressings to come with {spares}: {told}"]


def _say_there(needed: Need) -> str:
    return "not listed in the store" if needed.at_hand_count is None else f"{needed.at_hand_count} at hand"


def _cuts(store: Sequence[Stored], cuts: Sequence[Cut]) -> tuple[CutAnswer, ...]:
    """Return how cuts of foam lie on the sheets of each kind whose size is written; none where nothing is cut."""
    return tuple(
        CutAnswer(kind.kind, lay_out(cuts, kind.sheet_length_cm, kind.sheet_width_cm))
        for kind in store
        if cuts and kind.sheet_length_cm and kind.sheet_width_cm
    )


def _sheets(
    store: Sequence[Stored],
    cuts: Sequence[CutAnswer],
    why: str = "by the cut list, one layer; more layers take more",
) -> Iterator[Need]:
    """Give how many foam sheets the cuts take, where one size is written and every cut fits on it."""
    if len(cuts) != 1 or cuts[0].cuts.too_large:
        return
    kind = next(kind for kind in store if kind.kind == cuts[0].kind)
    held = [part_of(part.name) for part in kind.contents] or [part_of(kind.kind)]
    for name in held:
        if "sheet" in name:
            yield need(store, name, cuts[0].cuts.sheet_count, why)


def order_until(next_change_at: datetime | None, delivery_h: float | None) -> datetime | None:
    """Return until when to order for the next change, not counting Saturday and Sunday; None where one is unknown."""
    return None if next_change_at is None or delivery_h is None else order_by(next_change_at, delivery_h)


def check_order_by(next_change_at: datetime | None, delivery_h: float | None) -> list[Finding]:
    """Return until when to order for the next change, in words; nothing where one is unknown.

    >>> check_order_by(datetime(2026, 11, 23, 9), 24.0)[0].says
    'for the change of Mon 23 Nov 09:00 order by Fri 20 Nov 09:00: 24 h of delivery, none on Saturday and Sunday'
    """
    last = order_until(next_change_at, delivery_h)
    if last is None or next_change_at is None or delivery_h is None:
        return []
    until, change = (f"{at:%a %d %b %H:%M}" for at in (last, next_change_at))
    how = f"{show_number(delivery_h)} h of delivery, none on Saturday and Sunday"
    return [Finding("note", "store", f"for the change of {change} order by {until}: {how}")]


def suction_side(ports: Sequence[Port], sheet: Sheet, wound: Wound, assumptions: Assumptions) -> SuctionAnswer | None:
    """Return what the suction ports of the file do, in words; None without any."""
    cavity = build_cavity(sheet, frame_of(wound, assumptions), _SPACING_CM, closed=assumptions.closed)
    found = look_at_suction(ports, sheet, cavity)
    if found is None:
        return None
    pockets = pockets_of(sheet)
    return SuctionAnswer(
        ports=tuple(SuctionPortAnswer(name, share) for name, share in found.drawn_share),
        short_circuits=tuple(_say_circuits(found)),
        pockets=tuple(_say_drawn(found, pockets)),
        if_blocked=tuple(_say_blocked(found, pockets)),
        says=EXPLORATORY,
    )


def _needs(joins: Joins, store: Sequence[Stored]) -> list[Need]:
    needs = [need(store, UNIT, joins.unit_count, f"one for each instillation port: {joins.instillation_count}")]
    if joins.y_count or Y_CONNECTOR in at_hand_count(store):
        why = f"{_ports(joins.suction_count, 'suction')}, {joins.unit_count} of them on a unit directly"
        needs.append(need(store, Y_CONNECTOR, joins.y_count, why))
    if joins.deep_count:
        needs.append(need(store, DEEP_TUBE, joins.deep_count, "one for each port under kept skin"))
    return needs


def _say_needs(needs: Sequence[Need], store: Sequence[Stored]) -> list[str]:
    unlisted = [needed for needed in needs if needed.at_hand_count is None and needed.count]
    if not store:
        return ["nothing at hand is listed: write [[store]], what there is of each kind"]
    return [
        f"{needed.part}: {needed.count} needed, not listed in the store: count them; until then not known"
        for needed in unlisted
    ]


def _say_taken(wanted: Sequence[Port]) -> str:
    count = sum(port.kind == "instillation" for port in wanted)
    if count == 1:
        return "no port in the file: counted as one instillation port and one suction port"
    return f"no port in the file: counted as one instillation port and one suction port in each of {count} pockets"


_Look = Callable[[Left], tuple[NDArray[float64], NDArray[float64]]]


def _looker(tried: Tried, sheet: Sheet) -> _Look:
    """Return what tells, for a layout, the share of each pocket's floor and roof (k, 2) that stays dry, by all ports.

    The share is of real area, dry in every allowed posture; NaN where there is no such surface. Second comes the same
    with every port of the file, for comparison.
    """
    pocket = pocket_of_column(sheet, tried.cavity)
    every = {port.name: (port, ml, f) for f in tried.looked_at if len(f.poured_ml) == 1 for port, ml in f.poured_ml}
    count = len(pockets_of(sheet))
    known: dict[tuple[str, ...], NDArray[float64]] = {}

    def dry(names: tuple[str, ...]) -> NDArray[float64]:
        if names not in known:
            given = [every[name] for name in names if name in every]
            known[names] = _dry_of(given, tried, sheet, pocket, count)
        return known[names]

    def look(left: Left) -> tuple[NDArray[float64], NDArray[float64]]:
        kept = tuple(port.name for port in left.ports if port.kind == "instillation")
        return dry(kept), dry(tuple(every))

    return look


def _dry_of(
    given: Sequence[tuple[Port, float, Filling]], tried: Tried, sheet: Sheet, pocket: NDArray[np.int32], count: int
) -> NDArray[float64]:
    found = np.full((count, 2), np.nan)
    if not given:
        return np.ones_like(found)
    cavity, maps = tried.cavity, _maps_of(given, tried, sheet)
    for side, area in enumerate((cavity.floor_cm2, cavity.roof_cm2)):
        wet = np.max([_reached(found_map, side) for found_map in maps], axis=0)
        for number in range(count):
            here = pocket == number
            if area[here].sum() > 0.0:
                found[number, side] = 1.0 - float(area[here] @ wet[here]) / float(area[here].sum())
    return found


def _maps_of(given: Sequence[tuple[Port, float, Filling]], tried: Tried, sheet: Sheet) -> Sequence[ReachMap]:
    """Return what these fillings together do in each posture: as worked out before, or now."""
    name = " + ".join(port.name for port, _, _ in given)
    before = [found for found in tried.maps if found.port == name and found.model == tried.model]
    if before:
        return before
    together = Filling(name, tuple((port, ml) for port, ml, _ in given), given[0][2].soak)
    cavity = tried.cavity
    asked = Question(tried.wound, tried.assumptions, (together,), tried.postures, tried.model, cavity.spacing_cm)
    return maps_of(asked, cavity, sheet, foam_of(tried.assumptions, Measures()))


def _reached(found: ReachMap, side: int) -> NDArray[float64]:
    return np.minimum((found.roof_share if side else found.floor_share).sum(axis=1), 1.0)


def _possible(
    wanted: Sequence[Port], joins: Joins, at_hand: AtHand, sheet: Sheet | None, look: _Look | None
) -> PossibleAnswer:
    possible = what_can_be_placed(joins, at_hand)
    units = joins.unit_count if at_hand.unit_count is None else min(at_hand.unit_count, joins.unit_count)
    says = [_say_possible(possible, joins)]
    left: tuple[Left, ...] = ()
    if possible.instillation_count and sheet is not None:
        left = layouts_left(wanted, possible, sheet)
    if len(left) > 1:
        says.append(
            "an option: alternate sides at successive changes of the dressing, so that each pocket is reached in turn"
        )
    if len(left) > _MOST_SHOWN:
        says.append(f"{len(left)} choices are left; the first {_MOST_SHOWN} are shown")
    shown = tuple(_answer_left(one, possible, sheet, look) for one in left[:_MOST_SHOWN] if sheet is not None)
    return PossibleAnswer(units, possible.instillation_count, possible.suction_count, shown, tuple(says))


def _say_possible(possible: Possible, joins: Joins) -> str:
    if not possible.instillation_count:
        if possible.suction_count:
            return f"no instillation port: {_ports(possible.suction_count, 'suction')} alone"
        return "no therapy unit: no port can be placed; what is possible is a dressing without instillation, by policy"
    said = f"{_ports(possible.instillation_count, 'instillation')}"
    said += f", {_ports(possible.suction_count, 'suction')}"
    placed = possible.instillation_count + possible.suction_count
    if possible.deep_count < min(joins.deep_count, placed):
        said += f"; {possible.deep_count} of them under kept skin, the others over the opening"
    return said


def _answer_left(left: Left, possible: Possible, sheet: Sheet, look: _Look | None) -> LeftAnswer:
    pockets = pockets_of(sheet)
    dry, dry_of_all = look(left) if look is not None else (None, None)
    answers = tuple(
        _answer_pocket(k, pocket, left, None if dry is None else dry[k], None if dry_of_all is None else dry_of_all[k])
        for k, pocket in enumerate(pockets)
    )
    names = ", ".join(port.name for port in left.ports)
    told = [answer.says for answer in answers if not answer.has_port] or [answer.says for answer in answers]
    deep = [port.name for port in left.ports if is_deep(port, sheet)]
    if len(deep) > possible.deep_count:
        told.append(f"for want of tubes only over the opening: {', '.join(deep[possible.deep_count :])}")
    return LeftAnswer(tuple(port.name for port in left.ports), answers, f"{names}: {'; '.join(told)}")


def _answer_pocket(
    number: int, pocket: Pocket, left: Left, dry: NDArray[float64] | None, dry_of_all: NDArray[float64] | None
) -> PocketAnswer:
    has_port = number not in left.without_index
    if dry is None or dry_of_all is None:
        alone = "has no instillation port and stays dry but for what crosses the opening"
        says = f"{pocket.says} {'has its own port' if has_port else alone}"
        return PocketAnswer(pocket.says, has_port, None, None, says)
    floor, roof = (None if np.isnan(share) else float(share) for share in dry)
    return PocketAnswer(pocket.says, has_port, floor, roof, _say_dry(pocket, dry, dry_of_all, has_port=has_port))


def _say_dry(pocket: Pocket, dry: NDArray[float64], dry_of_all: NDArray[float64], *, has_port: bool) -> str:
    known = ~np.isnan(dry)
    subject = pocket.says
    if known.any() and (dry[known] >= _DRY_SHARE).all():
        return f"{subject}{'' if has_port else ' has no instillation port and'} stays dry"
    parts = [
        f"{say_share(float(dry[side]))} of its {name} stays dry"
        + (f" ({say_share(float(dry_of_all[side]))} with all ports)" if _differs(dry[side], dry_of_all[side]) else "")
        for side, name in ((0, "floor"), (1, "roof"))
        if known[side]
    ]
    crosses = "" if has_port else " has no instillation port, it is reached across the opening alone"
    return f"{subject}{crosses}: {', '.join(parts)}"


def _differs(one: float, other: float) -> bool:
    return say_share(float(one)) != say_share(float(other))


def _say_circuits(found: SuctionSide) -> list[str]:
    said: list[str] = []
    for circuit in found.circuits:
        apart = f"{show_number(circuit.apart_cm, 0)} cm away"
        if circuit.is_short:
            said.append(
                f"short circuit: {circuit.suction} lies {apart} from {circuit.instillation} and takes "
                f"{say_share(circuit.takes_share)} of what flows from it; {say_share(circuit.left_out_share)} of the "
                "bed is left out by a steady flow"
            )
        else:
            said.append(
                f"no short circuit found from {circuit.instillation}: {circuit.suction}, {apart}, takes "
                f"{say_share(circuit.takes_share)} of the flow; a steady flow leaves out "
                f"{say_share(circuit.left_out_share)} of the bed"
            )
    return said


def _say_drawn(found: SuctionSide, pockets: Sequence[Pocket]) -> list[str]:
    said: list[str] = []
    for drawn in found.pockets:
        pocket = pockets[drawn.pocket_index].says
        if drawn.undrawn_share > 0.5:
            said.append(f"{pocket}: no way leads from it to a suction port; it is left undrawn")
        elif not drawn.own_ports:
            by = " and ".join(drawn.drawn_by)
            said.append(
                f"{pocket} has no suction port of its own: it is drawn across the opening by {by}, "
                f"{show_number(drawn.slowness_ratio)} times as slowly as the mean; where the foam is parted or "
                "squeezed shut at its mouth it stays undrawn"
            )
        else:
            said.append(f"{pocket}: drawn by {' and '.join(drawn.drawn_by)}")
    return said


def _say_blocked(found: SuctionSide, pockets: Sequence[Pocket]) -> list[str]:
    said: list[str] = []
    for blocked in found.blocked:
        what = (
            f"{blocked.port} blocked"
            if blocked.port is not None
            else f"the mouth of {pockets[blocked.pocket_index or 0].says} squeezed shut"
        )
        if blocked.undrawn_share > 0.02:
            lost = " and ".join(pockets[k].says for k in blocked.undrawn_index)
            all_of_it = blocked.undrawn_share > 0.98
            where = f", {lost}" if lost and not all_of_it else ""
            said.append(f"{what}: {say_share(blocked.undrawn_share)} of the liquid stays undrawn{where}")
        elif blocked.port is not None:
            said.append(
                f"{what}: the other ports draw what it drew, {say_share(blocked.rerouted_share)} of the liquid; "
                "nothing stays undrawn while the foam lets liquid pass"
            )
    return said


def _ports(count: int, kind: str) -> str:
    return f"{count} {kind} {'port' if count == 1 else 'ports'}"
