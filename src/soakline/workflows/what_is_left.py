"""What can be placed with less at hand, and which pockets then stay dry."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy import float64
from numpy.typing import NDArray

from soakline.fluid.posture import Posture
from soakline.fluid.reach import Model, ReachMap, say_share
from soakline.layout.ensemble import Filling, Question, foam_of, maps_of
from soakline.layout.joins import (
    AtHand,
    Joins,
    Left,
    Possible,
    is_deep,
    layouts_left,
    what_can_be_placed,
)
from soakline.layout.ports import Port
from soakline.layout.zones import Pocket, pocket_of_column, pockets_of
from soakline.workflows.answers import (
    LeftAnswer,
    PocketAnswer,
    PossibleAnswer,
)
from soakline.wound.cavity import Cavity
from soakline.wound.measurements import Assumptions, Wound
from soakline.wound.plausible import Measures
from soakline.wound.sheet import Sheet

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


Look = Callable[[Left], tuple[NDArray[float64], NDArray[float64]]]


def looker(tried: Tried, sheet: Sheet) -> Look:
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


def possible_with(
    wanted: Sequence[Port], joins: Joins, at_hand: AtHand, sheet: Sheet | None, look: Look | None
) -> PossibleAnswer:
    """Return which ports can be placed with so much at hand, and what each choice leaves dry as ``look`` tells."""
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
            return f"no instillation port: {say_ports(possible.suction_count, 'suction')} alone"
        return "no therapy unit: no port can be placed; what is possible is a dressing without instillation, by policy"
    said = f"{say_ports(possible.instillation_count, 'instillation')}"
    said += f", {say_ports(possible.suction_count, 'suction')}"
    placed = possible.instillation_count + possible.suction_count
    if possible.deep_count < min(joins.deep_count, placed):
        said += f"; {possible.deep_count} of them under kept skin, the others over the opening"
    return said


def _answer_left(left: Left, possible: Possible, sheet: Sheet, look: Look | None) -> LeftAnswer:
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


def say_ports(count: int, kind: str) -> str:
    """Write a number of ports of one kind.

    >>> say_ports(1, "suction"), say_ports(2, "suction")
    ('1 suction port', '2 suction ports')
    """
    return f"{count} {kind} {'port' if count == 1 else 'ports'}"
