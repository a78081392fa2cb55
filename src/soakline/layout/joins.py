"""Units and joins: what a layout takes, what can be placed with what is there, and what one unit fewer leaves dry.

One therapy unit feeds one instillation port and draws through one suction port; each further suction port on it takes a
Y connector. A port under kept skin takes a tube that can be placed deep.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

from soakline.layout.ports import Port
from soakline.layout.zones import pockets_of
from soakline.wound.clock import angle_deg
from soakline.wound.sheet import Sheet, reach_at

# Of more ports than this nobody places a layout; it bounds the alternatives too.
MOST_PORTS_COUNT = 12


@dataclass(frozen=True, slots=True)
class Joins:
    """What a layout takes: ports of each kind, therapy units, Y connectors, tubes that can be placed deep."""

    instillation_count: int
    suction_count: int
    unit_count: int
    y_count: int
    deep_count: int


@dataclass(frozen=True, slots=True)
class AtHand:
    """What is there of each; None is not known, and limits nothing."""

    unit_count: int | None = None
    y_count: int | None = None
    deep_count: int | None = None


@dataclass(frozen=True, slots=True)
class Possible:
    """How many ports of each kind can be placed with what is there, and how many of them under kept skin."""

    instillation_count: int
    suction_count: int
    deep_count: int


@dataclass(frozen=True, slots=True)
class Left:
    """One layout that is left: the ports kept, and the pockets (by index of ``pockets_of``) that none instils into."""

    ports: tuple[Port, ...]
    without_index: tuple[int, ...]


def joins_of(ports: Sequence[Port], sheet: Sheet | None) -> Joins:
    """Return what a layout takes; without ``sheet`` a port beyond the opening's edge counts as deep.

    >>> asked = [Port("I", "instillation", 3, 4, "A"), *(Port(f"S{k}", "suction", 4, 4, "A") for k in range(3))]
    >>> joins_of(asked, None)
    Joins(instillation_count=1, suction_count=3, unit_count=1, y_count=2, deep_count=4)
    """
    instillation = sum(port.kind == "instillation" for port in ports)
    suction = len(ports) - instillation
    units = max(instillation, 1 if suction else 0)
    return Joins(instillation, suction, units, max(suction - units, 0), sum(is_deep(port, sheet) for port in ports))


def is_deep(port: Port, sheet: Sheet | None) -> bool:
    """Say whether a port lies under kept skin, so that its tube has to be placed deep."""
    return port.from_edge_cm > 0.0 and (sheet is None or reach_at(sheet, angle_deg(port.clock)) > 0.0)


def pocket_of(port: Port, sheet: Sheet) -> int | None:
    """Return the index of the pocket (of ``pockets_of``) in which a port lies; None over the opening."""
    if not is_deep(port, sheet):
        return None
    for number, pocket in enumerate(pockets_of(sheet)):
        wide = (pocket.to_clock - pocket.from_clock) % 12.0 or 12.0
        if (port.clock - pocket.from_clock) % 12.0 <= wide + 0.25:
            return number
    return None


def what_can_be_placed(wanted: Joins, at_hand: AtHand) -> Possible:
    """Return how many of the wanted ports can be placed with what is there; without a unit none.

    Instillation ports get the tubes that can be placed deep first.

    >>> what_can_be_placed(Joins(2, 4, 2, 2, 6), AtHand(unit_count=1, y_count=1, deep_count=2))
    Possible(instillation_count=1, suction_count=2, deep_count=2)
    """
    units = wanted.unit_count if at_hand.unit_count is None else min(at_hand.unit_count, wanted.unit_count)
    instillation = min(wanted.instillation_count, units)
    joined = wanted.suction_count if at_hand.y_count is None else units + at_hand.y_count
    suction = min(wanted.suction_count, joined) if units else 0
    deep = wanted.deep_count if at_hand.deep_count is None else min(at_hand.deep_count, wanted.deep_count)
    return Possible(instillation, suction, min(deep, instillation + suction))


def layouts_left(ports: Sequence[Port], possible: Possible, sheet: Sheet) -> tuple[Left, ...]:
    """Return each choice of instillation ports that is possible, with the suction ports that go with it.

    Suction ports in the pocket of a kept instillation port go first, then those over the opening, then the others, each
    in their order. The choice that leaves the fewest pockets without a port comes first.
    """
    instillation = [port for port in ports if port.kind == "instillation"]
    suction = [port for port in ports if port.kind == "suction"]
    found = [
        _left(kept, suction, possible.suction_count, sheet)
        for kept in combinations(instillation, possible.instillation_count)
    ]
    return tuple(sorted(found, key=lambda left: len(left.without_index)))


def _left(kept: Sequence[Port], suction: Sequence[Port], count: int, sheet: Sheet) -> Left:
    served = {pocket_of(port, sheet) for port in kept}

    def rank(port: Port) -> int:
        pocket = pocket_of(port, sheet)
        return 1 if pocket is None else 0 if pocket in served else 2

    drawn = _spread_out(sorted(suction, key=rank), served, count, sheet)
    without = [k for k in range(len(pockets_of(sheet))) if k not in served]
    return Left((*kept, *drawn), tuple(without))


def _spread_out(ranked: Sequence[Port], served: set[int | None], count: int, sheet: Sheet) -> tuple[Port, ...]:
    """Return the first ports by rank, but one for each pocket that is served before a second in any."""
    firsts = [
        port
        for place, port in enumerate(ranked)
        if (pocket := pocket_of(port, sheet)) in served
        and pocket not in {pocket_of(before, sheet) for before in ranked[:place]}
    ]
    return tuple([*firsts, *(port for port in ranked if port not in firsts)][:count])
