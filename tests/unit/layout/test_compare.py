"""How two layouts are told beside each other, wound by wound."""

import numpy as np
import pytest

from soakline.layout.compare import does_as_well, gain_over, name_layouts, say_beside
from soakline.layout.search import Found


def goals(soaked, wetted):
    return np.column_stack([soaked, wetted, np.zeros(len(soaked)), np.zeros(len(soaked))])


EVEN = goals([0.5] * 10, [0.6] * 10)


@pytest.mark.parametrize(
    ("mine", "words"),
    [
        (EVEN, "wets as much of the floor as the other, and soaks as much"),
        (
            goals([0.48] * 10, [0.9] * 10),
            "wets much more of the floor than the other in 10 of 10 plausible wounds, but soaks a little less",
        ),
        (
            goals([0.4] * 10, [0.5] * 9 + [0.7]),
            "wets less of the floor than the other in 9 of 10 plausible wounds, and soaks less",
        ),
        (
            goals([0.5] * 8 + [0.2] * 2, [0.6] * 10),
            "wets as much of the floor as the other, and soaks as much (less in 2 of 10)",
        ),
    ],
)
def test_a_layout_beside_another_is_told_by_degree_and_by_how_many_wounds(mine, words):
    assert say_beside(mine, EVEN, "the other") == words


def test_a_gain_is_paired_wound_by_wound():
    mine, other = goals([0.2, 0.4], [0.3, 0.9]), goals([0.1, 0.3], [0.3, 0.5])
    gain = gain_over(mine, other)
    assert (gain.soaked.low, gain.soaked.high) == pytest.approx((0.1, 0.1))
    assert gain.wetted.likely == pytest.approx(0.2)
    assert not does_as_well(gain)
    assert does_as_well(gain_over(EVEN, EVEN))


def found(shares):
    return Found(shares, frozenset(shares), tuple(shares), 0)


def test_layouts_are_named_by_what_they_lead_in_and_one_that_gives_up_little_of_both_joins_them():
    shares = {
        (0,): goals([0.2] * 8, [0.9] * 8),
        (1,): goals([0.8] * 8, [0.3] * 8),
        (2,): goals([0.6] * 8, [0.7] * 8),
    }
    assert name_layouts(found(shares), 1) == {
        (0,): ("wets the most floor",),
        (1,): ("soaks the most floor",),
        (2,): ("a share of both",),
    }


def test_a_familiar_layout_that_does_as_much_is_named_instead_of_the_leader():
    shares = {(0,): goals([0.2] * 8, [0.9] * 8), (1,): goals([0.2] * 8, [0.895] * 8)}
    assert set(name_layouts(found(shares), 1, familiar=[(1,)])) == {(1,)}
    assert set(name_layouts(found(shares), 1)) == {(0,)}
