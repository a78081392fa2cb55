"""What liquid does, in words: how much a fill wets, how it stands against the seal, which gas cannot leave."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from soakline.fluid.reach import Model, ReachMap, ShareRanges, Shares, say_share
from soakline.fluid.seal import Seal
from soakline.units import Extremes, show_number
from soakline.workflows.answers import GasAnswer, ReachAnswer, SealAnswer, ValidityAnswer
from soakline.workflows.in_words import step_percent
from soakline.wound.clock import HOURS, angle_deg, say_clock

# The edge of an opening is measured no closer than this.
_KNOWN_CM = 0.5
# Less gas than this is none.
_NO_GAS_SHARE = 0.005
# Liquid that finds no room is told from this volume on.
_TOLD_ML = 0.5


@dataclass(frozen=True, slots=True)
class FillTold:
    """All that is told of one fill through one port, or through several at once: by each model, one row a posture.

    ``at_edge`` says how liquid stands against the seal in each posture, ``believe`` which model may be believed.
    """

    title: str
    by_model: tuple[tuple[str, tuple[ReachAnswer, ...]], ...]
    at_edge: tuple[str, ...]
    presses: tuple[str, ...]
    believe: str

    @property
    def rows(self) -> tuple[ReachAnswer, ...]:
        """All rows of the fill, model by model."""
        return tuple(row for _, rows in self.by_model for row in rows)


def tell_fills(reach: Sequence[ReachAnswer], validity: Sequence[ValidityAnswer]) -> tuple[FillTold, ...]:
    """Return the rows of the reach fill by fill; what goes in through all ports at once comes first."""
    fills: dict[tuple[str, float], list[ReachAnswer]] = {}
    for row in reach:
        fills.setdefault((row.port, row.fill_ml), []).append(row)
    believe = {judged.port: "; ".join(judged.says) for judged in validity}
    most = max((fill_ml for _, fill_ml in fills), default=0.0)
    # Only several ports at once take more than each of them; without ports of the file the order stays as it is.
    joint_first = sorted(fills, key=lambda key: not (" + " in key[0] and key[1] == most))
    return tuple(_told(*key, fills[key], believe.get(key[0], "")) for key in joint_first)


def say_surface(model: Model, shares: Shares | None, ranges: ShareRanges | None) -> tuple[str, str]:
    """Write how much of a surface is soaked, and how much is wetted at all, each with its range; no kept skin is said.

    Wetted is all that is not dry: passed over in the spread model, moist in the settled one.
    """
    if shares is None:
        return "no kept skin", ""
    wetted = (1.0 - ranges.dry[1], 1.0 - ranges.dry[0]) if ranges else None
    word = "passed" if model == "spread" else "or moist"
    soaked = say_range_share(shares.soaked, ranges.soaked if ranges else None)
    return soaked, f"{word}: {say_range_share(1.0 - shares.dry, wetted)}"


def say_range_share(share: float, limits: tuple[float, float] | None) -> str:
    """Write a share of a surface: the word, and the range in steps of 5 %.

    >>> say_range_share(0.61, (0.47, 0.79)), say_range_share(0.5, None)
    ('most, 45–80 %', 'about half (50 %)')
    """
    word = say_share(share)
    low, high = map(step_percent, limits or (share, share))
    if low != high:
        return f"{word}, {low}–{high} %"
    return word if word in {"all", "none"} else f"{word} ({low} %)"


def say_gases(reach: Sequence[ReachAnswer]) -> str:
    """Say on one line how much gas cannot leave, posture by posture; empty where nobody told."""
    told = {row.posture: row.gas for row in reach if row.gas is not None}
    if not told:
        return ""
    vent = next(iter(told.values())).vent
    each = "; ".join(f"{posture} {_say_gas_share(gas)}" for posture, gas in told.items())
    return f"gas that cannot leave keeps liquid out of at most so much of the void, {vent} taken as vent: {each}"


def say_minutes(span: Extremes | None) -> str:
    """Write minutes of a day as the two ends of what they may be.

    >>> say_minutes(Extremes(0.3, 0.4)), say_minutes(Extremes(8.0, 33.0)), say_minutes(Extremes(0.0, 130.0))
    ('none today', '10–35 min', '0–130 min')
    """
    if span is None:
        return "no kept skin"
    low, high = (5 * round(value / 5.0) for value in (span.low, span.high))
    if span.high < 1.0:
        return "none today"
    return f"about {max(high, 5)} min" if low == high else f"{low}–{high} min"


def say_new(span: Extremes) -> str:
    """Write which share of the liquid is new in each cycle, in steps of 5 %.

    >>> say_new(Extremes(0.38, 0.81))
    '40–80 % new'
    """
    low, high = (5 * round(20.0 * value) for value in (span.low, span.high))
    return f"{high} % new" if low == high else f"{low}–{high} % new"


def say_reached(found: ReachMap, floor: Shares, roof: Shares | None) -> str:
    """Say what a fill does in one posture: soaked, and what it wets beside, for floor and roof."""
    says = f"{found.posture}, {found.fill_ml:g} mL through {found.port}: soaks {say_share(floor.soaked)} of the floor"
    says += f", {say_share(roof.soaked)} of the roof" if roof else ""
    wets = "liquid passes" if found.model == "spread" else "soaked or moist:"
    says += f"; {wets} {say_share(1.0 - floor.dry)} of the floor"
    return says + (f", {say_share(1.0 - roof.dry)} of the roof" if roof else "")


def say_seal(seal: SealAnswer | None) -> str:
    """Say how liquid stands against the seal along the opening's edge.

    >>> say_seal(SealAnswer(3.0, 0.9, (None, None, 0.1, 0.9, 0.2) + (None,) * 7))
    "liquid stands about 1 cm above the opening's edge at 3 o'clock and presses on the drape at 2, 3, 4 o'clock"
    >>> say_seal(SealAnswer(None, -1.6, (-1.6,) * 12))
    "liquid stays about 1.5 cm below the opening's edge, all round"
    """
    if seal is None:
        return "no free liquid stands under the opening"
    where = "all round" if seal.clock is None else f"at {_say_half_hour(seal.clock)}"
    about = round(abs(seal.over_cm) / _KNOWN_CM) * _KNOWN_CM
    if seal.over_cm < 0.0 and about:
        nearest = where if seal.clock is None else f"nearest {where}"
        return f"liquid stays about {show_number(about)} cm below the opening's edge, {nearest}"
    if not about:
        return f"liquid stands about level with the opening's edge {where}"
    pressed = [str(HOURS[k - 1]) for k, over in enumerate(seal.over_by_hour_cm) if over is not None and over > 0.0]
    hours = f" at {', '.join(pressed)} o'clock" if 0 < len(pressed) < len(HOURS) else ""
    return (
        f"liquid stands about {show_number(about)} cm above the opening's edge {where} and presses on the drape{hours}"
    )


def say_gas(gas: GasAnswer) -> str:
    """Say how much gas cannot leave.

    >>> say_gas(GasAnswer(0.19, 64.0, "the whole opening"))
    'gas that cannot leave: 20 % of the void at most, the whole opening taken as vent'
    """
    return f"gas that cannot leave: {_say_gas_share(gas)} of the void at most, {gas.vent} taken as vent"


def seal_at_hours(seal: Seal | None) -> SealAnswer | None:
    """Return how liquid stands against the seal at the hours alone: 12, 1 and so on to 11 o'clock."""
    if seal is None:
        return None
    over_cm = [float(seal.over_edge_cm[int(angle_deg(hour))]) for hour in (12, *HOURS[:-1])]
    return SealAnswer(seal.clock, seal.over_cm, tuple(cm if cm > -math.inf else None for cm in over_cm))


def say_beyond(found: ReachMap) -> str:
    """Say what a fill does beyond reaching floor and roof: pressing on the drape, finding no room."""
    presses = say_seal(seal_at_hours(found.seal)) if found.seal is not None and found.seal.over_cm > 0.0 else ""
    return "; ".join(filter(None, (presses, say_left_over(found))))


def say_left_over(found: ReachMap) -> str:
    """Say how much finds no room; empty where all does."""
    return f"{found.left_over_ml:.0f} mL find no room" if found.left_over_ml > _TOLD_ML else ""


def _told(port: str, fill_ml: float, rows: Sequence[ReachAnswer], believe: str) -> FillTold:
    models = dict.fromkeys(row.model for row in rows)
    at_edge = {row.posture: row.seal for row in rows if row.model == "settled"}
    said = {posture: f"{posture}: {say_seal(seal)}" for posture, seal in at_edge.items()}
    left_over = dict.fromkeys(f"{row.posture}: {row.says.rpartition('; ')[2]}" for row in rows if "no room" in row.says)
    return FillTold(
        f"{show_number(fill_ml, 0)} mL, port {port}",
        tuple((model, tuple(row for row in rows if row.model == model)) for model in models),
        tuple(said.values()),
        (*(said[p] for p, seal in at_edge.items() if seal is not None and seal.over_cm > 0.0), *left_over),
        believe,
    )


def _say_gas_share(gas: GasAnswer) -> str:
    steps = round(gas.void_share * 20.0)
    return "none" if gas.void_share < _NO_GAS_SHARE else f"{5 * steps} %" if steps else "under 5 %"


def _say_half_hour(clock: float) -> str:
    nearest = round(clock * 2.0) / 2.0
    return say_clock(nearest if nearest >= 1.0 else nearest + 12.0)
