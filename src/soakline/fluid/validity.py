"""Which model may be believed for a wound and its foam: time to level against the soak, wicking against height."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy import bool_
from numpy.typing import NDArray

from soakline.fluid.parts import parts_of
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
class Space:
    """The space that liquid runs in: its mean height in cm, and the width in cm of a neck between its parts or None."""

    height_cm: float
    neck_cm: float | None


@dataclass(frozen=True, slots=True)
class Validity:
    """How far the settled model may be believed, what that rests on, and the words for it.

    ``settling_s`` is how long liquid needs to find its level, None where it never does, ``soak_s`` how long fill and
    dwell last, None unknown. ``settled`` is False where no settled answer is to be shown. ``neck_cm`` is the width at
    which a neck was noticed, None for none.
    """

    settling_s: float | None
    soak_s: float | None
    capillary_height_cm: float
    space_height_cm: float
    neck_cm: float | None
    settled: bool
    says: tuple[str, ...]


def space_of(cavity: Cavity) -> Space:
    """Return how high in cm the space is on average, and how wide a neck between its parts the grid just sees."""
    height = float(np.average(cavity.height_cm, weights=cavity.volume_ml))
    return Space(height, 3.0 * cavity.spacing_cm if _has_neck(cavity) else None)


def judge_models(
    cavity: Cavity, space: Space, port_column: Sequence[int], foam: Foam, soak_s: float | None
) -> Validity:
    """Return what may be believed for liquid from ports at ``port_column``; ``soak_s`` is fill and dwell in s or None.

    The time to level is τ = porosity · L² ÷ (conductivity · height), L from the ports to the farthest column.
    """
    settling_s = _settling_s(cavity, space, port_column, foam)
    if foam.permeability_m2 <= 0.0:
        words = (
            "no settled answer: foam of permeability 0 lets no liquid pass; a fill stays at its port or finds no room"
        )
    elif foam.permeability_m2 <= _TIGHT_M2:
        tight = f"no settled answer: foam too tight (permeability {foam.permeability_m2:.0e} m²); liquid would need "
        words = f"{tight}about {_say_time(settling_s)} to find its level"
    else:
        words = _say_settling(settling_s, soak_s)
    return Validity(
        settling_s if np.isfinite(settling_s) else None,
        soak_s,
        foam.capillary_height_cm,
        space.height_cm,
        space.neck_cm,
        foam.permeability_m2 > _TIGHT_M2,
        (words, *_say_space(space, foam)),
    )


def _say_settling(settling_s: float, soak_s: float | None) -> str:
    words = f"liquid needs about {_say_time(settling_s)} to find its level"
    if soak_s is None:
        return words
    words += f", the soak lasts {_say_time(soak_s)}"
    known = settling_s <= _SETTLES_SHARE * soak_s
    return words if known else f"{words}: it has not settled when the soak ends; read the spread model"


def _say_space(space: Space, foam: Foam) -> Iterator[str]:
    if foam.capillary_height_cm >= space.height_cm / 2.0:
        yield (
            f"foam holds liquid {show_number(foam.capillary_height_cm)} cm against gravity, and the space is about "
            f"{show_number(space.height_cm)} cm high: wicking decides as much as level"
        )
    if space.neck_cm is not None:
        yield (
            f"a neck about {show_number(space.neck_cm)} cm wide or less joins its parts: the grid hardly resolves it, "
            "and foam may not be carried through it"
        )


def _settling_s(cavity: Cavity, space: Space, port_column: Sequence[int], foam: Foam) -> float:
    if foam.conductivity_cm_per_s <= 0.0:
        return float("inf")
    # What each port fills is nearest to it: the way is from a place to the nearest port.
    ways = [np.linalg.norm(cavity.centre_cm - cavity.centre_cm[column], axis=1) for column in port_column]
    away_cm = float(np.min(ways, axis=0).max())
    return foam.porosity_share * away_cm**2 / (foam.conductivity_cm_per_s * space.height_cm)


def _has_neck(cavity: Cavity) -> bool:
    """Say whether the cavity falls into more large parts once its outermost columns are taken away."""
    sides = np.bincount(cavity.link.ravel(), minlength=len(cavity.u_cm))
    return _large_parts(cavity, sides >= 4) > _large_parts(cavity, np.ones(len(cavity.u_cm), dtype=bool))


def _large_parts(cavity: Cavity, kept: NDArray[bool_]) -> int:
    both = kept[cavity.link].all(axis=1)
    volume = np.bincount(parts_of(len(cavity.u_cm), cavity.link[both]), weights=np.where(kept, cavity.volume_ml, 0.0))
    return int((volume > _LARGE_SHARE * cavity.void_ml).sum())


def _say_time(seconds: float) -> str:
    if not np.isfinite(seconds) or seconds > 86_400.0:
        return "more than a day"
    if seconds < 90.0:
        return f"{max(5, round(seconds / 5.0) * 5)} s"
    return f"{round(seconds / 60.0)} min" if seconds < 5_400.0 else f"{show_number(seconds / 3600.0)} h"
