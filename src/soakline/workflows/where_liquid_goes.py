"""Where a fill settles: each posture, each instillation port, with its range over plausible wounds."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy import float64
from numpy.typing import NDArray

from soakline.fluid.posture import Posture, parse_posture
from soakline.fluid.reach import (
    ReachCurve,
    ReachMap,
    ShareRanges,
    Shares,
    say_share,
    settled_curve,
    settled_map,
    shares_of,
)
from soakline.fluid.settle import basins_of
from soakline.layout.ports import Port, candidates, column_of, say_zone
from soakline.therapy.cycle import TherapyUnit
from soakline.units import likely
from soakline.workflows.answers import ReachAnswer
from soakline.wound.body import frame_of
from soakline.wound.cavity import Cavity, build_cavity
from soakline.wound.measurements import Assumptions, Wound
from soakline.wound.plausible import Measures, at_quantile, wound_at
from soakline.wound.sheet import Sheet, lay_flat

Progress = Callable[[float], None]

USUAL_POSTURES = tuple(parse_posture(words) for words in ("supine", "prone", "left 30", "right 30"))
# Plausible wounds for a range are coarser and fewer: the doubt is larger than the grid (see docs/fluid.md).
_RANGE_SPACING_CM = 0.5
_RANGE_DRAWS = 64
# Fills that are shown where none was given, as shares of what the wound takes.
_SHOWN_SHARES = (0.25, 0.5)


@dataclass(frozen=True, slots=True)
class Filling:
    """One way of filling that is looked at: its name, and how much goes in through which port, in mL."""

    name: str
    sources: tuple[tuple[Port, float], ...]

    @property
    def fill_ml(self) -> float:
        """All that is poured in, in mL."""
        return sum(fill_ml for _, fill_ml in self.sources)


@dataclass(frozen=True, slots=True, eq=False)
class Settled:
    """Rows of reach, and behind each its map; curves per posture and port; the cavity they were worked out on."""

    cavity: Cavity
    rows: tuple[ReachAnswer, ...]
    maps: tuple[ReachMap, ...]
    curves: tuple[ReachCurve, ...]


def fillings(
    ports: Sequence[Port], units: Sequence[TherapyUnit], sheet: Sheet, capacity_ml: float
) -> tuple[Filling, ...]:
    """Return what to look at: each instillation port with its unit's fill, then all at once; candidates without."""
    fill_of = {unit.name: unit.fill_ml for unit in units if unit.fill_ml is not None}
    placed = [(p, fill_of[p.unit]) for p in ports if p.kind == "instillation" and p.unit in fill_of]
    if placed:
        alone = [Filling(port.name, ((port, fill_ml),)) for port, fill_ml in placed]
        together = Filling(" + ".join(port.name for port, _ in placed), tuple(placed))
        return (*alone, together) if len(placed) > 1 else tuple(alone)
    shown = [p for p in ports if p.kind == "instillation"] or list(candidates(sheet))
    volumes = sorted(set(fill_of.values())) or [_round(share * capacity_ml) for share in _SHOWN_SHARES]
    return tuple(Filling(port.name, ((port, volume),)) for port in shown for volume in volumes)


def settle_all(
    wound: Wound,
    sheet: Sheet,
    assumptions: Assumptions,
    postures: Sequence[Posture],
    looked_at: Sequence[Filling],
    measures: Sequence[Measures],
    spacing_cm: float,
    most_count: int,
    progress: Progress | None = None,
) -> Settled:
    """Return the settled reach of every filling in every posture, at the likely values and over plausible wounds.

    ``progress`` is told the share (0–1) that is done and may raise to stop. Raises GridRefused when memory is too
    small.
    """
    frame = frame_of(wound, assumptions)
    cavity = build_cavity(sheet, frame, spacing_cm, closed=assumptions.closed, most_count=most_count)
    takes = assumptions.foam_porosity * likely(assumptions.foam_share)
    spread = _over_plausible(wound, assumptions, postures, looked_at, measures[:_RANGE_DRAWS], progress)
    rows: list[ReachAnswer] = []
    maps: list[ReachMap] = []
    curves: list[ReachCurve] = []
    for i, posture in enumerate(postures):
        basins = basins_of(cavity, posture.up())
        for j, filling in enumerate(looked_at):
            sources = [(column_of(port, sheet, cavity), fill_ml) for port, fill_ml in filling.sources]
            found = settled_map(basins, posture.name, filling.name, sources, takes)
            floor, roof = shares_of(basins, found)
            ranges = spread[:, i, j] if len(measures) else None
            rows.append(_row(posture, filling, floor, roof, ranges, found))
            maps.append(found)
            if len(sources) == 1:
                curve = settled_curve(basins, posture.name, filling.name, sources[0][0], takes)
                curves += [curve] if all(c.port != curve.port or c.posture != curve.posture for c in curves) else []
    return Settled(cavity, tuple(rows), tuple(maps), tuple(curves))


def say_places(looked_at: Sequence[Filling], sheet: Sheet) -> str:
    """Say where the ports that were looked at lie, as zones."""
    ports = {port.name: port for filling in looked_at for port, _ in filling.sources}
    return "; ".join(f"{name}: {say_zone(port, sheet)}" for name, port in ports.items())


def _over_plausible(
    wound: Wound,
    assumptions: Assumptions,
    postures: Sequence[Posture],
    looked_at: Sequence[Filling],
    measures: Sequence[Measures],
    progress: Progress | None,
) -> NDArray[float64]:
    """Soaked shares (draws, postures, fillings, floor and roof) over plausible wounds."""
    shares = np.empty((len(measures), len(postures), len(looked_at), 2))
    quantiles = np.random.default_rng(len(measures)).permutation(len(measures)) / max(len(measures) - 1, 1)
    for k, drawn in enumerate(measures):
        at = wound_at(wound, drawn)
        sheet = lay_flat(at)
        cavity = build_cavity(sheet, frame_of(at, assumptions), _RANGE_SPACING_CM, closed=assumptions.closed)
        takes = assumptions.foam_porosity * (at_quantile(assumptions.foam_share, float(quantiles[k])) or 1.0)
        for i, posture in enumerate(postures):
            basins = basins_of(cavity, posture.up())
            for j, filling in enumerate(looked_at):
                sources = [(column_of(port, sheet, cavity), fill_ml) for port, fill_ml in filling.sources]
                found = settled_map(basins, posture.name, filling.name, sources, takes)
                floor, roof = shares_of(basins, found)
                shares[k, i, j] = floor.soaked, roof.soaked if roof else np.nan
        if progress is not None:
            progress((k + 1) / len(measures))
    return shares


def _row(
    posture: Posture,
    filling: Filling,
    floor: Shares,
    roof: Shares | None,
    ranges: NDArray[float64] | None,
    found: ReachMap,
) -> ReachAnswer:
    floor_range = None if ranges is None else _range(ranges[:, 0])
    roof_range = None if ranges is None or roof is None else _range(ranges[:, 1])
    says = f"{posture.name}, {filling.fill_ml:g} mL through {filling.name}: {say_share(floor.soaked)} of the floor"
    says += f", {say_share(roof.soaked)} of the roof" if roof else ""
    if found.edge_margin_cm is not None and found.edge_margin_cm < 0.0:
        says += "; liquid stands against the drape at the lowest part of the opening's edge"
    if found.left_over_ml > 0.5:
        says += f"; {found.left_over_ml:.0f} mL find no room"
    return ReachAnswer(
        posture.name, "settled", filling.fill_ml, filling.name, floor, roof, floor_range, roof_range, says
    )  # fmt: skip


def _range(soaked: NDArray[float64]) -> ShareRanges:
    low, high = (float(x) for x in np.percentile(soaked, [5.0, 95.0]))
    return ShareRanges(soaked=(low, high), dry=(1.0 - high, 1.0 - low))


def _round(volume_ml: float) -> float:
    return float(max(5, round(volume_ml / 5.0) * 5))
