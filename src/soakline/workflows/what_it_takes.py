"""What the layout takes against what is at hand: units, joins, tubes, foam, kits, and what to order until when."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import datetime

from soakline.casefile.case import Case
from soakline.casefile.catalogue import catalogue_of
from soakline.errors import Finding
from soakline.layout.candidates import shown_ports
from soakline.layout.joins import (
    MOST_PORTS_COUNT,
    AtHand,
    Joins,
    joins_of,
)
from soakline.layout.placing import foam_size_cm
from soakline.layout.ports import Port
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
    SuppliesAnswer,
)
from soakline.workflows.layout_answers import LayoutAnswer, LayoutSupplies
from soakline.workflows.what_is_left import Tried, looker, possible_with, say_ports
from soakline.wound.clock import clock_of
from soakline.wound.sheet import Sheet
from soakline.wound.volume import pocket_arcs


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
    look = None if tried is None or sheet is None else looker(tried, sheet)
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
        possible=possible_with(wanted, joins, at_hand, sheet, look) if shortages(for_ports) else None,
        one_unit_fewer=possible_with(wanted, joins, fewer, sheet, look) if several else None,
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


def _needs(joins: Joins, store: Sequence[Stored]) -> list[Need]:
    needs = [need(store, UNIT, joins.unit_count, f"one for each instillation port: {joins.instillation_count}")]
    if joins.y_count or Y_CONNECTOR in at_hand_count(store):
        why = f"{say_ports(joins.suction_count, 'suction')}, {joins.unit_count} of them on a unit directly"
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
