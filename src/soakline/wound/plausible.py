"""Plausible wounds: what the probe and the ruler may have missed, drawn as whole wounds.

Errors of one kind are shared by all entries: the same hand and the same probe made them. That gives the wider range.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy import float64
from numpy.typing import NDArray

from soakline.units import Measured, Range, likely
from soakline.wound.measurements import Assumptions, Opening, Tunnel, Undermining, Wound
from soakline.wound.sobol import sobol_shares

# Source key ``measuring.error_model`` (our own proposal): for a plain number; a range is taken as given.
SIZE_ERROR_CM = 0.5
DEPTH_ERROR_SHARE = 0.15
REACH_ERROR_CM = 0.5
ESTIMATED_REACH_ERROR_CM = 1.0
CLOCK_ERROR_HOURS = 1.0
TUNNEL_ERROR_CM = 0.5
# Skin that is kept has some thickness: depth minus pocket height.
THINNEST_SKIN_CM = 0.2


@dataclass(frozen=True, slots=True)
class Measures:
    """The kinds of measure that are in doubt, as quantiles 0–1 of their range; 0.5 is the likely value."""

    size_quantile: float = 0.5
    depth_quantile: float = 0.5
    reach_quantile: float = 0.5
    height_quantile: float = 0.5
    from_quantile: float = 0.5
    to_quantile: float = 0.5
    tunnel_quantile: float = 0.5
    foam_share_quantile: float = 0.5
    capillary_quantile: float = 0.5
    permeability_quantile: float = 0.5


KINDS: dict[str, str] = {
    "size_quantile": "size of the opening",
    "depth_quantile": "depth",
    "reach_quantile": "reach of the undermining",
    "height_quantile": "pocket height",
    "from_quantile": "hour at which the undermining starts",
    "to_quantile": "hour at which the undermining ends",
    "tunnel_quantile": "length of the tunnel",
    "foam_share_quantile": "share of the void that the foam lets fill",
    "capillary_quantile": "height to which the foam holds liquid",
    "permeability_quantile": "permeability of the foam",
}


FOAM_KINDS = ("foam_share_quantile", "capillary_quantile", "permeability_quantile")


def draw_measures(wound: Wound, assumptions: Assumptions, draws: int, seed: int) -> list[Measures]:
    """Return ``draws`` (a power of two) sets of quantiles from a scrambled Sobol sequence, the same for the same seed.

    Only what is in doubt about this wound and its foam is drawn; the rest stays at its likely value.
    """
    names = varies(wound, assumptions)
    rng = np.random.default_rng(seed)
    measured = _drawn([name for name in names if name not in FOAM_KINDS], draws, rng)
    # Shuffled against the wounds, so that what is drawn of a wound does not depend on what is known of its foam.
    foam = rng.permutation(_drawn([name for name in names if name in FOAM_KINDS], draws, rng))
    points = np.concatenate([measured, foam], axis=1)
    return [Measures(**dict(zip(names, map(float, point), strict=True))) for point in points]


def wound_at(wound: Wound, measures: Measures) -> Wound:
    """Return the wound with every measure a plain number at the given quantiles.

    Where the drawn pocket would reach through the skin, half of the conflict is taken from the pocket's height and half
    is given to the depth: neither measure is believed more than the other.
    """
    opening = _opening_at(wound.opening, measures)
    undermining = tuple(_undermining_at(entry, measures) for entry in wound.undermining)
    pocket = wound.pocket
    if pocket is not None:
        pocket = replace(pocket, height_cm=at_quantile(pocket.height_cm, measures.height_quantile))
    tunnels = tuple(_tunnel_at(tunnel, measures) for tunnel in wound.tunnel)
    drawn = replace(wound, opening=opening, undermining=undermining, pocket=pocket, tunnel=tunnels)
    return drawn if measures == Measures() else _keep_skin(drawn)


def at_quantile(value: Measured, quantile: float, error: float = 0.0) -> float | None:
    """Return the number at a quantile 0–1 of a range, in its unit; a plain number has ``error`` either way, evenly.

    Half of a range's weight lies below its likely value, evenly, and half above.

    >>> at_quantile(Range(1.0, 1.5, 3.0), 0.75), at_quantile(4.0, 1.0, 0.5)
    (2.25, 4.5)
    """
    if value is None:
        return None
    if not isinstance(value, Range):
        return value + error * (2.0 * quantile - 1.0)
    side = value.low if quantile < 0.5 else value.high
    return value.likely + (side - value.likely) * abs(2.0 * quantile - 1.0)


def foam_at(assumptions: Assumptions, measures: Measures) -> tuple[float, float, float]:
    """Return the share of the void that takes liquid (0–1), capillary height in cm, and permeability in m², as drawn.

    Permeability is drawn by its logarithm. Source keys ``foam.porosity``, ``foam.share``, ``foam.capillary_height``,
    ``foam.permeability``, all from memory.
    """
    filled = at_quantile(assumptions.foam_share, measures.foam_share_quantile) or 0.0
    capillary_cm = at_quantile(assumptions.capillary_height_cm, measures.capillary_quantile) or 0.0
    return assumptions.foam_porosity * filled, capillary_cm, _permeability_m2(assumptions, measures)


def varies(wound: Wound, assumptions: Assumptions) -> list[str]:
    """Return the names of the quantiles that change anything about this wound or foam, in the order of ``KINDS``."""

    def told(measures: Measures) -> tuple[Wound, tuple[float, float, float]]:
        return wound_at(wound, measures), foam_at(assumptions, measures)

    return [name for name in KINDS if told(replace(Measures(), **{name: 0.9})) != told(Measures())]


@dataclass(frozen=True, slots=True)
class Driver:
    """A measure that drives the doubt of an answer: its words, its share (0–1) of the variance, what it would leave.

    ``share`` is the first-order index (source key ``doubt.sudret_2008``); ``left_low`` to ``left_high`` is the 5–95 %
    range of the answer, in its own unit, were the measure known exactly.
    """

    what: str
    share: float
    left_low: float
    left_high: float


def drivers(measures: Sequence[Measures], answer_any: NDArray[float64]) -> list[Driver]:
    """Return what drives an answer (n,) in any unit, drawn with ``measures``, the largest share first.

    Each quantile's own part of the answer is fitted by Legendre polynomials; its variance is the first-order index.
    """
    variance = float(answer_any.var())
    if variance == 0.0:
        return []
    found: list[Driver] = []
    for name, words in KINDS.items():
        at = np.array([getattr(m, name) for m in measures])
        if float(np.ptp(at)) == 0.0:
            continue
        part, alone = _own_part(at, answer_any)
        low, high = (float(x) for x in np.percentile(answer_any - part, [5.0, 95.0]))
        found.append(Driver(words, min(alone / variance, 1.0), low, high))
    return sorted(found, key=lambda driver: -driver.share)


def percentiles(value_ml: NDArray[float64], middle_ml: float) -> Range:
    """Return the 5–95 % range in mL of ``value_ml`` (n,) about ``middle_ml``, its value at the likely measures."""
    low, high = (float(x) for x in np.percentile(value_ml, [5.0, 95.0]))
    return Range(min(low, middle_ml), middle_ml, max(high, middle_ml))


def _opening_at(opening: Opening, measures: Measures) -> Opening:
    size = measures.size_quantile
    depth = opening.depth_cm
    error = DEPTH_ERROR_SHARE * likely(depth) if depth is not None else 0.0
    outline = opening.outline_cm
    if outline is not None:
        line = np.asarray(outline)
        across = float(np.ptp(line, axis=0).mean())
        middle = line.mean(axis=0)
        grown = middle + (line - middle) * (1.0 + SIZE_ERROR_CM * (2.0 * size - 1.0) / across)
        outline = tuple((float(u), float(v)) for u, v in grown)
    return replace(
        opening,
        length_cm=_positive(at_quantile(opening.length_cm, size, SIZE_ERROR_CM)),
        width_cm=_positive(at_quantile(opening.width_cm, size, SIZE_ERROR_CM)),
        depth_cm=_positive(at_quantile(depth, measures.depth_quantile, error)),
        outline_cm=outline,
    )


def _undermining_at(entry: Undermining, measures: Measures) -> Undermining:
    sure = entry.basis == "measured"
    reach = at_quantile(entry.reach_cm, measures.reach_quantile, REACH_ERROR_CM if sure else ESTIMATED_REACH_ERROR_CM)
    height = at_quantile(entry.height_cm, measures.height_quantile)
    moved = replace(entry, reach_cm=None if reach is None else max(reach, 0.0), height_cm=height)
    return moved if sure else _shifted(moved, measures)


def _shifted(entry: Undermining, measures: Measures) -> Undermining:
    if entry.clock is not None:
        by = CLOCK_ERROR_HOURS * (2.0 * measures.from_quantile - 1.0)
        return replace(entry, clock=_on_clock(entry.clock + by))
    if entry.from_clock is None or entry.to_clock is None or entry.from_clock == entry.to_clock:
        return entry
    wide = (entry.to_clock - entry.from_clock) % 12.0
    start = entry.from_clock + CLOCK_ERROR_HOURS * (2.0 * measures.from_quantile - 1.0)
    end = entry.from_clock + wide + CLOCK_ERROR_HOURS * (2.0 * measures.to_quantile - 1.0)
    # Never shorter than half an hour, never more than all round.
    end = min(max(end, start + 0.5), start + 11.99)
    return replace(entry, from_clock=_on_clock(start), to_clock=_on_clock(end))


def _tunnel_at(tunnel: Tunnel, measures: Measures) -> Tunnel:
    length = at_quantile(tunnel.length_cm, measures.tunnel_quantile, TUNNEL_ERROR_CM)
    return replace(tunnel, length_cm=_positive(length), diameter_cm=at_quantile(tunnel.diameter_cm, 0.5))


def _keep_skin(wound: Wound) -> Wound:
    depth = wound.opening.depth_cm
    heights = [entry.height_cm for entry in wound.undermining if entry.height_cm is not None]
    if wound.pocket is not None and wound.pocket.height_cm is not None:
        heights.append(wound.pocket.height_cm)
    if depth is None or not heights:
        return wound
    conflict = max(map(likely, heights)) + THINNEST_SKIN_CM - likely(depth)
    if conflict <= 0.0:
        return wound
    deeper = likely(depth) + conflict / 2.0
    lower = _limit(deeper - THINNEST_SKIN_CM)
    pocket = wound.pocket
    if pocket is not None:
        pocket = replace(pocket, height_cm=lower(pocket.height_cm))
    undermining = tuple(replace(entry, height_cm=lower(entry.height_cm)) for entry in wound.undermining)
    return replace(wound, opening=replace(wound.opening, depth_cm=deeper), undermining=undermining, pocket=pocket)


def _limit(ceiling_cm: float) -> Callable[[Measured], float | None]:
    return lambda height: None if height is None else min(likely(height), ceiling_cm)


def _positive(value: float | None) -> float | None:
    return None if value is None else max(value, 0.1)


def _on_clock(clock: float) -> float:
    return clock % 12.0 or 12.0


def _drawn(names: Sequence[str], draws: int, rng: np.random.Generator) -> NDArray[float64]:
    return sobol_shares(draws, len(names), rng) if names else np.empty((draws, 0))


def _own_part(at_quantile_share: NDArray[float64], answer: NDArray[float64]) -> tuple[NDArray[float64], float]:
    """Return the part of an answer that follows one quantile alone, less its value at the middle, and its variance."""
    basis = np.polynomial.legendre.legvander(2.0 * at_quantile_share - 1.0, 3)
    weights, *_ = np.linalg.lstsq(basis, answer, rcond=None)
    weights[0] = 0.0
    middle = np.polynomial.legendre.legvander(np.zeros(1), 3) @ weights
    variance = float((weights[1:] ** 2 / np.array([3.0, 5.0, 7.0])).sum())
    return basis @ weights - middle[0], variance


def _permeability_m2(assumptions: Assumptions, measures: Measures) -> float:
    value = assumptions.permeability_m2
    if not isinstance(value, Range) or value.low <= 0.0:
        return likely(value)
    logs = Range(*(math.log(v) for v in (value.low, value.likely, value.high)))
    return math.exp(at_quantile(logs, measures.permeability_quantile) or 0.0)
