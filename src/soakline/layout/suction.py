"""The suction side of a layout: which port draws which pocket, short circuits, and what a blockage would leave.

Exploratory, as all of ``fluid.draw``: foam that is everywhere as squeezed and as permeable, evenly full of liquid. What
stands here are shares, which need neither number.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy import bool_, float64, int32
from numpy.typing import NDArray

from soakline.fluid.draw import Drawn, draw, hold, what_is_blocked
from soakline.fluid.passed_over import passed_over
from soakline.fluid.suction_sheet import SuctionSheet, lay_suction
from soakline.layout.ports import Port, column_of
from soakline.layout.zones import pocket_of_column, pockets_of
from soakline.wound.cavity import Cavity
from soakline.wound.sheet import Sheet

# Our own choice (source key ``layout.beside``): nearer than this two ports lie beside each other, and flow that leaves
# out at least half of the bed goes round in a short circuit.
BESIDE_CM, LEFT_OUT_SHARE = 3.0, 0.5
# Less than this share of a pocket's liquid is none.
_NONE_SHARE = 0.02


@dataclass(frozen=True, slots=True)
class ShortCircuit:
    """The steady flow from an instillation port: the suction port that takes most of it, and what it leaves out.

    ``apart_cm`` lies between the two, ``takes_share`` of the flow goes there; ``left_out_share`` of the bed sees less
    than a tenth of the bed's mean flow.
    """

    instillation: str
    suction: str
    apart_cm: float
    takes_share: float
    left_out_share: float

    @property
    def is_short(self) -> bool:
        """Say whether the two lie beside each other, or half of the bed and more is left out."""
        return self.apart_cm <= BESIDE_CM or self.left_out_share >= LEFT_OUT_SHARE


@dataclass(frozen=True, slots=True)
class PocketDrawn:
    """How one pocket (by index of ``pockets_of``) is drawn: by which ports, the share of its liquid that none draws.

    ``own_ports`` lie in it. ``slowness_ratio`` is how long its liquid takes to a port over the mean of all that is
    drawn; infinite where nothing moves.
    """

    pocket_index: int
    own_ports: tuple[str, ...]
    drawn_by: tuple[str, ...]
    undrawn_share: float
    slowness_ratio: float


@dataclass(frozen=True, slots=True)
class IfBlocked:
    """What stops when one suction port (or, ``port`` None, the mouth of a pocket) is blocked.

    ``undrawn_share`` of all liquid is drawn by nothing any more, ``rerouted_share`` by another port than before;
    ``undrawn_index`` (by index) lose their way to any port.
    """

    port: str | None
    pocket_index: int | None
    undrawn_share: float
    rerouted_share: float
    undrawn_index: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class SuctionSide:
    """All that is said of the suction side: shares of all liquid by port, short circuits, pockets, blockages."""

    drawn_share: tuple[tuple[str, float], ...]
    circuits: tuple[ShortCircuit, ...]
    pockets: tuple[PocketDrawn, ...]
    blocked: tuple[IfBlocked, ...]


def look_at_suction(ports: Sequence[Port], sheet: Sheet, cavity: Cavity) -> SuctionSide | None:
    """Return what the suction ports of a layout do to liquid that fills the foam evenly; None without suction port."""
    suction = [port for port in ports if port.kind == "suction"]
    if not suction:
        return None
    column = {port: column_of(port, sheet, cavity) for port in ports}
    chosen = [column[port] for port in suction]
    every = list(column.values())
    laid = lay_suction(cavity, every)
    drawn = draw(hold(laid, cavity.volume_ml), chosen)
    pocket = pocket_of_column(sheet, cavity)
    names = [port.name for port in suction]
    circuits = [_circuit(port, suction, column, sheet, laid) for port in ports if port.kind == "instillation"]
    return SuctionSide(
        tuple(zip(names, map(float, drawn.port_share), strict=True)),
        tuple(circuits),
        tuple(_pocket(k, pocket, suction, column, drawn) for k in range(len(pockets_of(sheet)))),
        (
            *(_port_blocked(number, suction, chosen, drawn, pocket) for number in range(len(suction))),
            *(_mouth_blocked(k, pocket, every, chosen, drawn) for k in range(len(pockets_of(sheet)))),
        ),
    )


def _circuit(
    port: Port, suction: Sequence[Port], column: dict[Port, int], sheet: Sheet, laid: SuctionSheet
) -> ShortCircuit:
    passed = passed_over(laid, column[port], [column[one] for one in suction])
    apart = [_apart_cm(port, one, sheet) for one in suction]
    nearest, most = int(np.argmin(apart)), int(passed.port_share.argmax())
    # A port beside the instillation port is named even where another takes more.
    shown = nearest if apart[nearest] <= BESIDE_CM else most
    return ShortCircuit(
        port.name, suction[shown].name, apart[shown], float(passed.port_share[shown]), passed.passed_over_share
    )


def _apart_cm(one: Port, other: Port, sheet: Sheet) -> float:
    return math.dist(sheet.point_at(one.clock, one.from_edge_cm), sheet.point_at(other.clock, other.from_edge_cm))


def _pocket(
    number: int, pocket: NDArray[int32], suction: Sequence[Port], column: dict[Port, int], drawn: Drawn
) -> PocketDrawn:
    here = pocket == number
    volume = drawn.held_ml[here]
    shares = volume @ drawn.column_share[here] / volume.sum()
    moves = here & ~drawn.undrawn & np.isfinite(drawn.travel_ratio)
    slow = float(np.average(drawn.travel_ratio[moves], weights=drawn.held_ml[moves])) if moves.any() else math.inf
    return PocketDrawn(
        number,
        tuple(port.name for port in suction if pocket[column[port]] == number),
        tuple(port.name for port, share in zip(suction, shares, strict=True) if share > _NONE_SHARE),
        float(volume[drawn.undrawn[here]].sum() / volume.sum()),
        slow,
    )


def _port_blocked(
    number: int, suction: Sequence[Port], chosen: Sequence[int], drawn: Drawn, pocket: NDArray[int32]
) -> IfBlocked:
    left = [column for k, column in enumerate(chosen) if k != number]
    name = suction[number].name
    if not left:
        return IfBlocked(name, None, 1.0, 0.0, tuple(range(int(pocket.max()) + 1)))
    after = draw(hold(drawn.sheet, drawn.held_ml), left)
    return _changed(name, None, drawn, after, pocket, np.zeros(len(pocket), dtype=np.bool_))


def _mouth_blocked(
    number: int, pocket: NDArray[int32], every: Sequence[int], chosen: Sequence[int], drawn: Drawn
) -> IfBlocked:
    """Return what stops when nothing passes the ring of columns by which a pocket joins the opening."""
    cavity = drawn.sheet.cavity
    crosses = (pocket[cavity.link] == number).sum(axis=1) == 1
    mouth = np.zeros(len(pocket), dtype=np.bool_)
    mouth[cavity.link[crosses].ravel()] = True
    mouth &= pocket == number
    after = draw(hold(lay_suction(cavity, every, blocked=mouth), drawn.held_ml), chosen)
    return _changed(None, number, drawn, after, pocket, mouth)


def _changed(
    port: str | None,
    number: int | None,
    before: Drawn,
    after: Drawn,
    pocket: NDArray[int32],
    plug: NDArray[bool_],
) -> IfBlocked:
    """Compare two answers; what stands in the ``plug`` (n,) itself does not count as lost."""
    change, total = what_is_blocked(before, after), float(before.held_ml.sum())
    lost: NDArray[float64] = np.where(change.undrawn & ~plug, before.held_ml, 0.0)
    pockets = [k for k in range(int(pocket.max()) + 1) if _mostly(lost, before.held_ml, (pocket == k) & ~plug)]
    return IfBlocked(port, number, float(lost.sum()) / total, change.rerouted_ml / total, tuple(pockets))


def _mostly(lost: NDArray[float64], held: NDArray[float64], here: NDArray[bool_]) -> bool:
    return bool(here.any()) and float(lost[here].sum()) > 0.5 * float(held[here].sum())
