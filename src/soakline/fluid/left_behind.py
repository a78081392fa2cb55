"""What suction leaves behind: what squeezed foam has room for, in balance with its ports.

Source keys ``foam.squeeze``, ``foam.capillary_height``, ``foam.porosity``: all from memory, so every answer is a range
and exploratory.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy import float64
from numpy.typing import NDArray

from soakline.fluid.capillary import saturation_share
from soakline.fluid.draw import EXPLORATORY, POROSITY_SHARE, SQUEEZE_SHARE, Drawn, pore_share
from soakline.units import Extremes

# How high foam holds liquid against gravity (source key ``foam.capillary_height``).
CAPILLARY_HEIGHT_CM = Extremes(0.3, 3.0)
# A column's height is cut into so many layers to sum what it holds.
_LAYERS = 16


@dataclass(frozen=True, slots=True)
class Stays:
    """What suction leaves, as the two ends of what can be: mL, share of the liquid, share of what full foam holds.

    ``kept_share`` counts drawn parts alone; what is undrawn stays whole and is in the other two.
    """

    stays_ml: Extremes
    liquid_share: Extremes
    kept_share: Extremes
    says: str = EXPLORATORY


def room_ml(drawn: Drawn, up: NDArray[float64]) -> tuple[NDArray[float64], NDArray[float64]]:
    """Return what each drawn column, (n,) in mL, has room for under suction, least and most as in ``what_stays``."""
    return (
        _room_ml(drawn, up, SQUEEZE_SHARE.low, CAPILLARY_HEIGHT_CM.low, pools_stay=False),
        _room_ml(drawn, up, SQUEEZE_SHARE.high, CAPILLARY_HEIGHT_CM.high, pools_stay=True),
    )


def what_stays(drawn: Drawn, up: NDArray[float64]) -> Stays:
    """Return what suction leaves of the liquid when ``up`` (3,), a unit vector, points against gravity: mL and shares.

    Least: suction draws all that the most squeezed, least wicking foam does not hold by capillarity. Most: air breaks
    through at once, gravity alone drains, and all below the top of the lowest port stays, as far as liquid goes round.
    """
    low, high = room_ml(drawn, up)
    held = np.where(drawn.undrawn, 0.0, drawn.held_ml)
    part, count = drawn.sheet.part, drawn.sheet.part_count
    total, undrawn = float(drawn.held_ml.sum()), drawn.undrawn_ml
    goes_round = (np.bincount(part, weights=amount, minlength=count) for amount in (held, high))
    least = min(float(np.minimum(held, low).sum()) + undrawn, total)
    most = min(float(np.minimum(*goes_round).sum()) + undrawn, total)
    full = max(float(drawn.sheet.cavity.volume_ml[~drawn.undrawn].sum()) * POROSITY_SHARE, 1e-12)
    return Stays(
        Extremes(least, most),
        Extremes(least / total, most / total),
        Extremes(float(low.sum()) / full, float(high.sum()) / full),
    )


def _room_ml(
    drawn: Drawn, up: NDArray[float64], squeeze: float, capillary_height: float, *, pools_stay: bool
) -> NDArray[float64]:
    """Return what each drawn column, (n,), holds in balance with the lowest port of its part.

    With ``pools_stay`` that port opens at the top of its foam, and all below stays; else each column also drains to its
    own foot.
    """
    cavity, part = drawn.sheet.cavity, drawn.sheet.part
    span_u, span_v, span_h = cavity.spans_cm @ up
    extent = np.sqrt(span_u**2 + span_v**2 + (squeeze * span_h) ** 2)
    foot = (cavity.floor_cm + squeeze * (cavity.centre_cm - cavity.floor_cm)) @ up - extent / 2.0
    level = np.full(drawn.sheet.part_count, np.inf)
    for port in drawn.port_column:
        opens = foot[port] + (extent[port] if pools_stay else 0.0)
        level[part[port]] = min(level[part[port]], opens)
    head = level[part] - foot
    if not pools_stay:
        head = np.minimum(head, 0.0)
    layer = (np.arange(_LAYERS) + 0.5) / _LAYERS
    full = saturation_share((head[:, None] - extent[:, None] * layer).ravel(), capillary_height)
    room = cavity.volume_ml * pore_share(squeeze) * full.reshape(-1, _LAYERS).mean(axis=1)
    return np.where(drawn.undrawn, 0.0, room)
