"""The suction side of the ports in the file, in words: what each draws, short circuits, pockets, blockages."""

from __future__ import annotations

from collections.abc import Sequence

from soakline.fluid.draw import EXPLORATORY
from soakline.fluid.reach import say_share
from soakline.layout.ports import Port
from soakline.layout.suction import SuctionSide, look_at_suction
from soakline.layout.zones import Pocket, pockets_of
from soakline.units import show_number
from soakline.workflows.answers import (
    SuctionAnswer,
    SuctionPortAnswer,
)
from soakline.wound.body import frame_of
from soakline.wound.cavity import build_cavity
from soakline.wound.measurements import Assumptions, Wound
from soakline.wound.sheet import Sheet

_SPACING_CM = 0.75


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
