"""Which model may be believed for a wound and its foam: time to level against the soak, wicking against height."""

from __future__ import annotations

from dataclasses import dataclass
from typing import cast

import numpy as np
from numpy import bool_, int32
from numpy.typing import NDArray
from scipy.sparse import coo_array, csgraph

from soakline.fluid.spread import Foam
from soakline.units import show_number
from soakline.wound.cavity import Cavity

# Foam this tight keeps the settled answer from coming true within a soak (source key ``settling.validity``).
_TIGHT_M2 = 1e-10
# Liquid that needs less than this share of the soak to find its level has found it.
_SETTLES_SHARE = 1.0 / 3.0
# A part that holds less than this share of the void is an edge, not a part.
_LARGE_SHARE = 0.02


@dataclass(frozen=True, slots=True)
class Validity:
    """How far the settled model may be believed: seconds liquid needs to find its level, and the words for it.

    ``settled`` is False where no settled answer is to be shown.
    """

    settling_s: float
    settled: bool
    says: tuple[str, ...]


def judge_models(cavity: Cavity, column: int, foam: Foam, soak_s: float | None) -> Validity:
    """Return what may be believed for liquid from a port at ``column``; ``soak_s`` is fill and dwell in s or None.

    The time to level is τ = porosity · L² ÷ (conductivity · height), L from the port to the farthest column.
    """
    settling_s = _settling_s(cavity, column, foam)
    if foam.permeability_m2 <= 0.0:
        closed = (
            "no settled answer: foam of permeability 0 lets no liquid pass; a fill stays at its port or finds no room"
        )
        return Validity(settling_s, settled=False, says=(closed,))
    if foam.permeability_m2 <= _TIGHT_M2:
        tight = (
            f"no settled answer: foam too tight (permeability {foam.permeability_m2:.0e} m²); liquid would need about "
        )
        return Validity(settling_s, settled=False, says=(tight + f"{_say_time(settling_s)} to find its level",))
    words = [f"liquid needs about {_say_time(settling_s)} to find its level"]
    if soak_s is not None:
        known = settling_s <= _SETTLES_SHARE * soak_s
        words[0] += f", the soak lasts {_say_time(soak_s)}"
        words[0] += "" if known else ": it has not settled when the soak ends; read the spread model"
    height = float(np.average(cavity.height_cm, weights=cavity.volume_ml))
    if foam.capillary_height_cm >= height / 2.0:
        words.append(
            f"foam holds liquid {show_number(foam.capillary_height_cm)} cm against gravity, and the space is about "
            f"{show_number(height)} cm high: wicking decides as much as level"
        )
    if _has_neck(cavity):
        words.append(
            f"a neck about {show_number(3.0 * cavity.spacing_cm)} cm wide or less joins its parts: the grid hardly "
            "resolves it, and foam may not be carried through it"
        )
    return Validity(settling_s, settled=True, says=tuple(words))


def _settling_s(cavity: Cavity, column: int, foam: Foam) -> float:
    away = float(np.linalg.norm(cavity.centre_cm - cavity.centre_cm[column], axis=1).max())
    height = float(np.average(cavity.height_cm, weights=cavity.volume_ml))
    if foam.conductivity_cm_per_s <= 0.0:
        return float("inf")
    return foam.porosity_share * away**2 / (foam.conductivity_cm_per_s * height)


def _has_neck(cavity: Cavity) -> bool:
    """Say whether the cavity falls into more large parts once its outermost columns are taken away."""
    sides = np.bincount(cavity.link.ravel(), minlength=len(cavity.u_cm))
    return _large_parts(cavity, sides >= 4) > _large_parts(cavity, np.ones(len(cavity.u_cm), dtype=bool))


def _large_parts(cavity: Cavity, kept: NDArray[bool_]) -> int:
    both = kept[cavity.link].all(axis=1)
    first, second = cavity.link[both].T
    count = len(cavity.u_cm)
    graph = coo_array((np.ones(len(first)), (first, second)), shape=(count, count))
    part = cast("NDArray[int32]", csgraph.connected_components(graph, directed=False)[1])
    volume = np.bincount(part, weights=np.where(kept, cavity.volume_ml, 0.0))
    return int((volume > _LARGE_SHARE * cavity.void_ml).sum())


def _say_time(seconds: float) -> str:
    if not np.isfinite(seconds) or seconds > 86_400.0:
        return "more than a day"
    if seconds < 90.0:
        return f"{max(5, round(seconds / 5.0) * 5)} s"
    return f"{round(seconds / 60.0)} min" if seconds < 5_400.0 else f"{show_number(seconds / 3600.0)} h"
