"""Whether units share a cavity: whether the pockets join in which their ports lie."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

from soakline.layout.ports import Port, column_of
from soakline.layout.zones import pocket_of_column
from soakline.wound.cavity import Cavity
from soakline.wound.sheet import Sheet

_OPENING = -1


@dataclass(frozen=True, slots=True)
class Shared:
    """Whether two units (by name) share a cavity; None where a unit has no port in the file. ``says`` is why."""

    names: tuple[str, str]
    shared: bool | None
    says: str


def shared_cavities(units: Sequence[str], ports: Sequence[Port], sheet: Sheet, cavity: Cavity) -> tuple[Shared, ...]:
    """Return for each two units whether they share a cavity.

    They do where a port of one lies in a pocket that joins, under the skin, one in which a port of the other lies, or
    over the opening, into which every pocket opens.
    """
    pocket = pocket_of_column(sheet, cavity)
    lies_in: dict[str, dict[str, int]] = {name: {} for name in units}
    for port in ports:
        if port.unit in lies_in:
            lies_in[port.unit][port.name] = int(pocket[column_of(port, sheet, cavity)])
    return tuple(_compare(pair, lies_in) for pair in combinations(units, 2))


def _compare(pair: tuple[str, str], lies_in: Mapping[str, Mapping[str, int]]) -> Shared:
    one, other = (lies_in[name] for name in pair)
    if not one or not other:
        lacking = " and ".join(name for name in pair if not lies_in[name])
        return Shared(pair, None, f"not told: unit {lacking} has no port in the file")
    over = [name for name, place in {**one, **other}.items() if place == _OPENING]
    if over:
        return Shared(pair, shared=True, says=f"{', '.join(over)} over the opening, into which every pocket opens")
    if set(one.values()) & set(other.values()):
        return Shared(pair, shared=True, says="their ports lie in one pocket, or in pockets that join under the skin")
    return Shared(pair, shared=False, says="the pockets of their ports do not join under the skin")
