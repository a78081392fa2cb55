"""The order against counting out every mix, on the worked case ``worked.kit`` (W-11) and on 200 small random stores."""

from itertools import product

import numpy as np
import pytest

from soakline.layout.joins import joins_of
from soakline.layout.ports import Port
from soakline.supplies.catalogue import Offer
from soakline.supplies.order import order_for
from soakline.supplies.stock import DEEP_TUBE, UNIT, Y_CONNECTOR, Part, Stored, at_hand_count, need, shortages

PARTS = ("foam sheet", "suction pad", "port_tube_deep", "Y connector")


def offer(kind, price, held):
    return Offer(kind, price, tuple(Part(name, count) for name, count in held.items()))


def parts(short):
    return [Part(name, count) for name, count in short.items()]


def held_in(one, part):
    return sum(held.count for held in one.contents if held.name == part)


def covers(counts, offers, short):
    return all(
        sum(n * held_in(one, part) for n, one in zip(counts, offers, strict=True)) >= wanted
        for part, wanted in short.items()
    )


def cheapest_by_counting(short, offers):
    """Give the lowest price of all mixes that cover the need, by trying every one."""
    most = sum(short.values())
    mixes = product(range(most + 1), repeat=len(offers))
    costs = [sum(n * o.price for n, o in zip(m, offers, strict=True)) for m in mixes if covers(m, offers, short)]
    return min(costs, default=None)


def next_by_counting(short, offers, first):
    """Give the lowest price of all covering mixes that have fewer of some kind than the first, or None."""
    most = sum(short.values())
    mixes = (m for m in product(range(most + 1), repeat=len(offers)) if covers(m, offers, short))
    others = [m for m in mixes if any(n < had for n, had in zip(m, first, strict=True))]
    return min((sum(n * o.price for n, o in zip(m, offers, strict=True)) for m in others), default=None)


def random_store(rng):
    offers = []
    for number in range(rng.integers(1, 5)):
        held = {part: int(rng.integers(0, 3)) for part in PARTS}
        held[PARTS[number % 4]] += 1
        offers.append(offer(f"kit {number}", float(rng.integers(1, 400)) / 4, held))
    short = {part: int(rng.integers(0, 3)) for part in PARTS if any(held_in(o, part) for o in offers)}
    return {part: count for part, count in short.items() if count}, offers


@pytest.mark.parametrize("block", range(10))
def test_the_cost_equals_that_of_counting_out_every_mix_on_200_random_stores(block):
    rng = np.random.default_rng(block)
    for _ in range(20):
        short, offers = random_store(rng)
        expected = cheapest_by_counting(short, offers)
        found = order_for(parts(short), offers)
        assert found.price == pytest.approx(expected, abs=1e-9)
        counts = {one.kind: one.count for one in found.buy}
        first = [counts.get(one.kind, 0) for one in offers]
        assert covers(first, offers, short)
        assert found.runner_up_price == pytest.approx(next_by_counting(short, offers, first), abs=1e-9)


def test_a_planted_order_that_takes_the_cheapest_pack_for_each_part_is_caught():
    offers = [offer("pad", 6, {"suction pad": 1}), offer("sheet", 6, {"foam sheet": 1})]
    offers.append(offer("set", 8, dict.fromkeys(PARTS, 1)))
    short = {"suction pad": 1, "foam sheet": 1}
    greedy = sum(min(o.price for o in offers if held_in(o, part)) for part in short)
    assert greedy == 12
    assert order_for(parts(short), offers).price == cheapest_by_counting(short, offers) == 8


W_11 = (
    Stored("therapy unit", 1),
    Stored("set, tube fixed", 3, (Part("tube that cannot be placed deep", 1),)),
    Stored("set, tube separable", 2, (Part("port_tube_deep", 1),)),
    Stored("Y connector", 1),
)


def test_two_units_and_two_y_connectors_are_needed_and_one_of_each_is_short():
    wanted = [
        *(Port(f"I{i}", "instillation", clock, 3) for i, clock in enumerate((3, 9))),
        *(Port(f"S{i}", "suction", clock, 3) for i, clock in enumerate((2, 4, 8, 10))),
    ]
    joins = joins_of(wanted, None)
    needs = [need(W_11, UNIT, joins.unit_count, ""), need(W_11, Y_CONNECTOR, joins.y_count, "")]
    assert [needed.count for needed in needs] == [2, 2]
    assert [(one.part, one.count) for one in shortages(needs)] == [(UNIT, 1), (Y_CONNECTOR, 1)]
    assert at_hand_count(W_11)[DEEP_TUBE] == 2


def test_the_same_case_is_ordered_at_the_sites_prices_and_what_is_not_on_offer_is_named():
    found = order_for(parts({UNIT: 1, Y_CONNECTOR: 1}), [offer("box of Y connectors", 12.0, {"Y connector": 5})])
    assert ([(b.kind, b.count) for b in found.buy], found.price) == ([("box of Y connectors", 1)], 12.0)
    assert found.not_on_offer == (UNIT,)
    assert "no other mix holds all of it" in found.says
    assert UNIT in found.says
