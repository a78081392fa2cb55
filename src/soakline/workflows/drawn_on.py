"""What a unit that draws while its neighbour soaks leaves of the neighbour's reach; exploratory, as all of suction."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy import uint8
from numpy.typing import NDArray

from soakline.fluid.draw import EXPLORATORY, draw, hold
from soakline.fluid.frames import DRY, MOIST, SOAKED, in_suction, states_of
from soakline.fluid.reach import say_share
from soakline.fluid.spread import lay_foam, spread
from soakline.fluid.suction_sheet import lay_suction
from soakline.layout.ensemble import Filling, Question, foam_of
from soakline.layout.ports import Port, column_of
from soakline.units import Extremes
from soakline.workflows.answers import DrawnOn
from soakline.wound.cavity import Cavity
from soakline.wound.plausible import Measures
from soakline.wound.sheet import Sheet


def drawn_on(
    names: tuple[str, str], ports: Sequence[Port], asked: Question, cavity: Cavity, sheet: Sheet
) -> DrawnOn | None:
    """Return what is left of the soak of the second unit when the first draws on it; None where either has no port.

    At the likely values, in the first posture looked at. At most everything stays: the first drew too briefly. At least
    it draws to the end, and only what it cannot reach stays soaked; what is moist then is the most that may stay.
    """
    draws, soaks = names
    fills = [filling for filling in asked.fillings if filling.soak and _is_of(filling, soaks)]
    suction = [port for port in ports if port.kind == "suction" and port.unit == draws]
    if not fills or not suction or fills[-1].soak is None:
        return None
    foam, up = foam_of(asked.assumptions, Measures()), asked.postures[0].up()
    laid = lay_foam(cavity, up, foam)
    poured = [(column_of(port, sheet, cavity), ml) for port, ml in fills[-1].poured_ml]
    run = spread(laid, poured, fills[-1].soak)
    columns = list(dict.fromkeys(column_of(port, sheet, cavity) for port in suction))
    held_ml = run.filling_share * laid.full_ml
    heads, gone = in_suction(run, draw(hold(lay_suction(cavity, columns), held_ml), columns), up)
    after = states_of(laid, heads[-1:])[0][0]
    soaked = _share(cavity, states_of(laid, run.head_cm[-1:])[0][0], SOAKED)
    left = _share(cavity, np.where(gone[-1], uint8(DRY), after), SOAKED)
    moist = _share(cavity, after, MOIST)
    return DrawnOn(
        draws=draws,
        soaks=soaks,
        posture=asked.postures[0].name,
        floor_soaked=Extremes(min(left, soaked), soaked),
        floor_moist_most=moist,
        says=(
            f"while unit {draws} draws, the soak of unit {soaks} keeps of its floor at least {say_share(left)} soaked, "
            f"at most {say_share(soaked)} (undisturbed); moist may stay at most {say_share(moist)}, "
            f"{asked.postures[0].name}; {EXPLORATORY}"
        ),
    )


def _is_of(filling: Filling, unit: str) -> bool:
    return all(port.unit == unit for port, _ in filling.poured_ml)


def _share(cavity: Cavity, state: NDArray[uint8], at_least: int) -> float:
    return float(cavity.floor_cm2[state >= at_least].sum() / cavity.floor_cm2.sum())
