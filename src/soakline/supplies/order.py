"""The order: the cheapest mix of kits and loose parts that covers what is short, proven, with the runner-up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray

from soakline.supplies.catalogue import Offer
from soakline.supplies.stock import Part, part_of
from soakline.units import show_number

Floats = NDArray[np.float64]
# Prices are held against each other in hundredths: a mix cheaper by less is the same.
_A_HUNDREDTH = 0.01


@dataclass(frozen=True, slots=True)
class Bought:
    """So many of one kind to order, and what they cost together; the price is in the site's own currency."""

    kind: str
    count: int
    price: float


@dataclass(frozen=True, slots=True)
class Order:
    """What to order: the cheapest mix and the next one, why, and what no kind on offer holds.

    ``runner_up`` differs in at least one kind; empty where there is no other. ``not_on_offer`` are parts.
    """

    buy: tuple[Bought, ...]
    price: float
    runner_up: tuple[Bought, ...]
    runner_up_price: float | None
    not_on_offer: tuple[str, ...]
    says: str


def order_for(short: Sequence[Part], offers: Sequence[Offer]) -> Order:
    """Return the cheapest mix that holds every part that is short at least as often, by integer program to proof.

    ``short`` is by part, with counts; prices are without unit, in the site's own currency. Of mixes at one price the
    one with the fewest packs stands. A part that no kind on offer holds is named, and the rest is still ordered.

    >>> kit = Offer("set with deep tube", 90.0, (Part("port_tube_deep", 1),))
    >>> order_for([Part("tube that can be placed deep", 2)], [kit]).price
    180.0
    """
    named = {part_of(part.name): part.count for part in short if part.count}
    held = [{part_of(part.name): part.count for part in offer.contents} for offer in offers]
    missing = tuple(part for part in named if not any(contents.get(part) for contents in held))
    parts = [part for part in named if part not in missing]
    if not parts:
        return Order((), 0.0, (), None, missing, _say((), 0.0, (), None, missing))
    holds = np.array([[contents.get(part, 0) for contents in held] for part in parts], dtype=float)
    wanted = np.array([named[part] for part in parts], dtype=float)
    prices = np.array([offer.price for offer in offers])
    first = _cheapest(holds, wanted, prices, None)
    if first is None:
        msg = "a part on offer could not be covered by any mix; the sizes of the order are beyond what a site orders"
        raise ValueError(msg)
    second = _cheapest(holds, wanted, prices, first)
    buy, runner_up = _bought(first, offers), () if second is None else _bought(second, offers)
    cost = float(prices @ first)
    next_cost = None if second is None else float(prices @ second)
    return Order(buy, cost, runner_up, next_cost, missing, _say(buy, cost, runner_up, next_cost, missing))


def order_by(needed_at: datetime, delivery_h: float, closed_weekday_index: Sequence[int] = (5, 6)) -> datetime:
    """Return the last time to order: hours of delivery back from the need, not counting the days nobody delivers.

    ``delivery_h`` is in hours of open days; ``closed_weekday_index`` count from Monday, 0.

    >>> order_by(datetime(2026, 11, 23, 9), 24)
    datetime.datetime(2026, 11, 20, 9, 0)
    """
    moment, left = needed_at, timedelta(hours=delivery_h)
    while left > timedelta(0) or moment.weekday() in closed_weekday_index:
        midnight = moment.replace(hour=0, minute=0, second=0, microsecond=0)
        back = moment - midnight or timedelta(days=1)
        before = moment - timedelta(microseconds=1)
        if before.weekday() in closed_weekday_index:
            moment -= back
            continue
        if left <= timedelta(0):
            break
        step = min(back, left)
        moment, left = moment - step, left - step
    return moment


def _cheapest(holds: Floats, wanted: Floats, prices: Floats, other_than: Floats | None) -> Floats | None:
    """Return how many of each kind, or None where nothing covers it; never the mix ``other_than``."""
    # A pack cannot cover more than is wanted, nor is more of one kind than would cover it all alone ever cheaper.
    holds = np.minimum(holds, wanted[:, None])
    most = np.array([_most(wanted, column) for column in holds.T])
    weights = prices + _A_HUNDREDTH * 1e-3
    first = np.zeros(len(prices)) if other_than is None else other_than
    kept = ~_is_outdone(holds, weights, by=first == 0)
    found = (
        _solve(weights[kept], holds[:, kept], wanted, most[kept])
        if other_than is None
        else _next(weights[kept], holds[:, kept], wanted, most[kept], first[kept])
    )
    if found is None:
        return None
    counts = np.zeros(len(prices))
    counts[kept] = found
    return counts


def _is_outdone(holds: Floats, weights: Floats, by: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return which kinds hold no more of anything than one of ``by`` that costs no more: swapping loses nothing.

    For the next mix ``by`` leaves out what the first one buys, or a swap could lead back to it.
    """
    no_more = (holds[:, :, None] <= holds[:, None, :]).all(axis=0) & (weights[:, None] >= weights[None, :])
    is_twin = no_more & no_more.T
    return np.asarray((no_more & by & ~(is_twin & np.tri(len(weights), dtype=bool).T)).any(axis=1))


def _next(weights: Floats, holds: Floats, wanted: Floats, most: Floats, first: Floats) -> Floats | None:
    """Return the cheapest mix with fewer of some kind that the first one buys: more of one alone only adds to it.

    A switch for each kind bought says that fewer are bought of it; at least one switch is on.
    """
    bought = np.flatnonzero(first)
    kinds, switches = len(weights), len(bought)
    fewer = np.zeros((switches, kinds + switches))
    fewer[np.arange(switches), bought] = 1.0
    fewer[np.arange(switches), kinds + np.arange(switches)] = most[bought] - first[bought] + 1.0
    some = np.r_[np.zeros(kinds), np.ones(switches)][None]
    covers = np.hstack([holds, np.zeros((len(wanted), switches))])
    found = _solve(
        np.r_[weights, np.zeros(switches)],
        np.vstack([covers, some, -fewer]),
        np.r_[wanted, 1.0, -most[bought]],
        np.r_[most, np.ones(switches)],
    )
    return None if found is None else found[:kinds]


def _most(wanted: Floats, held: Floats) -> float:
    return max((float(np.ceil(w / h)) for w, h in zip(wanted, held, strict=True) if h), default=0.0)


def _solve(weights: Floats, holds: Floats, wanted: Floats, most: Floats) -> Floats | None:
    # Loading it takes an eighth of a second, which a case that lacks nothing need not wait for.
    from scipy import optimize  # noqa: PLC0415

    library = cast("Any", optimize)
    found = library.milp(
        weights,
        constraints=library.LinearConstraint(holds, lb=wanted),
        integrality=np.ones(len(weights)),
        bounds=library.Bounds(0.0, most),
        options={"mip_rel_gap": 0.0},
    )
    return cast("Floats", np.round(found.x)) if found.success else None


def _bought(counts: Floats, offers: Sequence[Offer]) -> tuple[Bought, ...]:
    return tuple(
        Bought(offer.kind, int(count), float(count * offer.price))
        for offer, count in zip(offers, counts, strict=True)
        if count
    )


def _say(
    buy: Sequence[Bought],
    cost: float,
    runner_up: Sequence[Bought],
    next_cost: float | None,
    missing: Sequence[str],
) -> str:
    said: list[str] = []
    if buy:
        said.append(f"lowest price {show_number(cost, 2)}: {_mix(buy)}")
    if next_cost is not None:
        more = show_number(next_cost - cost, 2)
        said.append(f"next, {more} more: {_mix(runner_up)}")
    elif buy:
        said.append("no other mix holds all of it")
    if missing:
        said.append(f"in no kind on offer: {', '.join(missing)}")
    return "; ".join(said) or "nothing to order"


def _mix(bought: Sequence[Bought]) -> str:
    return ", ".join(f"{one.count} × {one.kind}" for one in bought)
